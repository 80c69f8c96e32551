package daemon

import (
	"cmp"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"toneout/internal/fault"
	"toneout/internal/journal"
	"toneout/internal/web"
)

// What people tell is an event each, with what the API gives of it as its data; a
// repair's holds the run's faults as of then besides.

// repairData is the data of a repair.
type repairData struct {
	web.Repair
	Records []journal.FaultRecord `json:"fault_records"`
}

// forWeb is the journal as pages and API use it; nil where there is none.
func (w *journalWriter) forWeb() *web.Journal {
	if w == nil {
		return nil
	}
	return &web.Journal{
		Repairs: w.toldRepairs,
		Notes: func(ctx context.Context, run string) ([]web.Note, error) {
			return tellings[web.Note](ctx, w, journal.Query{Kinds: []journal.Kind{journal.NoteMade}, Run: run})
		},
		Taken: func(ctx context.Context, run string) ([]web.Taken, error) {
			return tellings[web.Taken](ctx, w, journal.Query{Kinds: []journal.Kind{journal.FaultTaken}, Run: run})
		},
		Works:  w.toldWorks,
		Repair: w.tellRepair,
		Plan:   w.tellWork,
		Note: func(ctx context.Context, n *web.Note) error {
			n.ID, n.At = newID(), w.now()
			return w.tellEvent(ctx, journal.Event{ID: n.ID, Kind: journal.NoteMade, At: n.At, By: n.By, Run: n.Run, Switch: n.Switch, Port: n.Port}, n)
		},
		Take: w.tellTaken,
	}
}

// newID names what somebody told.
func newID() string { return rand.Text() }

func (w *journalWriter) now() time.Time { return micro(w.clock.Now()).UTC() }

// tellEvent writes an event with its data, and waits until it is on the disk.
func (w *journalWriter) tellEvent(ctx context.Context, e journal.Event, data any) error {
	e, err := e.With(data)
	if err != nil {
		return err
	}
	return w.submit(ctx, e)
}

var errAway = errors.New("the journal cannot be read at the moment; the log says why")

// events reads the journal, where it is open.
func (w *journalWriter) events(ctx context.Context, q journal.Query) ([]journal.Event, error) {
	j := w.open.Load()
	if j == nil {
		return nil, errAway
	}
	return eventsOf(ctx, j, q)
}

// eventsOf reads a journal, and does not wait for ever.
func eventsOf(ctx context.Context, j *journal.Journal, q journal.Query) ([]journal.Event, error) {
	ctx, cancel := context.WithTimeout(ctx, journalTimeout)
	defer cancel()
	return j.Events(ctx, q)
}

// dataOf gives what an event tells; false where it cannot be read, as from another
// hand. Such a one is logged once, and holds nothing up.
func dataOf[T any](w *journalWriter, e *journal.Event) (data T, ok bool) {
	err := json.Unmarshal(e.Data, &data)
	if err == nil {
		return data, true
	}
	if _, logged := w.skipped.LoadOrStore(e.ID, true); !logged {
		w.log.Error("event of the journal left out: its data cannot be read", "event", e.ID, "kind", string(e.Kind), "error", err)
	}
	return data, false
}

// mostTellings is how many tellings of a sort are given, the latest ones.
const mostTellings = 10_000

func tellings[T any](ctx context.Context, w *journalWriter, q journal.Query) ([]T, error) {
	q.Last = mostTellings
	events, err := w.events(ctx, q)
	out := make([]T, 0, len(events))
	for _, e := range events {
		if t, ok := dataOf[T](w, &e); ok {
			out = append(out, t)
		}
	}
	return out, err
}

func (w *journalWriter) tellRepair(ctx context.Context, r *web.Repair) error {
	r.ID, r.At = newID(), w.now()
	data := repairData{Repair: *r, Records: []journal.FaultRecord{}}
	s := w.owner.current.Load()
	for _, f := range s.FaultsOf(r.Run) {
		data.Records = append(data.Records, journal.RecordOf(f, s))
	}
	return w.tellEvent(ctx, journal.Event{ID: r.ID, Kind: journal.RepairMade, At: r.At, By: r.By, Run: r.Run}, data)
}

func (w *journalWriter) tellTaken(ctx context.Context, t *web.Taken) error {
	t.ID, t.At = newID(), w.now()
	e := journal.Event{ID: t.ID, Kind: journal.FaultTaken, At: t.At, By: t.By, Run: t.Run, Switch: t.Switch, Port: t.Port, FaultKind: fault.Kind(t.Kind)}
	if f := web.OpenFault(w.owner.current.Load(), t); f != nil {
		e.Fault, e.Since = journal.FaultID(f), f.Since
	}
	return w.tellEvent(ctx, e, t)
}

// tellWork announces work, or announces otherwise what has this id.
func (w *journalWriter) tellWork(ctx context.Context, p *web.PlannedWork) error {
	p.At, p.ID = w.now(), cmp.Or(p.ID, newID())
	e := journal.Event{ID: p.ID + " " + stamp(p.At), Kind: journal.WorkPlanned, At: p.At, By: p.By}
	switch on := p.Fault().On; on.Attribute {
	case fault.ByRun:
		e.Run = on.Value
	case fault.BySwitch:
		e.Switch = on.Value
	}
	return w.tellEvent(ctx, e, p)
}

// toldRepairs are a run's repairs, or all, with what became of them.
func (w *journalWriter) toldRepairs(ctx context.Context, run string) ([]web.Repair, error) {
	repairs, err := tellings[web.Repair](ctx, w, journal.Query{Kinds: []journal.Kind{journal.RepairMade}, Run: run})
	if err != nil {
		return nil, err
	}
	ends, err := w.events(ctx, journal.Query{Kinds: repairEnds, Run: run, Last: mostTellings})
	if err != nil {
		return nil, err
	}
	ended := map[string]journal.Event{}
	for _, e := range ends {
		if o, ok := dataOf[repairOutcome](w, &e); ok {
			ended[o.Repair] = e
		}
	}
	for i := range repairs {
		if e, over := ended[repairs[i].ID]; over {
			come(&repairs[i], &e)
		}
	}
	return repairs, nil
}

// come tells what came of a repair.
func come(r *web.Repair, e *journal.Event) {
	at := e.At
	r.Outcome, r.OutcomeAt = web.RepairProven, &at
	if e.Kind == journal.RepairFailed {
		r.Outcome = web.RepairFailed
	}
}

// toldWorks is all planned work as last announced, with what came of it.
func (w *journalWriter) toldWorks(ctx context.Context) ([]web.PlannedWork, error) {
	events, err := w.events(ctx, journal.Query{Kinds: []journal.Kind{journal.WorkPlanned, journal.WorkEnded}})
	if err != nil {
		return nil, err
	}
	return w.worksOf(events), nil
}

func (w *journalWriter) worksOf(events []journal.Event) []web.PlannedWork {
	byID, over := map[string]*web.PlannedWork{}, map[string]time.Time{}
	for _, e := range events {
		p, ok := dataOf[web.PlannedWork](w, &e)
		if !ok {
			continue
		}
		if was := byID[p.ID]; e.Kind == journal.WorkEnded && was != nil {
			was.Ended, over[p.ID] = p.Ended.With(was.Ended), p.To // each daemon tells of its own switches
		} else if e.Kind == journal.WorkPlanned {
			if was != nil && !p.To.After(over[p.ID]) { // it is over all the same
				p.Ended = was.Ended
			}
			byID[p.ID] = &p
		}
	}
	out := []web.PlannedWork{}
	for _, p := range byID {
		out = append(out, *p)
	}
	slices.SortFunc(out, func(a, b web.PlannedWork) int { return cmp.Or(a.From.Compare(b.From), cmp.Compare(a.ID, b.ID)) })
	return out
}

// outcomeEvent is that planned work came to its end, and what is worse. The end makes it
// one, since work may go on; and the address of the daemon's pages, since a host may have several.
func outcomeEvent(by, address string, ended *fault.WorkEnded, at time.Time) (journal.Event, error) {
	work := ended.Work
	data := web.PlannedWork{
		ID: work.ID, At: micro(at).UTC(), On: map[string]string{string(work.On.Attribute): work.On.Value}, From: work.From, To: work.To, By: work.By, Why: work.Why,
		Ended: &web.WorkOutcome{At: micro(at).UTC(), Worse: []web.WorseFault{}, Silent: append([]string{}, ended.Silent...)},
	}
	for _, f := range ended.Worse {
		data.Ended.Worse = append(data.Ended.Worse, web.WorseFault{Run: f.Run, Switch: f.Switch, Port: f.Port, Kind: string(f.Kind), Severity: string(f.Severity), Summary: f.Summary})
	}
	return journal.Event{ID: fmt.Sprintf("ended %s %s %s %s", by, address, work.ID, stamp(work.To)), Kind: journal.WorkEnded, At: at, By: by}.With(data)
}

// repairOutcome is the data of a repair that was proven or did not hold.
type repairOutcome struct {
	Repair string       `json:"repair"` // its id
	Cause  string       `json:"cause"`
	Medium string       `json:"medium"`
	Kinds  []fault.Kind `json:"kinds"`
}

// proofEvent is what became of a repair.
func proofEvent(by string, ended *fault.RepairEnded) (journal.Event, error) {
	kind := journal.RepairFailed
	if ended.Proven {
		kind = journal.RepairProven
	}
	return journal.Event{ID: fmt.Sprintf("%s %s", kind, ended.Repair.ID), Kind: kind, At: ended.At, By: by, Run: ended.Repair.Run}.
		With(repairOutcome{ended.Repair.ID, string(ended.Repair.Cause), ended.Medium, ended.Kinds})
}

// repairsBack is how far back repairs are looked for that the tracker may not have
// taken: those of other daemons, and those that came after the last checkpoint.
const repairsBack = 24 * time.Hour

// repair lets the tracker take the repairs of late. It knows those that it took.
// Before every switch was asked once it does not know what there is to repair.
func (w *journalWriter) repair(ctx context.Context) error {
	j := w.open.Load()
	if j == nil || !w.owner.current.Load().Tried() {
		return nil
	}
	events, err := eventsOf(ctx, j, journal.Query{Kinds: []journal.Kind{journal.RepairMade}, From: w.clock.Now().Add(-repairsBack)})
	if err != nil {
		return err
	}
	var repairs []fault.Repair
	for _, e := range events {
		if r, ok := dataOf[web.Repair](w, &e); ok {
			repairs = append(repairs, fault.Repair{ID: r.ID, At: r.At, Run: r.Run, Cause: fault.Cause(r.Cause), By: r.By})
		}
	}
	w.repaired = w.owner.lend(ctx, func(t *fault.Tracker) {
		for _, r := range repairs {
			if !t.Took(r.ID) {
				w.owner.publish(t.Repair(r))
			}
		}
	})
	return nil
}

// confirmed gives the repairs that were proven, by whichever daemon. One
// that did not hold at another port of its run is none.
func (w *journalWriter) confirmed(ctx context.Context, j *journal.Journal) (map[string]fault.ConfirmedRepair, error) {
	events, err := eventsOf(ctx, j, journal.Query{Kinds: repairEnds})
	out := map[string]fault.ConfirmedRepair{}
	var failed []string
	for _, e := range events {
		o, ok := dataOf[repairOutcome](w, &e)
		switch {
		case !ok:
		case e.Kind == journal.RepairFailed:
			failed = append(failed, o.Repair)
		default:
			out[o.Repair] = fault.ConfirmedRepair{ID: o.Repair, Medium: o.Medium, Cause: fault.Cause(o.Cause)}
		}
	}
	for _, id := range failed {
		delete(out, id)
	}
	return out, err
}

// recount reads which repairs were proven: all of them each time, since another daemon
// may have been long without the journal.
func (w *journalWriter) recount(ctx context.Context, j *journal.Journal) error {
	late, err := w.confirmed(ctx, j)
	if err != nil {
		return err
	}
	if w.proven == nil {
		w.proven, w.planned = late, false
	}
	for id, r := range late {
		if _, known := w.proven[id]; !known {
			w.proven[id], w.planned = r, false
		}
	}
	return nil
}

// worksBack is for how long the tracker hears of work that is over: what hands did shows
// later, and what it says of a fault holds while that is open.
const worksBack = 60 * 24 * time.Hour

// recall reads which planned work is not over, or was not two months ago, and which
// repairs were proven.
func (w *journalWriter) recall(ctx context.Context, j *journal.Journal) error {
	events, err := eventsOf(ctx, j, journal.Query{Kinds: []journal.Kind{journal.WorkPlanned}})
	if err != nil {
		return err
	}
	all := w.worksOf(events)
	now := w.clock.Now()
	works := []fault.PlannedWork{}
	for i := range all {
		if all[i].To.After(now.Add(-worksBack)) {
			works = append(works, all[i].Fault())
		}
	}
	if err := w.recount(ctx, j); err != nil {
		return err
	}
	if w.works == nil || !slices.Equal(works, w.works) {
		w.works, w.planned = works, false
	}
	w.recalled, w.repaired = time.Now(), false
	return nil
}

// plan lets the tracker know what is planned, and what repairs have confirmed.
func (w *journalWriter) plan(ctx context.Context) {
	w.planned = w.owner.lend(ctx, func(t *fault.Tracker) { w.owner.publish(w.teach(t)) })
}

func (w *journalWriter) teach(t *fault.Tracker) *fault.Snapshot {
	t.Recall(slices.Collect(maps.Values(w.proven)))
	return t.Plan(w.works, w.clock.Now())
}

// recallEvery is how often what other daemons wrote is read.
const recallEvery = time.Minute

// othersToo has what was planned through another daemon, or proven by it, read by the next
// work.
func (w *journalWriter) othersToo() {
	if w.place.File == "" && time.Since(w.recalled) >= recallEvery {
		w.recalled = time.Time{}
	}
}
