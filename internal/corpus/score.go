package corpus

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"toneout/internal/fault"
)

// Verdict is what was told of one label.
type Verdict struct {
	*Label
	Seed  uint64
	Told  *Told   `json:"-"` // of a kind that ought to be raised, where there is one, the first; else of any
	All   []*Told // at its ports since it began
	Cause string  // named first; "" where nothing was told
}

// place is the port that a fault is placed at.
func (t *Told) place() string { return t.Switch + " " + t.Port }

// atWork is how long before a thing begins somebody may be at work on the run.
const atWork = time.Hour

// Judge holds what was told of a plant against its labels; stray is what was alarmed
// at ports where nothing is to be told.
func (l *Labelled) Judge(told []*Told) (verdicts []*Verdict, stray []*Told) {
	owned := map[*Told]bool{}
	for _, label := range l.Labels {
		v := &Verdict{Label: label, Seed: l.Seed}
		for _, t := range told {
			if slices.Contains(label.ports(), t.place()) && t.Last >= label.From-atWork {
				owned[t] = true
				if t.Last > label.From+closePoll {
					v.All = append(v.All, t)
				}
			}
		}
		slices.SortStableFunc(v.All, func(a, b *Told) int { return v.order(a, b) })
		if len(v.All) > 0 {
			v.Told = v.All[0]
			v.Cause = string(v.Told.Fault.Cause())
		}
		verdicts = append(verdicts, v)
	}
	for _, t := range told {
		if !owned[t] && t.Alarmed {
			stray = append(stray, t)
		}
	}
	return verdicts, stray
}

// order puts first what ought to be raised, then what was alarmed, then what came first.
func (v *Verdict) order(a, b *Told) int {
	yes := func(b bool) int {
		if b {
			return 0
		}
		return 1
	}
	right := func(t *Told) bool { return slices.Contains(v.Kinds, string(t.Kind)) }
	return cmp.Or(yes(right(a))-yes(right(b)), yes(a.Alarmed)-yes(b.Alarmed), cmp.Compare(a.First, b.First))
}

// Raised tells whether a kind was told that ought to be.
func (v *Verdict) Raised() bool {
	return v.Told != nil && slices.Contains(v.Kinds, string(v.Told.Kind))
}

// Within tells whether a true cause is among the first n named.
func (v *Verdict) Within(n int) bool {
	for _, c := range v.Told.Causes[:min(n, len(v.Told.Causes))] {
		if slices.Contains(v.Causes, string(c.Cause)) {
			return true
		}
	}
	return false
}

// outside are the causes that lie in no cable, cord or optic.
var outside = []string{
	"duplex-setting", "speed-setting", "port-shut", "port-faulty", "fec-mismatch", "far-end-faulty", "far-end-limit", "far-end-asleep",
	"power-budget", "upstream-errors", "record-wrong",
}

// Blamed gives what was alarmed at any time with a cause that lies in the cable, its
// cords or its optics; nil for nothing.
func (v *Verdict) Blamed() *Told {
	for _, t := range v.All {
		for _, s := range t.States {
			if s.Alarmed && !slices.Contains(outside, string(s.Cause)) {
				return t
			}
		}
	}
	return nil
}

// Score sums up the verdicts of many plants.
type Score struct {
	All, Visible   Tally
	Unseen         map[string][]string // faults that nobody could see, by why
	Untold         []string            // faults that can be seen and were never told at their port
	LookAlikes     int
	RightRun, Runs int                       // of those whose record is right: named by their run
	OtherRun       int                       // told with the id of another run
	Blamed         int                       // look-alikes alarmed as a cable's
	Stray          int                       // alarms where nothing is wrong
	Bins           [10]Bin                   // of all causes that were named
	Leading        [10]Bin                   // of those named first
	Confusion      map[string]map[string]int // by true cause and the one named first
	Delay          map[string][]time.Duration
	// Order gives the checks that were told, in their order; nil where they have no
	// minutes. Minutes are the sums over the faults that were told, in that order and
	// in field practice's own.
	Order                 func(*Told) []Check
	Minutes, FieldMinutes float64
}

// Tally counts faults, told or not.
type Tally struct {
	Faults, Raised int // Raised: told of at their port
	First, Second  int // right cause first, among the first two
}

func (t *Tally) add(v *Verdict) {
	t.Faults++
	if !v.Raised() {
		return
	}
	t.Raised++
	if v.Within(1) {
		t.First++
	}
	if v.Within(2) {
		t.Second++
	}
}

// Name names the fault of a verdict wherever its seed is played.
func (v *Verdict) Name() string { return fmt.Sprintf("%d %s", v.Seed, v.Run) }

// tally counts a fault.
func (s *Score) tally(v *Verdict) {
	s.All.add(v)
	said := v.Name() + " " + v.Label.Cause()
	switch {
	case v.Unseen == "":
		s.Visible.add(v)
		if !v.Raised() {
			s.Untold = append(s.Untold, said)
		}
	case v.Raised():
		said += " (told all the same)"
		fallthrough
	default:
		s.Unseen[v.Unseen] = append(s.Unseen[v.Unseen], said)
	}
}

// Bin is the stated probabilities of a tenth of the scale.
type Bin struct {
	Stated float64 // their sum
	N      int
	True   int // of causes that were truly at work
}

// Off is by how much the mean stated is more than the share that was true.
func (b *Bin) Off() float64 { return (b.Stated - float64(b.True)) / float64(max(b.N, 1)) }

func (b *Bin) String() string {
	if b.N == 0 {
		return fmt.Sprintf("%6d  %5s  %5s  %14s", 0, "", "", "")
	}
	return fmt.Sprintf("%6d  %.3f  %.3f  off by %+.3f", b.N, b.Stated/float64(b.N), float64(b.True)/float64(b.N), b.Off())
}

// Add takes the verdicts of one plant.
func (s *Score) Add(verdicts []*Verdict, stray []*Told) {
	if s.Confusion == nil {
		s.Confusion, s.Delay, s.Unseen = map[string]map[string]int{}, map[string][]time.Duration{}, map[string][]string{}
	}
	s.Stray += len(stray)
	for _, v := range verdicts {
		s.confuse(v)
		if v.LookAlike {
			s.LookAlikes++
			if v.Blamed() != nil {
				s.Blamed++
			}
		} else {
			s.tally(v)
		}
		if v.Told == nil || !v.Raised() {
			continue
		}
		s.runs(v)
		for i, c := range v.Told.Causes {
			right := slices.Contains(v.Causes, string(c.Cause))
			take(&s.Bins, c, right)
			if i == 0 {
				take(&s.Leading, c, right)
			}
		}
		if v.LookAlike {
			continue
		}
		s.Delay[v.Label.Cause()] = append(s.Delay[v.Label.Cause()], v.Told.First-v.From)
		s.FieldMinutes += MinutesToFind(FieldOrder(string(v.Told.Kind), v.Far != ""), v.Causes)
		if s.Order != nil {
			s.Minutes += MinutesToFind(s.Order(v.Told), v.Causes)
		}
	}
}

func (s *Score) confuse(v *Verdict) {
	named := "not told"
	if v.Told != nil {
		named = v.Cause
		if !v.Raised() {
			named = string(v.Told.Kind) + "!"
		}
	}
	row := s.Confusion[v.Label.Cause()]
	if row == nil {
		row = map[string]int{}
		s.Confusion[v.Label.Cause()] = row
	}
	row[named]++
}

func (s *Score) runs(v *Verdict) {
	switch {
	case v.RecordRight:
		s.Runs++
		if v.Told.Run == v.Run {
			s.RightRun++
		}
	}
	if v.Told.Run != "" && v.Told.Run != v.Run {
		s.OtherRun++
	}
}

func take(bins *[10]Bin, c fault.CauseProbability, right bool) {
	b := &bins[min(int(c.Probability*10), 9)]
	b.N++
	b.Stated += c.Probability
	if right {
		b.True++
	}
}

// Calibration is by how much stated probabilities of leading causes are off, in the
// mean over ten equal bins: the expected calibration error (Naeini, Cooper and
// Hauskrecht, AAAI 2015; memory).
func (s *Score) Calibration() float64 {
	var off float64
	n := 0
	for i := range s.Leading {
		off += math.Abs(s.Leading[i].Off()) * float64(s.Leading[i].N)
		n += s.Leading[i].N
	}
	return off / float64(max(n, 1))
}

// Surely is by how much the mean stated is off the share that was true, less what
// chance makes of so few: two standard deviations.
func (b *Bin) Surely() float64 {
	p := b.Stated / float64(max(b.N, 1))
	return max(0, math.Abs(b.Off())-2*math.Sqrt(p*(1-p)/float64(max(b.N, 1))))
}

// String is the whole table.
func (s *Score) String() string {
	var b strings.Builder
	share := func(n, of int) string {
		return fmt.Sprintf("%d of %d (%.1f %%)", n, of, 100*float64(n)/float64(max(of, 1)))
	}
	both := func(n func(*Tally) int) string {
		return share(n(&s.Visible), s.Visible.Faults) + "; of all " + share(n(&s.All), s.All.Faults)
	}
	fmt.Fprintf(&b, "faults %d, of which %d can be seen; look-alikes %d\n", s.All.Faults, s.Visible.Faults, s.LookAlikes)
	fmt.Fprintf(&b, "told at the right port      %s\n", both(func(t *Tally) int { return t.Raised }))
	fmt.Fprintf(&b, "right run, record right     %s; another run %d\n", share(s.RightRun, s.Runs), s.OtherRun)
	fmt.Fprintf(&b, "right cause first           %s\n", both(func(t *Tally) int { return t.First }))
	fmt.Fprintf(&b, "among the first two         %s\n", both(func(t *Tally) int { return t.Second }))
	fmt.Fprintf(&b, "look-alikes blamed on cable %s\n", share(s.Blamed, s.LookAlikes))
	fmt.Fprintf(&b, "alarms where nothing is     %d\n", s.Stray)
	fmt.Fprintf(&b, "minutes to find, a fault     %.1f in field practice's order", s.FieldMinutes/float64(max(s.All.Raised, 1)))
	if s.Order != nil {
		fmt.Fprintf(&b, ", %.1f as told", s.Minutes/float64(max(s.All.Raised, 1)))
	}
	fmt.Fprintf(&b, "\nprobabilities of leading causes are off by %.3f in the mean\n", s.Calibration())
	for _, why := range slices.Sorted(maps.Keys(s.Unseen)) {
		slices.Sort(s.Unseen[why])
		fmt.Fprintf(&b, "cannot be seen: %s: %d\n  %s\n", why, len(s.Unseen[why]), strings.Join(s.Unseen[why], "\n  "))
	}
	slices.Sort(s.Untold)
	fmt.Fprintf(&b, "can be seen and never told: %d\n", len(s.Untold))
	for _, said := range s.Untold {
		fmt.Fprintf(&b, "  %s\n", said)
	}
	b.WriteString("stated probability, all causes: number, mean stated, share true; leading causes likewise\n")
	for i := range s.Bins {
		fmt.Fprintf(&b, "  %.1f..%.1f  %v    %v\n", float64(i)/10, float64(i+1)/10, &s.Bins[i], &s.Leading[i])
	}
	b.WriteString("true cause: named first, times (a kind with ! is one that ought not to be raised)\n")
	for _, cause := range slices.Sorted(maps.Keys(s.Confusion)) {
		row := s.Confusion[cause]
		names := slices.SortedFunc(maps.Keys(row), func(a, b string) int { return cmp.Or(row[b]-row[a], strings.Compare(a, b)) })
		total := 0
		for _, n := range row {
			total += n
		}
		fmt.Fprintf(&b, "  %-20s %3d:", cause, total)
		for _, name := range names {
			fmt.Fprintf(&b, " %s %d,", name, row[name])
		}
		if d := s.Delay[cause]; len(d) > 0 {
			slices.Sort(d)
			fmt.Fprintf(&b, " told after %v in the median", d[len(d)/2].Round(time.Minute))
		}
		b.WriteByte('\n')
	}
	return b.String()
}
