package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"toneout/internal/fault"
)

// Query says which events are wanted; what is empty restricts nothing.
type Query struct {
	Kinds             []Kind
	Run, Switch, Port string
	Fault             string    // a fault's identity
	From, To          time.Time // at From or later, and before To
	Last              int       // so many of the last ones at most
}

const columns = "id, kind, at, made_by, run, switch, port, fault, fault_kind, since, data"

// Events gives events in the order in which they were written.
func (j *Journal) Events(ctx context.Context, q Query) ([]Event, error) {
	where, args := q.where()
	limit := ""
	if q.Last > 0 {
		args = append(args, q.Last)
		limit = fmt.Sprintf(" LIMIT $%d", len(args))
	}
	events, err := j.read(ctx, "SELECT "+columns+" FROM event"+where+" ORDER BY number DESC"+limit, args)
	slices.Reverse(events)
	return events, err
}

// Each gives them one by one, in the same order and whatever Last says, so that the
// data of many need not be in memory at once. It ends with ctx.
func (j *Journal) Each(ctx context.Context, q Query, do func(*Event)) error {
	where, args := q.where()
	return j.each(ctx, "SELECT "+columns+" FROM event"+where+" ORDER BY number", args, func(e *Event) error {
		do(e)
		return ctx.Err()
	})
}

// Open gives, of each fault that is open by the journal, the last event.
func (j *Journal) Open(ctx context.Context) ([]Event, error) {
	return j.read(ctx, "SELECT "+columns+" FROM event WHERE kind <> $1 AND number IN "+
		"(SELECT MAX(number) FROM event WHERE fault <> '' AND kind IN ($2, $3, $4) GROUP BY fault) ORDER BY number",
		[]any{string(FaultClosed), string(FaultOpened), string(FaultChanged), string(FaultClosed)})
}

// FirstTold gives, of each switch, when the first event of any of its faults was: it was
// watched by then.
func (j *Journal) FirstTold(ctx context.Context) (map[string]time.Time, error) {
	rows, err := j.db.QueryContext(j.whole(ctx), "SELECT switch, MIN(at) FROM event WHERE fault <> '' AND kind IN ($1, $2, $3) GROUP BY switch",
		string(FaultOpened), string(FaultChanged), string(FaultClosed))
	if err != nil {
		return nil, j.wrong("read", err)
	}
	defer rows.Close()
	out := map[string]time.Time{}
	for rows.Next() {
		var name, at string
		err := rows.Scan(&name, &at)
		if err == nil {
			out[name], err = parseStamp(at)
		}
		if err != nil {
			return nil, j.wrong("read", err)
		}
	}
	if err := rows.Err(); err != nil {
		return nil, j.wrong("read", err)
	}
	return out, nil
}

func (q Query) where() (clause string, args []any) {
	var all []string
	say := func(condition string, value string) {
		args = append(args, value)
		all = append(all, fmt.Sprintf("%s $%d", condition, len(args)))
	}
	for _, c := range []struct{ condition, value string }{
		{"run =", q.Run}, {"switch =", q.Switch}, {"port =", q.Port}, {"fault =", q.Fault}, {"at >=", stamp(q.From)}, {"at <", stamp(q.To)},
	} {
		if c.value != "" {
			say(c.condition, c.value)
		}
	}
	if len(q.Kinds) > 0 {
		places := make([]string, len(q.Kinds))
		for i, k := range q.Kinds {
			args = append(args, string(k))
			places[i] = fmt.Sprintf("$%d", len(args))
		}
		all = append(all, "kind IN ("+strings.Join(places, ", ")+")")
	}
	if len(all) == 0 {
		return "", nil
	}
	return " WHERE " + strings.Join(all, " AND "), args
}

func (j *Journal) read(ctx context.Context, query string, args []any) ([]Event, error) {
	events := []Event{}
	err := j.each(ctx, query, args, func(e *Event) error { events = append(events, *e); return nil })
	if err != nil {
		return nil, err
	}
	return events, nil
}

func (j *Journal) each(ctx context.Context, query string, args []any, do func(*Event) error) error {
	rows, err := j.db.QueryContext(j.whole(ctx), query, args...)
	if err != nil {
		return j.wrong("read", err)
	}
	defer rows.Close()
	for rows.Next() {
		e, err := scan(rows)
		if err == nil {
			err = do(&e)
		}
		if err != nil {
			return j.wrong("read", err)
		}
	}
	if err := rows.Err(); err != nil {
		return j.wrong("read", err)
	}
	return nil
}

func scan(rows *sql.Rows) (e Event, err error) {
	var kind, at, faultKind, since, data string
	if err := rows.Scan(&e.ID, &kind, &at, &e.By, &e.Run, &e.Switch, &e.Port, &e.Fault, &faultKind, &since, &data); err != nil {
		return e, err
	}
	e.Kind, e.FaultKind, e.Data = Kind(kind), fault.Kind(faultKind), json.RawMessage(data)
	if e.At, err = parseStamp(at); err != nil {
		return e, fmt.Errorf("event %s: %w", e.ID, err)
	}
	if e.Since, err = parseStamp(since); err != nil {
		return e, fmt.Errorf("event %s: %w", e.ID, err)
	}
	return e, nil
}
