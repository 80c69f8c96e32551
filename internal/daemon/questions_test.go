package daemon

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/journal"
	"toneout/internal/report"
	"toneout/internal/web"
)

// Whoever asks while as many questions as are allowed are being answered waits for a
// turn, and is told where none comes.
func TestQuestionsToTheJournalTakeTurns(t *testing.T) {
	q := newQuarter(t)
	t.Cleanup(func() { q.stop() })
	q.poll(quarterBegins)
	q.write()
	q.settle()
	ask := func(ctx context.Context, path string) (int, string) {
		answer := httptest.NewRecorder()
		q.handler.ServeHTTP(answer, httptest.NewRequestWithContext(ctx, http.MethodGet, path, nil))
		return answer.Code, answer.Body.String()
	}
	for range mostQuestions {
		q.owner.journal.turns <- struct{}{}
	}
	for _, path := range []string{"/api/figures", "/api/changes", "/api/runs/A1/timeline"} {
		impatient, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
		status, body := ask(impatient, path)
		cancel()
		require.Equal(t, http.StatusServiceUnavailable, status, path)
		require.Contains(t, body, "the journal answers 2 questions at once, and this one waited 20s in vain for its turn: ask again later", path)

		answered := make(chan int)
		go func() { status, _ := ask(t.Context(), path); answered <- status }()
		<-q.owner.journal.turns
		require.Equal(t, http.StatusOK, <-answered, path)
		q.owner.journal.turns <- struct{}{} // it gave its place back
	}
	_, err := inTurn(t.Context(), &journalWriter{turns: make(chan struct{}, 1)}, func(ctx context.Context) (any, error) {
		last, limited := ctx.Deadline()
		require.True(t, limited && time.Until(last) <= mostReading)
		return nil, nil
	})
	require.NoError(t, err)
}

// What figures and changes tell of a month does not depend on how much came after it.
func TestAMonthIsToldWholeHoweverMuchFollows(t *testing.T) {
	q := newQuarter(t)
	t.Cleanup(func() { q.stop() })
	q.poll(quarterBegins)
	q.write()
	event := func(kind journal.Kind, id, run string, at time.Time, data any) journal.Event {
		e := journal.Event{ID: id, Kind: kind, At: at, By: "test", Run: run}
		if kind == journal.FaultOpened || kind == journal.FaultClosed {
			e.Fault, e.FaultKind, e.Since, e.Switch, e.Port = "A2 errors", fault.FrameErrors, on(2, 2, 0), "acc-1", "1/2"
		}
		e, err := e.With(data)
		require.NoError(t, err)
		return e
	}
	repair := func(id, run string, at time.Time) journal.Event {
		return event(journal.RepairMade, id, run, at, web.Repair{ID: id, At: at, Run: run, Cause: "loose-plug"})
	}
	outcome := func(id string) repairOutcome {
		return repairOutcome{Repair: id, Kinds: []fault.Kind{fault.FrameErrors}}
	}
	events := []journal.Event{
		event(journal.FaultOpened, "opened", "A2", on(2, 2, 1), nil),
		repair("in vain", "A2", on(2, 3, 0)), event(journal.RepairFailed, "failed", "A2", on(2, 3, 1), outcome("in vain")),
		repair("good", "A2", on(2, 4, 0)), event(journal.RepairProven, "proven", "A2", on(2, 6, 0), outcome("good")),
		event(journal.FaultClosed, "closed", "A2", on(2, 6, 0), nil),
	}
	for i := range mostTellings {
		events = append(events, repair(fmt.Sprint("later ", i), "A1", on(3, 1, 0)))
	}
	require.NoError(t, q.owner.journal.open.Load().Append(t.Context(), events...))
	q.set(on(3, 2, 0))

	var figures report.Figures
	q.get("/api/figures?zone=UTC&from=2026-02-01", &figures)
	february := figures.Months[0].Groups[0]
	require.Equal(t, []int{1, 1, 1}, []int{february.Opened, february.Ended, february.FailedRepairs})
	require.Equal(t, on(2, 4, 0).Sub(on(2, 2, 1)).Seconds(), february.Repair.Mean)

	told := func(from, to string) (all []string) {
		var c changes
		q.get("/api/changes?from="+from+"&to="+to, &c)
		for _, r := range c.Repairs {
			all = append(all, r.ID+" "+r.Outcome)
		}
		return all
	}
	require.Equal(t, []string{"in vain failed", "good proven"}, told("2026-02-03T00:00:00Z", "2026-02-05T00:00:00Z"))
	require.Equal(t, []string{"good proven"}, told("2026-02-05T00:00:00Z", "2026-02-07T00:00:00Z"), "made before, proven then")
	require.Empty(t, told("2026-02-07T00:00:00Z", "2026-02-08T00:00:00Z"))
}

// A switch tells since when a link is away: of before it was watched nothing counts, and
// where nobody knows since when that was, it is said.
func TestFiguresOfALinkThatWasAwayBefore(t *testing.T) {
	q := newQuarter(t)
	t.Cleanup(func() { q.stop() })
	for n := range 4 {
		q.set(quarterBegins.Add(time.Duration(n) * quarterEvery))
		q.poll(q.time())
		q.write()
	}
	missing := func(n int, run, name, port string, since, opened time.Time) journal.Event {
		e, err := journal.Event{ID: fmt.Sprint(n), Kind: journal.FaultOpened, At: opened, By: "test", Run: run, Switch: name, Port: port,
			Fault: fmt.Sprint("missing ", n), FaultKind: fault.NoLink, Since: since}.With(nil)
		require.NoError(t, err)
		return e
	}
	first, later := quarterBegins.Add(2*quarterEvery), quarterBegins.Add(3*quarterEvery)
	portOf := func(run string) string { return q.cables[run].A.Name }
	require.NoError(t, q.owner.journal.open.Load().Append(t.Context(),
		missing(1, "A1", "acc-1", portOf("A1"), on(1, 1, 0), first),
		missing(2, "A2", "acc-1", portOf("A2"), later.Add(-30*time.Second), later),
		missing(3, "B1", "acc-2", "away", on(1, 1, 0), later))) // a port of which there are no polls
	q.set(on(2, 2, 0))
	figures := func() (g report.Group) {
		var told report.Figures
		q.get("/api/figures?zone=UTC&from=2026-01-01", &told)
		require.Len(t, told.Months, 2)
		require.Zero(t, told.Months[0].Groups[0].FaultyRuns, "in January nobody watched")
		return told.Months[1].Groups[0]
	}
	day, hour := 24*time.Hour, time.Hour
	days := func(all ...time.Duration) (sum float64) {
		for _, d := range all {
			sum += d.Hours() / 24
		}
		return sum
	}
	known := figures()
	require.Equal(t, []int{3, 1}, []int{known.Opened, known.Undated})
	require.Equal(t, &report.Spread{Count: 2, Least: 30, Median: 615, Mean: 615, Most: 1200}, known.Detect, "from the first poll, and from the switch's time while it was watched")
	require.InDelta(t, days(day, day-hour/2+30*time.Second, day-hour/2), known.FaultyRunDays, 1e-9)

	q.owner.history.querier = nil // but for the journal nobody knows anything
	q.handler = web.Handler(q.owner.source())
	known = figures()
	require.Equal(t, []int{3, 2}, []int{known.Opened, known.Undated})
	require.Equal(t, 1, known.Detect.Count, "of acc-1 the journal had told before")
	require.InDelta(t, days(day-hour/3, day-hour/2+30*time.Second, day-hour/2), known.FaultyRunDays, 1e-9)
}
