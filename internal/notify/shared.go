package notify

import (
	"fmt"
	"strings"
	"time"

	"toneout/internal/fault"
)

const sharedCause = "SharedCableCause"

// mostNamedRuns is how many runs of a shared cause are named, as in the metrics.
const mostNamedRuns = 12

// seeShared takes what stands behind the faults of several runs.
func (n *Notifier) seeShared(s *fault.Snapshot, now time.Time) {
	for _, c := range s.Shared {
		id := identity{name: sharedCause, attribute: string(c.Attribute), value: valid(c.Value), severity: string(c.Severity)}
		st := n.at(n.ofShared, id)
		if st.shared != c { // one is never changed
			st.shared = c
			n.say(st, id, sharedAnnotations(c), c.Since, now)
		}
	}
}

func sharedAnnotations(c *fault.SharedCause) map[string]string {
	told := c.Telling()
	return validEach(map[string]string{
		"summary": fmt.Sprintf("%d of %d runs share a cause: %s", len(c.Faulty), c.Members, told.Title),
		"description": sentences(
			fmt.Sprintf("They have the %s in common, and at fault together are (%d named at most): %s.",
				told.Title, mostNamedRuns, strings.Join(c.Faulty[:min(mostNamedRuns, len(c.Faulty))], ", ")),
			told.Evidence, told.Verdict, firstStep(told)),
	})
}
