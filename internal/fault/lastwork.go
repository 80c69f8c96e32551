package fault

import (
	"fmt"
	"slices"
	"time"
)

// worksShow is for how long after work what hands did may show (common practice, no
// source): a joint that was made badly, or a plug that sits loosely, fails within days.
const worksShow = 7 * 24 * time.Hour

// byHands are what somebody who works on a run does to it, unlike what comes from
// outside, of age or of the devices (common practice, no source; no labelled plant has
// work that was told, so that it is moderate).
var (
	copperByHands = weights{BadCord: 3, LoosePlug: 3, PoorTermination: 3, CrossedPair: 3, SplitPair: 3, OpenPair: 2, ShortedPair: 2,
		WrongCategory: 2, DamagedCable: 2, ShieldBroken: 2, SpeedSetting: 2, DuplexSetting: 2, RecordWrong: 2}
	fibreByHands = weights{DirtyConnector: 3, LooseOptic: 3, ReversedPolarity: 3, BadCord: 3, BentFibre: 2, BrokenStrand: 2, WrongFibre: 2,
		OpticMismatch: 2, LossOverBudget: 2, ReceiverOverload: 2, FECMismatch: 2, SpeedSetting: 2, RecordWrong: 2}
)

// lastWork is the latest work on a run before a trouble began. The zero value is none.
type lastWork struct {
	over time.Time // the trouble began during the work where that is after it
	what string    // such as "planned work on this run: new outlet (ada)"
}

// seeWork takes what was done on the run before the trouble began. What was there before
// anybody watched may be older than any work.
func (t *Tracker) seeWork(f *finding) {
	began := f.port.Onset.item(f.since)
	if f.quiet || began == "" && f.port.Onset.Watched.IsZero() || began == sinceBefore {
		return
	}
	w := t.lastWork(f)
	if w == (lastWork{}) {
		return
	}
	says := "It began during " + w.what
	if gap := f.since.Sub(w.over); gap > 0 {
		says = fmt.Sprintf("It began %s after %s", roughly(gap), w.what)
	}
	// Where it began long after the link was made, that tells more than when it was
	// made: the two depend on each other no more.
	good := slices.Contains(f.seen, afterGood)
	f.seen.see(goodAfterWork, good)
	f.seen.see(afterWork, !good)
	if at := slices.Index(f.evidence, byItself); at >= 0 {
		f.evidence[at] = says + "; the link had been good for a day at least."
	} else {
		f.evidence = append(f.evidence, says+".")
	}
}

// lastWork is the latest repair of a finding's run that was told, or planned work that
// was on it, within a week before it began. Work on the whole plant tells nothing of one
// run.
func (t *Tracker) lastWork(f *finding) (last lastWork) {
	place := &Fault{Run: f.port.place().run, Switch: f.port.ref.Switch, Port: f.port.ref.Port}
	take := func(w lastWork) {
		if later := w.over.Compare(last.over); later > 0 || later == 0 && w.what < last.what {
			last = w
		}
	}
	for id, n := range t.repairs {
		if place.Run != "" && n.Run == place.Run && f.since.After(n.At) && f.since.Sub(n.At) <= worksShow {
			r := Repair{ID: id, At: n.At, Run: n.Run, Cause: n.Cause, By: n.By}
			take(lastWork{n.At, "this run was repaired, " + r.words()})
		}
	}
	for i := range t.work.planned {
		w := &t.work.planned[i]
		if w.To.Sub(w.From) <= neverBegun {
			continue
		}
		if w.On.Attribute != ByPlant && !f.since.Before(w.From) && f.since.Sub(w.To) <= worksShow && t.concerns(w, place) {
			take(lastWork{w.To, w.words(t, place.Run)})
		}
	}
	return last
}

// neverBegun is how long work at most is that was called off before it began: its end is
// put a moment after its beginning.
const neverBegun = time.Second

// words tell of work, seen from a run on which it was.
func (w *PlannedWork) words(t *Tracker, run string) string {
	where := w.Where(t.plant)
	if w.On == (SharedName{ByRun, run}) {
		where = "this run"
	}
	says := "planned work on " + where
	if w.Why != "" {
		says += ": " + w.Why
	}
	if w.By != "" {
		says += fmt.Sprintf(" (%s)", w.By)
	}
	return says
}
