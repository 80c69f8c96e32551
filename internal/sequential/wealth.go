package sequential

// ratios are the climbs over the bound that a detector bets on.
var ratios = [...]float64{3, 10, 30, 100, 300, 1e3, 1e4, 1e5}

// wealth is one channel's e-process in Shiryaev-Roberts form, one for each
// ratio. While the mean of x given the past stays at or below mu, each of them
// less the number of polls is a supermartingale, so reaching A takes A polls in
// the mean at least. J. Shin, A. Ramdas and A. Rinaldo, "E-detectors: a
// nonparametric framework for sequential change detection", 2022 (memory).
type wealth [len(ratios)]float64

// update bets on x, whose mean is m by the record and at most mu given what
// was just seen; without such a guard mu is m. Both are above 0.
func (w *wealth) update(x, m, mu float64) {
	for i, ratio := range ratios {
		stake := max(0, ratio*m/mu-1)
		w[i] = (w[i] + 1) * (1 + stake*x) / (1 + stake*mu)
	}
}

func (w *wealth) mean() float64 {
	sum := 0.0
	for _, v := range w {
		sum += v
	}
	return sum / float64(len(w))
}

// resting is the level about which the mean hovers while nothing happens:
// the mean over the ratios of 1/(stake m).
func resting(m float64) float64 {
	sum := 0.0
	for _, ratio := range ratios {
		sum += 1 / ((ratio - 1) * m)
	}
	return sum / float64(len(ratios))
}
