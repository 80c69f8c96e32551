package metrics

import (
	"compress/gzip"
	"io"
	"net/http"
	"strconv"
	"strings"
	"sync"

	"github.com/prometheus/client_golang/prometheus/promhttp"
	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
)

// scrapesAtATime is how many scrapes are answered at once: two servers and two
// people are plenty.
const scrapesAtATime = 4

// Handler serves the exposition.
//
// The lock is held while the series are copied (for 48,000 ports a hundredth
// of a second and 32 MB) and no longer, however slow the client. Formats other
// than text go through the client library's encoders.
func (e *Exposition) Handler() http.Handler {
	others := promhttp.HandlerFor(e, promhttp.HandlerOpts{
		Registry:      e.registry,
		ErrorHandling: promhttp.ContinueOnError, // a process metric that fails must not hide a fault
	})
	places := make(chan struct{}, scrapesAtATime)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		select {
		case places <- struct{}{}:
			defer func() { <-places }()
		default:
			http.Error(w, "too many scrapes at once; try again in a moment", http.StatusServiceUnavailable)
			return
		}
		format := expfmt.Negotiate(r.Header)
		if format.FormatType() != expfmt.TypeTextPlain {
			others.ServeHTTP(w, r)
			return
		}
		e.serveText(w, r, string(format))
	})
}

// moment is the families that are kept in place as they were at one moment.
type moment struct {
	rows       []row
	histograms []histogram
	parts      []part
	text       []byte // a sink's
}

// part is the rows or histograms of a family.
type part struct {
	of       inPlace
	from, to int
}

// moments and compressors are used again.
var (
	moments     = sync.Pool{New: func() any { return new(moment) }}
	compressors = sync.Pool{New: func() any { z, _ := gzip.NewWriterLevel(nil, gzip.BestSpeed); return z }}
)

// copyTo copies the families under the lock.
func (e *Exposition) copyTo(m *moment) {
	m.rows, m.histograms, m.parts = m.rows[:0], m.histograms[:0], m.parts[:0]
	e.mu.RLock()
	defer e.mu.RUnlock()
	for _, f := range e.families {
		f.copyTo(m)
	}
}

func (e *Exposition) serveText(w http.ResponseWriter, r *http.Request, format string) {
	m := moments.Get().(*moment)
	defer moments.Put(m)
	e.copyTo(m)
	header := w.Header()
	header.Set("Content-Type", format)
	to := io.Writer(w)
	if takesGzip(r.Header.Get("Accept-Encoding")) {
		header.Set("Content-Encoding", "gzip")
		z := compressors.Get().(*gzip.Writer)
		defer compressors.Put(z)
		z.Reset(w)
		defer z.Close() // a client that goes away is no concern of ours
		to = z
	}
	e.write(to, m)
}

// takesGzip reads an Accept-Encoding (RFC 9110, 12.5.3).
func takesGzip(accept string) bool {
	for part := range strings.SplitSeq(accept, ",") {
		coding, weight, _ := strings.Cut(part, ";")
		if strings.TrimSpace(coding) != "gzip" {
			continue
		}
		q, weighed := strings.CutPrefix(strings.TrimSpace(weight), "q=")
		value, err := strconv.ParseFloat(q, 64)
		return !weighed || err == nil && value > 0
	}
	return false
}

// write sends the whole text: what describes the process, and the families of
// a moment.
func (e *Exposition) write(to io.Writer, m *moment) {
	process, _ := e.registry.Gather() // what fails of it is left out, and must not hide a fault
	for _, f := range process {
		_, _ = expfmt.MetricFamilyToText(to, f)
	}
	s := &sink{to: to, b: m.text[:0]}
	for _, p := range m.parts {
		if p.from < p.to {
			p.of.write(m, p, s)
		}
	}
	s.spill()
	m.text = s.b
}

// Gather gives every family there is, as a copy.
func (e *Exposition) Gather() ([]*dto.MetricFamily, error) {
	families, err := e.registry.Gather()
	var m moment
	e.copyTo(&m)
	for _, p := range m.parts {
		if p.from < p.to {
			families = append(families, p.of.message(&m, p))
		}
	}
	return families, err
}
