package fault

import (
	"maps"
	"slices"
	"time"
)

// repairNote is what is known of a repair that was taken. It is kept over a
// restart.
type repairNote struct {
	At     time.Time
	Run    string
	Cause  Cause
	By     string
	Failed bool // at one of its ports
}

// RepairEnded is a repair whose proof stands, or whose fault returned before it did.
type RepairEnded struct {
	Repair Repair
	Medium string
	Proven bool
	At     time.Time
	Kinds  []Kind
}

// repairsKept is for how long it is known which repairs were taken.
const repairsKept = 60 * 24 * time.Hour

// leastProof is how long a proof lasts at least where the settings do not say.
const leastProof = 24 * time.Hour

func (s *Settings) leastProof() time.Duration {
	if s.RepairProof > 0 {
		return s.RepairProof
	}
	return leastProof
}

// Took tells whether a repair was taken already.
func (t *Tracker) Took(id string) bool {
	_, taken := t.repairs[id]
	return taken
}

// Repair takes that a run was repaired: the tests of the ports that showed its faults
// begin afresh, and these wait for their proof. One that was taken already changes
// nothing.
func (t *Tracker) Repair(r Repair) *Snapshot {
	if t.Took(r.ID) {
		return t.Snapshot()
	}
	t.repairs[r.ID] = repairNote{At: r.At, Run: r.Run, Cause: r.Cause, By: r.By}
	maps.DeleteFunc(t.repairs, func(_ string, n repairNote) bool { return r.At.Sub(n.At) > repairsKept })
	if s := t.board.sites[place{run: r.Run}]; s != nil {
		for _, p := range s.ports {
			p.repair(r, s.faults)
		}
		t.board.dirty[s] = true
	}
	return t.Snapshot()
}

// conclude tells of a port's proof that stands or failed. A repair is proven once
// all its ports have shown it, and none of them failed.
func (t *Tracker) conclude(p *portState) {
	w := p.proof
	switch {
	case w == nil:
	case !w.waits():
		if !p.holds() {
			p.proof = nil // what returned is over, without a proof
		}
	case t.returned(p):
		w.Failed = p.reading.At
		if note := t.repairs[w.Repair.ID]; !note.Failed {
			note.At, note.Failed = w.Repair.At, true
			t.repairs[w.Repair.ID] = note
			t.endRepair(w, false, w.Failed)
		}
	case w.needs(p.errors.Objective, t.settings.leastProof()).met():
		p.proof = nil
		if !t.repairs[w.Repair.ID].Failed && !t.awaited(w) {
			t.Confirmed(ConfirmedRepair{w.Repair.ID, w.Medium, w.Repair.Cause})
			t.endRepair(w, true, p.reading.At)
		}
	}
}

// returned tells whether a fault that was repaired is there again, and not for a
// reason that is nobody's.
func (t *Tracker) returned(p *portState) bool {
	if !p.holds() {
		return false
	}
	for _, f := range p.findings() {
		if p.proof.of(f.kind) == nil || f.quiet {
			continue
		}
		f.judge(t.repaired)
		if t.guard(&f); !f.quiet && !f.causes[0].quiet() {
			return true
		}
	}
	return false
}

// awaited tells whether another port waits for the proof of the same repair, wherever
// it counts by now: its run may have left the inventory, its switch be silent since a
// restart.
func (t *Tracker) awaited(w *proof) bool {
	waits := func(p *portState) bool { return p.proof.waits() && p.proof.Repair.ID == w.Repair.ID }
	return slices.ContainsFunc(t.order, func(s *switchState) bool {
		return slices.ContainsFunc(s.order, waits) || slices.ContainsFunc(s.kept, waits)
	})
}

func (t *Tracker) endRepair(w *proof, proven bool, at time.Time) {
	e := RepairEnded{Repair: w.Repair, Medium: w.Medium, Proven: proven, At: at}
	for i := range w.Of {
		e.Kinds = append(e.Kinds, w.Of[i].Kind)
	}
	t.proofs = append(t.proofs, e)
}
