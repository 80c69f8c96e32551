package report

import (
	"cmp"
	"slices"
	"time"
)

// Told is what the journal says of a fault at one moment.
type Told struct {
	At     time.Time
	What   What
	Fault  string // its identity
	Record Record
}

// What became of a fault.
type What int

// The things that may.
const (
	Opened What = iota
	Changed
	Closed
)

// Record is a fault as it then was.
type Record struct {
	Run, Switch, Port, Kind, Cause string
	Since                          time.Time // first poll that showed it
	Planned                        bool      // work is planned there
	Quiet                          bool      // it is nobody's fault

	Space, Installer string // by the inventory of then; "" where not recorded
	Pathways, Cables []string
}

// Repair is what somebody did about a run, and what came of it.
type Repair struct {
	ID, Run string
	At      time.Time
	Kinds   []string  // of fault that it was about; empty while neither of the following
	Proven  time.Time // zero where it is not
	Failed  time.Time // when a fault returned before it was proven; zero where none did
}

// Life is a fault from its first sign to its end.
type Life struct {
	Fault  string `json:"fault"` // its identity
	Run    string `json:"run"`
	Switch string `json:"switch"`
	Port   string `json:"port"`
	Kind   string `json:"kind"`
	Cause  string `json:"cause"` // the likeliest, as last told while it was somebody's fault

	// Since is its first sign: the first poll, in a row that led to it, that showed
	// it, or what the switch tells of that. Opened is when the tracker took hold of it.
	Since  time.Time `json:"since"`
	Opened time.Time `json:"opened"`
	// Seen is since when it was watched, from Since on; nil where that is not known,
	// as it is of those OfTheSwitch until somebody tells.
	Seen *time.Time `json:"-"`
	// Repaired is when it was repaired, where a proof of that stands: since then it
	// was not there. Closed is when the tracker let go, after the rule of its kind
	// or with the proof. Nil where that did not happen.
	Repaired *time.Time `json:"repaired"`
	Closed   *time.Time `json:"closed"`
	Failed   int        `json:"failed_repairs"` // that were made while it was open, and did not hold

	States []State `json:"states"` // by time; the first holds from the beginning

	space, installer string
	pathways, cables []string
}

// State is how a fault counts from a time on.
type State struct {
	From    time.Time `json:"from"`
	Planned bool      `json:"planned"`
	Quiet   bool      `json:"quiet"`
}

// Lives makes lives of faults out of what was told of them, in the order in which it
// was written. One that closed and opened again, with the same identity too, are
// two. Of a fault whose opening was not told nothing is known before the first that
// was.
func Lives(told []Told, repairs []Repair) []Life {
	var all []*Life
	open := map[string]*Life{}
	for i := range told {
		t := &told[i]
		l := open[t.Fault]
		if l == nil {
			if t.What == Closed {
				continue
			}
			l = newLife(t)
			open[t.Fault] = l
			all = append(all, l)
		}
		l.take(t)
		if t.What == Closed {
			delete(open, t.Fault)
		}
	}
	out := make([]Life, 0, len(all))
	for _, l := range all {
		l.repair(repairs)
		out = append(out, *l)
	}
	slices.SortStableFunc(out, func(a, b Life) int { return cmp.Or(a.Opened.Compare(b.Opened), cmp.Compare(a.Fault, b.Fault)) })
	return out
}

func newLife(t *Told) *Life {
	r := &t.Record
	l := &Life{
		Fault: t.Fault, Run: r.Run, Switch: r.Switch, Port: r.Port, Kind: r.Kind, Since: r.Since, Opened: t.At,
		space: r.Space, installer: r.Installer, pathways: r.Pathways, cables: r.Cables,
	}
	if l.Since.IsZero() || l.Since.After(l.Opened) {
		l.Since = l.Opened
	}
	if since := l.Since; !l.OfTheSwitch() {
		l.Seen = &since
	}
	return l
}

// OfTheSwitch tells whether Since may be by the switch's own clock, so that it may lie
// before anybody watched: a missing link is since ifLastChange (RFC 2863).
func (l *Life) OfTheSwitch() bool { return l.Kind == "no-link" }

// counted is from when on it counts in figures: none is of a time in which nobody
// watched, or may not have.
func (l *Life) counted() time.Time {
	if l.Seen != nil {
		return *l.Seen
	}
	return l.Opened
}

func (l *Life) take(t *Told) {
	if l.Cause == "" || !t.Record.Quiet { // on its way out a fault may be put down to something harmless
		l.Cause = cmp.Or(t.Record.Cause, l.Cause)
	}
	if t.What == Closed {
		at := t.At
		l.Closed = &at
		return
	}
	now := State{t.At, t.Record.Planned, t.Record.Quiet}
	if n := len(l.States); n == 0 {
		now.From = l.Since
	} else if last := l.States[n-1]; last.Planned == now.Planned && last.Quiet == now.Quiet {
		return
	}
	l.States = append(l.States, now)
}

// repair takes which of the repairs were of this fault. The last that was proven is
// its end.
func (l *Life) repair(repairs []Repair) {
	for i := range repairs {
		r := &repairs[i]
		if r.Run == "" || r.Run != l.Run || !slices.Contains(r.Kinds, l.Kind) || r.At.Before(l.Since) || l.Closed != nil && r.At.After(*l.Closed) {
			continue
		}
		switch {
		case !r.Failed.IsZero():
			l.Failed++
		case !r.Proven.IsZero() && (l.Repaired == nil || r.At.After(*l.Repaired)):
			at := r.At
			l.Repaired = &at
		}
	}
}

// End is when it was over; false where it is not.
func (l *Life) End() (time.Time, bool) {
	switch {
	case l.Repaired != nil:
		return *l.Repaired, true
	case l.Closed != nil:
		return *l.Closed, true
	}
	return time.Time{}, false
}

// Place is where there is one fault of a kind at most: the run, or the port where
// that has none.
func (l *Life) Place() string {
	if l.Run != "" {
		return l.Run
	}
	return l.Switch + " " + l.Port
}

// Counts tells whether it was ever somebody's fault.
func (l *Life) Counts() bool {
	return slices.ContainsFunc(l.States, func(s State) bool { return !s.Quiet })
}

// stretch is some time, From included.
type stretch struct{ from, to time.Time }

// stretches are the times within from and to in which it stood in some states. Now is
// as far as anything is known.
func (l *Life) stretches(in func(State) bool, from, to, now time.Time) (out []stretch) {
	end, over := l.End()
	if !over {
		end = now
	}
	for i, s := range l.States {
		until := end
		if i+1 < len(l.States) && l.States[i+1].From.Before(end) {
			until = l.States[i+1].From
		}
		begin := s.From
		for _, bound := range []time.Time{from, l.counted()} {
			if begin.Before(bound) {
				begin = bound
			}
		}
		if until.After(to) {
			until = to
		}
		if in(s) && begin.Before(until) {
			out = append(out, stretch{begin, until})
		}
	}
	return out
}

// States in which a fault counts.
func faulty(s State) bool  { return !s.Quiet && !s.Planned }
func atWork(s State) bool  { return !s.Quiet && s.Planned }
func planned(s State) bool { return s.Planned }

// together is how long any of some stretches lasted.
func together(all []stretch) (sum time.Duration) {
	slices.SortFunc(all, func(a, b stretch) int { return a.from.Compare(b.from) })
	var end time.Time
	for _, s := range all {
		if s.from.Before(end) {
			s.from = end
		}
		if s.from.Before(s.to) {
			sum += s.to.Sub(s.from)
			end = s.to
		}
	}
	return sum
}
