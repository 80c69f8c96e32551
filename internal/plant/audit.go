package plant

import "toneout/internal/standards"

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
	Verdict   standards.Verdict `json:"-"`       // Depends or NotAllowed
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

// Rule is what a finding breaks, as a code for scripts.
type Rule string

// Audit is the judgement of every run.
type Audit struct {
	Runs     int            `json:"runs"`
	Clean    int            `json:"clean"` // runs without a finding
	Findings []Finding      `json:"findings"`
	Spaces   []SpaceSummary `json:"spaces"`
}

// SpaceSummary counts what an audit found in one space.
type SpaceSummary struct {
	Space    string            `json:"space"` // "" for runs whose space is not recorded
	Name     string            `json:"name"`
	Building string            `json:"building"`
	Runs     int               `json:"runs"`
	Clean    int               `json:"clean"`
	Findings map[Endangers]int `json:"findings"`
}
