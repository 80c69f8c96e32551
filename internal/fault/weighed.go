package fault

import "slices"

// Weighed is all that a fault's causes were weighed by, so that they can be weighed
// again by another table.
type Weighed struct {
	Of     material `json:"of"`
	Before before   `json:"before"`
	Seen   items    `json:"seen"`
	Record items    `json:"record"`          // what the record says
	Named  Cause    `json:"named,omitempty"` // what the readings name themselves
	Blamed Cause    `json:"blamed,omitempty"`

	Repaired map[Cause]int `json:"repaired,omitempty"` // repairs confirmed on what is made so
}

// before is what causes weigh before anything is seen.
type before struct {
	Prior prior `json:"prior"`
	Weak  bool  `json:"weak,omitempty"` // the count holds more than what a cable does
}

func (b before) weights() weights {
	w := b.Prior.weights()
	if b.Weak {
		w = weakened(w)
	}
	return w
}

// Causes weighs them by the table, likeliest first.
func (w *Weighed) Causes() []CauseProbability {
	out := w.Before.weights().informed(w.Repaired).given(w.Of, w.Seen...).recorded(w.Of, factors(w.Record))
	if w.Named != "" {
		out = guarded(w.Named, out)
	}
	if w.Blamed != "" {
		out = guarded(w.Blamed, out)
	}
	return out.ranked()
}

// shownBy is how many times likelier an item makes a cause that it shows (common
// practice, no source).
const shownBy = 3

// show tells whether anything but when it began speaks for a cause by itself: that alone
// lets nobody be told.
func (w *Weighed) show(cause Cause) bool {
	if cause == w.Named || cause == w.Blamed {
		return true
	}
	return slices.ContainsFunc(w.Seen, func(i item) bool {
		t := w.Of.tells(i)
		return t.group != "onset" && t.ratio[cause] >= shownBy
	})
}
