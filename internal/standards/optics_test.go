package standards

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

const unknown = -99 // no damage level, no budget published

// levels are the optical levels of IEEE 802.3 in dBm, the clause beside each
// row. budget is the printed power budget in dB. Where amplitude says "OMA" the
// budget is one of modulation amplitude, and it is the channel insertion loss
// that lies between the least average power sent and the least taken.
var levels = []struct {
	phy, clause                string
	send0, send1, take0, take1 float64
	damage, budget             float64
	band0, band1               float64
	lanes, strands             int
	single, memory             bool
	amplitude                  string
}{
	{"100BASE-FX", "26", -20, -14, -31, -14, unknown, 11, 1270, 1380, 1, 2, false, true, ""},
	{"100BASE-LX10", "58", -15, -8, -25, -8, unknown, 10, 1260, 1360, 1, 2, true, false, ""},
	{"1000BASE-SX", "38", -9.5, 0, -17, 0, unknown, 7.5, 770, 860, 1, 2, false, false, ""}, // conflict: 7.0 in one print
	{"1000BASE-LX", "38", -11, -3, -19, -3, unknown, 8, 1270, 1355, 1, 2, true, false, ""},
	{"1000BASE-LX10", "59", -9, -3, -19.5, -3, unknown, 10.5, 1260, 1360, 1, 2, true, true, ""}, // budget 10 within the 0.5 dB of doubt
	{"10GBASE-SR", "52", -7.3, -1, -9.9, -1, unknown, 7.3, 840, 860, 1, 2, false, false, "OMA"},
	{"10GBASE-LR", "52", -8.2, 0.5, -14.4, 0.5, 1.5, 9.4, 1260, 1355, 1, 2, true, false, "OMA"},
	{"10GBASE-ER", "52", -4.7, 4, -15.8, -1, 4, 15, 1530, 1565, 1, 2, true, false, "OMA"},
	{"10GBASE-LRM", "68", -6.5, 0.5, -8.4, 0.5, 1.5, unknown, 1260, 1355, 1, 2, false, true, "OMA"},
	{"25GBASE-SR", "112", -8.4, 2.4, -10.3, 2.4, 3.4, unknown, 840, 860, 1, 2, false, true, "OMA"},
	{"25GBASE-LR", "114", -7, 2, -13.3, 2, 3, unknown, 1295, 1325, 1, 2, true, true, "OMA"},
	{"25GBASE-ER", "114", -3, 6, -21, -4, -3, unknown, 1295, 1310, 1, 2, true, true, "OMA"},
	{"40GBASE-SR4", "86", -7.6, 2.4, -9.5, 2.4, 3.4, 8.3, 840, 860, 4, 8, false, true, "OMA"},
	{"40GBASE-FR", "89", 0, 3, -4, 3, 4, unknown, 1530, 1565, 1, 2, true, true, "OMA"},
	{"40GBASE-LR4", "87", -7, 2.3, -13.7, 2.3, 3.3, unknown, 1264.5, 1337.5, 4, 2, true, true, "OMA"},
	{"100GBASE-SR10", "86", -7.6, 2.4, -9.5, 2.4, 3.4, 8.3, 840, 860, 10, 20, false, true, "OMA"},
	{"100GBASE-SR4", "95", -8.4, 2.4, -10.3, 2.4, 3.4, 8.2, 840, 860, 4, 8, false, true, "OMA"},
	{"100GBASE-LR4", "88", -4.3, 4.5, -10.6, 4.5, 5.5, 8.5, 1294.53, 1310.19, 4, 2, true, true, "OMA"},
	{"100GBASE-ER4", "88", -2.9, 2.9, -20.9, 4.5, 5.5, unknown, 1294.53, 1310.19, 4, 2, true, true, "OMA"},
	{"100GBASE-DR", "140", -2.9, 4, -5.9, 4, 5, 6.5, 1304.5, 1317.5, 1, 2, true, true, "OMA"},
	{"100GBASE-FR1", "140", -3.1, 4, -7.1, 4, 5, unknown, 1304.5, 1317.5, 1, 2, true, true, "OMA"},
	{"100GBASE-LR1", "140", -1.9, 4.8, -8.2, 4.8, 5.8, unknown, 1304.5, 1317.5, 1, 2, true, true, "OMA"},
	{"100BASE-BX10", "58", -14, -8, -28.2, -8, unknown, 14.2, 1260, 1580, 2, 1, true, true, ""},
	{"1000BASE-BX10", "59", -9, -3, -20, -3, unknown, 11, 1260, 1500, 2, 1, true, true, ""},
}

func TestOpticalLevels(t *testing.T) {
	told := map[string]bool{}
	for _, row := range levels {
		o, ok := OpticNamed(row.phy)
		require.True(t, ok, row.phy)
		require.Equal(t, []float64{row.send0, row.send1, row.take0, row.take1},
			[]float64{o.SendLeast, o.SendMost, o.TakeLeast, o.TakeMost}, row.phy)
		require.Equal(t, row.damage != unknown, o.DamageKnown, row.phy)
		if o.DamageKnown {
			require.Equal(t, row.damage, o.Damage, row.phy)
		}
		require.Equal(t, [2]float64{row.band0, row.band1}, o.SendsBandNM, row.phy)
		require.Equal(t, []int{row.lanes, row.strands}, []int{o.lanes(), o.Strands}, row.phy)
		require.Equal(t, row.single, o.SingleMode, row.phy)
		require.Equal(t, Source{"IEEE 802.3 clause " + row.clause, row.memory}, o.Source)
		told[row.phy] = true
	}
	for _, p := range FibrePHYs() {
		require.True(t, told[p.Name], "%s has no row in this table", p.Name)
	}
}

// The printed budget is what lies between the least sent and the least taken.
// With budgets of amplitude a channel insertion loss of the PHY lies between
// them, within the 0.1 dB to which 10GBASE-ER's average is rounded; 10GBASE-SR's
// is that over OM3, since its levels are older than OM4.
func TestBudgetsAgreeWithTheLevels(t *testing.T) {
	for _, row := range levels {
		o, _ := OpticNamed(row.phy)
		between := o.SendLeast - o.TakeLeast
		if row.amplitude == "" {
			require.InDelta(t, row.budget, between, 1e-9, row.phy)
			continue
		}
		nearest := math.Inf(1)
		for _, reach := range fibreReaches[row.phy] {
			nearest = min(nearest, math.Abs(reach.LossDB-between))
		}
		require.LessOrEqual(t, nearest, 0.1+1e-9, row.phy)
		if row.budget != unknown {
			require.Greater(t, row.budget, between, "%s: the amplitude's budget holds its penalties too", row.phy)
		}
	}
}

// Every wavelength lies in its band and is one that the fibre's table knows.
func TestWavelengthsLieInTheirBands(t *testing.T) {
	for name, o := range optics {
		require.Equal(t, name, o.PHY)
		require.Len(t, o.TakesNM, len(o.SendsNM), name)
		for i := range o.SendsNM {
			require.GreaterOrEqual(t, o.SendsNM[i], o.SendsBandNM[0], name)
			require.LessOrEqual(t, o.SendsNM[i], o.SendsBandNM[1], name)
			require.GreaterOrEqual(t, o.TakesNM[i], o.TakesBandNM[0], name)
			require.LessOrEqual(t, o.TakesNM[i], o.TakesBandNM[1], name)
		}
		require.Less(t, o.SendLeast, o.SendMost, name)
		require.Less(t, o.TakeLeast, o.TakeMost, name)
	}
}

// IEEE 802.3 clause 87 (lanes printed) and clause 88 (lanes printed).
func TestLanes(t *testing.T) {
	cwdm, _ := OpticNamed("40GBASE-LR4")
	require.Equal(t, []float64{1271, 1291, 1311, 1331}, cwdm.SendsNM)
	lan, _ := OpticNamed("100GBASE-LR4")
	require.Equal(t, []float64{1295.56, 1300.05, 1304.58, 1309.14}, lan.SendsNM)
}

// IEEE 802.3 clause 59: D sends 1480 to 1500 nm, U 1260 to 1360 nm (memory).
func TestSingleFibreOpticsSendWhatTheOtherTakes(t *testing.T) {
	for _, phy := range []string{"100BASE-BX10", "1000BASE-BX10"} {
		d, ok := OpticNamed(phy + "-D")
		require.True(t, ok)
		u, ok := OpticNamed(phy + "-U")
		require.True(t, ok)
		require.Equal(t, d.SendsNM, u.TakesNM)
		require.Equal(t, u.SendsNM, d.TakesNM)
		require.Equal(t, d.SendsBandNM, u.TakesBandNM)
		require.NotEqual(t, d.SendsNM, d.TakesNM)
		require.Equal(t, 1, d.Strands)
		p, ok := PHYNamed(d.PHY)
		require.True(t, ok)
		require.Equal(t, phy, p.Name)
	}
	d, _ := OpticNamed("1000BASE-BX10-D")
	require.Equal(t, [2]float64{1480, 1500}, d.SendsBandNM)
	require.Equal(t, [2]float64{1260, 1360}, d.TakesBandNM)
}

func TestOpticsAgree(t *testing.T) {
	rows := []struct {
		near, far string
		verdict   Verdict
		why       string // part of it
	}{
		{"10GBASE-SR", "10GBASE-SR", Allowed, ""},
		{"1000BASE-LX", "1000BASE-LX10", Allowed, ""}, // clause 59, memory
		{"1000BASE-BX10-D", "1000BASE-BX10-U", Allowed, ""},
		{"1000BASE-BX10-D", "1000BASE-BX10-D", NotAllowed, "both ends send at 1490 nm and take 1310 nm"},
		{"1000BASE-BX10-U", "1000BASE-BX10-U", NotAllowed, "both ends send at 1310 nm and take 1490 nm"},
		{"1000BASE-BX10", "1000BASE-BX10", Depends, "1000BASE-BX10-D and the other -U"},
		{"1000BASE-BX10", "1000BASE-BX10-U", Depends, "1000BASE-BX10-D and the other -U"},
		{"10GBASE-SR", "10GBASE-LR", NotAllowed, "10GBASE-SR sends at 840 to 860 nm, and 10GBASE-LR takes 1260 to 1355 nm; 10GBASE-LR sends at 1260 to 1355 nm, and 10GBASE-SR takes 840 to 860 nm; one is for multimode, the other for single mode"},
		{"1000BASE-SX", "1000BASE-LX", NotAllowed, "one is for multimode, the other for single mode"},
		{"10GBASE-LRM", "10GBASE-LR", NotAllowed, "one is for multimode"},
		{"10GBASE-LR", "10GBASE-ER", Depends, "10GBASE-ER needs at least 3.5 dB of loss before 10GBASE-LR, which 1.5 dBm may damage"},
		{"100GBASE-DR", "100GBASE-FR1", Depends, "500 m and 3.0 dB"},
		{"100GBASE-LR1", "100GBASE-DR", Depends, "100GBASE-LR1 needs at least 0.8 dB of loss before 100GBASE-DR"},
		{"100GBASE-LR4", "100GBASE-ER4", Depends, "10 km"},
		{"25GBASE-LR", "25GBASE-ER", Depends, "25GBASE-LR needs at least 6.0 dB of loss before 25GBASE-ER, which -3.0 dBm may damage"},
		{"40GBASE-SR4", "10GBASE-SR", Depends, "broken out"},
		{"100GBASE-SR4", "100GBASE-SR10", NotAllowed, "they use 8 and 20 strands"},
		{"100GBASE-LR4", "100GBASE-LR1", NotAllowed, "they send 4 and 1 lanes"},
		{"1000BASE-BX10-U", "1000BASE-LX10", NotAllowed, "1000BASE-LX10 sends at 1260 to 1360 nm, and 1000BASE-BX10-U takes 1480 to 1500 nm; they use 1 and 2 strands"},
		{"1000BASE-SX", "10GBASE-SR", NotAllowed, "one runs at 1G, the other at 10G"},
	}
	for _, row := range rows {
		near, ok := OpticNamed(row.near)
		require.True(t, ok, row.near)
		far, ok := OpticNamed(row.far)
		require.True(t, ok, row.far)
		for _, j := range []Judgement{OpticsAgree(near, far), OpticsAgree(far, near)} {
			require.Equal(t, row.verdict, j.Verdict, "%s with %s: %s", row.near, row.far, j.Why)
			require.NotEmpty(t, j.Source.Document)
			if row.verdict == Allowed {
				require.Empty(t, j.Why)
			}
		}
		require.Contains(t, OpticsAgree(near, far).Why, row.why)
	}
	known, _ := OpticNamed("10GBASE-SR")
	made := known
	made.PHY = "10GBASE-SRX"
	require.Equal(t, NotAllowed, OpticsAgree(known, made).Verdict, "of no speed that is known")
	other := made
	other.PHY = "10GBASE-SRY"
	require.Equal(t, "no standard says that 10GBASE-SRX and 10GBASE-SRY work together", OpticsAgree(made, other).Why)
	require.Equal(t, Judgement{Why: "far_optic is not known"}, OpticsAgree(known, Optic{}))
	require.Equal(t, Judgement{Why: "optic is not known"}, OpticsAgree(Optic{}, known))
}
