package port

import "time"

// Refresh learns how often a switch renews the counters that it serves. Some
// serve them from a cache of 5 to 30 seconds: polled faster than that, the
// counters of all ports stand still in some polls and then jump together. The
// zero value is ready and knows of no cache. What was learnt, in its exported
// fields, can be written down.
type Refresh struct {
	Every time.Duration // what was learnt; 0 where counters are not seen to be cached
	Seen  int           // times that they stood still together and then moved together

	jumped  time.Time // when busy ports last moved together
	still   int       // polls since in which none of them moved
	patient int       // polls since the last such time
	frozen  float64   // seconds in which no counter of any port with a link moved
}

// Movement is what one poll showed of a switch's counters.
type Movement struct {
	Busy    int     // ports that receive so much that some frame was to be expected
	Moved   int     // of these, ports whose received frames moved
	Any     bool    // whether a counter of any port with a link moved
	Links   int     // ports with a link whose counters can be compared
	Seconds float64 // since the poll before
}

// How a cache is told from traffic that pauses: two busy ports at least move
// and stand still together, that often within so many polls. What takes longer
// than the longest refresh is no cache (common practice, no source).
const (
	cacheBusyPorts  = 2
	cacheSightings  = 3
	cachePatience   = 30
	longestRefresh  = 2 * time.Minute
	movedTogether   = 2.0 / 3
	refreshesToSpan = 2
)

// Observe takes one poll. A switch with too little traffic to tell teaches
// nothing: what was learnt stays.
func (f *Refresh) Observe(at time.Time, m Movement) {
	f.freeze(m)
	if m.Busy < cacheBusyPorts {
		return
	}
	f.patient++
	switch {
	case m.Moved == 0:
		f.still++
	case float64(m.Moved) < movedTogether*float64(m.Busy):
		f.apart()
	default:
		f.jump(at)
	}
	if f.patient > cachePatience {
		f.Every, f.Seen = 0, 0
	}
}

// apart takes that some busy ports moved and others did not: pauses of traffic,
// unless a cache is known, beside which traffic may pause too.
func (f *Refresh) apart() {
	f.still = 0
	if f.Seen < cacheSightings {
		f.Seen = 0
	}
}

// jump takes that the busy ports moved together. The shortest time between two
// jumps with a pause between is the refresh time, to a polling interval.
func (f *Refresh) jump(at time.Time) {
	gap := at.Sub(f.jumped)
	if f.still > 0 && !f.jumped.IsZero() && gap <= longestRefresh {
		if f.Seen == 0 || gap < f.Every {
			f.Every = gap
		}
		f.Seen++
		f.patient = 0
	}
	f.jumped, f.still = at, 0
}

func (f *Refresh) freeze(m Movement) {
	switch {
	case m.Any || m.Links == 0:
		f.frozen = 0
	default:
		f.frozen += m.Seconds
	}
}

// Span is the least time to compare counters over, so that two refreshes lie
// between; 0 where no cache is known.
func (f *Refresh) Span() time.Duration {
	if f.Seen < cacheSightings {
		return 0
	}
	return refreshesToSpan * f.Every
}

// Frozen is for how long no counter of any port with a link has moved.
func (f *Refresh) Frozen() time.Duration { return time.Duration(f.frozen * float64(time.Second)) }

// Moved tells whether a port's counters of traffic moved between two readings
// of it, those of received frames apart; told is false where the port had no
// link in both or tells no traffic.
func Moved(previous, next *Reading) (received, any, told bool) {
	if previous == nil || previous.Oper != Up || next.Oper != Up || previous.Index != next.Index {
		return false, false, false
	}
	for k := InOctets; k <= OutBroadcast; k++ {
		if !previous.Counters.Has(k) || !next.Counters.Has(k) {
			continue
		}
		told = true
		if previous.Counters.values[k] != next.Counters.values[k] {
			any = true
			received = received || k <= InBroadcast
		}
	}
	return received, any, told
}
