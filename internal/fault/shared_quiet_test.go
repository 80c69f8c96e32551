package fault

import (
	"flag"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var sharedDays = flag.Int("days", 2, "days of a healthy plant of 5,000 runs with bursty ports; 70 for the table")

// habitual is how often ports of a healthy plant have a poll with damaged
// frames: nearly all seldom, one in fifty often. In working hours it is three
// times as often, everywhere at once, and a burst lasts a few polls.
var habitual = []float64{0, 0.0001, 0.0001, 0.0003, 0.001, 0.003}

const (
	oftenBursty = 0.02
	burstGoesOn = 3 // polls, in the mean
)

// In a healthy plant of 5,000 runs, damaged frames come together on runs of one
// pathway by chance alone. That makes no group: neither by chance at large, nor
// by the hours that all ports have in common.
func TestBurstyPortsOfAHealthyPlantMakeNoGroup(t *testing.T) {
	p := newPlantedPlant(t, 71, plantRuns, 0)
	tracker := p.tracker
	often, lasts := map[*portState]float64{}, map[*portState]bool{}
	for _, s := range tracker.order {
		for i, port := range s.order {
			often[port] = habitual[i%len(habitual)]
			if p.random.IntN(50) == 0 {
				often[port] = oftenBursty
			}
		}
	}
	began, bursts := tracker.at.Add(time.Minute), 0
	for minute := range *sharedDays * 24 * 60 {
		times := 1.0
		if hour := minute / 60 % 24; hour >= 8 && hour < 18 {
			times = 3
		}
		for i, s := range tracker.order {
			at := began.Add(time.Duration(minute)*time.Minute + time.Duration(i)*500*time.Millisecond)
			tracker.at = at
			for _, port := range s.order {
				chance := often[port] * times / burstGoesOn
				if lasts[port] {
					chance = 1 - 1.0/burstGoesOn
				}
				lasts[port] = p.random.Float64() < chance
				port.hits.observe(lasts[port], at, time.Minute)
			}
			tracker.coincide(s, at)
		}
		if tracker.shared.stale {
			tracker.shared.stale = false
			tracker.lookForCauses()
			for _, of := range tracker.shared.bursts {
				bursts = max(bursts, len(of))
			}
		}
		require.Empty(t, tracker.shared.held, "minute %d: bursts %v", minute, tracker.shared.bursts)
	}
	t.Logf("%d days: %d bursts within a day on one pathway at most", *sharedDays, bursts)
}
