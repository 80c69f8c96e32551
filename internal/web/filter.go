package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// filter is one query parameter of /api/faults. Given twice, either value
// will do; two filters must both match.
type filter struct {
	name  string
	known func(*fault.Snapshot) []string // the values that it may have
	of    func(*fault.Fault) string
}

var filters = []filter{
	{"run", runIDsOrNone, func(f *fault.Fault) string { return f.Run }},
	{"kind", words(fault.Kinds...), func(f *fault.Fault) string { return string(f.Kind) }},
	{"severity", words(fault.Info, fault.Warning, fault.Critical), func(f *fault.Fault) string { return string(f.Severity) }},
	{"switch", switchNames, func(f *fault.Fault) string { return f.Switch }},
	{"space", spaces, func(f *fault.Fault) string { return f.Space }},
	{"alarm", words("true", "false"), func(f *fault.Fault) string { return strconv.FormatBool(f.Alarm) }},
}

func words[S ~string](values ...S) func(*fault.Snapshot) []string {
	out := make([]string, len(values))
	for i, v := range values {
		out[i] = string(v)
	}
	return func(*fault.Snapshot) []string { return out }
}

// spaces are those of the inventory and of the switches' configuration.
func spaces(s *fault.Snapshot) []string {
	var out []string
	for _, space := range s.Plant.Spaces {
		out = append(out, space.ID)
	}
	for _, sw := range s.Switches {
		if sw.Space != "" && !slices.Contains(out, sw.Space) {
			out = append(out, sw.Space)
		}
	}
	return out
}

// runIDsOrNone has "" for the ports without a run.
func runIDsOrNone(s *fault.Snapshot) []string { return append(runIDs(s), "") }

// wanted is which values each filter lets through.
type wanted map[*filter][]string

func (w wanted) match(f *fault.Fault) bool {
	for filter, values := range w {
		if !slices.Contains(values, filter.of(f)) {
			return false
		}
	}
	return true
}

// filtersOf reads a query. A name or value that is not known is refused,
// since it would else look like a plant without such faults.
func filtersOf(query url.Values, s *fault.Snapshot) (wanted, error) {
	w := wanted{}
	for name, values := range query {
		i := slices.IndexFunc(filters, func(f filter) bool { return f.name == name })
		if i < 0 {
			return nil, unknownWord("query parameter", name, filterNames())
		}
		f := &filters[i]
		known := f.known(s)
		for _, value := range values {
			if !slices.Contains(known, value) {
				return nil, unknownWord(name, value, known)
			}
		}
		w[f] = values
	}
	return w, nil
}

func filterNames() []string {
	names := make([]string, len(filters))
	for i, f := range filters {
		names[i] = f.name
	}
	return names
}

const mostListed = 10 // words; longer lists hide the message

func unknownWord(what, word string, known []string) error {
	hint := plant.DidYouMean(word, known)
	if len(known) > 0 && len(known) <= mostListed {
		hint = "; known are " + strings.Join(known, ", ") + hint
	}
	return refused(http.StatusBadRequest, "unknown %s %q%s", what, word, hint)
}
