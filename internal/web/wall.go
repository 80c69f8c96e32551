package web

import (
	"fmt"
	"net/http"
	"strings"

	"toneout/internal/fault"
)

// wallView is the page of the whole plant.
type wallView struct {
	Untried     []string // switches, while the daemon starts
	States      []stateCount
	Switches    SwitchCoverage
	Silent      switchList
	Suspended   switchList // they answer, and their joins wait to be confirmed
	Ports       PortCoverage
	Shared      []sharedRow
	Loud, Quiet []faultRow
	Folded      []faultRow // under what their runs share
	Inventory   string     // what is wrong with it; "" for nothing
	Refused     string     // why what its files hold now is not used; "" where it is
}

type stateCount struct {
	State     fault.State
	Mark      string
	Count, Of int
}

// switchList is as many of some switches as the wall names.
type switchList struct {
	Rows []silentRow
	More string // how many are left out; "" for none
}

func listOf(rows []silentRow) switchList {
	shown, more := cappedAt(rows, mostOnWall)
	return switchList{shown, more}
}

type silentRow struct {
	Name, Why string
	Since     *when // its last answer; nil where it never gave one
}

// faultRow is a fault as lists show it.
type faultRow struct {
	*fault.Fault
	URL         string
	Mark        string
	Since       *when
	Probability string      // of the likeliest cause
	Reason      string      // why nobody is told; "" where somebody is
	Folded      *foldedLink // what it is told as a part of; nil where it is told by itself
	LastKnown   bool        // its switch does not answer, so it may be over
}

// Towards names the far end; "" where a port without a run knows of none.
func (r faultRow) Towards() string {
	switch r.Far {
	case "":
		return ""
	case notRecorded:
		return "far end " + notRecorded
	}
	return "to " + r.Far
}

func wall(s Source, _ *http.Request, snapshot *fault.Snapshot) (string, any, error) {
	at := clock{s.Now()}
	cover := coverageOf(snapshot, s.Inventory())
	v := wallView{
		Untried: untried(snapshot), Switches: cover.Switches, Ports: cover.Ports,
		Shared:    at.sharedRows(snapshot.Shared),
		Inventory: inventoryWords(cover), Refused: clippedAt(cover.Inventory.Refused, mostText),
	}
	for _, state := range states {
		v.States = append(v.States, stateCount{state, stateMarks[state], cover.Runs.States[state], cover.Runs.Recorded})
	}
	silent, suspended := at.unread(snapshot)
	v.Silent, v.Suspended = listOf(silent), listOf(suspended)
	for _, f := range snapshot.Faults {
		row := at.row(snapshot, f)
		switch {
		case f.SharedCause != "":
			v.Folded = append(v.Folded, row)
		case row.Reason != "":
			v.Quiet = append(v.Quiet, row)
		default:
			v.Loud = append(v.Loud, row)
		}
	}
	title := plural(len(v.Loud), "open fault")
	if len(v.Shared) > 0 {
		title = plural(len(v.Shared), "shared cause") + ", " + title
	}
	return title, v, nil
}

// mostOnWall is how many switches in trouble the wall names.
const mostOnWall = 12

// unread are the switches of which little or nothing is known: those that do
// not answer, of which such as hide others come first, and those whose joins
// wait to be confirmed.
func (c clock) unread(s *fault.Snapshot) (silent, suspended []silentRow) {
	var hidden []silentRow
	for _, sw := range s.Switches {
		row := silentRow{sw.Name, clippedAt(whySilent(sw), mostText), c.when(sw.LastAnswer)}
		switch {
		case sw.Tried && !sw.Answering() && sw.Behind != "":
			hidden = append(hidden, row)
		case sw.Tried && !sw.Answering():
			silent = append(silent, row)
		case sw.Suspended != "":
			suspended = append(suspended, silentRow{Name: sw.Name, Why: clipped(sw.Suspended)})
		}
	}
	return append(silent, hidden...), suspended
}

func whySilent(sw *fault.Switch) string {
	switch {
	case sw.Behind != "":
		return "hidden behind " + sw.Behind + ", which does not answer"
	case sw.RefusesCredentials():
		return "it is there and refuses the credentials: " + sw.Problem
	}
	return sw.Problem
}

// Marks stand beside the word, so that colour is never all that tells.
var (
	stateMarks = map[fault.State]string{
		fault.Faulty: "✕", fault.Unknown: "?", fault.Quiet: "~", fault.Planned: "▷", fault.Idle: "○", fault.Healthy: "✓",
	}
	severityMarks = map[fault.Severity]string{fault.Critical: "●●●", fault.Warning: "●●○", fault.Info: "●○○"}
)

func (c clock) row(s *fault.Snapshot, f *fault.Fault) faultRow {
	sw, ok := s.Switch(f.Switch)
	return faultRow{
		Fault: f, URL: faultURL(f), Mark: severityMarks[f.Severity], Since: c.when(f.Since),
		Probability: fault.Percent(f.Causes[0].Probability), Reason: whyQuiet(f),
		Folded: foldedUnder(s, f), LastKnown: ok && !sw.Answering(),
	}
}

// whyQuiet is why nobody is told of a fault.
func whyQuiet(f *fault.Fault) string {
	switch {
	case f.Planned:
		return "planned work"
	case f.SharedCause != "":
		return "part of what several runs share: " + f.SharedCause
	case f.Quiet && f.Cause().Quiet():
		return f.Cause().Title()
	case !f.Alarm && len(f.Guards) > 0:
		return strings.TrimSuffix(f.Guards[0].Says, ".")
	case f.Quiet:
		return f.Cause().Title()
	}
	return ""
}

func untried(s *fault.Snapshot) []string {
	var names []string
	for _, sw := range s.Switches {
		if !sw.Tried {
			names = append(names, sw.Name)
		}
	}
	return names
}

func inventoryWords(c Coverage) string {
	var parts []string
	if n := len(c.Conflicts); n > 0 {
		parts = append(parts, plural(n, "contradiction")+" between record and switches")
	}
	if n := len(c.Problems); n > 0 {
		parts = append(parts, plural(n, "error")+" in its files")
	}
	return strings.Join(parts, ", ")
}

func plural(n int, what string) string {
	switch n {
	case 0:
		return "no " + what + "s"
	case 1:
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
