package plant

import "regexp"

// Worse gives the problems of a plant read again that cost rows and were not
// there when it was read before, wherever in its file each stands now. Where
// there are any, an edit went wrong and the plant read before is the better
// one.
func Worse(before, now []Problem) (worse []Problem) {
	known := map[Problem]int{}
	for _, p := range before {
		known[unplaced(p)]++
	}
	for _, p := range now {
		if key := unplaced(p); known[key] > 0 {
			known[key]--
		} else if p.Lost {
			worse = append(worse, p)
		}
	}
	return worse
}

var lineInText = regexp.MustCompile(`:\d+`)

// unplaced is a problem without the lines that it names.
func unplaced(p Problem) Problem {
	p.Line, p.Text = 0, lineInText.ReplaceAllString(p.Text, "")
	return p
}
