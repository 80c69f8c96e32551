package web

import (
	"fmt"
	"net/http"
	"unicode/utf8"

	"toneout/internal/fault"
)

// coverView is the page of what is not seen.
type coverView struct {
	Contents        []grade   // each with its sections
	Sections        []section // grade by grade, and what endangers most first
	Runs, Ports     []bar
	Recorded, Shown string // how many runs and ports there are
}

// grade is how a section stands.
type grade struct {
	Class, Mark, Word string
	Title             string // above all sections of this grade
	Sections          []section
}

// The grades, in the page's order. Where nothing is known, nothing is in order.
const (
	toMend = iota
	notKnown
	inOrder
)

var grades = [...]grade{
	toMend:   {Class: "warning", Mark: "!", Word: "To mend", Title: "For a person to mend"},
	notKnown: {Class: "unknown", Mark: "?", Word: "Not known", Title: "Not known"},
	inOrder:  {Class: "healthy", Mark: "✓", Word: "In order", Title: "In order"},
}

// section is one kind of gap, or says that there is none.
type section struct {
	ID     string // its anchor
	Title  string
	Figure string // a sentence of how many of how many
	Rank   int    // toMend, notKnown, inOrder
	Stake  string // what the gap endangers, where something is to mend
	Blocks []block
	More   string // what was left out; "" for nothing
}

// Grade is how the section stands.
func (s section) Grade() grade { return grades[s.Rank] }

// block is one list within a section.
type block struct {
	Key   string // names it from one drawing of the page to the next
	Title string
	Text  string   // what to do
	Costs []string // what is lost
	Copy  string   // a line to copy
	Links []link   // a list of names alone
	Items []item
	More  string // what was left out; "" for nothing
	Fold  bool
}

// item is one row of a list.
type item struct {
	Names []link
	Text  string
	Age   string // what happened at When
	When  *when
}

// link is a name with the page it leads to; URL is "" where it has none.
type link struct{ Text, URL string }

// bar is one part of a whole.
type bar struct {
	Class, Mark, Word string
	Count             string
	Share             float64 // percent of the whole
}

const (
	mostRows  = 60  // of one list
	mostPorts = 300 // ports without a run, in all lists of them
	foldAbove = 8   // rows; longer lists are folded
	mostRunes = 160 // of one foreign string
	mostText  = 400 // runes of a sentence that names several things
)

func coveragePage(s Source, _ *http.Request, snapshot *fault.Snapshot) (string, any, error) {
	at, c := clock{s.Now()}, coverageOf(snapshot, s.Inventory())
	v := coverView{Runs: runBars(&c.Runs), Ports: portBars(&c.Ports), Recorded: digits(c.Runs.Recorded), Shown: digits(c.Ports.Shown)}
	v.arrange(append(numbersSection(s.recording()),
		at.silentSection(&c.Switches),
		identitySection(&c.Switches),
		conflictSection(&c),
		at.inventorySection(&c),
		healthSection(&c.Ports),
		tableSection(&c.Switches),
		unjoinedRunSection(&c.Runs),
		unjoinedPortSection(&c.Ports, snapshot),
		linkSection(&c),
		staleSection(&c),
		at.moveSection(&c),
	)...)
	return "What cannot be seen", v, nil
}

// arrange orders sections by their grade and lists them as contents.
func (v *coverView) arrange(sections ...section) {
	for rank, g := range grades {
		for _, part := range sections {
			if part.Rank == rank {
				if rank != toMend {
					part.Stake = ""
				}
				g.Sections = append(g.Sections, part)
			}
		}
		if len(g.Sections) > 0 {
			v.Contents, v.Sections = append(v.Contents, g), append(v.Sections, g.Sections...)
		}
	}
}

// runBars are the runs by state, with what is not known apart and first.
func runBars(c *RunCoverage) []bar {
	order := []fault.State{fault.Unknown, fault.Faulty, fault.Quiet, fault.Planned, fault.Idle, fault.Healthy}
	var bars []bar
	for _, state := range order {
		bars = append(bars, barOf(string(state), stateMarks[state], string(state), c.States[state], c.Recorded))
	}
	return bars
}

// portBars are the ports by what their health can be judged by, likewise.
func portBars(c *PortCoverage) []bar {
	h := &c.Health
	return []bar{
		barOf("unknown", "?", "not read: the switch does not answer", h.NotRead, c.Shown),
		barOf("unknown", "?", "too little told to judge", h.Unjudged, c.Shown),
		barOf("quiet", "~", "judged by a weaker count of damaged frames", h.Weaker, c.Shown),
		barOf("idle", "○", "no link, which says nothing of the cable", h.NoLink, c.Shown),
		barOf("told", "●", "judged by damaged frames", h.Judged, c.Shown),
	}
}

// least is how wide a bar of anything is, so that few is never drawn as none.
const least = 0.5

func barOf(class, mark, word string, n, of int) bar {
	b := bar{Class: class, Mark: mark, Word: word, Count: digits(n)}
	if n > 0 && of > 0 {
		b.Share = max(least, 100*float64(n)/float64(of))
	}
	return b
}

// graded is the rank of a section with nothing to mend.
func graded(known bool) int {
	if known {
		return inOrder
	}
	return notKnown
}

// mend adds a list of what asks for a person; one without rows is left out.
func (s *section) mend(b block) {
	before := len(s.Blocks)
	if s.add(b); len(s.Blocks) > before {
		s.Rank = toMend
	}
}

// add appends a block where there is something in it; a long one is folded.
func (s *section) add(b block) {
	if len(b.Items) == 0 && len(b.Links) == 0 {
		return
	}
	b.Key = s.ID + " " + b.Key
	if b.Fold = b.Fold || max(len(b.Items), len(b.Links)) > foldAbove; b.Fold && b.Title == "" {
		b.Title = "The list of " + digits(len(b.Items))
	}
	b.Items, b.More = capped(b.Items)
	if len(b.Links) > 0 {
		b.Links, b.More = capped(b.Links)
	}
	s.Blocks = append(s.Blocks, b)
}

// capped leaves out what a person would not read on a page.
func capped[T any](rows []T) (shown []T, more string) { return cappedAt(rows, mostRows) }

func cappedAt[T any](rows []T, most int) (shown []T, more string) {
	if len(rows) <= most {
		return rows, ""
	}
	return rows[:most], moreWords(len(rows) - most)
}

// moreWords tells how many more there are; the page links to where all are.
func moreWords(n int) string { return fmt.Sprintf("and %s more", digits(n)) }

// clipped shortens a foreign string, which may be of any length.
func clipped(s string) string { return clippedAt(s, mostRunes) }

func clippedAt(s string, most int) string {
	for i, n := 0, 0; i < len(s); n++ {
		if n == most {
			return s[:i] + "…"
		}
		_, size := utf8.DecodeRuneInString(s[i:])
		i += size
	}
	return s
}
