package notify

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// post is one request to a fake Alertmanager.
type post struct {
	at     time.Time
	alerts []postable
	user   string
}

// fake is a client's transport that plays an Alertmanager; answer gives a
// status, or 0 for no answer at all.
type fake struct {
	mu     sync.Mutex
	posts  []post
	answer func(n int) int // of the request of that number; 200 where nil
}

func (f *fake) RoundTrip(r *http.Request) (*http.Response, error) {
	p := post{at: time.Now()}
	if err := json.NewDecoder(r.Body).Decode(&p.alerts); err != nil {
		return nil, err
	}
	p.user, _, _ = r.BasicAuth()
	f.mu.Lock()
	defer f.mu.Unlock()
	f.posts = append(f.posts, p)
	status := 200
	if f.answer != nil {
		status = f.answer(len(f.posts))
	}
	if status == 0 {
		return nil, errors.New("connection refused")
	}
	return &http.Response{StatusCode: status, Status: http.StatusText(status), Body: io.NopCloser(strings.NewReader("because")), Request: r}, nil
}

func (f *fake) all() []post {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]post(nil), f.posts...)
}

// counts sums what is reported.
type counts struct {
	mu sync.Mutex
	by map[string]int
}

func (c *counts) report(_, outcome string, n int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.by == nil {
		c.by = map[string]int{}
	}
	c.by[outcome] += n
}

func (c *counts) of(outcome string) int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.by[outcome]
}

// within runs a test on a clock of its own, with one loop running.
func within(t *testing.T, f *fake, o Options, test func(t *testing.T, n *Notifier, c *counts, stop func())) {
	synctest.Test(t, func(t *testing.T) {
		c := &counts{}
		o.URLs, o.Client, o.Report = []string{"http://am.invalid:9093"}, &http.Client{Transport: f}, c.report
		n, err := New(o)
		require.NoError(t, err)
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan struct{})
		go func() { defer close(ended); n.Alertmanagers[0].Run(ctx) }()
		stop := func() { cancel(); <-ended }
		defer stop()
		synctest.Wait() // the loop rests, so that what a test tells at once goes together
		test(t, n, c, stop)
	})
}

var college = plant.New(plant.Plant{Spaces: []*plant.Space{{ID: "N2-TR", Building: "North"}}})

// slow is a fault that somebody is told of.
func slow() *fault.Fault {
	return &fault.Fault{
		Run: "N2-P1-17", Switch: "acc-n2-1", Port: "1/17", Kind: fault.BelowDesignSpeed, About: fault.AboutRun,
		Severity: fault.Warning, Alarm: true, Since: time.Now().Add(-3 * time.Minute),
		Causes: []fault.CauseProbability{{Cause: fault.OpenPair, Probability: 1}}, Checks: []string{"Swap the cords at both ends."},
		Near: "acc-n2-1 port 1/17, panel N2-P1 position 17", Far: "outlet 214-A", Space: "N2-TR", Owner: "Estates",
	}
}

func with(f *fault.Fault, edit func(*fault.Fault)) *fault.Fault {
	changed := *f
	edit(&changed)
	return &changed
}

func showing(faults ...*fault.Fault) *fault.Snapshot {
	return &fault.Snapshot{Plant: college, Faults: faults}
}
