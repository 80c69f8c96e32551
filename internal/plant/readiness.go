package plant

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"toneout/internal/standards"
)

// Answer is whether a run is ready for a speed. It is never that it will work:
// only a test at that speed tells.
type Answer string

// The answers.
const (
	ByRecord Answer = "by the record yes, test needed"
	NotReady Answer = "no"
	NotKnown Answer = "not known"
)

// Readiness is whether a run is ready for a speed, by record, tests and
// damaged frames.
type Readiness struct {
	Run     string
	Speed   standards.Speed
	Answer  Answer
	Because []string // of no, what forbids it; of yes, what speaks for it and on what condition; else what is not known
	Also    []string // but for no: what else than the cable is needed or in the way, e.g. a port that does 1G at most
}

// The speeds that people upgrade by, rising. Over copper only Category 8 goes
// further than 10G.
var (
	copperSteps   = []standards.Speed{10 * standards.Mbps, 100 * standards.Mbps, standards.Gbps, 2500 * standards.Mbps, 5 * standards.Gbps, 10 * standards.Gbps}
	category8Step = []standards.Speed{25 * standards.Gbps, 40 * standards.Gbps}
	fibreSteps    = []standards.Speed{100 * standards.Mbps, standards.Gbps, 10 * standards.Gbps, 25 * standards.Gbps, 40 * standards.Gbps, 100 * standards.Gbps}
)

// NextSpeed is the next speed above the one that the run is designed for, or
// runs at where that is more. It is false where no speed or no medium is known,
// and at the end of what the medium knows.
func (p *Plant) NextSpeed(r *Run, seen Seen) (standards.Speed, bool) {
	now := max(r.DesignSpeed, seen.Near.Speed, seen.Far.Speed)
	if now == 0 {
		now = r.DeviceSpeed
	}
	laid := p.lay(r)
	steps := fibreSteps
	switch laid.medium() {
	case standards.Copper:
		if steps = copperSteps; laid.category == standards.Cat8 {
			steps = slices.Concat(copperSteps, category8Step)
		}
	case "":
		return 0, false
	}
	for _, speed := range steps {
		if now > 0 && speed > now {
			return speed, true
		}
	}
	return 0, false
}

// Ready tells whether a run is ready for a nominal speed.
func (p *Plant) Ready(r *Run, speed standards.Speed, seen Seen) Readiness {
	e := p.Expected(r, seen)
	carried, ok := e.At(speed)
	out := Readiness{Run: r.ID, Speed: speed}
	if !ok {
		out.Answer, out.Because = NotKnown, []string{speed.String() + " is no nominal speed"}
		return out
	}
	tests := p.testsFor(r, e, carried)
	switch against := append(against(r, seen, carried, tests), p.mixedCores(r, seen)...); {
	case len(against) > 0:
		out.Answer, out.Because = NotReady, against
	case carried.Verdict == standards.NotJudged && !tests.supported:
		out.Answer, out.Because, out.Also = NotKnown, []string{carried.Why}, alsoNeeded(e, carried)
	default:
		out.Answer, out.Because, out.Also = ByRecord, inFavour(r, e, seen, carried, tests), alsoNeeded(e, carried)
	}
	return out
}

// tests is what the tests of a run say of a speed.
type tests struct {
	words     string // in words; "" for no test
	failed    bool
	supported bool // the values measured keep what the speed needs
}

// testsFor reads the acceptance test, or else the result that the record states.
func (p *Plant) testsFor(r *Run, e Expected, c Carried) tests {
	a := p.Acceptance(r.ID)
	switch {
	case a != nil && a.Result != "":
		return a.testsFor(outright(e, c))
	case r.TestResult == "" && a != nil:
		return tests{words: dated("its acceptance test", a.TestedOn) + " has no value that could be judged"}
	case r.TestResult == "" && !r.TestedOn.IsZero():
		return tests{words: dated("the record says tested", r.TestedOn) + ", without the result"}
	case r.TestResult == "":
		return tests{}
	}
	words := "the record says " + dated("tested", r.TestedOn) + ": " + string(r.TestResult)
	if margin, ok := r.TestMarginDB.Get(); ok {
		words += ", worst margin " + quantity(margin, "dB")
	}
	return tests{words: words + ", to limits that are not recorded", failed: r.TestResult == Fail || r.TestResult == FailMarginal}
}

// testsFor reads the measured values for a run that needs a category; "" where
// it needs none. Values that keep it count, whatever else they fail.
func (a *Acceptance) testsFor(needs standards.Category) tests {
	mapped := a.WireMap == nil || a.WireMap.Right()
	test := dated("its acceptance test", a.TestedOn)
	switch {
	case mapped && needs != "" && a.Supports != "" && !a.Supports.Below(needs):
		words := dated("tested", a.TestedOn) + " to Category " + string(a.Supports)
		if a.supportOf().Result == PassMarginal {
			words += ", within the tester's accuracy of its limits"
		}
		return tests{words: words, supported: true}
	case a.Result == Fail || a.Result == FailMarginal:
		return tests{words: test + " fails" + a.failing(mapped), failed: true}
	case needs != "" && a.Supports != "":
		return tests{words: fmt.Sprintf("%s keeps Category %s only, of the %s that carries the speed outright", test, a.Supports, needs)}
	case needs != "":
		return tests{words: fmt.Sprintf("%s passes, and does not tell whether the run keeps Category %s", test, needs)}
	}
	return tests{words: test + " passes"}
}

func (a *Acceptance) failing(mapped bool) string {
	switch {
	case !mapped:
		var faults []string
		for _, f := range a.WireMap.Faults {
			faults = append(faults, f.Text)
		}
		return ": " + strings.Join(faults, "; ")
	case a.Worst != nil:
		return ": " + a.Worst.String()
	}
	return ""
}

// dated adds a day where it is recorded.
func dated(what string, day time.Time) string {
	if day.IsZero() {
		return what
	}
	return what + " " + day.Format(time.DateOnly)
}

// outright is the lowest category over which the speed is allowed outright at
// the length of the run; "" where it is not copper.
func outright(e Expected, c Carried) standards.Category {
	if e.Medium != standards.Copper {
		return ""
	}
	phy, _ := standards.PHYNamed(c.PHY)
	needs, ok := phy.CopperNeeds()
	if !ok {
		return ""
	}
	ch := e.Channel
	if ch.LengthM == 0 {
		ch.LengthM = needs.ReachM
	}
	for _, category := range standards.Categories() {
		ch.Category = category
		if phy.OverCopper(ch).Verdict == standards.Allowed {
			return category
		}
	}
	return needs.Category
}

// against is what forbids the speed.
func against(r *Run, seen Seen, c Carried, t tests) (why []string) {
	switch r.Status {
	case Abandoned, Faulty:
		why = append(why, "it is recorded as "+string(r.Status))
	}
	if c.Verdict == standards.NotAllowed {
		why = append(why, c.Why)
	}
	if t.failed {
		why = append(why, t.words)
	}
	if seen.Errors != "" {
		why = append(why, "it counts damaged frames at its present speed: "+seen.Errors)
	}
	return why
}

// mixedCores is what forbids every speed over fibre whose cores differ: light is
// lost between them, how much only a measurement would tell.
func (p *Plant) mixedCores(r *Run, seen Seen) (why []string) {
	var s subject
	s.turn(p, r, seen)
	for _, f := range mixedFibre(&s) {
		why = append(why, f.Text)
	}
	return why
}

// inFavour is what speaks for the speed, and on what condition.
func inFavour(r *Run, e Expected, seen Seen, c Carried, t tests) []string {
	why := []string{c.ground(e)}
	switch c.Verdict {
	case standards.Depends:
		why = append(why, "on the condition: "+c.Why)
	case standards.NotJudged:
		why = append(why, "by its test alone: "+c.Why)
	}
	why = append(why, cmp.Or(t.words, "no test of it is recorded"))
	if now := max(seen.Near.Speed, seen.Far.Speed); now >= c.Speed {
		why = append(why, "a port on it runs at "+now.String()+" now")
	}
	if !r.InstalledOn.IsZero() {
		why = append(why, dated("installed", r.InstalledOn)+": plugs and cords age")
	}
	return why
}

// alsoNeeded is what the speed wants beside a cable that carries it. Where other
// optics are to be fitted, what those there do is not told.
func alsoNeeded(e Expected, c Carried) (all []string) {
	if c.Needs != "" {
		all = append(all, c.Needs)
	}
	for _, l := range e.LimitedBy {
		if l.Speed < c.Speed && (c.Needs == "" || l.What != nearOptic && l.What != farOptic) {
			all = append(all, l.String())
		}
	}
	return all
}
