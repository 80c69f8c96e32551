package web

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/standards"
)

// 13 mm of untwist (ANSI/TIA-568.2-D, memory) and 4 x the diameter
// (ANSI/TIA-568.0-D) for unscreened cable; fibre without load 10 x.
func TestHandlingAdvice(t *testing.T) {
	copper := handlingOf(standards.Copper, standards.CopperChannel{Category: standards.Cat6A, Shield: "U/UTP"})
	bends, untwists := 0, 0
	for _, h := range copper {
		require.NotEmpty(t, h.Source)
		switch {
		case h.What == "untwist":
			untwists++
			require.Equal(t, "at most", h.Bound)
			require.EqualValues(t, 13, h.Value)
		case h.What == "bend radius" && h.Where == "four-pair cable, installed":
			bends++
			require.Equal(t, "at least", h.Bound)
			require.EqualValues(t, 4, h.Value)
		}
	}
	require.Equal(t, [2]int{1, 1}, [2]int{bends, untwists})
	require.NotNil(t, handlingGrid(handlingOf(standards.Fibre, standards.CopperChannel{})))
	require.Nil(t, handlingGrid(handlingOf(standards.Twinax, standards.CopperChannel{})))
}

// 100 m at 0.69 c take 100 / (0.69 x 0.299792458) = 483.4 ns.
func TestDelayOf(t *testing.T) {
	require.Nil(t, delayOf(0))
	require.InDelta(t, 483.4, *delayOf(100), 0.1)
	require.Equal(t, "483 ns at 0.69 of the speed of light, the usual velocity", delayWords(delayOf(100)))
	require.Empty(t, delayWords(nil))
}

// 20 dB are 100 times the power, by definition of the decibel.
func TestSignalToNoiseOf(t *testing.T) {
	require.InDelta(t, 100, *signalToNoise(standards.ACRN, 20), 1e-9)
	require.Nil(t, signalToNoise(standards.NEXT, 20))
}

func TestTimesWords(t *testing.T) {
	require.Equal(t, "0.53", timesWords(0.5263))
	require.Equal(t, "1,905", timesWords(1905.46))
}
