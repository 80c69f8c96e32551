package web

import (
	"fmt"
	"path/filepath"
	"strconv"

	"toneout/internal/plant"
)

// judgedView is the part of a run's page that holds its record against the
// standards.
type judgedView struct {
	Breaks  *grid // nil where it breaks nothing
	Carries carriesView
	Test    *testView // nil where none is recorded
}

type carriesView struct {
	Speeds    *grid
	Figures   []recordRow
	Light     *grid // nil where not known
	Handling  *grid // nil without advice
	LimitedBy []string
	Missing   string
	Next      *Readiness
}

type testView struct {
	Test       *Acceptance
	Mark       marked
	Parameters *grid // nil without values
	Supports   *grid
	WireMap    *grid // nil where none was taken
	Counted    string
	Earlier    []string
}

// Class and Glyph are the mark of a result.
func (v *testView) Class() string { return v.Mark.class }
func (v *testView) Glyph() string { return v.Mark.mark }

func judgedOf(d *RunDetail) judgedView {
	v := judgedView{Carries: carriesOf(d.Expected), Test: testOf(d.Acceptance)}
	v.Carries.Next = d.Readiness
	if len(d.Findings) > 0 {
		v.Breaks = breaksGrid(d.Findings)
	}
	return v
}

func breaksGrid(findings []plant.Finding) *grid {
	g := newGrid("Findings of the audit, worst first", "Endangers", "What it breaks", "By how much", "Source, and how sure", "What would mend it")
	for i := range findings {
		f := &findings[i]
		g.add(plain(f.Endangers.Title()), findingCell(f), told(f.By), sourceCell(f), told(f.Mend))
	}
	return g
}

func findingCell(f *plant.Finding) cell {
	return cell{Text: clippedAt(f.Text, mostText), Notes: notEmpty(rowOf(f)), Code: string(f.Rule)}
}

// rowOf is where the row stands, "" where not known.
func rowOf(f *plant.Finding) string {
	if f.File == "" {
		return ""
	}
	return fmt.Sprintf("%s:%d", filepath.Base(f.File), f.Line)
}

func sourceCell(f *plant.Finding) cell {
	return cell{Text: f.Source, Notes: notEmpty(string(f.Sure))}
}

func notEmpty(texts ...string) (out []string) {
	for _, text := range texts {
		if text != "" {
			out = append(out, text)
		}
	}
	return out
}

func carriesOf(e *Expectation) carriesView {
	v := carriesView{Speeds: briefGrid("Each speed by the record and the standards", "Speed", "Verdict", "By which PHY", "Why", "Source"), LimitedBy: e.LimitedBy}
	for _, s := range e.Speeds {
		v.Speeds.add(plain(s.Speed), verdictMarks[s.Verdict].cell(s.Verdict), told(s.PHY), told(s.Reason()), told(s.Origin()))
	}
	v.Figures, v.Handling = figureRows(e), handlingGrid(e.Handling)
	if e.Light != nil {
		v.Light = lightGrid(e.Light)
	}
	for i, key := range e.Missing {
		if i > 0 {
			v.Missing += ", "
		}
		v.Missing += key
	}
	return v
}

// figureRows are the figures that the speeds were judged by.
func figureRows(e *Expectation) []recordRow {
	rows := []recordRow{row("Medium", e.Medium)}
	if ch := e.Channel; ch != nil {
		connectors := ""
		if ch.Connectors > 0 {
			connectors = strconv.Itoa(ch.Connectors)
		}
		rows = append(rows, row("Category of the channel", ch.Category), row("Screens", ch.Shield),
			row("Length of the channel", measure(ch.LengthM, "m")), row("Delay to be expected", delayWords(ch.DelayNS)), row("Connections", connectors))
	}
	if p := e.Path; p != nil {
		for i, part := range p.Parts {
			rows = append(rows, row(fmt.Sprintf("Fibre, part %d", i+1), joinWords(", ", part.Fibre, measure(part.LengthM, "m"))))
		}
		rows = append(rows, row("Connections", strconv.Itoa(p.Connectors)), row("Splices", strconv.Itoa(p.Splices)))
	}
	if l := e.Loss; l != nil {
		words := fmt.Sprintf("%s to %s at %s", measure(l.LeastDB, "dB"), measure(l.MostDB, "dB"), measure(l.WavelengthNM, "nm"))
		rows = append(rows, row("Loss to be expected", words), row("Loss by the record", measure(l.RecordedDB, "dB")))
	}
	return append(rows, row("Warmest pathway", measure(e.AmbientC, "°C")))
}

func lightGrid(ends *LightEnds) *grid {
	g := briefGrid("The light that each end ought to receive, in dBm", "End", "Expected", "Its optic takes", "Loss on the way", "Attenuator to add", "Verdict", "Source")
	for _, end := range []struct {
		name  string
		light *Light
	}{{"near", ends.Near}, {"far", ends.Far}} {
		if l := end.light; l != nil {
			verdict := verdictMarks[l.Verdict].cell(l.Verdict)
			verdict.Notes = notEmpty(l.Why)
			g.add(plain(end.name), plain(span(l.LeastDBm, l.MostDBm)), plain(span(l.TakesLeastDBm, l.TakesMostDBm)),
				plain(span(l.LossLeastDB, l.LossMostDB)+" dB"), told(measure(l.PadDB, "dB")), verdict, told(l.Source))
		}
	}
	return g
}

// span writes a range of which an end may not be known.
func span(least, most *float64) string {
	write := func(v *float64) string {
		if v == nil {
			return "not known"
		}
		return decimal(*v)
	}
	return write(least) + " to " + write(most)
}

func testOf(a *Acceptance) *testView {
	if a == nil {
		return nil
	}
	v := &testView{Test: a, Mark: resultMarks[a.Result]}
	v.Counted = capital(plural(a.Points, "value")) + " judged"
	if a.Waived > 0 {
		v.Counted += fmt.Sprintf("; %s waived by the standard, since the loss there is small", digits(a.Waived))
	}
	if len(a.ByParameter) > 0 {
		v.Parameters = briefGrid("The worst value of each parameter, worst first", "Parameter", "Result", "Pairs", "At", "Value", "Limit", "Margin", "Tester's accuracy")
		for _, m := range a.ByParameter {
			v.Parameters.add(m.cells()...)
		}
	}
	if len(a.Against) > 0 {
		v.Supports = briefGrid("What the values support", "Limit line", "Result", "Worst margin", "Not measured")
		for _, s := range a.Against {
			v.Supports.add(s.cells()...)
		}
	}
	if w := a.WireMap; w != nil && len(w.table) > 0 {
		v.WireMap = wireGrid(w)
	}
	for _, earlier := range a.Earlier {
		v.Earlier = append(v.Earlier, earlier.Summary)
	}
	return v
}

func (m *Measured) cells() []cell {
	value, accuracy := plain(measure(m.Value, m.Unit)), told(measure(m.Accuracy, m.Unit))
	if m.Derived {
		value.Notes = []string{"worked out from two values"}
	}
	if r := m.SignalToNoise; r != nil {
		value.Notes = append(value.Notes, "the signal is "+timesWords(*r)+" times the noise in power")
	}
	if m.AccuracyStated {
		accuracy.Notes = []string{"stated with the test"}
	}
	return []cell{plain(m.Parameter), resultMarks[m.Result].cell(m.Result), told(m.Pairs), told(m.at()), value,
		plain(measure(m.Limit, m.Unit)), plain(measure(m.Margin, m.Unit)), accuracy}
}

// at is the frequency or wavelength; "" for a value that has none.
func (m *Measured) at() string {
	return joinWords(", ", measure(m.FrequencyMHz, "MHz"), measure(m.WavelengthNM, "nm"))
}

func (s *Support) cells() []cell {
	worst := told("")
	if s.Worst != nil {
		worst = plain(joinWords(" ", measure(s.Worst.Margin, s.Worst.Unit), prefixed("in ", s.Worst.Parameter), prefixed("at ", s.Worst.at())))
	}
	missing := told("")
	if len(s.Missing) > 0 {
		missing = cell{Text: s.Missing[0], Notes: s.Missing[1:]}
	}
	return []cell{plain(s.Line), resultMarks[s.Result].cell(orWords(s.Result, "not judged")), worst, missing}
}

func wireGrid(w *WireMap) *grid {
	g := briefGrid("Wire map", "Conductor", "Pin expected", "Pin found")
	for _, r := range w.table {
		found := marked{"fits", "✓"}
		if r.Found != r.Expected {
			found = marked{"broken", "✗"}
		}
		g.add(plain(r.Conductor), plain(r.Expected), found.cell(r.Found))
	}
	return g
}
