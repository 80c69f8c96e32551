package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// cached serves a link's counters as they were at the last refresh of a cache.
func cached(s *scene, l *link, refresh time.Duration) {
	var served port.Counters
	last := int64(-1)
	l.edit = func(r *port.Reading) {
		if now := s.now.Sub(start).Nanoseconds() / refresh.Nanoseconds(); now != last {
			served, last = r.Counters, now
		}
		r.Counters = served
	}
}

func busyScene(t *testing.T, every time.Duration) (*scene, []*link) {
	links := []*link{gigabitLink("1/1"), gigabitLink("1/2"), gigabitLink("1/3")}
	for i, l := range links {
		l.index, l.frames = i+1, 10_000
	}
	s := newScene(t, []*plant.Run{horizontal("R1", "1/1"), horizontal("R2", "1/2"), horizontal("R3", "1/3")}, links...)
	s.every = every
	return s, links
}

// Agents that renew counters every 30 s are common practice, no source.
func TestCachedCountersShowNoPauses(t *testing.T) {
	s, links := busyScene(t, 10*time.Second)
	for _, l := range links {
		cached(s, l, 30*time.Second)
	}
	links[0].fellBack()
	s.polls(30)
	var carried uint64
	for range 20 {
		p, _ := s.polls(1).Switches[0].Port("1/2")
		if p.Carried != carried {
			require.GreaterOrEqual(t, p.Carried-carried, uint64(50_000), "two refreshes at least")
		}
		carried = p.Carried
	}
	require.Equal(t, OpenPair, only(t, s.tracker.Snapshot()).Cause(), "the slow port is in use, not asleep")
}

func TestTheLinkCountsInEachPollOfCachedCounters(t *testing.T) {
	s, links := busyScene(t, 10*time.Second)
	for _, l := range links {
		cached(s, l, 30*time.Second)
	}
	s.polls(30)
	require.NotZero(t, s.tracker.switches["sw-1"].refresh.Span())
	before, _ := s.tracker.Snapshot().Switches[0].Port("1/1")
	for range 3 {
		links[0].oper = port.Down
		p, _ := s.polls(1).Switches[0].Port("1/1")
		require.Equal(t, port.Down, p.Oper)
		links[0].oper = port.Up
		s.polls(1)
	}
	after, _ := s.polls(6).Switches[0].Port("1/1")
	require.Equal(t, before.LinkChanges+6, after.LinkChanges, "each change once")
	require.Equal(t, 6, s.tracker.switches["sw-1"].ports["1/1"].hour.sum().LinkChanges)
	total, _ := after.Totals.Get(port.InUnicast)
	require.GreaterOrEqual(t, total, links[0].good-10*links[0].frames, "all but what the cache still holds, and the first reading")
	require.Positive(t, links[0].good-10*links[0].frames)
}

// In each poll that shows errors there are frames, though the switch renews its
// columns at different moments.
func TestErrorsOfAnotherAgeThanTheirFrames(t *testing.T) {
	s, links := busyScene(t, 10*time.Second)
	for _, l := range links {
		l.errored = 0.2
		cached(s, l, 30*time.Second)
		older, inner := port.Counters{}, l.edit
		poll := 0
		l.edit = func(r *port.Reading) {
			fresh := r.Counters
			inner(r)
			if poll++; poll%3 == 0 {
				older = fresh
			}
			bad, _ := older.Get(port.FCS)
			r.Counters.Set32(port.FCS, uint32(bad))
		}
	}
	s.polls(30)
	for range 30 {
		before, _ := s.tracker.Snapshot().Switches[0].Port("1/1")
		now, _ := s.polls(1).Switches[0].Port("1/1")
		bad := func(p *Port) uint64 { n, _ := p.Totals.Get(port.FCS); return n }
		frames := func(p *Port) uint64 { n, _ := p.Totals.FramesIn(); return n }
		if bad(now) > bad(before) {
			require.Greater(t, frames(now), frames(before))
		}
	}
}

// Pulling a plug damages frames. A switch that renews its counters later than
// its link status shows them when the link is long gone.
func TestErrorsThatShowAfterTheLinkWentAreThePlugs(t *testing.T) {
	s, links := busyScene(t, time.Minute)
	s.polls(10)
	links[0].oper = port.Down
	s.polls(1)
	links[0].bad += 500
	links[0].octets += 5000
	require.Empty(t, s.polls(5).Faults)
	links[0].oper = port.Up
	require.Empty(t, s.polls(5).Faults)
}

func TestAQuietNightIsNoCache(t *testing.T) {
	s, links := busyScene(t, 10*time.Second)
	s.polls(30)
	poll := 0
	for i, l := range links {
		l.frames = 0
		l.edit = func(r *port.Reading) { // a frame or two now and then, each by itself
			if i == 0 {
				poll++
			}
			if (poll+i)%7 == 0 {
				l.good++
				l.octets += 64
			}
		}
	}
	s.polls(400)
	require.Zero(t, s.tracker.switches["sw-1"].refresh.Span())
	require.Empty(t, s.tracker.Snapshot().Faults)
	require.Equal(t, Healthy, s.state("R1"))
}

func TestCountersThatStandStillWhileLinksAreUpTellNothing(t *testing.T) {
	s, links := busyScene(t, time.Minute)
	s.polls(10)
	for _, l := range links {
		var stuck *port.Counters
		l.edit = func(r *port.Reading) {
			if stuck == nil {
				c := r.Counters
				stuck = &c
			}
			r.Counters = *stuck
		}
	}
	s.polls(9)
	require.Equal(t, Healthy, s.state("R1"))
	links[0].fellBack()
	s.polls(5)
	p, _ := s.tracker.Snapshot().Switches[0].Port("1/2")
	require.Contains(t, p.Unjudged, "all counters of the switch have stood still for 1")
	require.Equal(t, Unknown, s.state("R2"))
	for _, l := range links {
		l.edit = nil
	}
	s.polls(2)
	require.Equal(t, Healthy, s.state("R2"))
}

// Some switches keep no 64-bit counters below 20 Mbit/s (RFC 2863 3.1.6 asks
// for them from 20 Mbit/s on): a port that goes to sleep changes their width.
func TestAPortWhoseCountersChangeTheirWidth(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	l.good, l.octets = 1<<40, 1<<50
	s.polls(10)
	before, _ := s.tracker.Snapshot().Switches[0].Port("1/17")
	had, _ := before.Totals.FramesIn()
	l.frames, l.mbps, l.mau = 30, 10, 0
	l.edit = func(r *port.Reading) {
		for _, k := range []port.Counter{port.InOctets, port.InUnicast} {
			v, _ := r.Counters.Get(k)
			r.Counters.Set32(k, uint32(v))
		}
	}
	after, _ := s.polls(11).Switches[0].Port("1/17")
	has, _ := after.Totals.FramesIn()
	require.Equal(t, had+10*30, has, "one poll is lost to the new baseline")
	l.edit = nil
	l.gigabitAgain()
	l.frames = 60_000
	after, _ = s.polls(2).Switches[0].Port("1/17")
	now, _ := after.Totals.FramesIn()
	require.Equal(t, has+60_000, now)
}
