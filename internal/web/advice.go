package web

import "toneout/internal/fault"

// advice is what to do, in order, and the cautions.
type advice struct {
	First    []checkRow
	Then     []checkRow // where those found nothing
	Note     string     // how the rows read; may be ""
	Cautions []string
	Key      string // tells it from others of the page
}

// checkRow is a check; what it takes and finds is "" where that is not known.
type checkRow struct{ Says, Takes, Finds string }

// From is the number of the first of those that come then.
func (a advice) From() int { return len(a.First) + 1 }

// firstChecks is how many checks are shown at once.
const firstChecks = 4

func adviceOf(f *fault.Fault) advice { return adviceFrom(f.NextChecks, f.Cautions, string(f.Kind)) }

func adviceOfShared(c *fault.SharedCause) advice {
	return adviceFrom(c.NextChecks, c.Cautions, sharedID(c.SharedName))
}

func adviceFrom(checks []fault.NextCheck, cautions []string, key string) advice {
	a := advice{Cautions: cautions, Key: key}
	for i := range checks {
		c := &checks[i]
		row := checkRow{c.Check, c.Takes(), c.WouldFind()}
		a.Note = fault.HowToRead
		if i < firstChecks {
			a.First = append(a.First, row)
		} else {
			a.Then = append(a.Then, row)
		}
	}
	return a
}
