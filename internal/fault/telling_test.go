package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestPercentClaimsNoCertainty(t *testing.T) {
	for p, want := range map[float64]string{0: "0 %", 0.001: "under 1 %", 0.55: "55 %", 0.996: "over 99 %", 1: "100 %"} {
		require.Equal(t, want, Percent(p))
	}
}

// What alerts say of a verdict is what its page says, in short.
func TestTelling(t *testing.T) {
	fibre := func(causes ...CauseProbability) *Fault {
		f := &Fault{Kind: FrameErrors, Medium: "fibre", Causes: causes}
		f.weighed = &Weighed{Of: ofFibre, Seen: items{lossOneWay}}
		f.advise(&judged{})
		return f
	}
	for _, c := range []struct {
		what string
		of   *Fault
		want Telling
	}{
		{"a cause leads", fibre(CauseProbability{DirtyConnector, 0.72}, CauseProbability{BentFibre, 0.28}), Telling{"Damaged frames", "Likeliest cause: a dirty connector (about 70 %).", "For it: too much is lost in one direction only.",
			checkWords[CleanConnectors].says, laser}},
		{"no certainty is claimed", fibre(CauseProbability{DirtyConnector, 0.999}), Telling{"Damaged frames", "Likeliest cause: a dirty connector (over 90 %).", "For it: too much is lost in one direction only.",
			checkWords[CleanConnectors].says, laser}},
		{"none stands out", fibre(CauseProbability{DirtyConnector, 0.29}, CauseProbability{BentFibre, 0.28}, CauseProbability{FailingTransmitter, 0.22}, CauseProbability{WrongFibre, 0.21}), Telling{"Damaged frames", "No cause stands out.",
			"Where it may lie: the fibre (50 %), a connector (30 %), the optic that sends (20 %). A switch sees the run only from end to end: swap a part, or test, to tell which.",
			checkWords[ReadOptics].says, laser}},
		{"made by hand", &Fault{Kind: NoLink, Causes: []CauseProbability{{RecordWrong, 0.6}}, Checks: []string{"Look."}},
			Telling{"No link", "Likeliest cause: the inventory is wrong (about 60 %).", "", "Look.", ""}},
	} {
		t.Run(c.what, func(t *testing.T) { require.Equal(t, c.want, c.of.Telling()) })
	}
}

// What wavers is not told anew with each poll, and another cause is told at once.
func TestATellingHoldsStill(t *testing.T) {
	began := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	was := &Fault{Kind: FrameErrors} // as a checkpoint keeps one
	for _, c := range []struct {
		minute int
		cause  Cause
		p      float64
		want   string
	}{
		{0, BadCord, 0.66, "Likeliest cause: a bad cord (about 70 %)."},
		{1, BadCord, 0.52, "Likeliest cause: a bad cord (about 70 %)."},
		{14, BadCord, 0.64, "Likeliest cause: a bad cord (about 70 %)."},
		{15, BadCord, 0.69, "Likeliest cause: a bad cord (about 70 %)."},
		{20, BadCord, 0.64, "Likeliest cause: a bad cord (about 60 %)."},
		{21, BadCord, 0.66, "Likeliest cause: a bad cord (about 60 %)."},
		{22, LoosePlug, 0.949, "Likeliest cause: a loose plug or worn jack (about 90 %)."},
		{23, LoosePlug, 0.29, "Likeliest cause: a loose plug or worn jack (about 90 %)."}, // near the border it wavers too
		{24, LoosePlug, 0.19, "No cause stands out."},
		{25, LoosePlug, 0.35, "No cause stands out."},
		{26, LoosePlug, 1, "Likeliest cause: a loose plug or worn jack (over 90 %)."},
	} {
		f := &Fault{Kind: FrameErrors, Causes: []CauseProbability{{c.cause, c.p}}, Checks: []string{"Look."}}
		f.holdTelling(was, began.Add(time.Duration(c.minute)*time.Minute))
		require.Equal(t, c.want, f.Telling().Verdict, c.minute)
		was = f
	}
}

// Whatever may hurt is ranked: an alert has room for one caution of its check.
func TestEveryCautionOfAnAlertIsRanked(t *testing.T) {
	for code, w := range checkWords {
		for _, c := range w.cautions {
			require.Contains(t, gravestFirst, c, code)
		}
	}
	require.Equal(t, plugging, ofCopper.gravest([]string{static, plugging, laser}), "no light on copper")
	require.Equal(t, laser, anyMaterial.gravest([]string{static, plugging, laser}), "what it is made of is not known")
	require.Empty(t, ofCopper.gravest(nil))
}
