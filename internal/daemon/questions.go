package daemon

import (
	"context"

	"toneout/internal/history"
	"toneout/internal/web"
)

// questions are what pages and API ask of history and journal.
func (w *owner) questions() (q web.Questions) {
	if numbers := w.history.querier; numbers != nil {
		q.Hours = func(ctx context.Context, a web.Asked) (any, error) {
			return history.WeekOf(ctx, numbers, history.Place{Run: a.Run}, a.From, a.To, a.Zone)
		}
		q.Load = func(ctx context.Context, a web.Asked) (any, error) {
			return history.LoadOf(ctx, numbers, history.Place{Run: a.Run}, a.From, a.To)
		}
	}
	return q
}
