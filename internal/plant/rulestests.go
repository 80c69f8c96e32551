package plant

import (
	"cmp"
	"fmt"
	"math"
	"strings"
	"time"

	"toneout/internal/standards"
)

const (
	fieldTest = "IEC 61935-1 and ANSI/TIA-1152-A (results of field tests)"
	ownDates  = "the record's own dates"
)

func wireMapFault(s *subject) []Finding {
	a := s.test()
	if a == nil || a.WireMap == nil || len(a.WireMap.Faults) == 0 {
		return nil
	}
	var texts []string
	for _, fault := range a.WireMap.Faults {
		texts = append(texts, fault.Text)
	}
	return found(Finding{
		Verdict: standards.NotAllowed, excess: float64(len(texts)),
		Text:   "the wire map of its test is wrong: " + strings.Join(texts, "; "),
		Source: "ISO/IEC 11801-1 and ANSI/TIA-568.2-D (pin and pair assignment)",
		Mend:   "re-terminate the worse end and test again; Power over Ethernet may be on the pairs",
	})
}

func testFailed(s *subject) []Finding {
	a := s.test()
	switch {
	case a != nil && a.Result != "":
		if a.Result != Fail {
			return nil
		}
		f := ofTest(a)
		f.Text = "the values of its test fail" + f.Text
		if s.run.TestResult == Pass {
			f.Text += ", though the record says pass"
		}
		return found(f)
	case s.run.TestResult != Fail:
		return nil
	}
	f := Finding{Verdict: standards.NotAllowed, Text: "its test failed", Source: fieldTest, Mend: retest}
	if margin, ok := s.run.TestMarginDB.Get(); ok && margin < 0 {
		f.By, f.excess = fmt.Sprintf("%s dB past the limit", tenths(-margin)), -margin/10
	}
	return found(f)
}

const (
	retest      = "test it again; if it fails, re-terminate it or lay it anew"
	retestFibre = "clean and inspect its connectors and test it again; if it fails, look for a bend, splice or connector that loses too much" + laserCare
)

// ofTest is a finding about the worst value of a test.
func ofTest(a *Acceptance) Finding {
	f := Finding{Verdict: standards.NotAllowed, Source: fieldTest, Mend: retest}
	w := a.Worst
	if w == nil {
		return f
	}
	f.Text = ": " + w.where() + " is worst"
	f.By = quantity(math.Abs(w.Margin), w.Unit)
	if w.Margin < 0 {
		f.By += " past the limit"
	} else {
		f.By += " to spare"
	}
	f.excess = share(w.Value, w.Limit)
	switch w.Parameter {
	case FibreLoss:
		f.Source, f.Mend = lossRule, retestFibre
	case LoopResistance:
	default:
		f.Source = cmp.Or(a.Line.Source(w.Parameter).Document, fieldTest)
	}
	return f
}

// where names a value: what, of which pairs or strand, and at what frequency or
// wavelength.
func (m *Measured) where() string {
	text := string(m.Parameter)
	if m.Pairs != "" && m.Parameter == FibreLoss {
		text += " of strand " + m.Pairs
	} else if m.Pairs != "" {
		text += " on pairs " + m.Pairs
	}
	if m.FrequencyMHz > 0 {
		text += fmt.Sprintf(" at %s MHz", tenths(m.FrequencyMHz))
	}
	if m.WavelengthNM > 0 {
		text += fmt.Sprintf(" at %s nm", tenths(m.WavelengthNM))
	}
	return text
}

func marginal(r TestResult) bool { return r == PassMarginal || r == FailMarginal }

func testTooNear(s *subject) []Finding {
	const text = "its test is too near to call"
	const mend = "test it again with a better tester; re-terminate it where it comes out the same"
	if a := s.test(); a != nil && a.Result != "" {
		if !marginal(a.Result) {
			return nil
		}
		f := ofTest(a)
		f.Verdict, f.Text = standards.Depends, text+f.Text
		if f.Mend == retest {
			f.Mend = mend
		}
		if a.Worst != nil {
			f.By += fmt.Sprintf(", and the tester is good to %s", quantity(a.Worst.Accuracy, a.Worst.Unit))
		}
		return found(f)
	}
	if !marginal(s.run.TestResult) {
		return nil
	}
	return found(Finding{Text: text + ": " + string(s.run.TestResult), Source: fieldTest, Mend: mend})
}

// testedBelowDesign tells that the category which the test proved does not
// allow the speed that the run is designed for, though that of its cable does.
func testedBelowDesign(s *subject) []Finding {
	a := s.test()
	needs, ok := s.needs()
	if a == nil || !ok || a.Result != Pass && a.Result != PassMarginal {
		return nil
	}
	proven := a.Supports
	if proven == "" || proven.Below(a.Line.Category) {
		proven = a.Line.Category
	}
	channel := s.expected().Channel
	if !proven.Below(channel.Category) {
		return nil
	}
	channel.Category = proven
	j := needs.OverCopper(channel)
	if now, _ := s.carried(); j.Verdict < standards.Depends || j.Verdict <= now.Verdict {
		return nil
	}
	f := judged(j)
	f.Verdict = standards.Depends
	f.Text = fmt.Sprintf("its test proves category %s only, which is too little for %s: %s", proven, s.speed(), j.Why)
	f.Mend = fmt.Sprintf("test it to category %s", s.fixedCategory())
	return found(f)
}

func neverTested(s *subject) []Finding {
	_, margin := s.run.TestMarginDB.Get()
	m := s.medium()
	if !s.anyCable() {
		return nil // which is told, and comes first
	}
	if margin || !s.run.TestedOn.IsZero() || s.run.TestResult != "" || s.test() != nil ||
		m == standards.Twinax || m == standards.ActiveOptical { // tested by their makers
		return nil
	}
	return found(Finding{
		Text:   "no test of it is recorded",
		Source: "ISO/IEC 14763-2 and ANSI/TIA-568.0-D (cabling is tested when installed)", Sure: Possible,
		Mend: "look for the installer's test report and record it; else test the run, out of hours since a test interrupts it",
	})
}

func testDiffers(s *subject) []Finding {
	text := testContradiction(s.run)
	a := s.test()
	switch {
	case text != "":
	case a == nil || a.Result == "":
		return nil
	case a.Result == Pass && s.run.TestResult == Fail:
		text = "the record says fail, and the values of its test pass"
	default:
		text = marginContradiction(s.run, a)
	}
	if text == "" {
		return nil
	}
	return found(Finding{Text: text, Source: fieldTest, Mend: "look up the test report and put the record right; without one test again"})
}

// testContradiction tells where a record's result and margin cannot both be
// right.
func testContradiction(r *Run) string {
	margin, ok := r.TestMarginDB.Get()
	switch {
	case ok && margin < 0 && r.TestResult == Pass:
		return fmt.Sprintf("test_result is pass, and test_margin_db %s is past the limit", tenths(margin))
	case ok && margin > 0 && r.TestResult == Fail:
		return fmt.Sprintf("test_result is fail, and test_margin_db %s keeps the limit", tenths(margin))
	}
	return ""
}

// marginStep is by how much a recorded margin may differ from one worked out of
// rounded values, in dB.
const marginStep = 0.5

// marginContradiction tells where the values hold something worse than the
// record's worst margin; something better may be missing from the file.
func marginContradiction(r *Run, a *Acceptance) string {
	margin, ok := r.TestMarginDB.Get()
	if !ok {
		return ""
	}
	for i := range a.ByParameter {
		m := &a.ByParameter[i]
		if m.Unit == "dB" && m.Margin < margin-marginStep {
			return fmt.Sprintf("test_margin_db is %s, and the values of its test have %s with %s", tenths(margin), m.Parameter, tenths(m.Margin))
		}
	}
	return ""
}

// lengthDiffers holds the record's length against the tester's. A tester
// measures the longest pair, by a nominal velocity that is good to a tenth.
func lengthDiffers(s *subject) []Finding {
	a := s.test()
	recorded, whole := s.fixedM()
	if a == nil || a.LengthM <= 0 || !whole {
		return nil
	}
	if a.Line.Category != "" && !a.Line.PermanentLink {
		recorded += s.cordsM()
	}
	off := math.Abs(recorded - a.LengthM)
	if off <= max(3, 0.1*a.LengthM) {
		return nil
	}
	f := past(recorded, a.LengthM, "m", standards.Source{Document: "ANSI/TIA-1152-A (length is measured to about a tenth)", Memory: true})
	f.Sure = Certain
	f.Text = fmt.Sprintf("the record has %s, and its test measured %s", quantity(recorded, "m"), quantity(a.LengthM, "m"))
	f.Mend = "record the measured length; where it is far off, make sure that the test is this run's"
	return found(f)
}

func testedTooEarly(s *subject) []Finding {
	return wrongOrder(s.run.TestedOn, "tested", s.run.InstalledOn, "installed")
}

func warrantyBeforeStart(s *subject) []Finding {
	return wrongOrder(s.run.WarrantyUntil, "under warranty until", s.run.InstalledOn, "installed")
}

// wrongOrder is a finding where what must come later came before.
func wrongOrder(later time.Time, what string, earlier time.Time, first string) []Finding {
	if later.IsZero() || earlier.IsZero() || !later.Before(earlier) {
		return nil
	}
	days := int(earlier.Sub(later).Hours() / 24)
	return found(Finding{
		Text: fmt.Sprintf("%s %s, before it was %s %s", what, later.Format(time.DateOnly), first, earlier.Format(time.DateOnly)),
		By:   daysOf(days), Source: ownDates,
		Mend: "look up both dates and put the wrong one right; a test from before the installation is of another cable",
	})
}

func daysOf(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}
