package web

import (
	"fmt"
	"math"
	"strconv"

	"toneout/internal/standards"
)

// Handling is advice for whoever lays, dresses or terminates the cable; no
// verdict rests on it.
type Handling struct {
	What       string  `json:"what"`  // bend radius, pulling tension, untwist, separation
	Where      string  `json:"where"` // what or when it is for
	Bound      string  `json:"bound"` // at least, at most
	Value      float64 `json:"value"`
	Unit       string  `json:"unit"`
	Caution    string  `json:"caution,omitempty"` // where printed values differ
	Source     string  `json:"source"`
	FromMemory bool    `json:"from_memory,omitempty"`
}

func handlingOf(m standards.Medium, ch standards.CopperChannel) []Handling {
	out := []Handling{}
	for _, h := range standards.HandlingOf(m, ch.Category, ch.Shield) {
		bound := "at most"
		if h.AtLeast {
			bound = "at least"
		}
		out = append(out, Handling{string(h.What), h.Where, bound, h.Value, h.Unit, h.Caution, h.Source.Document, h.Source.Memory})
	}
	return out
}

// handlingGrid is nil where there is no advice, as for assemblies.
func handlingGrid(all []Handling) *grid {
	if len(all) == 0 {
		return nil
	}
	g := briefGrid("How its cable is to be handled; the maker's own figures and local rules come first", "What", "For", "Bound", "Source")
	for _, h := range all {
		bound := plain(fmt.Sprintf("%s %s %s", h.Bound, decimal(h.Value), h.Unit))
		bound.Notes = notEmpty(h.Caution)
		source := h.Source
		if h.FromMemory {
			source += " (from memory)"
		}
		g.add(plain(h.What), plain(h.Where), bound, plain(source))
	}
	return g
}

// delayOf is how long a signal ought to take along a channel, at the usual
// velocity, in ns; nil where the length is not known.
func delayOf(lengthM float64) *float64 {
	if lengthM <= 0 {
		return nil
	}
	return figure(standards.PropagationDelay(lengthM, standards.TypicalNVP))
}

func delayWords(ns *float64) string {
	if ns == nil {
		return ""
	}
	return fmt.Sprintf("%.0f ns at %s of the speed of light, the usual velocity", *ns, strconv.FormatFloat(standards.TypicalNVP, 'f', -1, 64))
}

// signalToNoise is how many times the signal's power is the noise's where a
// parameter tells it; nil for any other.
func signalToNoise(p standards.Parameter, db float64) *float64 {
	if p != standards.ACRN && p != standards.PSACRN {
		return nil
	}
	return figure(standards.SignalToNoise(db))
}

// timesWords writes a ratio without an exponent: to two places below 10.
func timesWords(ratio float64) string {
	if ratio < 10 {
		return strconv.FormatFloat(ratio, 'f', 2, 64)
	}
	return grouped(uint64(math.Round(min(ratio, 1e15))))
}
