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

// Lost is a table that a switch has and did not give, though it was asked twice.
type Lost struct{ Switch, Table, Why string }

// Asked is what asking every switch came to, in the order of the setup.
type Asked struct {
	Ports  []plant.DraftPort // as an inventory is drafted from them
	Failed []Unasked
	Lost   []Lost // what of it the ports' places and neighbours are told by
}

// Ask asks every switch of a setup once. progress, which may be nil, is told every
// second how many are done.
func Ask(ctx context.Context, s Setup, progress func(done int)) (found Asked, err error) {
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
		return Asked{}, fmt.Errorf("ask the switches: %w", err)
	}
	tracker := fault.NewTracker(plant.New(plant.Plant{}), s.settings())
	for i, sw := range s.Switches {
		if errs[i] != nil {
			found.Failed = append(found.Failed, Unasked{sw.Name, errs[i]})
			tracker.Failed(sw.Name, time.Now(), string(snmp.ClassOf(errs[i])), errs[i])
			continue
		}
		tracker.Answered(sw.Name, polls[i])
		for _, t := range lost(polls[i]) {
			found.Lost = append(found.Lost, Lost{sw.Name, t.Name, t.Why})
		}
	}
	found.Ports = tracker.Found()
	return found, nil
}

func askOne(ctx context.Context, t snmp.Target) (port.Poll, error) {
	p, err := pollOnce(ctx, t)
	if err == nil && len(lost(p)) > 0 {
		if again, err := pollOnce(ctx, t); err == nil {
			return again, nil
		}
	}
	return p, err
}

func pollOnce(ctx context.Context, t snmp.Target) (port.Poll, error) {
	sw, err := snmp.Open(t)
	if err != nil {
		return port.Poll{}, err
	}
	defer sw.Close()
	ctx, cancel := context.WithTimeout(ctx, askTimeout)
	defer cancel()
	return sw.Poll(ctx)
}

// lost gives the broken ones of the tables that tell where ports are and whom they
// hear.
func lost(p port.Poll) (tables []port.Table) {
	for _, t := range p.Tables {
		switch t.Name {
		case "ifStackTable", "entPhysicalTable", "entAliasMappingTable", "lldpRemTable", "lldpLocPortTable", "dot1dBasePortTable":
			if t.State == port.TableBroken {
				tables = append(tables, t)
			}
		}
	}
	return tables
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
