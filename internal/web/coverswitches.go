package web

import (
	"slices"
	"strings"
	"time"

	"toneout/internal/fault"
	"toneout/internal/port"
)

// SwitchCoverage counts switches.
type SwitchCoverage struct {
	Configured   int               `json:"configured"`
	Tried        int               `json:"tried"`
	Answering    int               `json:"answering"`
	Silent       []SilentSwitch    `json:"silent"`
	Twins        []Twins           `json:"twins"`
	Suspended    []SuspendedSwitch `json:"suspended"`
	Tables       []TableCoverage   `json:"tables"`        // what matters most first
	TablesAbsent []AbsentTable     `json:"tables_absent"` // of those that answered once
}

// SilentSwitch is a switch that does not answer.
type SilentSwitch struct {
	Name       string     `json:"name"`
	Space      string     `json:"space"`
	Class      string     `json:"class,omitempty"`
	Problem    string     `json:"problem"`
	LastAnswer *time.Time `json:"last_answer,omitempty"`
	LastTry    *time.Time `json:"last_try,omitempty"`
	Refuses    bool       `json:"refuses_credentials"` // it is there, and takes none of them
	Behind     string     `json:"behind,omitempty"`    // the silent switch that hides it
	Ports      int        `json:"ports"`               // physical, that it last showed
}

// Twins are switches that give the same SNMP engine id, which no two may have.
type Twins struct {
	Engine   string   `json:"engine"`
	Switches []string `json:"switches"`
}

// SuspendedSwitch is one whose joins wait to be confirmed.
type SuspendedSwitch struct {
	Name string `json:"name"`
	Why  string `json:"why"`
}

// TableCoverage is how many switches give one table.
type TableCoverage struct {
	Table   string         `json:"table"`
	Of      int            `json:"of"` // switches that were asked for it and answered once
	Given   int            `json:"given"`
	Empty   int            `json:"empty"`
	Hidden  int            `json:"hidden"`
	Broken  int            `json:"broken"`
	Partial int            `json:"partial"`        // given without some of its columns
	Cost    string         `json:"cost,omitempty"` // what is lost without it
	Grant   string         `json:"grant,omitempty"`
	Lacking []LackingTable `json:"lacking"` // hidden, broken or without some columns
}

// LackingTable is what one switch does not give of a table.
type LackingTable struct {
	Switch  string   `json:"switch"`
	State   string   `json:"state"`
	Missing []string `json:"missing,omitempty"` // columns
	Why     string   `json:"why,omitempty"`
	Unmet   bool     `json:"unmet"` // a port of the switch needs it
}

// AbsentTable is a table that a switch does not give.
type AbsentTable struct {
	Switch string `json:"switch"`
	Table  string `json:"table"`
	State  string `json:"state"`
	Grant  string `json:"grant,omitempty"`
	Why    string `json:"why,omitempty"`
}

func switchCoverage(s *fault.Snapshot) SwitchCoverage {
	c := SwitchCoverage{
		Configured: len(s.Switches), Silent: []SilentSwitch{}, Suspended: []SuspendedSwitch{},
		Twins: twins(s), Tables: tableCoverage(s), TablesAbsent: []AbsentTable{},
	}
	for _, sw := range s.Switches {
		if sw.Tried {
			c.Tried++
		}
		if sw.Answering() {
			c.Answering++
		} else {
			c.Silent = append(c.Silent, SilentSwitch{
				sw.Name, sw.Space, sw.Class, orWords(sw.Problem, "not tried yet"),
				timePointer(sw.LastAnswer), timePointer(sw.LastTry), sw.RefusesCredentials(), sw.Behind, len(sw.Ports),
			})
		}
		if sw.Suspended != "" {
			c.Suspended = append(c.Suspended, SuspendedSwitch{sw.Name, sw.Suspended})
		}
		for _, t := range sw.Tables {
			if !t.Given() {
				c.TablesAbsent = append(c.TablesAbsent, AbsentTable{sw.Name, t.Name, string(t.State), t.Grant, t.Why})
			}
		}
	}
	return c
}

// twins lists the sets of switches that share an engine id, in the order of the
// first of each.
func twins(s *fault.Snapshot) []Twins {
	out := []Twins{}
	sharing := s.Twins()
	for _, sw := range s.Switches {
		if names := sharing[sw.Engine]; len(names) > 0 && names[0] == sw.Name {
			out = append(out, Twins{sw.Engine, names})
		}
	}
	return out
}

func tableCoverage(s *fault.Snapshot) []TableCoverage {
	byName := map[string]*TableCoverage{}
	for _, sw := range s.Switches {
		for i := range sw.Tables {
			t := &sw.Tables[i]
			c := byName[t.Name]
			if c == nil {
				c = &TableCoverage{Table: t.Name, Cost: costs[t.Name].without, Lacking: []LackingTable{}}
				byName[t.Name] = c
			}
			c.add(sw, t)
		}
	}
	out := make([]TableCoverage, 0, len(byName))
	for _, c := range byName {
		out = append(out, *c)
	}
	slices.SortFunc(out, func(a, b TableCoverage) int {
		if byRank := costs[a.Table].rank() - costs[b.Table].rank(); byRank != 0 {
			return byRank
		}
		return strings.Compare(a.Table, b.Table)
	})
	return out
}

func (c *TableCoverage) add(sw *fault.Switch, t *port.Table) {
	c.Of++
	c.Grant = orWords(c.Grant, t.Grant)
	lacks := len(t.Missing) > 0 || t.Why != ""
	switch t.State {
	case port.TableGiven:
		c.Given++
	case port.TableEmpty:
		c.Empty++
	case port.TableBroken:
		c.Broken++
		lacks = true
	default:
		c.Hidden++
		lacks = true
	}
	if t.State == port.TableGiven && len(t.Missing) > 0 {
		c.Partial++
	}
	if lacks {
		c.Lacking = append(c.Lacking, LackingTable{sw.Name, string(t.State), t.Missing, t.Why, unmet(sw, t)})
	}
}

// unmet tells whether what a switch does not give of a table leaves something
// untold. Another table may stand in for it; only a stack has members; optical
// ports negotiate no abilities that ifMauAutoNegTable could hold, and only they have
// light; and a switch without pethPsePortTable mostly feeds nobody.
func unmet(sw *fault.Switch, t *port.Table) bool {
	standIn := costs[t.Name].standIn
	switch {
	case standIn != "" && slices.ContainsFunc(sw.Tables, func(t port.Table) bool { return t.Name == standIn && t.Given() }):
		return false
	case t.Name == memberTable && (sw.Details == nil || len(sw.Details.Units) < 2):
		return false
	case t.Name == autoNegTable && !slices.ContainsFunc(sw.Ports, func(p fault.Port) bool { return p.Oper == port.Up && !optical(&p) }):
		return false
	case t.Name == sensorTable && !t.Given() && !slices.ContainsFunc(sw.Ports, func(p fault.Port) bool { return optical(&p) }):
		return false
	case t.Name == powerTable && t.State == port.TableHidden:
		return false
	}
	return !t.Given() || t.Why != "" || slices.ContainsFunc(t.Missing, func(column string) bool { return columnCosts[column] != "" })
}

const memberTable = "entAliasMappingTable"

const autoNegTable = "ifMauAutoNegTable"

const (
	sensorTable = "entPhySensorTable"
	powerTable  = "pethPsePortTable"
)

// optical tells that a port is known to be none of twisted pairs.
func optical(p *fault.Port) bool { return p.PHY != "" && !strings.Contains(p.PHY, "BASE-T") }
