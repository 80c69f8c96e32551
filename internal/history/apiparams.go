package history

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"github.com/prometheus/common/model"
	"github.com/prometheus/prometheus/model/labels"
)

// params reads the parameters of a request. The first that cannot be read is
// kept, and told by then.
type params struct {
	url.Values
	name    string        // in the path
	timeout time.Duration // of the whole answer
	wrong   *error
}

func paramsOf(r *http.Request) (params, error) {
	if err := r.ParseForm(); err != nil {
		return params{}, badData{fmt.Errorf("form not read: %w", err)}
	}
	p := params{r.Form, r.PathValue("name"), mostQueryTime, new(error)}
	if asked := p.span("timeout"); asked > 0 {
		p.timeout = min(asked, mostQueryTime)
	}
	return p, *p.wrong
}

// then goes on where all parameters could be read.
func (p params) then(do func() error) error {
	if *p.wrong != nil {
		return *p.wrong
	}
	return do()
}

func (p params) refuse(key string, err error) {
	if *p.wrong == nil {
		*p.wrong = badData{fmt.Errorf("parameter %s: %w", key, err)}
	}
}

// time reads a moment that may be left out.
func (p params) time(key string, otherwise time.Time) time.Time {
	if p.Get(key) == "" {
		return otherwise
	}
	at, err := parseTime(p.Get(key))
	if err != nil {
		p.refuse(key, err)
	}
	return at
}

// needed reads a moment.
func (p params) needed(key string) time.Time {
	if p.Get(key) == "" {
		p.refuse(key, errors.New("is missing"))
	}
	return p.time(key, time.Time{})
}

// span reads a duration above 0; 0 where it is left out.
func (p params) span(key string) time.Duration {
	if p.Get(key) == "" {
		return 0
	}
	d, err := parseSpan(p.Get(key))
	if err != nil {
		p.refuse(key, err)
	}
	return d
}

// limit reads how many answers are wanted at most.
func (p params) limit() int {
	if p.Get("limit") == "" {
		return mostListedAnswers
	}
	n, err := strconv.ParseUint(p.Get("limit"), 10, 31)
	if err != nil {
		p.refuse("limit", fmt.Errorf("%q is no whole number", p.Get("limit")))
	}
	if n == 0 { // as in Prometheus: no limit
		return mostListedAnswers
	}
	return min(int(n), mostListedAnswers)
}

// matchers reads the selectors.
func (p params) matchers() (sets [][]*labels.Matcher) {
	for _, text := range p.Values["match[]"] {
		set, err := questions.ParseMetricSelector(text)
		if err == nil && !narrow(set) {
			err = fmt.Errorf("%s wants a matcher that an empty label does not fit", text)
		}
		if err != nil {
			p.refuse("match[]", err)
		}
		sets = append(sets, set)
	}
	return sets
}

// narrow tells whether a selector does not simply fit everything.
func narrow(set []*labels.Matcher) bool {
	for _, m := range set {
		if !m.Matches("") {
			return true
		}
	}
	return false
}

// Times that a request may name: the years that RFC 3339 can write.
var (
	earliest = time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC)
	latest   = time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC)
)

// parseTime reads seconds since 1970, or RFC 3339.
func parseTime(text string) (time.Time, error) {
	if seconds, err := strconv.ParseFloat(text, 64); err == nil {
		if !(seconds >= float64(earliest.Unix()) && seconds <= float64(latest.Unix())) {
			return time.Time{}, fmt.Errorf("%q is not within the years 1 to 9999", text)
		}
		whole, part := math.Modf(seconds)
		return time.Unix(int64(whole), int64(math.Round(part*1000))*int64(time.Millisecond)).UTC(), nil
	}
	if at, err := time.Parse(time.RFC3339Nano, text); err == nil {
		return at, nil
	}
	return time.Time{}, fmt.Errorf("%q is neither seconds since 1970 nor a time such as 2026-03-02T12:00:00Z", text)
}

// parseSpan reads seconds, or a duration in Prometheus's units.
func parseSpan(text string) (time.Duration, error) {
	var span time.Duration
	if seconds, err := strconv.ParseFloat(text, 64); err == nil {
		if math.Abs(seconds) < math.MaxInt64/float64(time.Second) {
			span = time.Duration(seconds * float64(time.Second))
		}
	} else if parsed, err := model.ParseDuration(text); err == nil {
		span = time.Duration(parsed)
	}
	if span < time.Millisecond {
		return 0, fmt.Errorf("%q is no duration of a millisecond or more, such as 15, 30s or 5m", text)
	}
	return span, nil
}
