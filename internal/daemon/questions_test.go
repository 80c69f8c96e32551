package daemon

import (
	"context"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
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
