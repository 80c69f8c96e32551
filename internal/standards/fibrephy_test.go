package standards

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// media are the fibres of the reach table, by the names its rows use.
func media(t testing.TB, name string) FibreType {
	cores := map[string][2]float64{"62.5/160": {62.5, 160}, "62.5/200": {62.5, 200}, "50/400": {50, 400}, "50/500": {50, 500}}
	if c, ok := cores[name]; ok {
		f, ok := FibreOfCore(c[0], c[1])
		require.True(t, ok)
		return f
	}
	return fibre(t, name)
}

// Reach in m and channel insertion loss in dB. IEEE 802.3, the clause beside
// each PHY; m and dB in the last column mark a figure that is memory.
func TestFibreReach(t *testing.T) {
	rows := []struct {
		phy, clause, fibre string
		metres, db         float64
		memory             string
	}{
		{"100BASE-FX", "26", "OM1", 2000, 11.0, ""},
		{"100BASE-FX", "26", "62.5/160", 2000, 11.0, ""},
		{"100BASE-FX", "26", "OM2", 2000, 6.0, "dB"}, // 11 less 5.0 dB of source coupling
		{"100BASE-LX10", "58", "OS2", 10000, 6.0, ""},
		{"100BASE-BX10", "58", "OS2", 10000, 5.5, "m dB"}, // at 1550 nm; 6.0 at 1310
		{"1000BASE-SX", "38", "62.5/160", 220, 2.38, "dB"},
		{"1000BASE-SX", "38", "OM1", 275, 2.60, "dB"},
		{"1000BASE-SX", "38", "50/400", 500, 3.37, "dB"},
		{"1000BASE-SX", "38", "OM2", 550, 3.56, "dB"},
		{"1000BASE-SX", "38", "OM3", 550, 3.56, "dB"}, // conflict: no row of its own
		{"1000BASE-LX", "38", "OM1", 550, 2.35, "dB"},
		{"1000BASE-LX", "38", "OM2", 550, 2.35, "dB"},
		{"1000BASE-LX", "38", "50/400", 550, 2.35, "dB"},
		{"1000BASE-LX", "38", "OS2", 5000, 4.57, "dB"}, // conflict: 10 km is LX10's
		{"1000BASE-LX10", "59", "OS2", 10000, 6.0, "dB"},
		{"1000BASE-LX10", "59", "OM2", 550, 2.4, "m dB"},
		{"1000BASE-BX10", "59", "OS2", 10000, 5.5, "dB"}, // at 1490 nm; 6.0 at 1310
		{"10GBASE-SR", "52", "62.5/160", 26, 1.6, "dB"},
		{"10GBASE-SR", "52", "OM1", 33, 1.6, "dB"},
		{"10GBASE-SR", "52", "50/400", 66, 1.7, "dB"},
		{"10GBASE-SR", "52", "OM2", 82, 1.8, "dB"},
		{"10GBASE-SR", "52", "OM3", 300, 2.6, ""},
		{"10GBASE-SR", "52", "OM4", 400, 2.9, ""}, // conflict: 450 to 550 m before IEEE fixed it
		{"10GBASE-SR", "52", "OM5", 400, 2.9, ""},
		{"10GBASE-LRM", "68", "62.5/160", 220, 1.9, ""},
		{"10GBASE-LRM", "68", "OM1", 220, 1.9, ""},
		{"10GBASE-LRM", "68", "OM2", 220, 1.9, ""},
		{"10GBASE-LRM", "68", "OM3", 220, 1.9, ""},
		{"10GBASE-LRM", "68", "50/400", 100, 1.7, ""},
		{"10GBASE-LR", "52", "OS2", 10000, 6.2, "dB"},
		{"10GBASE-ER", "52", "OS2", 30000, 11.0, "m"}, // table 52-24 prints 40 km and 11 dB
		{"25GBASE-SR", "112", "OM3", 70, 1.8, ""},
		{"25GBASE-SR", "112", "OM4", 100, 1.9, ""},
		{"25GBASE-SR", "112", "OM5", 100, 1.9, ""},
		{"25GBASE-LR", "114", "OS2", 10000, 6.3, "m dB"},
		{"25GBASE-ER", "114", "OS2", 30000, 18, "m dB"},
		{"40GBASE-SR4", "86", "OM3", 100, 1.9, "dB"},
		{"40GBASE-SR4", "86", "OM4", 150, 1.5, ""},
		{"40GBASE-FR", "89", "OS2", 2000, 4.0, "m dB"},
		{"40GBASE-LR4", "87", "OS2", 10000, 6.7, ""},
		{"40GBASE-LR4", "87", "OS1a", 4000, 6.7, ""}, // informative
		{"100GBASE-SR10", "86", "OM3", 100, 1.9, "dB"},
		{"100GBASE-SR10", "86", "OM4", 150, 1.5, ""},
		{"100GBASE-SR4", "95", "OM3", 70, 1.8, "dB"},
		{"100GBASE-SR4", "95", "OM4", 100, 1.9, "dB"}, // conflict: 150 m and 1.5 dB are SR10's
		{"100GBASE-SR4", "95", "OM5", 100, 1.9, "dB"},
		{"100GBASE-LR4", "88", "OS2", 10000, 6.3, "dB"},
		{"100GBASE-ER4", "88", "OS2", 30000, 18, "m"}, // 40 km and 18 dB are printed
		{"100GBASE-DR", "140", "OS2", 500, 3.0, "m dB"},
		{"100GBASE-FR1", "140", "OS2", 2000, 4.0, ""},
		{"100GBASE-FR1", "140", "OS1a", 1000, 4.0, ""}, // informative
		{"100GBASE-LR1", "140", "OS2", 10000, 6.3, "m dB"},
	}
	judged := map[string]bool{}
	for _, row := range rows {
		p, ok := PHYNamed(row.phy)
		require.True(t, ok, row.phy)
		reach, ok := p.FibreReach(media(t, row.fibre))
		require.True(t, ok, "%s over %s", row.phy, row.fibre)
		require.Equal(t, row.metres, reach.LengthM, "%s over %s", row.phy, row.fibre)
		require.Equal(t, row.db, reach.LossDB, "%s over %s", row.phy, row.fibre)
		require.Equal(t, "IEEE 802.3 clause "+row.clause, reach.Source.Document)
		require.Equal(t, strings.HasPrefix(row.memory, "m"), reach.Source.Memory, "%s over %s", row.phy, row.fibre)
		require.Equal(t, strings.HasSuffix(row.memory, "dB"), reach.LossSource.Memory, "%s over %s", row.phy, row.fibre)
		judged[row.phy] = true
	}
	for _, p := range FibrePHYs() {
		require.True(t, judged[p.Name], "%s has no row in this table", p.Name)
	}
}

// The least length: clause 112 printed 0.5 m; clauses 38 and 140 printed 2 m.
// Lengths allowed only on a condition: 10GBASE-ER and 100GBASE-ER4 30 to 40 km
// (the 30 km is memory), 1000BASE-SX over OM3 by TIA-568-C.0 (memory).
func TestLeastAndEngineeredLengths(t *testing.T) {
	rows := []struct {
		phy, fibre       string
		least, engineers float64
	}{
		{"25GBASE-SR", "OM4", 0.5, 0},
		{"1000BASE-SX", "OM2", 2, 0},
		{"1000BASE-LX", "OS2", 2, 0},
		{"100GBASE-FR1", "OS2", 2, 0},
		{"10GBASE-ER", "OS2", 2, 40000},
		{"25GBASE-ER", "OS2", 2, 40000},
		{"100GBASE-ER4", "OS2", 2, 40000},
		{"1000BASE-SX", "OM3", 2, 800},
		{"100GBASE-FR1", "OS1a", 2, 2000},
		{"40GBASE-LR4", "OS1", 2, 10000},
	}
	for _, row := range rows {
		p, _ := PHYNamed(row.phy)
		reach, ok := p.FibreReach(fibre(t, row.fibre))
		require.True(t, ok)
		require.Equal(t, row.least, reach.LeastM, row.phy)
		require.Equal(t, row.engineers, reach.EngineeredM, row.phy)
		require.Equal(t, row.engineers > 0, reach.Condition != "", row.phy)
	}
}

// IEEE 802.3 38.11.4, 59.9.5 and clause 68: the cord is named for 1000BASE-LX,
// 1000BASE-LX10 and 10GBASE-LRM over multimode, by 10GBASE-LRM not for OM3.
func TestModeConditioning(t *testing.T) {
	rows := []struct {
		phy, fibre string
		want       bool
	}{
		{"1000BASE-LX", "OM1", true}, {"1000BASE-LX", "50/400", true}, {"1000BASE-LX", "OS2", false},
		{"1000BASE-LX10", "OM2", true}, {"1000BASE-LX10", "OS2", false},
		{"10GBASE-LRM", "OM1", true}, {"10GBASE-LRM", "50/400", true}, {"10GBASE-LRM", "OM3", false},
		{"1000BASE-SX", "OM1", false},
	}
	for _, row := range rows {
		p, _ := PHYNamed(row.phy)
		reach, ok := p.FibreReach(media(t, row.fibre))
		require.True(t, ok)
		require.Equal(t, row.want, reach.ModeConditioning, "%s over %s", row.phy, row.fibre)
	}
}

// A bandwidth between two rows counts as the lower one.
func TestFibreBetweenRowsCountsAsTheLower(t *testing.T) {
	sx, _ := PHYNamed("1000BASE-SX")
	rows := []struct{ core, modal, metres float64 }{
		{62.5, 160, 220}, {62.5, 199, 220}, {62.5, 200, 275}, {62.5, 350, 275},
		{50, 400, 500}, {50, 499, 500}, {50, 1500, 550}, {50, 9000, 550},
	}
	for _, row := range rows {
		f, _ := FibreOfCore(row.core, row.modal)
		reach, ok := sx.FibreReach(f)
		require.True(t, ok)
		require.Equal(t, row.metres, reach.LengthM, "%v", f)
	}
	for _, none := range [][2]float64{{62.5, 100}, {62.5, 0}, {50, 399}, {100, 500}, {9, 0}} {
		f, _ := FibreOfCore(none[0], none[1])
		_, ok := sx.FibreReach(f)
		require.False(t, ok, "%v", f)
	}
}

func TestFibrePHYsRise(t *testing.T) {
	var last Speed
	for _, p := range FibrePHYs() {
		require.Equal(t, Fibre, p.Medium)
		require.GreaterOrEqual(t, p.Speed, last)
		last = p.Speed
		_, ok := OpticNamed(p.Name)
		require.True(t, ok, "%s has a reach and no optic", p.Name)
	}
}
