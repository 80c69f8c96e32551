package plant

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWorse(t *testing.T) {
	rows := []struct {
		name, before, now string
		want              []string
	}{
		{"nothing changed", "id,length_m\nA,6o\n", "id,length_m\nA,6o\n", nil},
		{"moved down", "id,length_m\nA,6o\n", "id,length_m\nB,1\n\nA,6o\n", nil},
		{"an id taken, both rows moved", "id\nA\nA\n", "id\nB\nA\nC\nA\n", nil},
		{"put right", "id,length_m\nA,6o\n", "id,length_m\nA,60\n", nil},
		{"a row lost", "id,length_m\nA,6o\nB,1\n", "id,length_m\nA,6o\nB,l\n", []string{`r.csv:3: run B: length_m "l" is not a number`}},
		{"one more of a kind", "id,outlet\n,1\n", "id,outlet\n,1\n,2\n", []string{"r.csv:3: run: id is missing"}},
		{"a column of the person's own", "id\nA\n", "id,colour\nA,blue\n", nil},
		{"a column there twice", "id,outlet\nA,1\n", "id,outlet,outlet\nA,1,1\n", []string{`r.csv:1: column "outlet" is there 2 times: none of them is read`}},
		{"cut off while written", "id\nA\n", "", []string{"r.csv:1: is empty: the first line names the columns, such as id"}},
		{"a quote left open", "id,notes\nA,x\n", "id,notes\nA,\"x\n", []string{
			`r.csv:2: row not read: extraneous or missing " in quoted-field; a cell with a quote in it is written "like ""this"""`}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			load := func(file string) []Problem {
				_, problems, err := parse("plant.yml", []byte("runs_files: [r.csv]"), func(string) ([]byte, error) { return []byte(file), nil })
				require.NoError(t, err)
				return problems
			}
			var got []string
			for _, p := range Worse(load(row.before), load(row.now)) {
				got = append(got, p.String())
			}
			require.Equal(t, row.want, got)
		})
	}
}
