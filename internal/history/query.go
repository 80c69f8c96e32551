package history

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/prometheus/prometheus/promql"
	"github.com/prometheus/prometheus/promql/parser"
	"github.com/prometheus/prometheus/tsdb"
)

// Querier answers questions in PromQL. A series without a value at a time has
// no point there. Errors name the question and why it has no answer.
type Querier interface {
	// Instant gives the values at one moment, a point for each series.
	Instant(ctx context.Context, query string, at time.Time) ([]Course, error)
	// Range gives the values at each step of a span.
	Range(ctx context.Context, query string, span Span) ([]Course, error)
}

// Span is the moments From, From+Step and so on, up to To.
type Span struct {
	From time.Time     `json:"from"`
	To   time.Time     `json:"to"`
	Step time.Duration `json:"-"`
}

// Course is one series of an answer. A single number has no labels.
type Course struct {
	Labels map[string]string // its name is under __name__
	Points []Point           // by time
}

// Point is a value at a time.
type Point struct {
	At    time.Time
	Value float64
}

// MarshalJSON writes a point as Prometheus does: seconds, and the value as a
// text, since there may be no light at all, -Inf.
func (p Point) MarshalJSON() ([]byte, error) {
	b := append(appendSeconds([]byte("["), p.At.UnixMilli()), `,"`...)
	return append(appendNumber(b, p.Value), `"]`...), nil
}

// Limits of a query: what keeps one dashboard from starving the polls.
const (
	mostQueries       = 4                // at once; others wait their turn
	mostQuerySamples  = 10_000_000       // in memory at once, 16 bytes each
	mostQueryTime     = 20 * time.Second // waiting included
	mostStepsOfRange  = 11_000           // as Prometheus allows; a screen has fewer columns
	mostListedAnswers = 50_000           // names, values or series of one answer
	mostSubsteps      = 500_000          // steps of a subquery: within one series the engine looks at no clock
)

// questions reads PromQL.
var questions = parser.NewParser(parser.Options{})

func newEngine(lookback time.Duration, samples int) *promql.Engine {
	return promql.NewEngine(promql.EngineOpts{
		MaxSamples: samples, Timeout: mostQueryTime, LookbackDelta: lookback,
		EnableAtModifier: true, EnableNegativeOffset: true,
		ActiveQueryTracker:       make(places, mostQueries),
		NoStepSubqueryIntervalFn: func(int64) int64 { return substep.Milliseconds() },
		Parser:                   questions,
	})
}

// places bounds how many queries run at once.
type places chan struct{}

func (p places) GetMaxConcurrent() int { return cap(p) }

func (p places) Insert(ctx context.Context, _ string) (int, error) {
	select {
	case p <- struct{}{}:
		return 0, nil
	case <-ctx.Done():
		return 0, ctx.Err()
	}
}

func (p places) Delete(int)   { <-p }
func (p places) Close() error { return nil }

// Instant is a Querier's.
func (s *Store) Instant(ctx context.Context, query string, at time.Time) ([]Course, error) {
	return s.courses(ctx, query, Span{From: at, To: at})
}

// Range is a Querier's.
func (s *Store) Range(ctx context.Context, query string, span Span) ([]Course, error) {
	if err := span.check(); err != nil {
		return nil, asked(query, err)
	}
	return s.courses(ctx, query, span)
}

func (s *Store) courses(ctx context.Context, query string, span Span) (out []Course, err error) {
	err = s.ask(ctx, query, span, 0, func(r *promql.Result) error {
		out, err = courses(r.Value)
		return err
	})
	return out, asked(query, err)
}

// asked names the question in an error.
func asked(query string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("query history for %s: %w", query, err)
}

func (s Span) check() error {
	switch {
	case s.Step <= 0:
		return errors.New("a range wants a step above 0")
	case s.To.Before(s.From):
		return errors.New("a range wants its end after its begin")
	case s.To.Sub(s.From)/s.Step >= mostStepsOfRange:
		return fmt.Errorf("a range of more than %d steps: make the step longer", mostStepsOfRange)
	}
	return nil
}

// errClosed is of a Store that cannot be asked.
var errClosed = errors.New("history cannot be read now")

// errQuestion is of a question that is none.
var errQuestion = errors.New("no PromQL that can be answered")

// unreadable is why a storage is not open.
func (s *Store) unreadable() error {
	if why := s.Status().Failing; why != "" {
		return fmt.Errorf("%w: %s", errClosed, oneLine(why))
	}
	return fmt.Errorf("%w: it is being opened or closed; try again in a few seconds", errClosed)
}

// read gives the storage, which stays open until done is called.
func (s *Store) read() (db *tsdb.DB, done func(), err error) {
	if !s.mu.TryRLock() { // it is being opened, which may take long
		return nil, nil, s.unreadable()
	}
	if s.db == nil {
		s.mu.RUnlock()
		return nil, nil, s.unreadable()
	}
	return s.db, s.mu.RUnlock, nil
}

// ask evaluates a query, without a step at the span's begin, and hands what
// came out to use, which must not hold on to it. The lookback is the Store's
// own where 0.
func (s *Store) ask(ctx context.Context, query string, span Span, lookback time.Duration, use func(*promql.Result) error) error {
	db, done, err := s.read()
	if err != nil {
		return err
	}
	defer done()
	if err := bounded(query, span.To.Sub(span.From)); err != nil {
		return fmt.Errorf("%w: %w", errQuestion, err)
	}
	var q promql.Query
	options := promql.NewPrometheusQueryOpts(false, lookback, nil)
	if span.Step == 0 {
		q, err = s.engine.NewInstantQuery(ctx, db, options, query, span.From)
	} else {
		q, err = s.engine.NewRangeQuery(ctx, db, options, query, span.From, span.To, span.Step)
	}
	if gone := ctx.Err(); err != nil && gone != nil {
		return gone // while it waited for a place, which is no fault of the question
	}
	if err != nil {
		return fmt.Errorf("%w: %w", errQuestion, err)
	}
	defer q.Close()
	r := q.Exec(ctx)
	if r.Err != nil {
		return r.Err
	}
	return use(r)
}

// bounded refuses subqueries of too many steps.
func bounded(query string, span time.Duration) error {
	e, err := questions.ParseExpr(query)
	if err != nil {
		return err
	}
	parser.Inspect(e, func(n parser.Node, above []parser.Node) error {
		sub, ok := n.(*parser.SubqueryExpr)
		if !ok || err != nil {
			return nil
		}
		whole, step := span+sub.Range, sub.Step
		for _, a := range above {
			if outer, ok := a.(*parser.SubqueryExpr); ok {
				whole += outer.Range
			}
		}
		if step == 0 {
			step = substep
		}
		if whole/step > mostSubsteps {
			err = fmt.Errorf("%s has more than %d steps: make its step longer", sub, mostSubsteps)
		}
		return nil
	})
	return err
}

// substep is the step of a subquery that names none.
const substep = time.Minute

// courses puts a result into plain values.
func courses(v parser.Value) (out []Course, err error) {
	switch v := v.(type) {
	case promql.Scalar:
		out = append(out, Course{Points: []Point{{time.UnixMilli(v.T), v.V}}})
	case promql.Vector:
		for _, sample := range v {
			out = append(out, Course{sample.Metric.Map(), []Point{{time.UnixMilli(sample.T), sample.F}}})
		}
	case promql.Matrix:
		for _, series := range v {
			c := Course{Labels: series.Metric.Map(), Points: make([]Point, 0, len(series.Floats))}
			for _, p := range series.Floats {
				c.Points = append(c.Points, Point{time.UnixMilli(p.T), p.F})
			}
			out = append(out, c)
		}
	default:
		return nil, notNumbers(string(v.Type()))
	}
	return out, nil
}

func notNumbers(kind string) error {
	return fmt.Errorf("the answer is a %s, and numbers were asked for", kind)
}
