package fault

import (
	"maps"

	"toneout/internal/standards"
)

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

// errorWeights adapts the priors to what the port and the record show beside the
// errors.
func (p *portState) errorWeights(last *part) weights {
	made := p.made()
	var seen []item
	see := func(i item, is bool) {
		if is {
			seen = append(seen, i)
		}
	}
	see(linkLost, last.LinkChanges > 0)
	if made == ofCopper {
		see(lateCollided, last.LateCollisions > 0)
		see(sourcesNear, len(p.passes) > 0)
		seen = append(seen, p.errors.Story.items()...)
		if run := p.join.Run; run != nil {
			length, recorded := run.LengthM.Get()
			see(shortByRecord, recorded && length < standards.LongestLinkM*0.7)
		}
	}
	return p.weakened(priors[FrameErrors][made]).given(made, seen...)
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
