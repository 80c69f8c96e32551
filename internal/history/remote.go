package history

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"github.com/prometheus/client_golang/api"
	v1 "github.com/prometheus/client_golang/api/prometheus/v1"
	"github.com/prometheus/common/model"
)

// Remote asks a server that speaks the Prometheus query API.
type Remote struct {
	api  v1.API
	name string // without a password
}

// NewRemote makes a Remote of a server's address, e.g. http://127.0.0.1:9090,
// and asks nothing yet. No error repeats a password that is in it.
func NewRemote(address string) (*Remote, error) {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil, errors.New("history.url is no address of a server, such as http://127.0.0.1:9090")
	}
	transport := http.DefaultTransport.(*http.Transport).Clone()
	transport.ResponseHeaderTimeout = mostQueryTime
	client, err := api.NewClient(api.Config{Address: address, RoundTripper: transport})
	if err != nil {
		return nil, fmt.Errorf("history.url %s: %w", u.Redacted(), err)
	}
	return &Remote{v1.NewAPI(client), u.Redacted()}, nil
}

// Instant is a Querier's.
func (r *Remote) Instant(ctx context.Context, query string, at time.Time) ([]Course, error) {
	return r.courses(ctx, query, func(ctx context.Context) (model.Value, v1.Warnings, v1.Infos, error) {
		return r.api.Query(ctx, query, at)
	})
}

// Range is a Querier's.
func (r *Remote) Range(ctx context.Context, query string, span Span) ([]Course, error) {
	if err := span.check(); err != nil {
		return nil, asked(query, err)
	}
	return r.courses(ctx, query, func(ctx context.Context) (model.Value, v1.Warnings, v1.Infos, error) {
		return r.api.QueryRange(ctx, query, v1.Range{Start: span.From, End: span.To, Step: span.Step})
	})
}

func (r *Remote) courses(ctx context.Context, query string, ask func(context.Context) (model.Value, v1.Warnings, v1.Infos, error)) ([]Course, error) {
	ctx, cancel := context.WithTimeout(ctx, mostQueryTime)
	defer cancel()
	v, _, _, err := ask(ctx)
	if err == nil {
		var out []Course
		if out, err = remoteCourses(v); err == nil {
			return out, nil
		}
	}
	return nil, asked(query, r.explain(err))
}

// explain says who gave an error.
func (r *Remote) explain(err error) error {
	var told *v1.Error
	switch {
	case errors.As(err, &told) && told.Type == v1.ErrBadData:
		return fmt.Errorf("%w: %s says %s", errQuestion, r.name, oneLine(told.Msg))
	case errors.As(err, &told):
		return fmt.Errorf("%s says %s", r.name, oneLine(told.Msg+" "+told.Detail))
	}
	return fmt.Errorf("%s gives no answer; is history.url right? %w", r.name, err)
}

// remoteCourses puts an answer into plain values.
func remoteCourses(v model.Value) (out []Course, err error) {
	switch v := v.(type) {
	case *model.Scalar:
		out = append(out, Course{Points: []Point{{v.Timestamp.Time(), float64(v.Value)}}})
	case model.Vector:
		for _, sample := range v {
			out = append(out, Course{labelsOf(sample.Metric), []Point{{sample.Timestamp.Time(), float64(sample.Value)}}})
		}
	case model.Matrix:
		for _, series := range v {
			c := Course{Labels: labelsOf(series.Metric), Points: make([]Point, 0, len(series.Values))}
			for _, p := range series.Values {
				c.Points = append(c.Points, Point{p.Timestamp.Time(), float64(p.Value)})
			}
			out = append(out, c)
		}
	default:
		return nil, notNumbers(v.Type().String())
	}
	return out, nil
}

func labelsOf(m model.Metric) map[string]string {
	labels := make(map[string]string, len(m))
	for name, value := range m {
		labels[string(name)] = string(value)
	}
	return labels
}
