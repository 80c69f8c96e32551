package fault

import (
	"maps"
	"time"

	"toneout/internal/standards"
)

// judge ranks a finding's causes by the prior, what is seen and what the record
// says, and adds the record's sentences.
func (f *finding) judge() {
	w, recorded := f.port.byRecord(f.prior.given(f.seen...))
	if f.named != "" {
		w = guarded(f.named, w)
	}
	f.causes = w.ranked()
	f.evidence = append(f.evidence, recorded...)
}

// slowWeights are the priors of a link that came up at a speed below the one meant.
func (p *portState) slowWeights() weights {
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
	seen.see(p.Onset.item(since), true)
	seen = append(seen, p.recordItems()...)
	return append(seen, p.speedItems()...)
}

// errorWeights are the priors of damaged frames, with what the port shows beside.
func (p *portState) errorWeights(last *part) (prior weights, seen items) {
	seen = append(p.runItems(p.errors.Since), p.countItems()...)
	made := p.made()
	seen.see(linkLost, last.LinkChanges > p.Onset.changes(p.reading.At))
	if made == ofCopper {
		seen.see(lateCollided, last.LateCollisions > 0)
		seen.see(sourcesNear, len(p.passes) > 0)
		seen = append(seen, p.errors.Story.items()...)
	}
	return p.weakened(priors[FrameErrors][made]), seen
}

// weakened gives some of the weight of the cable's causes to others, where the
// count may hold what no cable did: overruns of the port, frames that were too
// long when they were sent.
func (p *portState) weakened(w weights) weights {
	if !p.errors.Source.Weak() {
		return w
	}
	out, sum := maps.Clone(w), w.sum()
	out[PortFaulty] += 0.08 * sum
	out[UpstreamErrors] += 0.06 * sum
	return out
}
