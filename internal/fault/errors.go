package fault

import (
	"fmt"
	"time"

	"toneout/internal/port"
	"toneout/internal/sequential"
	"toneout/internal/standards"
)

// errorTest watches whether a port receives more damaged frames than its
// physical layer may let through.
type errorTest struct {
	detector  sequential.Detector
	since     time.Time // first errored poll of the episode
	objective float64   // bit error ratio allowed, of the link as last up; 0 where not known
	link      string    // that link's PHY or speed, in words
	severe    bool      // so many frames are lost that the link is hardly usable
}

// observe takes what came between two readings that compare. It learns
// nothing from a poll without traffic, nor from one in which the link went:
// plugging a cord damages frames.
func (e *errorTest) observe(r *port.Reading, inc *port.Increments, medium standards.Medium, threshold float64) {
	if r.Oper == port.Up {
		e.objective, e.link = objectiveOf(r, medium), linkName(r)
	}
	errored, source := inc.Counters.Errored()
	bits := bitsIn(inc)
	if source != port.EtherLike || bits == 0 || e.objective == 0 || inc.LinkChanges > 0 {
		return
	}
	if !e.detector.Open() && !e.detector.Suspicious() && errored > 0 {
		e.since = r.At
	}
	e.detector.Update(sequential.Sample{Errored: errored, Bits: bits, Seconds: inc.Seconds}, e.objective, threshold)
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

// weigh takes the ratio of a window. Severity is raised where the whole
// interval lies above the limit and lowered where all of it lies below, so
// that it does not flutter between.
func (e *errorTest) weigh(w *window) {
	if !e.detector.Open() {
		e.severe = false
		return
	}
	r, told := w.sum().FrameErrors()
	e.severe = told && (r.Low > criticalFrameErrors || e.severe && r.High >= criticalFrameErrors)
}
