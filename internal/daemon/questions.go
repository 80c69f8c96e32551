package daemon

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"toneout/internal/fault"
	"toneout/internal/history"
	"toneout/internal/journal"
	"toneout/internal/plant"
	"toneout/internal/report"
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
	if j := w.journal; j != nil {
		q.Figures = func(ctx context.Context, a web.Asked) (any, error) {
			return inTurn(ctx, j, func(ctx context.Context) (*report.Figures, error) { return w.figures(ctx, a) })
		}
		q.Changes = func(ctx context.Context, a web.Asked) (any, error) {
			return inTurn(ctx, j, func(ctx context.Context) (*changes, error) { return w.changesOf(ctx, a) })
		}
	}
	return q
}

// Limits of questions to the journal. One reads with one connection at a time, so that
// two at once leave the writer some of those that a server grants.
const (
	mostQuestions = 2
	mostReading   = writeTimeout * 2 / 3 // waiting included: later than writeTimeout nobody gets the answer
)

// inTurn answers a question to the journal when there is a place for it.
func inTurn[T any](ctx context.Context, w *journalWriter, answer func(context.Context) (T, error)) (out T, err error) {
	ctx, cancel := context.WithTimeout(ctx, mostReading)
	defer cancel()
	select {
	case w.turns <- struct{}{}:
		defer func() { <-w.turns }()
		return answer(ctx)
	case <-ctx.Done():
		return out, fmt.Errorf("the journal answers %d questions at once, and this one waited %v in vain for its turn: ask again later", mostQuestions, mostReading)
	}
}

// figures are those of the plant, month by month.
func (w *owner) figures(ctx context.Context, a web.Asked) (*report.Figures, error) {
	lives, err := w.journal.lives(ctx, a.From.Add(-report.RepeatWithin), "")
	if err != nil {
		return nil, err
	}
	if err := w.date(ctx, lives, a.From); err != nil {
		return nil, err
	}
	q := report.Question{By: report.By(a.By), From: a.From, To: a.To, Now: w.options.Clock.Now(), Zone: a.Zone, Runs: runsBy(w.current.Load(), report.By(a.By))}
	if numbers := w.history.querier; numbers != nil {
		watched, err := history.WatchedIn(ctx, numbers, a.From, a.To)
		if err != nil {
			return nil, err
		}
		q.Watched = watched.Between
	}
	return report.FiguresOf(lives, q), nil
}

// runsBy counts the runs of each value.
func runsBy(s *fault.Snapshot, by report.By) map[string]int {
	out := map[string]int{}
	for _, run := range s.Plant.Runs {
		along := journal.AlongOf(s.Plant, run.ID)
		values := map[report.By][]string{
			report.Whole: {""}, report.BySpace: {spaceOf(s, run)}, report.ByInstaller: {along.Installer}, report.ByPathway: along.Pathways, report.ByCable: along.Cables,
		}[by]
		if len(values) == 0 {
			values = []string{""}
		}
		for _, value := range values {
			out[value]++
		}
	}
	return out
}

// spaceOf is where a run's faults count: its near switch's space, as a fault's record
// has it.
func spaceOf(s *fault.Snapshot, run *plant.Run) string {
	near, _ := s.Joined.PortsOf(run.ID)
	for _, name := range []string{near.Switch, run.Switch} {
		if sw, watched := s.Switch(name); watched {
			return sw.Space
		}
	}
	return s.Plant.SpaceOf(run)
}

// Events of which lives are made, and what repairs come to.
var (
	faultKinds = []journal.Kind{journal.FaultOpened, journal.FaultChanged, journal.FaultClosed}
	repairEnds = []journal.Kind{journal.RepairProven, journal.RepairFailed}
)

// lives are those of faults that were open at from or came later, of a run or of
// all. What was told before from is read of those alone that were open then.
func (w *journalWriter) lives(ctx context.Context, from time.Time, run string) ([]report.Life, error) {
	var told, earlier []report.Told
	var before []string // faults that opened before from
	begun := map[string]bool{}
	begin := func(e *journal.Event) {
		if begun[e.Fault] || run != "" && e.Run != run {
			return
		}
		begun[e.Fault] = true
		if e.Kind != journal.FaultOpened || e.At.Before(from) {
			before = append(before, e.Fault)
		}
	}
	err := w.each(ctx, journal.Query{Kinds: faultKinds, From: from, Run: run}, func(e *journal.Event) { begin(e); told = append(told, w.toldOf(e)) })
	if err != nil {
		return nil, err
	}
	still, err := w.stillOpen(ctx)
	if err != nil {
		return nil, err
	}
	for i := range still {
		begin(&still[i])
	}
	for _, id := range before {
		err := w.each(ctx, journal.Query{Kinds: faultKinds, Fault: id, To: from}, func(e *journal.Event) { earlier = append(earlier, w.toldOf(e)) })
		if err != nil {
			return nil, err
		}
	}
	told = append(earlier, told...)
	for i := range told {
		if since := told[i].Record.Since; since.Before(from) {
			from = since
		}
	}
	repairs, err := w.repairs(ctx, run, from)
	if err != nil {
		return nil, err
	}
	return report.Lives(told, repairs), nil
}

// each reads the journal one by one, where it is open: a fault's event takes some 10 KB,
// and figures of years need a little of each of many.
func (w *journalWriter) each(ctx context.Context, q journal.Query, do func(*journal.Event)) error {
	j := w.open.Load()
	if j == nil {
		return errAway
	}
	return j.Each(ctx, q, do)
}

// stillOpen are the last events of faults that are open.
func (w *journalWriter) stillOpen(ctx context.Context) ([]journal.Event, error) {
	j := w.open.Load()
	if j == nil {
		return nil, errAway
	}
	ctx, cancel := context.WithTimeout(ctx, journalTimeout)
	defer cancel()
	return j.Open(ctx)
}

// figured is what figures need of a fault's record.
type figured struct {
	Space   string
	Planned bool
	Quiet   bool
	Causes  []journal.CauseRecord
	journal.Along
}

func (w *journalWriter) toldOf(e *journal.Event) report.Told {
	r, _ := dataOf[figured](w, e) // by another hand: what the columns say holds
	t := report.Told{At: e.At, Fault: e.Fault, Record: report.Record{
		Run: e.Run, Switch: e.Switch, Port: e.Port, Kind: string(e.FaultKind), Since: e.Since, Planned: r.Planned, Quiet: r.Quiet,
		Space: r.Space, Installer: r.Installer, Pathways: r.Pathways, Cables: r.Cables,
	}}
	if len(r.Causes) > 0 {
		t.Record.Cause = r.Causes[0].Cause
	}
	t.What = map[journal.Kind]report.What{journal.FaultChanged: report.Changed, journal.FaultClosed: report.Closed}[e.Kind]
	return t
}

// repairs are those of a run, or all, that were made at from or later, with what came
// of them.
func (w *journalWriter) repairs(ctx context.Context, run string, from time.Time) ([]report.Repair, error) {
	byID := map[string]*report.Repair{}
	err := w.each(ctx, journal.Query{Kinds: append(repairEnds, journal.RepairMade), Run: run, From: from}, func(e *journal.Event) {
		if e.Kind == journal.RepairMade {
			byID[e.ID] = &report.Repair{ID: e.ID, Run: e.Run, At: e.At}
			return
		}
		o, ok := dataOf[repairOutcome](w, e)
		r := byID[o.Repair]
		if !ok || r == nil {
			return
		}
		for _, k := range o.Kinds {
			r.Kinds = append(r.Kinds, string(k))
		}
		if e.Kind == journal.RepairProven {
			r.Proven = e.At
		} else {
			r.Failed = e.At
		}
	})
	if err != nil {
		return nil, err
	}
	out := []report.Repair{}
	for _, r := range byID {
		out = append(out, *r)
	}
	slices.SortFunc(out, func(a, b report.Repair) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID)) })
	return out, nil
}
