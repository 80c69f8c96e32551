package fault

import (
	"cmp"
	"math"
	"slices"
	"time"

	"toneout/internal/sequential"
)

// Attribute is a sort of thing that runs may have in common.
type Attribute string

// The attributes.
const (
	ByPanel     Attribute = "panel"
	ByBundle    Attribute = "bundle"
	ByPathway   Attribute = "pathway"
	ByInstaller Attribute = "installer"
	ByBatch     Attribute = "batch"
	ByCable     Attribute = "cable"
	BySpace     Attribute = "space"
	BySwitch    Attribute = "switch"
	ByLineCard  Attribute = "line_card" // its value is switch/slot
)

// Attributes are all of them, the narrow ones first.
var Attributes = []Attribute{ByBundle, ByPanel, ByPathway, ByLineCard, BySwitch, BySpace, ByBatch, ByInstaller, ByCable}

// SharedName names one thing that runs have in common.
type SharedName struct {
	Attribute Attribute `json:"attribute"`
	Value     string    `json:"value"`
}

// SharedCause is one thing behind the faults of several runs. These are folded
// under it: they stay listed, and it alarms in their stead.
type SharedCause struct {
	SharedName
	Title       string    `json:"title"` // its name in words
	Severity    Severity  `json:"severity"`
	Since       time.Time `json:"since"`
	Probability float64   `json:"probability"` // that it is behind them, its rivals considered
	Share       float64   `json:"share"`       // of its runs that it harms, by the best fit
	Members     int       `json:"members"`     // runs that have it in common and are watched
	Faulty      []string  `json:"faulty"`      // ids of runs
	Suspects    []string  `json:"suspects"`    // those of them that raise no fault of their own yet

	Beside []string      `json:"beside"` // what lies beside a pathway by the record
	Also   []SharedName  `json:"also"`   // what the very same runs have in common besides
	Rivals []SharedRival `json:"rivals"` // what explains them nearly as well, likeliest first

	Summary  string   `json:"summary"`
	Evidence []string `json:"evidence"`
	Checks   []string `json:"checks"`
	Cautions []string `json:"cautions"`

	NextChecks []NextCheck `json:"next_checks"` // those of Checks, with what each takes and finds
}

// SharedRival is what would explain the faults nearly as well.
type SharedRival struct {
	SharedName
	Probability float64 `json:"probability"`
}

// FirstCheck is what to do first.
func (c *SharedCause) FirstCheck() string { return c.Checks[0] }

// How a shared cause takes hold and lets go. All but the first are common
// practice, no source.
const (
	leastSharing  = 3   // faulty runs
	sharedGain    = 3.0 // nats to take hold; it stays while it is among the causes found or their rivals
	sharedOthers  = 10  // runs that lack it and are well: of fewer nobody can say what is usual
	sharedShare   = 0.1 // of its runs: what harms fewer is no place to look first
	sharedLetsGo  = 10  // polls without support, and sharedLingers
	sharedLingers = 15 * time.Minute
	mostRivals    = 5 // told
)

// The media whose runs are judged apart.
const (
	copper = iota
	glass
	mediaWatched
)

// hold is a shared cause that took hold. It is kept over a restart.
type hold struct {
	Glass       bool // of fibre runs; those of copper are judged apart
	Name        SharedName
	Part        string    // of its runs; "" for all
	Since, Lost time.Time // Lost is since when nothing speaks for it; zero while something does
	Probability float64
	Share       float64
	Also        []SharedName
	Rivals      []SharedRival
	Members     int
	Faulty      []string
	Suspects    []string
	Elsewhere   [2]int   // faulty runs of the medium that lack it, and how many lack it
	Last        []string // the latest Faulty that were any
	AtWork      bool     // work is planned on some of these, and no other is at fault: it stays, and is not shown
}

// shared is what is known of causes that runs share.
type shared struct {
	stale           bool      // whether which runs are at fault changed since they were looked for
	at              time.Time // when that was
	from            time.Time // when every switch had been asked once
	media           [mediaWatched]sharing
	built           any // the join that media follow from
	lexicon         *lexicon
	entered, before []entered // the ports that media follow from, and room for the next list
	held            []*hold
	bursts          map[string][]burst // by pathway, in order
	struck          map[string]bool    // runs that these make suspects
	calm            time.Time          // when the next bursts are forgotten; zero where there are none
	over            map[string]string  // run: what its faults are folded under
	causes          []*SharedCause     // as shown; replaced, never changed
}

// blamed tells whether any of a run's faults counts for shared causes.
func blamed(faults []*Fault) bool { return slices.ContainsFunc(faults, (*Fault).blamesRun) }

// settings are causes that a hand sets at one port: nothing that runs share.
var settingCauses = []Cause{DuplexSetting, SpeedSetting, FECMismatch, PortShut}

// blamesRun tells whether the fault may be another thing's than a setting's or
// another port's. A fault that another one of its run tells of is no second one.
func (f *Fault) blamesRun() bool {
	return (f.Alarm || f.SharedCause != "") && f.ofRun()
}

// ofRun tells whether it is no setting's.
func (f *Fault) ofRun() bool {
	return f.Kind != DuplexMismatch && !slices.Contains(settingCauses, f.Cause())
}

// wouldBlameRun tells whether it is hushed by planned work alone.
func (f *Fault) wouldBlameRun() bool { return f.Planned && !f.Quiet && f.ofRun() }

// fold lets a shared cause alarm in the stead of a run's faults.
func (t *Tracker) fold(s *site, faults []*Fault) []*Fault {
	if s.under = t.shared.over[s.at.run]; s.under == "" || s.at.run == "" {
		return faults
	}
	for _, f := range faults {
		if f.blamesRun() {
			f.SharedCause, f.Alarm = s.under, false
		}
	}
	return faults
}

// share looks for shared causes where that is due, and tells whether some
// faults are to be composed anew for it.
func (t *Tracker) share() (refold bool) {
	sh := &t.shared
	if t.joined == nil || t.untried > 0 && len(sh.held) == 0 {
		return false
	}
	if !sh.calm.IsZero() && !t.at.Before(sh.calm) {
		t.suspectByBursts()
	}
	for _, h := range sh.held {
		sh.stale = sh.stale || !h.Lost.IsZero() && t.at.Sub(h.Lost) >= t.letsGoAfter()
	}
	anew := sh.built != t.joined && len(sh.held) > 0 // other runs may be concerned
	sh.stale = sh.stale || anew
	if t.untried == 0 && sh.from.IsZero() {
		sh.from = t.at
	}
	due := sh.stale && t.traffic() && (t.at.Before(sh.at) || t.at.Sub(sh.at) >= t.sharedPause())
	if !anew && !due {
		if t.severityChanged() {
			t.showCauses()
		}
		return false
	}
	t.relate()
	if due {
		sh.stale, sh.at = false, t.at
		t.lookForCauses()
	}
	t.showCauses()
	return t.refold()
}

// severityChanged tells whether a folded fault is severer, or milder, by now than
// its shared cause is shown.
func (t *Tracker) severityChanged() bool {
	return slices.ContainsFunc(t.shared.causes, func(c *SharedCause) bool { return c.Severity != t.severityOver(c.Faulty) })
}

// traffic tells whether it is known which ports carry any: a first reading
// does not tell.
func (t *Tracker) traffic() bool {
	return !t.shared.from.IsZero() && t.at.Sub(t.shared.from) >= t.settings.PollEvery
}

// sharedPause is how long to wait before causes are looked for again: so that
// it takes a hundredth of the owner's time at most, whatever the plant's size,
// and at 48,000 ports with 32,000 runs is done every tenth second.
func (t *Tracker) sharedPause() time.Duration {
	const runsPerInterval = 200_000
	return t.settings.PollEvery * time.Duration(len(t.plant.Runs)) / runsPerInterval
}

func (t *Tracker) letsGoAfter() time.Duration {
	return max(sharedLetsGo*t.settings.PollEvery, sharedLingers)
}

// lookForCauses fits each medium apart and lets causes take hold and go.
func (t *Tracker) lookForCauses() {
	for medium := range t.shared.media {
		m := &t.shared.media[medium]
		var held, left []*hold
		for _, h := range t.shared.held {
			if h.Glass == (medium == glass) {
				held = append(held, h)
			} else {
				left = append(left, h)
			}
		}
		t.shared.held = append(left, m.settle(t.fit(m, held), held, t.at, t.letsGoAfter(), medium == glass)...)
	}
	slices.SortStableFunc(t.shared.held, func(a, b *hold) int { return a.Since.Compare(b.Since) })
}

// settle holds what was found against what is held. A held cause stays in the
// place of one found that it rivals, so that one run more or less does not
// change what people were told.
func (m *sharing) settle(f *sharedFit, held []*hold, at time.Time, lasts time.Duration, glass bool) (now []*hold) {
	supported := map[*hold]bool{}
	for i := range f.causes {
		c := &f.causes[i]
		h := m.heldOf(c, held, supported)
		if h == nil {
			h = &hold{Glass: glass, Name: m.groups[c.Groups[0]].SharedName, Part: m.groups[c.Groups[0]].Part, Since: at}
			m.count(h, f)
			if c.Gain < sharedGain || c.Theta < sharedShare || h.Elsewhere[1]-h.Elsewhere[0] < sharedOthers {
				continue
			}
			held = append(held, h)
		}
		supported[h] = true
		h.Lost = time.Time{}
		m.explain(h, c)
	}
	for _, h := range held {
		m.count(h, f)
		if h.AtWork {
			h.Lost = time.Time{}
		} else if !supported[h] && h.Lost.IsZero() {
			h.Lost = at
		}
		if h.AtWork || len(h.Faulty) > 0 && (supported[h] || at.Sub(h.Lost) < lasts) {
			now = append(now, h)
		}
	}
	return now
}

// heldOf is the held cause that a found one is, or that rivals it.
func (m *sharing) heldOf(c *sequential.SharedCause, held []*hold, taken map[*hold]bool) *hold {
	among := func(groups []int) *hold {
		for _, h := range held {
			if !taken[h] && slices.ContainsFunc(groups, func(g int) bool { return m.groups[g].SharedName == h.Name }) {
				return h
			}
		}
		return nil
	}
	if h := among(c.Groups); h != nil {
		return h
	}
	for _, r := range c.Rivals {
		if h := among(r.Groups); h != nil {
			return h
		}
	}
	return nil
}

// explain writes down what the fit says of a held cause: its probability
// against nothing shared and against each rival, a nat being a factor of e.
func (m *sharing) explain(h *hold, c *sequential.SharedCause) {
	all := append([]sequential.Rival{{Groups: c.Groups, Gain: c.Gain}}, c.Rivals...)
	most, sum := 0.0, 0.0
	for _, r := range all {
		most = max(most, r.Gain)
	}
	for _, r := range all {
		sum += math.Exp(r.Gain - most)
	}
	sum += math.Exp(-most)
	h.Share, h.Also, h.Rivals, h.Probability = c.Theta, nil, nil, 0
	for _, r := range all {
		probability := math.Exp(r.Gain-most) / sum
		if at := slices.IndexFunc(r.Groups, func(g int) bool { return m.groups[g].SharedName == h.Name }); at >= 0 {
			if h.Probability == 0 {
				h.Part, h.Also = m.groups[r.Groups[at]].Part, m.besides(h.Name, r.Groups)
			}
			h.Probability += probability // of each of its parts
			continue
		}
		h.rival(m.groups[r.Groups[0]].SharedName, probability)
	}
	slices.SortStableFunc(h.Rivals, func(a, b SharedRival) int { return cmp.Compare(b.Probability, a.Probability) })
}

// besides are the other names of groups.
func (m *sharing) besides(name SharedName, groups []int) (others []SharedName) {
	for _, g := range groups {
		if other := m.groups[g].SharedName; other != name && !slices.Contains(others, other) {
			others = append(others, other)
		}
	}
	return others
}

// rival notes what explains nearly as much.
func (h *hold) rival(name SharedName, probability float64) {
	for i := range h.Rivals {
		if h.Rivals[i].SharedName == name {
			h.Rivals[i].Probability += probability
			return
		}
	}
	if len(h.Rivals) < mostRivals {
		h.Rivals = append(h.Rivals, SharedRival{name, probability})
	}
}

// count writes down which of a held cause's runs are at fault.
func (m *sharing) count(h *hold, f *sharedFit) {
	h.Members, h.Faulty, h.Suspects, h.AtWork = 0, nil, nil, false
	inside := 0
	for _, i := range m.heldMembers(h) {
		h.AtWork = h.AtWork || f.atWork[i] && slices.Contains(h.Last, m.runs[i].run.ID)
		if f.standing[i] == noMember {
			continue
		}
		h.Members++
		id := m.runs[i].run.ID
		if f.standing[i] != well {
			inside++
			h.Faulty = append(h.Faulty, id)
		}
		if f.standing[i] == suspected {
			h.Suspects = append(h.Suspects, id)
		}
	}
	h.Elsewhere = [2]int{f.faulty - inside, f.members - h.Members}
	if h.AtWork = h.AtWork && len(h.Faulty) == 0; len(h.Faulty) > 0 {
		h.Last = h.Faulty
	}
	slices.Sort(h.Faulty)
	slices.Sort(h.Suspects)
}

// refold works out what each run's faults are folded under, and marks those to
// be composed anew.
func (t *Tracker) refold() (changed bool) {
	over := map[string]string{}
	for _, h := range t.shared.held {
		m := &t.shared.media[copper]
		if h.Glass {
			m = &t.shared.media[glass]
		}
		for _, i := range m.heldMembers(h) {
			if id := m.runs[i].run.ID; over[id] == "" {
				over[id] = h.Name.String()
			}
		}
	}
	t.shared.over = over
	for at, s := range t.board.sites {
		if at.run != "" && s.under != over[at.run] {
			t.board.dirty[s] = true
			changed = true
		}
	}
	return changed
}

// compareShared orders causes: severe ones first, then likely ones, old ones.
func compareShared(a, b *SharedCause) int {
	return cmp.Or(
		cmp.Compare(severityOrder[b.Severity], severityOrder[a.Severity]),
		cmp.Compare(b.Probability, a.Probability),
		a.Since.Compare(b.Since),
		cmp.Compare(a.Attribute, b.Attribute),
		cmp.Compare(a.Value, b.Value),
	)
}
