package corpus

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Kinds of what is told that is no fault: of a switch, and of what runs share.
const (
	NotAnswering = "not-answering"
	SharedCause  = "shared-cause"
)

// Sight is something that one look finds open.
type Sight struct {
	Subject string // a run, else "switch port", else a switch
	Kind    string
	Alarm   bool
	Causes  []string // likeliest first; nil where the place looked at tells none
}

// Log is what looks at one place found open, and when.
type Log struct {
	Causes     bool // the place looked at tells causes
	FaultsOnly bool // it does not tell of switches
	AlarmsOnly bool // it tells of nothing that does not alarm

	looked time.Duration
	open   map[string]*Spell
	all    []*Spell
}

// Spell is from when to when one thing was open.
type Spell struct {
	Subject, Kind  string
	Opened, Closed time.Duration  // Closed is below 0 where it is still open
	Alarmed        bool           // at any time
	Causes         []string       // as last told
	looks, loud    int            // loud are those in which it alarmed
	named          map[string]int // looks that found a cause among the first two
}

func (s *Spell) String() string {
	text := fmt.Sprintf("%s on %s from %v", s.Kind, s.Subject, s.Opened)
	if s.Closed >= 0 {
		text += fmt.Sprintf(" to %v", s.Closed)
	}
	if !s.Alarmed {
		text += ", quiet"
	}
	if len(s.Causes) > 0 {
		text += ", by " + strings.Join(s.Causes, ", ")
	}
	return text
}

// String tells all spells, each on a line.
func (l *Log) String() string {
	var b strings.Builder
	for _, spell := range l.all {
		fmt.Fprintf(&b, "  %v\n", spell)
	}
	return b.String()
}

// See takes one look.
func (l *Log) See(at time.Duration, sights []Sight) {
	if l.open == nil {
		l.open = map[string]*Spell{}
	}
	l.looked = at
	seen := map[string]bool{}
	for _, s := range sights {
		key := s.Subject + " " + s.Kind
		seen[key] = true
		spell := l.open[key]
		if spell == nil {
			spell = &Spell{Subject: s.Subject, Kind: s.Kind, Opened: at, Closed: -1, named: map[string]int{}}
			l.open[key] = spell
			l.all = append(l.all, spell)
		}
		spell.Alarmed = spell.Alarmed || s.Alarm
		spell.Causes = s.Causes
		spell.looks++
		if s.Alarm {
			spell.loud++
		}
		for _, cause := range s.Causes[:min(2, len(s.Causes))] {
			spell.named[cause]++
		}
	}
	for key, spell := range l.open {
		if !seen[key] {
			spell.Closed = at
			delete(l.open, key)
		}
	}
}

// Judge holds what was seen against what was expected, and gives what differs.
func (s *Scenario) Judge(l *Log) (complaints []string) {
	left := slices.Clone(l.all)
	for i := range s.Expect {
		e := &s.Expect[i]
		if e.Switch != "" && l.FaultsOnly {
			continue
		}
		var spells []*Spell
		left = slices.DeleteFunc(left, func(spell *Spell) bool {
			fits := spell.Subject == e.subject() && spell.Kind == e.kind()
			if fits {
				spells = append(spells, spell)
			}
			return fits
		})
		for _, what := range e.judge(spells, l) {
			complaints = append(complaints, fmt.Sprintf("%s %s: %s: %v", e.subject(), e.Kind, what, spells))
		}
	}
	for _, spell := range left {
		complaints = append(complaints, fmt.Sprintf("not expected: %v", spell))
	}
	if l.looked < s.Length-2*s.Every {
		complaints = append(complaints, fmt.Sprintf("nobody looked after %v", l.looked))
	}
	return complaints
}

// kind is what is told of the subject.
func (e *Expected) kind() string {
	switch {
	case e.Switch != "":
		return NotAnswering
	case e.Shared != "":
		return SharedCause
	}
	return e.Kind
}

func (e *Expected) judge(spells []*Spell, l *Log) (complaints []string) {
	complain := func(format string, arguments ...any) {
		complaints = append(complaints, fmt.Sprintf(format, arguments...))
	}
	for _, spell := range spells {
		if e.Folded && (2*spell.loud > spell.looks && !l.AlarmsOnly || l.AlarmsOnly && spell.Closed < 0) {
			complain("expected folded")
		}
		if spell.Alarmed == e.Quiet && !e.Folded {
			complain("expected alarmed %v", !e.Quiet)
		}
		if e.Cause != "" && l.Causes && 2*spell.named[e.Cause] < spell.looks {
			complain("%s is not among its first two causes for most of it", e.Cause)
		}
	}
	switch {
	case e.Quiet, e.Folded && l.AlarmsOnly:
		return complaints
	case len(spells) != 1:
		complain("expected once, not %d times", len(spells))
		return complaints
	}
	spell := spells[0]
	if !e.Opens.holds(spell.Opened) {
		complain("expected to open in %v", e.Opens)
	}
	switch {
	case e.Closes == window{} && spell.Closed >= 0:
		complain("expected to stay open")
	case e.Closes != window{} && !e.Closes.holds(spell.Closed):
		complain("expected to close in %v", e.Closes)
	}
	return complaints
}
