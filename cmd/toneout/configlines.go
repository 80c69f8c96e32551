package main

import (
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"strings"

	"gopkg.in/yaml.v3"

	"toneout/internal/plant"
)

// line finds the line at which a path of keys and list positions stands, or
// as much of it as there is; 1 where there is nothing.
func (c *config) line(path ...any) int {
	node, _ := c.find(path)
	if node == nil {
		return 1
	}
	return node.Line
}

// says tells whether the file has a path of keys.
func (c *config) says(path ...any) bool {
	_, whole := c.find(path)
	return whole
}

// find follows a path of keys and list positions; it gives the last node there
// is, and whether that is the path's end.
func (c *config) find(path []any) (last *yaml.Node, whole bool) {
	if len(c.root.Content) == 0 {
		return nil, false
	}
	last = c.root.Content[0]
	for _, step := range path {
		next := child(last, step)
		if next == nil {
			return last, false
		}
		last = next
	}
	return last, true
}

func child(node *yaml.Node, step any) *yaml.Node {
	switch step := step.(type) {
	case int:
		if node.Kind == yaml.SequenceNode && step < len(node.Content) {
			return node.Content[step]
		}
	case string:
		for i := 0; node.Kind == yaml.MappingNode && i+1 < len(node.Content); i += 2 {
			if node.Content[i].Value == step {
				return node.Content[i+1]
			}
		}
	}
	return nil
}

var (
	atLine     = regexp.MustCompile(`^(?:yaml: )?(?:unmarshal errors:\s*)?line (\d+): (.*)$`)
	unknownKey = regexp.MustCompile(`^field (\S+) not found in type main\.(\S+)`)
	wrongType  = regexp.MustCompile("^cannot unmarshal !!(\\S+) .*into (\\S+)$")
)

// syntax puts the decoder's words into ours, a line for each, with file and
// line.
func (c *config) syntax(err error) error {
	lines := []string{err.Error()}
	var typed *yaml.TypeError
	if errors.As(err, &typed) {
		lines = typed.Errors
	}
	var wrong []error
	for _, line := range lines {
		at := "1"
		if m := atLine.FindStringSubmatch(line); m != nil {
			at, line = m[1], m[2]
		}
		wrong = append(wrong, fmt.Errorf("%s:%s: %s", c.path, at, plainWords(strings.TrimPrefix(line, "yaml: "))))
	}
	return errors.Join(wrong...)
}

// plainWords never repeats a value, since it may be a secret in the wrong
// place.
func plainWords(line string) string {
	if m := unknownKey.FindStringSubmatch(line); m != nil {
		if m[2] == "secret" {
			return "this is no place of a secret: wants " + wanted("main.secret")
		}
		return fmt.Sprintf("unknown key %q%s", m[1], plant.DidYouMean(m[1], keysOf(reflect.TypeFor[config]())))
	}
	if m := wrongType.FindStringSubmatch(line); m != nil {
		return fmt.Sprintf("%s does not fit here: wants %s", kinds[m[1]], wanted(m[2]))
	}
	return line
}

var kinds = map[string]string{"str": "a text", "int": "a number", "float": "a number", "bool": "a yes or no",
	"seq": "a list", "map": "a group of keys", "null": "nothing"}

func wanted(goType string) string {
	switch {
	case strings.HasSuffix(goType, "secret"):
		return "{env: NAME}, {file: PATH} or, for a bench only, {value: TEXT}"
	case strings.HasSuffix(goType, "protocol"):
		return "{protocol: NAME, passphrase: {env: NAME}}"
	case strings.HasPrefix(goType, "[]"):
		return "a list"
	case strings.HasPrefix(goType, "int"), strings.HasPrefix(goType, "float"):
		return "a number"
	case goType == "string":
		return "a text"
	}
	return "a group of keys"
}

// keysOf lists all keys that a type knows, with those of its parts.
func keysOf(t reflect.Type) []string {
	switch t.Kind() {
	case reflect.Pointer, reflect.Slice, reflect.Map:
		return keysOf(t.Elem())
	case reflect.Struct:
	default:
		return nil
	}
	var names []string
	for field := range t.Fields() {
		if tag := field.Tag.Get("yaml"); tag != "" {
			names = append(append(names, tag), keysOf(field.Type)...)
		}
	}
	return names
}
