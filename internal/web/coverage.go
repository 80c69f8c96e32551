package web

import (
	"net/http"
	"path/filepath"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// Coverage is what is not seen, and of how much.
type Coverage struct {
	At        *time.Time       `json:"at,omitempty"` // of the last poll
	Switches  SwitchCoverage   `json:"switches"`
	Ports     PortCoverage     `json:"ports"`
	Runs      RunCoverage      `json:"runs"`
	Conflicts []Conflict       `json:"conflicts"` // record and switches contradict each other
	Problems  []InventoryError `json:"problems"`  // rows lost for an error in the inventory's files
}

// SwitchCoverage counts switches.
type SwitchCoverage struct {
	Configured   int            `json:"configured"`
	Tried        int            `json:"tried"`
	Answering    int            `json:"answering"`
	Silent       []SilentSwitch `json:"silent"`
	TablesAbsent []AbsentTable  `json:"tables_absent"` // of those that answered once
}

// SilentSwitch is a switch that does not answer.
type SilentSwitch struct {
	Name       string     `json:"name"`
	Space      string     `json:"space"`
	Class      string     `json:"class,omitempty"`
	Problem    string     `json:"problem"`
	LastAnswer *time.Time `json:"last_answer,omitempty"`
	LastTry    *time.Time `json:"last_try,omitempty"`
}

// AbsentTable is a table that a switch does not give.
type AbsentTable struct {
	Switch string `json:"switch"`
	Table  string `json:"table"`
}

// PortCoverage counts physical ports of all switches that answered once.
type PortCoverage struct {
	Shown    int            `json:"shown"`
	Joined   int            `json:"joined"`
	Unjoined []UnjoinedPort `json:"unjoined"`
}

// UnjoinedPort is a port without a run.
type UnjoinedPort struct {
	Switch      string `json:"switch"`
	Port        string `json:"port"`
	Description string `json:"description"`
	Why         string `json:"why"`
}

// RunCoverage counts runs of the inventory.
type RunCoverage struct {
	Recorded int                 `json:"recorded"`
	Joined   int                 `json:"joined"` // at one end at least
	States   map[fault.State]int `json:"states"`
	Unjoined []UnjoinedRun       `json:"unjoined"`
}

// UnjoinedRun is an end of a run that should have a switch port and has none.
type UnjoinedRun struct {
	Run string `json:"run"`
	End string `json:"end"`
	Why string `json:"why"`
}

// Conflict is a contradiction that a person must settle.
type Conflict struct {
	Ports []Place  `json:"ports"`
	Runs  []string `json:"runs"`
	Text  string   `json:"text"`
}

// Place is a port of a switch.
type Place struct {
	Switch string `json:"switch"`
	Port   string `json:"port"`
}

// InventoryError is one thing wrong in the inventory's files.
type InventoryError struct {
	File string `json:"file"` // without its directory
	Line int    `json:"line"`
	Kind string `json:"kind,omitempty"`
	ID   string `json:"id,omitempty"`
	Text string `json:"text"`
}

func (s Source) coverage(_ *http.Request, snapshot *fault.Snapshot) (any, error) {
	return coverageOf(snapshot, s.Inventory().Problems), nil
}

func coverageOf(s *fault.Snapshot, problems []plant.Problem) Coverage {
	c := Coverage{
		At: timePointer(s.At), Switches: switchCoverage(s), Ports: portCoverage(s), Runs: runCoverage(s),
		Conflicts: []Conflict{}, Problems: []InventoryError{},
	}
	for _, conflict := range s.Joined.Conflicts {
		ports := []Place{}
		for _, p := range conflict.Ports {
			ports = append(ports, Place(p))
		}
		c.Conflicts = append(c.Conflicts, Conflict{ports, append([]string{}, conflict.Runs...), conflict.Text})
	}
	for _, p := range problems {
		c.Problems = append(c.Problems, InventoryError{filepath.Base(p.File), p.Line, p.Kind, p.ID, p.Text})
	}
	return c
}

func switchCoverage(s *fault.Snapshot) SwitchCoverage {
	c := SwitchCoverage{Configured: len(s.Switches), Silent: []SilentSwitch{}, TablesAbsent: []AbsentTable{}}
	for _, sw := range s.Switches {
		if sw.Tried {
			c.Tried++
		}
		if sw.Answering() {
			c.Answering++
		} else {
			c.Silent = append(c.Silent, SilentSwitch{
				sw.Name, sw.Space, sw.Class, orWords(sw.Problem, "not tried yet"),
				timePointer(sw.LastAnswer), timePointer(sw.LastTry),
			})
		}
		for _, table := range sw.Tables {
			if !table.Given() {
				c.TablesAbsent = append(c.TablesAbsent, AbsentTable{sw.Name, table.Name})
			}
		}
	}
	return c
}

func portCoverage(s *fault.Snapshot) PortCoverage {
	c := PortCoverage{Joined: len(s.Joined.Joins), Unjoined: []UnjoinedPort{}}
	for _, sw := range s.Switches {
		c.Shown += len(sw.Ports)
	}
	for _, u := range s.Joined.UnjoinedPorts {
		out := UnjoinedPort{Switch: u.Port.Switch, Port: u.Port.Port, Why: u.Why}
		if sw, ok := s.Switch(u.Port.Switch); ok {
			if p, ok := sw.Port(u.Port.Port); ok {
				out.Description = p.Description
			}
		}
		c.Unjoined = append(c.Unjoined, out)
	}
	return c
}

// states of a run in the order in which they are told.
var states = []fault.State{fault.Faulty, fault.Unknown, fault.Quiet, fault.Planned, fault.Idle, fault.Healthy}

func runCoverage(s *fault.Snapshot) RunCoverage {
	c := RunCoverage{States: map[fault.State]int{}, Unjoined: []UnjoinedRun{}}
	for _, state := range states {
		c.States[state] = 0
	}
	for _, r := range s.Runs() {
		c.Recorded++
		c.States[r.State]++
		if r.Near != nil || r.Far != nil {
			c.Joined++
		}
	}
	for _, u := range s.Joined.UnjoinedRuns {
		c.Unjoined = append(c.Unjoined, UnjoinedRun{u.Run.ID, u.End.String(), u.Why})
	}
	return c
}
