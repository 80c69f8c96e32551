package plant

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Summary tells an acceptance test in a few plain sentences: the result, the worst
// margin and where, a faulty wire map, and what the values support.
func (a *Acceptance) Summary() string {
	sentences := []string{a.verdict()}
	if a.WireMap != nil && !a.WireMap.Right() {
		sentences = append(sentences, a.WireMap.Words())
	}
	if support := a.supports(); support != "" {
		sentences = append(sentences, support)
	}
	return strings.Join(sentences, " ")
}

func (a *Acceptance) verdict() string {
	test := "The acceptance test"
	if !a.TestedOn.IsZero() {
		test += " of " + a.TestedOn.Format(time.DateOnly)
	}
	if a.Result == "" {
		why := "it has no values"
		if len(a.Unjudged) > 0 {
			why = a.Unjudged[0]
		}
		return fmt.Sprintf("%s could not be judged: %s.", test, why)
	}
	text := test + " " + resultWords[a.Result]
	if a.Line.Category != "" {
		text += " against " + a.Line.String()
	}
	switch {
	case a.Worst == nil:
	case a.WireMap != nil && !a.WireMap.Right() && a.Worst.Margin > -rounding:
		text += " by its wire map; of the values, " + a.Worst.String()
	default:
		text += ": " + a.Worst.String()
	}
	return text + "."
}

var resultWords = map[TestResult]string{
	Pass:         "passes",
	PassMarginal: "passes (pass*, too near to call)",
	FailMarginal: "fails (fail*, too near to call)",
	Fail:         "fails",
}

// supports tells the best category that the values keep, or why none is named.
func (a *Acceptance) supports() string {
	if len(a.Against) == 0 || a.WireMap != nil && !a.WireMap.Right() {
		return "" // conductors at wrong pins keep nothing, whatever the values say
	}
	if a.Supports != "" {
		best := a.supportOf()
		text := fmt.Sprintf("The values support %s", best.Line)
		if best.Result == PassMarginal {
			text += ", within the tester's accuracy of its limits"
		}
		return text + "."
	}
	for _, s := range a.Against {
		if len(s.Missing) > 0 && s.Result != Fail && s.Result != FailMarginal {
			return fmt.Sprintf("Whether the run keeps %s cannot be said: %s.", s.Line, s.Missing[0])
		}
	}
	return fmt.Sprintf("The values do not keep %s.", a.Against[0].Line)
}

func (a *Acceptance) supportOf() Support {
	for _, s := range a.Against {
		if s.Line.Category == a.Supports {
			return s
		}
	}
	return Support{}
}

// String tells a measured value against its limit, e.g. "NEXT of 12-36 at 250 MHz is
// 0.4 dB beyond its limit of 35.3 dB, nearer than the tester's accuracy of 1.2 dB".
func (m Measured) String() string {
	text := string(m.Parameter)
	if m.Pairs != "" {
		text += " of " + m.Pairs
	}
	switch {
	case m.FrequencyMHz > 0:
		text += fmt.Sprintf(" at %s MHz", figure(m.FrequencyMHz))
	case m.WavelengthNM > 0:
		text += fmt.Sprintf(" at %s nm", figure(m.WavelengthNM))
	}
	side, by := "within", m.Margin
	if m.Margin <= -rounding {
		side, by = "beyond", -m.Margin
	}
	text += fmt.Sprintf(" is %.1f %s %s its limit of %.1f %s", by, m.Unit, side, m.Limit, m.Unit)
	if m.Result == PassMarginal || m.Result == FailMarginal {
		text += fmt.Sprintf(", nearer than the tester's accuracy of %.1f %s", m.Accuracy, m.Unit)
	}
	return text
}

// figure writes a number with no more digits than it has.
func figure(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
