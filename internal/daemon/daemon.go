package daemon

import (
	"context"
	"log/slog"
	"net"
	"os"
	"time"

	"golang.org/x/sync/errgroup"

	"toneout/internal/journal"
	"toneout/internal/metrics"
	"toneout/internal/port"
	"toneout/internal/snmp"
)

// Options are what a daemon needs to know.
type Options struct {
	Setup // to begin with

	// Reload reads configuration and inventory anew; nil where they stay as
	// they are. With an error it gives the files that it knows of all the same.
	Reload  func() (Setup, error)
	Hangups <-chan os.Signal // each calls for a Reload

	Listener  net.Listener // closed by Run
	WebConfig string       // file for TLS and users; "" for neither

	Checkpoint string // file that keeps what is known over a restart; "" for none

	History HistoryOptions

	Journal      journal.Place // where events are kept; zero for nowhere
	JournalEvery time.Duration // between tries where the journal fails; 5 s where 0

	RepeatAlerts time.Duration // how often Alertmanagers are told again; a minute where 0

	Log *slog.Logger
	// Open opens a switch to ask; snmp.Open where nil.
	Open func(snmp.Target) (Poller, error)
	// Clock is the time; the system's where zero.
	Clock Clock
}

// Poller asks one switch, as snmp.Switch does.
type Poller interface {
	Poll(context.Context) (port.Poll, error)
	Close() error
}

// Clock is the passing of time.
type Clock struct {
	Now func() time.Time
	// Until waits for a moment; it returns early with ctx's error.
	Until func(ctx context.Context, moment time.Time) error
}

// systemClock is the real one.
var systemClock = Clock{
	Now: time.Now,
	Until: func(ctx context.Context, moment time.Time) error {
		timer := time.NewTimer(time.Until(moment))
		defer timer.Stop()
		select {
		case <-timer.C:
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	},
}

func (o Options) withDefaults() Options {
	if o.Open == nil {
		o.Open = func(t snmp.Target) (Poller, error) { return snmp.Open(t) }
	}
	if o.Clock.Now == nil {
		o.Clock = systemClock
	}
	return o
}

// Run watches the switches until ctx is done, and then returns nil. It fails
// where a switch or an Alertmanager cannot be set up, another process has the
// history's folder or the server cannot run.
func Run(ctx context.Context, o Options) error {
	o = o.withDefaults()
	exposition := metrics.New()
	group, ctx := errgroup.WithContext(ctx)
	crew := newCrew(o, group, exposition.Notified)
	begin, err := crew.prepare(o.Setup, nil)
	if err == nil {
		err = CheckWebConfig(o.WebConfig)
	}
	var numbers memory
	if err == nil {
		numbers, err = openHistory(o, exposition)
	}
	if err != nil {
		o.Listener.Close()
		return err
	}
	writer := openJournal(ctx, o, exposition.Journal)
	owner := newOwner(o, exposition, begin.notifier, numbers, crew.answers)
	if writer != nil {
		writer.join(owner) // before anybody can post
	}
	group.Go(func() error { return serve(ctx, o, owner.handler()) })
	group.Go(func() error { owner.run(ctx); return nil })
	if store := numbers.store; store != nil {
		group.Go(func() error { store.Run(owner.ended); return nil })
	}
	if o.Checkpoint != "" {
		c := &checkpointer{path: o.Checkpoint, owner: owner, clock: o.Clock, log: o.Log, report: exposition.Checkpoint}
		if writer != nil {
			c.room = writer.room
		}
		group.Go(func() error { c.run(ctx); return nil })
	}
	if writer != nil {
		group.Go(func() error { writer.runToTheStop(ctx); return nil })
	}
	crew.start(ctx, begin)
	if o.Reload != nil {
		r := newReloader(o, owner, crew, begin.notifier)
		group.Go(func() error { lookAgain(ctx, o.Clock, r.looks); return nil })
		group.Go(func() error { r.run(ctx); return nil })
	}
	return group.Wait()
}
