package port

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// dBm is the level over 1 mW in decibels (IEC 60027-3): 10 times the common
// logarithm of a ratio of powers. A half is 3.0103 dB less, a tenth 10 dB.
func TestLightOfAPower(t *testing.T) {
	for milliwatts, want := range map[float64]Light{1: 0, 0.5: -3.0103, 2: 3.0103, 0.1: -10, 0.0001: -40, 10: 10} {
		require.InDelta(t, float64(want), float64(LightOf(milliwatts)), 0.0001, "%v mW", milliwatts)
		require.False(t, LightOf(milliwatts).Dark())
	}
	require.Equal(t, NoLight, LightOf(0))
	require.Equal(t, NoLight, LightOf(-1))
	require.True(t, LightOf(0).Dark())
}
