package plant

import (
	"fmt"
	"slices"
	"strings"

	"toneout/internal/standards"
)

// Why tells a person in a sentence whether the run may carry a speed, and by
// what; "" for a speed that is not nominal.
func (e Expected) Why(speed standards.Speed) string {
	c, ok := e.At(speed)
	if !ok {
		return ""
	}
	text := c.Speed.String() + ": " + c.Verdict.String()
	switch {
	case c.Verdict == standards.Allowed:
		text += ", " + c.ground(e)
	case c.PHY != "" && !strings.Contains(c.Why, c.PHY):
		text += ", " + c.PHY + ": " + c.Why
	default:
		text += ": " + c.Why
	}
	if doc := c.Source.Document; doc != "" && !strings.Contains(c.Why, doc) {
		text += "; by " + c.Source.Document
	}
	return text + "."
}

// ground is what the judgement stands on, e.g. "10GBASE-T over category 6A,
// 62 m of at most 100 m".
func (c Carried) ground(e Expected) string {
	text := c.PHY
	switch {
	case e.Medium == standards.Copper && e.Channel.Category != "":
		text += " over category " + string(e.Channel.Category)
	case e.Medium == standards.Fibre && len(e.Path.Parts) > 0:
		text += " over " + and(e.fibres())
	case e.Medium != "":
		text += " over " + string(e.Medium)
	}
	if c.Unit == "" || c.Have > c.Limit {
		return text // a limit that is passed speaks for nothing: its condition tells of it
	}
	return fmt.Sprintf("%s, %s of at most %s", text, quantity(c.Have, c.Unit), quantity(c.Limit, c.Unit))
}

// fibres are the kinds of fibre along a run, cords included, each once.
func (e Expected) fibres() (names []string) {
	for i := range e.Path.Parts {
		if name := e.Path.Parts[i].Fibre.String(); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}
