package fault

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// Telling is a verdict as alerts have room for it, each a sentence in the words of page
// and terminal. It is made to hold still: Prometheus keeps a new series for each change
// of it, and an alert that changes with each poll is read by nobody. So it has no counts,
// which are in the metrics, its percentage is a rough one, and holdTelling keeps it.
type Telling struct {
	Title    string // of the kind, or of what runs share
	Verdict  string // the likeliest cause and about how probable it is, or that none stands out
	Evidence string // what speaks for it; "" for nothing
	Check    string // the first
	Caution  string // the gravest of that check; "" where it has none
}

// Telling gives the fault's verdict as alerts tell it.
func (f *Fault) Telling() Telling {
	told := f.told
	if told.at.IsZero() {
		told = f.wavers(told.at)
	}
	return Telling{Title: f.Kind.Title(), Verdict: told.verdict, Evidence: told.evidence, Check: told.check, Caution: told.caution}
}

// wavering is the part of a telling that does.
type wavering struct {
	verdict, evidence, check, caution string

	leads bool // a cause stands out
	at    time.Time
}

func (f *Fault) wavers(at time.Time) wavering {
	return wavering{f.inShort(), f.speaking(), f.FirstCheck(), f.gravest(), f.leads(), at}
}

// toldFor is for how long a telling holds at least while its cause leads (common
// practice, no source): of noise that comes in bursts the probability and what speaks
// for it come and go with the polls, by more than a rounding hides.
const toldFor = 15 * time.Minute

// holdTelling keeps what was told of a fault while that holds still, or is fresh.
func (f *Fault) holdTelling(was *Fault, at time.Time) {
	f.told = f.wavers(at)
	if was == nil || was.told.at.IsZero() || was.Cause() != f.Cause() || f.surely(!was.told.leads) {
		return
	}
	same := f.told
	same.at = was.told.at
	if same == was.told || at.Sub(was.told.at).Abs() < toldFor {
		f.told = was.told
	}
}

// surely tells whether a cause stands out, or does not, by more than it wavers.
func (f *Fault) surely(leads bool) bool {
	const about = 0.1 // common practice, no source
	if p := f.Causes[0].Probability; leads {
		return p >= standsOut+about
	} else {
		return p < standsOut-about
	}
}

// leads tells whether a cause stands out.
func (f *Fault) leads() bool { return f.Causes[0].Probability >= standsOut }

func (f *Fault) inShort() string {
	if !f.leads() {
		return noneStandsOut + "."
	}
	return fmt.Sprintf("Likeliest cause: %s (%s).", f.Cause().Title(), aboutWords(f.Causes[0].Probability))
}

// aboutWords writes a probability in tenths; the last one is no certainty.
func aboutWords(p float64) string {
	if p >= 0.95 {
		return "over 90 %"
	}
	return fmt.Sprintf("about %.0f %%", 10*math.Round(10*p))
}

// speaking is what is seen that speaks for the leading cause, or where it may lie where
// none stands out.
func (f *Fault) speaking() string {
	if !f.leads() {
		return suspectSentence(f.Causes)
	}
	if f.weighed == nil {
		return ""
	}
	if pro, _ := f.weighed.speak(f.Cause()); len(pro) > 0 {
		return fmt.Sprintf("For it: %s.", strings.Join(pro, "; "))
	}
	return ""
}

// gravestFirst are the cautions of checks, what may hurt most and be seen least first
// (common practice, no source).
var gravestFirst = []string{laser, scope, powered, earthing, plantRooms, heights, plugging, warm, static}

// gravest is the caution of the first check that an alert has room for.
func (f *Fault) gravest() string {
	if len(f.NextChecks) == 0 {
		return ""
	}
	return f.material().gravest(append(slices.Clone(kindCautions[f.Kind]), checkWords[f.NextChecks[0].Code].cautions...))
}

// gravest is the first of some cautions that fit, "" for none.
func (m material) gravest(cautions []string) string {
	fitting := m.fitting(cautions)
	if len(fitting) == 0 {
		return ""
	}
	return slices.MinFunc(fitting, func(a, b string) int { return slices.Index(gravestFirst, a) - slices.Index(gravestFirst, b) })
}

// Telling gives the shared cause as alerts tell it. Its probability is told as it is: it
// is in no label.
func (c *SharedCause) Telling() Telling {
	return Telling{
		Title: c.Title, Verdict: fmt.Sprintf("Probability that this is why: %s.", Percent(c.Probability)),
		Evidence: besideSentence(c.Beside), Check: c.FirstCheck(), Caution: c.gravest(),
	}
}

// gravest is that of its own check, not of those of its rivals.
func (c *SharedCause) gravest() string {
	if len(c.NextChecks) == 0 {
		return ""
	}
	return anyMaterial.gravest(c.NextChecks[0].Cautions)
}
