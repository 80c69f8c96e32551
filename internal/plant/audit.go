package plant

import (
	"cmp"
	"slices"

	"toneout/internal/standards"
)

// Endangers is what a finding puts at stake, worst first.
type Endangers string

// What findings endanger, in the order in which an audit lists them.
const (
	Equipment Endangers = "equipment" // an optic may be damaged
	Link      Endangers = "link"      // the run may not carry what it is meant to
	Margin    Endangers = "margin"    // it may, but with nothing to spare or under a condition
	Records   Endangers = "record"    // a fault would be sent to the wrong place, or its cause misjudged
	Growth    Endangers = "growth"    // it carries less than it could
)

// Sureness is how sure a finding is.
type Sureness string

// How sure a finding is: certain where the record contradicts itself or a
// printed figure; likely where a figure is from memory or the record may be
// what is wrong; possible where it hangs on something that nobody wrote down.
const (
	Certain  Sureness = "certain"
	Likely   Sureness = "likely"
	Possible Sureness = "possible"
)

// Finding is one thing that a run breaks.
type Finding struct {
	Run       string            `json:"run"` // "" where the row is no run
	Rule      Rule              `json:"rule"`
	Endangers Endangers         `json:"endangers"`
	Verdict   standards.Verdict `json:"verdict"` // Depends or NotAllowed
	Text      string            `json:"finding"` // what it breaks, one sentence
	By        string            `json:"by"`      // by how much, e.g. "4 m over 100 m"; "" where no figure decides
	Source    string            `json:"source"`  // document and clause, or "common practice"
	Sure      Sureness          `json:"sure"`
	Mend      string            `json:"mend"`  // what would mend it
	Space     string            `json:"space"` // of the near panel; "" where not recorded
	File      string            `json:"file"`
	Line      int               `json:"line"`

	excess     float64    // by how much, as a share of the limit, for the order
	importance Importance // of the run, likewise
}

// Audit is the judgement of every run.
type Audit struct {
	Runs     int            `json:"runs"`
	Clean    int            `json:"clean"` // runs without a finding
	Findings []Finding      `json:"findings"`
	Spaces   []SpaceSummary `json:"spaces"`
}

// Audit judges every run. seen gives what the switches show of a run by its
// id; a run that is not in it, or a nil map, is judged by its record alone.
// others are findings from elsewhere, such as ProblemFindings and JoinFindings.
func (p *Plant) Audit(seen map[string]Seen, others ...Finding) *Audit {
	a := &Audit{Runs: len(p.Runs), Findings: []Finding{}}
	tally := newTally(p)
	of, rest := p.parted(others)
	var s subject
	for _, r := range p.Runs {
		s.turn(p, r, seen[r.ID])
		findings := append(s.judge(), of[r.ID]...)
		if len(findings) == 0 {
			a.Clean++
		}
		tally.add(p.spaceOf(r), findings)
		a.Findings = append(a.Findings, findings...)
	}
	tally.elsewhere(rest)
	a.Findings = append(a.Findings, rest...)
	sortFindings(a.Findings)
	a.Spaces = tally.summaries()
	return a
}

// AuditRun judges one run, which need not be in use; nil is a clean run.
func (p *Plant) AuditRun(r *Run, seen Seen) []Finding {
	var s subject
	s.turn(p, r, seen)
	findings := s.judge()
	sortFindings(findings)
	return findings
}

// judge asks a run every rule that is for runs of its status.
func (s *subject) judge() (findings []Finding) {
	r := s.run
	space := s.plant.spaceOf(r)
	for i := range rules {
		rule := &rules[i]
		if !rule.of.covers(r.Status) || rule.told(findings) {
			continue
		}
		for _, f := range rule.find(s) {
			f.Run, f.Rule, f.Space, f.File, f.Line = r.ID, rule.code, space, r.File, r.Line
			f.importance = r.Importance
			f.Endangers = cmp.Or(f.Endangers, rule.endangers)
			f.Verdict = max(f.Verdict, standards.Depends)
			f.Sure = cmp.Or(f.Sure, Certain)
			findings = append(findings, f)
		}
	}
	return findings
}

// spaceOf is the space of a run's near panel, "" where it is not recorded.
func (p *Plant) spaceOf(r *Run) string {
	if panel := p.Panel(r.Panel); panel != nil {
		return panel.Space
	}
	return ""
}

var (
	worstFirst     = map[Endangers]int{Equipment: 0, Link: 1, Margin: 2, Records: 3, Growth: 4}
	importantFirst = map[Importance]int{High: 0, Normal: 1, "": 1, Low: 2}
)

// sortFindings orders by what is endangered, then the run's importance, the
// verdict, how far the limit is passed, and the run's id as people count.
func sortFindings(findings []Finding) {
	slices.SortStableFunc(findings, func(a, b Finding) int {
		return cmp.Or(
			worstFirst[a.Endangers]-worstFirst[b.Endangers],
			importantFirst[a.importance]-importantFirst[b.importance],
			cmp.Compare(b.Verdict, a.Verdict),
			cmp.Compare(b.excess, a.excess),
			natural(a.Run, b.Run),
		)
	})
}

// natural compares ids with the numbers in them as numbers: P1-9 is before
// P1-10.
func natural(a, b string) int {
	x, y := a, b
	for x != "" && y != "" {
		m, n := digits(x), digits(y)
		if m == 0 || n == 0 {
			if x[0] != y[0] {
				return cmp.Compare(x[0], y[0])
			}
			x, y = x[1:], y[1:]
			continue
		}
		p, q := unpadded(x[:m]), unpadded(y[:n])
		if c := cmp.Or(cmp.Compare(len(p), len(q)), cmp.Compare(p, q)); c != 0 {
			return c
		}
		x, y = x[m:], y[n:]
	}
	return cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(a, b))
}

func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}

func unpadded(number string) string {
	for len(number) > 1 && number[0] == '0' {
		number = number[1:]
	}
	return number
}
