package plant

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Problem is one thing wrong with one row, or with a file as a whole.
type Problem struct {
	File string
	Line int
	Kind string // of the row: run, cable, ...; "" where the problem is the file's
	ID   string // of the row; of a test row its run; "" where it has none
	Text string

	Unread bool // the whole file could not be read
	Lost   bool // rows, or what a column says of them, are not in the plant for this
}

// String gives e.g. `runs.csv:14: run N2-P1-17: length_m "6o" is not a number`.
func (p Problem) String() string {
	who := strings.TrimSpace(p.Kind + " " + p.ID)
	if who != "" {
		who += ": "
	}
	return fmt.Sprintf("%s:%d: %s%s", p.File, p.Line, who, p.Text)
}

// Load reads an inventory and the files that it names, whose paths are
// relative to it. The error is for an inventory of which nothing can be used:
// a file that cannot be read, YAML syntax, no mapping at the top. All else
// that is wrong comes as problems, in order of file and line; the plant then
// holds the rows without one. An empty file is a plant without runs.
func Load(path string) (*Plant, []Problem, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, nil, fmt.Errorf("inventory: %w", err)
	}
	return parse(path, data, os.ReadFile)
}

// parse is Load with the files' contents given.
func parse(path string, data []byte, readFile func(string) ([]byte, error)) (*Plant, []Problem, error) {
	l := &loader{files: []string{path}, declared: map[string]map[string]origin{}, readFile: readFile}
	top, err := l.top(path, data)
	if err != nil {
		return nil, nil, err
	}
	l.sections(path, top)
	p := New(Plant{
		Site:     l.site,
		Spaces:   keep(l, l.spaces),
		Panels:   keep(l, l.panels),
		Pathways: keep(l, l.pathways),
		Cables:   keep(l, l.cables),
		Runs:     keep(l, l.runs),
		Tests:    keep(l, l.tests),
		Files:    l.files,
	})
	l.sortProblems()
	return p, l.problems, nil
}

// loader gathers rows and problems of all files before references are looked
// up, since a row may refer to one that stands further down.
type loader struct {
	readFile func(string) ([]byte, error)
	files    []string
	problems []Problem
	declared map[string]map[string]origin // kind, id: lost rows too
	hints    map[[2]string]string         // kind, id not found

	site     string
	spaces   []loaded[Space]
	panels   []loaded[Panel]
	pathways []loaded[Pathway]
	cables   []loaded[Cable]
	runs     []loaded[Run]
	tests    []loaded[TestRow]
}

type origin struct {
	file string
	line int
}

func (o origin) String() string { return fmt.Sprintf("%s:%d", o.file, o.line) }

// record is a row as written.
type record struct {
	origin
	kind, id string
	within   string // the part of the row, e.g. "segment 2: "
	cells    []cell
}

// cell is one value as written: texts, or why there are none to be had.
type cell struct {
	key   string
	line  int
	texts []string
	list  bool
	node  any // the YAML node where it holds mappings
	wrong string
}

// loaded is a row with the references still to be looked up.
type loaded[T any] struct {
	row  *T
	rec  record
	refs []reference
	bad  bool
}

type reference struct {
	key, kind, id string
	line          int
}

func (l *loader) report(file string, line int, format string, args ...any) {
	l.problems = append(l.problems, Problem{File: file, Line: line, Text: fmt.Sprintf(format, args...)})
}

// lose reports what keeps rows from being read.
func (l *loader) lose(file string, line int, format string, args ...any) {
	l.report(file, line, format, args...)
	l.problems[len(l.problems)-1].Lost = true
}

func (l *loader) reject(rec *record, line int, format string, args ...any) {
	text := rec.within + fmt.Sprintf(format, args...)
	l.problems = append(l.problems, Problem{File: rec.file, Line: line, Kind: rec.kind, ID: rec.id, Text: text, Lost: true})
}

// add reads a record into rows by its table of keys.
func add[T any](l *loader, rows *[]loaded[T], keys table[T], rec record, row *T) {
	before := len(l.problems)
	rec.id = idOf(rec, keys)
	refs := fill(l, &rec, keys, row)
	l.declare(&rec)
	*rows = append(*rows, loaded[T]{row, rec, refs, len(l.problems) > before})
}

// idOf finds the text of the key that a row goes by: id, or a test's run.
func idOf[T any](rec record, keys table[T]) string {
	for _, c := range rec.cells {
		if c.key == keys.must[0] && len(c.texts) == 1 && problemOf(c.texts[0], false) == "" {
			return c.texts[0]
		}
	}
	return ""
}

// fill sets a row's fields from its cells and gives the references met.
func fill[T any](l *loader, rec *record, keys table[T], row *T) (refs []reference) {
	written := map[string]bool{}
	for _, c := range rec.cells {
		k, known := keys.keys[c.key]
		switch {
		case !known:
			l.reject(rec, c.line, "unknown key %q%s", c.key, DidYouMean(c.key, keys.names))
			continue
		case c.wrong == "" && len(c.texts) == 0 && c.node == nil:
			continue // absent
		}
		if written[c.key] {
			l.reject(rec, c.line, "%s is there twice", c.key)
			continue
		}
		written[c.key] = true
		refs = append(refs, set(l, rec, k, c, row)...)
	}
	has := func(key string) bool { return written[key] }
	for _, key := range keys.must {
		if !has(key) {
			l.reject(rec, rec.line, "%s is missing", key)
		}
	}
	if keys.check != nil {
		for _, wrong := range keys.check(row, has) {
			l.reject(rec, rec.line, "%s", wrong)
		}
	}
	return refs
}

// set gives one key its value.
func set[T any](l *loader, rec *record, k key[T], c cell, row *T) (refs []reference) {
	switch {
	case k.nest != nil:
		return k.nest(l, rec, c, row)
	case c.wrong != "":
		l.reject(rec, c.line, "%s %s", c.key, c.wrong)
		return nil
	case c.list && !k.list:
		l.reject(rec, c.line, "%s wants one value, not a list", c.key)
		return nil
	}
	texts := c.texts
	if k.list {
		texts = split(texts)
	}
	for _, text := range texts {
		if wrong := problemOf(text, k.lines); wrong != "" {
			l.reject(rec, c.line, "%s %q %s", c.key, text, wrong)
			return nil
		}
	}
	if len(texts) == 0 {
		return nil // a list of separators only
	}
	if err := k.set(row, texts); err != nil {
		l.reject(rec, c.line, "%s %v", c.key, err)
		return nil
	}
	if k.refers != "" {
		for _, text := range texts {
			refs = append(refs, reference{c.key, k.refers, text, c.line})
		}
	}
	return refs
}

// split takes lists apart at semicolons, as CSV writes them.
func split(texts []string) (items []string) {
	for _, text := range texts {
		for item := range strings.SplitSeq(text, ";") {
			if item = strings.TrimSpace(item); item != "" {
				items = append(items, item)
			}
		}
	}
	return items
}

// problemOf tells why a text cannot be a value: it goes on into labels, pages
// and CSV files.
func problemOf(text string, lines bool) string {
	if !utf8.ValidString(text) {
		return "is not UTF-8: save the file as UTF-8"
	}
	for _, r := range text {
		if unicode.IsControl(r) && !(lines && strings.ContainsRune("\n\r\t", r)) {
			return "has a control character or line break in it"
		}
	}
	return ""
}

// declare notes a row's id; the second row of an id is the bad one. Test rows
// have no id of their own.
func (l *loader) declare(rec *record) {
	if rec.kind == testKind || rec.id == "" {
		return
	}
	ids := l.declared[rec.kind]
	if ids == nil {
		ids = map[string]origin{}
		l.declared[rec.kind] = ids
	}
	if first, twice := ids[rec.id]; twice {
		l.reject(rec, rec.line, "the id is taken by %s", first)
		return
	}
	ids[rec.id] = rec.origin
}

// keep looks up the references of rows and gives the rows without a problem.
func keep[T any](l *loader, rows []loaded[T]) (good []*T) {
	for i := range rows {
		item := &rows[i]
		for _, ref := range item.refs {
			if _, known := l.declared[ref.kind][ref.id]; !known {
				l.reject(&item.rec, ref.line, "%s %q is not in the inventory%s", ref.key, ref.id, l.hint(ref.kind, ref.id))
				item.bad = true
			}
		}
		if !item.bad {
			good = append(good, item.row)
		}
	}
	return good
}

// hint is DidYouMean over the ids of a kind, once for each name.
func (l *loader) hint(kind, id string) string {
	name := [2]string{kind, id}
	if hint, known := l.hints[name]; known {
		return hint
	}
	ids := slices.Sorted(maps.Keys(l.declared[kind])) // so that the hint is the same each time
	if l.hints == nil {
		l.hints = map[[2]string]string{}
	}
	l.hints[name] = DidYouMean(id, ids)
	return l.hints[name]
}

func (l *loader) sortProblems() {
	order := map[string]int{}
	for i, file := range l.files {
		order[file] = i
	}
	slices.SortStableFunc(l.problems, func(a, b Problem) int {
		if a.File != b.File {
			return order[a.File] - order[b.File]
		}
		return a.Line - b.Line
	})
}

// beside resolves a path that is named in a file.
func beside(file, name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(filepath.Dir(file), name)
}
