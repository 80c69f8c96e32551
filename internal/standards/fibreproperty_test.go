package standards

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// anyPath is a path of up to four parts, now and then of unlike fibres.
func anyPath(t testing.TB, r *rand.Rand) FibrePath {
	names := []string{"OM1", "OM2", "OM3", "OM4", "OM5", "62.5/160", "50/400", "OS1", "OS1a", "OS2"}
	path := FibrePath{Connectors: r.IntN(8), Splices: r.IntN(8)}
	name := names[r.IntN(len(names))]
	for range 1 + r.IntN(4) {
		if r.IntN(4) == 0 {
			name = names[r.IntN(len(names))]
		}
		f := media(t, name)
		metres := 2 + r.Float64()*300
		if f.SingleMode {
			metres *= 100
		}
		path.Parts = append(path.Parts, FibrePart{f, metres})
	}
	return path
}

// longer is the path with something more in it.
func longer(path FibrePath, r *rand.Rand) FibrePath {
	path.Parts = slices.Clone(path.Parts)
	switch r.IntN(3) {
	case 0:
		path.Parts[r.IntN(len(path.Parts))].LengthM *= 1 + 2*r.Float64()
	case 1:
		path.Connectors++
	default:
		path.Splices++
	}
	return path
}

func reversed(path FibrePath) FibrePath {
	path.Parts = slices.Clone(path.Parts)
	slices.Reverse(path.Parts)
	return path
}

var wavelengths = []float64{850, 1300, 1310, 1490, 1550}

func TestLossIsTheSameSeenFromTheOtherEnd(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 1))
	for range 600 {
		path := anyPath(t, r)
		nm := wavelengths[r.IntN(len(wavelengths))]
		back, ok := path.Loss(nm, true)
		turned, okTurned := reversed(path).Loss(nm, false)
		require.Equal(t, ok, okTurned)
		require.InDelta(t, back.Least, turned.Least, 1e-9)
		require.InDelta(t, back.Most, turned.Most, 1e-9)
		require.InDelta(t, back.Mismatch, turned.Mismatch, 1e-9)
		for _, p := range FibrePHYs() {
			require.Equal(t, p.OverFibre(path).Verdict, p.OverFibre(reversed(path)).Verdict, "%s over %v", p.Name, path)
		}
	}
}

func TestLeastIsNeverAboveMost(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	for range 600 {
		path := anyPath(t, r)
		for _, nm := range wavelengths {
			loss, ok := path.Loss(nm, r.IntN(2) == 0)
			if !ok {
				continue
			}
			require.LessOrEqual(t, loss.Least, loss.Most, "%v", path)
			require.LessOrEqual(t, loss.Mismatch, loss.Most, "%v", path)
			require.GreaterOrEqual(t, loss.Least, 0.0)
		}
		for _, o := range optics {
			if a, ok := Arriving(path, o, o, false); ok {
				require.LessOrEqual(t, a.Least, a.Most, "%s over %v", o.PHY, path)
				require.GreaterOrEqual(t, a.Pad, 0.0)
			}
		}
	}
}

// Too much light apart, which more loss mends, more of anything never gives
// more margin nor a better verdict.
func TestMoreInThePathNeverGivesMore(t *testing.T) {
	rank := map[Verdict]int{Allowed: 0, Depends: 1, NotAllowed: 2}
	r := rand.New(rand.NewPCG(4, 3))
	worse := 0
	for range 600 {
		path := anyPath(t, r)
		more := longer(path, r)
		for _, p := range FibrePHYs() {
			o := optic(t, p.Name)
			for _, towardsNear := range []bool{false, true} {
				a, ok := Arriving(path, o, o, towardsNear)
				b, okMore := Arriving(more, o, o, towardsNear)
				require.Equal(t, ok, okMore)
				require.LessOrEqual(t, b.Margin, a.Margin+1e-9, "%s over %v", p.Name, path)
				require.LessOrEqual(t, b.Pad, a.Pad+1e-9, "%s over %v", p.Name, path)
			}
			before, after := p.OverFibre(path).Verdict, p.OverFibre(more).Verdict
			require.NotEqual(t, NotJudged, before)
			if o.SendMost <= o.TakeMost {
				require.GreaterOrEqual(t, rank[after], rank[before], "%s over %v, then %v", p.Name, path, more)
			}
			if rank[after] > rank[before] {
				worse++
			}
		}
	}
	require.Greater(t, worse, 50, "the paths must lie about the limits, else nothing is shown")
}
