package web

import (
	"fmt"
	"net/http"
	"slices"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// toldView is what people told of a run, and the forms to tell more.
type toldView struct {
	Unread string // why what was told cannot be read; "" where it can
	Lines  *grid  // newest first; nil where there are none
	Older  string // how many are left out; "" for none
	Forms  []*form
}

// mostLines is how many of them a page shows.
const mostLines = 12

// toldView is nil where no journal is kept.
func (t teller) toldView(run *plant.Run, told *WasTold, faults []*fault.Fault) *toldView {
	if t.Journal == nil {
		return nil
	}
	v := &toldView{Unread: told.Unread, Forms: t.runForms(run, faults)}
	v.Lines, v.Older = t.at.toldGrid("What people told of this run, the latest first", told.Told)
	return v
}

// toldGrid is nil for nothing told.
func (c clock) toldGrid(caption string, all []Told) (g *grid, older string) {
	if len(all) == 0 {
		return nil, ""
	}
	if len(all) > mostLines {
		older = plural(len(all)-mostLines, "older entry")
		all = all[:mostLines]
	}
	g = briefGrid(caption, "When", "By", "What", "Now")
	for _, l := range all {
		what := plain(l.What)
		what.Notes = l.Notes
		state := told(l.State)
		if l.mark.mark != "" {
			state = l.mark.cell(l.State)
		}
		when := told("")
		if w := c.when(l.At); w != nil {
			when = cell{Text: w.Text, Notes: []string{w.Age}}
		}
		g.add(when, plain(l.By), what, state)
	}
	return g, older
}

// awaited tells whether an open fault waits for the proof of a repair.
func (t teller) awaited(repair string) bool {
	return slices.ContainsFunc(t.snapshot.Faults, func(f *fault.Fault) bool { return f.Proof != nil && f.Proof.Repair == repair })
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
