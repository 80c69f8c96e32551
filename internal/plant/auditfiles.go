package plant

import (
	"fmt"

	"toneout/internal/standards"
)

// The rules that an audit asks of the files and of the joins.
const (
	RowUnread    Rule = "row-unread"    // a row, or part of it, is not used
	PortConflict Rule = "port-conflict" // what names a port contradicts itself
	PortUnknown  Rule = "port-unknown"  // an end has no switch port, and should have
)

// theInventory is the source of what the files say against themselves.
const theInventory = "the inventory itself"

// Rules gives every rule that a finding may name.
func Rules() []Rule {
	all := []Rule{RowUnread, PortConflict, PortUnknown}
	for i := range rules {
		all = append(all, rules[i].code)
	}
	return all
}

// EndangersAll gives what findings may endanger, worst first.
func EndangersAll() []Endangers { return []Endangers{Equipment, Link, Margin, Records, Growth} }

// ProblemFindings are the findings for what Load could not use.
func (p *Plant) ProblemFindings(problems []Problem) []Finding {
	out := make([]Finding, len(problems))
	for i, problem := range problems {
		f := p.aboutRecord("", RowUnread, problem.Text, "correct the line; until then it is as if it were not written")
		f.File, f.Line = problem.File, problem.Line
		switch problem.Kind {
		case runKind:
			f.Run = problem.ID
		case testKind:
			f.Run, f.Text = problem.ID, "test row: "+problem.Text
		case "":
		default:
			f.Text = problem.Kind + " " + problem.ID + ": " + problem.Text
		}
		if run := p.Run(f.Run); run != nil {
			f.Space, f.importance = p.spaceOf(run), run.Importance
		}
		out[i] = f
	}
	return out
}

// JoinFindings are the findings for runs whose ends cannot be joined to a switch
// port, but for those ends that waits says are no fault of the record. A run in
// a conflict has that alone.
func (p *Plant) JoinFindings(j *Joined, waits func(UnjoinedRun) bool) (out []Finding) {
	settled := map[string]bool{}
	for _, c := range j.Conflicts {
		for _, id := range c.Runs {
			settled[id] = true
			out = append(out, p.aboutRecord(id, PortConflict, c.Text, "see which of them is true, and correct the others"))
		}
	}
	for _, u := range j.UnjoinedRuns {
		if settled[u.Run.ID] || waits(u) {
			continue
		}
		text := fmt.Sprintf("%v end: %s", u.End, u.Why)
		if u.Run.At(u.End).Switch == "" {
			text = "the record names no switch port"
		}
		out = append(out, p.aboutRecord(u.Run.ID, PortUnknown, text, "record the switch and the port that the run is patched to"))
	}
	return out
}

// aboutRecord is a finding against the record by the files alone; run may be
// one that is not in use.
func (p *Plant) aboutRecord(run string, rule Rule, text, mend string) Finding {
	f := Finding{
		Run: run, Rule: rule, Endangers: Records, Verdict: standards.NotAllowed,
		Text: text, Source: theInventory, Sure: Certain, Mend: mend,
	}
	if r := p.Run(run); r != nil {
		f.Space, f.File, f.Line, f.importance = p.spaceOf(r), r.File, r.Line, r.Importance
	}
	return f
}

// parted sorts findings into those of runs that are in use and the rest.
func (p *Plant) parted(findings []Finding) (of map[string][]Finding, rest []Finding) {
	of = map[string][]Finding{}
	for _, f := range findings {
		if p.Run(f.Run) == nil {
			rest = append(rest, f)
			continue
		}
		of[f.Run] = append(of[f.Run], f)
	}
	return of, rest
}

// Title names what is endangered.
func (e Endangers) Title() string {
	return map[Endangers]string{
		Equipment: "Equipment", Link: "The link", Margin: "Its margin", Records: "The record", Growth: "Growth",
	}[e]
}

// Stake tells what that means, in a sentence.
func (e Endangers) Stake() string {
	return map[Endangers]string{
		Equipment: "An optic may be damaged.",
		Link:      "The run may not carry what it is meant to.",
		Margin:    "It carries what it is meant to with nothing to spare, or under a condition.",
		Records:   "A fault would be sent to the wrong place, or its cause misjudged.",
		Growth:    "The run carries less than it could.",
	}[e]
}

// SpaceOf is the space of a run's near panel, "" where it is not recorded.
func (p *Plant) SpaceOf(r *Run) string { return p.spaceOf(r) }
