package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"toneout/internal/fault"
	"toneout/internal/journal"
)

// request is an event that somebody waits for until it is on the disk.
type request struct {
	event journal.Event
	done  chan error
}

// journalWriter owns the journal: it alone writes.
type journalWriter struct {
	place    journal.Place
	by       string // this daemon
	address  string // of its pages
	owner    *owner
	room     *waitingRoom
	requests chan request
	turns    chan struct{} // of questions: as many at once as it holds
	clock    Clock
	log      *slog.Logger
	report   func(failing bool, waiting, lost int)
	every    time.Duration // between looks, and tries while it fails

	open    atomic.Pointer[journal.Journal] // nil while it is not; others read it
	ledger  *ledger
	failing error
	lost    int             // as last logged
	pending []journal.Event // made of what waits first, and not written yet
	made    int             // of how much

	works    []fault.PlannedWork              // by the journal; nil where it was not read yet
	recalled time.Time                        // when they were read; zero where they are to be read anew
	proven   map[string]fault.ConfirmedRepair // likewise, by id
	planned  bool                             // whether the tracker has both
	repaired bool                             // likewise the repairs of late
	skipped  sync.Map                         // ids of events that say nothing, to log each once
}

// Times of the writer.
const (
	journalEvery   = 5 * time.Second
	journalTimeout = 10 * time.Second // for one try
	journalBatch   = 200
)

// openJournal opens the journal once; it gives nil where there is to be none. What is
// the matter with one that cannot be opened is told, and holds no watching up.
func openJournal(ctx context.Context, o Options, report func(failing bool, waiting, lost int)) *journalWriter {
	if o.Journal == (journal.Place{}) {
		return nil
	}
	w := &journalWriter{
		place: o.Journal, by: "toneout", room: newWaitingRoom(), requests: make(chan request), turns: make(chan struct{}, mostQuestions), clock: o.Clock, log: o.Log, report: report, every: o.JournalEvery,
	}
	if o.Listener != nil {
		w.address = o.Listener.Addr().String()
	}
	if host, err := os.Hostname(); err == nil {
		w.by += "@" + host
	}
	if w.every == 0 {
		w.every = journalEvery
	}
	w.note(w.reopen(ctx))
	return w
}

// reopen opens the journal, and reads which faults are open by it.
func (w *journalWriter) reopen(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, journalTimeout)
	defer cancel()
	j, err := journal.Open(ctx, w.place)
	if err != nil {
		return err
	}
	open, err := j.Open(ctx)
	if err != nil {
		return errors.Join(err, j.Close())
	}
	if w.ledger == nil {
		closings, err := j.Events(ctx, journal.Query{Kinds: []journal.Kind{journal.FaultClosed}, From: w.clock.Now().Add(-closedKept), Last: mostWaiting})
		if err != nil {
			return errors.Join(err, j.Close())
		}
		w.ledger = newLedger(w.by, w.place.File != "")
		w.ledger.load(closings, open, w.clock.Now())
	}
	w.proven = nil                           // others may have proven some meanwhile
	if err := w.recall(ctx, j); err != nil { // before anybody takes it for open: the tracker is not to forget what is planned
		return errors.Join(err, j.Close())
	}
	w.open.Store(j)
	return nil
}

// join joins writer and owner before either runs, and lets the tracker know what is
// planned, and what repairs have confirmed, before the first poll.
func (w *journalWriter) join(o *owner) {
	w.owner, o.journal = o, w
	w.room.held = o.options.Checkpoint != ""
	if err := w.room.restore(o.waited); err != nil {
		w.log.Error("events that waited for the journal when the checkpoint was written are lost", "error", err)
	}
	o.waited = nil
	if w.works != nil {
		w.teach(o.tracker)
		w.planned = true
	}
}

// runToTheStop runs the writer until ctx is done, and gives it its time for the rest. A
// journal that does not answer then does not hold the stop up: what was not
// acknowledged may be lost, and the ledger finds it after the next start.
func (w *journalWriter) runToTheStop(ctx context.Context) {
	ended := make(chan struct{})
	go func() { defer close(ended); w.run(ctx) }()
	<-ctx.Done()
	select {
	case <-ended:
	case <-time.After(3 * farewell):
		w.log.Error("stopped without the journal: it does not answer", "journal", w.place.String())
	}
}

// run writes what comes until ctx is done, and then what the owner left.
func (w *journalWriter) run(ctx context.Context) {
	ticks := time.NewTicker(w.every)
	defer ticks.Stop()
	for {
		select {
		case <-w.room.wake:
			if w.failing == nil {
				w.work(ctx)
			}
		case r := <-w.requests:
			r.done <- w.answer(ctx, r.event)
		case <-ticks.C:
			w.look(w.owner.current.Load())
			w.othersToo()
			w.work(ctx)
		case <-ctx.Done():
			<-w.owner.ended
			w.room.releaseAll(farewell)
			last, cancel := context.WithTimeout(context.WithoutCancel(ctx), farewell)
			w.work(last)
			cancel()
			if left, _ := w.room.count(); left > 0 {
				w.log.Error("events not written to the journal at the stop: "+w.afterwards(), "events", left)
			}
			w.shut()
			return
		}
	}
}

// afterwards tells what becomes of events that are left at the stop.
func (w *journalWriter) afterwards() string {
	if w.room.held {
		return "the checkpoint keeps them for the next start"
	}
	return "those of open faults are written after the next start"
}

// work writes all that waits, and notes how that went.
func (w *journalWriter) work(ctx context.Context) {
	err := w.ready(ctx)
	if err == nil {
		err = w.catchUp(ctx)
	}
	for err == nil {
		batch := w.room.first(journalBatch)
		if len(batch) == 0 && len(w.pending) == 0 {
			break
		}
		if w.made == 0 {
			w.make(batch)
		}
		if err = w.append(ctx, w.pending...); err == nil {
			w.room.done(w.made)
			w.pending, w.made = nil, 0
		}
	}
	w.note(err)
}

// catchUp lets the tracker have what people told and it does not know yet.
func (w *journalWriter) catchUp(ctx context.Context) error {
	if w.recalled.IsZero() {
		if err := w.recall(ctx, w.open.Load()); err != nil {
			return err
		}
	}
	if !w.planned && w.works != nil {
		w.plan(ctx)
	}
	if !w.repaired {
		return w.repair(ctx)
	}
	return nil
}

// make turns what waits into events.
func (w *journalWriter) make(batch []waiting) {
	for _, e := range batch {
		switch {
		case e.event.ID != "":
			w.pending = append(w.pending, e.event)
		case e.again && w.ledger.knows(&e.fault):
		default:
			w.pending = append(w.pending, w.ledger.take(e.fault)...)
		}
	}
	w.made = len(batch)
}

// look finds what the journal lacks by a snapshot, once all of before is written.
func (w *journalWriter) look(s *fault.Snapshot) {
	if waiting, _ := w.room.count(); w.failing != nil || w.ledger == nil || waiting > 0 {
		return
	}
	w.pending = append(w.pending, w.ledger.look(s)...)
}

// ready opens the journal where it is not.
func (w *journalWriter) ready(ctx context.Context) error {
	if w.open.Load() != nil {
		return nil
	}
	return w.reopen(ctx)
}

// append writes events. A journal that does not take them is closed and opened
// anew, as after its file was moved.
func (w *journalWriter) append(ctx context.Context, events ...journal.Event) error {
	ctx, cancel := context.WithTimeout(ctx, journalTimeout)
	defer cancel()
	err := w.open.Load().Append(ctx, events...)
	if err != nil {
		w.shut()
	}
	return err
}

// answer writes one event that somebody waits for. Once it is on the disk it is
// recorded, whatever becomes of telling the tracker: work tries that again.
func (w *journalWriter) answer(ctx context.Context, e journal.Event) error {
	if w.failing != nil {
		return w.failing
	}
	err := w.ready(ctx)
	if err == nil {
		err = w.append(ctx, e)
	}
	if err != nil {
		w.note(err)
		return err
	}
	switch e.Kind {
	case journal.WorkPlanned:
		w.recalled = time.Time{}
	case journal.RepairMade:
		w.repaired = false
	}
	w.note(w.catchUp(ctx))
	return nil
}

func (w *journalWriter) shut() {
	if w == nil {
		return
	}
	if j := w.open.Swap(nil); j != nil {
		if err := j.Close(); err != nil && w.failing == nil {
			w.log.Warn("journal not closed as it should be", "journal", w.place.String(), "error", err)
		}
	}
}

// note tells when writing begins to fail, when events are lost, and when it is
// over. That the daemon stops is no failure.
func (w *journalWriter) note(err error) {
	if errors.Is(err, context.Canceled) {
		return
	}
	waiting, lost := w.room.count()
	switch {
	case err != nil && w.failing == nil:
		w.log.Error("journal not written: events wait in memory; watching goes on", "error", oneLine(err))
	case err == nil && w.failing != nil:
		w.log.Info("journal written again", "journal", w.place.String(), "lost", lost)
	}
	if lost > 0 && w.lost == 0 {
		w.log.Error("events lost: more wait for the journal than are kept in memory", "kept", mostWaiting)
	}
	w.failing, w.lost = err, lost
	w.report(err != nil, waiting, lost)
}

// submit writes an event and waits until it is on the disk.
func (w *journalWriter) submit(ctx context.Context, e journal.Event) error {
	r := request{e, make(chan error, 1)}
	select {
	case w.requests <- r:
	case <-ctx.Done():
		return fmt.Errorf("write the journal %v: %w", w.place, ctx.Err())
	}
	select {
	case err := <-r.done:
		return err
	case <-ctx.Done():
		return fmt.Errorf("write the journal %v: %w; whether it was written is not known", w.place, ctx.Err())
	}
}

// tell hands over what became of faults, and never waits.
func (w *journalWriter) tell(s *fault.Snapshot) {
	if w == nil {
		return
	}
	var all []waiting
	for _, h := range happeningsOf(s) {
		all = append(all, waiting{fault: h})
	}
	for i := range s.Ended {
		if e, err := outcomeEvent(w.by, w.address, &s.Ended[i], s.At); err == nil {
			all = append(all, waiting{event: e})
		}
	}
	for i := range s.Proofs {
		if e, err := proofEvent(w.by, &s.Proofs[i]); err == nil {
			all = append(all, waiting{event: e})
		}
	}
	w.room.add(all...)
}
