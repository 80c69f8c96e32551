package notify

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
)

// An alert is told when it opens, each minute with an end ahead, and when it
// closes, with the moment of that; never as quiet.
func TestOpenRepeatedClosed(t *testing.T) {
	f := &fake{}
	within(t, f, Options{External: "https://toneout.example"}, func(t *testing.T, n *Notifier, c *counts, _ func()) {
		start := time.Now()
		open := slow()
		n.Tell(showing(open, with(slow(), func(f *fault.Fault) { f.Run, f.Quiet, f.Alarm = "Q", true, false })))
		time.Sleep(90 * time.Second)
		n.Tell(showing(open))
		n.Tell(showing(with(open, func(f *fault.Fault) { f.Causes[0].Probability = 0.9 }))) // another pointer, the same words
		synctest.Wait()
		require.Len(t, f.all(), 2)
		for i, p := range f.all() {
			require.Equal(t, start.Add(time.Duration(i)*time.Minute), p.at)
			require.Equal(t, []postable{{
				Labels: map[string]string{"alertname": "RunBelowDesignSpeed", "switch": "acc-n2-1", "port": "1/17",
					"run": "N2-P1-17", "kind": "below-design-speed", "severity": "warning"},
				Annotations: map[string]string{
					"summary": "Run N2-P1-17: Below design speed",
					"description": "Run N2-P1-17: near end acc-n2-1 port 1/17, panel N2-P1 position 17; far end outlet 214-A. " +
						"Likeliest cause: a pair is open (over 90 %). First check: Swap the cords at both ends.",
					"building": "North", "owner": "Estates",
				},
				StartsAt: start.Add(-3 * time.Minute).UTC(), EndsAt: p.at.Add(5 * time.Minute).UTC(),
				GeneratorURL: "https://toneout.example/runs/N2-P1-17",
			}}, inUTC(p.alerts))
		}
		closed := time.Now()
		n.Tell(showing())
		time.Sleep(time.Hour)
		require.Len(t, f.all(), 3)
		last := f.all()[2]
		require.Equal(t, closed.Add(30*time.Second), last.at)
		require.Equal(t, closed.UTC(), last.alerts[0].EndsAt.UTC())
		require.Equal(t, 3, c.of(Sent))
	})
}

func inUTC(alerts []postable) []postable {
	for i := range alerts {
		alerts[i].StartsAt, alerts[i].EndsAt = alerts[i].StartsAt.UTC(), alerts[i].EndsAt.UTC()
	}
	return alerts
}

// A severity that rises is another alert, and the first one closes.
func TestSeverityThatRises(t *testing.T) {
	f := &fake{}
	within(t, f, Options{Linger: -1}, func(t *testing.T, n *Notifier, _ *counts, _ func()) {
		n.Tell(showing(slow()))
		synctest.Wait()
		n.Tell(showing(with(slow(), func(f *fault.Fault) { f.Severity = fault.Critical })))
		synctest.Wait()
		ended := map[string]bool{}
		for _, p := range f.all()[1:] {
			for _, a := range p.alerts {
				ended[a.Labels["severity"]] = !a.EndsAt.After(p.at)
			}
		}
		require.Equal(t, map[string]bool{"warning": true, "critical": false}, ended)
	})
}

// Of an Alertmanager that comes back, failures are counted and logged once,
// and nothing is lost.
func TestServerErrorsAreTriedAgain(t *testing.T) {
	for _, status := range []int{0, 500, 503, 429, 408} {
		t.Run(fmt.Sprint(status), func(t *testing.T) {
			f := &fake{answer: func(n int) int {
				if n <= 4 {
					return status
				}
				return 200
			}}
			var log bytes.Buffer
			within(t, f, Options{Log: slog.New(slog.NewTextHandler(&log, nil))}, func(t *testing.T, n *Notifier, c *counts, _ func()) {
				start := time.Now()
				n.Tell(showing(slow()))
				time.Sleep(20 * time.Second)
				require.Len(t, f.all(), 5)
				require.GreaterOrEqual(t, f.all()[4].at.Sub(start), 1+1+2+4*time.Second, "a pause that doubles")
				require.Equal(t, 4, c.of(Failed))
				require.Equal(t, 1, c.of(Sent))
				require.Zero(t, c.of(Dropped))
			})
			require.Equal(t, 1, bytes.Count(log.Bytes(), []byte("Alertmanager not told")), log.String())
			require.Equal(t, 1, bytes.Count(log.Bytes(), []byte("Alertmanager told again")), log.String())
		})
	}
}

// What is refused is counted and not tried again but at its repeat.
func TestRefusedIsDropped(t *testing.T) {
	for _, status := range []int{400, 401, 404, 413, 302} {
		t.Run(fmt.Sprint(status), func(t *testing.T) {
			f := &fake{answer: func(int) int { return status }}
			var log bytes.Buffer
			within(t, f, Options{Log: slog.New(slog.NewTextHandler(&log, nil))}, func(t *testing.T, n *Notifier, c *counts, _ func()) {
				n.Tell(showing(slow()))
				time.Sleep(59 * time.Second)
				require.Len(t, f.all(), 1)
				time.Sleep(time.Minute)
				require.Len(t, f.all(), 2)
				n.Tell(showing())
				time.Sleep(time.Hour)
				require.Len(t, f.all(), 3, "a closing that is refused is not repeated")
				require.Equal(t, 3, c.of(Dropped))
			})
			require.Equal(t, 1, bytes.Count(log.Bytes(), []byte("\n")), log.String())
		})
	}
}

// What is more than the bound is counted, and told when there is room.
func TestMoreThanIsHeld(t *testing.T) {
	f := &fake{}
	within(t, f, Options{Linger: -1}, func(t *testing.T, n *Notifier, c *counts, _ func()) {
		n.Alertmanagers[0].queue.room = 100
		var many []*fault.Fault
		for i := range 150 {
			many = append(many, with(slow(), func(f *fault.Fault) { f.Run = fmt.Sprint(i) }))
		}
		n.Tell(showing(many...))
		synctest.Wait()
		require.Equal(t, 50, c.of(Dropped))
		require.Equal(t, 100, c.of(Sent))
		for _, p := range f.all() {
			require.LessOrEqual(t, len(p.alerts), maxBatch)
		}
		n.Tell(showing(many[60:]...))
		synctest.Wait()
		n.Tell(showing(many[60:]...))
		synctest.Wait()
		open := map[string]bool{}
		for _, p := range f.all() {
			for _, a := range p.alerts {
				open[a.Labels["run"]] = a.EndsAt.After(p.at)
			}
		}
		for i := range 150 {
			require.Equal(t, i >= 60, open[fmt.Sprint(i)], i)
		}
		require.Equal(t, 50, c.of(Dropped))
	})
}

// A stop tells what is not told yet, and resolves nothing that is open.
func TestStop(t *testing.T) {
	f := &fake{}
	within(t, f, Options{}, func(t *testing.T, n *Notifier, _ *counts, stop func()) {
		other := with(slow(), func(f *fault.Fault) { f.Run = "B" })
		n.Tell(showing(slow(), other))
		synctest.Wait()
		n.Tell(showing(other))
		stop()
		require.Len(t, f.all(), 2)
		last := f.all()[1]
		require.Len(t, last.alerts, 1, "the closed one, without lingering")
		require.Equal(t, "N2-P1-17", last.alerts[0].Labels["run"])
	})
}

func TestStopDoesNotWaitForADeadOne(t *testing.T) {
	f := &fake{answer: func(int) int { return 0 }}
	within(t, f, Options{}, func(t *testing.T, n *Notifier, _ *counts, stop func()) {
		n.Tell(showing(slow()))
		synctest.Wait()
		before := time.Now()
		stop()
		require.LessOrEqual(t, time.Since(before), farewell)
	})
}

// One that never answers holds up neither Tell nor the other, and its password
// goes to it alone.
func TestOneThatHangs(t *testing.T) {
	release := make(chan struct{})
	hanging := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { <-release }))
	defer hanging.Close()
	defer close(release)
	arrived := make(chan *http.Request, 10)
	sound := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { arrived <- r.Clone(context.Background()) }))
	defer sound.Close()
	var log bytes.Buffer
	n, err := New(Options{
		URLs: []string{hanging.URL, "http://quay:harbour-secret@" + sound.Listener.Addr().String() + "/alerts/"},
		Log:  slog.New(slog.NewTextHandler(&log, nil)),
	})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	var loops sync.WaitGroup
	for _, a := range n.Alertmanagers {
		loops.Go(func() { a.Run(ctx) })
		require.NotContains(t, a.Name, "secret")
		require.NotContains(t, a.Name, "quay")
	}
	for i := range 3 {
		n.Tell(showing(with(slow(), func(f *fault.Fault) { f.Run = fmt.Sprint(i) })))
		select {
		case r := <-arrived:
			user, password, _ := r.BasicAuth()
			require.Equal(t, "quay harbour-secret /alerts/api/v2/alerts POST application/json",
				user+" "+password+" "+r.URL.Path+" "+r.Method+" "+r.Header.Get("Content-Type"))
		case <-time.After(10 * time.Second):
			t.Fatal("the other Alertmanager waits for the one that hangs")
		}
	}
	cancel()
	loops.Wait()
	require.NotContains(t, log.String(), "secret")
}

// A password is in no error and no log, wherever it stood.
func TestNoPasswordIsSaid(t *testing.T) {
	for _, bad := range []string{"quay:harbour-secret@am:9093", "ftp://quay:harbour-secret@am", "http://quay:harbour-secret@", "http://quay:harbour-secret@am:port",
		"https://quay:harbour-secret", "quay:harbour-secret", "am:9093", "",
	} {
		_, err := New(Options{URLs: []string{bad}})
		require.ErrorContains(t, err, "not the address of one", bad)
		require.NotContains(t, err.Error(), "secret")
	}
	var log bytes.Buffer
	const gone = "127.0.0.1:1" // a port that was just closed may be the next server's
	n, err := New(Options{URLs: []string{"http://quay:harbour-secret@" + gone}, Log: slog.New(slog.NewTextHandler(&log, nil))})
	require.NoError(t, err)
	n.Tell(showing(slow()))
	n.Alertmanagers[0].turn(t.Context())
	require.Contains(t, log.String(), "refused")
	require.NotContains(t, log.String(), "secret")
}

// While nothing changes, telling it costs next to nothing.
func TestSteadyTellAllocatesNothing(t *testing.T) {
	n, err := New(Options{URLs: []string{"http://am.invalid"}})
	require.NoError(t, err)
	s := showing()
	for i := range 1000 {
		s.Faults = append(s.Faults, with(slow(), func(f *fault.Fault) { f.Run = fmt.Sprint(i) }))
	}
	for i := range 1000 {
		s.Switches = append(s.Switches, &fault.Switch{Name: fmt.Sprint(i), Tried: true, LastAnswer: time.Now()})
	}
	n.Tell(s)
	require.LessOrEqual(t, testing.AllocsPerRun(100, func() { n.Tell(s) }), 2.0)
}

// A clock that was ahead when a fault opened and is put right since leaves an alert that
// begins before it ends: an Alertmanager refuses another one (prometheus/common
// model.Alert.Validate, which its API calls), and with it that it is over.
func TestAClockThatIsSetBack(t *testing.T) {
	now := noon
	n, err := New(Options{URLs: []string{"http://am.invalid"}, Now: func() time.Time { return now }})
	require.NoError(t, err)
	told := func() postable {
		var all []postable
		a := n.Alertmanagers[0]
		require.NoError(t, json.Unmarshal(a.body(a.queue.last(now)), &all))
		require.Len(t, all, 1)
		return all[0]
	}
	n.Tell(showing(with(slow(), func(f *fault.Fault) { f.Since = noon })))
	told()
	now = noon.Add(-time.Hour)
	p := told()
	require.False(t, p.EndsAt.Before(p.StartsAt), "%v to %v", p.StartsAt, p.EndsAt)
	require.True(t, p.EndsAt.After(now))
	n.Tell(showing())
	p = told()
	require.Equal(t, now, p.EndsAt)
	require.False(t, p.EndsAt.Before(p.StartsAt), "%v to %v", p.StartsAt, p.EndsAt)
}
