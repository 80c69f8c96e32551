package daemon

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"sync/atomic"
	"time"

	"toneout/internal/fault"
	"toneout/internal/metrics"
	"toneout/internal/snmp"
	"toneout/internal/web"
)

// owner alone holds the tracker. Everybody else reads its snapshots.
type owner struct {
	options    Options
	answers    chan answer
	tracker    *fault.Tracker
	exposition *metrics.Exposition
	current    atomic.Pointer[fault.Snapshot]
	beat       atomic.Int64      // when the loop last turned, Unix nanoseconds
	trouble    map[string]string // class of a switch's last error, to log changes only
	alarmed    map[identity]fault.Fault
}

// identity is what makes a fault the same fault.
type identity struct {
	run, switchName, port string
	kind                  fault.Kind
}

func newOwner(o Options) *owner {
	w := &owner{
		options: o, answers: make(chan answer), tracker: o.tracker(), exposition: metrics.New(),
		trouble: map[string]string{}, alarmed: map[identity]fault.Fault{},
	}
	w.current.Store(w.tracker.Snapshot())
	w.beat.Store(time.Now().UnixNano())
	return w
}

// heartbeat is how often the loop turns where nothing comes.
const heartbeat = time.Second

// run takes answers until ctx is done.
func (w *owner) run(ctx context.Context) {
	ticks := time.NewTicker(heartbeat)
	defer ticks.Stop()
	for {
		w.beat.Store(time.Now().UnixNano())
		select {
		case a := <-w.answers:
			w.take(a)
		case <-ticks.C:
		case <-ctx.Done():
			return
		}
	}
}

// take carries one answer through: tracker, snapshot, metrics, log.
func (w *owner) take(a answer) {
	var snap *fault.Snapshot
	class := metrics.Answered
	if a.err != nil {
		class = string(snmp.ClassOf(a.err))
		snap = w.tracker.Failed(a.name, a.at, class, a.err)
	} else {
		snap = w.tracker.Answered(a.name, a.poll)
	}
	w.current.Store(snap)
	w.exposition.Polled(a.name, class, a.seconds)
	w.exposition.Update(snap, a.name)
	w.logSwitch(a, class)
	w.logFaults(snap)
}

// logSwitch tells once that a switch's polls began to fail, or fail otherwise,
// or succeed again.
func (w *owner) logSwitch(a answer, class string) {
	before := w.trouble[a.name]
	switch {
	case a.err != nil && class != before:
		w.trouble[a.name] = class
		w.options.Log.Warn("switch not read", "switch", a.name, "error", a.err)
	case a.err == nil && before != "":
		delete(w.trouble, a.name)
		w.options.Log.Info("switch read again", "switch", a.name)
	}
}

// logFaults tells once that a fault was opened or closed, of those that alarm.
func (w *owner) logFaults(snap *fault.Snapshot) {
	open := make(map[identity]fault.Fault, len(w.alarmed))
	for _, f := range snap.Faults {
		if !f.Alarm {
			continue
		}
		id := identityOf(&f)
		if _, known := w.alarmed[id]; !known {
			w.options.Log.Warn("fault opened", faultAttributes(&f)...)
		}
		open[id] = f
	}
	for id, f := range w.alarmed {
		if _, still := open[id]; !still {
			w.options.Log.Info("fault closed", faultAttributes(&f)...)
		}
	}
	w.alarmed = open
}

// identityOf: a run and kind, or a port and kind where there is no run.
func identityOf(f *fault.Fault) identity {
	if f.Run != "" {
		return identity{run: f.Run, kind: f.Kind}
	}
	return identity{switchName: f.Switch, port: f.Port, kind: f.Kind}
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

func (w *owner) handler() http.Handler {
	return web.Handler(web.Source{
		Snapshot: w.current.Load,
		Metrics:  w.exposition.Handler(),
		Alive:    w.alive,
		Problems: w.options.Problems,
		Now:      time.Now,
	})
}
