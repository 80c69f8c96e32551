package notify

import (
	"context"
	"log/slog"
	"maps"
	"net/http"
	"sync"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// Options are what a Notifier needs to know; zero values stand for what is
// said of each.
type Options struct {
	URLs     []string // of the Alertmanagers, with or without a path; none is fine
	External string   // the address that people reach toneout's pages at; "" for no links to them

	RepeatEvery time.Duration // 1 minute
	// Linger is how long a closing waits to be told. Prometheus sees it only
	// after a scrape and an evaluation, and until then may say that the alert
	// is open: resolved by one and open again by the other would be told
	// twice. Half a repeat; negative for none.
	Linger time.Duration

	Client *http.Client // a plain one; its redirects are never followed
	Log    *slog.Logger // nowhere
	// Report takes what became of so many alerts: Sent, Failed (to be sent
	// again) or Dropped, under the Alertmanager's Name.
	Report func(name, outcome string, alerts int)

	Now func() time.Time // time.Now
	// Until waits for a moment and returns early where ctx is done; by the
	// system's clock.
	Until func(ctx context.Context, moment time.Time) error
}

// What may become of an alert.
const (
	Sent    = "sent"
	Failed  = "failed"
	Dropped = "dropped"
)

// Notifier knows what is open. It is safe for concurrent use.
type Notifier struct {
	// Alertmanagers are those of the options, each of which wants its Run
	// started.
	Alertmanagers []*Alertmanager

	options  Options
	mu       sync.Mutex
	plant    *plant.Plant   // as last told
	faults   []*fault.Fault // likewise
	looks    uint64         // how many there were
	ofFaults table
	ofSwitch table
	ofShared table
}

// New makes a Notifier. It fails where a URL is none, without its password in
// the error.
func New(o Options) (*Notifier, error) {
	o = o.withDefaults()
	n := &Notifier{options: o, ofFaults: table{}, ofSwitch: table{}, ofShared: table{}}
	for _, u := range o.URLs {
		a, err := newAlertmanager(u, o)
		if err != nil {
			return nil, err
		}
		n.Alertmanagers = append(n.Alertmanagers, a)
	}
	return n, nil
}

func (o Options) withDefaults() Options {
	if o.RepeatEvery == 0 {
		o.RepeatEvery = time.Minute
	}
	if o.Linger == 0 {
		o.Linger = o.RepeatEvery / 2
	}
	o.Linger = max(o.Linger, 0)
	client := http.Client{}
	if o.Client != nil {
		client = *o.Client
	}
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	o.Client = &client
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Report == nil {
		o.Report = func(string, string, int) {}
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Until == nil {
		o.Until = until
	}
	return o
}

// Tell takes what is so now. It costs a look at each open fault and each
// switch, and never waits for an Alertmanager.
func (n *Notifier) Tell(s *fault.Snapshot) {
	if len(n.Alertmanagers) == 0 {
		return
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	now := n.options.Now()
	n.looks++
	if s.Plant != n.plant || !same(s.Faults, n.faults) {
		n.seeFaults(s, now)
		n.closeUnseen(n.ofFaults, now)
	}
	n.plant, n.faults = s.Plant, s.Faults
	n.seeSwitches(s, now)
	n.closeUnseen(n.ofSwitch, now)
	n.seeShared(s, now)
	n.closeUnseen(n.ofShared, now)
	n.refill(now)
	for _, to := range n.Alertmanagers { // once all is in, so that it goes together
		if to.queue.renewed() {
			to.rouse()
		}
	}
}

// same tells whether two lists are one: a snapshot's is never changed.
func same(a, b []*fault.Fault) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// table is the open alerts of one sort, each with what it was made of.
type table map[identity]*standing

type standing struct {
	alert  *alert
	fault  *fault.Fault // of a fault's
	silent silence      // of a switch's
	shared *fault.SharedCause
	look   uint64 // the look that last saw it open
}

// at finds what stands under an identity, and notes that it is open.
func (n *Notifier) at(t table, id identity) *standing {
	st := t[id]
	if st == nil {
		st = &standing{}
		t[id] = st
	}
	st.look = n.looks
	return st
}

// seeFaults takes the open faults that somebody is told of.
func (n *Notifier) seeFaults(s *fault.Snapshot, now time.Time) {
	for _, f := range s.Faults {
		id, ok := ofFault(f)
		if !ok || !f.Alarm {
			continue
		}
		st := n.at(n.ofFaults, id)
		if st.fault != f || s.Plant != n.plant { // a fault is never changed
			st.fault = f
			n.say(st, id, faultAnnotations(f, buildingOf(s, f)), f.Since, now)
		}
	}
}

// seeSwitches takes the switches that cannot be read.
func (n *Notifier) seeSwitches(s *fault.Snapshot, now time.Time) {
	behind, cut := hidden(s), cutOff(s)
	for _, sw := range s.Switches {
		if !sw.Unread() {
			continue
		}
		id, ok := ofSwitch(sw)
		if !ok {
			continue
		}
		st, is := n.at(n.ofSwitch, id), silence{sw.Class, behind[sw.Name], cut[sw.Name]}
		if st.alert == nil || st.silent != is {
			st.silent = is
			n.say(st, id, is.annotations(id), sw.LastTry, now)
		}
	}
}

// say tells every Alertmanager of an alert that opened or speaks otherwise
// than before.
func (n *Notifier) say(st *standing, id identity, annotations map[string]string, since, now time.Time) {
	switch {
	case st.alert == nil:
	case maps.Equal(st.alert.annotations, annotations):
		return
	default:
		since = st.alert.since
	}
	if since.IsZero() || since.After(now) {
		since = now
	}
	st.alert = &alert{identity: id, annotations: annotations, since: since, link: id.link(n.options.External)}
	n.each(st.alert, now)
}

// closeUnseen closes what the latest look did not see.
func (n *Notifier) closeUnseen(t table, now time.Time) {
	for id, st := range t {
		if st.look != n.looks {
			closed := *st.alert
			closed.ended = now
			n.each(&closed, now)
			delete(t, id)
		}
	}
}

func (n *Notifier) each(a *alert, now time.Time) {
	for _, to := range n.Alertmanagers {
		to.take(a, now)
	}
}

// refill hands an Alertmanager whose queue was full what is open still.
func (n *Notifier) refill(now time.Time) {
	for _, to := range n.Alertmanagers {
		if !to.queue.wants() {
			continue
		}
		for _, open := range []table{n.ofFaults, n.ofSwitch, n.ofShared} {
			for _, st := range open {
				to.queue.put(st.alert, now)
			}
		}
	}
}

// until waits by the system's clock.
func until(ctx context.Context, moment time.Time) error {
	timer := time.NewTimer(time.Until(moment))
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
