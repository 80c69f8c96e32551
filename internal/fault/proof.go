package fault

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"toneout/internal/port"
	"toneout/internal/sequential"
)

// Repair is what somebody did about a run.
type Repair struct {
	ID    string
	At    time.Time
	Run   string
	Cause Cause
	By    string
}

// proof is what a port has yet to show after a repair of its run: its tests began
// afresh, and its faults stay listed, told to nobody, until it stands or they
// return.
type proof struct {
	Repair     Repair
	Medium     string
	Of         []repairedFault
	Before     stretch // from the alarm of damaged frames to the repair
	After      stretch
	Follows    sequential.Follows // what the errors before followed
	Recurrence time.Duration      // in which they came back; 0 where they kept to no hours
	Watched    float64            // seconds since, with a link, over which readings compare
	Failed     time.Time          // when a fault returned; zero while it waits
}

// repairedFault is a fault as it was when it was repaired.
type repairedFault struct {
	Kind         Kind
	About        About
	Since        time.Time
	Severe, Weak bool
	Evidence     []string
	Causes       []CauseProbability
}

// waits tells whether it is neither proven nor failed yet.
func (w *proof) waits() bool { return w != nil && w.Failed.IsZero() }

// of is a kind of fault that was repaired, nil where it was not.
func (w *proof) of(kind Kind) *repairedFault {
	if w == nil {
		return nil
	}
	at := slices.IndexFunc(w.Of, func(f repairedFault) bool { return f.Kind == kind })
	if at < 0 {
		return nil
	}
	return &w.Of[at]
}

// repair begins a proof at a port of the faults of its run that it shows. What is
// nobody's fault was repaired by nobody, and what came later by nobody yet.
func (p *portState) repair(r Repair, faults []*Fault) {
	w := &proof{Repair: r, Medium: string(p.made())}
	if p.proof.waits() { // repaired again: what was to be shown is to be shown still
		w.Of, w.Before, w.Follows, w.Recurrence = p.proof.Of, p.proof.Before, p.proof.Follows, p.proof.Recurrence
	}
	for _, open := range p.findings() {
		f := kindAmong(faults, open.kind)
		if f == nil || f.Quiet || w.of(open.kind) != nil || open.since.After(r.At) {
			continue
		}
		since := open.since
		if before := p.proof.of(open.kind); before != nil {
			since = before.Since
		}
		w.Of = append(w.Of, repairedFault{open.kind, f.About, since, open.severe, open.weak, slices.Clone(f.Evidence), slices.Clone(f.Causes)})
	}
	if len(w.Of) == 0 {
		return
	}
	if e := &p.errors; e.detector.Open() {
		w.Before = e.Before
		if e.Story != nil {
			w.Follows, w.Recurrence = e.Story.Nature.Follows(), e.Story.KeepsTo.Every
		}
	}
	p.proof = w
	p.testAfresh()
}

// testAfresh lets what was open take hold anew, and keeps what is usual of the port.
func (p *portState) testAfresh() {
	p.slow = slow{}
	p.errors.detector.Restart()
	p.errors.Story, p.errors.Before, p.errors.Severe = nil, stretch{}, false
	p.Duplex, p.Flaps = duplexTest{}, flapTest{}
	p.Link.Missing, p.Link.Down, p.Power.Rose = nil, 0, nil
	p.Light, p.Loss = p.Light.rested(), p.Loss.rested()
	p.Folded, p.Passed = nil, passage{}
}

// watch takes a poll's readings that compare.
func (w *proof) watch(p *portState, inc *port.Increments, sample *sequential.Sample) {
	if !w.waits() {
		return
	}
	if p.reading.Oper == port.Up {
		w.Watched += inc.Seconds
	}
	if sample != nil {
		w.After.take(sample)
	}
}

// need is what a proof still needs.
type need struct {
	Bits    float64 // without a damaged frame
	Seconds float64 // likewise, where errors come by the clock
	Span    float64 // seconds of watching
}

func (n need) met() bool { return n.Bits <= 0 && n.Seconds <= 0 && n.Span <= 0 }

// span is how long the proof lasts at least.
func (w *proof) span(least time.Duration) time.Duration {
	gap := time.Duration(max(w.Before.Gap, w.After.Gap) * float64(time.Second))
	return sequential.ProofSpan(least, gap, w.Recurrence)
}

// unknownObjective is asked of a link of which nothing tells what it may let through:
// that of 1000BASE-T (IEEE 802.3 40.1.1).
const unknownObjective = 1e-10

// needs is what is still needed for 95 %: of damaged frames, that they are fewer than
// before by what they followed, and that the port meets its objective; of
// everything, that it was watched for long enough.
func (w *proof) needs(objective float64, least time.Duration) need {
	n := need{Span: max(0, w.span(least).Seconds()-w.Watched)}
	if w.of(FrameErrors) == nil {
		return n
	}
	recurred := false
	if before, ok := w.Before.byBits(); ok && w.Follows != sequential.FollowTime {
		n.Bits, recurred = sequential.StillNeeded(before, w.After.receivedBits()), true
	}
	if before, ok := w.Before.byTime(); ok && w.Follows != sequential.FollowTraffic {
		n.Seconds, recurred = sequential.StillNeeded(before, w.After.receivedTime()), true
	}
	if objective == 0 && !recurred {
		objective = unknownObjective // there is nothing else to prove
	}
	if objective > 0 {
		n.Bits = max(n.Bits, sequential.BitsForObjective(w.After.Frames, objective)-w.After.Bits)
	}
	return n
}

// waiting is a finding of each fault that waits for its proof.
func (p *portState) waiting(least time.Duration) (found []finding) {
	if !p.proof.waits() {
		return nil
	}
	says := p.proof.says(p, least)
	for i := range p.proof.Of {
		f := &p.proof.Of[i]
		found = append(found, finding{
			port: p, kind: f.Kind, since: f.Since, severe: f.Severe, weak: f.Weak, about: f.About, summary: says.Says,
			evidence: append([]string{"As it was before the repair:"}, f.Evidence...), causes: slices.Clone(f.Causes),
			weighed: Weighed{Of: material(p.proof.Medium)}, awaits: says,
			guards: []Guard{{Name: AwaitsProof, Says: "It was repaired, and has not proven yet that it is well."}},
		})
	}
	return found
}

// reopened tells of a repair that a finding outlasted.
func (f *finding) reopened() {
	w := f.port.proof
	was := w.of(f.kind)
	if was == nil || w.waits() {
		return
	}
	if was.Since.Before(f.since) {
		f.since = was.Since
	}
	f.evidence = append(f.evidence, fmt.Sprintf("It was repaired %s, and returned %s later.", w.Repair.words(), roughly(w.Failed.Sub(w.Repair.At))))
}

// words tell when, by whom and as what a run was repaired.
func (r *Repair) words() string {
	words := r.At.UTC().Format("2006-01-02 15:04 UTC")
	if r.By != "" {
		words += " by " + r.By
	}
	return fmt.Sprintf("%s (%s)", words, r.Cause.Title())
}

// Proof is what a repaired fault has yet to show.
type Proof struct {
	Repair      string    `json:"repair"` // its id
	At          time.Time `json:"at"`     // of the repair
	Cause       Cause     `json:"cause"`
	By          string    `json:"by"`
	Says        string    `json:"says"`         // a sentence
	CleanBits   float64   `json:"clean_bits"`   // received since, damaged frames among them where there were any
	Errored     int       `json:"errored"`      // polls with damaged frames since
	NeededBits  *float64  `json:"needed_bits"`  // more, without a damaged frame; null where that cannot be told
	NeededHours *float64  `json:"needed_hours"` // more at the present traffic; null where there is none
}

// Needs tells what is still needed, such as "412 Mbit more without a damaged frame, about
// 3 hours at the present traffic"; "" where that cannot be told.
func (p *Proof) Needs() string {
	bits := ""
	switch {
	case p.NeededBits == nil:
		return ""
	case *p.NeededBits > 0:
		bits = bitCount(*p.NeededBits) + " more without a damaged frame"
	}
	if p.NeededHours == nil {
		return withoutTraffic(bits)
	}
	takes := wait(*p.NeededHours)
	if bits == "" {
		return takes + " more without its fault"
	}
	if takes != centuries {
		takes = "about " + takes
	}
	return fmt.Sprintf("%s, %s at the present traffic", bits, takes)
}

// centuries is said of what takes longer than anybody waits, and than a Duration holds.
const centuries = "more than 100 years"

// wait tells a time in hours.
func wait(hours float64) string {
	if hours > 100*365.25*24 {
		return centuries
	}
	return roughly(time.Duration(max(hours, 1.0/60) * float64(time.Hour)))
}

func withoutTraffic(bits string) string {
	if bits == "" {
		return ""
	}
	return bits + "; there is no traffic now"
}

// says is the proof in a sentence and in numbers.
func (w *proof) says(p *portState, least time.Duration) *Proof {
	n := w.needs(p.errors.Objective, least)
	out := &Proof{Repair: w.Repair.ID, At: w.Repair.At, Cause: w.Repair.Cause, By: w.Repair.By, CleanBits: w.After.Bits, Errored: w.After.Errored}
	parts := []string{fmt.Sprintf("%.1f of %.1f hours watched", w.Watched/3600, w.span(least).Hours())}
	if w.of(FrameErrors) != nil {
		since := "without a damaged frame"
		if w.After.Errored > 0 {
			since = fmt.Sprintf("with %d readings that had damaged frames", w.After.Errored)
		}
		parts = append(parts, fmt.Sprintf("%s received %s", bitCount(w.After.Bits), since))
		if n.Bits > 0 && !math.IsInf(n.Bits, 0) {
			parts = append(parts, fmt.Sprintf("%s more without one are needed", bitCount(n.Bits)))
		}
		if before, ok := w.Before.byTime(); ok && n.Seconds > n.Span {
			parts = append(parts, fmt.Sprintf("errors had come back %s in %s, so that so short a calm may be chance", times(before.Errored), roughly(time.Duration(before.Exposure*float64(time.Second)))))
		}
	}
	if !math.IsInf(n.Bits, 0) {
		out.NeededBits = &n.Bits
	}
	what := "that"
	if n.Bits > 0 {
		what = "at the present traffic that"
	}
	left := "without traffic it cannot be proven"
	if hours := n.hours(w.rate(p)); !math.IsInf(hours, 0) {
		out.NeededHours = &hours
		if left = fmt.Sprintf("%s takes %s", what, wait(hours)); !strings.HasSuffix(left, centuries) {
			left += " more"
		}
	}
	out.Says = fmt.Sprintf("Repaired %s, and waits for its proof: %s; %s.", w.Repair.words(), strings.Join(parts, ", "), left)
	return out
}

// rate is bits a second since the repair, else in the last hour.
func (w *proof) rate(p *portState) float64 {
	hour := p.hour.sum().Hour
	return cmp.Or(ratioOf(w.After.Bits, w.After.Seconds), ratioOf(hour.Bits, hour.Seconds))
}

func ratioOf(a, b float64) float64 {
	if b == 0 {
		return 0
	}
	return a / b
}

// hours is how long all that is needed takes at a rate of bits a second.
func (n need) hours(rate float64) float64 {
	seconds := max(n.Span, n.Seconds)
	if n.Bits > 0 {
		seconds = max(seconds, n.Bits/rate) // infinite without a rate
	}
	return seconds / 3600
}

// bitCount is a number of bits as people read it.
func bitCount(bits float64) string {
	for _, unit := range []struct {
		size float64
		name string
	}{{1e15, "Pbit"}, {1e12, "Tbit"}, {1e9, "Gbit"}, {1e6, "Mbit"}} {
		if bits >= unit.size {
			return fmt.Sprintf("%.3g %s", bits/unit.size, unit.name)
		}
	}
	return fmt.Sprintf("%.0f bit", bits)
}
