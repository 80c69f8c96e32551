package snmp

import (
	"errors"
	"math"
	"slices"
	"time"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// knowledge is what a switch was found to give, kept from poll to poll.
type knowledge struct {
	due     time.Time             // when to look for the columns again; zero: now
	given   map[*column]bool      // found then
	rows    map[*column]int       // when the column was last asked
	narrow  map[port.Counter]bool // the 32-bit column is needed beside the 64-bit one
	change  bool                  // ifTableLastChange is asked for
	torn    int                   // polls in a row that failed because it moved
	widths  map[*group]int        // columns asked at a time; 0 for all
	lean    bool                  // the switch doesn't like more than that beside the rows
	framing int                   // bytes of an answer that aren't varbinds
	sizes   map[*group]*sizing
	states  map[string]port.TableState // of tables without rows
	broken  map[string]string          // why tables failed
	slow    slow
	last    moment
}

func newKnowledge(slowEvery time.Duration) *knowledge {
	return &knowledge{
		change: true, given: map[*column]bool{}, rows: map[*column]int{}, narrow: map[port.Counter]bool{},
		widths: map[*group]int{}, sizes: map[*group]*sizing{}, states: map[string]port.TableState{}, broken: map[string]string{},
		slow: newSlow(slowEvery),
	}
}

func (k *knowledge) discovering() bool { return k.due.IsZero() }

// wanted gives the columns of a group to ask for: while discovering all, else
// those given, less the 32-bit ones that a 64-bit one stands for everywhere.
func (k *knowledge) wanted(g *group) []*column {
	if k.discovering() {
		return g.columns
	}
	var columns []*column
	for _, c := range g.columns {
		if k.given[c] && (k.narrow[c.counter] || !k.hasWide(g, c)) {
			columns = append(columns, c)
		}
	}
	return columns
}

// hasWide tells whether a 32-bit counter has a 64-bit one on this switch.
func (k *knowledge) hasWide(g *group, c *column) bool {
	return slices.ContainsFunc(g.columns, func(other *column) bool {
		return c.kind == gosnmp.Counter32 && other.wide() && other.counter == c.counter && k.given[other]
	})
}

const (
	soonest = 5 * time.Minute
	latest  = 24 * time.Hour
)

// found plans when to look for the columns again: daily, and sooner with an
// agent that was young when it was asked and may not have been complete.
func (k *knowledge) found(now moment) {
	wait := latest
	if ticks, ok := now.uptime.Get(); ok {
		wait = min(latest, max(soonest, time.Duration(ticks)*centisecond))
	}
	k.due = now.at.Add(wait)
}

// lacked plans to look for them soon, since not all came that should have.
func (k *knowledge) lacked(now moment) {
	if soon := now.at.Add(soonest); soon.Before(k.due) {
		k.due = soon
	}
}

// refresh looks for the columns again where the agent restarted or it is time.
func (k *knowledge) refresh(now moment) {
	if !now.follows(k.last) {
		k.torn = 0
		k.slow.reset()
		k.again()
	} else if !now.at.Before(k.due) {
		k.again()
	}
}

// again makes the next round look for the columns anew.
func (k *knowledge) again() {
	k.due, k.change, k.lean = time.Time{}, k.torn < mostRestless, false
	clear(k.widths)
	clear(k.states)
}

// failed notes why a poll failed. An ifTableLastChange that moves in each poll
// tells nothing, and isn't asked for until the agent restarts.
func (k *knowledge) failed(err error) {
	if !errors.Is(err, errMoved) {
		return
	}
	if k.torn++; k.torn >= mostRestless {
		k.change = false
	}
}

// narrower makes a group's answers smaller where not one row of so many columns
// fits into one; false where it can't.
func (k *knowledge) narrower(g *group, width int) bool {
	if width > 1 {
		k.widths[g] = (width + 1) / 2
		return true
	}
	could := k.change
	k.change = false
	return could
}

// settle notes what a round found. It tells whether the round has to be done
// again, since a port lacks the 64-bit counter that it had.
func (k *knowledge) settle(r *round) (again bool) {
	discovered := k.discovering()
	for c, n := range r.counts {
		k.rows[c] = n
		if discovered {
			k.given[c] = n > 0
		}
	}
	if discovered {
		clear(k.narrow)
		clear(k.broken)
		clear(k.widths) // fewer columns are asked for from now on
		k.found(r.last)
	}
	for _, lost := range r.lost {
		k.lose(lost)
	}
	if len(r.lost) > 0 || len(r.blamed) > 0 {
		k.lacked(r.last)
	}
	return k.narrows(r) && !discovered
}

// lost is a group that failed and was spared.
type lost struct {
	*group
	why error
}

// lose notes that a group isn't to be asked for until the columns are looked for
// again. Tables that gave something with the moment are not broken for it.
func (k *knowledge) lose(g lost) {
	if errors.Is(g.why, errMoved) {
		return
	}
	for _, c := range g.columns {
		k.given[c] = false
		if inMoment(c.table) || denied(g.why) {
			continue
		}
		k.broken[c.table] = g.why.Error()
	}
}

// narrows tells whether a port turned out to need a 32-bit counter beside the
// 64-bit one.
func (k *knowledge) narrows(r *round) (more bool) {
	for _, g := range groups {
		for _, c := range g.columns {
			if k.given[c] && !k.narrow[c.counter] && k.hasWide(g, c) && r.lacksWide(c.counter) {
				k.narrow[c.counter] = true
				more = true
			}
		}
	}
	return more
}

// lacksWide tells whether a port is without the 64-bit counter. Rows that are
// no physical ports don't count, since nobody asks for their errors.
func (r *round) lacksWide(k port.Counter) bool {
	for i := range r.ports.all {
		one := &r.ports.all[i]
		if (one.Physical() || one.Type == 0) && !one.Counters.Wide(k) {
			return true
		}
	}
	return false
}

// note keeps how the ports stood. Where names of ports came or went, as others
// do without a cable, the next poll looks for the columns again.
func (k *knowledge) note(r *round, readings []port.Reading) {
	if named := k.slow.note(r, readings); named || r.replaced {
		k.due = time.Time{}
	}
	if k.change {
		k.torn = 0
	}
	k.last = r.last
}

// steady tells whether a poll may begin with its tables: nothing has to be found
// out before.
func (k *knowledge) steady(now time.Time) bool {
	return !k.discovering() && !k.lean && k.framing > 0 && !k.last.at.IsZero() && now.Before(k.due)
}

// sizing is how many rows of a group are asked for at a time, so that answers
// stay within an Ethernet frame.
type sizing struct {
	framing  int     // bytes of an answer that aren't repeated varbinds
	perValue float64 // bytes of one of these
	limit    int     // rows at a time, at most
	proven   int     // rows at a time that the switch has shown to manage
	strikes  int     // answers since then that only came after fewer were asked for
	failed   int     // rows at a time that were too many by then
	rest     int     // answers until so many are tried again
	rows     int     // of the group, in the last poll; 0: not known
	last     index   // of them
}

const (
	answerBytes = 1400 // of an answer, aimed at
	scalarBytes = 19   // of sysUpTime or ifTableLastChange as a varbind
	otherBytes  = 24   // of another value that isn't repeated
	firstLimit  = 10
	highLimit   = 50
	longRest    = 300 // answers
)

func (k *knowledge) sizeOf(g *group) *sizing {
	s := k.sizes[g]
	if s == nil {
		s = &sizing{perValue: 26, limit: firstLimit}
		k.sizes[g] = s
	}
	s.framing = k.framing + scalarBytes
	if k.change {
		s.framing += scalarBytes
	}
	return s
}

// fit is how many rows fit into an answer, beside some other values.
func (s *sizing) fit(columns, others int) int {
	fit := int(float64(answerBytes-s.framing-others*otherBytes) / (s.perValue * float64(columns)))
	return max(1, min(fit, s.limit))
}

// left is how many rows should be left when some have come; 0 where that isn't
// known.
func (s *sizing) left(rows int) int { return max(0, s.rows-rows) }

// shrink halves what is asked for after repetitions were too many; false where
// it can't be less.
func (s *sizing) shrink(repetitions int) bool {
	s.limit = max(1, repetitions/2)
	s.proven = s.limit
	return repetitions > 1
}

// learn takes an answer into account: its size, less at once where it was
// larger and more slowly where it was smaller; and how many rows could be asked
// for. Where fewer had to be, that may have been by chance, so the next answer
// that comes brings back what was proven; but where it happens twice and nothing
// else is lost, so many are long not tried again.
func (s *sizing) learn(a table, lossy bool) {
	s.rest = max(0, s.rest-1)
	switch {
	case a.repetitions < a.asked && lossy:
		s.limit = a.repetitions
	case a.repetitions < a.asked:
		s.limit, s.failed, s.proven = a.repetitions, a.asked, max(s.proven, a.asked)
		if s.strikes++; s.strikes > 1 {
			s.proven, s.rest = s.limit, longRest
		}
	case a.repetitions < s.limit:
	case s.limit < s.proven:
		s.limit = min(2*s.limit, s.proven)
	default:
		if s.proven = a.repetitions; s.proven >= s.failed {
			s.strikes, s.failed = 0, 0
		}
		if s.rest == 0 || s.failed == 0 || s.limit+1 < s.failed {
			s.limit = max(s.limit, min(s.limit+1, highLimit))
		}
	}
	measured := float64(a.size-s.framing-a.extra) / float64(max(1, len(a.repeated)))
	s.perValue = max(measured, s.perValue+(measured-s.perValue)/4)
	s.perValue = math.Max(s.perValue, 12)
}

// finished notes where a walk came to its end.
func (s *sizing) finished(p progress) { s.rows, s.last = p.rows, p.last }

// moment is when an answer came, and the switch's uptime in it.
type moment struct {
	at     time.Time
	uptime port.Value[uint32]
}

const (
	uptimeSlack = 15 * time.Second // an answer may be late by the retries
	uptimeBack  = 2 * time.Second  // some agents give an uptime that is older than one given before
	centisecond = 10 * time.Millisecond
)

// follows tells whether sysUpTime went on from an earlier moment as the time
// did, over its wrap after 497 days too; true where one of them is absent. It
// may step back a little, but not where the agent is younger than the earlier
// moment is old. Any other fall is a growth by nearly those 497 days, so it never fits.
func (m moment) follows(earlier moment) bool {
	before, ok := earlier.uptime.Get()
	after, ok2 := m.uptime.Get()
	if !ok || !ok2 {
		return true
	}
	elapsed := m.at.Sub(earlier.at)
	grown := time.Duration(after-before) * centisecond
	if back := time.Duration(before-after) * centisecond; back <= uptimeBack && time.Duration(after)*centisecond >= elapsed {
		grown = -back
	}
	return (grown - elapsed).Abs() <= uptimeSlack+elapsed/10
}
