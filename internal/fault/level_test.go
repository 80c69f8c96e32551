package fault

import (
	"math"
	"testing"
	"time"
	"unsafe"

	"github.com/stretchr/testify/require"
)

func learned(l *level, db float64, times int) {
	for range times {
		l.learn(db, 1)
	}
}

func TestALevelSettles(t *testing.T) {
	var l level
	learned(&l, -4, settles-1)
	_, ok := l.known()
	require.False(t, ok, "an hour has not passed")
	l.learn(-9, 1)
	learned(&l, -4, settles-1)
	_, ok = l.known()
	require.False(t, ok, "one value apart begins anew")
	l.learn(-4.5, 1)
	db, ok := l.known()
	require.True(t, ok)
	require.InDelta(t, -4-0.5/settles, db, 1e-6, "the mean of twelve")
}

func TestALevelIsNotPulled(t *testing.T) {
	rows := []struct {
		name   string
		values func(i int) float64 // after it settled at -4
		times  int
		least  float64
		most   float64
	}{
		{"single wrong values", func(i int) float64 { return []float64{-4, -40, -4, 3}[i%4] }, 5000, -4, -4},
		{"worse for long", func(int) float64 { return -5.5 }, 20000, -4, -4},
		{"better for a week", func(int) float64 { return -2.5 }, renews, -2.5, -2.5},
		{"better for less", func(int) float64 { return -2.5 }, renews - 1, -4, -4},
		{"better now and then", func(i int) float64 { return -2.5 - float64(i%2)*1.5 }, 20000, -4, -4},
		{"wandering about it", func(i int) float64 { return -4.9 + 1.8*float64(i%2) }, 20000, -4.01, -3.9},
		{"1 dB a week of 5 minutes", func(i int) float64 { return -4 - float64(i)/renews }, 4 * renews, -5.5, -4},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			var l level
			learned(&l, -4, settles)
			for i := range row.times {
				l.learn(row.values(i), 1)
			}
			db, ok := l.known()
			require.True(t, ok)
			require.GreaterOrEqual(t, db, row.least-1e-3)
			require.LessOrEqual(t, db, row.most+1e-3)
		})
	}
}

func TestALevelLearnsNoInfinity(t *testing.T) {
	var l level
	for _, v := range []float64{math.NaN(), math.Inf(-1), math.Inf(1)} {
		l.learn(v, 1)
	}
	require.Equal(t, level{}, l)
}

func TestALossThatFellIsBetter(t *testing.T) {
	var l level
	learned(&l, 4, settles)
	for range renews {
		l.learn(2, -1)
	}
	db, _ := l.known()
	require.InDelta(t, 2, db, 1e-3)
}

// What is kept of each direction is small, since a campus has thousands.
func TestALevelIsSmall(t *testing.T) {
	require.LessOrEqual(t, unsafe.Sizeof(level{}), uintptr(12))
}

func TestHolding(t *testing.T) {
	rows := []struct {
		name string
		off  string // readings: x asks for it, . is well, - neither
		open bool
		at   int // of Since
	}{
		{"one", "x", false, 0}, {"two", "xx", true, 0}, {"apart", "x.x", false, 2}, {"neither breaks the row", "x-x", false, 2},
		{"one well", ".xx.", true, 1}, {"two well", "xx..", false, 0}, {"wells apart", "xx.-.", true, 0}, {"again", "xx..xx", true, 4},
	}
	for _, row := range rows {
		var h holding
		for i, c := range row.off {
			h.take(c == 'x', c == '.', start.Add(time.Duration(i)*time.Minute))
		}
		require.Equal(t, row.open, h.Open, row.name)
		if h.Open {
			require.Equal(t, start.Add(time.Duration(row.at)*time.Minute), h.Since, row.name)
		}
	}
}

// An edge is passed outside, or 2 dB from what is usual within 3 dB of it.
func TestEdge(t *testing.T) {
	known := edge{at: -9.9, limited: true, near: 3, usual: -5, settled: true, by: 2}
	fresh := edge{at: -9.9, limited: true, near: 3, by: 2}
	rows := []struct {
		edge           edge
		value          float64
		passed, inside bool
	}{
		{fresh, -9.95, true, false}, {fresh, -9.85, false, false}, {fresh, -8.95, false, false}, {fresh, -8.85, false, true},
		{fresh, -7.5, false, true}, {known, -6.95, false, false}, {known, -7.05, true, false}, {known, -6.85, false, false},
		{known, -6.05, false, false}, {known, -5.85, false, true}, {known, noLight, true, false},
	}
	for _, row := range rows {
		require.Equal(t, row.passed, row.edge.passed(row.value), "%v", row.value)
		require.Equal(t, row.inside, row.edge.inside(row.value), "%v", row.value)
	}
}
