package standards

import (
	"fmt"
	"math"
	"strings"
)

// pairing is what two unlike PHYs are to each other.
type pairing struct {
	verdict Verdict
	why     string
	source  Source
}

// pairings are the pairs of unlike optics that may work together, the names in
// alphabetical order. The clauses are memory.
var pairings = map[[2]string]pairing{
	{"1000BASE-LX", "1000BASE-LX10"}: {Allowed, "", Source{"IEEE 802.3 clause 59", true}},
	{"100GBASE-DR", "100GBASE-FR1"}:  {Depends, "they work together over a channel that 100GBASE-DR allows, 500 m and 3.0 dB", Source{"IEEE 802.3 clause 140", true}},
	{"100GBASE-DR", "100GBASE-LR1"}:  {Depends, "they work together over a channel that 100GBASE-DR allows, 500 m and 3.0 dB", Source{"IEEE 802.3 clause 140", true}},
	{"100GBASE-FR1", "100GBASE-LR1"}: {Depends, "they work together over a channel that 100GBASE-FR1 allows, 2 km and 4.0 dB", Source{"IEEE 802.3 clause 140", true}},
	{"100GBASE-ER4", "100GBASE-LR4"}: {Depends, "they work together over a channel that 100GBASE-LR4 allows, 10 km and 6.3 dB", Source{"IEEE 802.3 clause 88", true}},
	{"25GBASE-ER", "25GBASE-LR"}:     {Depends, "25GBASE-ER takes 1295 to 1310 nm, and 25GBASE-LR may send up to 1325 nm", Source{"IEEE 802.3 clause 114", true}},
	{"10GBASE-ER", "10GBASE-LR"}:     {Depends, "they send at 1550 and 1310 nm; each receiver is specified for its own band, though most take both (common practice)", Source{"IEEE 802.3 clause 52", false}},
	{"10GBASE-SR", "40GBASE-SR4"}:    {Depends, breakout, practice},
	{"100GBASE-SR4", "25GBASE-SR"}:   {Depends, breakout, practice},
}

const breakout = "they work together only where one lane of four is broken out (common practice)"

var practice = Source{Document: "common practice"}

// OpticsAgree judges whether the optics at the two ends of a run may work
// together, whatever lies between.
func OpticsAgree(near, far Optic) Judgement {
	switch {
	case near.PHY == "":
		return Judgement{Why: "optic is not known"}
	case far.PHY == "":
		return Judgement{Why: "far_optic is not known"}
	case withoutSide(near.PHY) == withoutSide(far.PHY):
		return alike(near, far)
	}
	key := [2]string{min(near.PHY, far.PHY), max(near.PHY, far.PHY)}
	if pair, ok := pairings[key]; ok {
		j := Judgement{Verdict: pair.verdict, Why: pair.why, Source: pair.source}
		return gravest(j, tooBright(near, far), tooBright(far, near))
	}
	return unlike(near, far)
}

// alike judges two optics of one PHY: on a single fibre each end must take what
// the other sends.
func alike(near, far Optic) Judgement {
	j := Judgement{Verdict: Allowed, Source: near.Source}
	switch {
	case near.Strands != 1:
	case near.PHY == withoutSide(near.PHY) || far.PHY == withoutSide(far.PHY):
		j.Verdict, j.Why = Depends, "one end must be "+withoutSide(near.PHY)+"-D and the other -U"
	case near.PHY == far.PHY:
		j.Verdict = NotAllowed
		j.Why = fmt.Sprintf("both ends send at %.0f nm and take %.0f nm: one end must be -D and the other -U", near.SendsNM[0], near.TakesNM[0])
	}
	return j
}

// tooBright judges whether a sender may overload the other's receiver where
// nothing lies between.
func tooBright(from, to Optic) Judgement {
	j := Judgement{Verdict: Allowed, Source: to.Source}
	if over := from.SendMost - to.TakeMost; over > rounding {
		j.Verdict, j.Have, j.Limit, j.Unit = Depends, from.SendMost, to.TakeMost, "dBm"
		j.Why = fmt.Sprintf("%s needs at least %.1f dB of loss before %s", from.PHY, over, to.PHY)
		if to.DamageKnown && from.SendMost > to.Damage {
			j.Why += fmt.Sprintf(", which %.1f dBm may damage", to.Damage)
		}
	}
	return j
}

// unlike says why two optics that nothing pairs do not work together.
func unlike(near, far Optic) Judgement {
	why := differences(near, far)
	if len(why) == 0 {
		return Judgement{Verdict: Depends, Source: practice,
			Why: fmt.Sprintf("no standard says that %s and %s work together", near.PHY, far.PHY)}
	}
	return Judgement{Verdict: NotAllowed, Source: near.Source,
		Why: fmt.Sprintf("%s and %s do not work together: %s", near.PHY, far.PHY, strings.Join(why, "; "))}
}

// differences are in words what keeps two optics from working together.
func differences(near, far Optic) (why []string) {
	add := func(differs bool, format string, args ...any) {
		if differs {
			why = append(why, fmt.Sprintf(format, args...))
		}
	}
	a, _ := PHYNamed(near.PHY)
	b, _ := PHYNamed(far.PHY)
	add(a.Speed != b.Speed, "one runs at %v, the other at %v", a.Speed, b.Speed)
	for _, pair := range [][2]Optic{{near, far}, {far, near}} {
		sends, takes := pair[0].SendsBandNM, pair[1].TakesBandNM
		add(apart(sends, takes), "%s sends at %g to %g nm, and %s takes %g to %g nm",
			pair[0].PHY, sends[0], sends[1], pair[1].PHY, takes[0], takes[1])
	}
	add(near.SingleMode != far.SingleMode, "one is for %s, the other for %s", modeText(near), modeText(far))
	add(near.Strands != far.Strands, "they use %d and %d strands", near.Strands, far.Strands)
	add(near.lanes() != far.lanes(), "they send %d and %d lanes", near.lanes(), far.lanes())
	return why
}

// apart tells whether two bands of wavelengths have nothing in common.
func apart(a, b [2]float64) bool { return math.Max(a[0], b[0]) > math.Min(a[1], b[1]) }

func modeText(o Optic) string {
	if o.SingleMode {
		return "single mode"
	}
	return "multimode"
}
