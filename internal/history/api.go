package history

import (
	"bufio"
	"context"
	"errors"
	"net/http"

	"github.com/prometheus/prometheus/promql"
)

// This file and its neighbours serve Prometheus's HTTP API, version 1
// (https://prometheus.io/docs/prometheus/latest/querying/api/), as far as
// Grafana's data source needs it.

// mostForm is how many bytes a posted form may have.
const mostForm = 1 << 20

// API serves the numbers under /api/v1/. Who may ask, and by which methods, is
// the caller's to decide.
func (s *Store) API() http.Handler {
	mux := http.NewServeMux()
	for path, answer := range map[string]answerer{
		"query":               s.queryAPI,
		"query_range":         s.rangeAPI,
		"labels":              s.labelsAPI,
		"label/{name}/values": s.valuesAPI,
		"series":              s.seriesAPI,
		"metadata":            constant(struct{}{}),
		"status/buildinfo":    constant(buildInfo()),
		"{path...}":           noSuch,
	} {
		mux.Handle("/api/v1/"+path, answer)
	}
	return mux
}

// answerer writes the data of an answer once all that can fail is done.
type answerer func(ctx context.Context, p params, to *answer) error

func (a answerer) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostForm)
	to := &answer{w: w, out: bufio.NewWriterSize(w, 64<<10)}
	p, err := paramsOf(r)
	if err == nil {
		ctx, cancel := context.WithTimeout(r.Context(), p.timeout)
		defer cancel()
		err = a(ctx, p, to)
	}
	if err != nil {
		to.fail(err)
	}
	_ = to.out.Flush() // a client that went away is no concern of ours
}

func (s *Store) queryAPI(ctx context.Context, p params, to *answer) error {
	at := p.time("time", s.options.Now())
	lookback := p.span("lookback_delta")
	return p.then(func() error {
		return s.ask(ctx, p.Get("query"), Span{From: at, To: at}, lookback, to.result)
	})
}

func (s *Store) rangeAPI(ctx context.Context, p params, to *answer) error {
	span := Span{p.needed("start"), p.needed("end"), p.span("step")}
	lookback := p.span("lookback_delta")
	return p.then(func() error {
		if err := span.check(); err != nil {
			return badData{err}
		}
		return s.ask(ctx, p.Get("query"), span, lookback, to.result)
	})
}

// badData is of a request that is wrong by itself.
type badData struct{ error }

func (b badData) Unwrap() error { return b.error }

// noSuch refuses what is not served.
func noSuch(context.Context, params, *answer) error { return errNoSuch }

var errNoSuch = errors.New("there is no such address here; query, query_range, labels, label/NAME/values and series are")

// constant always answers the same.
func constant(data any) answerer {
	return func(_ context.Context, _ params, to *answer) error { return to.value(data, nil) }
}

// kindOf is an error's type in Prometheus's words, and its HTTP status.
func kindOf(err error) (kind string, status int) {
	var bad badData
	var large *http.MaxBytesError
	var timeout promql.ErrQueryTimeout
	var canceled promql.ErrQueryCanceled
	var storage promql.ErrStorage
	switch {
	case errors.Is(err, errNoSuch):
		return "not_found", http.StatusNotFound
	case errors.Is(err, errClosed):
		return "unavailable", http.StatusServiceUnavailable
	case errors.As(err, &bad), errors.As(err, &large), errors.Is(err, errQuestion):
		return "bad_data", http.StatusBadRequest
	case errors.As(err, &timeout), errors.Is(err, context.DeadlineExceeded):
		return "timeout", http.StatusServiceUnavailable
	case errors.As(err, &canceled), errors.Is(err, context.Canceled):
		return "canceled", http.StatusServiceUnavailable
	case errors.As(err, &storage):
		return "internal", http.StatusInternalServerError
	}
	return "execution", http.StatusUnprocessableEntity
}
