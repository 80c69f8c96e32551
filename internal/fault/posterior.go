package fault

import (
	"cmp"
	"maps"
	"math"
	"slices"
)

// weights are causes with a number each: how often each is the one, in parts of any
// whole, or how many times likelier something makes it.
type weights map[Cause]float64

// unlisted is the share of the whole that a cause has before anything speaks for
// it that a kind's prior does not name (common practice, no source).
const unlisted = 0.01

// given is what causes weigh once items are seen.
func (w weights) given(of material, seen ...item) weights {
	tellings := make([]telling, 0, len(seen))
	for _, i := range seen {
		tellings = append(tellings, of.tells(i))
	}
	out, ratios := maps.Clone(w), pooled(tellings)
	for cause := range w {
		if ratio, told := ratios[cause]; told {
			out[cause] *= ratio
		}
	}
	return out
}

// pooled is what tellings say together: of each group the most telling for each
// cause.
func pooled(tellings []telling) weights {
	var groups []string // in order, so that rounding is the same each time
	most := map[string]weights{}
	for _, t := range tellings {
		if most[t.group] == nil {
			groups = append(groups, t.group)
			most[t.group] = weights{}
		}
		group := most[t.group]
		for cause, ratio := range t.ratio {
			if known, ok := group[cause]; !ok || math.Abs(math.Log(ratio)) > math.Abs(math.Log(known)) {
				group[cause] = ratio
			}
		}
	}
	slices.Sort(groups)
	out := weights{}
	for _, group := range groups {
		for cause, ratio := range most[group] {
			if known, ok := out[cause]; ok {
				ratio *= known
			}
			out[cause] = ratio
		}
	}
	return out
}

// recorded gives w with each cause as many times likelier as the record has it. One
// that w does not name starts with a small share where the record speaks for it.
func (w weights) recorded(of material, ratios weights) weights {
	sum, out := w.sum(), maps.Clone(w)
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
	for _, cause := range slices.Sorted(maps.Keys(w)) { // so that rounding is the same each time
		sum += w[cause]
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
