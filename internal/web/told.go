package web

import (
	"context"
	"fmt"
	"slices"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// WasTold is what people told of a run, or of a port that has none; nothing where no
// journal is kept.
type WasTold struct {
	Taken  []Taken `json:"taken"`                 // who is at its open faults
	Told   []Told  `json:"told"`                  // the latest first
	Unread string  `json:"told_unread,omitempty"` // why what was told cannot be read now
}

// Told is something that somebody told.
type Told struct {
	Sort  ToldSort  `json:"sort"`
	ID    string    `json:"id"` // of the list that its sort names
	At    time.Time `json:"at"`
	By    string    `json:"by"`
	What  string    `json:"what"`            // in words
	State string    `json:"state,omitempty"` // what became of it, in words
	Notes []string  `json:"notes,omitempty"`

	mark marked
}

// ToldSort is in which list a telling stands: /api/repairs, /api/planned-work, /api/notes
// or /api/taken.
type ToldSort string

// The sorts.
const (
	ToldRepair ToldSort = "repair"
	ToldWork   ToldSort = "planned-work"
	ToldNote   ToldSort = "note"
	ToldTaken  ToldSort = "taken"
)

// Words tell who is at a fault, and since when by the clock of a zone.
func (t *Taken) Words(in *time.Location) string {
	words := fmt.Sprintf("%s is at it, since %s", t.By, moment(t.At, in))
	if t.Note != "" {
		words += ": " + t.Note
	}
	return words
}

// TakenOf is who is at a fault, of those who took some; nil for nobody.
func TakenOf(f *fault.Fault, taken []Taken) *Taken {
	at := slices.IndexFunc(taken, func(t Taken) bool { return t.Kind == string(f.Kind) && !t.At.Before(f.Since) })
	if at < 0 {
		return nil
	}
	return &taken[at]
}

// toldOf reads what was told of a run, and what is planned that touches it.
func (t teller) toldOf(ctx context.Context, run *plant.Run, faults []*fault.Fault) WasTold {
	if t.Journal == nil {
		return WasTold{Taken: []Taken{}, Told: []Told{}}
	}
	all, taken, err := t.ofRun(ctx, run)
	return wasTold(all, taken, faults, err)
}

// toldOfPort reads what was told of a port without a run.
func (t teller) toldOfPort(ctx context.Context, switchName, portName string, faults []*fault.Fault) WasTold {
	if t.Journal == nil {
		return WasTold{Taken: []Taken{}, Told: []Told{}}
	}
	var all []Told
	taken, err := t.Journal.Taken(ctx, "")
	taken = slices.DeleteFunc(taken, func(x Taken) bool { return x.Run != "" || x.Switch != switchName || x.Port != portName })
	for i := range taken {
		all = append(all, takenLine(&taken[i]))
	}
	if err == nil {
		var notes []Note
		notes, err = t.Journal.Notes(ctx, "")
		for _, n := range notes {
			if n.Run == "" && n.Switch == switchName && n.Port == portName {
				all = append(all, noteLine(&n))
			}
		}
	}
	return wasTold(all, taken, faults, err)
}

func wasTold(all []Told, taken []Taken, faults []*fault.Fault, err error) WasTold {
	if err != nil {
		return WasTold{Taken: []Taken{}, Told: []Told{}, Unread: err.Error()}
	}
	slices.SortStableFunc(all, func(a, b Told) int { return b.At.Compare(a.At) })
	slices.SortStableFunc(taken, func(a, b Taken) int { return b.At.Compare(a.At) })
	w := WasTold{Taken: []Taken{}, Told: orNone(all)}
	for _, f := range faults {
		if x := TakenOf(f, taken); x != nil {
			w.Taken = append(w.Taken, *x)
		}
	}
	return w
}

func (t teller) ofRun(ctx context.Context, run *plant.Run) (all []Told, taken []Taken, err error) {
	repairs, err := t.Journal.Repairs(ctx, run.ID)
	if err != nil {
		return nil, nil, err
	}
	notes, err := t.Journal.Notes(ctx, run.ID)
	if err != nil {
		return nil, nil, err
	}
	taken, err = t.Journal.Taken(ctx, run.ID)
	if err != nil {
		return nil, nil, err
	}
	works, err := t.Journal.Works(ctx)
	if err != nil {
		return nil, nil, err
	}
	for i := range repairs {
		all = append(all, t.repairLine(&repairs[i]))
	}
	for i := range notes {
		all = append(all, noteLine(&notes[i]))
	}
	for i := range taken {
		all = append(all, takenLine(&taken[i]))
	}
	near := touching(t.snapshot, run)
	for i := range works {
		if on := works[i].Fault().On; slices.Contains(near, on) || on.Attribute == fault.ByPlant {
			all = append(all, t.workLine(&works[i]))
		}
	}
	return all, taken, nil
}

var (
	standsMark = marked{"fits", "✓"}
	brokeMark  = marked{"broken", "✗"}
	waitsMark  = marked{"unsure", "~"}
)

func noteLine(n *Note) Told { return Told{Sort: ToldNote, ID: n.ID, At: n.At, By: n.By, What: n.Note} }

func takenLine(x *Taken) Told {
	return Told{Sort: ToldTaken, ID: x.ID, At: x.At, By: x.By, What: "is at it: " + fault.Kind(x.Kind).Title(), Notes: notEmpty(x.Note)}
}

func (t teller) repairLine(r *Repair) Told {
	l := Told{Sort: ToldRepair, ID: r.ID, At: r.At, By: r.By, What: "repaired: " + fault.Cause(r.Cause).Title(), Notes: notEmpty(r.Note)}
	switch {
	case r.Outcome == RepairProven:
		l.mark, l.State = standsMark, "proven"
	case r.Outcome == RepairFailed:
		l.mark, l.State = brokeMark, "its fault returned"
	case len(r.Faults) == 0:
		l.State = "no fault was open"
	case t.awaited(r.ID):
		l.mark, l.State = waitsMark, "waits for its proof"
	}
	return l
}

func (t teller) workLine(w *PlannedWork) Told {
	work := w.Fault()
	state, mark := t.stateOf(w)
	return Told{Sort: ToldWork, ID: w.ID, At: w.At, By: w.By, What: fmt.Sprintf("planned work on %s: %s", work.Where(t.snapshot.Plant), w.Why),
		mark: mark, State: state, Notes: []string{t.span(w)}}
}
