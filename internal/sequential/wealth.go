package sequential

// ratios are the climbs over the bound that a detector bets on.
var ratios = [...]float64{3, 10, 30, 100, 300, 1e3, 1e4, 1e5}

// wealth is one channel's e-process in Shiryaev-Roberts form, one for each
// ratio. While the mean of x given the past stays at or below mu, each of them
// less the number of polls is a supermartingale, so reaching A takes A polls in
// the mean at least. J. Shin, A. Ramdas and A. Rinaldo, "E-detectors: a
// nonparametric framework for sequential change detection", 2022 (memory).
//
// Seven digits are enough: what they round off is less than a poll in ten
// million, and a plant has 48,000 ports.
type wealth [len(ratios)]float32

// wager is what one channel bets on in one poll: x, whose mean is m by the
// record and at most mu given what was just seen; without such a guard mu is m.
// Both are above 0.
type wager struct{ x, m, mu float64 }

func (w *wealth) update(bet wager) {
	scale := bet.m / bet.mu
	for i, ratio := range ratios {
		stake := max(0, ratio*scale-1)
		w[i] = float32((float64(w[i]) + 1) * (1 + stake*bet.x) / (1 + stake*bet.mu))
	}
}

func (w *wealth) mean() float64 {
	sum := 0.0
	for _, v := range w {
		sum += float64(v)
	}
	return sum / float64(len(w))
}

// restingScale is the mean over the ratios of 1/(ratio - 1).
var restingScale = func() float64 {
	sum := 0.0
	for _, ratio := range ratios {
		sum += 1 / (ratio - 1)
	}
	return sum / float64(len(ratios))
}()

// resting is the level about which the mean hovers while nothing happens:
// the mean over the ratios of 1/(stake m).
func resting(m float64) float64 { return restingScale / m }

// Channels: the size of the loss, whether there was any, and whether it was
// larger than any on record.
const (
	size = iota
	errored
	record
	channels
)

type (
	wagers  [channels]wager
	weights [channels]float64 // 0: the channel does not count
)

// update bets on every channel there is a wealth for.
func (w *wagers) update(wealths []wealth) {
	for c := range wealths {
		wealths[c].update(w[c])
	}
}

// level is the evidence in the wealths.
func (w *weights) level(wealths []wealth) float64 {
	sum := 0.0
	for c := range wealths {
		if w[c] > 0 {
			sum += w[c] * wealths[c].mean()
		}
	}
	return sum
}

// rest is the level at rest with such bounds.
func (w *weights) rest(bets *wagers) float64 {
	sum := 0.0
	for c, weight := range w {
		if weight > 0 {
			sum += weight * resting(bets[c].m)
		}
	}
	return sum
}
