package fault

import (
	"cmp"
	"time"
)

// Kind is what is wrong.
type Kind string

// The kinds that are looked for.
const (
	BelowDesignSpeed Kind = "below-design-speed"
	FrameErrors      Kind = "frame-errors"
	DuplexMismatch   Kind = "duplex-mismatch"
	LinkFlapping     Kind = "link-flapping"
	NoLink           Kind = "no-link"
	LowLight         Kind = "low-light"
	HighLight        Kind = "high-light"
	ExcessLoss       Kind = "excess-loss"
	PowerFailing     Kind = "power-fault"
)

// Kinds are all kinds that are looked for.
var Kinds = []Kind{
	BelowDesignSpeed, FrameErrors, DuplexMismatch, LinkFlapping, NoLink, LowLight, HighLight, ExcessLoss, PowerFailing,
}

// About is where a fault lies.
type About string

// A fault may lie in the run, in the port or its setting, or at the far end.
const (
	AboutRun    About = "run"
	AboutPort   About = "port"
	AboutFarEnd About = "far-end"
)

// Severity is how bad a fault is.
type Severity string

// The severities.
const (
	Info     Severity = "info"
	Warning  Severity = "warning"
	Critical Severity = "critical"
)

var severityOrder = map[Severity]int{Info: 0, Warning: 1, Critical: 2}

// CauseProbability is one of a fault's causes; those of a fault sum to 1.
type CauseProbability struct {
	Cause       Cause   `json:"cause"`
	Probability float64 `json:"probability"`
}

// Fault is a run, or a port without one, that falls short. There is one for
// each run and kind at most.
type Fault struct {
	Run    string `json:"run"` // "" where the port has none in the inventory
	Switch string `json:"switch"`
	Port   string `json:"port"` // ifName; with Switch the run's near end

	Kind     Kind      `json:"kind"`
	About    About     `json:"about"`
	Severity Severity  `json:"severity"`
	Since    time.Time `json:"since"`
	Summary  string    `json:"summary"` // one sentence, the evidence in it

	Evidence   []string           `json:"evidence"`             // plain sentences
	Causes     []CauseProbability `json:"causes"`               // likeliest first
	Experience *Experience        `json:"experience,omitempty"` // of repairs; nil where none was confirmed

	Checks   []string `json:"checks"` // soonest to find it first
	Cautions []string `json:"cautions"`

	NextChecks []NextCheck `json:"next_checks"` // those of Checks, with what each takes and finds
	Medium     string      `json:"medium"`      // copper, fibre, or assembly for a cord that is one piece with its plugs

	Guards []Guard `json:"guards"` // why nobody is told, or what was taken into account

	Proof *Proof `json:"proof,omitempty"` // what it has yet to show since it was repaired; nil where it was not

	SharedCause string `json:"shared_cause"`
	Planned     bool   `json:"planned"`
	Quiet       bool   `json:"quiet"`
	Alarm       bool   `json:"alarm"` // whether anybody is told

	Near  string `json:"near"`  // both ends in words
	Far   string `json:"far"`   // "" where not known
	Space string `json:"space"` // the near switch's, an id of the inventory
	Owner string `json:"owner"`

	weighed  *Weighed
	pleas    []string  // of the evidence: what speaks for the leading cause and against it
	restated bool      // its evidence says what its summary does
	resumed  bool      // it was open before a restart
	unmade   bool      // what its run is made of is not known
	unseen   bool      // nothing of it was seen in the last hour
	turned   bool      // it was about the port and is not, or the other way
	leans    time.Time // since when its leading cause is elsewhere than it is said to be about
	raised   Severity  // by what it tells of; "" where it is not
	told     wavering  // as alerts tell it; zero where that was not held
	folded   time.Time // until then it does not alarm, since another fault told of it
}

// Cause is the likeliest cause.
func (f *Fault) Cause() Cause { return f.Causes[0].Cause }

// Weighed is what its causes were weighed by.
func (f *Fault) Weighed() *Weighed { return f.weighed }

// FirstCheck is what to do first.
func (f *Fault) FirstCheck() string { return f.Checks[0] }

// worstFirst orders faults: alarmed before quiet, severe before mild, old
// before new, then by name so that the order never depends on chance.
func worstFirst(a, b *Fault) int {
	return cmp.Or(
		compareBool(b.Alarm, a.Alarm),
		cmp.Compare(severityOrder[b.Severity], severityOrder[a.Severity]),
		a.Since.Compare(b.Since),
		cmp.Compare(a.Switch, b.Switch),
		cmp.Compare(a.Port, b.Port),
		cmp.Compare(a.Kind, b.Kind),
	)
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}
