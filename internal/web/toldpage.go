package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// toldView is what people told of a run, and the forms to tell more.
type toldView struct {
	Unread string // why what was told cannot be read; "" where it can
	Lines  *grid  // newest first; nil where there are none
	Older  string // how many are left out; "" for none
	Forms  []*form

	taken []Taken // newest first
}

// toldLine is something that somebody told.
type toldLine struct {
	at       time.Time
	by, what string
	mark     marked
	state    string // what became of it; "" where nothing can
	notes    []string
}

// mostLines is how many of them a page shows.
const mostLines = 12

// told reads what was told of a run; nil where no journal is kept.
func (t teller) told(ctx context.Context, run *plant.Run, faults []*fault.Fault) *toldView {
	if t.Journal == nil {
		return nil
	}
	v := &toldView{Forms: t.runForms(run, faults)}
	lines, err := t.lines(ctx, run, v)
	if err != nil {
		v.Unread = err.Error()
		return v
	}
	slices.SortStableFunc(lines, func(a, b toldLine) int { return b.at.Compare(a.at) })
	if len(lines) > mostLines {
		v.Older = plural(len(lines)-mostLines, "older entry")
		lines = lines[:mostLines]
	}
	if len(lines) > 0 {
		v.Lines = t.grid(lines)
	}
	return v
}

func (t teller) grid(lines []toldLine) *grid {
	g := briefGrid("What people told of this run, the latest first", "When", "By", "What", "Now")
	for _, l := range lines {
		what := plain(l.what)
		what.Notes = l.notes
		state := told(l.state)
		if l.mark.mark != "" {
			state = l.mark.cell(l.state)
		}
		when := told("")
		if w := t.at.when(l.at); w != nil {
			when = cell{Text: w.Text, Notes: []string{w.Age}}
		}
		g.add(when, plain(l.by), what, state)
	}
	return g
}

// lines reads all that was told of a run, and what is planned that touches it.
func (t teller) lines(ctx context.Context, run *plant.Run, v *toldView) (lines []toldLine, err error) {
	repairs, err := t.Journal.Repairs(ctx, run.ID)
	if err != nil {
		return nil, err
	}
	notes, err := t.Journal.Notes(ctx, run.ID)
	if err != nil {
		return nil, err
	}
	v.taken, err = t.Journal.Taken(ctx, run.ID)
	if err != nil {
		return nil, err
	}
	works, err := t.Journal.Works(ctx)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(v.taken, func(a, b Taken) int { return b.At.Compare(a.At) })
	for i := range repairs {
		lines = append(lines, t.repairLine(&repairs[i]))
	}
	for _, n := range notes {
		lines = append(lines, toldLine{at: n.At, by: n.By, what: n.Note})
	}
	for _, x := range v.taken {
		lines = append(lines, toldLine{at: x.At, by: x.By, what: "is at it: " + fault.Kind(x.Kind).Title(), notes: notEmpty(x.Note)})
	}
	near := touching(t.snapshot, run)
	for i := range works {
		if on := works[i].Fault().On; slices.Contains(near, on) || on.Attribute == fault.ByPlant {
			lines = append(lines, t.workLine(&works[i]))
		}
	}
	return lines, nil
}

var (
	standsMark = marked{"fits", "✓"}
	brokeMark  = marked{"broken", "✗"}
	waitsMark  = marked{"unsure", "~"}
)

func (t teller) repairLine(r *Repair) toldLine {
	l := toldLine{at: r.At, by: r.By, what: "repaired: " + fault.Cause(r.Cause).Title(), notes: notEmpty(r.Note)}
	switch {
	case r.Outcome == RepairProven:
		l.mark, l.state = standsMark, "proven"
	case r.Outcome == RepairFailed:
		l.mark, l.state = brokeMark, "its fault returned"
	case len(r.Faults) == 0:
		l.state = "no fault was open"
	case t.awaited(r.ID):
		l.mark, l.state = waitsMark, "waits for its proof"
	}
	return l
}

// awaited tells whether an open fault waits for the proof of a repair.
func (t teller) awaited(repair string) bool {
	return slices.ContainsFunc(t.snapshot.Faults, func(f *fault.Fault) bool { return f.Proof != nil && f.Proof.Repair == repair })
}

func (t teller) workLine(w *PlannedWork) toldLine {
	work := w.Fault()
	state, mark := t.stateOf(w)
	return toldLine{at: w.At, by: w.By, what: fmt.Sprintf("planned work on %s: %s", work.Where(t.snapshot.Plant), w.Why),
		mark: mark, state: state, notes: []string{t.span(w)}}
}

// span is from when to when work lasts.
func (t teller) span(w *PlannedWork) string {
	zone := t.at.now.Location()
	return fmt.Sprintf("%s to %s", w.From.In(zone).Format("2006-01-02 15:04"), w.To.In(zone).Format("2006-01-02 15:04 MST"))
}

// stateOf tells whether work is to come, goes on, or what is worse since.
func (t teller) stateOf(w *PlannedWork) (string, marked) {
	switch {
	case !w.To.After(t.at.now):
		if e := w.Ended; e != nil && len(e.Worse)+len(e.Silent) > 0 {
			return fmt.Sprintf("over: %s worse than before", plural(len(e.Worse)+len(e.Silent), "thing")), brokeMark
		}
		return "over", marked{}
	case w.From.After(t.at.now):
		return "begins in " + age(w.From.Sub(t.at.now)), marked{}
	}
	return age(w.To.Sub(t.at.now)) + " left", waitsMark
}

// takenWords tell who is at a fault; "" for nobody.
func (v *toldView) takenWords(f *fault.Fault, at clock) string {
	if v == nil {
		return ""
	}
	for _, x := range v.taken {
		if x.Kind == string(f.Kind) && !x.At.Before(f.Since) {
			words := fmt.Sprintf("%s is at it, since %s", x.By, moment(x.At, at.now.Location()))
			if x.Note != "" {
				words += ": " + x.Note
			}
			return words
		}
	}
	return ""
}

// tellRun takes a form of a run's page: it shows the page again with what is wrong, or
// goes back to it.
func (a *auditor) tellRun(s Source, id string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		page := runURL(r.PathValue("id"))
		if r.Method != http.MethodPost {
			s.backTo(w, r, page)
			return
		}
		sent, err := s.sent(w, r)
		var snapshot *fault.Snapshot
		if err == nil {
			snapshot, err = s.latest()
		}
		var v runView
		if err == nil {
			v, err = a.runView(s, r, snapshot)
		}
		if err != nil {
			s.htmlRefusal(w, r, err)
			return
		}
		f, err := v.Told.form(id)
		switch {
		case err != nil:
			s.htmlRefusal(w, r, err)
		case f.take(r.Context(), sent):
			http.Redirect(w, r, page+"#told", http.StatusSeeOther)
		default:
			s.draw(w, http.StatusUnprocessableEntity, "run", view{Title: "Not recorded: " + v.Run.ID, Body: v})
		}
	})
}

// backTo answers a form's address that is asked for: what was sent is not sent again.
func (s Source) backTo(w http.ResponseWriter, r *http.Request, page string) {
	if r.Method == http.MethodGet || r.Method == http.MethodHead {
		http.Redirect(w, r, page, http.StatusSeeOther)
		return
	}
	w.Header().Set("Allow", "GET, HEAD, POST")
	s.htmlRefusal(w, r, refused(http.StatusMethodNotAllowed, "%s is not allowed here; this address takes a form (POST)", r.Method))
}

func (v *toldView) form(id string) (*form, error) {
	if v == nil {
		return nil, refused(http.StatusNotFound, "%s", noJournal)
	}
	at := slices.IndexFunc(v.Forms, func(f *form) bool { return f.ID == id })
	if at < 0 {
		return nil, refused(http.StatusConflict, "No fault is open there any more, so nobody needs to be at it.")
	}
	return v.Forms[at], nil
}

const noJournal = "this daemon keeps no journal; journal in its configuration names a file or a PostgreSQL database for it"
