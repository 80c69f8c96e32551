package web

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// workView is the page of planned work.
type workView struct {
	None   string // why there is none to plan
	Unread string // why it cannot be read; "" where it can
	Form   *form
	Now    []workRow
	Coming []workRow
	Over   []workRow // the latest first
	Older  string    // how many more; "" for none
	Wrong  string    // that work could not be ended
}

// workRow is planned work as its page shows it.
type workRow struct {
	ID, Where, Span, By, Why string
	State                    cell
	Worse                    []link
	Ends                     string // what the button says; "" where it is over
}

// mostOver is how much work that is over the page lists.
const mostOver = 20

func (s Source) workPage(_ Source, r *http.Request, snapshot *fault.Snapshot) (string, any, error) {
	v := s.workView(r, snapshot)
	return "Planned work", v, nil
}

func (s Source) workView(r *http.Request, snapshot *fault.Snapshot) workView {
	if s.Journal == nil {
		return workView{None: sentenceOf(noJournal)}
	}
	t := s.teller(r, snapshot)
	v := workView{Form: t.workForm()}
	works, err := s.Journal.Works(r.Context())
	if err != nil {
		v.Unread = err.Error()
	}
	slices.SortFunc(works, func(a, b PlannedWork) int { return cmp.Or(a.From.Compare(b.From), cmp.Compare(a.ID, b.ID)) })
	for i := range works {
		w := &works[i]
		row := t.workRow(w)
		switch {
		case !w.To.After(t.at.now):
			v.Over = append(v.Over, row)
		case w.From.After(t.at.now):
			row.Ends = "Call it off"
			v.Coming = append(v.Coming, row)
		default:
			row.Ends = "End it now"
			v.Now = append(v.Now, row)
		}
	}
	slices.Reverse(v.Over)
	if len(v.Over) > mostOver {
		v.Older = digits(len(v.Over)-mostOver) + " more"
		v.Over = v.Over[:mostOver]
	}
	return v
}

func (t teller) workRow(w *PlannedWork) workRow {
	work := w.Fault()
	row := workRow{ID: w.ID, Where: work.Where(t.snapshot.Plant), Span: t.span(w), By: w.By, Why: w.Why}
	state, mark := t.stateOf(w)
	row.State = mark.cell(state)
	if w.Ended == nil {
		return row
	}
	for _, f := range w.Ended.Worse {
		text, url := f.Run, runURL(f.Run)
		if f.Run == "" {
			text, url = f.Switch+" "+f.Port, portURL(f.Switch, f.Port)
		}
		row.Worse = append(row.Worse, link{fmt.Sprintf("%s: %s", text, fault.Kind(f.Kind).Title()), url})
	}
	for _, name := range w.Ended.Silent {
		row.Worse = append(row.Worse, link{name + ": does not answer", ""})
	}
	return row
}

// workForm announces work on anything.
func (t teller) workForm() *form {
	f := &form{ID: "announce", Title: "Announce work", Button: "Announce the work", Action: "/planned-work", Lead: whatWorkDoes, Open: true}
	kinds := choices{}
	for _, a := range fault.WorkAttributes {
		text := "a " + string(a)
		if a == fault.ByPlant {
			text = "the whole plant"
		}
		kinds.Of = append(kinds.Of, choice{string(a), text})
	}
	f.add(field{Name: "attribute", Label: "On", Kind: "choice", Value: string(fault.ByPathway), Must: true, Choices: []choices{kinds}})
	f.add(field{Name: "name", Label: "Which one", Kind: "text", Hint: "its id in the inventory; left out for the whole plant", Suggested: namesOf(t.snapshot)})
	t.workFields(f, func(f *form) (fault.SharedName, bool) {
		n := fault.SharedName{Attribute: fault.Attribute(f.value("attribute")), Value: f.value("name")}
		if n.Attribute == fault.ByPlant {
			n.Value = "all"
		}
		known := knownAs(t.snapshot, n.Attribute)
		switch {
		case n.Value == "":
			f.wrong("name", "This is missing.")
		case !slices.Contains(known, n.Value):
			f.wrong("name", fmt.Sprintf("No %s is named %q%s.", n.Attribute, n.Value, plant.DidYouMean(n.Value, known)))
		default:
			return n, true
		}
		return n, false
	})
	return f
}

// knownAs are the names that work on an attribute may have.
func knownAs(s *fault.Snapshot, a fault.Attribute) (names []string) {
	switch a {
	case fault.ByRun:
		return runIDs(s)
	case fault.BySwitch:
		return switchNames(s)
	case fault.ByPanel:
		for _, p := range s.Plant.Panels {
			names = append(names, p.ID)
		}
	case fault.ByPathway:
		for _, p := range s.Plant.Pathways {
			names = append(names, p.ID)
		}
	case fault.BySpace:
		for _, p := range s.Plant.Spaces {
			names = append(names, p.ID)
		}
	case fault.ByPlant:
		return []string{"all"}
	}
	return names
}

// mostSuggested is how many names the form suggests, runs apart, whose pages have a form of
// their own.
const mostSuggested = 500

func namesOf(s *fault.Snapshot) (names []string) {
	for _, a := range []fault.Attribute{fault.ByPathway, fault.ByPanel, fault.BySpace, fault.BySwitch} {
		names = append(names, knownAs(s, a)...)
	}
	return names[:min(mostSuggested, len(names))]
}

const workURL = "/planned-work"

// tellWork takes the page's forms.
func (s Source) tellWork(w http.ResponseWriter, r *http.Request) {
	sent, err := s.sent(w, r)
	var snapshot *fault.Snapshot
	if err == nil {
		snapshot, err = s.latest()
	}
	if err == nil && s.Journal == nil {
		err = refused(http.StatusNotFound, "%s", noJournal)
	}
	if err != nil {
		s.htmlRefusal(w, r, err)
		return
	}
	v := s.workView(r, snapshot)
	if id := sent.Get("end"); id != "" {
		if err := s.teller(r, snapshot).end(r.Context(), id); err != nil {
			v.Wrong = sentenceOf(err.Error())
		}
	} else if !v.Form.take(r.Context(), sent) {
		v.Wrong = "The work was not announced; see what is wrong below."
	}
	if v.Wrong != "" {
		s.draw(w, http.StatusUnprocessableEntity, "work", view{Title: "Not recorded: planned work", Body: v})
		return
	}
	http.Redirect(w, r, workURL, http.StatusSeeOther)
}

// end has work end now; what has not begun never does.
func (t teller) end(ctx context.Context, id string) error {
	works, err := t.Journal.Works(ctx)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(works, func(w PlannedWork) bool { return w.ID == id })
	if at < 0 {
		return refused(http.StatusBadRequest, "that work is not known any more")
	}
	w := works[at]
	if !w.To.After(t.at.now) {
		return nil // somebody was faster
	}
	w.To = t.at.now.UTC()
	if !w.From.Before(w.To) {
		w.From = w.To.Add(-time.Second)
	}
	return record(ctx, t, &w, t.plan, checkWork)
}
