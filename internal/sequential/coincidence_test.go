package sequential

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/combin"
	"gonum.org/v1/gonum/stat/distuv"
)

// Where all chances are one, it is the binomial distribution; where they
// differ, the sum over all outcomes.
func TestAtLeast(t *testing.T) {
	for _, n := range []int{1, 5, 30, 200} {
		for _, chance := range []float64{1e-4, 0.01, 0.3} {
			p := make([]float64, n)
			for i := range p {
				p[i] = chance
			}
			for k := 0; k <= n+1; k++ {
				want := 0.0
				for j := k; j <= n; j++ {
					want += distuv.Binomial{N: float64(n), P: chance}.Prob(float64(j))
				}
				require.InEpsilon(t, want+1e-300, AtLeast(k, p)+1e-300, 1e-6, "%d of %d at %v", k, n, chance)
			}
		}
	}
	p := []float64{0.1, 0.02, 0.5, 0.9, 0.003}
	for k := range len(p) + 1 {
		want := 0.0
		for size := k; size <= len(p); size++ {
			for _, chosen := range combin.Combinations(len(p), size) {
				product := 1.0
				for i, chance := range p {
					product *= math.Abs(chance - 1 + float64(contained(chosen, i)))
				}
				want += product
			}
		}
		require.InEpsilon(t, want, AtLeast(k, p), 1e-9, "%d", k)
	}
}

func contained(list []int, i int) int {
	for _, v := range list {
		if v == i {
			return 1
		}
	}
	return 0
}
