package fault

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestPercentClaimsNoCertainty(t *testing.T) {
	for p, want := range map[float64]string{0: "0 %", 0.001: "under 1 %", 0.55: "55 %", 0.996: "over 99 %", 1: "100 %"} {
		require.Equal(t, want, Percent(p))
	}
}
