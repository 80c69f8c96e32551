package web

import (
	"net/http"
	"net/url"
	"slices"

	"toneout/internal/fault"
)

// sharedView is the page of what several faulty runs have in common.
type sharedView struct {
	Causes  []sharedRow
	Faulty  int // runs at fault, shared cause or not
	Watched int // runs whose state is known
}

// sharedRow is a shared cause as pages show it.
type sharedRow struct {
	*fault.SharedCause
	ID, URL     string // where it stands on its page
	Mark        string
	Since       *when
	Probability string
	Share       string
	Runs        []sharedRun
	Also        []string
	Rivals      []causeRow
	Advice      advice
}

// sharedRun is a run at fault under a shared cause.
type sharedRun struct {
	ID, URL string
	Suspect bool
}

func sharedPage(s Source, _ *http.Request, snapshot *fault.Snapshot) (string, any, error) {
	v := sharedView{Causes: clock{s.Now()}.sharedRows(snapshot.Shared)}
	for state, n := range snapshot.States() {
		switch state {
		case fault.Faulty:
			v.Faulty += n
			v.Watched += n
		case fault.Healthy, fault.Quiet, fault.Planned:
			v.Watched += n
		case fault.Unknown, fault.Idle:
		}
	}
	return plural(len(v.Causes), "shared cause"), v, nil
}

func (c clock) sharedRows(causes []*fault.SharedCause) (rows []sharedRow) {
	for _, cause := range causes {
		row := sharedRow{
			SharedCause: cause, ID: sharedID(cause.SharedName), URL: sharedURL(cause.SharedName), Mark: severityMarks[cause.Severity],
			Since: c.when(cause.Since), Probability: fault.Percent(cause.Probability), Share: fault.Percent(cause.Share), Advice: adviceOfShared(cause),
		}
		for _, id := range cause.Faulty {
			row.Runs = append(row.Runs, sharedRun{id, runURL(id), slices.Contains(cause.Suspects, id)})
		}
		for _, name := range cause.Also {
			row.Also = append(row.Also, name.String())
		}
		for _, r := range cause.Rivals {
			row.Rivals = append(row.Rivals, causeRow{Title: r.String(), Code: string(r.Attribute), Probability: fault.Percent(r.Probability)})
		}
		rows = append(rows, row)
	}
	return rows
}

// sharedID is the anchor of a shared cause on its page.
func sharedID(n fault.SharedName) string { return string(n.Attribute) + ":" + n.Value }

func sharedURL(n fault.SharedName) string { return "/shared#" + url.PathEscape(sharedID(n)) }

// sharedOf are the shared causes that a run is at fault under.
func sharedOf(s *fault.Snapshot, run string) []*fault.SharedCause {
	out := []*fault.SharedCause{}
	for _, c := range s.Shared {
		if slices.Contains(c.Faulty, run) {
			out = append(out, c)
		}
	}
	return out
}

var sharedFilters = []filter[*fault.SharedCause]{
	{"attribute", words(fault.Attributes...), func(c *fault.SharedCause) string { return string(c.Attribute) }},
	{"severity", words(fault.Info, fault.Warning, fault.Critical), func(c *fault.SharedCause) string { return string(c.Severity) }},
}

func sharedCauses(r *http.Request, s *fault.Snapshot) (any, error) {
	wanted, err := filtersOf(sharedFilters, r.URL.Query(), s)
	if err != nil {
		return nil, err
	}
	out := []*fault.SharedCause{}
	for _, c := range s.Shared {
		if wanted.match(c) {
			out = append(out, c)
		}
	}
	return out, nil
}

// foldedLink is what a fault is told as a part of; no URL where that stands on the page.
type foldedLink struct{ Title, URL string }

// foldedUnder is nil for a fault that is told by itself.
func foldedUnder(s *fault.Snapshot, f *fault.Fault) *foldedLink {
	switch {
	case f.SharedCause == "" && f.IsPart():
		return &foldedLink{Title: fault.TheOther}
	case f.SharedCause == "":
		return nil
	}
	if c := f.FoldedUnder(s.Shared); c != nil {
		return &foldedLink{c.Title, sharedURL(c.SharedName)}
	}
	return &foldedLink{f.SharedCause, "/shared"}
}
