package main

import (
	"flag"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"toneout/internal/corpus"
	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/sim"
	"toneout/internal/web"
)

var update = flag.Bool("update", false, "write the verdicts of testdata/verdicts anew")

// Verdicts of different causes, word for word as terminal and page say them. Who
// changes words reads here what a technician will.
func TestVerdictsWordForWord(t *testing.T) {
	address := ferrowQuayServed(t)
	client, err := web.NewClient(address, web.Options{})
	require.NoError(t, err)
	causes := map[fault.Cause]string{}
	for _, run := range verdictsOf {
		t.Run(run, func(t *testing.T) {
			verdict, err := client.Run(t.Context(), run)
			require.NoError(t, err)
			require.NotEmpty(t, verdict.Faults, "a verdict is of a fault")
			lead := verdict.Faults[0].Cause()
			require.Empty(t, causes[lead], "%s has this cause too", causes[lead])
			causes[lead] = run
			said := fmt.Sprintf("toneout explain %s\n\n%s\n\n/runs/%s\n\n%s", run, explained(verdict), run, pageAsText(t, address+"/runs/"+run))
			path := filepath.Join("..", "..", "testdata", "verdicts", run+".txt")
			if *update {
				require.NoError(t, os.WriteFile(path, []byte(said), 0o644))
			}
			golden, err := os.ReadFile(path)
			require.NoError(t, err)
			require.Equal(t, string(golden), said, "go test ./cmd/toneout -run Verdicts -update writes it anew")
		})
	}
	require.GreaterOrEqual(t, len(causes), 10)
}

// verdictsOf are runs of the demo's campus with a fault, each of another cause.
var verdictsOf = []string{
	"N1-P1-12", "N1-F1-05", "N1-P2-25", "N2-P1-15", "S1-P1-17", "B1-P1-19", "N1-P2-43", "S1-P2-19", "N1-F1-14", "N1-F1-16", "N1-F1-04",
}

// ferrowQuayServed gives the address of pages that show the demo's campus after
// some minutes.
func ferrowQuayServed(t *testing.T) string {
	local := time.Local
	time.Local = time.UTC
	t.Cleanup(func() { time.Local = local })
	begin := time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)
	campus, directory := sim.FerrowQuay(demoSeed, begin), t.TempDir()
	require.NoError(t, campus.WriteInventory(directory))
	inventory, problems, err := plant.Load(filepath.Join(directory, "plant.yml"))
	require.NoError(t, err)
	require.Empty(t, problems)
	const watched = 4 * time.Minute
	settings := fault.Settings{
		PollEvery: demoEvery, SlowEvery: demoSlowEvery, FalseAlarmsPerWeek: 1, Labels: regexp.MustCompile(`^(?P<run>[A-Z0-9-]+)`),
	}
	snap := corpus.Watch(campus, begin, inventory, settings, watched)
	server := httptest.NewServer(web.Handler(web.Source{
		Snapshot: func() *fault.Snapshot { return snap }, Metrics: http.NotFoundHandler(), Alive: func() error { return nil },
		Inventory: func() web.InventoryState { return web.InventoryState{Loaded: begin} },
		Now:       func() time.Time { return begin.Add(watched) },
	}))
	t.Cleanup(server.Close)
	return server.URL
}

// pageAsText is what a page's main part reads, a line for each block.
func pageAsText(t *testing.T, url string) string {
	response, err := http.Get(url)
	require.NoError(t, err)
	defer response.Body.Close()
	require.Equal(t, http.StatusOK, response.StatusCode)
	page, err := html.Parse(io.LimitReader(response.Body, 1<<20))
	require.NoError(t, err)
	var text strings.Builder
	for n := range page.Descendants() {
		if n.DataAtom == atom.Main {
			write(&text, n)
		}
	}
	lines := strings.FieldsFunc(text.String(), func(r rune) bool { return r == '\n' })
	var out strings.Builder
	for _, line := range lines {
		if words := strings.Join(strings.Fields(line), " "); words != "" {
			fmt.Fprintln(&out, words)
		}
	}
	return out.String()
}

func write(text *strings.Builder, n *html.Node) {
	if n.Type == html.TextNode {
		text.WriteString(strings.ReplaceAll(n.Data, "\n", " "))
	}
	if n.DataAtom == atom.P {
		text.WriteString("\n")
	}
	for child := range n.ChildNodes() {
		write(text, child)
	}
	switch n.DataAtom {
	case atom.P, atom.Li, atom.Tr, atom.H1, atom.H2, atom.H3, atom.H4, atom.Dd, atom.Dt, atom.Div, atom.Section, atom.Summary, atom.Caption, atom.Ul, atom.Ol:
		text.WriteString("\n")
	case atom.Td, atom.Th, atom.Span, atom.A:
		text.WriteString(" ")
	}
}
