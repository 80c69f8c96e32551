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
	total := 0
	for range plays {
		var d sequential.Detector
		poll := func(mean float64) {
			s := sequential.Sample{Errored: poisson(random, mean), Bits: traffic, Seconds: perPoll.Seconds()}
			d.Update(s, c.before/traffic, plantThreshold)
		}
		for range c.settled() {
			poll(c.before)
		}
		for ; !d.Open(); total++ {
			poll(c.after)
		}
	}
	return float64(total) / float64(plays)
}

// best is the mean delay of the CUSUM that knows both rates.
func (c climb) best(random *rand.Rand, plays int) float64 {
	test, total := best(c.before, c.after, plantThreshold), 0.0
	for range plays {
		total += test.run(random, c.after, test.watch(random, c.before, c.settled()))
	}
	return total / float64(plays)
}

// learned is the mean delay of a port that was clean for so many days.
func learned(random *rand.Rand, after float64, days, plays int) float64 {
	l := &life{port: poissonPort(0)(random), at: begin}
	l.polls(days*pollsDay, plantThreshold)
	total := 0
	for range plays {
		d := l.detector
		for at := l.at; !d.Open(); total++ {
			at = at.Add(perPoll)
			d.Update(sequential.Sample{At: at, Errored: poisson(random, after), Bits: traffic, Seconds: perPoll.Seconds()}, 0, plantThreshold)
		}
	}
	return float64(total) / float64(plays)
}
