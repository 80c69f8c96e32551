package fault

import (
	"slices"

	"toneout/internal/standards"
)

// workBefore is what stood when work began. It is kept over a restart.
type workBefore struct {
	Work   PlannedWork
	Faults map[string]Severity // by fault
	Marks  map[string]mark     // likewise
	Silent map[string]bool     // switches
}

// mark is how bad the links of a fault's run are.
type mark struct {
	Speed  standards.Speed // of the slowest link; 0 where none is up
	Worst  Ratio           // damaged frames in the worst ten minutes of the last hour, at the worst port; zero where none tells
	Lately Ratio           // likewise in the last 10 to 20 minutes
}

// worseThan tells whether links are slower than at a mark, or surely damage more
// frames than at any time of the hour before it: of one that damages them in bursts the
// hour's mean says little. What was not known then is no measure.
func (m mark) worseThan(was mark) bool {
	slower := m.Speed > 0 && m.Speed < was.Speed
	return slower || was.Worst.High > 0 && m.Lately.Low > was.Worst.High
}

// markOf looks at the ports of a fault's run.
func (s *site) markOf() (m mark) {
	for _, p := range s.ports {
		if speed := p.reading.Speed(); speed > 0 && (m.Speed == 0 || speed < m.Speed) {
			m.Speed = speed
		}
		m.Worst, m.Lately = worst(m.Worst, p.hour.worst()), worst(m.Lately, p.hour.lately())
	}
	return m
}

func worst(a, b Ratio) Ratio {
	if b.Estimate > a.Estimate || a.High == 0 {
		return b
	}
	return a
}

// standing is what stands where work is done.
func (t *Tracker) standing(w *PlannedWork) workBefore {
	out := workBefore{Faults: map[string]Severity{}, Marks: map[string]mark{}, Silent: map[string]bool{}}
	for f, s := range t.concerned(w) {
		out.Faults[f.key()], out.Marks[f.key()] = f.Severity, s.markOf()
	}
	for _, s := range t.order {
		if s.view.Planned && s.view.Unread() {
			out.Silent[s.name] = true
		}
	}
	return out
}

func (t *Tracker) worseThan(before *workBefore) WorkEnded {
	w := &before.Work
	out := WorkEnded{Work: *w, Where: w.Where(t.plant)}
	for f, s := range t.concerned(w) {
		was, open := before.Faults[f.key()]
		if !open || severityOrder[f.Severity] > severityOrder[was] || s.markOf().worseThan(before.Marks[f.key()]) {
			out.Worse = append(out.Worse, f)
		}
	}
	slices.SortFunc(out.Worse, worstFirst)
	for _, s := range t.order {
		if (w.onSwitch(s) || t.cutOffBy(w, s)) && s.view.Unread() && !before.Silent[s.name] {
			out.Silent = append(out.Silent, s.name)
		}
	}
	return out
}
