package sequential

import "math"

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
// Both are above 0. one is what x is in a poll with a single damaged frame.
type wager struct{ x, m, mu, one float64 }

// Of each stake only such a part is bet.
func (w *wealth) update(bet wager, part float64) {
	scale := bet.m / bet.mu
	for i, ratio := range ratios {
		stake := part * max(0, ratio*scale-1)
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
	means   [channels]float64 // of x
	weights [channels]float64 // 0: the channel does not count
)

// update bets on every channel there is a wealth for, and no more than it
// takes to win: what a poll with one damaged frame would bring above the limit
// is of no use, and what was staked for it would be missing in the next poll.
func (w *wagers) update(wealths []wealth, by *weights, limit float64) {
	part := 1.0
	if (by.level(wealths)+1)*ratios[len(ratios)-1] >= limit {
		part = w.enough(wealths, by, limit)
	}
	for c := range wealths {
		if by[c] == 0 { // unwatched it might grow without end, and count one day
			wealths[c] = wealth{}
			continue
		}
		wealths[c].update(w[c], part)
	}
}

// enough is the least part of the stakes with which one damaged frame reaches
// the limit, to a hundredth or so; 1 where all of them don't.
func (w *wagers) enough(wealths []wealth, by *weights, limit float64) float64 {
	least := *w
	for c := range least {
		least[c].x = least[c].one
	}
	reaches := func(part float64) bool {
		sum := 0.0
		for c := range wealths {
			if by[c] > 0 {
				tried := wealths[c]
				tried.update(least[c], part)
				sum += by[c] * tried.mean()
			}
		}
		return sum >= limit
	}
	high := 1.0
	if !reaches(high) {
		return high
	}
	low := 0.1 / ratios[len(ratios)-1]
	for range 11 { // of the logarithm
		if middle := math.Sqrt(low * high); reaches(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return high
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

// rest is the level at rest under such means.
func (w *weights) rest(by means) float64 {
	sum := 0.0
	for c, weight := range w {
		if weight > 0 {
			sum += weight * resting(by[c])
		}
	}
	return sum
}
