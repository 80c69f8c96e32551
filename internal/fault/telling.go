package fault

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Telling is a verdict as alerts have room for it, each a sentence in the words of page
// and terminal. It is made to hold still: Prometheus keeps a new series for each change
// of it, and an alert that changes with each poll is read by nobody. So it has no counts,
// which are in the metrics, and its percentage is a rough one.
type Telling struct {
	Title    string // of the kind
	Verdict  string // the likeliest cause and about how probable it is, or that none stands out
	Evidence string // what speaks for it; "" for nothing
	Check    string // the first
	Caution  string // the gravest of that check; "" where it has none
}

// Telling gives the fault's verdict as alerts tell it.
func (f *Fault) Telling() Telling {
	return Telling{Title: f.Kind.Title(), Verdict: f.inShort(), Evidence: f.speaking(), Check: f.FirstCheck(), Caution: f.gravest()}
}

func (f *Fault) inShort() string {
	if f.Causes[0].Probability < standsOut {
		return noneStandsOut + "."
	}
	return fmt.Sprintf("Likeliest cause: %s (%s).", f.Cause().Title(), aboutWords(cmp.Or(f.rough, tenths(f.Causes[0].Probability))))
}

// speaking is what is seen that speaks for the leading cause, or where it may lie where
// none stands out.
func (f *Fault) speaking() string {
	if f.Causes[0].Probability < standsOut {
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

// roughWithin is by how much a probability may leave the tenth that it was rounded to
// before it is rounded again: half of one, and more so that none flutters between two.
const roughWithin = 0.08

// holdRough keeps the tenths of before while the same cause leads and is near them.
func (f *Fault) holdRough(was *Fault) {
	f.rough = tenths(f.Causes[0].Probability)
	if was != nil && was.rough > 0 && was.Cause() == f.Cause() && math.Abs(was.rough-f.Causes[0].Probability) <= roughWithin {
		f.rough = was.rough
	}
}

func tenths(p float64) float64 { return math.Round(10*p) / 10 }

// aboutWords writes tenths; the last one is no certainty.
func aboutWords(rough float64) string {
	if rough > 0.95 {
		return "over 90 %"
	}
	return fmt.Sprintf("about %.0f %%", 100*rough)
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
