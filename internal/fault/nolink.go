package fault

import (
	"fmt"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// powerDecides is within what time of its start a switch has found whether it has
// power for a device: it asks it again and again, each time in a second or so (IEEE 802.3
// clause 33; the half minute is common practice, no source).
const powerDecides = 30 * time.Second

// startsWithin is within what time a telephone, a camera or an access point that starts
// anew has its link back (common practice, no source).
const startsWithin = 5 * time.Minute

// noLinkTakesHold is after how many polls without a link.
const noLinkTakesHold = 3

// A port is used to a link where it had one for over 99.5 % of 30 days; some
// days of that tell that its device is never switched off. A habit that was
// given up a week ago is none: the device was taken away.
const (
	month       = 30 * 24 * time.Hour
	usedToLink  = 0.995
	steadyAfter = 24 * time.Hour
	givenUp     = aWeek
)

// linkTest watches for a link that is missing where it is meant to be.
type linkTest struct {
	Up      float64          // seconds with a link, as far as watched; what is older than 30 days fades
	Seconds float64          // seconds watched, likewise
	Down    uint8            // polls in a row without a link
	Ever    bool             // whether it had one while watched
	Shut    bool             // whether the port was at the last poll
	Beyond  string           // the watched switch at its other end, when it last had one
	There   string           // its port there
	Medium  standards.Medium // of the link that it had last, "" where not told
	Speed   standards.Speed  // likewise, 0 where not told
	Fed     bool             // whether the port fed what it had a link to
	Missing *missingLink
}

// missingLink is a link that is missing.
type missingLink struct {
	Since time.Time
	Why   expectation
	Held  time.Time // it is held back until then at least; zero where it is not
	With  string    // what it went with, in words

	Refused bool // whether the switch had no power for it, and has fed nothing since
}

// expectation is why a link is meant to be there.
type expectation uint8

const (
	notExpected expectation = iota
	alwaysOn
	bothEnds
	stillFed
	byItsHabit
)

func (e expectation) String() string {
	return [...]string{"nothing tells that it is meant to have one", "by the inventory it is always on",
		"there is a switch at both ends", "it still feeds the device", "it had one for over 99.5 % of 30 days before"}[e]
}

func (c *linkTest) isOpen() bool { return c.Missing != nil }

// observe takes a poll. One that does not tell the status changes nothing.
func (c *linkTest) observe(p *portState, poll *compared) {
	r := p.reading
	switch {
	case r.Oper == port.StatusAbsent:
		return
	case r.Oper == port.Up:
		c.Down, c.Missing, c.Ever = 0, nil, true
		c.Beyond, c.There = p.peer.Switch, p.peer.Port
		c.Speed, c.Fed = r.Speed(), p.delivers()
		if phy, ok := r.PHY(); ok {
			c.Medium = phy.Medium
		}
		c.Shut = false
		c.account(poll.inc.Seconds, true)
		return
	}
	c.account(poll.inc.Seconds, false)
	shut := r.Admin == port.Down
	if c.Shut && !shut {
		c.Down, c.Missing = 0, nil // one that was just opened has to find its link
	}
	c.Shut = shut
	if c.Down < noLinkTakesHold {
		c.Down++
	}
	why := c.expected(p)
	if c.Down < noLinkTakesHold || why == notExpected {
		if c.Missing != nil && why == notExpected {
			c.Missing = nil // the record or the port's setting no longer ask for one
		}
		return
	}
	if c.Missing == nil {
		c.Missing = &missingLink{Since: p.downSince}
	}
	c.Missing.Why = why
	c.Missing.hold(poll.event)
	c.Missing.Refused = (c.Missing.Refused || p.Power.refused()) && !p.delivers()
}

// hold holds back what only habit speaks for, where many others went with it,
// and what only power does, where they went at once, as telephones that sleep do.
func (m *missingLink) hold(e *groupEvent) {
	with := e.What != noEvent && !m.Since.Before(e.Began.Add(-patchingLasts)) && !m.Since.After(e.Until)
	if !with || m.Why != byItsHabit && (m.Why != stillFed || e.What < atOnce) {
		return
	}
	m.Held, m.With = e.Until.Add(heldAfterGroup), e.String()
}

// forget takes that the cable was moved to another port, or the switch at its
// other end is not watched any longer: its habit was of that cable.
func (c *linkTest) forget() {
	c.Beyond, c.There, c.Up, c.Seconds, c.Medium, c.Speed = "", "", 0, 0, "", 0
}

// movedAway tells whether the cable that a port had is at another one now: what
// was at its other end hears that one.
func (t *Tracker) movedAway(p *portState) bool {
	if p.Link.Beyond == "" || p.reading.Oper == port.Up {
		return false
	}
	far := t.switches[p.Link.Beyond]
	if far == nil {
		return true
	}
	other := far.ports[p.Link.There]
	return other != nil && other.reading.Oper == port.Up && other.peer != (plant.PortRef{}) && other.peer != p.ref
}

// account takes so many seconds with or without a link.
func (c *linkTest) account(seconds float64, up bool) {
	c.Seconds += seconds
	if up {
		c.Up += seconds
	}
	if most := month.Seconds(); c.Seconds > most {
		c.Up *= most / c.Seconds
		c.Seconds = most
	}
}

// steady tells whether the port is one that never loses its link, by a day at
// least.
func (c *linkTest) steady() bool {
	return c.Seconds >= steadyAfter.Seconds() && c.Up > usedToLink*c.Seconds
}

// expected tells why the port is meant to have a link. A port that is shut is
// meant to by its record only.
func (c *linkTest) expected(p *portState) expectation {
	run := p.join.Run
	shut := p.reading.Admin == port.Down
	switch {
	case run != nil && (run.Status == plant.Spare || run.Status == plant.Abandoned):
		return notExpected
	case run != nil && run.AlwaysOn:
		return alwaysOn
	case run != nil && run.FarSwitch != "", c.Beyond != "":
		return bothEnds
	case shut:
		return notExpected
	case p.delivers() && !p.downSince.IsZero() && p.toldAt.Sub(later(p.downSince, p.fedAt)) >= longestRestart:
		return stillFed // a device that was just plugged in is starting
	case c.Missing != nil && c.Missing.Why == stillFed && (p.feeds == nil || p.delivers()):
		return stillFed // as before a restart of ours
	case p.reading.At.Sub(p.downSince) >= givenUp:
		return notExpected
	case c.Missing != nil && c.Missing.Why == byItsHabit, c.Seconds >= month.Seconds() && c.Up > usedToLink*c.Seconds:
		return byItsHabit
	}
	return notExpected
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

func (c *linkTest) finding(p *portState) finding {
	m := c.Missing
	f := finding{
		port: p, kind: NoLink, since: m.Since,
		summary:  fmt.Sprintf("%v has had no link for %s, and %v.", p.ref, roughly(p.reading.At.Sub(m.Since)), m.Why),
		evidence: withoutEmpty(p.everSentence(), p.powerSentence(), p.beyondSentence(), m.habitSentence(p.reading.At)),
	}
	f.prior.Prior, f.seen = priors[NoLink][p.made()], p.noLinkItems()
	f.evidence = append(f.evidence, p.lightSentences()...)
	switch {
	case p.reading.Admin == port.Down:
		f.named = PortShut
		f.hush(Guard{Name: ShutByAdmin, Says: fmt.Sprintf("%v is shut.", p.ref)})
	case m.Refused:
		f.named = PowerBudget
		f.quiet = true
		f.evidence = append(f.evidence, "The switch had no power left for it, and has fed nothing since.")
	case p.made() != ofCopper:
	case p.feeds != nil && (p.feeds.Status == port.PowerSearching || p.delivers()) && p.toldAt.Before(m.Since.Add(powerDecides)):
		f.hush(Guard{Name: DataNotValid, Says: "Held back until its power is read again: the switch may have none left for it."})
	case p.Link.Fed && p.reading.At.Sub(m.Since) < startsWithin:
		f.hush(Guard{Name: Restarting, Says: fmt.Sprintf("Held back for %s more: what it feeds may be starting anew, or be moved.", roughly(startsWithin-p.reading.At.Sub(m.Since)))})
	}
	return f
}

func (p *portState) everSentence() string {
	if !p.Link.Ever {
		return "It has had no link since watching began."
	}
	return ""
}

// habitSentence tells for how long a habit is missed.
func (m *missingLink) habitSentence(at time.Time) string {
	if m.Why != byItsHabit {
		return ""
	}
	return fmt.Sprintf("Only its habit speaks for a link: it is no longer missed in %s.", roughly(m.Since.Add(givenUp).Sub(at)))
}

func (p *portState) beyondSentence() string {
	if p.Link.Beyond == "" {
		return ""
	}
	return fmt.Sprintf("When it last had one, %s was at the other end.", p.Link.Beyond)
}

// noLinkItems: a device that is fed has its pairs up to there, so that the two
// that carry a link are suspect, or the device.
func (p *portState) noLinkItems() items {
	if p.made() == ofFibre {
		d := p.suffering()
		seen := p.fibreItems(&d, p.Link.Missing.Since)
		seen.see(bothSteady, d.bothSteady())
		return seen
	}
	seen := append(p.recordItems(), p.speedItems()...)
	seen.see(neverUp, !p.Link.Ever)
	if p.made() != ofCopper || p.feeds == nil {
		return seen
	}
	seen.see(fedNow, p.Link.Missing.Why == stillFed || p.delivers())
	seen.see(fedAlong, p.delivers() && !p.fedAt.After(p.Link.Missing.Since))
	seen.see(fedAnew, p.delivers() && p.fedAt.After(p.Link.Missing.Since))
	seen.see(findsNone, p.feeds.Status == port.PowerSearching)
	seen.see(powerAtFault, p.feeds.Status == port.PowerFault || p.feeds.Status == port.PowerOtherFault)
	return seen
}

// inTheDark tells whether the port's optic receives no light; not told where it
// does not say.
func (p *portState) inTheDark() (dark, told bool) {
	if p.optic == nil {
		return false, false
	}
	dark = true
	for _, lane := range p.optic.Lanes {
		light, ok := lane.Received.Get()
		told = told || ok
		dark = dark && (!ok || light <= noLightDBm)
	}
	return dark && told, told
}
