package plant

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
)

const (
	mostSuggested = 3
	closeEnough   = 2    // edits between a typing error and what was meant
	mostLooked    = 2000 // names; beyond these a hint costs more than it helps
	longest       = 100  // octets of a name worth a hint
)

// DidYouMean names what may have been meant, as the tail of a sentence; ""
// where nothing is near. Spelled alike but for case and punctuation comes
// before mistyped.
func DidYouMean(written string, names []string) string {
	if len(names) > mostLooked || len(written) > longest {
		return ""
	}
	want := letters(written)
	var near [closeEnough + 1][]string
	for _, name := range names {
		if d := distance(want, letters(name)); d <= closeEnough && d < len(want) && !slices.Contains(near[d], name) {
			near[d] = append(near[d], name)
		}
	}
	for _, found := range near {
		if len(found) == 0 {
			continue
		}
		quoted := make([]string, min(len(found), mostSuggested))
		for i := range quoted {
			quoted[i] = fmt.Sprintf("%q", found[i])
		}
		return "; did you mean " + strings.Join(quoted, " or ") + "?"
	}
	return ""
}

// letters is what is left of a name when it is read aloud.
func letters(s string) []rune {
	var out []rune
	for _, r := range s {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			out = append(out, unicode.ToLower(r))
		}
	}
	return out
}

// distance is how many letters must be put in, taken out, changed or swapped
// with their neighbour to make a into b (optimal string alignment); where the
// lengths alone say that it is more than closeEnough, closeEnough + 1.
func distance(a, b []rune) int {
	if max(len(a)-len(b), len(b)-len(a)) > closeEnough {
		return closeEnough + 1
	}
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := 0
			if a[i-1] != b[j-1] {
				change = 1
			}
			row[j] = min(last[j-1]+change, last[j]+1, row[j-1]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}
