package daemon

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"net/http"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"toneout/internal/fault"
	"toneout/internal/metrics"
	"toneout/internal/notify"
	"toneout/internal/snmp"
	"toneout/internal/web"
)

// owner alone holds the tracker. Everybody else reads its snapshots.
type owner struct {
	options    Options
	answers    chan answer
	changes    chan change
	loans      chan loan
	ended      chan struct{} // closed when the tracker is nobody's any longer
	tracker    *fault.Tracker
	notifier   *notify.Notifier
	journal    *journalWriter // nil where there is none
	exposition *metrics.Exposition
	history    memory
	waited     []byte // for the journal, by the checkpoint
	current    atomic.Pointer[fault.Snapshot]
	inventory  atomic.Pointer[web.InventoryState]
	external   atomic.Pointer[string] // the address of the pages, by the configuration
	beat       atomic.Int64           // when the loop last turned, Unix nanoseconds
	trouble    map[string]*trouble    // by switch, to log changes only
	unhurried  map[string]int         // switches asked less often than configured: polls at the interval since
}

// trouble is a switch whose polls failed, and have not succeeded for long
// since.
type trouble struct {
	class    string
	answered int // polls in a row since
}

// recovered is after how many answers in a row a switch is said to be read
// again, so that one that answers every other poll is told once.
const recovered = 3

func newOwner(o Options, e *metrics.Exposition, n *notify.Notifier, h memory, answers chan answer) *owner {
	w := &owner{
		options: o, answers: answers, changes: make(chan change), loans: make(chan loan), ended: make(chan struct{}),
		tracker: fault.NewTracker(o.Plant, o.settings()), exposition: e, notifier: n, history: h,
		trouble: map[string]*trouble{}, unhurried: map[string]int{},
	}
	if o.Checkpoint != "" {
		w.waited = restore(w.tracker, o.Checkpoint, o.Clock.Now(), o.Log)
	}
	w.current.Store(w.tracker.Snapshot())
	w.external.Store(&o.External)
	w.note(web.InventoryState{Problems: o.Problems, Loaded: o.Clock.Now()})
	w.beat.Store(time.Now().UnixNano())
	return w
}

// heartbeat is how often the loop turns where nothing comes.
const heartbeat = time.Second

// run takes answers until ctx is done.
func (w *owner) run(ctx context.Context) {
	ticks := time.NewTicker(heartbeat)
	defer ticks.Stop()
	defer close(w.ended)
	for {
		w.beat.Store(time.Now().UnixNano())
		select {
		case a := <-w.answers:
			w.take(a)
		case c := <-w.changes:
			w.adopt(c)
		case l := <-w.loans:
			l.do(w.tracker)
			close(l.done)
		case <-ticks.C:
		case <-ctx.Done():
			return
		}
	}
}

// loan is something to do with the tracker, in the loop.
type loan struct {
	do   func(*fault.Tracker)
	done chan struct{}
}

// lend does something with the tracker and waits for it; false where the loop
// has ended.
func (w *owner) lend(ctx context.Context, do func(*fault.Tracker)) bool {
	l := loan{do, make(chan struct{})}
	select {
	case w.loans <- l:
		<-l.done
		return true
	case <-w.ended:
		return false
	case <-ctx.Done():
		return false
	}
}

// take carries one answer through: tracker, snapshot, metrics, log.
func (w *owner) take(a answer) {
	var snap *fault.Snapshot
	class, at := metrics.Answered, a.poll.At
	if a.err != nil {
		at = a.at
		class = string(snmp.ClassOf(a.err))
		snap = w.tracker.Failed(a.name, a.at, class, a.err)
	} else {
		snap = w.tracker.Answered(a.name, a.poll)
	}
	w.exposition.Polled(a.name, class, a.seconds)
	w.publish(snap, a.name)
	w.record(at, a.name)
	w.logSwitch(a, class)
	w.logPace(a)
}

// publish lets everybody know of a snapshot after a poll of a switch. Where
// ports were joined anew, those of other switches may have other runs now.
func (w *owner) publish(snap *fault.Snapshot, polled ...string) {
	if snap.Joined != w.current.Load().Joined {
		polled = polled[:0]
		for _, sw := range snap.Switches {
			polled = append(polled, sw.Name)
		}
	}
	w.exposition.Update(snap, polled...)
	w.logShared(w.current.Load().Shared, snap.Shared)
	w.journal.tell(snap)
	w.current.Store(snap) // after the metrics: who reads that all was tried finds it all there
	w.notifier.Tell(snap)
	w.logFaults(snap.Events)
	w.logWorks(snap.Ended)
	w.logRepairs(snap.Proofs)
}

// adopt takes what reading the files anew came to.
func (w *owner) adopt(c change) {
	if c.setup == nil {
		state := *w.inventory.Load()
		state.Refused = c.refused
		w.note(state)
		return
	}
	before := w.current.Load().Plant
	snap := w.tracker.Replace(c.setup.Plant, c.setup.settings(), c.at)
	w.notifier = c.notifier
	w.publish(snap)
	w.external.Store(&c.setup.External)
	w.note(web.InventoryState{Problems: c.setup.Problems, Loaded: c.at})
	w.journal.tellInventory(before, snap.Plant, len(c.setup.Problems), c.at)
	gone := func(name string) bool { _, watched := snap.Switch(name); return !watched }
	maps.DeleteFunc(w.trouble, func(name string, _ *trouble) bool { return gone(name) })
	maps.DeleteFunc(w.unhurried, func(name string, _ int) bool { return gone(name) })
}

// note tells pages and metrics how the inventory's files were read.
func (w *owner) note(state web.InventoryState) {
	w.inventory.Store(&state)
	w.exposition.Inventory(state.Refused == "", state.Loaded, len(state.Problems))
}

// logSwitch tells once that a switch's polls began to fail, or fail otherwise,
// or succeed again.
func (w *owner) logSwitch(a answer, class string) {
	t := w.trouble[a.name]
	switch {
	case a.err != nil && (t == nil || t.class != class):
		w.trouble[a.name] = &trouble{class: class}
		w.options.Log.Warn("switch not read", "switch", a.name, "error", a.err)
	case a.err != nil:
		t.answered = 0
	case t != nil:
		if t.answered++; t.answered == recovered {
			delete(w.trouble, a.name)
			w.options.Log.Info("switch read again", "switch", a.name)
		}
	}
}

// settled is after how many polls in a row at its interval a switch is said to
// be asked as often as configured, so that one on the brink is told once.
const settled = 10

// logPace tells once that a switch is asked less often than configured, and
// that it is no longer.
func (w *owner) logPace(a answer) {
	polls, unhurried := w.unhurried[a.name]
	switch {
	case a.next > 0 && !unhurried:
		w.options.Log.Warn("switch asked less often: answering keeps its agent busy", "switch", a.name, "next", a.next.Round(100*time.Millisecond))
		fallthrough
	case a.next > 0:
		w.unhurried[a.name] = 0
	case unhurried && polls+1 == settled:
		delete(w.unhurried, a.name)
		w.options.Log.Info("switch asked as often as configured again", "switch", a.name)
	case unhurried:
		w.unhurried[a.name]++
	}
}

// logFaults tells what changed of the faults that alarm.
func (w *owner) logFaults(events []fault.Event) {
	for _, e := range events {
		switch {
		case e.What == fault.Alarmed, e.What == fault.Opened && e.Fault.Alarm:
			w.options.Log.Warn("fault opened", faultAttributes(e.Fault)...)
		case e.What == fault.Resumed && e.Fault.Alarm:
			w.options.Log.Info("fault is still open", append(faultAttributes(e.Fault), slog.Time("since", e.Fault.Since))...)
		case e.What == fault.Hushed:
			w.options.Log.Info("fault is no alarm any longer", faultAttributes(e.Fault)...)
		case e.What == fault.Closed && e.Fault.Alarm:
			w.options.Log.Info("fault closed", faultAttributes(e.Fault)...)
		}
	}
}

// logShared tells which shared causes came and went.
func (w *owner) logShared(before, now []*fault.SharedCause) {
	among := func(list []*fault.SharedCause, c *fault.SharedCause) bool {
		return slices.ContainsFunc(list, func(o *fault.SharedCause) bool { return o.SharedName == c.SharedName })
	}
	for _, c := range now {
		if !among(before, c) {
			w.options.Log.Warn("several runs share a cause", "shared", c.Title, "probability", fmt.Sprintf("%.2f", c.Probability), "runs", strings.Join(c.Faulty, " "))
		}
	}
	for _, c := range before {
		if !among(now, c) {
			w.options.Log.Info("runs share a cause no longer", "shared", c.Title)
		}
	}
}

// logWorks tells of planned work that came to its end.
func (w *owner) logWorks(ended []fault.WorkEnded) {
	for _, e := range ended {
		worse := make([]string, len(e.Worse))
		for i, f := range e.Worse {
			worse[i] = fmt.Sprintf("%s: %s", cmp.Or(f.Run, f.Switch+" "+f.Port), f.Kind)
		}
		w.options.Log.Info("planned work ended", "on", e.Where, "why", e.Work.Why, "worse_than_before", worse, "silent", e.Silent)
	}
}

// logRepairs tells of repairs that were proven or did not hold.
func (w *owner) logRepairs(ended []fault.RepairEnded) {
	for _, e := range ended {
		what := "repair proven"
		if !e.Proven {
			what = "repair did not hold: its fault returned"
		}
		w.options.Log.Info(what, "run", e.Repair.Run, "cause", string(e.Repair.Cause), "kinds", e.Kinds, "repaired", e.Repair.At)
	}
}

func faultAttributes(f *fault.Fault) []any {
	return []any{
		slog.String("kind", string(f.Kind)), slog.String("run", f.Run), slog.String("switch", f.Switch),
		slog.String("port", f.Port), slog.String("summary", f.Summary), slog.String("cause", string(f.Cause())),
	}
}

// stalled is how long the loop may stand before the daemon counts as dead.
const stalled = 10 * time.Second

// alive is nil while the loop turns.
func (w *owner) alive() error {
	if time.Since(time.Unix(0, w.beat.Load())) > stalled {
		return errors.New("the loop that takes the switches' answers stands still")
	}
	return nil
}

func (w *owner) handler() http.Handler { return web.Handler(w.source()) }

func (w *owner) source() web.Source {
	source := web.Source{
		Snapshot:  w.current.Load,
		Metrics:   w.exposition.Handler(),
		Journal:   w.journal.forWeb(),
		Timelines: w.timelines(),
		Questions: w.questions(),
		Recording: w.history.recording(),
		External:  func() string { return *w.external.Load() },
		Guarded:   func() bool { return hasUsers(w.options.WebConfig) },
		Alive:     w.alive,
		Inventory: func() web.InventoryState { return *w.inventory.Load() },
		Now:       time.Now,
	}
	if w.history.store != nil {
		source.Numbers = w.history.store.API()
	}
	return source
}
