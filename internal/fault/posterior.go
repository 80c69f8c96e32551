package fault

import (
	"cmp"
	"math"
	"slices"
)

// weights are causes with a number each: how often each is the one, in parts of any
// whole, or how many times likelier something makes it.
type weights map[Cause]float64

// unlisted is the share of the whole that a cause has before anything speaks for
// it that a kind's prior does not name (common practice, no source).
const unlisted = 0.01

// given is what causes weigh once items are seen. A cause that w does not name
// starts with a small share where something speaks for it.
func (w weights) given(of material, seen ...item) weights {
	tellings := make([]telling, 0, len(seen))
	for _, i := range seen {
		tellings = append(tellings, tells[i])
	}
	return w.told(of, tellings)
}

// told is likewise, by what the items say: of each group the most telling for each
// cause.
func (w weights) told(of material, tellings []telling) weights {
	return w.times(of, pooled(tellings))
}

// pooled is what tellings say together, each group once.
func pooled(tellings []telling) weights {
	type key struct {
		group string
		cause Cause
	}
	most := map[key]float64{}
	for _, t := range tellings {
		for cause, ratio := range t.ratio {
			k := key{t.group, cause}
			if known, ok := most[k]; !ok || math.Abs(math.Log(ratio)) > math.Abs(math.Log(known)) {
				most[k] = ratio
			}
		}
	}
	out := weights{}
	for k, ratio := range most {
		if known, ok := out[k.cause]; ok {
			ratio *= known
		}
		out[k.cause] = ratio
	}
	return out
}

// times gives w with each cause as many times likelier.
func (w weights) times(of material, ratios weights) weights {
	sum := w.sum()
	out := make(weights, len(w))
	for cause, weight := range w {
		out[cause] = weight
	}
	for cause, ratio := range ratios {
		if weight, listed := w[cause]; listed {
			out[cause] = weight * ratio
		} else if ratio > 1 && of.suffers(cause) {
			out[cause] = sum * unlisted * ratio
		}
	}
	return out
}

func (w weights) sum() (sum float64) {
	for _, weight := range w {
		sum += weight
	}
	return sum
}

// guarded gives a cause that the readings name themselves nearly all weight.
func guarded(cause Cause, others weights) weights {
	const sure = 0.9
	out := weights{}
	for c, weight := range others {
		if c != cause {
			out[c] = weight
		}
	}
	out[cause] = out.sum() * sure / (1 - sure)
	return out
}

// ranked turns weights into probabilities, likeliest first, by name where
// equal.
func (w weights) ranked() []CauseProbability {
	sum := w.sum()
	out := make([]CauseProbability, 0, len(w))
	for cause, weight := range w {
		out = append(out, CauseProbability{cause, weight / sum})
	}
	slices.SortFunc(out, func(a, b CauseProbability) int {
		return cmp.Or(cmp.Compare(b.Probability, a.Probability), cmp.Compare(a.Cause, b.Cause))
	})
	return out
}
