package web

import (
	"fmt"
	"strconv"
	"strings"
)

// noun is a word for what is counted.
type noun struct{ one, many string }

var (
	aSwitch = noun{"switch", "switches"}
	aPort   = noun{"port", "ports"}
	aRun    = noun{"run", "runs"}
	aCable  = noun{"cable", "cables"}
	anEnd   = noun{"end", "ends"}

	aFinding = noun{"finding", "findings"}
)

// count gives e.g. "1 switch", "12 switches".
func (w noun) count(n int) string {
	switch n {
	case 0:
		return "no " + w.many
	case 1:
		return "1 " + w.one
	}
	return digits(n) + " " + w.many
}

// are gives e.g. "1 switch is", "12 switches are".
func (w noun) are(n int) string {
	if n == 1 {
		return w.count(n) + " is"
	}
	return w.count(n) + " are"
}

// of gives e.g. "11 of 12 switches".
func (w noun) of(n, all int) string {
	return fmt.Sprintf("%s of %s %s", digits(n), digits(all), w.many)
}

// share says what some of all do, e.g. "All 12 switches answer"; verbs is the
// verb of one.
func (w noun) share(n, all int, verb, verbs string) string {
	switch {
	case n == all && all == 1:
		return "The only " + w.one + " " + verbs
	case n == all && all > 0:
		return fmt.Sprintf("All %s %s %s", digits(all), w.many, verb)
	case n == 1:
		return w.of(n, all) + " " + verbs
	}
	return w.of(n, all) + " " + verb
}

// digits writes a count with its thousands apart.
func digits(n int) string { return grouped(uint64(max(n, 0))) }

// spans shortens a list of port names: where several in a row differ in their
// last number alone and count up, the first and the last of them are named.
func spans(names []string) string {
	var out []string
	for i := 0; i < len(names); {
		end := i
		for end+1 < len(names) && follows(names[end], names[end+1]) {
			end++
		}
		switch end - i {
		case 0:
			out = append(out, names[i])
		case 1:
			out = append(out, names[i], names[end])
		default:
			out = append(out, names[i]+" to "+names[end])
		}
		i = end + 1
	}
	if len(out) > mostSpans {
		out = append(out[:mostSpans], "…")
	}
	return strings.Join(out, ", ")
}

// mostSpans is how many names or spans of them one line holds.
const mostSpans = 12

// follows tells whether next is a's successor, as 1/18 is of 1/17.
func follows(a, next string) bool {
	stem, n := numbered(a)
	nextStem, m := numbered(next)
	return n >= 0 && stem == nextStem && m == n+1
}

// numbered splits a name before its last number; -1 where it ends in none.
func numbered(name string) (stem string, n int) {
	stem = strings.TrimRight(name, "0123456789")
	n, err := strconv.Atoi(name[len(stem):])
	if err != nil {
		return name, -1
	}
	return stem, n
}
