package fault

import (
	"cmp"
	"fmt"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sequential"
	"toneout/internal/standards"
)

// portState is all that is remembered of one port.
type portState struct {
	ref      plant.PortRef
	reading  *port.Reading // the latest
	previous *port.Reading // the one before; nil after it was compared
	fresh    bool          // whether reading was not observed yet
	apart    int           // readings in a row that did not compare with the one before
	reason   port.Reason   // why the last of these did not
	missed   int           // polls of the switch that did not show the port
	unplaced bool          // it is known from before a restart and was not joined since
	resumes  time.Time     // what was open by then is no news; zero where nothing was
	spread   spread        // how long readings are compared over
	frozen   time.Duration // for how long all counters of the switch have stood still

	unit    string     // serial of the unit that it is known to be of
	index   int        // ifIndex that it is known by
	heard   []deviceID // whom it heard last, while it was surely this port
	doubted bool       // whether a suspension touches it

	neighbours []*port.Neighbour
	peer       plant.PortRef // as in plant.SeenPort
	device     string        // likewise
	doubt      string        // likewise, as last joined
	devices    []port.ID     // end devices that it hears or heard
	label      string        // run that its description names

	join      plant.Join // Run is nil where it has none
	run       string     // id of the run that it has, or had last
	medium    standards.Medium
	passes    []string     // what the run passes that may disturb it, in words
	inventory *plant.Plant // that the run is of
	exchanged time.Time    // when another device was last heard at the far end than before
	standing  *standing    // what the run's record says; nil until asked for
	foretold  *foretold    // what it says of the light; likewise
	site      *site        // where its open conditions are put together; nil without any

	totals      port.Counters
	linkChanges uint64
	carried     uint64    // frames received since the link last came up
	rate        float64   // frames received a second, smoothed
	downSince   time.Time // as in Port
	hour        window

	hits    hits
	suspect bool // it raises no fault of damaged frames yet, and is on its way there

	said   stance    // of a calm port, as last put together
	saidAt time.Time // when that was; zero where it is to be done anew

	far    farEnd
	slow   slow
	errors errorTest
	proof  *proof // of its latest repair; nil for none
	fitted
	conditionSet
}

func (p *portState) seen() plant.SeenPort {
	r := p.reading
	return plant.SeenPort{
		Switch: p.ref.Switch, Name: r.Name, Description: r.Description, Alias: r.Alias,
		Index: r.Index, Physical: true,
		Peer: p.peer, Device: p.device, Doubt: p.doubt,
	}
}

// belong tells the port its run. One that gets another run than it had begins
// anew: what was seen belongs to that run.
func (p *portState) belong(inventory *plant.Plant, join plant.Join, medium standards.Medium, passes []string) {
	p.join, p.medium, p.passes = join, medium, passes
	p.inventory, p.standing, p.moved, p.saidAt = inventory, nil, true, time.Time{}
	if join.Run == nil {
		return
	}
	if p.run != "" && p.run != join.Run.ID {
		p.begin()
	}
	p.run = join.Run.ID
}

// begin forgets what was seen: it was of another run or another port. So may
// be what comes with the next comparison.
func (p *portState) begin() {
	p.resumes = time.Time{}
	p.spread = spread{drop: true}
	p.slow, p.errors, p.hour, p.far, p.carried = slow{}, errorTest{Source: p.errors.Source}, window{}, farEnd{}, 0
	p.conditionSet, p.hits, p.proof = conditionSet{}, hits{}, nil
}

// compared is what one poll shows of a port beside the reading before.
type compared struct {
	inc    port.Increments
	reason port.Reason
	many   bool // many ports of the switch changed their links in this poll
	far    duplexBeyond
	event  *groupEvent // what happens to the switch's ports together
	hit    bool        // whether it tells if the port was struck
}

// observe takes the port's latest reading with what the poll shows. Counters
// are compared over span at least; status, speed and changes of the link count in
// every poll.
func (p *portState) observe(poll *compared, span time.Duration, threshold float64) {
	r, previous := p.reading, p.previous
	now, reason := poll.inc, poll.reason
	p.previous, p.fresh = nil, false
	if p.apart++; reason == port.Comparable {
		p.apart = 0
	}
	p.reason = reason
	p.far.observe(r, &now, reason)
	p.watchLink(previous, reason)
	if p.errors.follow(r.Counters.ErrorSource()) {
		p.hour.forgetErrors()
	}
	var taken *sequential.Sample
	inc, reason, due := p.spread.over(previous, r, now, reason, span)
	switch {
	case !due || reason == port.CountersReset:
		p.changeLink(now.LinkChanges)
	case reason == port.Comparable:
		p.count(&inc, now.LinkChanges)
		if !poll.many && !p.Duplex.explains(r, poll.far) {
			taken = p.errors.observe(r, &inc, p.mediumNow(), threshold, p.proof.waits())
		}
		p.proof.watch(p, &inc, taken)
		p.errors.weigh(&p.hour, r.At)
	}
	if p.frozen > 0 {
		inc.Counters = port.Counters{} // what stands still tells of no pause
	}
	if p.slow.Open || !poll.event.settling(r.At) {
		p.slow.observe(r, &inc, &p.far, p.meant())
	}
	p.conditionSet.observe(p, previous, &inc, poll)
}

// open tells whether any condition holds, or did and waits for its proof.
func (p *portState) open() bool { return p.proof.waits() || p.holds() }

// holds tells whether any condition holds as of now.
func (p *portState) holds() bool {
	return p.slow.Open || p.errors.detector.Open() || p.conditionSet.open()
}

// count adds what came since the readings last compared to the totals.
func (p *portState) count(inc *port.Increments, changes int) {
	p.totals.Add(&inc.Counters)
	p.linkChanges += uint64(changes)
	late, _ := inc.Counters.Get(port.LateCollisions)
	p.hour.add(p.reading.At, part{received(inc, p.errors.Source), changes, late})
	if inc.LinkChanges > 0 {
		p.carried = 0
	}
	if frames, ok := inc.Counters.FramesIn(); ok {
		p.carried += frames
		p.rate += rateGain * (float64(frames)/inc.Seconds - p.rate)
	}
}

// changeLink takes changes of the link in a poll whose counters don't count.
func (p *portState) changeLink(changes int) {
	if changes > 0 {
		p.linkChanges += uint64(changes)
		p.hour.add(p.reading.At, part{LinkChanges: changes})
		p.carried = 0
	}
}

// rateGain is the weight of the latest readings in the smoothed rate.
const rateGain = 0.25

// watchLink keeps since when there is no link.
func (p *portState) watchLink(previous *port.Reading, reason port.Reason) {
	r := p.reading
	if r.Oper == port.Up || r.Oper == port.StatusAbsent {
		p.downSince = time.Time{}
		return
	}
	told, ok := lastChange(r)
	switch {
	case p.downSince.IsZero() && !ok:
		p.downSince = r.At
	case p.downSince.IsZero():
		p.downSince = told
		if previous != nil && previous.Oper == port.Up && told.Before(previous.At) {
			p.downSince = previous.At
		}
	case ok && reason == port.Comparable && told.Sub(p.downSince) > stampSlack:
		p.downSince = told // it was back for a moment
	}
}

// stampSlack is how far the agent's stamp of a change may wander.
const stampSlack = 10 * time.Second

// lastChange is when the port entered its present state, by ifLastChange;
// false where that is not told, or its clock wrapped since.
func lastChange(r *port.Reading) (time.Time, bool) {
	stamp, told := r.LastChange.Get()
	uptime, known := r.Uptime.Get()
	if !told || !known || stamp > uptime {
		return time.Time{}, false
	}
	return r.At.Add(-time.Duration(uptime-stamp) * 10 * time.Millisecond), true
}

// mediumNow is the medium by the PHY in use, else by the record, else that of the link
// that it had last.
func (p *portState) mediumNow() standards.Medium {
	if phy, ok := p.reading.PHY(); ok && phy.Medium != "" {
		return phy.Medium
	}
	return cmp.Or(p.medium, p.Link.Medium)
}

// basis is what the speed meant rests on, in words.
type basis string

const (
	byDesign basis = "the inventory's design speed"
	byDevice basis = "the inventory's device speed"
	byHabit  basis = "it held that for a week with the same neighbour"
	byBefore basis = "it ran at that before the port was set lower, and both ends can"
	byOffers basis = "both ends offer it"
)

// meant is the speed that the link is known to be meant to have, 0 where
// nothing tells.
func (p *portState) meant() standards.Speed {
	speed, _ := p.meantBy()
	return speed
}

// meantBy is the speed meant and what tells it: the inventory, else what the
// port held for a week with the same neighbour, else what it ran at before its
// setting was lowered, else the fastest that both ends offer.
func (p *portState) meantBy() (standards.Speed, basis) {
	if run := p.join.Run; run != nil {
		switch speed := run.DesignSpeedMeant(); speed {
		case 0:
		case run.DesignSpeed:
			return speed, byDesign
		default:
			return speed, byDevice
		}
	}
	if speed := p.far.meant(); speed > 0 {
		return speed, byHabit
	}
	own, ok := p.reading.AutoNeg.Advertised.Get()
	if !ok {
		return 0, ""
	}
	able, _ := p.reading.AutoNeg.Capable.Get()
	if held := p.far.Held; !own.Offers(held) && (able & p.far.Offered).Offers(held) {
		return held, byBefore
	}
	return (own & p.far.Offered).Fastest(), byOffers
}

// unjudged tells what the port does not say of what its health is judged by:
// its status, its speed, readings that compare, an error objective or a habit,
// its damaged frames. It is "" where nothing is missing, and for a port without a link, which has nothing to say.
func (p *portState) unjudged() string {
	r := p.reading
	switch {
	case r.Oper == port.StatusAbsent:
		return "the switch does not tell its status"
	case r.Oper != port.Up:
		return ""
	case p.apart >= silentPolls:
		return fmt.Sprintf("its last %d readings do not compare: %s", p.apart, p.reason)
	case r.Speed() == 0:
		return "the switch does not tell its speed"
	case p.frozen > 0 && p.hasCarried():
		return fmt.Sprintf("all counters of the switch have stood still for %.0f minutes", p.frozen.Minutes())
	case !p.errors.counted(&r.Counters):
		return "the switch does not count its damaged frames"
	case objectiveOf(r, p.medium) == 0 && !p.errors.learned():
		return fmt.Sprintf("no error objective is known for %v, and the port's own habit not yet", r.Speed())
	}
	return ""
}

// hasCarried tells whether the port ever received a frame while watched.
func (p *portState) hasCarried() bool {
	frames, _ := p.totals.FramesIn()
	return frames > 0
}
