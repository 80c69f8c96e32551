package history

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/prometheus/common/model"
	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/storage"
)

// listing is a question for what there is.
type listing struct {
	sets     [][]*labels.Matcher
	from, to time.Time
	limit    int
}

// list reads the parameters of a listing, and does it in its turn.
func (s *Store) list(ctx context.Context, p params, do func(storage.Querier, listing) error) error {
	l := listing{p.matchers(), p.time("start", earliest), p.time("end", latest), p.limit()}
	return p.then(func() error {
		db, done, err := s.read()
		if err != nil {
			return err
		}
		defer done()
		leave, err := s.engine.AcquireQuerySlot(ctx, "")
		if err != nil {
			return err
		}
		defer leave()
		q, err := db.Querier(l.from.UnixMilli(), l.to.UnixMilli())
		if err != nil {
			return err
		}
		defer q.Close()
		return do(q, l)
	})
}

func (s *Store) labelsAPI(ctx context.Context, p params, to *answer) error {
	return s.list(ctx, p, func(q storage.Querier, l listing) error {
		return l.names(to, func(hints *storage.LabelHints, set []*labels.Matcher) ([]string, error) {
			found, _, err := q.LabelNames(ctx, hints, set...)
			return found, err
		})
	})
}

func (s *Store) valuesAPI(ctx context.Context, p params, to *answer) error {
	name := p.name
	if strings.HasPrefix(name, "U__") {
		name = model.UnescapeName(name, model.ValueEncodingEscaping)
	}
	if !model.UTF8Validation.IsValidLabelName(name) {
		return badData{fmt.Errorf("%q is no label's name", name)}
	}
	return s.list(ctx, p, func(q storage.Querier, l listing) error {
		return l.names(to, func(hints *storage.LabelHints, set []*labels.Matcher) ([]string, error) {
			found, _, err := q.LabelValues(ctx, name, hints, set...)
			return found, err
		})
	})
}

// names writes what a lookup gives for any of the selectors, in order.
func (l listing) names(to *answer, look func(*storage.LabelHints, []*labels.Matcher) ([]string, error)) error {
	sets := l.sets
	if len(sets) == 0 {
		sets = append(sets, nil)
	}
	all := []string{}
	for _, set := range sets {
		found, err := look(&storage.LabelHints{Limit: l.limit + 1}, set)
		if err != nil {
			return err
		}
		for _, name := range found {
			all = append(all, strings.Clone(name)) // the storage may take it back
		}
	}
	slices.Sort(all)
	all = slices.Compact(all)
	return to.value(cut(all, l.limit))
}

// cut keeps as many as are wanted, and says so.
func cut[T any](all []T, limit int) (kept []T, warnings []string) {
	if len(all) <= limit {
		return all, nil
	}
	return all[:limit], []string{fmt.Sprintf("there are more: only %d are listed", limit)}
}

func (s *Store) seriesAPI(ctx context.Context, p params, to *answer) error {
	if len(p.Values["match[]"]) == 0 {
		return badData{errors.New("parameter match[]: is missing; it selects series, e.g. toneout_port_up")}
	}
	return s.list(ctx, p, func(q storage.Querier, l listing) error {
		hints := &storage.SelectHints{Start: l.from.UnixMilli(), End: l.to.UnixMilli(), Func: "series", Limit: l.limit + 1}
		var sets []storage.SeriesSet
		for _, set := range l.sets {
			sets = append(sets, q.Select(ctx, true, hints, set...))
		}
		found := storage.NewMergeSeriesSet(sets, 0, storage.ChainedSeriesMerge)
		all := []map[string]string{}
		for len(all) <= l.limit && found.Next() && ctx.Err() == nil {
			all = append(all, found.At().Labels().Map())
		}
		if err := errors.Join(found.Err(), ctx.Err()); err != nil {
			return err
		}
		return to.value(cut(all, l.limit))
	})
}

// promQL is the release of Prometheus whose query language is spoken: that of
// module version v0.316.0.
const promQL = "3.16.0"

// buildInfo tells Grafana what it may ask.
func buildInfo() map[string]string {
	return map[string]string{"version": promQL, "revision": "", "branch": "", "buildUser": "", "buildDate": "", "goVersion": runtime.Version()}
}
