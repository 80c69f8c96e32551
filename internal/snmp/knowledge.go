package snmp

import (
	"math"
	"slices"
	"time"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// knowledge is what a switch was found to give, kept from poll to poll.
type knowledge struct {
	found  moment                // when the columns were last looked for; zero: look for them now
	given  map[*column]bool      // found then
	rows   map[*column]int       // when the column was last asked
	narrow map[port.Counter]bool // the 32-bit column is needed beside the 64-bit one
	widths map[*group]int        // columns asked at a time; 0 for all
	sizes  map[*group]*sizing
	names  map[string]bool // the ports at the last poll
	last   moment
}

func newKnowledge() *knowledge {
	return &knowledge{
		given: map[*column]bool{}, rows: map[*column]int{}, narrow: map[port.Counter]bool{},
		widths: map[*group]int{}, sizes: map[*group]*sizing{},
	}
}

func (k *knowledge) discovering() bool { return k.found.at.IsZero() }

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

// refresh forgets the columns where they have to be looked for again: the
// agent restarted, or it is time. That is daily, and sooner with an agent that
// was young when it was asked and may not have been complete.
func (k *knowledge) refresh(now moment) {
	due := latest
	if ticks, ok := k.found.uptime.Get(); ok {
		due = min(latest, max(soonest, time.Duration(ticks)*centisecond))
	}
	if !now.follows(k.last) || now.at.Sub(k.found.at) >= due {
		k.found = moment{}
		clear(k.widths)
	}
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
		k.found = r.last
	}
	for _, g := range groups {
		for _, c := range g.columns {
			if k.given[c] && !k.narrow[c.counter] && k.hasWide(g, c) && r.lacksWide(c.counter) {
				k.narrow[c.counter] = true
				again = again || !discovered
			}
		}
	}
	return again
}

// lacksWide tells whether a port is without the 64-bit counter. Rows that are
// no physical ports don't count, since nobody asks for their errors.
func (r *round) lacksWide(k port.Counter) bool {
	for _, one := range r.ports {
		if (one.Physical() || one.Type == 0) && !one.Counters.Wide(k) {
			return true
		}
	}
	return false
}

// note keeps the names of the ports; where they changed, the next poll
// looks for the columns again.
func (k *knowledge) note(r *round, readings []port.Reading) {
	names := make(map[string]bool, len(readings))
	for i := range readings {
		names[readings[i].Name] = true
	}
	same := len(names) == len(k.names)
	for name := range names {
		same = same && k.names[name]
	}
	if k.names != nil && !same {
		k.found = moment{}
	}
	k.names, k.last = names, r.last
}

// tables tells which tables the switch gives.
func (k *knowledge) tables() []port.Table {
	tables := make([]port.Table, len(tableNames))
	for i, name := range tableNames {
		tables[i].Name = name
		for _, g := range groups {
			for _, c := range g.columns {
				if c.table == name {
					tables[i].Rows = max(tables[i].Rows, k.rows[c])
				}
			}
		}
		tables[i].Given = tables[i].Rows > 0
	}
	return tables
}

// sizing is how many rows of a group are asked for at a time, so that answers
// stay within an Ethernet frame.
type sizing struct {
	perValue float64 // bytes of one varbind
	limit    int     // rows at a time that the switch has shown to manage
	rows     int     // of the group, in the last poll; 0: not known
}

const (
	answerBytes = 1400 // of an answer, aimed at
	framing     = 120  // bytes of an answer that aren't varbinds, at most
	firstLimit  = 10
	highLimit   = 50
)

func (k *knowledge) sizeOf(g *group) *sizing {
	s := k.sizes[g]
	if s == nil {
		s = &sizing{perValue: 26, limit: firstLimit}
		k.sizes[g] = s
	}
	return s
}

// repetitions gives how many rows to ask for when done have come: one more
// than should be left, to see the end.
func (s *sizing) repetitions(columns, done int) int {
	fit := int((answerBytes - framing) / (s.perValue * float64(columns)))
	n := min(fit, s.limit)
	if s.rows >= done && s.rows > 0 {
		n = min(n, s.rows-done+1)
	}
	return max(1, n)
}

// shrink halves what is asked for after repetitions were too many; false where
// it can't be less.
func (s *sizing) shrink(repetitions int) bool {
	s.limit = max(1, repetitions/2)
	return repetitions > 1
}

// learn takes the size of an answer into account: less at once where it
// took retries, more slowly where it came at once.
func (s *sizing) learn(a answer, columns int) {
	if a.attempts > 1 {
		s.limit = max(1, a.repetitions)
	} else if a.repetitions >= s.limit && s.limit < highLimit {
		s.limit++
	}
	measured := float64(a.size-framing/2) / float64(max(1, len(a.Variables)))
	s.perValue = max(measured, s.perValue+(measured-s.perValue)/4)
	s.perValue = math.Max(s.perValue, 12)
}

func (s *sizing) finished(rows int) { s.rows = rows }
