package fault

import (
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"
	"time"

	"toneout/internal/plant"
)

// PlannedWork is work that somebody announced. While it lasts, what falls short
// where it is done is shown and told to nobody; at its end is told what is worse
// than before it began.
type PlannedWork struct {
	ID       string
	On       SharedName // a run, panel, pathway, space, switch or the whole plant
	From, To time.Time
	By, Why  string
}

// What planned work may be on, beside what runs share.
const (
	ByRun   Attribute = "run"
	ByPlant Attribute = "plant" // the whole of it; its value is the site's name, or "all"
)

// WorkAttributes are what planned work may be on.
var WorkAttributes = []Attribute{ByRun, ByPanel, ByPathway, BySpace, BySwitch, ByPlant}

// Where tells in words what the work is on.
func (w *PlannedWork) Where(p *plant.Plant) string {
	switch w.On.Attribute {
	case ByPlant:
		return "the whole plant"
	case ByRun:
		return "run " + w.On.Value
	default:
		return titled(w.On, p)
	}
}

// Check says in a sentence what is wrong with planned work; switches are those
// that are watched.
func (w *PlannedWork) Check(p *plant.Plant, switches []string) error {
	switch {
	case w.From.IsZero() || w.To.IsZero():
		return errors.New("planned work wants the times from and to, such as 2026-03-02T08:00:00Z")
	case !w.From.Before(w.To):
		return fmt.Errorf("planned work ends at %s, which is not after it begins at %s", w.To.Format(time.RFC3339), w.From.Format(time.RFC3339))
	case !slices.Contains(WorkAttributes, w.On.Attribute):
		return fmt.Errorf("planned work cannot be on %q%s; it is on one of %s", w.On.Attribute,
			plant.DidYouMean(string(w.On.Attribute), attributeNames()), strings.Join(attributeNames(), ", "))
	}
	known := map[Attribute]func() []string{
		ByRun:     func() []string { return named(p.Runs, func(r *plant.Run) string { return r.ID }) },
		ByPanel:   func() []string { return named(p.Panels, func(r *plant.Panel) string { return r.ID }) },
		ByPathway: func() []string { return named(p.Pathways, func(r *plant.Pathway) string { return r.ID }) },
		BySpace:   func() []string { return named(p.Spaces, func(r *plant.Space) string { return r.ID }) },
		BySwitch:  func() []string { return switches },
		ByPlant:   func() []string { return []string{"all", p.Site} },
	}[w.On.Attribute]()
	if w.On.Value == "" || !slices.Contains(known, w.On.Value) {
		return fmt.Errorf("no %s is named %q%s", w.On.Attribute, w.On.Value, plant.DidYouMean(w.On.Value, known))
	}
	return nil
}

func attributeNames() []string {
	return named(WorkAttributes, func(a Attribute) string { return string(a) })
}

func named[T any](all []T, name func(T) string) []string {
	out := make([]string, len(all))
	for i := range all {
		out[i] = name(all[i])
	}
	return out
}

// works is what is planned, and what stood where it is done when it began.
type works struct {
	planned []PlannedWork
	now     []*PlannedWork        // of these, those in force
	at      time.Time             // when somebody told
	next    time.Time             // when that is different; zero for never
	begun   map[string]workBefore // by id
	ended   []WorkEnded           // since the last snapshot
}

// WorkEnded is planned work that came to its end, with what is worse than before
// it began.
type WorkEnded struct {
	Work   PlannedWork
	Where  string   // in words
	Worse  []*Fault // open now, and not then, or worse than then; worst first
	Silent []string // switches that answered then and do not now
}

// withNextPoll is a moment that is over: what is due then is due now.
var withNextPoll = time.Unix(0, 0)

// Plan lets the tracker know all planned work, in the place of what it knew. What is
// in force at that moment is so at once, and what comes to be later with the next poll.
func (t *Tracker) Plan(all []PlannedWork, at time.Time) *Snapshot {
	t.work.planned, t.work.at = slices.Clone(all), at
	t.work.next = withNextPoll
	return t.Snapshot()
}

// workAt is now, as far as somebody told.
func (t *Tracker) workAt() time.Time { return later(t.at, t.work.at) }

// workChanged takes which work is in force as of now, and tells whether faults are
// to be put together anew for it.
func (t *Tracker) workChanged() bool {
	w, at := &t.work, t.workAt()
	if w.next.IsZero() || at.Before(w.next) {
		return false
	}
	before := w.now
	w.now, w.next = nil, time.Time{}
	for i := range w.planned {
		work := &w.planned[i]
		if !at.Before(work.From) && at.Before(work.To) {
			w.now = append(w.now, work)
		}
		for _, moment := range []time.Time{work.From, work.To} {
			if moment.After(at) && (w.next.IsZero() || moment.Before(w.next)) {
				w.next = moment
			}
		}
	}
	if len(before)+len(w.now) == 0 {
		return false
	}
	t.planSwitches()
	for _, s := range t.board.sites {
		t.board.dirty[s] = true
	}
	t.shared.stale = true
	return true
}

// planSwitches marks the switches at which work is in force, and those that it may
// cut off.
func (t *Tracker) planSwitches() {
	for _, s := range t.order {
		planned := t.underWork(func(w *PlannedWork) bool { return w.onSwitch(s) || t.cutOffBy(w, s) }) != nil
		if s.view.Planned != planned {
			view := *s.view
			view.Planned = planned
			t.see(s, &view)
		}
	}
}

// cutOffBy tells whether the work is on every run that links a switch to others.
func (t *Tracker) cutOffBy(w *PlannedWork, s *switchState) bool {
	links := 0
	for _, l := range t.net.links {
		if l.A.Switch != s.name && l.B.Switch != s.name {
			continue
		}
		links++
		if run := t.plant.Run(l.Run); run == nil || !w.onRun(run, t.plant) {
			return false
		}
	}
	return links > 0
}

func (t *Tracker) underWork(concerns func(*PlannedWork) bool) *PlannedWork {
	for _, w := range t.work.now {
		if concerns(w) {
			return w
		}
	}
	return nil
}

// hushPlanned lets nobody be told of faults where work is in force.
func (t *Tracker) hushPlanned(faults []*Fault) []*Fault {
	for _, f := range faults {
		w := t.underWork(func(w *PlannedWork) bool { return t.concerns(w, f) })
		if w == nil {
			continue
		}
		f.Planned, f.Alarm = true, false
		says := fmt.Sprintf("Work on %s is planned until %s: %s", w.Where(t.plant), w.To.UTC().Format("2006-01-02 15:04 UTC"), w.Why)
		if w.By != "" {
			says += fmt.Sprintf(" (%s)", w.By)
		}
		f.Guards = append(f.Guards, Guard{Name: AtWork, Says: says + "."})
	}
	return faults
}

// concerns tells whether a fault is where work is done: at either of its ends, or
// on its way.
func (t *Tracker) concerns(w *PlannedWork, f *Fault) bool {
	ends := []string{f.Switch}
	if run := t.plant.Run(f.Run); run != nil {
		if w.onRun(run, t.plant) {
			return true
		}
		near, far := t.joined.PortsOf(run.ID)
		ends = append(ends, run.Switch, run.FarSwitch, near.Switch, far.Switch)
	} else if s := t.switches[f.Switch]; s != nil && s.ports[f.Port] != nil {
		ends = append(ends, t.beyond(s.ports[f.Port]).Switch)
	}
	for _, name := range ends {
		if s := t.switches[name]; s != nil && w.onSwitch(s) {
			return true
		}
	}
	return w.On.Attribute == BySwitch && slices.Contains(ends, w.On.Value)
}

// Concerns tells whether work is on a run or at either of its ends, by the inventory
// and the switches as they are.
func (s *Snapshot) Concerns(w *PlannedWork, id string) bool {
	run := s.Plant.Run(id)
	if run == nil {
		return w.On == SharedName{ByRun, id}
	}
	near, far := s.Joined.PortsOf(id)
	return w.onRun(run, s.Plant) || slices.ContainsFunc([]string{run.Switch, run.FarSwitch, near.Switch, far.Switch}, func(name string) bool {
		sw, watched := s.Switch(name)
		return w.On == SharedName{BySwitch, name} || watched && w.On == SharedName{BySpace, sw.Space}
	})
}

// onSwitch tells whether the work is on a switch, its room or all of them.
func (w *PlannedWork) onSwitch(s *switchState) bool {
	switch w.On.Attribute {
	case ByPlant:
		return true
	case BySwitch:
		return s.name == w.On.Value
	case BySpace:
		return s.view.Space == w.On.Value
	default:
		return false
	}
}

// onRun tells whether the work is on a run, by the record.
func (w *PlannedWork) onRun(run *plant.Run, p *plant.Plant) bool {
	value := w.On.Value
	switch w.On.Attribute {
	case ByPlant:
		return true
	case ByRun:
		return run.ID == value
	case ByPanel:
		return run.Panel == value || run.FarPanel == value
	case ByPathway:
		return slices.Contains(run.Pathways, value) ||
			slices.ContainsFunc(run.Segments, func(s plant.Segment) bool { return slices.Contains(s.Pathways, value) })
	case BySpace:
		for _, id := range []string{run.Panel, run.FarPanel} {
			if panel := p.Panel(id); panel != nil && panel.Space == value {
				return true
			}
		}
		return false
	default:
		return false
	}
}

// watchWorks notes what stands where work began, and tells what is worse where it
// ended. Until every switch was asked once that is not known.
func (t *Tracker) watchWorks() {
	if t.untried > 0 || len(t.work.now)+len(t.work.begun) == 0 {
		return
	}
	for _, w := range t.work.now {
		begun, known := t.work.begun[w.ID]
		if !known || begun.Work.On != w.On { // announced to be elsewhere, it begins anew there
			begun = t.standing(w)
		}
		begun.Work = *w
		t.work.begun[w.ID] = begun
	}
	for _, id := range slices.Sorted(maps.Keys(t.work.begun)) {
		begun := t.work.begun[id]
		if slices.ContainsFunc(t.work.now, func(w *PlannedWork) bool { return w.ID == id }) {
			continue
		}
		delete(t.work.begun, id)
		begun.Work.To = t.work.endOf(&begun.Work, t.workAt())
		t.work.ended = append(t.work.ended, t.worseThan(&begun))
	}
}

// endOf is when work that is over came to its end: by its latest announcement, or now
// where that puts it off.
func (w *works) endOf(was *PlannedWork, now time.Time) time.Time {
	to := was.To
	if i := slices.IndexFunc(w.planned, func(p PlannedWork) bool { return p.ID == was.ID }); i >= 0 {
		to = w.planned[i].To
	}
	if to.After(now) {
		to = now.UTC().Round(0)
	}
	return to
}

// concerned are the faults where work is done, each with its place. A fault that is
// nobody's is none of it.
func (t *Tracker) concerned(w *PlannedWork) iter.Seq2[*Fault, *site] {
	return func(yield func(*Fault, *site) bool) {
		for _, s := range t.board.sites {
			for _, f := range s.faults {
				if !f.Quiet && t.concerns(w, f) && !yield(f, s) {
					return
				}
			}
		}
	}
}

// key tells a fault from others that are open.
func (f *Fault) key() string {
	if f.Run != "" {
		return fmt.Sprintf("%s %q", f.Kind, f.Run)
	}
	return fmt.Sprintf("%s %q %q", f.Kind, f.Switch, f.Port)
}

// restoreWorks takes what was planned, and begun, before a restart.
func (t *Tracker) restoreWorks(planned []PlannedWork, begun map[string]workBefore) {
	t.work.planned, t.work.next = planned, withNextPoll
	for id, b := range begun {
		t.work.begun[id] = b
	}
}
