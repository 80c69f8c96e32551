package web

import (
	"bytes"
	"embed"
	"html/template"
	"net/http"
	"time"

	"toneout/internal/fault"
)

//go:embed templates
var templateFiles embed.FS

// templates are the pages, each within the layout.
var templates = parsed("wall", "run", "port", "shared", "coverage", "audit", "work", "refusal")

func parsed(names ...string) map[string]*template.Template {
	pages := make(map[string]*template.Template, len(names))
	for _, name := range names {
		pages[name] = template.Must(template.ParseFS(templateFiles,
			"templates/layout.html", "templates/parts.html", "templates/"+name+".html"))
	}
	return pages
}

// view is what the layout needs; Body is the page's own.
type view struct {
	Title   string
	Site    string // "" where the inventory names none
	Updated *when  // of the snapshot; nil where there is none
	Stuck   error  // why it will not be renewed
	Live    bool   // whether the page renews itself
	Folds   bool   // it has folded lists, which only the script keeps open when it does
	Body    any
}

// when is a time as a page shows it.
type when struct{ ISO, Text, Age string }

// clock is the moment of a request, and its zone the one pages speak in.
type clock struct{ now time.Time }

func (c clock) when(t time.Time) *when {
	if t.IsZero() {
		return nil
	}
	return &when{t.Format(time.RFC3339), moment(t, c.now.Location()), age(c.now.Sub(t))}
}

// pageFunc gives a page's title and what its template draws.
type pageFunc func(Source, *http.Request, *fault.Snapshot) (title string, body any, err error)

func (s Source) page(name string, f pageFunc) http.Handler {
	return readOnly(s.htmlRefusal, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		snapshot, err := s.latest()
		if err != nil {
			s.htmlRefusal(w, r, err)
			return
		}
		title, body, err := f(s, r, snapshot)
		if err != nil {
			s.htmlRefusal(w, r, err)
			return
		}
		s.draw(w, http.StatusOK, name, view{Title: title, Live: true, Folds: foldedPages[name], Body: body})
	}))
}

// foldedPages have folded lists or forms, which no reload may fold or empty.
var foldedPages = map[string]bool{"coverage": true, "run": true, "work": true}

// htmlRefusal writes an error as a page.
func (s Source) htmlRefusal(w http.ResponseWriter, _ *http.Request, err error) {
	status := statusOf(err)
	s.draw(w, status, "refusal", view{Title: http.StatusText(status), Body: err.Error()})
}

// draw fills a template whole before the first byte goes out.
func (s Source) draw(w http.ResponseWriter, status int, name string, v view) {
	if snapshot := s.Snapshot(); snapshot != nil {
		v.Site = snapshot.Plant.Site
		v.Updated = clock{s.Now()}.when(snapshot.At)
	}
	v.Stuck = s.Alive()
	var body bytes.Buffer
	if err := templates[name].ExecuteTemplate(&body, "layout", v); err != nil {
		http.Error(w, "drawing the page "+name+": "+err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	w.Write(body.Bytes())
}

func noSuchPage(_ Source, r *http.Request, _ *fault.Snapshot) (string, any, error) {
	return "", nil, refused(http.StatusNotFound, "There is no page %s.", r.URL.Path)
}
