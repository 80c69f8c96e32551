package main

import (
	"math"
	"math/rand/v2"

	"toneout/internal/port"
)

// habit is how some of the ports behave. All of it is healthy: no habit has
// more errors than its physical layer may have, by the hour.
type habit struct {
	name  string
	share int // of 100 ports
	lay   func(*line, *rand.Rand)
}

// Loads, in bits received a minute: a desk's by day, and a server's at all
// times.
const (
	deskBusy = 1.2e9
	deskIdle = 3e7
	server   = 3e10
)

// objective is the bit error ratio that 1000BASE-T may have (IEEE 802.3
// 40.6.1.3.1).
const objective = 1e-10

const minutesOfDay = 24 * 60

var habits = []habit{
	{"clean", 41, func(l *line, _ *rand.Rand) {}},
	{"a trickle of single errors", 8, func(l *line, r *rand.Rand) {
		l.errors = &source{perMinute: (0.2 + 2*r.Float64()) / minutesOfDay, size: single}
	}},
	{"at a tenth of its objective", 4, func(l *line, _ *rand.Rand) { l.errors = &source{perBit: objective / 10, size: single} }},
	{"at its objective", 2, func(l *line, _ *rand.Rand) { l.errors = &source{perBit: objective, size: single} }},
	{"bursts of 20, daily", 3, func(l *line, _ *rand.Rand) { l.serve(&source{perMinute: 1.0 / minutesOfDay, size: geometric(20)}) }},
	{"bursts of 20, hourly", 2, func(l *line, _ *rand.Rand) { l.serve(&source{perMinute: 1.0 / 60, size: geometric(20)}) }},
	{"lognormal bursts, daily", 3, func(l *line, _ *rand.Rand) { l.serve(&source{perMinute: 1.0 / minutesOfDay, size: lognormal}) }},
	{"bursts of several polls", 3, func(l *line, r *rand.Rand) {
		days := float64(1 + r.IntN(3))
		l.serve(&source{perMinute: 1 / days / minutesOfDay, size: geometric(2.5), lasts: 4}) // a clean port's first that lasts twice as long is a fault by design
	}},
	{"a machine, 8 hours a day", 2, func(l *line, r *rand.Rand) { // from 1 poll in 20 to 2 in 5
		l.serve(&source{perMinute: 0.05 + 0.45*r.Float64(), size: geometric(3), from: 9, to: 17})
	}},
	{"asleep at night", 10, func(l *line, r *rand.Rand) { l.schedule = asleep(r) }},
	{"unplugged at the weekend", 4, func(l *line, r *rand.Rand) { l.schedule = unplugged(r) }},
	{"an old device", 4, func(l *line, r *rand.Rand) { l.old(r.IntN(3)) }},
	{"idle", 6, func(l *line, _ *rand.Rand) { l.empty = true }},
	{"restarts in the morning", 4, func(l *line, r *rand.Rand) { l.schedule = restarts(r) }},
	{"a fed telephone", 4, func(l *line, r *rand.Rand) { l.feed(r) }},
}

func single(*rand.Rand) uint64 { return 1 }

func geometric(mean float64) func(*rand.Rand) uint64 {
	return func(r *rand.Rand) uint64 {
		return 1 + uint64(math.Log(1-r.Float64())/math.Log(1-1/mean))
	}
}

// lognormal has a mean of 15 frames, and a hundred in 1 of 70.
func lognormal(r *rand.Rand) uint64 { return 1 + uint64(math.Exp(2+1.2*r.NormFloat64())) }

// serve makes the port a server's, which may have so many errors at all hours.
func (l *line) serve(errors *source) {
	l.busy, l.idle, l.errors = server, server, errors
}

// source is where errors come from: chance, by bits or by the clock.
type source struct {
	perBit, perMinute float64
	size              func(*rand.Rand) uint64 // frames in a poll
	lasts             int                     // polls that an episode has beyond the first, at most
	from, to          int                     // hours of the day; always where 0

	due  float64 // until the next, in events
	left int     // polls of the present episode
}

// errored is how many frames are damaged in a poll of so many bits.
func (s *source) errored(r *rand.Rand, bits float64, hour int) uint64 {
	if s.left > 0 {
		s.left--
		return s.size(r)
	}
	if s.to > 0 && (hour < s.from || hour >= s.to) {
		return 0
	}
	var errored uint64
	for s.due -= s.perBit*bits + s.perMinute; s.due < 0; s.due += r.ExpFloat64() {
		errored += s.size(r)
		if s.lasts > 0 {
			s.left = 1 + r.IntN(s.lasts)
		}
	}
	return errored
}

// state is how a link is at one minute of the week.
type state struct {
	up   bool
	mbps uint32
	rest bool // up for nobody
}

// schedule is what a device does to its link, by the minute since a Monday.
type schedule func(minute int) state

var running = state{up: true, mbps: 1000}

// workday tells the minute of the day, and whether it is of a working day.
func workday(minute int) (of int, works bool) {
	return minute % minutesOfDay, minute/minutesOfDay%7 < 5
}

// asleep is at 100 Mbit/s from the evening on, and at weekends.
func asleep(r *rand.Rand) schedule {
	from, to := 18*60+r.IntN(120), 7*60+r.IntN(120)
	return func(minute int) state {
		at, works := workday(minute)
		if works && at >= to && at < from {
			return running
		}
		return state{up: true, mbps: 100, rest: true}
	}
}

// unplugged is taken home on Fridays.
func unplugged(r *rand.Rand) schedule {
	from, to := 16*60+r.IntN(120), 8*60+r.IntN(120)
	return func(minute int) state {
		at, _ := workday(minute)
		switch day := minute / minutesOfDay % 7; {
		case day > 4, day == 4 && at >= from, day == 0 && at < to:
			return state{}
		}
		return running
	}
}

// restarts is off at night, and comes up twice in the morning: it loses its link
// three times in ten minutes.
func restarts(r *rand.Rand) schedule {
	to, from := 7*60+r.IntN(120), 17*60+r.IntN(120)
	return func(minute int) state {
		at, works := workday(minute)
		switch since := at - to; {
		case !works || since < 0 || at >= from, since == 2, since == 5, since == 9:
			return state{}
		}
		return running
	}
}

// old is a device that can do 100 Mbit/s: the record says so, is silent, or
// thinks that it can do more.
func (l *line) old(record int) {
	l.busy = deskBusy / 10
	l.schedule = func(int) state { return state{up: true, mbps: 100} }
	l.offers, l.record = fast, record
}

// feed is a telephone that restarts about once a week.
func (l *line) feed(r *rand.Rand) {
	weekly := r.IntN(7 * minutesOfDay)
	l.schedule = func(minute int) state {
		if m := minute % (7 * minutesOfDay); m == weekly {
			return state{}
		}
		return running
	}
	l.power = &port.Power{
		Enabled: port.Yes, Status: port.PowerDelivering, Class: port.Some(2), Absent: port.Some(uint32(0)),
		Invalid: port.Some(uint32(0)), Denied: port.Some(uint32(0)), Overloads: port.Some(uint32(0)), Shorts: port.Some(uint32(0)),
	}
}
