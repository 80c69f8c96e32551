package fault

import (
	"testing"

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

// A percentage that wavers at the border between two tenths is not told anew each time.
func TestATellingHoldsStill(t *testing.T) {
	var was *Fault
	said := ""
	for _, c := range []struct {
		cause Cause
		p     float64
		want  string
	}{
		{BadCord, 0.66, "about 70 %"}, {BadCord, 0.64, "about 70 %"}, {BadCord, 0.77, "about 70 %"}, {BadCord, 0.61, "about 60 %"},
		{BadCord, 0.66, "about 60 %"}, {LoosePlug, 0.66, "about 70 %"}, {LoosePlug, 1, "over 90 %"}, {LoosePlug, 0.93, "over 90 %"},
	} {
		f := &Fault{Kind: FrameErrors, Causes: []CauseProbability{{c.cause, c.p}}, Checks: []string{"Look."}}
		f.holdRough(was)
		was, said = f, f.Telling().Verdict
		require.Contains(t, said, c.want)
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
