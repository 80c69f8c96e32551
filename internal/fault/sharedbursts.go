package fault

import (
	"fmt"
	"math"
	"slices"
	"time"

	"toneout/internal/port"
	"toneout/internal/sequential"
)

// What disturbs a pathway from outside damages frames on several of its runs
// in the same seconds. Long before any of them has a fault of its own, that
// several had damaged frames in the same polling interval is more than chance.
// Two such bursts within a day make their runs suspects, until a day passes
// without another one; whether the pathway is to blame, and not a switch or all of
// a room, the fit of shared causes says.

// hits is how often a port received damaged frames, by polls with traffic.
type hits struct {
	Polls, Errored float32
	Last           time.Time // such a poll in which it did; zero where the latest one was clean
}

// Common practice, no source: a port of which little is known may be errored in
// one poll of hundred; a month is as much as is remembered.
const (
	unknownHitPolls = 100
	longestHits     = 30 * 24 * time.Hour
)

func (h *hits) observe(errored bool, at time.Time, every time.Duration) {
	if h.Polls >= float32(longestHits/max(every, time.Second)) {
		h.Polls, h.Errored = h.Polls/2, h.Errored/2
	}
	h.Polls++
	h.Last = time.Time{}
	if errored {
		h.Errored++
		h.Last = at
	}
}

// chance is how likely the port is errored in a poll, by itself.
func (h *hits) chance() float64 { return float64(h.Errored+1) / float64(h.Polls+unknownHitPolls) }

// burst is runs of one pathway that were errored in the same polling interval.
type burst struct {
	At   time.Time
	Runs []string
}

const (
	burstsLast  = 24 * time.Hour
	leastBursts = 2
	mostBursts  = 50 // remembered
	// So many weeks for one in which chance makes two bursts on any pathway of the
	// plant within a day, for each false alarm that is allowed in a week.
	burstWeeks = 10
	burstLooks = 2 // at what is nearly the same, in a polling interval: switches answer one by one
)

// burstChance is how unlikely a coincidence must be: at so many looks a day,
// two within a day on one of the pathways have chance (looks chance)²/2 each.
func (t *Tracker) burstChance(pathways int) float64 {
	looks := burstLooks * float64(burstsLast) / float64(t.settings.PollEvery)
	week := t.settings.FalseAlarmsPerWeek / burstWeeks
	return math.Sqrt(2*week/7/float64(max(pathways, 1))) / looks
}

// hit takes whether a port received damaged frames in a poll. One in which
// links came or went, or that the switch's doings explain, tells nothing.
func (t *Tracker) hit(p *portState, poll *compared) {
	errored, counted := poll.inc.Counters.ErroredBy(p.errors.Source)
	frames, _ := poll.inc.Counters.FramesIn()
	switch {
	case poll.reason != port.Comparable || !counted || frames+errored == 0 || poll.inc.LinkChanges > 0 || p.reading.Oper != port.Up:
		p.hits.Last = time.Time{}
	case poll.many || poll.event.on(p.reading.At) || p.Duplex.explains(p.reading, poll.far):
		p.hits.Last = time.Time{}
	default:
		poll.hit = true
		p.hits.observe(errored > 0, p.reading.At, t.settings.PollEvery)
	}
}

// coincide looks whether the damaged frames of a switch's poll came together
// with those of other runs of a pathway.
func (t *Tracker) coincide(s *switchState, at time.Time) {
	if t.untried > 0 || !slices.ContainsFunc(s.order, func(p *portState) bool { return p.struck(at) && p.join.Run != nil }) {
		return
	}
	t.relate()
	m := &t.shared.media[copper]
	seen := map[int32]bool{}
	for _, p := range s.order {
		if !p.struck(at) || p.join.Run == nil {
			continue
		}
		place, known := m.place[p.join.Run]
		if !known || m.of[place] < 0 {
			continue
		}
		for _, name := range m.runs[m.of[place]].groups {
			if m.groups[name].Attribute == ByPathway && !seen[name] {
				seen[name] = true
				t.lookForBurst(m, name, at)
			}
		}
	}
}

// struck tells whether the port's poll of that moment was errored, and no
// fault of it is open that says so.
func (p *portState) struck(at time.Time) bool {
	return !p.hits.Last.IsZero() && !at.After(p.hits.Last) && !p.errors.detector.Open()
}

// lookForBurst looks at one pathway.
func (t *Tracker) lookForBurst(m *sharing, name int32, at time.Time) {
	since := at.Add(-t.settings.PollEvery)
	var chances []float64
	var runs []string
	for _, i := range m.members[name] {
		r, clean := &m.runs[i], 1.0
		struck := false
		for _, p := range r.ports {
			clean *= 1 - p.hits.chance()
			struck = struck || p.hits.Last.After(since) && !p.errors.detector.Open()
		}
		chances = append(chances, 1-clean)
		if struck {
			runs = append(runs, r.run.ID)
		}
	}
	limit := t.burstChance(m.sorts(ByPathway))
	if len(runs) < leastSharing || sequential.AtLeast(len(runs), chances) > limit || !t.blamesPathway(m, name, since) {
		return
	}
	t.remember(m.groups[name].Value, burst{at, runs})
}

// blamesPathway tells whether of all that the runs struck in an interval have
// in common the pathway explains them best, and nothing of the equipment is the
// very same.
func (t *Tracker) blamesPathway(m *sharing, name int32, since time.Time) bool {
	f := &sharedFit{standing: make([]sharedStanding, len(m.runs))}
	for i := range m.runs {
		for _, p := range m.runs[i].ports {
			if !p.owner.view.Answering() || p.hits.Polls == 0 {
				continue
			}
			f.standing[i] = max(f.standing[i], well)
			if p.hits.Last.After(since) {
				f.standing[i] = atFault
			}
		}
	}
	m.solve(f, nil)
	for _, c := range f.causes {
		if slices.Contains(c.Groups, int(name)) {
			return !slices.ContainsFunc(c.Groups, func(g int) bool { return m.groups[g].Attribute.isEquipment() })
		}
	}
	return false
}

func (a Attribute) isEquipment() bool { return a == BySwitch || a == ByLineCard }

// remember adds a burst to those of a pathway; what is seen again of the same
// one is no other.
func (t *Tracker) remember(pathway string, b burst) {
	bursts := t.shared.bursts[pathway]
	bursts = bursts[max(0, len(bursts)-mostBursts):]
	switch n := len(bursts); {
	case n > 0 && b.At.Sub(bursts[n-1].At) < 2*t.settings.PollEvery:
		bursts[n-1] = burst{b.At, union(bursts[n-1].Runs, b.Runs)}
	default:
		bursts = append(bursts, b)
	}
	if t.shared.bursts == nil {
		t.shared.bursts = map[string][]burst{}
	}
	t.shared.bursts[pathway] = bursts
	t.suspectByBursts()
}

func union(a, b []string) []string {
	all := append(slices.Clone(a), b...)
	slices.Sort(all)
	return slices.Compact(all)
}

// suspectByBursts works out whom bursts make suspects.
func (t *Tracker) suspectByBursts() {
	sh := &t.shared
	sh.struck, sh.calm = map[string]bool{}, time.Time{}
	for pathway, bursts := range sh.bursts {
		ends := bursts[len(bursts)-1].At.Add(burstsLast)
		if !t.at.Before(ends) {
			delete(sh.bursts, pathway)
			continue
		}
		if sh.calm.IsZero() || ends.Before(sh.calm) {
			sh.calm = ends
		}
		if len(bursts) < leastBursts {
			continue
		}
		for _, b := range bursts {
			for _, run := range b.Runs {
				sh.struck[run] = true
			}
		}
	}
	sh.stale = true
}

// burstSentence tells of a pathway's bursts, "" where there were none.
func (t *Tracker) burstSentence(pathway string) string {
	bursts := t.shared.bursts[pathway]
	if len(bursts) < leastBursts {
		return ""
	}
	last := bursts[len(bursts)-1]
	return fmt.Sprintf("Damaged frames came on several of them in the same polling interval, %d times since %s, the last time at %s (%d runs).",
		len(bursts), bursts[0].At.Format("2006-01-02 15:04"), last.At.Format("15:04"), len(last.Runs))
}
