package sequential

import (
	"math/rand/v2"
	"testing"
	"time"
	"unsafe"

	"github.com/stretchr/testify/require"
)

var monday = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

// lived is a detector with a past of so many days, with errors in bursts, and
// when that ended.
func lived(random *rand.Rand, days int, threshold float64) (Detector, time.Time) {
	var d Detector
	at := monday
	for range days * 1440 {
		at = at.Add(time.Minute)
		errored := uint64(0)
		if random.Float64() < 0.002 || d.past.errored && random.Float64() < 0.6 {
			errored = 1 + uint64(random.ExpFloat64()*20)
		}
		d.Update(Sample{At: at, Errored: errored, Bits: 1e10 * (1 + random.Float64()), Seconds: 60}, objective, threshold)
	}
	return d, at
}

// What is written down and read back has the same future: with a baseline and
// without, and where alarms open and close.
func TestStateRoundTrip(t *testing.T) {
	alarms := 0
	for _, threshold := range []float64{100, 1e9} {
		random := rand.New(rand.NewPCG(3, 4))
		for _, days := range []int{0, 3, 9, 12} {
			was, at := lived(random, days, threshold)
			written, err := was.AppendBinary([]byte("before"))
			require.NoError(t, err)
			require.Equal(t, "before", string(written[:6]))
			var is Detector
			require.NoError(t, is.UnmarshalBinary(written[6:]))
			require.Equal(t, was, is)
			for range 3000 {
				at = at.Add(time.Minute)
				s := Sample{At: at, Errored: uint64(max(0, random.NormFloat64()*3-6)), Bits: 1e10, Seconds: 60}
				was.Update(s, objective, threshold)
				is.Update(s, objective, threshold)
				if was.Open() {
					alarms++
				}
			}
			require.Equal(t, was, is)
		}
	}
	require.Positive(t, alarms)
	require.Less(t, alarms, 4*3000)
}

func TestStateOfAnotherVersionOrDamaged(t *testing.T) {
	d, _ := lived(rand.New(rand.NewPCG(5, 6)), 9, 1e9)
	good, err := d.AppendBinary(nil)
	require.NoError(t, err)
	with := func(at int, values ...byte) []byte {
		out := append([]byte(nil), good...)
		copy(out[at:], values)
		return out
	}
	rows := []struct {
		name  string
		state []byte
		err   string
	}{
		{"empty", nil, "empty"},
		{"later version", with(0, 3), "version 3"},
		{"cut", good[:len(good)-1], "not its length"},
		{"too long", append(append([]byte(nil), good...), 0), "not its length"},
		{"infinite evidence", with(1, 0, 0, 0x80, 0x7f), "cannot be"},
		{"no number", with(1, 1, 0, 0x80, 0x7f), "cannot be"},
		{"negative evidence", with(1, 0, 0, 0x80, 0xbf), "cannot be"},
		{"unknown alarm", with(len(good)-15, 9), "cannot be"},
		{"neither yes nor no", with(len(good)-1, 2), "cannot be"},
	}
	for _, row := range rows {
		is := Detector{past: history{exceeded: true}}
		require.ErrorContains(t, is.UnmarshalBinary(row.state), row.err, row.name)
		require.Equal(t, Detector{}, is, row.name)
	}
}

// A plant holds one for each port.
func TestDetectorIsSmall(t *testing.T) {
	require.LessOrEqual(t, unsafe.Sizeof(Detector{}), uintptr(600))
}

func FuzzState(f *testing.F) {
	random := rand.New(rand.NewPCG(7, 8))
	for _, days := range []int{0, 2, 10} {
		d, _ := lived(random, days, 1000)
		state, err := d.AppendBinary(nil)
		require.NoError(f, err)
		f.Add(state)
	}
	f.Fuzz(func(t *testing.T, state []byte) {
		var d Detector
		if d.UnmarshalBinary(state) != nil {
			return
		}
		again, err := d.AppendBinary(nil)
		require.NoError(t, err)
		require.Equal(t, state, again)
		for day := range 20 { // whatever was read, the days go on
			d.Update(Sample{At: monday.AddDate(0, 0, day), Errored: uint64(day % 3), Bits: 1e8, Seconds: 60}, objective, 1e9)
		}
	})
}
