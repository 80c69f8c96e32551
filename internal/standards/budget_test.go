package standards

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// pathOf is a path of grades and lengths in turn.
func pathOf(t testing.TB, connectors, splices int, parts ...any) FibrePath {
	path := FibrePath{Connectors: connectors, Splices: splices}
	for i := 0; i < len(parts); i += 2 {
		path.Parts = append(path.Parts, FibrePart{media(t, parts[i].(string)), parts[i+1].(float64)})
	}
	return path
}

func optic(t testing.TB, phy string) Optic {
	o, ok := OpticNamed(phy)
	require.True(t, ok, phy)
	return o
}

func phyOf(t testing.TB, name string) PHY {
	p, ok := PHYNamed(name)
	require.True(t, ok, name)
	return p
}

// ANSI/TIA-568: 0.75 dB a mated pair, 0.3 dB a splice at most, length times
// coefficient. The least: common practice, no source.
//
// By hand, 6000 m of OS2 at 1310 nm, 2 connectors and 3 splices: most
// 6 × 0.4 + 2 × 0.75 + 3 × 0.3 = 2.4 + 1.5 + 0.9 = 4.8 dB; least
// 6 × 0.32 + 2 × 0.2 + 3 × 0.1 = 1.92 + 0.4 + 0.3 = 2.62 dB. 10GBASE-LR sends
// -8.2 to 0.5 dBm: -13.0 to -2.12 arrive, 1.4 dB above -14.4.
func TestLossByHand(t *testing.T) {
	path := pathOf(t, 2, 3, "OS2", 5990.0, "OS2", 10.0)
	loss, ok := path.Loss(1310, false)
	require.True(t, ok)
	require.InDelta(t, 4.8, loss.Most, 1e-9)
	require.InDelta(t, 2.62, loss.Least, 1e-9)
	require.Zero(t, loss.Mismatch)

	lr := optic(t, "10GBASE-LR")
	a, ok := Arriving(path, lr, lr, true)
	require.True(t, ok)
	require.InDelta(t, -13.0, a.Least, 1e-9)
	require.InDelta(t, -2.12, a.Most, 1e-9)
	require.InDelta(t, 1.4, a.Margin, 1e-9)
	require.Zero(t, a.Pad)
	require.Equal(t, Allowed, a.Verdict)
	require.Equal(t, Allowed, phyOf(t, "10GBASE-LR").OverFibre(path).Verdict)
}

// The channel insertion losses of IEEE 802.3 are themselves cable at the most
// plus connections, so the longest channel of each loses what is printed.
func TestLossOfTheLongestChannelIsThePublishedOne(t *testing.T) {
	rows := []struct {
		phy, fibre string
		metres, nm float64
		allocation float64 // dB of connections and splices in it
	}{
		{"10GBASE-SR", "OM3", 300, 850, 1.5},      // clause 52
		{"10GBASE-SR", "OM4", 400, 850, 1.5},      // clause 52, printed
		{"40GBASE-SR4", "OM4", 150, 850, 1.0},     // clause 86, printed
		{"25GBASE-SR", "OM3", 70, 850, 1.5},       // clause 112
		{"10GBASE-LRM", "OM3", 220, 1300, 1.5},    // clause 68
		{"1000BASE-LX", "OM2", 550, 1310, 1.5},    // clause 38
		{"100GBASE-FR1", "OS1a", 1000, 1310, 3.0}, // clause 140, printed
	}
	for _, row := range rows {
		p := phyOf(t, row.phy)
		reach, ok := p.FibreReach(fibre(t, row.fibre))
		require.True(t, ok)
		loss, ok := pathOf(t, 0, 0, row.fibre, row.metres).Loss(row.nm, false)
		require.True(t, ok)
		require.InDelta(t, reach.LossDB, loss.Most+row.allocation, 0.1, row.phy)
		require.LessOrEqual(t, loss.Most+row.allocation, reach.LossDB+0.025+rounding, row.phy) // SR4: 1.525 printed as 1.5
	}
}

// 20·log10 of cores and apertures (formula: memory), only from large to small.
// Worst case 62.5 to 50 µm is printed as 4.7 dB; multimode to single mode as 17
// to 20 dB; the practical ranges are a TIA table's.
func TestMismatchByDirection(t *testing.T) {
	rows := []struct {
		from, to    FibreType
		least, most float64
	}{
		{fibre(t, "OM1"), fibre(t, "OM3"), 0.9, 4.704}, // 1.938 by core, 2.766 by aperture
		{fibre(t, "OM3"), fibre(t, "OM1"), 0, 0},
		{fibre(t, "OM2"), fibre(t, "OM4"), 0, 0},
		{FibreType{}, fibre(t, "OM4"), 0, 0},
		{core(t, 85), core(t, 50), 3.0, 6.888},
		{core(t, 85), core(t, 62.5), 0.9, 2.671},
		{core(t, 100), core(t, 50), 4.7, 9.248}, // printed practical: up to 9.0
		{core(t, 100), core(t, 62.5), 2.1, 4.544},
		{core(t, 100), core(t, 85), 0.9, 2.360},
		{fibre(t, "OM4"), fibre(t, "OS2"), 17, 20},     // by the formula 18.0
		{fibre(t, "OM1"), fibre(t, "OS2"), 17, 22.696}, // by the formula
		{fibre(t, "OS2"), fibre(t, "OM4"), 0, 0},
	}
	for _, row := range rows {
		least, most := mismatch(row.from, row.to)
		require.InDelta(t, row.least, least, 1e-9, "%v to %v", row.from, row.to)
		require.InDelta(t, row.most, most, 0.005, "%v to %v", row.from, row.to)
	}
	require.InDelta(t, 1.94, ratioLoss(62.5, 50), 0.005)
	require.InDelta(t, 2.77, ratioLoss(0.275, 0.20), 0.005)
	require.InDelta(t, 18.0, ratioLoss(50, 9)+ratioLoss(0.20, 0.14), 0.05)
	require.InDelta(t, 22.7, ratioLoss(62.5, 9)+ratioLoss(0.275, 0.14), 0.05)
}

func core(t testing.TB, um float64) FibreType {
	f, ok := FibreOfCore(um, 500)
	require.True(t, ok)
	return f
}

func TestMismatchAlongAPath(t *testing.T) {
	path := pathOf(t, 0, 0, "OM1", 100.0, "OM3", 100.0)
	out, ok := path.Loss(850, false)
	require.True(t, ok)
	back, ok := path.Loss(850, true)
	require.True(t, ok)
	require.InDelta(t, 4.704, out.Mismatch, 0.001)
	require.Zero(t, back.Mismatch)
	require.InDelta(t, 0.7, back.Most, 1e-9) // 0.2 km × 3.5
	require.InDelta(t, 0.7+4.704, out.Most, 0.001)

	j := phyOf(t, "1000BASE-SX").OverFibre(path)
	require.Equal(t, Depends, j.Verdict)
	require.Contains(t, j.Why, "the path may lose up to 5.40 dB, up to 4.7 dB of it where unlike fibres meet")
	require.InDelta(t, 2.60, j.Limit, 1e-9) // the worse fibre's

	there := pathOf(t, 2, 0, "OM2", 100.0, "OS2", 100.0)
	j = phyOf(t, "1000BASE-LX").OverFibre(there)
	require.Equal(t, NotAllowed, j.Verdict)
	require.Contains(t, j.Why, "up to 20.0 dB of it where unlike fibres meet")
}

// IEEE 802.3 clause 52: 10GBASE-ER sends up to 4.0 dBm and takes -1.0, so at
// least 5 dB must lie between: what a short run does not lose is to be added.
func TestALongReachOpticOnAShortRun(t *testing.T) {
	er := optic(t, "10GBASE-ER")
	bare := pathOf(t, 0, 0, "OS2", 2.0)
	a, ok := Arriving(bare, er, er, false)
	require.True(t, ok)
	require.InDelta(t, 5.0, a.Pad, 0.001)
	require.InDelta(t, 5.0, a.Pad+a.Loss.Least, 1e-9)
	require.Equal(t, Depends, a.Verdict)
	require.Equal(t, "dBm", a.Unit)
	require.Equal(t, -1.0, a.Limit)

	// 500 m, 2 connectors: 0.5 × 0.18 + 2 × 0.2 = 0.49 dB, so 4.51 are to be added.
	j := phyOf(t, "10GBASE-ER").OverFibre(pathOf(t, 2, 0, "OS2", 500.0))
	require.Equal(t, Depends, j.Verdict)
	require.Contains(t, j.Why, "up to 3.5 dBm of 10GBASE-ER may overload the receiver of 10GBASE-ER, which takes -1.0 dBm: add at least 4.6 dB")

	lr := optic(t, "10GBASE-LR") // damaged at 1.5 dBm
	a, ok = Arriving(bare, er, lr, false)
	require.True(t, ok)
	require.Equal(t, NotAllowed, a.Verdict)
	require.Contains(t, a.Why, "may damage the receiver of 10GBASE-LR, which bears 1.5 dBm: add at least 3.5 dB")
	a, ok = Arriving(bare, lr, er, false)
	require.True(t, ok)
	require.InDelta(t, 1.5, a.Pad, 0.001)
	require.Equal(t, Depends, a.Verdict)
}

// By hand, 250 m of OM4 and two cords of 3 m, 4 connectors and 2 splices: most
// 0.256 × 3.5 + 4 × 0.75 + 2 × 0.3 = 4.496 dB, more than the 2.9 of 10GBASE-SR;
// least 0.256 × 2.2 + 4 × 0.2 + 2 × 0.1 = 1.5632. A run of 8 connectors and 6
// splices loses at least 0.5632 + 1.6 + 0.6 = 2.7632, one of 9 connectors 2.9632.
func TestLossOverTheChannelLimit(t *testing.T) {
	sr := phyOf(t, "10GBASE-SR")
	j := sr.OverFibre(pathOf(t, 4, 2, "OM4", 3.0, "OM4", 250.0, "OM4", 3.0))
	require.Equal(t, Depends, j.Verdict)
	require.Equal(t, "10GBASE-SR allows 2.90 dB, and the path may lose up to 4.50 dB: measure the loss", j.Why)
	require.InDelta(t, 4.496, j.Have, 1e-9)
	require.Equal(t, 2.9, j.Limit)
	require.Equal(t, "dB", j.Unit)

	require.Equal(t, Depends, sr.OverFibre(pathOf(t, 8, 6, "OM4", 256.0)).Verdict)
	j = sr.OverFibre(pathOf(t, 9, 6, "OM4", 256.0))
	require.Equal(t, NotAllowed, j.Verdict)
	require.Equal(t, "10GBASE-SR allows 2.90 dB, and even good cable and connections lose 2.96 dB", j.Why)
}

// The levels of 10GBASE-SR were written for 2.6 dB; over OM4 2.9 dB are allowed,
// at which 0.3 dB less arrives than the least average power, which only informs.
func TestLossWithinTheChannelLimitIsEnough(t *testing.T) {
	sr := optic(t, "10GBASE-SR")
	path := pathOf(t, 2, 0, "OM4", 400.0) // 1.4 + 1.5 = 2.9 dB
	a, ok := Arriving(path, sr, sr, false)
	require.True(t, ok)
	require.InDelta(t, -0.3, a.Margin, 1e-9)
	require.Equal(t, Allowed, a.Verdict)
	require.Equal(t, Allowed, phyOf(t, "10GBASE-SR").OverFibre(path).Verdict)

	path.Connectors = 12 // least 0.88 + 2.4 = 3.28, too much even at best
	a, _ = Arriving(path, sr, sr, false)
	require.Equal(t, NotAllowed, a.Verdict)
	path.Connectors = 4
	a, _ = Arriving(path, sr, sr, false)
	require.Equal(t, Depends, a.Verdict)
	require.Contains(t, a.Why, "only -11.7 dBm may arrive where all losses are at their most")
}

// IEEE 802.3 clause 26: 5.0 dB are lost where the source of 100BASE-FX meets 50
// µm (printed). Clause 38: 1000BASE-LX sends least -11.5 dBm into multimode
// (memory). A multimode optic into single mode: 17 to 20 dB printed, 6 to 10 dB
// by common practice.
func TestLightEnteringAnotherFibre(t *testing.T) {
	rows := []struct {
		phy, fibre  string
		least, most float64
	}{
		{"100BASE-FX", "OM1", 0, 0}, {"100BASE-FX", "OM2", 0, 5.0},
		{"1000BASE-LX", "OS2", 0, 0}, {"1000BASE-LX", "OM2", 0, 0.5},
		{"1000BASE-SX", "OM3", 0, 0}, {"10GBASE-LR", "OM3", 0, 0},
		{"10GBASE-LRM", "OS2", 6, 20},
	}
	for _, row := range rows {
		least, most := optic(t, row.phy).entering(fibre(t, row.fibre))
		require.Equal(t, []float64{row.least, row.most}, []float64{least, most}, "%s into %s", row.phy, row.fibre)
	}
	// -6.5 - 20 - 0.5 × 1.0 dBm of OS1, by hand; the receiver needs -8.4.
	lrm := optic(t, "10GBASE-LRM")
	a, ok := Arriving(pathOf(t, 0, 0, "OS1", 500.0), lrm, lrm, false)
	require.True(t, ok)
	require.InDelta(t, -27.0, a.Least, 1e-9)
	require.Equal(t, NotAllowed, a.Verdict)
}

// What good cable loses: common practice, no source.
func TestLeastAttenuation(t *testing.T) {
	rows := []struct {
		grade     string
		nm, least float64
	}{
		{"OM1", 850, 2.7}, {"OM1", 1300, 0.5}, {"OM2", 850, 2.2}, {"OM3", 850, 2.2}, {"OM3", 1300, 0.5},
		{"OM5", 850, 2.2}, {"OM5", 953, 1.6}, {"OS1", 1310, 0.32}, {"OS2", 1310, 0.32}, {"OS2", 1550, 0.18}, {"OS1a", 1550, 0.18},
	}
	for _, row := range rows {
		least, _, _, ok := fibre(t, row.grade).attenuation(row.nm)
		require.True(t, ok)
		require.Equal(t, row.least, least, "%s %v", row.grade, row.nm)
	}
}

func TestLossThatIsNotKnown(t *testing.T) {
	sr := optic(t, "10GBASE-SR")
	for name, path := range map[string]FibrePath{
		"no part":   {},
		"no length": pathOf(t, 2, 0, "OM3", 100.0, "OM3", 0.0),
		"no number": pathOf(t, 2, 0, "OM3", math.NaN()),
		"no fibre":  {Parts: []FibrePart{{FibreType{}, 100}}},
		"no window": pathOf(t, 2, 0, "OS2", 100.0),
		"odd core":  {Parts: []FibrePart{{core(t, 85), 100}}},
	} {
		_, ok := path.Loss(850, false)
		require.False(t, ok, name)
		_, ok = Arriving(path, sr, sr, false)
		require.False(t, ok, name)
	}
	good := pathOf(t, 2, 0, "OM3", 100.0)
	_, ok := Arriving(good, Optic{}, sr, false)
	require.False(t, ok)
	_, ok = Arriving(good, sr, Optic{}, false)
	require.False(t, ok)
}

// 1000 m at 1310 and 1490 nm without a side: least 0.18 (1490), most 0.4 dB. An
// optic of two windows over multimode takes its least of 1300 nm, its most of 850.
func TestLossOverAllThatAnOpticSends(t *testing.T) {
	loss, ok := optic(t, "1000BASE-BX10").lossOver(pathOf(t, 0, 0, "OS2", 1000.0), false)
	require.True(t, ok)
	require.InDelta(t, 0.18, loss.Least, 1e-9)
	require.InDelta(t, 0.4, loss.Most, 1e-9)
	for _, sends := range [][]float64{{850, 1300}, {1300, 850}} {
		loss, ok = Optic{PHY: "made", SendsNM: sends}.lossOver(pathOf(t, 0, 0, "OM3", 1000.0), true)
		require.True(t, ok)
		require.InDelta(t, 0.5, loss.Least, 1e-9)
		require.InDelta(t, 3.5, loss.Most, 1e-9)
	}
	_, ok = Optic{PHY: "made", SendsNM: []float64{850, 1550}}.lossOver(pathOf(t, 0, 0, "OM3", 1000.0), true)
	require.False(t, ok)
}
