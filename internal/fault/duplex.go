package fault

import (
	"fmt"
	"time"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// Holding rule of duplex-mismatch, in polls.
const (
	duplexTakesHold = 3
	duplexLetsGo    = 10
)

// duplexTest watches for ends that differ in duplex. The zero value has seen no
// sign of it.
type duplexTest struct {
	Seen *mismatch
	Load *loadErrors // of a full-duplex end without auto-negotiation
}

// mismatch is what was seen of ends that differ.
type mismatch struct {
	Open    bool
	Since   time.Time // the first sign
	Signs   uint8     // polls that showed one
	Without uint8     // polls in a row that showed none
	By      duplexSign
	Far     duplexBeyond // as of the last sign

	Own     standards.Duplex // at the last sign
	Traffic float64          // frames a second in the quietest poll that showed one
}

// duplexSign is what tells that the ends differ.
type duplexSign uint8

const (
	noSign         duplexSign = iota
	errorsWithLoad            // at a full-duplex end
	lateCollisions            // at a half-duplex end
	bothTold                  // each end's duplex is known
)

// duplexBeyond is what is known of the other end's duplex.
type duplexBeyond struct {
	Duplex standards.Duplex
	Auto   port.Answer // whether it negotiates
	At     string      // the port there, in words; "the device" where it announces itself
}

func (c *duplexTest) isOpen() bool { return c.Seen != nil && c.Seen.Open }

// observe takes a poll with what came since counters were last compared. A link
// that is down, or whose duplex is not told, tells nothing; links of 1 Gbit/s and
// up are always full duplex (common practice: IEEE 802.3 allows half at
// 1 Gbit/s, nobody sells it).
func (c *duplexTest) observe(r *port.Reading, inc *port.Increments, far duplexBeyond) {
	if r.Oper != port.Up || r.Duplex() == standards.DuplexUnknown {
		return
	}
	sign := c.sign(r, inc, far)
	s := c.Seen
	if sign == noSign {
		if s == nil || far.Duplex == standards.DuplexUnknown && inc.Seconds == 0 {
			return // counters were not compared
		}
		if far.Duplex == standards.DuplexUnknown && s.Own == r.Duplex() && traffic(inc) < s.Traffic {
			return // it shows with traffic only
		}
		if s.Without++; s.Without >= duplexLetsGo {
			c.Seen = nil
		}
		return
	}
	if s == nil {
		s = &mismatch{Since: r.At, Traffic: traffic(inc)}
		c.Seen = s
	}
	s.Without, s.By, s.Far = 0, max(s.By, sign), far
	s.Own, s.Traffic = r.Duplex(), min(s.Traffic, traffic(inc))
	if s.Signs < duplexTakesHold {
		s.Signs++
	}
	s.Open = s.Open || s.Signs >= duplexTakesHold
}

// traffic is how many frames a second came and went.
func traffic(inc *port.Increments) float64 {
	if inc.Seconds <= 0 {
		return 0
	}
	in, _ := inc.Counters.FramesIn()
	out, _ := inc.Counters.Sum(port.OutUnicast, port.OutMulticast, port.OutBroadcast)
	return float64(in+out) / inc.Seconds
}

// explains tells whether damaged frames are due to ends that differ, so that
// they tell nothing of the cable.
func (c *duplexTest) explains(r *port.Reading, far duplexBeyond) bool {
	own := r.Duplex()
	differ := own != standards.DuplexUnknown && far.Duplex != standards.DuplexUnknown && own != far.Duplex
	return c.Seen != nil || differ
}

// sign is what one poll shows. Late collisions are counted at half duplex only
// (RFC 3635 dot3StatsLateCollisions), and are what a half-duplex end sees of a
// far end that sends whenever it likes.
func (c *duplexTest) sign(r *port.Reading, inc *port.Increments, far duplexBeyond) duplexSign {
	own := r.Duplex()
	if r.Speed() >= standards.Gbps {
		c.Load = nil
		return noSign
	}
	if far.Duplex != standards.DuplexUnknown {
		c.Load = nil
		if own != far.Duplex {
			return bothTold
		}
		return noSign
	}
	if own == standards.HalfDuplex {
		c.Load = nil
		if late, _ := inc.Counters.Get(port.LateCollisions); late > 0 {
			return lateCollisions
		}
		return noSign
	}
	if r.AutoNeg.Enabled != port.No {
		c.Load = nil
		return noSign
	}
	if c.Load == nil {
		c.Load = &loadErrors{}
	}
	if c.Load.observe(inc) {
		return errorsWithLoad
	}
	return noSign
}

// loadErrors tells whether the share of damaged frames rises with traffic in
// both directions, which it does not where a cable damages them: the half-duplex
// end breaks off what it sends when it finds itself spoken to.
type loadErrors struct {
	Mean         float64 // frames a second in the direction that has fewer, smoothed
	Frames       float64 // received in polls with less than that
	Errored      float64 // of these damaged
	Above, Below float64 // polls with more, by whether a larger share was damaged
}

// Constants of the comparison (common practice, no source).
const (
	loadGain    = 0.1
	leastQuiet  = 1000 // frames that tell the share in quiet polls
	risesBy     = 3    // times the share in quiet polls
	leastRisen  = 5    // polls
	risenToFlat = 3    // polls to one that shows no rise
	loadMemory  = 40   // polls
)

// observe takes what came in a poll, and tells whether it is one more sign.
func (l *loadErrors) observe(inc *port.Increments) bool {
	in, told := inc.Counters.FramesIn()
	out, also := inc.Counters.Sum(port.OutUnicast, port.OutMulticast, port.OutBroadcast)
	if !told || !also || inc.Seconds <= 0 || inc.LinkChanges > 0 {
		return false
	}
	damaged, _ := inc.Counters.Errored()
	fragments, _ := inc.Counters.Get(port.Fragments)
	damaged = max(damaged, fragments)
	frames := float64(in + damaged)
	load := float64(min(in, out)) / inc.Seconds
	mean := l.Mean
	if l.Mean += loadGain * (load - l.Mean); mean == 0 {
		l.Mean = load
	}
	if load <= mean || mean == 0 {
		l.Frames += frames
		l.Errored += float64(damaged)
		return false
	}
	if l.Frames < leastQuiet || frames == 0 {
		return false
	}
	const few = 3 // none seen bounds the share by 3 in all (95 %)
	risen := float64(damaged)/frames > risesBy*(l.Errored+few)/l.Frames
	if risen {
		l.Above++
	} else {
		l.Below++
	}
	told = risen && l.Above >= leastRisen && l.Above >= risenToFlat*l.Below
	if l.Above+l.Below > loadMemory {
		l.Above, l.Below, l.Frames, l.Errored = l.Above/2, l.Below/2, l.Frames/2, l.Errored/2
	}
	return told
}

// duplexBeyond asks for the duplex at the other end of a port: of the port there
// as last read, else as the device announces it (IEEE 802.3 MAC/PHY part of IEEE
// 802.1AB), as long as that is of this very link.
func (t *Tracker) duplexBeyond(p *portState) duplexBeyond {
	r := p.reading
	if r.Oper != port.Up || r.Speed() == 0 || r.Speed() >= standards.Gbps {
		return duplexBeyond{}
	}
	if other := t.otherEnd(p); other != nil {
		o := other.reading
		if t.switches[other.ref.Switch].view.Silent == 0 && o.Oper == port.Up && o.Speed() == r.Speed() {
			return duplexBeyond{o.Duplex(), o.AutoNeg.Enabled, other.ref.String()}
		}
		return duplexBeyond{}
	}
	n := direct(p.neighbours)
	if n == nil || p.far.Unheard || p.far.Flapped {
		return duplexBeyond{}
	}
	phy, duplex, ok := standards.PHYOfMAU(n.MAU)
	if !ok || phy.Speed != r.Speed() {
		return duplexBeyond{}
	}
	return duplexBeyond{Duplex: duplex, At: "the device"}
}

func (c *duplexTest) finding(p *portState) finding {
	s := c.Seen
	r := p.reading
	f := finding{port: p, kind: DuplexMismatch, since: s.Since}
	var about About
	ownForced, farForced := r.AutoNeg.Enabled == port.No, s.Far.Auto == port.No || fellBack(r)
	if farForced && !ownForced {
		about = AboutFarEnd
	}
	f.about = about
	f.prior, f.seen = before{Prior: duplexDiffers}, s.items(ownForced || farForced)
	f.summary = fmt.Sprintf("%v and the far end differ in duplex: %s.", p.ref, s.By.says(r, &s.Far))
	f.evidence = withoutEmpty(
		negotiationSentence(ownForced, farForced, p),
		p.lateSentence(),
		p.errorsBeside(p.hour.sum().Hour),
		s.overSentence(),
	)
	return f
}

// fellBack tells whether a port that negotiates found nobody to do so with.
func fellBack(r *port.Reading) bool {
	received, told := r.AutoNeg.Received.Get()
	return r.AutoNeg.Enabled == port.Yes && told && received == 0
}

func (d duplexSign) says(r *port.Reading, far *duplexBeyond) string {
	switch d {
	case bothTold:
		return fmt.Sprintf("it runs at %s, %s at %s", inWords(r.Duplex()), far.At, inWords(far.Duplex))
	case lateCollisions:
		return "it runs at half duplex and counts late collisions, as happens where the far end is at full duplex"
	case errorsWithLoad, noSign:
	}
	return "it is set to full duplex, and damaged frames grow with traffic in both directions, as happens where the far end is at half duplex"
}

func inWords(d standards.Duplex) string {
	switch d {
	case standards.HalfDuplex:
		return "half duplex"
	case standards.FullDuplex:
		return "full duplex"
	case standards.DuplexUnknown:
	}
	return "a duplex that is not known now"
}

func negotiationSentence(own, far bool, p *portState) string {
	const falls = "an end that negotiates alone takes half duplex (IEEE 802.3 clause 28, parallel detection)."
	switch {
	case own && far:
		return "Auto-negotiation is off at both ends."
	case own:
		return fmt.Sprintf("Auto-negotiation is off on %v: %s", p.ref, falls)
	case far:
		return fmt.Sprintf("%v negotiates, and the far end does not: %s", p.ref, falls)
	}
	return ""
}

func (p *portState) lateSentence() string {
	last := p.hour.sum()
	if last.LateCollisions == 0 {
		return ""
	}
	return fmt.Sprintf("%s late collisions in the last %s.", count(last.LateCollisions), last.Span())
}

func (s *mismatch) overSentence() string {
	if s.Without == 0 {
		return ""
	}
	return fmt.Sprintf("%d polls with traffic and without a sign of it: it is over after %d in a row.", s.Without, duplexLetsGo)
}

// items are what tells of causes how the ends differ.
func (s *mismatch) items(forced bool) (seen items) {
	if forced {
		seen = append(seen, endForced)
	}
	if s.By == lateCollisions {
		seen = append(seen, lateOnly)
	}
	return seen
}
