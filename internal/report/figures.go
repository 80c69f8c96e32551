package report

import (
	"maps"
	"slices"
	"time"
)

// By is what runs are grouped by, with the values that the inventory had when the
// fault opened.
type By string

// What they can be grouped by; Whole is the plant as one.
const (
	Whole       By = ""
	BySpace     By = "space" // of the near end
	ByPathway   By = "pathway"
	ByInstaller By = "installer"
	ByCable     By = "cable"
)

// RepeatWithin is how soon after its end a fault of the same kind on the same run
// counts as the same trouble again (common practice, no source: a month shows
// whether a repair held). The kind decides and not the cause, which is inferred and
// may be told otherwise the second time.
const RepeatWithin = 30 * 24 * time.Hour

// Day is what days are counted in, whatever a clock does on them.
const Day = 24 * time.Hour

// Figures is how a plant did month by month. What was nobody's fault (quiet) is in
// none of it; a fault that was somebody's for a part of its time is in the days of
// that part.
type Figures struct {
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
	Known  time.Time `json:"known_to"` // what came later is not known: open faults last until then
	Zone   string    `json:"zone"`     // whose months these are, as IANA calls it; its offset as of now, such as UTC+01:00, where that is not known
	By     By        `json:"by"`
	Months []Month   `json:"months"`
}

// Month is one month of the calendar, as much of it as was asked for.
type Month struct {
	Month string    `json:"month"` // such as 2026-03
	From  time.Time `json:"from"`
	To    time.Time `json:"to"`
	// WatchedDays is for how long the history has anything of it; nil where none is
	// kept. In the rest a fault could not be seen, which is not the same as none: where
	// that is all, and the journal has nothing either, there are no groups.
	WatchedDays *float64 `json:"watched_days"`
	Groups      []Group  `json:"groups"` // by value; a run of several values counts in each, so that they do not add up
}

// Group is what became of the runs of one value.
type Group struct {
	Value string `json:"value"` // "" for the whole plant, and where none is recorded
	Runs  *int   `json:"runs"`  // of it by the inventory of today; nil where it has none

	// FaultyRuns had a fault at any time of the month; a port without a run counts as
	// one. FaultyRunDays is for how long, added over the runs: from a fault's first
	// sign to its end, several of one run at once as one, in days of 24 hours. Of a
	// fault over the border of a month each has its part. (Common practice, no source.)
	// What a switch tells of a time in which nobody watched it is in none of it.
	FaultyRuns    int     `json:"faulty_runs"`
	FaultyRunDays float64 `json:"faulty_run_days"`
	// PlannedRunDays is likewise while work was planned there, which is not in
	// FaultyRunDays.
	PlannedRunDays float64 `json:"planned_run_days"`

	Opened int `json:"opened"` // faults that opened in the month
	// Undated are those of them of which nobody knows since when they could be seen:
	// the history does not reach back so far. They are in no time to detect, and are
	// in the days from their opening.
	Undated int `json:"opened_undated"`
	Ended   int `json:"ended"` // that were repaired or closed in it
	Open    int `json:"open"`  // at its end
	// Repeats are those that opened in the month, on a run on which one of the same
	// kind ended not longer than RepeatWithin before.
	Repeats       int `json:"repeats"`
	FailedRepairs int `json:"failed_repairs"` // of those that ended in it

	// Detect is how long those that opened in the month had shown: from the first
	// sign while they were watched to their opening. It is as coarse as the polls. (IEC 60050-192 has a
	// fault detection time, (memory).)
	Detect *Spread `json:"time_to_detect"`
	// Repair is how long those that ended in the month were open: from the opening to
	// the repair where its proof stands, and otherwise to the closing, less the time
	// in which work was planned there. A closing comes later than the end of the
	// trouble, by the rule of its kind. (The time to restoration of IEC 60050-192
	// runs from the failure itself, (memory): Detect and Repair together.)
	Repair *Spread `json:"time_to_repair"`
}

// Spread is how some times were spread, in seconds; a Spread of none is nil.
type Spread struct {
	Count  int     `json:"count"`
	Least  float64 `json:"least_seconds"`
	Median float64 `json:"median_seconds"` // the mean of the middle two where the count is even
	Mean   float64 `json:"mean_seconds"`
	Most   float64 `json:"most_seconds"`
}

// Question is what figures are asked for.
type Question struct {
	By       By
	From, To time.Time
	Now      time.Time // as far as anything is known
	Zone     *time.Location
	Runs     map[string]int // how many runs each value has by the inventory of today
	// Watched is for how long the history has anything between two times; nil where
	// none is kept.
	Watched func(from, to time.Time) time.Duration
}

// FiguresOf works out the figures of some lives, which must hold all that touch the
// span or ended in RepeatWithin before it.
func FiguresOf(lives []Life, q Question) *Figures {
	lives = slices.DeleteFunc(slices.Clone(lives), func(l Life) bool { return !l.Counts() })
	known := q.To
	if known.After(q.Now) {
		known = q.Now
	}
	f := &Figures{From: q.From, To: q.To, Known: known, Zone: q.Zone.String(), By: q.By, Months: []Month{}}
	repeats := repeated(lives)
	for from := q.From; from.Before(known); {
		to := nextMonth(from, q.Zone)
		if to.After(known) {
			to = known
		}
		m := Month{Month: from.In(q.Zone).Format("2006-01"), From: from, To: to, Groups: []Group{}}
		if q.Watched != nil {
			days := q.Watched(from, to).Hours() / Day.Hours()
			m.WatchedDays = &days
		}
		if m.WatchedDays == nil || *m.WatchedDays > 0 || anyTold(lives, from, to) {
			m.Groups = q.groups(lives, repeats, from, to)
		}
		f.Months = append(f.Months, m)
		from = to
	}
	return f
}

// anyTold tells whether a fault opened or ended then: somebody watched, though the
// history does not reach back so far as the journal.
func anyTold(lives []Life, from, to time.Time) bool {
	in := func(t time.Time) bool { return !t.Before(from) && t.Before(to) }
	return slices.ContainsFunc(lives, func(l Life) bool {
		end, over := l.End()
		return in(l.Opened) || over && in(end)
	})
}

func nextMonth(t time.Time, zone *time.Location) time.Time {
	t = t.In(zone)
	return time.Date(t.Year(), t.Month()+1, 1, 0, 0, 0, 0, zone)
}

// repeated are the lives, by place in the list, that are the same trouble again.
func repeated(lives []Life) map[int]bool {
	type key struct{ place, kind string }
	ended, out := map[key]time.Time{}, map[int]bool{}
	for i := range lives { // by their opening
		l := &lives[i]
		k := key{l.Place(), l.Kind}
		if last, before := ended[k]; before && l.Opened.Sub(last) <= RepeatWithin {
			out[i] = true
		}
		if end, over := l.End(); over {
			ended[k] = end
		}
	}
	return out
}

// groups works out one month.
func (q *Question) groups(lives []Life, repeats map[int]bool, from, to time.Time) []Group {
	all := map[string]*gathering{}
	for value := range q.Runs {
		all[value] = newGathering()
	}
	if q.By == Whole && all[""] == nil {
		all[""] = newGathering()
	}
	for i := range lives {
		l := &lives[i]
		if end, over := l.End(); l.Since.After(to) || over && end.Before(from) {
			continue
		}
		for _, value := range q.values(l) {
			if all[value] == nil {
				all[value] = newGathering()
			}
			all[value].take(l, repeats[i], from, to, q.Now)
		}
	}
	out := []Group{}
	for _, value := range slices.Sorted(maps.Keys(all)) {
		g := all[value].group()
		g.Value = value
		if n, known := q.Runs[value]; known {
			g.Runs = &n
		}
		out = append(out, g)
	}
	return out
}

// values are what a fault's run counts in.
func (q *Question) values(l *Life) []string {
	several := func(all []string) []string {
		if len(all) == 0 {
			return []string{""}
		}
		return all
	}
	switch q.By {
	case BySpace:
		return []string{l.space}
	case ByInstaller:
		return []string{l.installer}
	case ByPathway:
		return several(l.pathways)
	case ByCable:
		return several(l.cables)
	}
	return []string{""}
}

// gathering is a group in the making.
type gathering struct {
	Group
	faulty, planned map[string][]stretch // by place
	detect, repair  []time.Duration
}

func newGathering() *gathering {
	return &gathering{faulty: map[string][]stretch{}, planned: map[string][]stretch{}}
}

func (g *gathering) take(l *Life, repeats bool, from, to, now time.Time) {
	in := func(t time.Time) bool { return !t.Before(from) && t.Before(to) }
	if all := l.stretches(faulty, from, to, now); len(all) > 0 {
		g.faulty[l.Place()] = append(g.faulty[l.Place()], all...)
	}
	if all := l.stretches(atWork, from, to, now); len(all) > 0 {
		g.planned[l.Place()] = append(g.planned[l.Place()], all...)
	}
	if in(l.Opened) {
		g.Opened++
		if repeats {
			g.Repeats++
		}
		if l.Seen != nil {
			g.detect = append(g.detect, l.Opened.Sub(*l.Seen))
		} else {
			g.Undated++
		}
	}
	end, over := l.End()
	if over && in(end) {
		g.Ended++
		g.FailedRepairs += l.Failed
		g.repair = append(g.repair, max(0, end.Sub(l.Opened)-together(l.stretches(planned, l.Opened, end, now))))
	}
	if l.Opened.Before(to) && (!over || !end.Before(to)) {
		g.Open++
	}
}

func (g *gathering) group() Group {
	out := g.Group
	days := func(places map[string][]stretch) (sum float64) {
		for _, place := range slices.Sorted(maps.Keys(places)) {
			sum += together(places[place]).Hours() / Day.Hours()
		}
		return sum
	}
	out.FaultyRuns = len(g.faulty)
	out.FaultyRunDays, out.PlannedRunDays = days(g.faulty), days(g.planned)
	out.Detect, out.Repair = spreadOf(g.detect), spreadOf(g.repair)
	return out
}

func spreadOf(all []time.Duration) *Spread {
	n := len(all)
	if n == 0 {
		return nil
	}
	slices.Sort(all)
	s := &Spread{Count: n, Least: all[0].Seconds(), Most: all[n-1].Seconds(), Median: (all[(n-1)/2].Seconds() + all[n/2].Seconds()) / 2}
	for _, d := range all {
		s.Mean += d.Seconds() / float64(n)
	}
	return s
}
