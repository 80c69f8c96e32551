package fault

import (
	"fmt"
	"slices"
	"time"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// Holding rule of link-flapping.
const (
	flapsTakeHold = 5
	// Of losses each of which may have been a restart between two polls.
	unsureTakeHold = 2 * flapsTakeHold
	restartsAgain  = 24 * time.Hour // a device that did
	flapsWithin    = time.Hour
	flapsLetGo     = time.Hour
)

// A device that restarts is without a link for 20 to 120 seconds, and may lose
// it for moments before and after; a loose plug is back within 10 (common
// practice, no source).
const (
	shortestRestart = 20 * time.Second
	longestRestart  = 120 * time.Second
	aroundRestart   = 2 * time.Minute
)

// flapTest watches for a link that comes and goes. The zero value has seen no
// loss.
type flapTest struct {
	Open bool
	Seen *flapping // nil where no loss was seen in the last hour

	PowerLost bool // a device that is fed stopped drawing power meanwhile
}

// flapping is what was seen of losses.
type flapping struct {
	Since     time.Time       // the first loss of those that took hold
	Losses    []time.Time     // the last ones that count, oldest first
	Short     time.Time       // the last of those that was no restart for sure,
	Unsure    int             // and how many came since
	DownSince time.Time       // of a loss that is not known yet to count; zero for none
	Speed     standards.Speed // before that loss
	Restarted time.Time       // when the device was last back from a restart
	Excused   []time.Time     // losses of the last hour that were as long as one, oldest first
}

func (c *flapTest) isOpen() bool { return c.Open && c.Seen != nil && len(c.Seen.Losses) > 0 }

// observe takes how often the link changed since the previous reading. What a
// restart of the switch did, or what happened to many of its ports at once, is
// no flap, nor is what somebody does to the port's setting.
func (c *flapTest) observe(p *portState, previous *port.Reading, changes int, many bool) {
	r := p.reading
	c.expire(r.At)
	if previous == nil && c.Seen != nil {
		c.Seen.DownSince = time.Time{} // it may have come back and gone again
	}
	if previous == nil || r.Oper == port.StatusAbsent || c.Seen == nil && changes == 0 {
		return
	}
	if many || r.Admin == port.Down || p.reason == port.Restarted {
		if c.Seen != nil {
			c.Seen.DownSince = time.Time{}
		}
		return
	}
	if c.Seen == nil {
		c.Seen = &flapping{}
	}
	c.Seen.take(p, previous, changes, c.Open)
	c.hold(r.At)
}

func (c *flapTest) hold(at time.Time) {
	if s := c.Seen; !c.Open && len(s.Losses) == flapsTakeHold && at.Sub(s.Losses[0]) <= flapsWithin && (!s.Short.Before(s.Losses[0]) || s.Unsure >= unsureTakeHold && at.Sub(s.Restarted) > restartsAgain) {
		c.Open, s.Since = true, s.Losses[0]
	}
}

// lostPower takes how often a device that the port feeds stopped drawing power,
// which is told later than its losses. One that restarts goes on drawing; a plug
// that loses contact makes it start (common practice, no source), so that what
// looked like a restart was none.
func (c *flapTest) lostPower(times uint32, at time.Time) {
	s := c.Seen
	c.PowerLost = c.PowerLost || s != nil && times > 0
	if s == nil || times == 0 || len(s.Excused) == 0 {
		return
	}
	from := max(0, len(s.Excused)-int(min(times, flapsTakeHold)))
	s.Losses = slices.Concat(s.Losses, s.Excused[from:])
	slices.SortFunc(s.Losses, time.Time.Compare)
	s.Losses = slices.Clone(s.Losses[max(0, len(s.Losses)-flapsTakeHold):])
	s.Excused, s.Short, s.Unsure = s.Excused[:from], at, 0
	c.hold(at)
}

// expire forgets what is over. A loss that may still turn out to count is kept.
func (c *flapTest) expire(at time.Time) {
	s := c.Seen
	if s == nil || !s.DownSince.IsZero() {
		return
	}
	for len(s.Excused) > 0 && at.Sub(s.Excused[0]) > flapsWithin {
		s.Excused = s.Excused[1:]
	}
	if n := len(s.Losses); n == 0 && len(s.Excused) == 0 && at.Sub(s.Restarted) > aroundRestart || n > 0 && at.Sub(s.Losses[n-1]) > flapsLetGo {
		*c = flapTest{}
	}
}

// take counts losses. The last one of a link that is down now counts when it
// is too long for a restart, or was found to be too short.
func (s *flapping) take(p *portState, previous *port.Reading, changes int, open bool) {
	r := p.reading
	lost := changes / 2
	if previous.Oper == port.Up {
		lost = (changes + 1) / 2
	}
	switch up := r.Oper == port.Up; {
	case !up && lost > 0:
		s.countShort(lost-1, r.At)
		s.DownSince, s.Speed = p.downSince, previous.Speed()
	case !up && !s.DownSince.IsZero() && r.At.Sub(s.DownSince) > longestRestart:
		s.countShort(1, s.DownSince)
		s.DownSince = time.Time{}
	case up && !s.DownSince.IsZero():
		s.back(r, open)
		s.countShort(lost, r.At)
	case up && previous.Oper == port.Up && previous.Speed() != r.Speed():
		s.countShort(lost-1, r.At)
	case up && mayBeRestart(previous, r, lost):
		s.Unsure++
		s.count(lost, r.At)
	case up:
		s.countShort(lost, r.At)
	}
}

// mayBeRestart tells whether what came and went between two readings, with a link at
// both, may have been one restart: the link was up again late enough.
func mayBeRestart(previous, r *port.Reading, lost int) bool {
	at, told := lastChange(r)
	return lost == 1 && told && at.Sub(previous.At) >= shortestRestart && r.At.Sub(previous.At) <= longestRestart
}

// back ends a loss: one that lasted as long as a restart does not count, nor do
// those shortly before it, except of a fault that is open. One that comes back at
// another speed was to change it, as a device does that falls asleep or wakes;
// where that is a fault, it is one of speed.
func (s *flapping) back(r *port.Reading, open bool) {
	at, told := lastChange(r)
	gap := at.Sub(s.DownSince)
	switch {
	case told && gap >= shortestRestart && gap <= longestRestart:
		for n := len(s.Losses); !open && n > 0 && s.DownSince.Sub(s.Losses[n-1]) < aroundRestart; n-- {
			s.Losses = s.Losses[:n-1]
		}
		s.Restarted = at
		s.Excused = append(s.Excused[max(0, len(s.Excused)+1-flapsTakeHold):], s.DownSince)
	case s.Speed == r.Speed():
		s.countShort(1, s.DownSince)
	}
	s.DownSince = time.Time{}
}

// countShort counts losses that were no restarts.
func (s *flapping) countShort(losses int, at time.Time) {
	if losses > 0 {
		s.Short, s.Unsure = at, 0
	}
	s.count(losses, at)
}

func (s *flapping) count(losses int, at time.Time) {
	if !s.Restarted.IsZero() && at.Sub(s.Restarted) < aroundRestart {
		return
	}
	for range min(max(losses, 0), flapsTakeHold) {
		s.Losses = append(s.Losses, at)
	}
	if over := len(s.Losses) - flapsTakeHold; over > 0 {
		s.Losses = append([]time.Time(nil), s.Losses[over:]...)
	}
}

func (c *flapTest) finding(p *portState) finding {
	s := c.Seen
	last := p.hour.sum()
	latest := s.Losses[len(s.Losses)-1]
	f := finding{port: p, kind: LinkFlapping, since: s.Since, prior: before{Prior: priors[LinkFlapping][p.made()]}, seen: p.runItems(s.Since)}
	if d := p.suffering(); p.made() == ofFibre {
		f.seen = p.fibreItems(&d, s.Since)
	}
	f.seen.see(powerLost, c.PowerLost)
	f.seen.see(errorsBeside, last.Errored > 0)
	f.seen.see(cleanBeside, last.Counted() && last.Errored == 0)
	f.summary = fmt.Sprintf("%v lost its link at least %d times within %s.",
		p.ref, len(s.Losses), roughly(latest.Sub(s.Losses[0])))
	f.evidence = withoutEmpty(
		flapSentence(last.LinkChanges),
		p.upSentence(),
		p.powerSentence(),
		p.errorsBeside(last.Hour),
		p.passesSentence(),
		p.Onset.sentence(s.Since),
	)
	return f
}

// upSentence tells whether there is a link now.
func (p *portState) upSentence() string {
	switch {
	case p.reading.Oper == port.Up:
		return fmt.Sprintf("The link is up now, at %v.", p.reading.Speed())
	case p.downSince.IsZero():
		return "The link is down now."
	}
	return fmt.Sprintf("The link is down now, for %s.", roughly(p.reading.At.Sub(p.downSince)))
}

func (p *portState) errorsBeside(hour Hour) string {
	if hour.Errored == 0 {
		return ""
	}
	return p.damagedSentence(hour)
}

// roughly tells a time in the unit that fits.
func roughly(d time.Duration) string {
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%.0f seconds", d.Seconds())
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f minutes", d.Minutes())
	case d < 48*time.Hour:
		return fmt.Sprintf("%.0f hours", d.Hours())
	}
	return fmt.Sprintf("%.0f days", d.Hours()/24)
}
