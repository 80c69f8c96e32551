package main

import (
	"math/rand/v2"
	"time"

	"toneout/internal/sequential"
)

// life is a port with its detector.
type life struct {
	port      port
	detector  sequential.Detector
	at        time.Time
	objective float64
	alarms    int
}

var begin = time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC) // a Monday

func (h habit) life(random *rand.Rand) *life {
	return &life{port: h.plug(random), at: begin, objective: h.objective}
}

// poll plays one and tells whether it alarmed.
func (l *life) poll(threshold float64) bool {
	l.at = l.at.Add(perPoll)
	errored, bits := l.port(l.at)
	was := l.detector.Open()
	l.detector.Update(sequential.Sample{At: l.at, Errored: errored, Bits: bits, Seconds: perPoll.Seconds()}, l.objective, threshold)
	if was || !l.detector.Open() {
		return false
	}
	l.alarms++
	return true
}

func (l *life) polls(polls int, threshold float64) {
	for range polls {
		l.poll(threshold)
	}
}

// calm spends all evidence, as an alarm does that then lets go, so that a run
// begins at 0.
func (l *life) calm() {
	s := sequential.Sample{At: l.at, Errored: 1, Bits: traffic, Seconds: perPoll.Seconds()}
	if !l.detector.Open() {
		l.detector.Update(s, l.objective, 0)
	}
	for l.detector.Open() {
		l.detector.Update(sequential.Sample{At: l.at, Bits: 1000 * traffic, Seconds: 1000 * perPoll.Seconds()}, l.objective, 0)
	}
}

// plantThreshold is the A of 48,000 ports polled each minute that may raise a
// false alarm a week.
var plantThreshold = sequential.Threshold(48_000, perPoll, 1)

// run is the mean number of polls to a false alarm.
type run struct {
	mean  float64 // of those cut off too, so that it is more in truth
	cut   int     // cut off without an alarm
	plays int
}

// falseRun lets ports learn their habit for so many days, and then plays each
// of them a few times at a small threshold, for ten times that many polls at
// most.
func (h habit) falseRun(random *rand.Rand, ports, days int, threshold float64) run {
	const plays = 3
	r := run{plays: ports * plays}
	for range ports {
		l := h.life(random)
		l.polls(days*pollsDay, plantThreshold)
		for range plays {
			l.calm()
			polls, most := 1, int(10*threshold)
			for ; polls < most && !l.poll(threshold); polls++ {
			}
			if polls == most {
				r.cut++
			}
			r.mean += float64(polls) / float64(r.plays)
		}
	}
	return r
}

// falseAlarms is how many ports of a plant raise in so many weeks.
func (h habit) falseAlarms(random *rand.Rand, ports, weeks int) (alarms int) {
	for range ports {
		l := h.life(random)
		l.polls(weeks*7*pollsDay, plantThreshold)
		alarms += l.alarms
	}
	return alarms
}
