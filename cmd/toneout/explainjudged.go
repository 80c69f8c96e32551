package main

import (
	"fmt"
	"strings"

	"toneout/internal/web"
)

// explainJudged tells what record, test and standards say of a run.
func explainJudged(b *strings.Builder, v *web.RunDetail) {
	if len(v.Findings) > 0 {
		b.WriteString("\nWhat the record breaks\n")
		for i := range v.Findings {
			f := &v.Findings[i]
			fmt.Fprintf(b, "    - %s: %s\n", f.Endangers, findingWords(f))
			fmt.Fprintf(b, "      %s\n", groundWords(f))
			if f.Mend != "" {
				fmt.Fprintf(b, "      to mend: %s\n", oneLine(f.Mend))
			}
		}
	}
	if v.Expected != nil {
		explainExpected(b, v.Expected)
	}
	if r := v.Readiness; r != nil && r.Speed != "" {
		fmt.Fprintf(b, "\nReady for %s: %s\n", r.Speed, r.Answer)
		for _, why := range append(r.Because, r.Also...) {
			fmt.Fprintf(b, "    - %s\n", oneLine(why))
		}
	}
	if v.Acceptance != nil {
		explainTest(b, v.Acceptance)
	}
}

func explainExpected(b *strings.Builder, e *web.Expectation) {
	b.WriteString("\nWhat it may carry\n")
	for _, s := range e.Speeds {
		fmt.Fprintf(b, "    %-5s %s\n", s.Speed, speedWords(&s))
	}
	for _, limit := range e.LimitedBy {
		fmt.Fprintf(b, "    - %s\n", limit)
	}
	if len(e.Missing) > 0 {
		fmt.Fprintf(b, "    - more could be said if the record held %s\n", strings.Join(e.Missing, ", "))
	}
}

// speedWords tells a verdict with its PHY, reason and source.
func speedWords(s *web.SpeedVerdict) string {
	words, why := s.Verdict, oneLine(s.Reason())
	if s.PHY != "" && !strings.Contains(why, s.PHY) {
		words += " (" + s.PHY + ")"
	}
	if why != "" {
		words += ": " + why
	}
	if s.Source != "" {
		words += "; " + s.Origin()
	}
	return words
}

func explainTest(b *strings.Builder, a *web.Acceptance) {
	fmt.Fprintf(b, "\nAcceptance test\n    %s\n", oneLine(a.Summary))
	for _, m := range a.ByParameter {
		fmt.Fprintf(b, "    - %s: %s\n", m.Result, m.Words())
	}
	if w := a.WireMap; w != nil && !w.Right {
		for _, c := range w.Conductors {
			found := c.Found
			if found == "" {
				found = "open"
			}
			if c.Shorted != "" {
				found += ", shorted to " + c.Shorted
			}
			fmt.Fprintf(b, "    pin %s, expected %s, found %s\n", c.Pin, c.Expected, found)
		}
	}
}
