package plant

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What a CSV file may look like (RFC 4180), and what spreadsheets make of it
// (common practice, no source).
func TestCSV(t *testing.T) {
	rows := []struct {
		name, file string
		want       []string // problems
		runs       []string // ids
	}{
		{"plain", "id,outlet\nA,1\nB,2\n", nil, []string{"A", "B"}},
		{"no last line break", "id,outlet\nA,1", nil, []string{"A"}},
		{"byte order mark, CRLF, spaces", "\xef\xbb\xbfid , outlet\r\n A,1 \r\n", nil, []string{"A"}},
		{"blank rows and cells to the right", "id,outlet,,\nA,1,,\n\n,,,\n,,,,,\nB,2,,,,\n", nil, []string{"A", "B"}},
		{"header only", "id\n", nil, nil},
		{"empty", "", []string{"r.csv:1: is empty: the first line names the columns, such as id"}, nil},
		{"blank", "\n,,\n", []string{"r.csv:1: is empty: the first line names the columns, such as id"}, nil},
		{"UTF-16", "\xff\xfei\x00d\x00", []string{"r.csv:1: is UTF-16: save it as CSV in UTF-8"}, nil},
		{"Latin-1", "id,owner\nA,Caf\xe9\nB,x\n", []string{`r.csv:2: run A: owner "Caf\xe9" is not UTF-8: save the file as UTF-8`}, []string{"B"}},
		{"semicolons", "id;outlet\nA;1\n", []string{"r.csv:1: the columns are not separated by commas: save it as comma-separated CSV"}, nil},
		{"no id column", "switch,port\nx,1\n", []string{`r.csv:1: no column "id": no row is read`}, nil},
		{"unknown column", "id,Outlet,colour\nA,1,blue\n", []string{
			`r.csv:1: unknown column "Outlet" is not read; did you mean "outlet"?`, `r.csv:1: unknown column "colour" is not read`}, []string{"A"}},
		{"column twice", "id,outlet,outlet\nA,1,2\n", []string{`r.csv:1: column "outlet" is there 2 times: none of them is read`}, []string{"A"}},
		{"segments", "id,segments\nA,x\n", []string{`r.csv:1: column "segments" is not read: CSV cannot hold it; write such a run in the YAML file`}, []string{"A"}},
		{"too few cells", "id,outlet\nA\nB,1\n", []string{"r.csv:2: run A: has 1 cells where the header has 2"}, []string{"B"}},
		{"too many cells", "id,outlet\nA,1,2\nB,1\n", []string{"r.csv:2: run A: has 3 cells where the header has 2"}, []string{"B"}},
		{"no id", "id,outlet\n,1\nB,2\n", []string{"r.csv:2: run: id is missing"}, []string{"B"}},
		{"id twice", "id\nA\nB\nA\n", []string{"r.csv:4: run A: the id is taken by r.csv:2"}, []string{"A", "B"}},
		{"the cell's own line", "id,notes,length_m\nA,\"a\nb\nc\",6o\n", []string{`r.csv:4: run A: length_m "6o" is not a number`}, nil},
		{"row after a cell of several lines", "id,notes\nA,\"a\nb\"\nB,\nB,\n", []string{`r.csv:5: run B: the id is taken by r.csv:4`}, []string{"A", "B"}},
		{"bare quote", "id,notes\nA,3\" tray\nB,x\n", []string{
			`r.csv:2: row not read: bare " in non-quoted-field; a cell with a quote in it is written "like ""this"""`}, []string{"B"}},
		{"quote left open to the end", "id,notes\nA,\"tray\nB,x\nC,y\n", []string{
			`r.csv:2: row not read: extraneous or missing " in quoted-field; a cell with a quote in it is written "like ""this"""`}, []string{"B", "C"}},
		{"quote left open to a later one", "id,notes,owner\nA,\"tray,x\nB,y,x\nC,\"z\",\n", []string{
			`r.csv:2: row not read: extraneous or missing " in quoted-field; a cell with a quote in it is written "like ""this"""`}, []string{"B", "C"}},
		{"quote left open, closed by chance", "id,notes,owner\nA,\"tray,x\nB,y\",x,z\nC,z,\n", []string{
			"r.csv:2: run A: has 4 cells where the header has 3",
			`r.csv:3: row not read: bare " in non-quoted-field; a cell with a quote in it is written "like ""this"""`}, []string{"C"}},
		{"quote left open, in a cell of one line", "id,owner\nA,\"x\nB,y\"\nC,z\n", []string{
			"r.csv:2: run A: owner runs over several lines: is a quote left open?",
			`r.csv:3: row not read: bare " in non-quoted-field; a cell with a quote in it is written "like ""this"""`}, []string{"C"}},
	}
	for _, row := range rows {
		p, problems := loadText(t, "runs_files: [r.csv]\n", map[string]string{"r.csv": row.file})
		if len(row.want) == 0 {
			require.Empty(t, problems, row.name)
		} else {
			require.Equal(t, row.want, problems, row.name)
		}
		var ids []string
		for _, run := range p.Runs {
			ids = append(ids, run.ID)
		}
		require.Equal(t, row.runs, ids, row.name)
	}
}

func TestProblemsOfTestRows(t *testing.T) {
	p, problems := loadText(t, "runs: [{id: A}, {id: L, length_m: x}]\ntests_files: [t.csv]\n", map[string]string{"t.csv": `run,parameter,value_db,value,unit,frequency_mhz
A,NEXT,-1.5,,,250
A,length,,62,m,
A,wire map,,1-1 2-2 3-x 4-4 5-5 6-6 7-7 8-8,,
A,length,,62,,
A,NEXT,,,,250
A,NEXT,1,1,dB,250
A,NEXT,1,,,-5
B,NEXT,1,,,
,NEXT,1,,,
A,,1,,,
L,NEXT,1,,,
A,wire map,,open 3,,
A,Wire Map,,1-1 2-2,,
A,wire map,1,,,
`})
	require.Equal(t, []string{
		`plant.yml:1: run L: length_m "x" is not a number`,
		`t.csv:5: test A: value "62" without unit`,
		`t.csv:6: test A: wants one of value_db and value`,
		`t.csv:7: test A: wants one of value_db and value`,
		`t.csv:8: test A: frequency_mhz "-5" is below 0`,
		`t.csv:9: test B: run "B" is not in the inventory`,
		`t.csv:10: test: run is missing`,
		`t.csv:11: test A: parameter is missing`,
		`t.csv:13: test A: wire map "open" is no part of it: write near-found such as 3-6, 7-x for an open one, 4=5 for a short, or split 3-6/4-5`,
		`t.csv:14: test A: wire map says nothing of pin 3: name all eight, or none where only shorts, splits or the screen are told`,
		`t.csv:15: test A: a wire map wants value, not value_db: pass, or the pins, such as 1-1 2-2 3-6 6-3 4-4 5-5 7-x 8-8`,
	}, problems)
	require.Len(t, p.Tests, 4)
}

func TestARunIsOneRowInAllFiles(t *testing.T) {
	_, problems := loadText(t, "runs_files: [a.csv, b.csv]\nruns:\n- id: A\n", map[string]string{"a.csv": "id\nA\nB\n", "b.csv": "id\nB\n"})
	require.Equal(t, []string{
		"plant.yml:3: run A: the id is taken by a.csv:2",
		"b.csv:2: run B: the id is taken by a.csv:3",
	}, problems)
}
