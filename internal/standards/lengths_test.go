package standards

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// ISO/IEC 11801-1 and ANSI/TIA-568.2-D; 90 and 100 m also TIA TSB-67; 24 and
// 30 m of Category 8 ANSI/TIA-568.2-D.
func TestLongestLengths(t *testing.T) {
	require.Equal(t, []float64{90, 100, 10}, []float64{LongestLinkM, LongestChannelM, LongestCordsM})
	for _, c := range append(Categories(), "", "9") {
		link, channel := 90.0, 100.0
		if c == Cat8 {
			link, channel = 24, 30
		}
		require.Equal(t, link, LongestLinkOf(c))
		require.Equal(t, channel, LongestChannelOf(c))
	}
}

// ANSI/TIA-568.0-D, cord lengths by fixed cable (memory): H, W, C in metres.
func TestCordsAsPrinted(t *testing.T) {
	rows := []struct {
		awg     int
		h, w, c float64
	}{
		{24, 90, 5, 10}, {24, 85, 9, 14}, {24, 80, 13, 18}, {24, 75, 17, 22}, {24, 70, 22, 27},
		{26, 90, 4, 8}, {26, 85, 7, 11}, {26, 80, 11, 15}, {26, 75, 14, 18}, {26, 70, 17, 21},
	}
	for _, row := range rows {
		got, ok := Cords(row.h, row.awg)
		require.True(t, ok)
		require.Equal(t, CordLimit{row.c, row.w, cordSource}, got, "%d AWG beside %g m", row.awg, row.h)
		// C = (102 - H)/(1 + D), D 0.2 and 0.5: the table is its whole metre, up or down.
		formula := (102 - row.h) / map[int]float64{24: 1.2, 26: 1.5}[row.awg]
		require.InDelta(t, formula, row.c, 0.51)
	}
}

func TestCordsBetweenPrintedRows(t *testing.T) {
	got, _ := Cords(87.6, 24)
	require.InDelta(t, 14.4/1.2, got.CombinedM, 1e-9, "the formula")
	require.InDelta(t, 7, got.WorkAreaM, 1e-9)
	got, _ = Cords(71, 24) // past the first row the formula holds
	require.InDelta(t, 31/1.2, got.CombinedM, 1e-9)
	got, _ = Cords(71, 26)
	require.InDelta(t, 31/1.5, got.CombinedM, 1e-9)
	got, _ = Cords(75.1, 24)
	require.Equal(t, 22.0, got.CombinedM, "22.4 by the formula, and 22 are printed for less cable")
	got, _ = Cords(79.9, 26)
	require.Equal(t, 15.0, got.CombinedM, "14.7 by the formula, and 15 are printed for more cable")
	got, _ = Cords(5, 24)
	require.Equal(t, 22.0, got.WorkAreaM, "W is 22 m at most (TIA)")
	got, _ = Cords(5, 26)
	require.Equal(t, 17.0, got.WorkAreaM, "W is 17 m at most (memory)")
}

func TestCordsOutsideTheRule(t *testing.T) {
	for _, h := range []float64{0, -1, 90.01, math.NaN(), math.Inf(1)} {
		_, ok := Cords(h, 24)
		require.False(t, ok, h)
	}
	for _, awg := range []int{0, 22, 23, 25, 28} {
		_, ok := Cords(80, awg)
		require.False(t, ok, awg)
	}
}

func TestMoreCableNeverAllowsMoreCord(t *testing.T) {
	for _, awg := range []int{24, 26} {
		last := math.Inf(1)
		for h := 0.25; h <= 90; h += 0.25 {
			got, ok := Cords(h, awg)
			require.True(t, ok)
			require.LessOrEqual(t, got.CombinedM, last, "%d AWG beside %g m", awg, h)
			require.Positive(t, got.WorkAreaM)
			last = got.CombinedM
		}
	}
}

// ANSI/TIA-568.2-D, annex on temperature (memory).
func TestLongestLinkAtAsPrinted(t *testing.T) {
	rows := []struct{ celsius, unscreened, screened float64 }{
		{-20, 90, 90}, {0, 90, 90},
		{20, 90, 90}, {25, 89, 89.5}, {30, 87, 88.5}, {35, 85.5, 87.7}, {40, 84, 87},
		{45, 81.7, 86.5}, {50, 79.5, 85.5}, {55, 77.2, 84.7}, {60, 75, 83},
		{32.5, 86.25, 88.1}, // half-way between two rows
	}
	for _, row := range rows {
		for screened, want := range map[bool]float64{false: row.unscreened, true: row.screened} {
			got, source, ok := LongestLinkAt(row.celsius, screened)
			require.True(t, ok)
			require.InDelta(t, want, got, 1e-9, "%g °C, screened %v", row.celsius, screened)
			require.True(t, source.Memory)
		}
	}
	for _, celsius := range []float64{60.01, 200, math.NaN()} {
		_, _, ok := LongestLinkAt(celsius, false)
		require.False(t, ok, celsius)
	}
}

// ANSI/TIA-568.2-D: 0.4 % for each °C to 40 °C, 0.6 % to 60 °C (memory);
// screened 0.2 %, Category 3 1.5 % (memory).
func TestWarmLoss(t *testing.T) {
	rows := []struct {
		category Category
		shield   Shield
		celsius  float64
		want     float64
	}{
		{Cat5e, "U/UTP", 20, 1}, {Cat5e, "U/UTP", -10, 1}, {Cat6A, "U/UTP", 30, 1.04}, {Cat6A, "U/UTP", 40, 1.08},
		{Cat6A, "U/UTP", 50, 1.14}, {Cat6A, "U/UTP", 60, 1.20}, {Cat6A, "S/FTP", 60, 1.08}, {Cat6A, "F/UTP", 30, 1.02},
		{Cat3, "U/UTP", 40, 1.30}, {"", "", 40, 1.08},
	}
	for _, row := range rows {
		require.InDelta(t, row.want, WarmLoss(row.category, row.shield, row.celsius), 1e-12, "%+v", row)
	}
	require.Equal(t, 1.0, WarmLoss(Cat6, "U/UTP", math.NaN()))
	// 90 m over the rise at 60 °C is the table's own 75.0 m.
	require.InDelta(t, 75, 90/WarmLoss(Cat6, "U/UTP", 60), 1e-9)
}

func TestMoreHeatNeverAllowsMore(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 2))
	for range 5_000 {
		cool := -20 + 80*random.Float64()
		warm := cool + (60-cool)*random.Float64()
		for _, screened := range []bool{false, true} {
			a, _, _ := LongestLinkAt(cool, screened)
			b, _, ok := LongestLinkAt(warm, screened)
			require.True(t, ok)
			require.LessOrEqual(t, b, a)
		}
		unscreened, _, _ := LongestLinkAt(warm, false)
		screened, _, _ := LongestLinkAt(warm, true)
		require.LessOrEqual(t, unscreened, screened)
		for _, c := range Categories() {
			require.GreaterOrEqual(t, WarmLoss(c, "U/UTP", warm), WarmLoss(c, "U/UTP", cool))
			require.GreaterOrEqual(t, WarmLoss(c, "U/UTP", warm), WarmLoss(c, "S/FTP", warm))
			require.GreaterOrEqual(t, WarmLoss(Cat3, "", warm), WarmLoss(c, "", warm))
		}
	}
}

// Delay is L/(NVP c): 483 ns for 100 m at 0.69 (worked by hand); the 548 ns that
// ANSI/TIA-568.2-D allows a channel at 100 MHz mean 0.61.
func TestPropagationDelay(t *testing.T) {
	require.InDelta(t, 483.4, PropagationDelay(100, TypicalNVP), 0.05)
	require.InDelta(t, 548, PropagationDelay(100, 0.6087), 0.1)
	require.InDelta(t, 3.336, PropagationDelay(1, 1), 0.001)
	require.Zero(t, PropagationDelay(0, 0.7))
	for _, row := range [][2]float64{{100, 0}, {100, -0.7}, {100, 1.01}, {100, 69}, {-1, 0.7}, {math.NaN(), 0.7}, {1, math.NaN()}} {
		require.True(t, math.IsNaN(PropagationDelay(row[0], row[1])), row)
	}
}
