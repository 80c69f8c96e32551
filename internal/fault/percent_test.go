package fault

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestPercentClaimsNoCertainty(t *testing.T) {
	for p, want := range map[float64]string{
		0: "0 %", 0.001: "under 1 %", 0.01: "1 %", 0.55: "55 %", 0.99: "99 %", 0.994: "over 99 %", 0.9999: "over 99 %", 1: "100 %",
	} {
		require.Equal(t, want, Percent(p))
	}
}
