package plant

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"

	"gopkg.in/yaml.v3"
)

var topKeys = []string{
	"site", "spaces", "panels", "pathways", "cables", "runs_files", "tests_files", "runs",
}

var yamlLine = regexp.MustCompile(`^(?:yaml: )?line (\d+): `)

// top gives the mapping at the top of an inventory, nil where the file is
// empty.
func (l *loader) top(path string, data []byte) (*yaml.Node, error) {
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	var document, second yaml.Node
	switch err := decoder.Decode(&document); {
	case errors.Is(err, io.EOF):
		return nil, nil
	case err != nil:
		if at := yamlLine.FindStringSubmatch(err.Error()); at != nil {
			return nil, fmt.Errorf("inventory %s:%s: %s", path, at[1], yamlLine.ReplaceAllString(err.Error(), ""))
		}
		return nil, fmt.Errorf("inventory %s: %w", path, err)
	}
	if len(document.Content) == 0 {
		return nil, nil
	}
	if err := decoder.Decode(&second); !errors.Is(err, io.EOF) {
		l.lose(path, max(second.Line, 1), "only the first YAML document of a file is read")
	}
	node := resolve(document.Content[0])
	switch {
	case node.Tag == "!!null":
		return nil, nil
	case node.Kind != yaml.MappingNode:
		return nil, fmt.Errorf("inventory %s:%d: wants keys such as %s at the top", path, node.Line, strings.Join(topKeys, ", "))
	}
	return node, nil
}

// resolve follows an alias to what it stands for.
func resolve(node *yaml.Node) *yaml.Node {
	if node.Kind == yaml.AliasNode {
		return node.Alias
	}
	return node
}

// sections reads all that stands at the top of an inventory.
func (l *loader) sections(path string, top *yaml.Node) {
	if top == nil {
		return
	}
	read := map[string]bool{}
	for i := 0; i+1 < len(top.Content); i += 2 {
		key, value := top.Content[i], resolve(top.Content[i+1])
		if read[key.Value] {
			l.lose(path, key.Line, "%s is there twice: the second is not read", key.Value)
			continue
		}
		read[key.Value] = true
		if value.Tag != "!!null" {
			l.section(path, key, value)
		}
	}
}

func (l *loader) section(path string, key, value *yaml.Node) {
	switch key.Value {
	case "site":
		c := cellOf("site", value)
		if len(c.texts) != 1 || c.list || problemOf(c.texts[0], false) != "" {
			l.report(path, value.Line, "site wants a name on one line")
			return
		}
		l.site = c.texts[0]
	case "spaces":
		l.each(path, key, value, spaceKind, func(r record) { add(l, &l.spaces, spaceKeys, r, &Space{}) })
	case "panels":
		l.each(path, key, value, panelKind, func(r record) { add(l, &l.panels, panelKeys, r, &Panel{}) })
	case "pathways":
		l.each(path, key, value, pathwayKind, func(r record) { add(l, &l.pathways, pathwayKeys, r, &Pathway{}) })
	case "cables":
		l.each(path, key, value, cableKind, func(r record) { add(l, &l.cables, cableKeys, r, &Cable{}) })
	case "runs":
		l.each(path, key, value, runKind, l.addRun)
	case "runs_files":
		l.csvFiles(path, value, func(file string, data []byte) { readCSV(l, file, data, runKind, runKeys, l.addRun) })
	case "tests_files":
		l.csvFiles(path, value, func(file string, data []byte) { readCSV(l, file, data, testKind, testKeys, l.addTest) })
	default:
		l.lose(path, key.Line, "unknown key %q%s", key.Value, DidYouMean(key.Value, topKeys))
	}
}

func (l *loader) addRun(rec record) {
	add(l, &l.runs, runKeys, rec, &Run{Status: Live, Importance: Normal, File: rec.file, Line: rec.line})
}

func (l *loader) addTest(rec record) {
	add(l, &l.tests, testKeys, rec, &TestRow{File: rec.file, Line: rec.line})
}

// each gives the rows of a list of mappings.
func (l *loader) each(path string, key, value *yaml.Node, kind string, row func(record)) {
	if value.Kind != yaml.SequenceNode {
		l.lose(path, key.Line, "%s wants a list", key.Value)
		return
	}
	for _, item := range value.Content {
		node := resolve(item)
		if node.Kind != yaml.MappingNode {
			l.lose(path, item.Line, "%s: a %s wants keys and values, such as id: NAME", key.Value, kind)
			continue
		}
		row(record{origin: origin{path, node.Line}, kind: kind, cells: cellsOf(node)})
	}
}

func cellsOf(mapping *yaml.Node) []cell {
	cells := make([]cell, 0, len(mapping.Content)/2)
	for i := 0; i+1 < len(mapping.Content); i += 2 {
		key := mapping.Content[i]
		c := cellOf(key.Value, resolve(mapping.Content[i+1]))
		if mapping.Content[i+1].Kind == yaml.AliasNode {
			c.line = key.Line // the value stands elsewhere
		}
		cells = append(cells, c)
	}
	return cells
}

// cellOf takes a value as the texts that are written, whatever YAML would
// make of them: category 6 and "6" are the same.
func cellOf(key string, value *yaml.Node) cell {
	c := cell{key: key, line: value.Line}
	switch value.Kind {
	case yaml.ScalarNode:
		if text := strings.TrimSpace(value.Value); text != "" && value.Tag != "!!null" {
			c.texts = []string{text}
		}
	case yaml.SequenceNode:
		c.list = true
		for _, item := range value.Content {
			item = resolve(item)
			if item.Kind != yaml.ScalarNode || item.Tag == "!!null" {
				c.node = value
				c.wrong = "wants a list of single values"
				continue
			}
			c.texts = append(c.texts, strings.TrimSpace(item.Value))
		}
	default:
		c.wrong = "wants a value, not keys of its own"
	}
	return c
}

// segments reads the parts of a run, which only YAML can hold.
func segments(l *loader, rec *record, c cell, run *Run) (refs []reference) {
	list, _ := c.node.(*yaml.Node)
	if list == nil || len(c.texts) > 0 {
		l.reject(rec, c.line, "segments wants a list of parts, each with keys such as cable and length_m")
		return nil
	}
	for i, item := range list.Content {
		node := resolve(item)
		part := record{origin: origin{rec.file, node.Line}, kind: rec.kind, id: rec.id,
			within: fmt.Sprintf("segment %d: ", i+1)}
		if node.Kind != yaml.MappingNode {
			l.reject(&part, item.Line, "wants keys and values, such as cable: NAME")
			continue
		}
		part.cells = cellsOf(node)
		var segment Segment
		refs = append(refs, fill(l, &part, segmentKeys, &segment)...)
		run.Segments = append(run.Segments, segment)
	}
	return refs
}

// csvFiles reads each file that a list names, once.
func (l *loader) csvFiles(path string, value *yaml.Node, read func(file string, data []byte)) {
	c := cellOf("", value)
	if c.wrong != "" {
		l.lose(path, value.Line, "runs_files and tests_files want a list of file names")
		return
	}
	for i, name := range c.texts {
		line := value.Line
		if c.list {
			line = value.Content[i].Line
		}
		file := beside(path, name)
		if l.known(file) {
			l.report(path, line, "file %q is named twice", name)
			continue
		}
		l.files = append(l.files, file)
		data, err := l.readFile(file)
		if err != nil {
			l.problems = append(l.problems, Problem{File: path, Line: line, Text: err.Error(), Unread: true, Lost: true})
			continue
		}
		read(file, data)
	}
}

func (l *loader) known(file string) bool {
	for _, f := range l.files {
		if f == file {
			return true
		}
	}
	return false
}
