package standards

import (
	"math"
	"slices"
)

// Longest lengths of balanced cabling in metres, but for Category 8
// (ISO/IEC 11801-1 and ANSI/TIA-568.2-D; channel and link also TIA TSB-67).
const (
	LongestLinkM    = 90.0  // permanent link
	LongestChannelM = 100.0 // with its cords
	LongestCordsM   = 10.0  // all cords of a channel, beside the longest link
)

// Lengths of Category 8 in metres (ANSI/TIA-568.2-D). They bound what only
// Category 8 carries; what Category 6A carries reaches as far over it.
const (
	longestLink8M    = 24.0
	longestChannel8M = 30.0
)

// LongestLinkOf is the longest permanent link of a category, in metres: 24 for
// Category 8, 90 for the others and where it is not known.
func LongestLinkOf(c Category) float64 {
	if c == Cat8 {
		return longestLink8M
	}
	return LongestLinkM
}

// LongestChannelOf is the longest channel of a category, in metres: 30 for
// Category 8, 100 for the others and where it is not known.
func LongestChannelOf(c Category) float64 {
	if c == Cat8 {
		return longestChannel8M
	}
	return LongestChannelM
}

// asRecorded takes from a sum of recorded lengths, in metres, the binary
// fraction that could carry it past a limit or show in its text.
func asRecorded(m float64) float64 { return math.Round(m*1e6) / 1e6 }

// CordLimit is how long the cords beside a fixed cable may be.
type CordLimit struct {
	CombinedM float64 // all cords of the channel
	WorkAreaM float64 // those at the outlet, the room's at their most
	Source    Source
}

// gauge is a cord's conductor in the cord formula C = (102 - H)/(1 + D),
// W = C - T, with H the fixed cable and all lengths in metres.
type gauge struct {
	awg     int
	derated float64 // D: by how much more a metre of cord loses
	roomM   float64 // T: cords in the telecommunications room
	printed []cordRow
}

type cordRow struct{ horizontalM, combinedM float64 }

// gauges: ANSI/TIA-568.0-D and its table of cord lengths by fixed cable
// (memory, but for D and T of 24 AWG). The printed rows are whole metres,
// rounded now up and now down. They end where W reaches its most: 22 m for
// 24 AWG, where ISO/IEC 11801-1 stops at 20 m, and 17 m for 26 AWG.
var gauges = []gauge{
	{24, 0.2, 5, []cordRow{{70, 27}, {75, 22}, {80, 18}, {85, 14}, {90, 10}}},
	{26, 0.5, 4, []cordRow{{70, 21}, {75, 18}, {80, 15}, {85, 11}, {90, 8}}},
}

var cordSource = Source{"ANSI/TIA-568.0-D, cord lengths by fixed cable", true}

// Cords tells how long the cords of 24 or 26 AWG may be beside a fixed cable of
// so many metres. The printed value rules at a printed length; between two the
// formula holds, kept within the values printed on both sides. It reports false
// for other gauges, and beyond 90 m of fixed cable, where no cord keeps the
// channel.
func Cords(horizontalM float64, awg int) (CordLimit, bool) {
	if !(horizontalM > 0 && horizontalM <= LongestLinkM) {
		return CordLimit{}, false
	}
	for _, g := range gauges {
		if g.awg == awg {
			combined := g.combined(horizontalM)
			return CordLimit{combined, combined - g.roomM, cordSource}, true
		}
	}
	return CordLimit{}, false
}

// CordRise is by which share a metre of cord of 24 or 26 AWG loses more than a
// metre of fixed cable, D of the cord formula (ANSI/TIA-568.0-D, ISO/IEC
// 11801-1: 20 and 50 %); false for other gauges.
func CordRise(awg int) (share float64, ok bool) {
	for i := range gauges {
		if gauges[i].awg == awg {
			return gauges[i].derated, true
		}
	}
	return 0, false
}

// combined is C for a fixed cable no longer than the last printed row's.
func (g gauge) combined(horizontalM float64) float64 {
	i := slices.IndexFunc(g.printed, func(row cordRow) bool { return horizontalM <= row.horizontalM })
	row := g.printed[i]
	if i == 0 || horizontalM == row.horizontalM {
		return row.combinedM
	}
	formula := (102 - horizontalM) / (1 + g.derated)
	return min(max(formula, row.combinedM), g.printed[i-1].combinedM)
}

// heatRow is the longest permanent link at a temperature.
type heatRow struct{ celsius, unscreenedM, screenedM float64 }

// heatRows: ANSI/TIA-568.2-D's annex on temperature (memory): permanent links in
// metres with 10 m of cords at 20 °C. Dividing 90 m by the rise of insertion loss
// does not give the table (83.3 m at 40 °C for its 84.0); the table rules.
var heatRows = []heatRow{
	{20, 90, 90}, {25, 89, 89.5}, {30, 87, 88.5}, {35, 85.5, 87.7}, {40, 84, 87},
	{45, 81.7, 86.5}, {50, 79.5, 85.5}, {55, 77.2, 84.7}, {60, 75, 83},
}

var heatSource = Source{"ANSI/TIA-568.2-D, permanent link length by temperature", true}

// LongestLinkAt is the longest permanent link, in metres, whose cable is as
// warm as this: linear between the printed temperatures, 90 m from 20 °C down.
// It reports false above 60 °C, the highest that cable is rated for.
func LongestLinkAt(celsius float64, screened bool) (float64, Source, bool) {
	last := heatRows[0]
	if celsius <= last.celsius {
		return last.metres(screened), heatSource, true
	}
	for _, row := range heatRows[1:] {
		if celsius <= row.celsius {
			share := (celsius - last.celsius) / (row.celsius - last.celsius)
			return last.metres(screened) + share*(row.metres(screened)-last.metres(screened)), heatSource, true
		}
		last = row
	}
	return 0, Source{}, false
}

func (r heatRow) metres(screened bool) float64 {
	if screened {
		return r.screenedM
	}
	return r.unscreenedM
}

// WarmLoss is the factor, 1 or more, by which a cable's insertion loss at 20 °C
// grows with heat (ANSI/TIA-568.2-D): unscreened 0.4 % for each °C to 40 °C and
// 0.6 % from there (memory), screened 0.2 % and Category 3 1.5 % (memory). Above
// 60 °C it goes on so. What is not recorded counts as unscreened, and heat that
// is not known as none.
func WarmLoss(c Category, s Shield, celsius float64) float64 {
	if !(celsius > 20) {
		return 1
	}
	warm, hot := celsius-20, max(celsius-40, 0)
	switch {
	case c == Cat3:
		return 1 + 0.015*warm
	case s.Screened():
		return 1 + 0.002*warm
	}
	return 1 + 0.004*warm + 0.002*hot
}

// TypicalNVP is the velocity of four-pair cable against light's where its own is
// not stated: the middle of 0.65 to 0.72 (memory).
const TypicalNVP = 0.69

// lightMPerNS is the speed of light in metres in a nanosecond.
const lightMPerNS = 0.299792458

// PropagationDelay is how many nanoseconds a signal takes along a cable. nvp is
// the velocity against that of light in a vacuum, above 0 and up to 1; the delay
// is NaN for any other, and for a length below 0.
func PropagationDelay(lengthM, nvp float64) (ns float64) {
	if !(nvp > 0 && nvp <= 1 && lengthM >= 0) {
		return math.NaN()
	}
	return lengthM / (nvp * lightMPerNS)
}
