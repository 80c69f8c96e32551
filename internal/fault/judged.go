package fault

import (
	"maps"
	"slices"
)

// judged keeps what the findings of a place last came to: most polls see what the one before
// saw, and weighing it and putting checks in order takes longer than all else.
type judged struct {
	causes []judgedCauses
	checks []judgedChecks
}

type judgedCauses struct {
	weighed Weighed
	causes  []CauseProbability
}

type judgedChecks struct {
	kind   Kind
	medium string
	causes []CauseProbability
	checks []NextCheck
}

// mostJudged is of how many findings that is kept.
const mostJudged = 8

// causesOf weighs causes, unless they were weighed by the same.
func (j *judged) causesOf(w *Weighed) []CauseProbability {
	for i := range j.causes {
		if k := &j.causes[i]; k.weighed.same(w) {
			return k.causes
		}
	}
	k := judgedCauses{*w, w.Causes()}
	j.causes = append(j.causes[max(0, len(j.causes)+1-mostJudged):], k)
	return k.causes
}

// checksOf puts checks in order, unless they were so for the same.
func (j *judged) checksOf(f *Fault) []NextCheck {
	for i := range j.checks {
		if k := &j.checks[i]; k.kind == f.Kind && k.medium == f.Medium && slices.Equal(k.causes, f.Causes) {
			return k.checks
		}
	}
	k := judgedChecks{f.Kind, f.Medium, f.Causes, ChecksFor(f.Kind, f.Medium, f.Causes)}
	j.checks = append(j.checks[max(0, len(j.checks)+1-mostJudged):], k)
	return k.checks
}

// same tells whether both are weighed by the same.
func (w *Weighed) same(o *Weighed) bool {
	return w.Of == o.Of && w.Before == o.Before && w.Named == o.Named && w.Blamed == o.Blamed &&
		slices.Equal(w.Seen, o.Seen) && slices.Equal(w.Record, o.Record) && maps.Equal(w.Repaired, o.Repaired)
}
