package fault

import (
	"math"
	"time"

	"toneout/internal/sequential"
)

// levels are how the share of damaged frames goes from hour to hour, and how
// evenly they come within the hour. A joint loses the same share at all hours, heat
// more of them by day, a cord another share after each movement; what a machine
// does comes in bursts of some seconds or minutes, whatever the hour.
type levels struct {
	Hours []anHour // oldest first, the present one last
}

// anHour is what was received within an hour of the clock, of which no more than
// its polls' sums are kept.
type anHour struct {
	Hour            int64 // since 1970
	Seconds         float64
	Bits, Squared   float64
	Errored, Paired float64 // frames, and pairs of these in the same poll
}

// levelHours is how many hours are kept: what a day does shows in two (common
// practice, no source).
const levelHours = 48

func (l *levels) take(s sequential.Sample) {
	hour := s.At.Unix() / 3600
	if n := len(l.Hours); n == 0 || l.Hours[n-1].Hour != hour {
		if n >= levelHours {
			l.Hours = append(l.Hours[:0], l.Hours[n-levelHours+1:]...)
		}
		l.Hours = append(l.Hours, anHour{Hour: hour})
	}
	h, k := &l.Hours[len(l.Hours)-1], float64(s.Errored)
	h.Seconds += s.Seconds
	h.Bits += s.Bits
	h.Squared += s.Bits * s.Bits
	h.Errored += k
	h.Paired += k * (k - 1) / 2
}

// What it takes to tell (common practice, no source).
const (
	leastInBurst = 10  // damaged frames in all, to tell of bursts,
	leastPaused  = 200 // seconds, to tell that there are none
	leastFrames  = 30  // and of hours
	leastInHour  = 5.0 // expected of an hour that is compared
	leastHours   = 5   // such hours
	evenWithin   = 2.5 // times as many from the poorest such hour to the richest
	apartBy      = 5.0 // likewise, beyond chance
	burstsWithin = 3.0 // times as many pairs as single frames make
	warmBy       = 3.0 // times as many by day
)

// items are what they show.
func (l *levels) items(at *time.Location) (seen items) {
	var sum anHour
	single, paired := 0.0, 0.0
	for _, h := range l.Hours {
		sum.Bits += h.Bits
		sum.Errored += h.Errored
		if h.Errored >= 2 {
			single += h.Errored * (h.Errored - 1) / 2 * h.Squared / (h.Bits * h.Bits)
			paired += h.Paired
			sum.Seconds += h.Seconds
		}
	}
	if sum.Errored < leastInBurst {
		return nil
	}
	seen.see(shortBursts, paired > burstsWithin*single+2)
	seen.see(noShortBursts, sum.Seconds >= leastPaused && single >= leastInHour && paired < burstsWithin/2*single)
	if sum.Errored < leastFrames {
		return seen
	}
	rate := sum.Errored / sum.Bits
	low, high, compared := math.Inf(1), 0.0, 0
	lowest, highest := low, high // within chance
	var day, night anHour
	for _, h := range l.Hours {
		expected := rate * h.Bits
		switch hour := time.Unix(h.Hour*3600, 0).In(at).Hour(); {
		case hour >= 11 && hour < 18:
			day.Bits += h.Bits
			day.Errored += h.Errored
		case hour < 7:
			night.Bits += h.Bits
			night.Errored += h.Errored
		}
		if expected < leastInHour {
			continue
		}
		compared++
		slack := 2 * math.Sqrt(h.Errored+1)
		low, high = min(low, h.Errored/expected), max(high, h.Errored/expected)
		lowest, highest = min(lowest, (h.Errored+slack)/expected), max(highest, (h.Errored-slack)/expected)
	}
	seen.see(evenHours, compared >= leastHours && high < evenWithin*low)
	seen.see(unevenHours, compared >= leastHours && highest > apartBy*lowest)
	if day.Bits > 0 && night.Bits > 0 {
		expected := night.Bits * day.Errored / day.Bits
		seen.see(warmHours, day.Errored >= leastFrames && expected > leastInHour && warmBy*(night.Errored+2*math.Sqrt(night.Errored+1)) < expected)
		seen.see(nightToo, rate*night.Bits > leastInHour && night.Errored/night.Bits > day.Errored/day.Bits/2)
	}
	return seen
}
