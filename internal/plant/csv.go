package plant

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
)

const byteOrderMark = "\xef\xbb\xbf" // spreadsheets put it before UTF-8

// readCSV gives the rows of a CSV file whose first row names the keys. A
// refused column is not read; its rows are.
func readCSV[T any](l *loader, file string, data []byte, kind string, keys table[T], row func(record)) {
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		l.lose(file, 1, "is UTF-16: save it as CSV in UTF-8")
		return
	}
	data = bytes.TrimPrefix(data, []byte(byteOrderMark))
	var columns []string
	headed, usable := false, false
	scanCSV(l, file, data, func(r csvRow) bool {
		switch {
		case !headed:
			headed = true
			columns, usable = header(l, file, r, keys)
			return true
		case !usable:
			return true
		}
		return csvRecord(l, file, r, kind, keys, columns, row)
	})
	if !headed {
		l.lose(file, 1, "is empty: the first line names the columns, such as %s", strings.Join(keys.must, ","))
	}
}

// header gives the key of each column, "" for a column that is not read, and
// whether rows can be read by it.
func header[T any](l *loader, file string, r csvRow, keys table[T]) (columns []string, usable bool) {
	if len(r.cells) == 1 && strings.ContainsAny(r.cells[0], ";\t") {
		l.lose(file, r.line, "the columns are not separated by commas: save it as comma-separated CSV")
		return nil, false
	}
	times, told := map[string]int{}, map[string]bool{}
	for _, name := range r.cells {
		times[name]++
	}
	columns = make([]string, len(r.cells))
	for i, name := range r.cells {
		k, known := keys.keys[name]
		switch {
		case name == "" || told[name]:
		case !known:
			l.report(file, r.line, "unknown column %q is not read%s", name, DidYouMean(name, keys.names))
		case k.nest != nil:
			l.report(file, r.line, "column %q is not read: CSV cannot hold it; write such a run in the YAML file", name)
		case times[name] > 1:
			l.lose(file, r.line, "column %q is there %d times: none of them is read", name, times[name])
		default:
			columns[i] = name
		}
		told[name] = true
	}
	return columns, hasAll(l, file, r.line, columns, keys.must)
}

func hasAll(l *loader, file string, line int, columns, must []string) bool {
	have := map[string]bool{}
	for _, name := range columns {
		have[name] = true
	}
	for _, name := range must {
		if !have[name] {
			l.lose(file, line, "no column %q: no row is read", name)
			return false
		}
	}
	return true
}

// csvRecord hands one row on; false where its cells don't fit the columns, or
// one runs over lines that cannot, as behind a quote left open.
func csvRecord[T any](l *loader, file string, r csvRow, kind string, keys table[T], columns []string, row func(record)) bool {
	rec := record{origin: origin{file, r.line}, kind: kind}
	cells := r.cells
	for len(cells) > len(columns) && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	for i := range min(len(cells), len(columns)) {
		if cells[i] != "" && columns[i] != "" {
			rec.cells = append(rec.cells, cell{key: columns[i], line: r.lines[i], texts: []string{cells[i]}})
		}
	}
	rec.id = idOf(rec, keys)
	if len(cells) != len(columns) {
		l.reject(&rec, r.line, "has %d cells where the header has %d", len(cells), len(columns))
		return false
	}
	for _, c := range rec.cells {
		if strings.Contains(c.texts[0], "\n") && !keys.keys[c.key].lines {
			l.reject(&rec, c.line, "%s runs over several lines: is a quote left open?", c.key)
			return false
		}
	}
	row(rec)
	return true
}

// csvRow is one row that is not blank, its cells without spaces around them.
type csvRow struct {
	line  int
	cells []string
	lines []int // of each cell: a quoted one may run over several
}

// scanCSV goes through the rows. After a row that cannot be read, or that the
// visitor refuses, it goes on with the next line, so that a quote left open
// does not swallow the rest of the file.
func scanCSV(l *loader, file string, data []byte, visit func(csvRow) bool) {
	for passed := 0; len(data) > 0; {
		resume := scanFrom(l, file, data, passed, visit)
		if resume == 0 {
			return
		}
		data = skipLines(data, resume)
		passed += resume
	}
}

// scanFrom goes through rows until one forces a new start, and gives the
// number of lines to pass before it; 0 at the end.
func scanFrom(l *loader, file string, data []byte, passed int, visit func(csvRow) bool) int {
	reader := csv.NewReader(bytes.NewReader(data))
	reader.FieldsPerRecord = -1
	for {
		cells, err := reader.Read()
		var syntax *csv.ParseError
		switch {
		case errors.As(err, &syntax):
			l.lose(file, passed+syntax.StartLine, "row not read: %v; a cell with a quote in it is written \"like \"\"this\"\"\"", syntax.Err)
			return syntax.StartLine
		case err != nil && !errors.Is(err, io.EOF):
			l.lose(file, passed+1, "%v", err)
			return 0
		case err != nil:
			return 0
		}
		row, blank, broken := rowOf(reader, cells, passed)
		if !blank && !visit(row) && broken {
			return row.line - passed
		}
	}
}

func rowOf(reader *csv.Reader, cells []string, passed int) (row csvRow, blank, broken bool) {
	row = csvRow{cells: cells, lines: make([]int, len(cells))}
	blank = true
	for i, text := range cells {
		line, _ := reader.FieldPos(i)
		row.lines[i] = passed + line
		broken = broken || strings.Contains(text, "\n")
		cells[i] = strings.TrimSpace(text)
		blank = blank && cells[i] == ""
	}
	row.line = row.lines[0]
	return row, blank, broken
}

func skipLines(data []byte, n int) []byte {
	for ; n > 0; n-- {
		i := bytes.IndexByte(data, '\n')
		if i < 0 {
			return nil
		}
		data = data[i+1:]
	}
	return data
}
