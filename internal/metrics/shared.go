package metrics

import (
	"strconv"
	"strings"

	"toneout/internal/fault"
)

// mostNamedRuns is how many runs of a shared cause a label names.
const mostNamedRuns = 12

// updateShared tells the causes that runs share. They are few, and made anew
// where any changed.
func (e *Exposition) updateShared(s *fault.Snapshot) {
	if same(s.Shared, e.sharedTold) {
		return
	}
	e.sharedTold = s.Shared
	var probabilities, infos []row
	for _, c := range s.Shared {
		told, name := c.Telling(), labelled(pair("attribute", string(c.Attribute)), pair("value", c.Value))
		probabilities = append(probabilities, row{value: c.Probability, labels: name})
		infos = append(infos, row{value: 1, labels: name.with(
			pair("severity", string(c.Severity)), pair("title", told.Title), pair("faulty", strconv.Itoa(len(c.Faulty))),
			pair("members", strconv.Itoa(c.Members)), pair("runs", strings.Join(c.Faulty[:min(mostNamedRuns, len(c.Faulty))], ";")),
			pair("evidence", told.Evidence), pair("first_check", told.Check), pair("caution", told.Caution))})
	}
	e.sharedProbability.become(probabilities)
	e.sharedInfo.become(infos)
}

// same tells whether two lists are one: a snapshot's is never changed.
func same(a, b []*fault.SharedCause) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}
