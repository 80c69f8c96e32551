package fault

import (
	"fmt"
	"math"
	"time"

	"toneout/internal/port"
	"toneout/internal/sequential"
	"toneout/internal/standards"
)

// errorTest watches whether a port receives more damaged frames than its
// physical layer may let through, or than is its own habit.
type errorTest struct {
	detector  sequential.Detector
	Source    port.ErrorSource // what damaged frames are counted by
	Without   int              // polls in a row in which only something weaker counted them
	Recounted bool             // the source has changed since the open alarm
	Since     time.Time        // first errored poll of the episode
	Objective float64          // bit error ratio allowed, of the link as last up; 0 where not known
	Link      string           // that link's PHY or speed, in words
	Severe    bool             // so many frames are lost that the link is hardly usable
	SevereAt  time.Time        // when that was last seen
	Before    stretch          // since it alarmed, its pauses since the first errors
	Story     *story           // nil where it has not alarmed lately
}

// sourceLost is after how many polls without its source the test goes on by a
// weaker one, so that a table that is not told once changes nothing.
const sourceLost = 3

// follow takes what the latest reading counts damaged frames by. A better
// source is used at once. Since the sources count differently, a change of
// source begins the evidence and the habit anew; a fault that is open stays so
// until its clearing test lets go, and then they begin anew.
func (e *errorTest) follow(now port.ErrorSource) (changed bool) {
	switch {
	case now == e.Source:
		e.Without = 0
		return false
	case now == port.NoErrorSource:
		return false
	case e.Source != port.NoErrorSource && now > e.Source:
		if e.Without++; e.Without < sourceLost {
			return false
		}
	}
	changed = e.Source != port.NoErrorSource
	e.Source, e.Without = now, 0
	e.Recounted = e.Recounted || changed
	e.recount()
	return changed
}

// recount forgets what another source counted, once no alarm rests on it.
func (e *errorTest) recount() {
	if e.Recounted && !e.detector.Open() {
		e.detector, e.Recounted = sequential.Detector{}, false
	}
}

// counted tells whether the counters hold the damaged frames.
func (e *errorTest) counted(c *port.Counters) bool {
	_, ok := c.ErroredBy(e.Source)
	return ok
}

// learned tells whether the port's own habit is known.
func (e *errorTest) learned() bool {
	_, ok := e.detector.Baseline()
	return ok
}

// observe takes what came between two readings that compare. It learns
// nothing from a poll without traffic, nor from one in which the link went or
// was gone: plugging a cord damages frames, which may be told late. A repair that is not proven
// yet goes on from the fault before. It gives what it took.
func (e *errorTest) observe(r *port.Reading, inc *port.Increments, medium standards.Medium, threshold float64, repaired bool) (taken *sequential.Sample) {
	if r.Oper == port.Up {
		e.Objective, e.Link = objectiveOf(r, medium), linkName(r)
	}
	errored, counted := inc.Counters.ErroredBy(e.Source)
	bits := bitsIn(inc, errored)
	if !counted || bits == 0 || inc.LinkChanges > 0 || r.Oper != port.Up {
		return nil
	}
	if !e.detector.Open() && !e.detector.Suspicious() && errored > 0 {
		e.Since = r.At
	}
	sample, lasts := sequential.Sample{At: r.At, Errored: errored, Bits: bits, Seconds: inc.Seconds}, repaired || e.detector.Open() || e.detector.Remembers()
	e.detector.Update(sample, e.Objective, threshold)
	e.recount()
	e.tell(sample)
	switch {
	case lasts:
		e.Before.take(&sample)
	case e.detector.Open(), e.detector.Suspicious(): // the poll that alarmed was chosen for its errors
		e.Before.lead(&sample)
	default:
		e.Before = stretch{}
	}
	return &sample
}

// objectiveOf is the bit error objective of the link: of its PHY where the
// switch names it, else by speed and medium; 0 where neither tells.
func objectiveOf(r *port.Reading, medium standards.Medium) float64 {
	if phy, ok := r.PHY(); ok && phy.Speed == r.Speed() {
		return phy.BER
	}
	ber, _ := standards.ObjectiveBER(r.Speed(), medium)
	return ber
}

// overSentences tell what the damaged frames are too many for, and what else
// they can be measured by.
func (e *errorTest) overSentences(bits float64) []string {
	objective := ""
	if e.Objective > 0 {
		objective = fmt.Sprintf("%s is allowed 1 errored bit in %s, about %.2g damaged frames in this traffic",
			e.Link, bitsWords(1/e.Objective), e.Objective*bits)
	}
	habit, known := e.detector.Baseline()
	switch {
	case e.detector.Alarm() == sequential.OverHabit:
		return withoutEmpty("It began with more than the port's own habit: "+habitWords(habit)+".", sentence(objective))
	case known:
		return withoutEmpty(sentence(objective), sentence("The port's own habit was "+habitWords(habit)))
	}
	return withoutEmpty(sentence(objective))
}

func sentence(words string) string {
	if words == "" {
		return ""
	}
	return words + "."
}

// bitsWords tells a number of bits, by its power of ten where it is one.
func bitsWords(n float64) string {
	power := math.Round(math.Log10(n))
	if math.Abs(n/math.Pow(10, power)-1) < 1e-6 {
		return fmt.Sprintf("10^%.0f", power)
	}
	return count(uint64(math.Round(n)))
}

func habitWords(b sequential.Baseline) string {
	polls := count(uint64(b.Polls))
	often := "less than 1 of " + polls // what is left of a few that have faded
	switch {
	case b.Errored == 0:
		return fmt.Sprintf("no damaged frame in %s readings", polls)
	case b.Errored >= 1:
		often = "1 of " + count(uint64(math.Round(b.Polls/b.Errored)))
	}
	return fmt.Sprintf("damaged frames in %s readings, at most %s at once", often, count(b.Largest))
}

// linkName names a link by its PHY, else by its speed.
func linkName(r *port.Reading) string {
	if phy, ok := r.PHY(); ok {
		return phy.Name
	}
	return fmt.Sprintf("A link of %v", r.Speed())
}

// criticalFrameErrors: a link that loses more than 1 frame in 1,000 is hardly
// usable (common practice, no source).
const criticalFrameErrors = 1e-3

// severityHeld is for how long a fault stays critical after it last was. Each
// change of severity is told anew, and bursts would change it with each.
const severityHeld = time.Hour

// weigh takes the ratio of a window. Severity is raised where the whole
// interval lies above the limit, and lowered where it has not done so for long
// and all of it lies below.
func (e *errorTest) weigh(w *window, at time.Time) {
	if !e.detector.Open() {
		e.Severe = false
		return
	}
	switch r, told := w.sum().FrameErrors(); {
	case !told:
	case r.Low > criticalFrameErrors:
		e.Severe, e.SevereAt = true, at
	case r.High < criticalFrameErrors && at.Sub(e.SevereAt).Abs() >= severityHeld:
		e.Severe = false
	}
}
