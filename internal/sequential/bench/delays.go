package main

import (
	"math/rand/v2"

	"toneout/internal/sequential"
)

// climb is a change of the mean number of damaged frames a poll.
type climb struct{ before, after float64 }

var climbs = []climb{
	{6e-5, 3 * 6e-5}, {6e-5, 10 * 6e-5}, {6e-5, 100 * 6e-5},
	{0.003, 3 * 0.003}, {0.003, 10 * 0.003}, {0.003, 100 * 0.003},
	{0.03, 3 * 0.03}, {0.03, 10 * 0.03}, {0.03, 100 * 0.03},
	{0.3, 3 * 0.3}, {0.3, 10 * 0.3}, {0.3, 100 * 0.3},
	{6e-5, 60 * 1e6 * 1e-10}, {6e-5, 60 * 50e6 * 1e-10}, {6e-5, 60 * 500e6 * 1e-10}, // BER 1e-10 at 1, 50, 500 Mb/s
}

// settled is how many polls a test has watched before the climb: so many that
// it has forgotten its start.
func (c climb) settled() int { return int(min(5/c.before, 100_000)) }

// known is the mean delay of a detector that is told the rate before, as its
// objective.
func (c climb) known(random *rand.Rand, plays int) float64 {
	const each = 10 // climbs after the same past
	total := 0
	for range plays / each {
		var past sequential.Detector
		for range c.settled() {
			c.poll(&past, random, c.before)
		}
		for range each {
			for d := past; !d.Open(); total++ {
				c.poll(&d, random, c.after)
			}
		}
	}
	return float64(total) / float64(plays/each*each)
}

func (c climb) poll(d *sequential.Detector, random *rand.Rand, mean float64) {
	s := sequential.Sample{Errored: poisson(random, mean), Bits: traffic, Seconds: perPoll.Seconds()}
	d.Update(s, c.before/traffic, plantThreshold)
}

// best is the mean delay of the CUSUM that knows both rates.
func (c climb) best(random *rand.Rand, plays int) float64 {
	test, total := best(c.before, c.after, plantThreshold), 0.0
	for range plays {
		total += test.run(random, c.after, test.watch(random, c.before, c.settled()))
	}
	return total / float64(plays)
}

// habitual are climbs of ports that learned the rate before, for 30 days.
var habitual = []climb{
	{0, 0.006}, {0, 0.06}, {0, 0.3}, {0, 0.6}, {0, 3}, {0, 30}, {0, 300},
	{0.003, 0.03}, {0.003, 0.3}, {0.03, 0.3}, {0.03, 3},
}

// learned is the mean delay of ports that learned the rate before.
func (c climb) learned(random *rand.Rand, plays int) float64 {
	const ports, days = 10, 30
	total := 0
	for range ports {
		l := &life{port: poissonPort(c.before)(random), at: begin}
		l.polls(days*pollsDay, plantThreshold)
		for range plays / ports {
			climbed := &life{port: poissonPort(c.after)(random), at: l.at, detector: l.detector}
			for ; !climbed.detector.Open(); total++ {
				climbed.poll(plantThreshold)
			}
		}
	}
	return float64(total) / float64(plays/ports*ports)
}
