package daemon

import (
	"context"
	"fmt"

	"golang.org/x/sync/errgroup"

	"toneout/internal/notify"
	"toneout/internal/snmp"
)

// task is a goroutine that can be ended apart from the others.
type task struct {
	end   context.CancelFunc
	ended chan struct{}
}

// launch starts a task, which also ends with ctx and is waited for by the
// group.
func launch(ctx context.Context, group *errgroup.Group, do func(context.Context)) *task {
	ctx, cancel := context.WithCancel(ctx)
	t := &task{cancel, make(chan struct{})}
	group.Go(func() error {
		defer close(t.ended)
		defer cancel()
		do(ctx)
		return nil
	})
	return t
}

// endAll ends tasks and waits for them.
func endAll(tasks []*task) {
	for _, t := range tasks {
		t.end()
	}
	for _, t := range tasks {
		<-t.ended
	}
}

// crew is the goroutines of which a setup says how many there are: one for
// each switch, one for each Alertmanager.
type crew struct {
	options Options
	group   *errgroup.Group
	report  func(alertmanager, outcome string, alerts int)
	answers chan answer         // of the switches
	watched map[string]*watched // by switch
	tellers []*task
}

func newCrew(o Options, group *errgroup.Group, report func(alertmanager, outcome string, alerts int)) *crew {
	return &crew{options: o, group: group, report: report, answers: make(chan answer), watched: map[string]*watched{}}
}

type watched struct {
	target snmp.Target
	loop   *loop
	task   *task
}

// prepared is a setup of which all that can fail is done.
type prepared struct {
	*Setup
	opened   map[string]Poller // switches that are new, or asked otherwise than before
	notifier *notify.Notifier
	retold   bool // the notifier is a new one
}

// prepare does what can fail of a change to a setup. The notifier of before is
// kept where it tells the same; it is nil at the start.
func (c *crew) prepare(s Setup, before *notify.Notifier) (*prepared, error) {
	p := &prepared{Setup: &s, opened: map[string]Poller{}, notifier: before}
	for _, sw := range s.Switches {
		if w := c.watched[sw.Name]; w != nil && askedAlike(w.target, sw.Target) {
			continue
		}
		opened, err := c.options.Open(sw.Target)
		if err != nil {
			p.drop()
			return nil, fmt.Errorf("set up %w", err)
		}
		p.opened[sw.Name] = opened
	}
	if before != nil {
		return p, nil
	}
	var err error
	p.retold = true
	p.notifier, err = notify.New(notify.Options{
		URLs: s.Alertmanagers, External: s.External, RepeatEvery: c.options.RepeatAlerts,
		Log: c.options.Log, Report: c.report, Now: c.options.Clock.Now, Until: c.options.Clock.Until,
	})
	if err != nil {
		p.drop()
		return nil, err
	}
	return p, nil
}

// drop closes what was opened and will not be used.
func (p *prepared) drop() {
	for _, opened := range p.opened {
		opened.Close()
	}
}

// retire ends the loops of switches that are watched no longer, or asked
// otherwise from now on.
func (c *crew) retire(p *prepared) {
	kept := map[string]bool{}
	for _, sw := range p.Switches {
		kept[sw.Name] = p.opened[sw.Name] == nil
	}
	var ending []*task
	for name, w := range c.watched {
		if !kept[name] {
			ending = append(ending, w.task)
			delete(c.watched, name)
		}
	}
	endAll(ending)
}

// start starts the loops of the switches that were opened, tells the others
// their interval, and changes the Alertmanagers' loops where the notifier is a
// new one. The old ones tell what they still know first.
func (c *crew) start(ctx context.Context, p *prepared) {
	for _, sw := range p.Switches {
		if w := c.watched[sw.Name]; w != nil {
			w.loop.changeTo(p.PollEvery)
			continue
		}
		l := newLoop(sw.Name, p.opened[sw.Name], p.PollEvery, c.options.Clock, c.answers)
		c.watched[sw.Name] = &watched{sw.Target, l, launch(ctx, c.group, l.run)}
	}
	if !p.retold {
		return
	}
	endAll(c.tellers)
	c.tellers = nil
	for _, a := range p.notifier.Alertmanagers {
		c.tellers = append(c.tellers, launch(ctx, c.group, a.Run))
	}
}
