package fault

import (
	"cmp"
	"slices"

	"toneout/internal/standards"
)

// weights are the causes of a kind of fault with how often each is the one,
// in parts of any whole (common practice, no source).
type weights map[Cause]float64

// Priors, by what the run is made of.
var (
	copperFellBack = weights{OpenPair: 55, BadCord: 20, DamagedCable: 10, PoorTermination: 10, PortFaulty: 5}
	copperTrained  = weights{PoorTermination: 20, WrongCategory: 20, BadCord: 20, AlienCrosstalk: 15,
		OverLength: 10, CableHeat: 5, DamagedCable: 5, PortFaulty: 5}
	fibreSlow = weights{OpticMismatch: 55, SpeedSetting: 25, PortFaulty: 10, RecordWrong: 10}

	copperErrors = weights{BadCord: 28, PoorTermination: 25, DamagedCable: 10, LoosePlug: 10, Interference: 10,
		FarEndFaulty: 7, PortFaulty: 5, OverLength: 3, WrongCategory: 2}
	fibreErrors = weights{DirtyConnector: 45, LooseOptic: 12, BentFibre: 12, FailingTransmitter: 10,
		FailingReceiver: 8, LossOverBudget: 6, WrongFibre: 4, FarEndFaulty: 3}
	// Twinax and active optical cables are one piece with their plugs.
	assemblyErrors = weights{BadCord: 55, LooseOptic: 20, FarEndFaulty: 13, PortFaulty: 12}
)

// slowWeights: of a gigabit link that comes up at 10 or 100 Mbit/s a pair is
// missing, since those need two pairs and it needs four (IEEE 802.3 clauses
// 14, 25, 40). Above, all four pairs are needed at any speed.
func slowWeights(medium standards.Medium, speed standards.Speed) weights {
	switch {
	case !copperLike(medium):
		return fibreSlow
	case speed >= standards.Gbps:
		return copperTrained
	}
	return copperFellBack
}

// errorWeights adapts the priors to what the port and the record show beside
// the errors. The factors are common practice, no source.
func (p *portState) errorWeights(last *part) weights {
	flaps := last.LinkChanges > 0
	switch p.mediumNow() {
	case standards.Fibre:
		return p.weakened(scaled(fibreErrors, flaps, weights{LooseOptic: 8}))
	case standards.Twinax, standards.ActiveOptical:
		return p.weakened(scaled(assemblyErrors, flaps, weights{LooseOptic: 8}))
	}
	w := p.weakened(scaled(copperErrors, flaps, weights{LoosePlug: 15}))
	if last.LateCollisions > 0 {
		w[DuplexSetting] = 200
	}
	w = scaled(w, len(p.passes) > 0, weights{Interference: 3.5})
	w = p.errors.Story.weighed(w)
	if run := p.join.Run; run != nil {
		length, recorded := run.LengthM.Get()
		w = scaled(w, recorded && length < standards.LongestLinkM*0.7, weights{OverLength: 0.1})
	}
	return w
}

// weakened gives some of the weight of the cable's causes to others, where the
// count may hold what no cable did: overruns of the port, frames that were too
// long when they were sent.
func (p *portState) weakened(w weights) weights {
	if !p.errors.Source.Weak() {
		return w
	}
	sum := 0.0
	for _, weight := range w {
		sum += weight
	}
	w[PortFaulty] += 0.08 * sum
	w[UpstreamErrors] += 0.06 * sum
	return w
}

// scaled gives w with the weights of some causes multiplied where the evidence
// is there.
func scaled(w weights, evidence bool, by weights) weights {
	out := make(weights, len(w))
	for cause, weight := range w {
		factor, ok := by[cause]
		if !evidence || !ok {
			factor = 1
		}
		out[cause] = weight * factor
	}
	return out
}

// guarded gives a cause that the readings name themselves nearly all weight.
func guarded(cause Cause, others weights) weights {
	const sure = 0.9
	sum := 0.0
	for c, weight := range others {
		if c != cause {
			sum += weight
		}
	}
	out := weights{cause: sum * sure / (1 - sure)}
	for c, weight := range others {
		if c != cause {
			out[c] = weight
		}
	}
	return out
}

// ranked turns weights into probabilities, likeliest first, by name where
// equal.
func (w weights) ranked() []CauseProbability {
	sum := 0.0
	for _, weight := range w {
		sum += weight
	}
	out := make([]CauseProbability, 0, len(w))
	for cause, weight := range w {
		out = append(out, CauseProbability{cause, weight / sum})
	}
	slices.SortFunc(out, func(a, b CauseProbability) int {
		return cmp.Or(cmp.Compare(b.Probability, a.Probability), cmp.Compare(a.Cause, b.Cause))
	})
	return out
}
