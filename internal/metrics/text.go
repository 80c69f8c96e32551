package metrics

import (
	"io"
	"math"
	"strconv"
	"strings"

	dto "github.com/prometheus/client_model/go"
)

// This file writes the text format, version 0.0.4
// (https://prometheus.io/docs/instrumenting/exposition_formats/), byte for byte
// as the client library's encoder does, which takes ten times as long: labels
// are written once, when a series is made, and not again at each scrape.

// spillAt is how many bytes are gathered before they are sent.
const spillAt = 64 << 10

// sink gathers text and sends it in pieces.
type sink struct {
	to  io.Writer
	b   []byte
	err error // of the first piece that could not be sent; none is sent after it
}

// spill sends what was gathered, and tells whether there is a use in more.
func (s *sink) spill() bool {
	if s.err == nil {
		_, s.err = s.to.Write(s.b)
	}
	s.b = s.b[:0]
	return s.err == nil
}

// family writes a family with these rows of it.
func (s *sink) family(f *family, rows []row) {
	s.b = appendHead(s.b, f.name, f.help, f.kind)
	for i := range rows {
		s.b = appendRow(s.b, f.name, &rows[i])
		if len(s.b) > spillAt && !s.spill() {
			return
		}
	}
}

func appendRow(b []byte, name string, r *row) []byte {
	b = append(b, name...)
	if r.first != nil {
		b = append(append(append(b, '{'), r.first.text...), r.labels.text...)
		b = append(b, '}')
	} else if r.labels.text != "" {
		b = append(append(append(b, '{'), r.labels.text...), '}')
	}
	return append(appendValue(append(b, ' '), r.value), '\n')
}

// histograms writes the histograms of a metric.
func (s *sink) histograms(h *histograms, all []histogram) {
	s.b = appendHead(s.b, h.name, h.help, dto.MetricType_HISTOGRAM)
	for i := range all {
		s.b = h.appendOne(s.b, &all[i])
		if len(s.b) > spillAt && !s.spill() {
			return
		}
	}
}

func (h *histograms) appendOne(b []byte, m *histogram) []byte {
	sum := uint64(0)
	for i, n := range m.counts {
		sum += n
		b = append(append(append(b, h.name...), "_bucket{"...), m.labels.text...)
		b = append(append(append(b, `,le="`...), h.texts[i]...), `"} `...)
		b = append(appendValue(b, float64(sum)), '\n')
	}
	b = append(append(append(b, h.name...), "_sum{"...), m.labels.text...)
	b = append(appendValue(append(b, "} "...), m.sum), '\n')
	b = append(append(append(b, h.name...), "_count{"...), m.labels.text...)
	return append(appendValue(append(b, "} "...), float64(sum)), '\n')
}

var escapeHelp = strings.NewReplacer(`\`, `\\`, "\n", `\n`)

func appendHead(b []byte, name, help string, kind dto.MetricType) []byte {
	b = append(append(append(append(b, "# HELP "...), name...), ' '), escapeHelp.Replace(help)...)
	b = append(append(append(b, "\n# TYPE "...), name...), ' ')
	return append(append(b, strings.ToLower(kind.String())...), '\n')
}

var escapeLabel = strings.NewReplacer(`\`, `\\`, "\n", `\n`, `"`, `\"`)

func appendPair(b []byte, p *dto.LabelPair) []byte {
	b = append(append(b, p.GetName()...), `="`...)
	return append(append(b, escapeLabel.Replace(p.GetValue())...), '"')
}

// integersTo is where the encoder begins to write integers with an exponent.
const integersTo = 1e6

func appendValue(b []byte, v float64) []byte {
	switch {
	case v == math.Trunc(v) && math.Abs(v) < integersTo: // 0 has no sign
		return strconv.AppendInt(b, int64(v), 10)
	case math.IsNaN(v):
		return append(b, "NaN"...)
	case math.IsInf(v, 0):
		if v > 0 {
			return append(b, "+Inf"...)
		}
		return append(b, "-Inf"...)
	}
	return strconv.AppendFloat(b, v, 'g', -1, 64)
}
