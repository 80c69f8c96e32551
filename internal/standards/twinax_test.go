package standards

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// IEEE 802.3 by the clause beside each row, all lengths memory; direct attach
// and active optical assemblies: common practice, no source.
func TestOverAssembly(t *testing.T) {
	rows := []struct {
		phy     string
		medium  Medium
		metres  float64
		verdict Verdict
		source  Source
		why     string
	}{
		{"1000BASE-CX", Twinax, 25, Allowed, Source{"IEEE 802.3 clause 39", true}, ""},
		{"1000BASE-CX", Twinax, 25.1, NotAllowed, Source{"IEEE 802.3 clause 39", true}, "25.1 m is longer than the 25 m"},
		{"10GBASE-CX4", Twinax, 15, Allowed, Source{"IEEE 802.3 clause 54", true}, ""},
		{"10GBASE-CX4", Twinax, 15.1, NotAllowed, Source{"IEEE 802.3 clause 54", true}, "15.1 m is longer"},
		{"25GBASE-CR", Twinax, 5, Allowed, Source{"IEEE 802.3 clause 110", true}, ""},
		{"25GBASE-CR", Twinax, 5.1, NotAllowed, Source{"IEEE 802.3 clause 110", true}, "5.1 m is longer"},
		{"25GBASE-CR-S", Twinax, 3, Allowed, Source{"IEEE 802.3 clause 110", true}, ""},
		{"25GBASE-CR-S", Twinax, 3.1, NotAllowed, Source{"IEEE 802.3 clause 110", true}, "3.1 m is longer"},
		{"40GBASE-CR4", Twinax, 7, Allowed, Source{"IEEE 802.3 clause 85", true}, ""},
		{"40GBASE-CR4", Twinax, 7.1, NotAllowed, Source{"IEEE 802.3 clause 85", true}, "7.1 m is longer"},
		{"100GBASE-CR10", Twinax, 7, Allowed, Source{"IEEE 802.3 clause 85", true}, ""},
		{"100GBASE-CR4", Twinax, 5, Allowed, Source{"IEEE 802.3 clause 92", true}, ""},
		{"100GBASE-CR4", Twinax, 5.1, NotAllowed, Source{"IEEE 802.3 clause 92", true}, "5.1 m is longer"},
		{"100GBASE-CR10", Twinax, 7.1, NotAllowed, Source{"IEEE 802.3 clause 85", true}, "7.1 m is longer"},
		{"10GBASE-R", Twinax, 15, Depends, practice, "passive direct attach ends at 7 m"},
		{"10GBASE-R", Twinax, 7, Depends, practice, "direct attach is no PHY of IEEE 802.3"},
		{"10GBASE-R", Twinax, 7.1, Depends, practice, "passive direct attach ends at 7 m"},
		{"10GBASE-R", Twinax, 15.1, NotAllowed, practice, "15.1 m is longer than direct attach is made, 15 m"},
		{"10GBASE-SR", Twinax, 3, NotAllowed, practice, "10GBASE-SR does not run over twinax"},
		{"10GBASE-T", Twinax, 3, NotAllowed, practice, "10GBASE-T does not run over twinax"},
		{"40GBASE-SR4", ActiveOptical, 100, Depends, practice, "carries what it was made for"},
		{"10GBASE-SR", ActiveOptical, 30, Depends, practice, "carries what it was made for"},
		{"10GBASE-R", ActiveOptical, 100.1, Depends, practice, "100.1 m is longer than active optical assemblies are commonly made, 100 m"},
		{"1000BASE-T", ActiveOptical, 30, NotAllowed, practice, "1000BASE-T does not run over active-optical"},
	}
	for _, row := range rows {
		j := phyOf(t, row.phy).OverAssembly(row.medium, row.metres)
		require.Equal(t, row.verdict, j.Verdict, "%s %v m: %s", row.phy, row.metres, j.Why)
		require.Equal(t, row.source, j.Source, row.phy)
		require.Contains(t, j.Why, row.why)
		if row.verdict == Allowed {
			require.Empty(t, j.Why)
		}
	}
	for _, phy := range []string{"40GBASE-CR4", "10GBASE-R"} {
		require.Equal(t, Judgement{Why: "length_m is not recorded"}, phyOf(t, phy).OverAssembly(Twinax, 0))
	}
	require.Equal(t, Judgement{Why: "length_m is not recorded"}, phyOf(t, "10GBASE-R").OverAssembly(ActiveOptical, 0))
	require.Equal(t, NotJudged, phyOf(t, "10GBASE-T").OverAssembly(Copper, 10).Verdict)
}

// A PHY that its type names for several media (IANA-MAU-MIB: 1000BASE-X,
// 25GBASE-R) may be the one over twinax, and no length is none.
func TestOverAssemblyWithoutRecord(t *testing.T) {
	for _, phy := range []PHY{{}, phyOf(t, "1000BASE-X"), phyOf(t, "25GBASE-R"), phyOf(t, "10GBASE-X")} {
		j := phy.OverAssembly(Twinax, 2)
		require.Equal(t, NotJudged, j.Verdict, "%q: %s", phy.Name, j.Why)
		require.NotEmpty(t, j.Why)
	}
	require.Equal(t, Allowed, phyOf(t, "40GBASE-CR4").OverAssembly(Twinax, math.Nextafter(7, 8)).Verdict, "7 m but for a binary fraction")
	for _, metres := range []float64{0, -1, math.NaN()} {
		require.Equal(t, Judgement{Why: "length_m is not recorded"}, phyOf(t, "40GBASE-CR4").OverAssembly(Twinax, metres))
		require.Equal(t, Judgement{Why: "length_m is not recorded"}, phyOf(t, "10GBASE-R").OverAssembly(Twinax, metres))
		require.Equal(t, Judgement{Why: "length_m is not recorded"}, phyOf(t, "10GBASE-R").OverAssembly(ActiveOptical, metres))
	}
}

func TestAssemblyPHYs(t *testing.T) {
	names := func(list []PHY) (names []string) {
		for _, p := range list {
			names = append(names, p.Name)
		}
		return names
	}
	require.Equal(t, []string{"1000BASE-CX", "10GBASE-CX4", "10GBASE-R", "25GBASE-CR", "25GBASE-CR-S",
		"40GBASE-CR4", "100GBASE-CR10", "100GBASE-CR4"}, names(AssemblyPHYs(Twinax)))
	require.Equal(t, []string{"10GBASE-R", "25GBASE-R", "40GBASE-SR4", "100GBASE-SR4"}, names(AssemblyPHYs(ActiveOptical)))
	require.Empty(t, AssemblyPHYs(Copper))
	for name := range twinaxReaches {
		require.Equal(t, Twinax, phyOf(t, name).Medium, name)
	}
}
