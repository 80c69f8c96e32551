package plant

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
)

// sheet is a CSV file of runs that is written back as it was, but for cells
// that are set: quotes, spaces, blank rows and line ends stay.
type sheet struct {
	mark    string // byte order mark, or ""
	newline string
	columns []string // names, without spaces around them
	had     int      // columns of the file as read
	header  sheetRow
	rows    []*sheetRow
	tail    string // blank lines at the end
}

type sheetRow struct {
	before string   // blank lines
	raw    []string // cells as written
	cells  []string // their texts, without spaces around them
	end    string   // line break
	blank  bool
	line   int
}

// readSheet reads a file of runs; an empty one is a sheet without columns. The
// error tells what keeps the file from being written back as it was.
func readSheet(data []byte) (*sheet, error) {
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return nil, errors.New("line 1: is UTF-16: save it as CSV in UTF-8")
	}
	s := &sheet{newline: "\n"}
	if bytes.HasPrefix(data, []byte(byteOrderMark)) {
		s.mark, data = byteOrderMark, data[len(byteOrderMark):]
	}
	rows, tail, err := rawRows(data)
	if err != nil {
		return nil, err
	}
	above := ""
	for len(rows) > 0 && rows[0].blank {
		above += rows[0].before + strings.Join(rows[0].raw, ",") + rows[0].end
		rows = rows[1:]
	}
	if len(rows) == 0 {
		return s, nil
	}
	s.header, s.rows, s.tail = *rows[0], rows[1:], tail
	s.header.before = above + s.header.before
	s.columns, s.had = s.header.cells, len(s.header.cells)
	if strings.HasSuffix(s.header.end, "\r\n") {
		s.newline = "\r\n"
	}
	return s, s.check()
}

// check refuses what Load would not read in full.
func (s *sheet) check() error {
	if len(s.columns) == 1 && strings.ContainsAny(s.columns[0], ";\t") {
		return fmt.Errorf("line %d: the columns are not separated by commas: save it as comma-separated CSV", s.header.line)
	}
	times := map[string]int{}
	for _, name := range s.columns {
		times[name]++
	}
	for _, name := range runKeys.names {
		if times[name] > 1 {
			return fmt.Errorf("line %d: column %q is there %d times: leave one", s.header.line, name, times[name])
		}
	}
	if times["id"] == 0 {
		return fmt.Errorf("line %d: no column \"id\": is the first line missing?", s.header.line)
	}
	for _, r := range s.rows {
		n := len(r.cells)
		for n > s.had && r.cells[n-1] == "" {
			n--
		}
		if !r.blank && n != s.had {
			return fmt.Errorf("line %d: has %d cells where the header has %d: put that right first", r.line, n, s.had)
		}
	}
	return nil
}

// rawRows takes a file apart into rows whose texts, put together, are the file.
func rawRows(data []byte) (rows []*sheetRow, tail string, err error) {
	reader := csv.NewReader(bytes.NewReader(data))
	reader.FieldsPerRecord = -1
	for start := 0; ; {
		cells, err := reader.Read()
		var syntax *csv.ParseError
		switch {
		case errors.As(err, &syntax):
			return nil, "", fmt.Errorf("line %d: cannot be read: %w; a cell with a quote in it is written \"like \"\"this\"\"\"", syntax.StartLine, syntax.Err)
		case errors.Is(err, io.EOF):
			return rows, string(data[start:]), nil
		case err != nil:
			return nil, "", err
		}
		end := int(reader.InputOffset())
		row := rawRow(string(data[start:end]), end == len(data))
		row.line, _ = reader.FieldPos(0)
		if len(row.raw) != len(cells) {
			return nil, "", fmt.Errorf("line %d: cannot be told apart into cells", row.line)
		}
		row.blank = true
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
			row.blank = row.blank && cells[i] == ""
		}
		row.cells = cells
		rows, start = append(rows, row), end
	}
}

// rawRow cuts one row, with the blank lines above it, into its cells.
func rawRow(text string, last bool) *sheetRow {
	r := &sheetRow{}
	body := text
	for strings.HasPrefix(body, "\n") || strings.HasPrefix(body, "\r\n") {
		_, body, _ = strings.Cut(body, "\n")
	}
	r.before = strings.TrimSuffix(text, body)
	for _, end := range []string{"\r\n", "\n"} {
		if strings.HasSuffix(body, end) {
			r.end = end
			break
		}
	}
	if r.end == "" && last && strings.HasSuffix(body, "\r") {
		r.end = "\r"
	}
	body = strings.TrimSuffix(body, r.end)
	start, quoted := 0, false
	for i := range len(body) {
		switch {
		case body[i] == '"':
			quoted = !quoted // a doubled one closes and opens
		case body[i] == ',' && !quoted:
			r.raw = append(r.raw, body[start:i])
			start = i + 1
		}
	}
	r.raw = append(r.raw, body[start:])
	return r
}

// get gives the text of a cell, "" where there is no such column.
func (s *sheet) get(r *sheetRow, key string) string {
	for i, name := range s.columns {
		if name == key && i < len(r.cells) {
			return r.cells[i]
		}
	}
	return ""
}

// set writes a cell, adding its column at the end where it is missing.
func (s *sheet) set(r *sheetRow, key, text string) {
	column := -1
	for i, name := range s.columns {
		if name == key {
			column = i
			break
		}
	}
	if column < 0 {
		column = len(s.columns)
		s.columns = append(s.columns, key)
		s.header.raw = append(s.header.raw, quoteCell(key))
	}
	for len(r.cells) <= column {
		r.cells, r.raw = append(r.cells, ""), append(r.raw, "")
	}
	r.cells[column], r.raw[column] = text, quoteCell(text)
}

func (s *sheet) add() *sheetRow {
	n := len(s.columns) // a row is as long as the header, or it could not be read again
	r := &sheetRow{end: s.newline, line: len(s.rows) + 2, cells: make([]string, n), raw: make([]string, n)}
	s.rows = append(s.rows, r)
	return r
}

// bytes gives the file.
func (s *sheet) bytes() []byte {
	if len(s.columns) == 0 {
		return nil
	}
	var b bytes.Buffer
	b.WriteString(s.mark)
	last := &s.header
	s.write(&b, &s.header)
	for _, r := range s.rows {
		if !strings.HasSuffix(last.end, "\n") {
			b.WriteString("\n")
		}
		s.write(&b, r)
		last = r
	}
	b.WriteString(s.tail)
	return b.Bytes()
}

func (s *sheet) write(b *bytes.Buffer, r *sheetRow) {
	raw := r.raw
	if len(s.columns) > s.had && !r.blank {
		raw = raw[:min(len(raw), len(s.columns))]
		for len(raw) < len(s.columns) {
			raw = append(raw, "")
		}
	}
	b.WriteString(r.before)
	b.WriteString(strings.Join(raw, ","))
	b.WriteString(r.end)
}

func quoteCell(text string) string {
	if !strings.ContainsAny(text, "\",\r\n") && strings.TrimSpace(text) == text {
		return text
	}
	return `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
}
