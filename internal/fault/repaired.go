package fault

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// Repaired counts the repairs that were confirmed, by medium (copper, fibre, assembly)
// and cause.
type Repaired map[string]map[Cause]int

// Add counts n more repairs of a cause.
func (r Repaired) Add(medium string, cause Cause, n int) {
	if r[medium] == nil {
		r[medium] = map[Cause]int{}
	}
	r[medium][cause] += n
}

// with is both counts together; neither is changed.
func (r Repaired) with(other Repaired) Repaired {
	out := Repaired{}
	for _, counts := range []Repaired{r, other} {
		for medium, causes := range counts {
			for cause, n := range causes {
				out.Add(medium, cause, n)
			}
		}
	}
	return out
}

// Media are what repairs are counted by.
func Media() []string { return []string{string(ofCopper), string(ofFibre), string(ofAssembly)} }

// Causes are all that there are, by name.
func Causes() []Cause { return slices.Sorted(maps.Keys(words)) }

// CausesOn are the causes that can befall a run of a medium, in the order of their
// codes; all of them where the medium is not known.
func CausesOn(medium standards.Medium) []Cause {
	if medium == "" {
		return Causes()
	}
	made := madeOf(medium)
	return slices.DeleteFunc(Causes(), func(c Cause) bool { return !made.suffers(c) })
}

// CheckRepair says in a sentence what is wrong with a repair of a run.
func CheckRepair(p *plant.Plant, run string, cause Cause) error {
	if p.Run(run) == nil {
		ids := named(p.Runs, func(r *plant.Run) string { return r.ID })
		return fmt.Errorf("run %q is not in the inventory%s", run, plant.DidYouMean(run, ids))
	}
	if _, known := words[cause]; !known {
		names := named(Causes(), func(c Cause) string { return string(c) })
		return fmt.Errorf("no cause is named %q%s; causes are %s", cause, plant.DidYouMean(string(cause), names), strings.Join(names, ", "))
	}
	return nil
}

// ConfirmedRepair is a repair on a medium that proved its cause right.
type ConfirmedRepair struct {
	ID     string
	Medium string
	Cause  Cause
}

// Confirmed takes repairs that proved a cause right, each once by its id. They weigh from
// when a fault is next put together, and outlast a restart.
func (t *Tracker) Confirmed(all ...ConfirmedRepair) {
	for _, r := range all {
		t.proven[r.ID] = r
	}
	t.recount()
}

// Recall is Confirmed of all that the journal has, where a checkpoint's counts without
// ids are among these.
func (t *Tracker) Recall(all []ConfirmedRepair) {
	t.counted = nil
	t.Confirmed(all...)
}

// Repaired are all repairs that were confirmed, those of the settings among them.
func (t *Tracker) Repaired() Repaired { return t.repaired }

// recount counts what was confirmed, beside what the settings have.
func (t *Tracker) recount() {
	t.confirmed = t.counted.with(nil)
	for _, r := range t.proven {
		t.confirmed.Add(r.Medium, r.Cause, 1)
	}
	t.repaired = t.settings.Repaired.with(t.confirmed)
}

// tableRepairs is how many repairs the table is worth beside those that were confirmed
// (pseudo-counts; common practice, no source).
const tableRepairs = 20

// informed is what causes weigh before anything is seen, once repairs of some were
// confirmed. A cause that the kind cannot have is not brought in.
func (w weights) informed(repaired map[Cause]int) weights {
	confirmed := 0
	for cause := range w {
		confirmed += repaired[cause]
	}
	if confirmed == 0 {
		return w
	}
	out, sum := weights{}, w.sum()
	for cause, weight := range w {
		out[cause] = tableRepairs*weight/sum + float64(repaired[cause])
	}
	return out
}

// Experience is what repairs on runs of a medium have confirmed, beside the table.
type Experience struct {
	Medium  string            `json:"medium"`
	Repairs int               `json:"repairs"` // confirmed, of whichever cause
	Causes  []CauseExperience `json:"causes"`  // of the fault's, in their order
}

// CauseExperience is how often the table takes a cause to be the one where nothing is
// seen yet, and how many of the repairs were of it.
type CauseExperience struct {
	Cause    Cause   `json:"cause"`
	Usual    float64 `json:"usual"` // its share by the table
	Repaired int     `json:"repaired"`
}

// experience is nil where no repair was confirmed, or it was not weighed.
func (w *Weighed) experience(causes []CauseProbability) *Experience {
	if w == nil {
		return nil
	}
	out := &Experience{Medium: string(w.Of)}
	for _, n := range w.Repaired {
		out.Repairs += n
	}
	if out.Repairs == 0 {
		return nil
	}
	table := w.Before.weights()
	sum := table.sum()
	for _, c := range causes {
		out.Causes = append(out.Causes, CauseExperience{c.Cause, table[c.Cause] / sum, w.Repaired[c.Cause]})
	}
	return out
}

// Words tells how the numbers read.
func (e *Experience) Words() string {
	return fmt.Sprintf("Of %d repairs confirmed here on %s, so many were each cause's; usual is its share by the table, before anything is seen.",
		e.Repairs, e.Medium)
}

// Of gives what is known of a cause.
func (e *Experience) Of(cause Cause) CauseExperience {
	for _, c := range e.Causes {
		if c.Cause == cause {
			return c
		}
	}
	return CauseExperience{Cause: cause}
}
