package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"regexp"
	"time"

	"golang.org/x/sync/errgroup"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/snmp"
)

// Options are what a daemon needs to know.
type Options struct {
	Plant    *plant.Plant
	Problems []plant.Problem // of the inventory's files, for the pages
	Switches []Switch
	Labels   *regexp.Regexp // finds a run's id in a description; nil for none

	PollEvery          time.Duration
	FalseAlarmsPerWeek float64

	Listener  net.Listener // closed by Run
	WebConfig string       // file for TLS and users; "" for neither

	Log *slog.Logger
	// Open opens a switch to ask; snmp.Open where nil.
	Open func(snmp.Target) (Poller, error)
	// Clock is the time; the system's where zero.
	Clock Clock
}

// Switch is one switch to watch.
type Switch struct {
	snmp.Target
	Space string // an id of the inventory; may be ""
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

// Run watches the switches until ctx is done, and then returns nil. It fails
// where a switch cannot be set up or the server cannot run.
func Run(ctx context.Context, o Options) error {
	if o.Open == nil {
		o.Open = func(t snmp.Target) (Poller, error) { return snmp.Open(t) }
	}
	if o.Clock.Now == nil {
		o.Clock = systemClock
	}
	if err := CheckWebConfig(o.WebConfig); err != nil {
		o.Listener.Close()
		return err
	}
	pollers, err := open(o)
	if err != nil {
		o.Listener.Close()
		return err
	}
	owner := newOwner(o)
	group, ctx := errgroup.WithContext(ctx)
	group.Go(func() error { return serve(ctx, o, owner.handler()) })
	group.Go(func() error { owner.run(ctx); return nil })
	for i, p := range pollers {
		group.Go(func() error {
			defer p.Close()
			pollLoop(ctx, o, o.Switches[i].Name, p, owner.answers)
			return nil
		})
	}
	return group.Wait()
}

func open(o Options) ([]Poller, error) {
	pollers := make([]Poller, 0, len(o.Switches))
	for _, sw := range o.Switches {
		p, err := o.Open(sw.Target)
		if err != nil {
			for _, opened := range pollers {
				opened.Close()
			}
			return nil, fmt.Errorf("set up %w", err)
		}
		pollers = append(pollers, p)
	}
	return pollers, nil
}

func (o Options) tracker() *fault.Tracker {
	s := fault.Settings{Labels: o.Labels, PollEvery: o.PollEvery, FalseAlarmsPerWeek: o.FalseAlarmsPerWeek}
	for _, sw := range o.Switches {
		s.Switches = append(s.Switches, fault.SwitchSettings{Name: sw.Name, Address: sw.Address, Space: sw.Space})
	}
	return fault.NewTracker(o.Plant, s)
}
