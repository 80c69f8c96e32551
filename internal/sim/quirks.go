package sim

import (
	"math"
	"slices"
	"strings"
	"time"
)

// Quirks are the ways in which switches in the field differ from the letter
// of their MIBs. The zero value is a switch without any. None has a source but
// common practice; what the MIBs say instead stands beside each.
type Quirks struct {
	// Refresh: counters come from a cache that is filled this often; those of
	// dot3Stats, RMON and the MAUs two fifths of it later than ifTable's.
	Refresh time.Duration
	// NarrowWhenSlow: a port has no 64-bit counters while its link is at 20
	// Mb/s or below, where RFC 2863 section 3.1.6 asks for 32 bits only.
	NarrowWhenSlow bool
	// ClearsOnLinkUp: a port's counters begin anew with each link.
	ClearsOnLinkUp bool
	// Stamps: ifCounterDiscontinuityTime tells when counters began anew, as
	// RFC 2863 wants; without it the object stays 0.
	Stamps bool
	// SpeedOfDown: ifSpeed and ifHighSpeed of a port without a link are the
	// greatest it can do.
	SpeedOfDown bool
	// NoVirtualSpeed: both are 0 on every row that is no port.
	NoVirtualSpeed bool
	// SaturatedSpeed: ifSpeed is 4294967295, "too fast for this object" by
	// RFC 2863, on every row that has a speed.
	SaturatedSpeed bool
	// DuplexUnknown: dot3StatsDuplexStatus is always unknown(1).
	DuplexUnknown bool
	// PaddedNames: ifName, ifDescr and ifAlias are filled with NULs to 32
	// octets and have control bytes at their ends.
	PaddedNames bool
	// Optics is how the sensors of optics are shown.
	Optics OpticQuirks
	// RunningPower: pethPsePortIndex runs through a stack in one group, where
	// other switches start anew with each member's own group.
	RunningPower bool
}

// SetQuirks gives the switch other quirks from now on.
func (s *Switch) SetQuirks(now time.Time, q Quirks) {
	s.campus.Do(now, func() {
		s.quirk(q)
		s.campus.listCaches()
	})
}

func (s *Switch) quirk(q Quirks) {
	s.quirks, s.columns = q, nil
	if q.Refresh > 0 {
		at := s.campus.elapsed
		s.refreshed = refresh{plain: at + q.Refresh, ether: at + q.Refresh*2/5}
		for _, p := range s.ports {
			p.capture()
		}
	}
}

// ClearCounters begins every counter of the switch's ports anew, as its
// console's command does.
func (s *Switch) ClearCounters(now time.Time) {
	s.campus.Do(now, func() {
		for _, p := range s.ports {
			p.clear(s.campus.elapsed)
		}
	})
}

func (p *Port) clear(at time.Duration) {
	p.line.Counters = Counters{}
	p.cleared = at
}

// rose is what a switch does when a port's link comes up.
func (p *Port) rose(at time.Duration) {
	if p.owner.quirks.ClearsOnLinkUp {
		p.clear(at)
	}
	if p.owner.quirks.NarrowWhenSlow {
		p.owner.columns = nil
	}
}

// cache is a port's counters as they were when last looked at.
type cache struct{ plain, ether Counters }

func (p *Port) capture() { p.cache = cache{p.line.Counters, p.line.Counters} }

// refresh is when the two halves of the cache are filled next.
type refresh struct{ plain, ether time.Duration }

// refresh fills what is due of the cache.
func (s *Switch) refresh(at time.Duration) {
	for at >= s.refreshed.plain {
		s.refreshed.plain += s.quirks.Refresh
		for _, p := range s.ports {
			p.cache.plain = p.line.Counters
		}
	}
	for at >= s.refreshed.ether {
		s.refreshed.ether += s.quirks.Refresh
		for _, p := range s.ports {
			p.cache.ether = p.line.Counters
		}
	}
}

func (c *Campus) listCaches() {
	c.caching = slices.DeleteFunc(slices.Clone(c.switches), func(s *Switch) bool { return s.quirks.Refresh <= 0 })
}

// disguise shows a row as the switch would.
func (q Quirks) disguise(i *iface) {
	speed := i.speed
	switch {
	case !i.connector && q.NoVirtualSpeed:
		speed = 0
	case i.connector && !i.up && q.SpeedOfDown:
		speed = slices.Max(i.port.speeds)
	}
	i.megabits, i.bits = uint64(speed), uint64(speed)*1_000_000
	if speed > 0 && q.SaturatedSpeed {
		i.bits = math.MaxUint32
	}
	i.mute = q.DuplexUnknown
	if q.PaddedNames {
		i.name, i.descr, i.alias = padded(i.name), padded(i.descr), padded(i.alias)
	}
}

func padded(name string) string {
	name = "\x02" + name + "\r\n"
	return name + strings.Repeat("\x00", max(32-len(name), 1))
}
