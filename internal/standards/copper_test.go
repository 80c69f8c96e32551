package standards

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func phyNamed(t *testing.T, name string) PHY {
	t.Helper()
	phy, ok := PHYNamed(name)
	require.True(t, ok, name)
	return phy
}

// What each PHY asks of balanced cabling. Pins of IEEE 802.3 14 and 40: memory;
// four connectors: ISO/IEC 11801-1 and ANSI/TIA-568.0-D, memory.
func TestCopperNeeds(t *testing.T) {
	two, four := "1-2, 3-6", "1-2, 3-6, 4-5, 7-8"
	rows := []struct {
		phy, clause string
		category    Category
		reach       float64
		pairs       int
		pins        string
		connectors  int
		ber         float64
		source      string // where the figures are printed
	}{
		{"10BASE-T", "14", Cat3, 100, 2, two, 4, 1e-8, "IEEE 802.3 14: 100 m nominal"},
		{"100BASE-TX", "25", Cat5, 100, 2, two, 4, 1e-8, "RFC 4836, dot3MauType 15: two pairs of Category 5"},
		{"1000BASE-T", "40", Cat5, 100, 4, four, 4, 1e-10, "RFC 4836, dot3MauType 29; BER IEEE 802.3 40.6.1.3.1"},
		{"2.5GBASE-T", "126", Cat5e, 100, 4, four, 4, 1e-12, "IEEE 802.3 126; BER memory"},
		{"5GBASE-T", "126", Cat5e, 100, 4, four, 4, 1e-12, "IEEE 802.3 126; BER memory"},
		{"10GBASE-T", "55", Cat6, 100, 4, four, 4, 1e-12, "IEEE 802.3an objectives: 55 to 100 m on class E, 100 m on class F"},
		{"25GBASE-T", "113", Cat8, 30, 4, four, 2, 1e-12, "IEEE 802.3 113: 30 m, two connectors; BER memory"},
		{"40GBASE-T", "113", Cat8, 30, 4, four, 2, 1e-12, "IEEE 802.3 113: 30 m, two connectors; BER memory"},
		{"10BASE-T1L", "146", "", 1000, 1, "", 0, 1e-9, "ISO/IEC single-pair channels, scope; BER memory"},
		{"10BASE-T1S", "147", "", 25, 1, "", 0, 1e-10, "IEEE 802.3 147, multidrop 25 m: memory"},
		{"100BASE-T1", "96", "", 15, 1, "", 0, 1e-10, "ISO/IEC single-pair channels, scope; BER memory"},
		{"100BASE-T1L", "", "", 500, 1, "", 0, 0, "ISO/IEC single-pair channels, scope"},
		{"1000BASE-T1", "97", "", 40, 1, "", 0, 1e-10, "ISO/IEC single-pair channels, scope (type B); BER memory"},
	}
	require.Len(t, copperRows, len(rows))
	for _, row := range rows {
		phy := phyNamed(t, row.phy)
		require.Equal(t, row.clause, phy.Clause, row.phy)
		require.Equal(t, row.ber, phy.BER, "%s: %s", row.phy, row.source)
		needs, ok := phy.CopperNeeds()
		require.True(t, ok)
		require.NotEmpty(t, needs.Source.Document)
		needs.Source = Source{}
		require.Equal(t, CopperNeeds{row.category, row.reach, row.pairs, row.pins, row.connectors, Source{}}, needs, "%s: %s", row.phy, row.source)
	}
	_, ok := phyNamed(t, "10GBASE-SR").CopperNeeds()
	require.False(t, ok)
}

func TestCopperPHYsRise(t *testing.T) {
	var last Speed
	for _, phy := range CopperPHYs() {
		require.Greater(t, phy.Speed, last)
		require.Equal(t, Copper, phy.Medium)
		last = phy.Speed
	}
	require.Equal(t, 40*Gbps, last)
	require.Len(t, CopperPHYs(), 8)
}

func TestOverCopper(t *testing.T) {
	rows := []struct {
		phy     string
		channel CopperChannel
		want    Verdict
		limit   float64 // metres
		why     string
		source  string // where it is printed
	}{
		{"10BASE-T", CopperChannel{Cat3, "U/UTP", 100, 4}, Allowed, 100, "", "IEEE 802.3 14"},
		{"10BASE-T", CopperChannel{Cat3, "U/UTP", 101, 4}, NotAllowed, 100, "reaches 100 m over category 3 unscreened", "IEEE 802.3 14"},
		{"100BASE-TX", CopperChannel{Cat5, "U/UTP", 100, 4}, Allowed, 100, "", "RFC 4836: two pairs of Category 5"},
		{"100BASE-TX", CopperChannel{Cat3, "U/UTP", 20, 2}, NotAllowed, 0, "needs category 5", "RFC 4836: two pairs of Category 5"},
		{"1000BASE-T", CopperChannel{Cat5e, "U/UTP", 100, 4}, Allowed, 100, "", "IEEE 802.3 40.7"},
		{"1000BASE-T", CopperChannel{Cat5, "U/UTP", 60, 2}, Depends, 100, "TSB-95", "TIA/EIA TSB-95, memory"},
		{"1000BASE-T", CopperChannel{Cat3, "U/UTP", 20, 2}, NotAllowed, 0, "needs category 5", "IEEE 802.3 40"},
		{"1000BASE-T", CopperChannel{Cat6A, "S/FTP", 100.5, 4}, NotAllowed, 100, "is 100.5 m long", "ISO/IEC 11801-1"},
		{"2.5GBASE-T", CopperChannel{Cat5e, "U/UTP", 80, 4}, Depends, 100, "TSB-5021", "TIA TSB-5021"},
		{"2.5GBASE-T", CopperChannel{Cat6, "U/UTP", 100, 4}, Allowed, 100, "", "IEEE 802.3 126"},
		{"2.5GBASE-T", CopperChannel{Cat5, "U/UTP", 10, 2}, NotAllowed, 0, "needs category 5e", "IEEE 802.3 126"},
		{"5GBASE-T", CopperChannel{Cat5e, "F/UTP", 80, 4}, Depends, 100, "TSB-5021", "TIA TSB-5021"},
		{"5GBASE-T", CopperChannel{Cat6, "U/UTP", 80, 4}, Depends, 100, "TSB-5021", "printed values differ: the stricter"},
		{"5GBASE-T", CopperChannel{Cat6, "F/UTP", 80, 4}, Allowed, 100, "", "IEEE 802.3 126"},
		{"5GBASE-T", CopperChannel{Cat6A, "U/UTP", 100, 4}, Allowed, 100, "", "IEEE 802.3 126"},
		{"10GBASE-T", CopperChannel{Cat5e, "S/FTP", 10, 2}, NotAllowed, 0, "needs category 6", "IEEE 802.3 55"},
		{"10GBASE-T", CopperChannel{Cat6, "U/UTP", 37, 4}, Allowed, 37, "", "TIA TSB-155-A"},
		{"10GBASE-T", CopperChannel{Cat6, "U/UTP", 37.1, 4}, Depends, 55, "alien crosstalk", "TIA TSB-155-A"},
		{"10GBASE-T", CopperChannel{Cat6, "", 45, 4}, Depends, 55, "alien crosstalk", "TIA TSB-155-A"},
		{"10GBASE-T", CopperChannel{Cat6, "U/UTP", 55, 4}, Depends, 55, "alien crosstalk", "TIA TSB-155-A"},
		{"10GBASE-T", CopperChannel{Cat6, "U/UTP", 55.1, 4}, NotAllowed, 55, "mitigated", "TIA TSB-155-A"},
		{"10GBASE-T", CopperChannel{Cat6, "F/UTP", 55, 4}, Allowed, 55, "", "IEEE 802.3an objectives; TIA TSB-155-A"},
		{"10GBASE-T", CopperChannel{Cat6, "F/UTP", 90, 4}, Depends, 100, "500 MHz", "TIA TSB-155-A: its limit is not for F/UTP"},
		{"10GBASE-T", CopperChannel{Cat6, "F/UTP", 101, 4}, NotAllowed, 100, "", "IEEE 802.3 55"},
		{"10GBASE-T", CopperChannel{Cat6A, "U/UTP", 100, 4}, Allowed, 100, "", "RFC 4836, dot3MauType 54"},
		{"10GBASE-T", CopperChannel{Cat7, "S/FTP", 100, 4}, Allowed, 100, "", "IEEE 802.3an objectives: class F"},
		{"10GBASE-T", CopperChannel{Cat8, "S/FTP", 100, 4}, Allowed, 100, "", "no worse than Category 6A"},
		{"25GBASE-T", CopperChannel{Cat8, "S/FTP", 30, 2}, Allowed, 30, "", "IEEE 802.3 113"},
		{"25GBASE-T", CopperChannel{Cat8, "S/FTP", 31, 2}, NotAllowed, 30, "reaches 30 m", "IEEE 802.3 113"},
		{"40GBASE-T", CopperChannel{Cat7A, "S/FTP", 10, 2}, NotAllowed, 0, "needs category 8", "IEEE 802.3 113"},
		{"40GBASE-T", CopperChannel{Cat8, "S/FTP", 30, 2}, Allowed, 30, "", "IEEE 802.3 113"},
		{"40GBASE-T", CopperChannel{Cat8, "S/FTP", 30.1, 2}, NotAllowed, 30, "reaches 30 m", "IEEE 802.3 113"},
		{"10BASE-T1L", CopperChannel{"", "", 1000, 0}, Depends, 1000, "18 AWG", "ISO/IEC single-pair channels, scope"},
		{"10BASE-T1S", CopperChannel{"", "", 15, 0}, Depends, 25, "one pair", "IEEE 802.3 147"},
		{"10BASE-T1S", CopperChannel{"", "", 15.1, 0}, Depends, 25, "multidrop", "ISO/IEC single-pair channels, scope: 15 m"},
		{"10BASE-T1S", CopperChannel{"", "", 25.1, 0}, NotAllowed, 25, "", "IEEE 802.3 147, memory"},
		{"1000BASE-T1", CopperChannel{"", "", 15, 0}, Depends, 40, "one pair", "ISO/IEC single-pair channels, scope: type A"},
		{"1000BASE-T1", CopperChannel{"", "", 15.1, 0}, Depends, 40, "type B", "ISO/IEC single-pair channels, scope: 15 m of type A"},
		{"1000BASE-T1", CopperChannel{"", "", 40.1, 0}, NotAllowed, 40, "", "ISO/IEC single-pair channels, scope: type B"},
		{"10BASE-T1S", CopperChannel{"", "", 20, 0}, Depends, 25, "multidrop", "IEEE 802.3 147, memory"},
		{"1000BASE-T1", CopperChannel{"", "", 20, 0}, Depends, 40, "type B", "IEEE 802.3 97"},
		{"100BASE-T1", CopperChannel{"", "", 16, 0}, NotAllowed, 15, "any copper cabling", "IEEE 802.3 96"},
		{"100BASE-T1L", CopperChannel{"", "", 500, 0}, Depends, 500, "one pair", "ISO/IEC single-pair channels, scope"},
	}
	for _, row := range rows {
		j := phyNamed(t, row.phy).OverCopper(row.channel)
		require.Equal(t, row.want.String(), j.Verdict.String(), "%s over %+v: %s", row.phy, row.channel, row.source)
		require.Equal(t, row.limit, j.Limit, "%s over %+v: %s", row.phy, row.channel, row.source)
		require.Contains(t, j.Why, row.why)
		require.Equal(t, row.want == Allowed, j.Why == "", "%s over %+v: %q", row.phy, row.channel, j.Why)
		require.NotEmpty(t, j.Source.Document)
		if row.limit > 0 {
			require.Equal(t, row.channel.LengthM, j.Have)
			require.Equal(t, "m", j.Unit)
		}
	}
}

// IEEE 802.3 113.7: two connectors. ISO/IEC 11801-1 and ANSI/TIA-568.0-D: four
// in the reference channel (memory); more are not forbidden if it measures well.
func TestConnectorsOverCopper(t *testing.T) {
	over := func(phy string, ch CopperChannel) Judgement { return phyNamed(t, phy).OverCopper(ch) }

	j := over("25GBASE-T", CopperChannel{Cat8, "S/FTP", 20, 3})
	require.Equal(t, NotAllowed, j.Verdict)
	require.Equal(t, []float64{3, 2}, []float64{j.Have, j.Limit})
	require.Equal(t, "connectors", j.Unit)
	require.Contains(t, j.Why, "allows 2 connectors")

	j = over("1000BASE-T", CopperChannel{Cat5e, "U/UTP", 60, 5})
	require.Equal(t, Depends, j.Verdict)
	require.Contains(t, j.Why, "reference channel")

	j = over("1000BASE-T", CopperChannel{Cat5e, "U/UTP", 120, 5})
	require.Equal(t, NotAllowed, j.Verdict)
	require.Equal(t, "m", j.Unit, "the length forbids, and says so")

	j = over("1000BASE-T", CopperChannel{Cat5e, "U/UTP", 0, 5})
	require.Equal(t, NotJudged, j.Verdict, "a condition does not stand in for a length")
	require.Equal(t, Allowed, over("25GBASE-T", CopperChannel{Cat8, "S/FTP", 20, 0}).Verdict)
}

// A sum of recorded lengths is judged by its decimals: 1.1 + 34.7 + 1.2 is 37 m,
// up to which TIA TSB-155-A has no condition on 10GBASE-T over Category 6.
func TestCopperLengthsAddUpAsRecorded(t *testing.T) {
	ch := CopperChannel{Cat6, "U/UTP", 0, 4}
	for _, part := range []float64{1.1, 34.7, 1.2} {
		ch.LengthM += part
	}
	require.NotEqual(t, 37.0, ch.LengthM)
	j := phyNamed(t, "10GBASE-T").OverCopper(ch)
	require.Equal(t, Allowed, j.Verdict, j.Why)
	require.Equal(t, 37.0, j.Have)
}

// What is not recorded is not judged, unless the rest suffices to forbid it.
func TestOverCopperWithoutARecord(t *testing.T) {
	rows := []struct {
		phy     string
		channel CopperChannel
		want    Verdict
		why     string
	}{
		{"1000BASE-T", CopperChannel{Category: Cat5e}, NotJudged, "length_m is not recorded"},
		{"1000BASE-T", CopperChannel{Category: Cat5e, LengthM: -3}, NotJudged, "length_m is not recorded"},
		{"1000BASE-T", CopperChannel{LengthM: 50}, NotJudged, "category is not recorded"},
		{"1000BASE-T", CopperChannel{}, NotJudged, "category and length_m are not recorded"},
		{"1000BASE-T", CopperChannel{Category: "9", LengthM: 50}, NotJudged, `category "9" is not known`},
		{"1000BASE-T", CopperChannel{LengthM: 120}, NotAllowed, "reaches 100 m over any copper cabling"},
		{"25GBASE-T", CopperChannel{LengthM: 31}, NotAllowed, "reaches 30 m over any copper cabling"},
		{"10GBASE-T", CopperChannel{Category: Cat5e}, NotAllowed, "needs category 6"},
		{"10GBASE-T", CopperChannel{Category: Cat6, LengthM: 60}, NotJudged, "shield is not recorded"},
		{"10GBASE-T", CopperChannel{Category: Cat6, LengthM: 120}, NotAllowed, "120 m long"},
		{"10BASE-T1L", CopperChannel{}, NotJudged, "length_m is not recorded"},
		{"10GBASE-SR", CopperChannel{Category: Cat6A, LengthM: 10}, NotAllowed, "runs over fibre"},
		{"1000BASE-X", CopperChannel{Category: Cat6A, LengthM: 10}, NotJudged, "no figures are known"},
	}
	for _, row := range rows {
		j := phyNamed(t, row.phy).OverCopper(row.channel)
		require.Equal(t, row.want.String(), j.Verdict.String(), "%s over %+v", row.phy, row.channel)
		require.Contains(t, j.Why, row.why)
	}
	require.Equal(t, NotJudged, PHY{}.OverCopper(CopperChannel{Cat6A, "U/UTP", 10, 2}).Verdict)
}

// A longer channel, a lower category, one without its screen or one with more
// connectors is never judged better, nor with more margin under one verdict.
func TestWorseCopperIsNeverJudgedBetter(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 1))
	shields := []Shield{"U/UTP", "F/UTP", "S/FTP"}
	for range 20_000 {
		phy, _ := PHYNamed(copperRows[random.IntN(len(copperRows))].phy)
		good := CopperChannel{
			Category: Categories()[random.IntN(8)], Shield: shields[random.IntN(3)],
			LengthM: 0.1 + 120*random.Float64(), Connectors: random.IntN(7),
		}
		bad := good
		switch random.IntN(4) {
		case 0:
			bad.LengthM += 40 * random.Float64()
		case 1:
			bad.Connectors += 1 + random.IntN(3)
		case 2:
			bad.Category = Categories()[random.IntN(good.Category.rank()+1)]
		case 3:
			bad.Shield = "U/UTP"
		}
		requireNoBetter(t, phy, good, bad)
	}
}

func requireNoBetter(t *testing.T, phy PHY, good, bad CopperChannel) {
	t.Helper()
	g, b := phy.OverCopper(good), phy.OverCopper(bad)
	require.NotEqual(t, NotJudged, g.Verdict)
	require.GreaterOrEqual(t, b.Verdict, g.Verdict, "%s: %+v %v, %+v %v", phy.Name, good, g, bad, b)
	if g.Verdict == b.Verdict && g.Unit == b.Unit && g.Unit != "" {
		require.LessOrEqual(t, b.Limit-b.Have, g.Limit-g.Have, "%s: %+v %v, %+v %v", phy.Name, good, g, bad, b)
	}
}
