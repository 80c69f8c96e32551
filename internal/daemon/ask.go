package daemon

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/snmp"
)

// Limits of asking each switch once.
const (
	askedAtATime = 16
	askTimeout   = 2 * time.Minute // for one switch
)

// Unasked is a switch that did not answer, and why.
type Unasked struct {
	Switch string
	Err    error
}

// Ask asks every switch of a setup once, and gives the ports found, as an
// inventory is drafted from them, and the switches that did not answer, both in
// the order of the setup. progress, which may be nil, is told every second how
// many are done.
func Ask(ctx context.Context, s Setup, progress func(done int)) ([]plant.DraftPort, []Unasked, error) {
	polls, errs := make([]port.Poll, len(s.Switches)), make([]error, len(s.Switches))
	var done atomic.Int64
	defer everySecond(func() {
		if progress != nil {
			progress(int(done.Load()))
		}
	})()
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(askedAtATime)
	for i, sw := range s.Switches {
		group.Go(func() error {
			polls[i], errs[i] = askOne(ctx, sw.Target)
			done.Add(1)
			return ctx.Err()
		})
	}
	if err := group.Wait(); err != nil {
		return nil, nil, fmt.Errorf("ask the switches: %w", err)
	}
	tracker := fault.NewTracker(plant.New(plant.Plant{}), s.settings())
	var failed []Unasked
	for i, sw := range s.Switches {
		if errs[i] != nil {
			failed = append(failed, Unasked{sw.Name, errs[i]})
			tracker.Failed(sw.Name, time.Now(), string(snmp.ClassOf(errs[i])), errs[i])
			continue
		}
		tracker.Answered(sw.Name, polls[i])
	}
	return tracker.Found(), failed, nil
}

func askOne(ctx context.Context, t snmp.Target) (port.Poll, error) {
	sw, err := snmp.Open(t)
	if err != nil {
		return port.Poll{}, err
	}
	defer sw.Close()
	ctx, cancel := context.WithTimeout(ctx, askTimeout)
	defer cancel()
	return sw.Poll(ctx)
}

// everySecond does something every second until it is stopped.
func everySecond(do func()) (stop func()) {
	ticks, ended := time.NewTicker(time.Second), make(chan struct{})
	var loop sync.WaitGroup
	loop.Go(func() {
		for {
			select {
			case <-ticks.C:
				do()
			case <-ended:
				return
			}
		}
	})
	return func() {
		ticks.Stop()
		close(ended)
		loop.Wait()
	}
}
