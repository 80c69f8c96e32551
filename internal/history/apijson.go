package history

import (
	"bufio"
	"encoding/json"
	"math"
	"net/http"
	"strconv"
	"strings"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/promql"
)

// answer writes Prometheus's JSON.
type answer struct {
	w       http.ResponseWriter
	out     *bufio.Writer
	scratch []byte
}

// fail writes an error.
func (a *answer) fail(err error) {
	kind, status := kindOf(err)
	body, _ := json.Marshal(map[string]string{"status": "error", "errorType": kind, "error": oneLine(err.Error())})
	a.w.Header().Set("Content-Type", "application/json")
	a.w.WriteHeader(status)
	_, _ = a.out.Write(body)
}

// value writes data that the standard library can encode.
func (a *answer) value(data any, warnings []string) error {
	body, err := json.Marshal(data)
	if err != nil {
		return err
	}
	a.open()
	_, _ = a.out.Write(body)
	a.close(warnings, nil)
	return nil
}

// result writes what a query came to.
func (a *answer) result(r *promql.Result) error {
	a.open()
	a.text(`{"resultType":"`, string(r.Value.Type()), `","result":`)
	switch v := r.Value.(type) {
	case promql.Scalar:
		a.point(v.T, v.V)
	case promql.String:
		a.text("[", seconds(v.T), ",")
		a.quoted(v.V)
		a.text("]")
	case promql.Vector:
		a.list(len(v), func(i int) {
			a.metric(v[i].Metric)
			a.text(`,"value":`)
			a.point(v[i].T, v[i].F)
			a.text("}")
		})
	case promql.Matrix:
		a.list(len(v), func(i int) {
			a.metric(v[i].Metric)
			a.text(`,"values":`)
			a.list(len(v[i].Floats), func(j int) { a.point(v[i].Floats[j].T, v[i].Floats[j].F) })
			a.text("}")
		})
	}
	a.text("}")
	warnings, infos := r.Warnings.AsStrings("", mostRemarks, mostRemarks)
	a.close(warnings, infos)
	return nil
}

// mostRemarks is how many remarks on a query are told, of each kind.
const mostRemarks = 10

func (a *answer) open() {
	a.w.Header().Set("Content-Type", "application/json")
	a.text(`{"status":"success","data":`)
}

func (a *answer) close(warnings, infos []string) {
	for name, lines := range map[string][]string{"warnings": warnings, "infos": infos} {
		if len(lines) > 0 {
			a.text(`,"`, name, `":`)
			a.list(len(lines), func(i int) { a.quoted(lines[i]) })
		}
	}
	a.text("}")
}

func (a *answer) text(parts ...string) {
	for _, p := range parts {
		_, _ = a.out.WriteString(p)
	}
}

func (a *answer) list(n int, each func(i int)) {
	a.text("[")
	for i := range n {
		if i > 0 {
			a.text(",")
		}
		each(i)
	}
	a.text("]")
}

// metric begins the object of a series.
func (a *answer) metric(l labels.Labels) {
	a.text(`{"metric":{`)
	first := true
	l.Range(func(l labels.Label) {
		if !first {
			a.text(",")
		}
		first = false
		a.quoted(l.Name)
		a.text(":")
		a.quoted(l.Value)
	})
	a.text("}")
}

func (a *answer) quoted(text string) {
	quoted, _ := json.Marshal(strings.ToValidUTF8(text, "\uFFFD"))
	_, _ = a.out.Write(quoted)
}

// point writes a time and a value, which stands in quotes since JSON knows
// neither infinity nor NaN.
func (a *answer) point(at int64, v float64) {
	b := append(a.scratch[:0], '[')
	b = append(appendSeconds(b, at), `,"`...)
	b = append(appendNumber(b, v), `"]`...)
	_, _ = a.out.Write(b)
	a.scratch = b
}

func seconds(at int64) string { return string(appendSeconds(nil, at)) }

// appendSeconds writes milliseconds as seconds.
func appendSeconds(b []byte, at int64) []byte {
	if at < 0 {
		b = append(b, '-')
		at = -at
	}
	b = strconv.AppendInt(b, at/1000, 10)
	if part := at % 1000; part != 0 {
		b = append(b, '.', byte('0'+part/100), byte('0'+part/10%10), byte('0'+part%10))
	}
	return b
}

// appendNumber writes a value as Prometheus does: without an exponent where
// that is short.
func appendNumber(b []byte, v float64) []byte {
	form := byte('f')
	if abs := math.Abs(v); abs != 0 && (abs < 1e-6 || abs >= 1e21) {
		form = 'e'
	}
	if math.IsInf(v, 1) {
		return append(b, "+Inf"...)
	}
	return strconv.AppendFloat(b, v, form, -1, 64)
}
