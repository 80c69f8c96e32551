package fault

import (
	"fmt"
	"strings"
	"time"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// finding is one open condition of one port, not yet placed.
type finding struct {
	port     *portState
	kind     Kind
	since    time.Time
	quiet    bool
	guards   []Guard
	severe   bool // by its measure
	weak     bool // by a count that holds more than what a cable does
	unseen   bool // nothing of it in the last hour
	summary  string
	restated bool // the evidence says what the summary does
	evidence []string
	prior    before
	seen     items
	named    Cause   // what the readings name themselves; "" for none
	weighed  Weighed // by these
	causes   []CauseProbability
	awaits   *Proof // of a repaired one; nil where it was not
	about    About  // where that is told otherwise than by the leading cause
}

// findings are the port's open conditions.
func (p *portState) findings() []finding {
	var found []finding
	if p.slow.Open {
		found = append(found, p.slowFinding())
	}
	if p.errors.detector.Open() {
		found = append(found, p.errorFinding())
	}
	for _, c := range p.conditions() {
		if c.isOpen() {
			found = append(found, c.finding(p))
		}
	}
	for i := range found {
		found[i].reopened()
	}
	return found
}

// slowFinding judges a port that came up below the speed meant.
func (p *portState) slowFinding() finding {
	s := &p.slow
	hour := p.hour.sum().Hour
	f := finding{
		port: p, kind: BelowDesignSpeed, since: s.Since,
		evidence: withoutEmpty(p.speedSentence(), p.nowSentence(), p.abilitySentence(), fmt.Sprintf(
			"%s frames received in the last %s, %s of them %s.", count(hour.Frames), hour.Span(), count(hour.Errored), p.errors.word())),
	}
	f.prior, f.seen = before{Prior: p.slowPrior()}, p.runItems(s.Since)
	if far, told := p.reading.AutoNeg.Received.Get(); told && far != 0 && s.Meant <= standards.Gbps {
		f.seen.see(farOffersMeant, far.Offers(s.Meant))
		f.seen.see(farOffersLess, !far.Offers(s.Meant) && (!p.far.Offered.Offers(s.Meant) || p.maybeAnother(s.Since)))
	}
	f.seen.see(farCouldMore, !p.maybeAnother(s.Since) && (p.far.Offered.Offers(s.Meant) || p.far.Held >= s.Meant))
	heard, told := p.reading.AutoNeg.Received.Get()
	f.seen.see(bothNegotiate, told && heard != 0 && p.reading.AutoNeg.Enabled == port.Yes)
	f.seen.see(errorsBeside, hour.Errored > 0)
	f.seen.see(cleanBeside, hour.Counted() && hour.Errored == 0)
	f.evidence = append(f.evidence, withoutEmpty(p.Onset.sentence(s.Since))...)
	if g := s.guard(); g != (guard{}) {
		if f.named = g.Cause; g.Cause == SpeedSetting && g.Limit == 0 && hour.Errored > 0 {
			f.named = DuplexSetting // the other end, which negotiates, is at half duplex (IEEE 802.3 28.2.3.1)
		}
		f.quiet = g.Quiet
		f.guards = g.named(p.ref)
		f.summary = fmt.Sprintf("Up at %v instead of %v: %s.", s.Speed, s.Meant, g.sentence(p.ref))
	} else {
		f.summary = fmt.Sprintf("Up at %v instead of %v while in use, %s.", s.Speed, s.Meant, p.cleanliness(hour))
	}
	return f
}

func (p *portState) speedSentence() string {
	_, by := p.meantBy()
	return fmt.Sprintf("%v came up at %v; it should be %v (%s).", p.ref, p.slow.Speed, p.slow.Meant, by)
}

// nowSentence tells what has changed since, "" where nothing has.
func (p *portState) nowSentence() string {
	speed := p.reading.Speed()
	switch {
	case p.reading.Oper != port.Up:
		return "The link is down now."
	case speed >= p.slow.Meant:
		return fmt.Sprintf("It is at %v now: the fault is over after %d polls in a row.", speed, slowLetsGo)
	}
	return ""
}

func (p *portState) abilitySentence() string {
	own, ok := p.reading.AutoNeg.Advertised.Get()
	if !ok || own.Fastest() == 0 {
		return ""
	}
	far := p.far.Offered.Fastest()
	if far == 0 {
		return fmt.Sprintf("The port offers up to %v; the far end's offer is not known.", own.Fastest())
	}
	return fmt.Sprintf("The port offers up to %v, the far end up to %v.", own.Fastest(), far)
}

func (p *portState) cleanliness(hour Hour) string {
	switch {
	case hour.Errored > 0 && p.errors.Source.Weak():
		return fmt.Sprintf("with %s frames %s in the last %s", count(hour.Errored), p.errors.word(), hour.Span())
	case hour.Errored > 0:
		return fmt.Sprintf("with %s damaged frames in the last %s", count(hour.Errored), hour.Span())
	case !hour.Counted():
		return "and damaged frames are not counted there"
	}
	return "without damaged frames"
}

// errorFinding judges a port that receives more damaged frames than it may.
func (p *portState) errorFinding() finding {
	last := p.hour.sum()
	e := &p.errors
	f := finding{
		port: p, kind: FrameErrors, since: e.Since, severe: e.Severe, weak: e.Source.Weak(),
		prior: before{priors[FrameErrors][p.made()], e.Source.Weak()}, seen: p.errorItems(&last),
	}
	f.summary = p.damagedSentence(last.Hour)
	if f.unseen = last.Errored == 0; f.unseen {
		f.seen.see(silentNow, true)
		f.summary = fmt.Sprintf("None among %s frames that %v received in the last %s was %s, and still too soon to say that it is over.",
			count(last.Judged.Frames), p.ref, last.Span(), e.word())
	}
	f.evidence = append([]string{p.sourceSentence()}, e.overSentences(last.Judged.Bits)...)
	f.evidence = append(f.evidence, withoutEmpty(p.kindsSentence(), flapSentence(last.LinkChanges), p.passesSentence())...)
	f.evidence = append(f.evidence, e.Story.sentences(p.reading.At)...)
	f.evidence = append(append(f.evidence, p.lightSentences()...), withoutEmpty(p.Onset.sentence(e.Since))...)
	return f
}

// damagedSentence tells how many frames were damaged, in the same words wherever it is
// told, so that evidence has it once.
func (p *portState) damagedSentence(hour Hour) string {
	r, _ := hour.FrameErrors()
	return fmt.Sprintf("%s of %s frames that %v received in the last %s were %s: %s.",
		count(hour.Errored), count(hour.Judged.Frames), p.ref, hour.Span(), p.errors.word(), r)
}

// word is what the source of a count says of the frames that it counts.
func (e *errorTest) word() string {
	switch e.Source {
	case port.RMON:
		return "counted as damaged"
	case port.InterfaceTable:
		return "counted as errors"
	}
	return "damaged"
}

// sourceSentence tells who counted, and what of the count may be no damage.
func (p *portState) sourceSentence() string {
	switch p.errors.Source {
	case port.RMON:
		return fmt.Sprintf("%v counted them as %s, which on some switches holds frames that it sent too: weaker evidence than a count of frame check errors.",
			p.ref, port.RMON.Object())
	case port.InterfaceTable:
		return fmt.Sprintf("%v counted them as %s, which also counts frames too long and overruns of the receiver: weaker evidence than a count of frame check errors.",
			p.ref, port.InterfaceTable.Object())
	}
	return fmt.Sprintf("%v counted them, so they were damaged on the way to it.", p.ref)
}

func (p *portState) kindsSentence() string {
	fcs, _ := p.totals.Get(port.FCS)
	alignment, ok := p.totals.Get(port.Alignment)
	if p.errors.Source != port.EtherLike || !ok || alignment == 0 {
		return ""
	}
	return fmt.Sprintf("Since watching began: %s frame check errors, %s alignment errors.", count(fcs), count(alignment))
}

func flapSentence(changes int) string {
	if changes == 0 {
		return ""
	}
	return fmt.Sprintf("The link came or went at least %s in the last hour.", times(changes))
}

func (p *portState) passesSentence() string {
	if len(p.passes) == 0 || !copperLike(p.mediumNow()) {
		return ""
	}
	return fmt.Sprintf("By the record, %s.", strings.Join(p.passes, "; "))
}

func withoutEmpty(sentences ...string) []string {
	out := sentences[:0]
	for _, s := range sentences {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

// copperLike tells whether a medium is copper, or not known and so most likely
// copper.
func copperLike(medium standards.Medium) bool { return medium == standards.Copper || medium == "" }

// maybeAnother tells whether another device may be at the far end since then: a plug
// was out, and it is not heard who is there.
func (p *portState) maybeAnother(since time.Time) bool {
	began := p.Onset.item(since)
	return p.far.Device == deviceID{} && (began == sincePatched || began == sinceRewired)
}
