package standards

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// IEEE 802.3 by the clause of each PHY; reach and loss as in the table of
// reaches, whose memory marks hold here too.
func TestOverFibre(t *testing.T) {
	rows := []struct {
		phy     string
		path    FibrePath
		verdict Verdict
		why     string // part of it
	}{
		{"1000BASE-SX", pathOf(t, 2, 0, "OM3", 550.0), Allowed, ""},
		{"1000BASE-SX", pathOf(t, 2, 0, "OM3", 551.0), Depends, "ANSI/TIA-568-C.0"},
		{"1000BASE-SX", pathOf(t, 2, 0, "OM3", 801.0), NotAllowed, "801 m is longer than the 800 m"},
		{"1000BASE-SX", pathOf(t, 2, 0, "OM2", 551.0), NotAllowed, "551 m is longer than the 550 m that 1000BASE-SX reaches"},
		{"10GBASE-SR", pathOf(t, 2, 0, "OM1", 33.0), Allowed, ""},
		{"10GBASE-SR", pathOf(t, 2, 0, "OM1", 34.0), NotAllowed, "34 m is longer than the 33 m"},
		{"10GBASE-SR", pathOf(t, 2, 0, "62.5/160", 33.0), NotAllowed, "33 m is longer than the 26 m"},
		{"10GBASE-SR", pathOf(t, 2, 0, "OM4", 200.0, "OM2", 3.0), NotAllowed, "203 m is longer than the 82 m"}, // the worst fibre rules
		{"25GBASE-SR", pathOf(t, 2, 0, "OM4", 100.0), Allowed, ""},
		{"25GBASE-SR", pathOf(t, 2, 0, "OM4", 0.3), Depends, "0.3 m is shorter than the 0.5 m"},
		{"1000BASE-LX", pathOf(t, 2, 0, "OM2", 300.0), Depends, "1000BASE-LX over multimode needs a mode-conditioning cord at both ends"},
		{"1000BASE-LX", pathOf(t, 2, 0, "OS2", 5000.0), Allowed, ""},
		{"1000BASE-LX", pathOf(t, 2, 0, "OS2", 6000.0), NotAllowed, "6000 m is longer than the 5000 m"},
		{"1000BASE-LX10", pathOf(t, 2, 0, "OS2", 10000.0), Allowed, ""}, // 5.5 of 6.0 dB
		{"1000BASE-BX10", pathOf(t, 2, 0, "OS2", 10000.0), Allowed, ""}, // 5.5 dB, all of it
		{"100BASE-FX", pathOf(t, 2, 0, "OM1", 2000.0), Allowed, ""},     // 4.5 of 11.0 dB
		{"100BASE-FX", pathOf(t, 2, 0, "OM2", 2000.0), Allowed, ""},     // 4.5 of 6.0 dB
		{"10GBASE-LRM", pathOf(t, 2, 0, "OM3", 220.0), Allowed, ""},     // 0.33 + 1.5 of 1.9 dB
		{"10GBASE-LRM", pathOf(t, 2, 0, "OM1", 220.0), Depends, "mode-conditioning cord"},
		{"10GBASE-LRM", pathOf(t, 2, 0, "50/400", 120.0), NotAllowed, "120 m is longer than the 100 m"},
		{"10GBASE-LR", pathOf(t, 2, 0, "OS2", 10000.0), Allowed, ""},                                                     // 5.5 of 6.2 dB
		{"10GBASE-LR", pathOf(t, 2, 0, "OS1", 10000.0), Depends, "allows 6.20 dB, and the path may lose up to 11.50 dB"}, // 10 + 1.5
		{"10GBASE-ER", pathOf(t, 2, 0, "OS2", 35000.0), Depends, "engineered link: measure its loss; 10GBASE-ER allows 11.00 dB, and the path may lose up to 15.50 dB: measure the loss"},
		{"10GBASE-ER", pathOf(t, 2, 0, "OS2", 40001.0), NotAllowed, "40001 m is longer than the 40000 m"},
		{"100GBASE-FR1", pathOf(t, 4, 0, "OS1a", 1000.0), Allowed, ""}, // 1.0 + 3.0 of 4.0 dB
		{"100GBASE-FR1", pathOf(t, 4, 0, "OS1a", 1100.0), Depends, "cable of 1.0 dB/km"},
		{"40GBASE-LR4", pathOf(t, 2, 0, "OS2", 9990.0, "OS1a", 10.0), Depends, "cable of 1.0 dB/km"},
		{"40GBASE-LR4", pathOf(t, 2, 0, "OS1a", 4000.0), Allowed, ""},

		{"10GBASE-LR", pathOf(t, 2, 0, "OM3", 50.0), NotAllowed, "10GBASE-LR is an optic for single mode, and OM3 is multimode"},
		{"10GBASE-SR", pathOf(t, 2, 0, "OS2", 50.0), NotAllowed, "10GBASE-SR is an optic for multimode, and OS2 is single mode"},
		{"10GBASE-SR", pathOf(t, 2, 0, "OM3", 50.0, "OS2", 3.0), NotAllowed, "OS2 is single mode"},
		{"40GBASE-SR4", pathOf(t, 2, 0, "OM2", 50.0), NotAllowed, "no reach of 40GBASE-SR4 over OM2 is published"},
		{"10GBASE-SR", FibrePath{Parts: []FibrePart{{core(t, 100), 5}}}, NotAllowed, "no reach of 10GBASE-SR over 100/140 µm 500 MHz·km is published"},
	}
	for _, row := range rows {
		j := phyOf(t, row.phy).OverFibre(row.path)
		require.Equal(t, row.verdict, j.Verdict, "%s over %v: %s", row.phy, row.path.Parts, j.Why)
		require.NotEmpty(t, j.Source.Document, "%s over %v", row.phy, row.path.Parts)
		if row.verdict == Allowed {
			require.Empty(t, j.Why)
			require.Equal(t, "m", j.Unit)
			require.LessOrEqual(t, j.Have, j.Limit)
		}
		require.Contains(t, j.Why, row.why)
	}
}

func TestOverFibreWithoutRecord(t *testing.T) {
	unknownBand, _ := FibreOfCore(50, 0)
	rows := []struct {
		phy  string
		path FibrePath
		why  string
	}{
		{"10GBASE-SR", FibrePath{}, "cable and length_m are not recorded"},
		{"10GBASE-SR", pathOf(t, 2, 0, "OM3", 0.0), "length_m is not recorded"},
		{"10GBASE-SR", FibrePath{Parts: []FibrePart{{FibreType{}, 20}}}, "fibre, or core_um and modal_bandwidth_mhz_km, is not recorded"},
		{"10GBASE-SR", FibrePath{Parts: []FibrePart{{unknownBand, 20}}}, "modal_bandwidth_mhz_km is not recorded"},
		{"10GBASE-LX4", pathOf(t, 2, 0, "OM3", 20.0), "no reach of 10GBASE-LX4 over fibre is known"},
		{"10GBASE-T", pathOf(t, 2, 0, "OM3", 20.0), "no reach of 10GBASE-T over fibre is known"},
	}
	for _, row := range rows {
		require.Equal(t, Judgement{Why: row.why}, phyOf(t, row.phy).OverFibre(row.path))
	}
	// What forbids rules over what is not recorded.
	path := pathOf(t, 2, 0, "OS2", 0.0)
	path.Parts = append(path.Parts, FibrePart{})
	require.Equal(t, NotAllowed, phyOf(t, "10GBASE-SR").OverFibre(path).Verdict)
	// 100BASE-FX asks for no bandwidth.
	require.Equal(t, Allowed, phyOf(t, "100BASE-FX").OverFibre(FibrePath{Parts: []FibrePart{{unknownBand, 20}}}).Verdict)
}

// Lengths add up with binary fractions: 1.1 + 256.1 + 42.8 is 300 m, the reach of
// 10GBASE-SR over OM3 (IEEE 802.3 clause 52), and is told so.
func TestFibreLengthsAddUpAsRecorded(t *testing.T) {
	sr := phyOf(t, "10GBASE-SR")
	j := sr.OverFibre(pathOf(t, 2, 0, "OM3", 1.1, "OM3", 256.1, "OM3", 42.8))
	require.Equal(t, Allowed, j.Verdict, j.Why)
	require.Equal(t, 300.0, j.Have)
	j = sr.OverFibre(pathOf(t, 2, 0, "OM3", 1.1, "OM3", 256.1, "OM3", 42.8, "OM3", 0.2))
	require.Equal(t, NotAllowed, j.Verdict)
	require.Equal(t, "300.2 m is longer than the 300 m that 10GBASE-SR reaches", j.Why)
}

// Limits are compared as they are printed, to a tenth or, in clause 38, to a
// hundredth.
func TestLossIsComparedAsPrinted(t *testing.T) {
	rows := []struct {
		phy, fibre   string
		within, over float64
	}{
		{"10GBASE-SR", "OM1", 1.649, 1.65},
		{"1000BASE-LX", "OM2", 2.354, 2.355},
		{"1000BASE-SX", "OM1", 2.604, 2.605}, // 2.60 is printed, not 2.6
		{"100BASE-FX", "OM1", 11.049, 11.05},
	}
	for _, row := range rows {
		reach, ok := phyOf(t, row.phy).FibreReach(fibre(t, row.fibre))
		require.True(t, ok)
		require.True(t, reach.bears(row.within), row.phy)
		require.False(t, reach.bears(row.over), row.phy)
		mixed := reach.with(FibreReach{LossDB: 99, lossHalf: 9})
		require.False(t, mixed.bears(row.over), row.phy)
		mixed = FibreReach{LossDB: 99, lossHalf: 9}.with(reach)
		require.False(t, mixed.bears(row.over), row.phy)
	}
}

func TestGravest(t *testing.T) {
	allowed, depends := Judgement{Verdict: Allowed}, Judgement{Verdict: Depends, Why: "a"}
	unknown, forbidden := Judgement{Why: "b"}, Judgement{Verdict: NotAllowed, Why: "c"}
	require.Equal(t, depends, gravest(allowed, depends, allowed))
	require.Equal(t, unknown, gravest(depends, unknown))
	require.Equal(t, forbidden, gravest(unknown, forbidden, depends))
	require.Equal(t, "a; d", gravest(depends, Judgement{Verdict: Depends, Why: "d"}, depends).Why)
}

func BenchmarkOverFibre(b *testing.B) {
	path := pathOf(b, 4, 2, "OM4", 3.0, "OM4", 250.0, "OM4", 3.0)
	list := FibrePHYs()
	b.ReportAllocs()
	for b.Loop() {
		for _, p := range list {
			p.OverFibre(path)
		}
	}
}
