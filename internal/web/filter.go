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

// filter is one query parameter of an address that gives a list of T. Given
// twice, either value will do; two filters must both match.
type filter[T any] struct {
	name  string
	known func(*fault.Snapshot) []string // the values that it may have
	of    func(T) string                 // nil where it does not choose among the rows
}

var faultFilters = []filter[*fault.Fault]{
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
type wanted[T any] struct {
	filters []filter[T]
	values  map[string][]string // by filter
}

func (w wanted[T]) match(row T) bool {
	for i := range w.filters {
		f := &w.filters[i]
		values, asked := w.values[f.name]
		if asked && f.of != nil && !slices.Contains(values, f.of(row)) {
			return false
		}
	}
	return true
}

// lets tells whether a filter lets a value through.
func (w wanted[T]) lets(name, value string) bool {
	values, asked := w.values[name]
	return !asked || slices.Contains(values, value)
}

// filtersOf reads a query. A name or value that is not known is refused,
// since it would else look like a plant without such rows.
func filtersOf[T any](filters []filter[T], query url.Values, s *fault.Snapshot) (wanted[T], error) {
	w := wanted[T]{filters, map[string][]string{}}
	for name, values := range query {
		i := slices.IndexFunc(filters, func(f filter[T]) bool { return f.name == name })
		if i < 0 {
			return w, unknownWord("query parameter", name, filterNames(filters))
		}
		known := filters[i].known(s)
		for _, value := range values {
			if !slices.Contains(known, value) {
				return w, unknownWord(name, value, known)
			}
		}
		w.values[name] = values
	}
	return w, nil
}

func filterNames[T any](filters []filter[T]) []string {
	names := make([]string, len(filters))
	for i := range filters {
		names[i] = filters[i].name
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
