// Package internal holds only the test that the packages below keep to their
// places: who imports whom, and who may know the time or start a goroutine.
package internal

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const module = "toneout/"

// rule is what the files of a package, tests apart, may import beside the
// standard library.
type rule struct {
	ours     []string // packages under internal/
	theirs   []string // modules, by prefix
	pure     bool     // no clock, goroutine, log, network or chance
	launches bool     // may start goroutines
}

var core = []string{"standards", "sequential", "port", "plant", "fault"}

// rules, lowest first: each imports only those above it, edges the core alone.
var rules = map[string]rule{
	"standards":            {pure: true},
	"sequential":           {pure: true, theirs: []string{"gonum.org/v1/gonum"}},
	"sequential/bench":     {ours: core[1:2], theirs: []string{"gonum.org/v1/gonum"}},
	"port":                 {pure: true, ours: core[:2]},
	"plant":                {pure: true, ours: core[:3], theirs: []string{"gopkg.in/yaml.v3"}},
	"fault":                {pure: true, ours: core[:4]},
	"fault/quiet":          {ours: core, launches: true},
	"snmp":                 {ours: core, theirs: []string{"github.com/gosnmp/gosnmp"}},
	"snmp/snmpdtest":       {launches: true},
	"journal":              {ours: core, theirs: []string{"github.com/ncruces/go-sqlite3", "github.com/lib/pq"}},
	"journal/postgrestest": {},
	"history":              {ours: core, theirs: []string{"github.com/prometheus/prometheus", "github.com/prometheus/client_golang/api", "github.com/prometheus/common"}},
	"metrics":              {ours: core, theirs: []string{"github.com/prometheus/client_golang", "github.com/prometheus/client_model", "github.com/prometheus/common", "google.golang.org/protobuf"}},
	"notify":               {ours: core},
	"report":               {ours: core},
	"web":                  {ours: core},
	"daemon": {ours: append([]string{"snmp", "history", "journal", "metrics", "notify", "report", "web"}, core...), launches: true,
		theirs: []string{"github.com/prometheus/exporter-toolkit", "golang.org/x/sync", "gopkg.in/yaml.v3"}},
	"sim": {theirs: []string{"github.com/gosnmp/gosnmp"}},
	// Scenarios for tests; nothing that runs may import it, so that only here sim meets ours.
	"corpus": {ours: append([]string{"sim"}, core...), theirs: []string{"gopkg.in/yaml.v3"}},
	// Tests of the program as it is built, which kill it.
	"soak": {ours: []string{"journal"}},
}

// impure is what a pure package may not import: what it needs of the world
// comes as an argument. plant alone reads files.
var impure = []string{"log", "log/slog", "net", "net/http", "math/rand", "math/rand/v2", "sync", "context", "os/exec", "crypto/rand"}

func TestPackagesKeepTheirPlaces(t *testing.T) {
	checked := 0
	each(t, ".", func(file string, source *ast.File) {
		name := path.Dir(filepath.ToSlash(file))
		if name == "." {
			return
		}
		r, known := rules[name]
		require.True(t, known, "%s: package %s has no rule here: a new package needs an argument", file, name)
		checked++
		test := strings.HasSuffix(file, "_test.go")
		for _, spec := range source.Imports {
			imported, err := strconv.Unquote(spec.Path.Value)
			require.NoError(t, err)
			require.True(t, r.allows(imported, name, test), "%s imports %s", file, imported)
		}
		if !test {
			r.inspect(t, file, source)
		}
	})
	require.Greater(t, checked, 50, "files read")
}

// A command joins the parts and waits for them.
func TestCommandsStartNoGoroutineByHand(t *testing.T) {
	each(t, "../cmd", func(file string, source *ast.File) {
		if !strings.HasSuffix(file, "_test.go") {
			rule{}.inspect(t, file, source)
		}
	})
}

func each(t *testing.T, root string, do func(file string, source *ast.File)) {
	require.NoError(t, filepath.WalkDir(root, func(file string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() || filepath.Ext(file) != ".go" {
			return err
		}
		source, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
		if err == nil {
			do(file, source)
		}
		return err
	}))
}

// allows tells whether a package may import another. Tests may also use sim,
// its scenarios, the test agents and any library.
func (r rule) allows(imported, name string, test bool) bool {
	ours, isOurs := strings.CutPrefix(imported, module+"internal/")
	first, _, _ := strings.Cut(imported, "/")
	switch {
	case isOurs && test:
		return ours == name || slices.Contains(slices.Concat(core, r.ours, []string{"sim", "corpus", "snmp/snmpdtest", "journal/postgrestest"}), ours)
	case isOurs:
		return slices.Contains(r.ours, ours)
	case !strings.Contains(first, "."):
		return test || !r.pure || !slices.Contains(impure, imported)
	}
	return test || slices.ContainsFunc(r.theirs, func(m string) bool { return strings.HasPrefix(imported, m) })
}

// inspect finds goroutines and looks at the clock where they don't belong.
func (r rule) inspect(t *testing.T, file string, source *ast.File) {
	ast.Inspect(source, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			require.True(t, r.launches, "%s starts a goroutine: daemon does", file)
		case *ast.SelectorExpr:
			if x, ok := n.X.(*ast.Ident); ok && x.Name == "time" && r.pure {
				require.NotContains(t, []string{"Now", "Since", "Until", "Sleep", "After", "NewTimer"}, n.Sel.Name, "%s looks at the clock", file)
			}
		}
		return true
	})
}
