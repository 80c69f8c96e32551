package fault

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"toneout/internal/sequential"
	"toneout/internal/standards"
)

// judge ranks a finding's causes by the prior, what is seen and what the record
// says, and by what repairs have confirmed, and adds the record's sentences.
func (f *finding) judge(repaired Repaired) {
	record, sentences := f.port.byRecord()
	f.weighed = Weighed{Of: f.port.made(), Before: f.prior, Seen: f.seen, Record: record, Named: f.named}
	f.weighed.Repaired = repaired[string(f.weighed.Of)]
	f.causes = f.port.site.judged.causesOf(&f.weighed)
	f.evidence = append(f.evidence, sentences...)
}

// slowPrior is the prior of a link that came up at a speed below the one meant.
func (p *portState) slowPrior() prior {
	switch {
	case !copperLike(p.mediumNow()):
		return fibreSlow
	case p.slow.Speed >= standards.Gbps:
		return copperTrained
	}
	return copperFellBack
}

// runItems are what the run itself and its past say, of a trouble that began then.
func (p *portState) runItems(since time.Time) (seen items) {
	if p.made() == ofFibre {
		d := p.towardWorst()
		return p.fibreItems(&d, since)
	}
	seen.see(p.Onset.item(since), true)
	seen = append(seen, p.recordItems()...)
	seen = append(seen, p.deviceItems(since)...)
	return append(seen, p.speedItems()...)
}

// errorItems are what the port shows beside damaged frames.
func (p *portState) errorItems(last *part) (seen items) {
	seen = append(p.runItems(p.errors.Since), p.countItems()...)
	seen.see(slowBeside, p.slow.Open && p.slow.Awake)
	changes := last.LinkChanges - p.Onset.changes(p.reading.At)
	seen.see(linkLost, changes > 0)
	seen.see(linkLostOften, lostOften((changes+1)/2, last.Seconds))
	if p.made() == ofCopper {
		share := float64(last.Errored) / float64(max(last.Frames, 1))
		seen.see(fewDamaged, last.Errored > 0 && share < 1e-5)
		seen.see(someDamaged, share >= 1e-5 && share < 1e-2)
		seen.see(manyDamaged, share >= 1e-2)
		seen.see(lateCollided, last.LateCollisions > 0)
		seen.see(sourcesNear, len(p.passes) > 0)
		seen = append(seen, p.errors.Story.items(p.reading.At.Location())...)
	}
	return seen
}

// cordMoves is how often an hour a link is lost at most because people move its cord
// (common practice, no source).
const cordMoves = 2.4

// lostOften tells whether so many losses within so many seconds are more than the
// movements of a cord make, but once in 20 times.
func lostOften(losses int, seconds float64) bool {
	low, _ := sequential.Interval(uint64(max(losses, 0)), 0.9)
	return low > cordMoves*seconds/time.Hour.Seconds()
}

// What a weak count is worth for causes outside the cable, of the others' whole weight
// (common practice, no source).
const (
	weakPort     = 0.08
	weakUpstream = 0.06
)

// weakened gives some of the weight of the cable's causes to others, where the
// count may hold what no cable did: overruns of the port, frames that were too
// long when they were sent.
func weakened(w weights) weights {
	out, sum := maps.Clone(w), w.sum()
	out[PortFaulty] += weakPort * sum
	out[UpstreamErrors] += weakUpstream * sum
	return out
}

// leastLikely is the least probability of a cause that is worth a line of its own.
const leastLikely = 0.01

// Ranked are a fault's causes that are worth a line each, and those that are not,
// likeliest first. One at least is.
func (f *Fault) Ranked() (likely, others []CauseProbability) {
	at := slices.IndexFunc(f.Causes, func(c CauseProbability) bool { return c.Probability < leastLikely })
	if at < 0 {
		return f.Causes, nil
	}
	at = max(at, 1)
	return f.Causes[:at], f.Causes[at:]
}

// OthersWords tell of so many causes that are not worth a line.
func OthersWords(n int) string {
	if n == 1 {
		return "1 other, under 1 %"
	}
	return fmt.Sprintf("%d others, under 1 %% each", n)
}
