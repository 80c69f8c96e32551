package sequential

import "math"

// Tests of whether events keep to a part of a circle: Rayleigh's for one broad
// stretch, a scan for a narrow one. Both lay the events out over their due, so
// that those that come as due are spread evenly.

// concentrated is the chance at which either test calls events concentrated.
const concentrated = 0.005

// leastEvents is how many it takes to say anything.
const leastEvents = 5

// rayleigh is the chance of a resultant as long as q of n unit vectors of even
// directions: exp{sqrt(1 + 4n + 4(n^2 - q^2)) - (1 + 2n)}. D. Wilkie, "Rayleigh
// test for randomness of circular data", Applied Statistics 32, 1983 (memory).
func rayleigh(n, q float64) float64 {
	return math.Exp(math.Sqrt(1+4*n+4*(n*n-q*q)) - (1 + 2*n))
}

// resultant is the length of the sum of the events' unit vectors, each spread
// over its bin's share of the circle, which is its share of what is due.
func resultant(events, due []float64, all float64) float64 {
	x, y, before := 0.0, 0.0, 0.0
	for i, d := range due {
		share := d / all
		if events[i] > 0 {
			sin, cos := math.Sincos(2 * math.Pi * (before + share/2))
			spread := 1.0
			if share > 0 {
				spread = math.Sin(math.Pi*share) / (math.Pi * share)
			}
			x += events[i] * spread * cos
			y += events[i] * spread * sin
		}
		before += share
	}
	return math.Hypot(x, y)
}

// Windows of the scan, as shares of what is due.
const (
	narrowest = 1.0 / 48
	widest    = 1.0 / 3
)

type window struct {
	from, length int
	inside, gain float64
}

// densest is the window whose events exceed their due the most, by
//
//	gain = o ln(o/nw) + (n - o) ln[(n - o)/(n - nw)]
//
// the log-likelihood ratio of another rate inside a window of share w with o of
// n events. M. Kulldorff, "A spatial scan statistic", 1997 (memory).
func densest(events, due []float64, n, all float64) (best window) {
	bins := len(events)
	for from := range events {
		if events[from] == 0 {
			continue // a better one begins later
		}
		o, share := 0.0, 0.0
		for length := 1; length < bins; length++ {
			at := (from + length - 1) % bins
			o += events[at]
			share += due[at] / all
			if share > widest*1.05 { // eight hours of a day, also where the first day was begun late
				break
			}
			if gain := scanGain(o, n, max(share, narrowest)); gain > best.gain {
				best = window{from, length, o, gain}
			}
		}
	}
	return best
}

func scanGain(o, n, w float64) float64 {
	if o <= n*w {
		return 0
	}
	gain := o * math.Log(o/(n*w))
	if o < n {
		gain += (n - o) * math.Log((n-o)/(n-n*w))
	}
	return gain
}

// scanTable is the gain that the densest of all windows exceeds with chance
// 0.005 where n events fall evenly; by a million plays each, which the tests
// repeat in small.
var scanTable = [...]struct{ n, gain float64 }{
	{5, 9.3}, {8, 10.0}, {12, 9.8}, {20, 9.9}, {40, 10.1}, {100, 10.5},
}

// scanCritical interpolates the table over ln n.
func scanCritical(n float64) float64 {
	for i := 1; i < len(scanTable); i++ {
		a, b := scanTable[i-1], scanTable[i]
		if n <= b.n {
			return a.gain + (b.gain-a.gain)*max(0, math.Log(n/a.n)/math.Log(b.n/a.n))
		}
	}
	return scanTable[len(scanTable)-1].gain
}
