package web

import (
	"net/http"
	"path/filepath"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
)

// Coverage is what is not seen, and of how much.
type Coverage struct {
	At        *time.Time        `json:"at,omitempty"` // of the last poll
	Switches  SwitchCoverage    `json:"switches"`
	Ports     PortCoverage      `json:"ports"`
	Runs      RunCoverage       `json:"runs"`
	Links     LinkCoverage      `json:"links"`
	Conflicts []Conflict        `json:"conflicts"` // record and switches contradict each other
	Problems  []InventoryError  `json:"problems"`  // rows lost for an error in the inventory's files
	Inventory InventoryCoverage `json:"inventory"`
	Stale     []StaleRow        `json:"stale"` // rows of the inventory that no longer fit what is seen
	Moves     []Move            `json:"moves"` // latest first
	History   *Recording        `json:"history,omitempty"`
}

// LinkCoverage counts cables between watched switches.
type LinkCoverage struct {
	Known      int    `json:"known"`
	Heard      int    `json:"heard"` // one of the ends hears the other
	WithoutRun []Link `json:"without_run"`
}

// Link is a cable between two watched switches.
type Link struct {
	A     Place `json:"a"`
	B     Place `json:"b"`
	Heard bool  `json:"heard"`
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

// InventoryCoverage is how the inventory's files were read.
type InventoryCoverage struct {
	Files   []string   `json:"files"` // without their directories
	Loaded  *time.Time `json:"loaded,omitempty"`
	Refused string     `json:"refused,omitempty"` // why what they hold now is not used
}

// StaleRow is one end of a run whose row no longer fits what is seen.
type StaleRow struct {
	Run string `json:"run"`
	End string `json:"end"`
	Why string `json:"why"`
}

// Move is something that was seen to change its place.
type Move struct {
	At   *time.Time `json:"at,omitempty"`
	What string     `json:"what"`
	From *Place     `json:"from,omitempty"`
	To   *Place     `json:"to,omitempty"`
}

func (s Source) coverage(_ *http.Request, snapshot *fault.Snapshot) (any, error) {
	c := coverageOf(snapshot, s.Inventory())
	c.History = s.recording()
	return c, nil
}

func coverageOf(s *fault.Snapshot, inventory InventoryState) Coverage {
	c := Coverage{
		At: timePointer(s.At), Switches: switchCoverage(s), Ports: portCoverage(s), Runs: runCoverage(s), Links: linkCoverage(s),
		Conflicts: []Conflict{}, Problems: []InventoryError{}, Stale: staleRows(s), Moves: []Move{},
		Inventory: InventoryCoverage{[]string{}, timePointer(inventory.Loaded), inventory.Refused},
	}
	for _, conflict := range s.Joined.Conflicts {
		ports := []Place{}
		for _, p := range conflict.Ports {
			ports = append(ports, Place(p))
		}
		c.Conflicts = append(c.Conflicts, Conflict{ports, append([]string{}, conflict.Runs...), conflict.Text})
	}
	for _, p := range inventory.Problems {
		c.Problems = append(c.Problems, InventoryError{filepath.Base(p.File), p.Line, p.Kind, p.ID, p.Text})
	}
	for _, file := range s.Plant.Files {
		c.Inventory.Files = append(c.Inventory.Files, filepath.Base(file))
	}
	for _, m := range s.Moves {
		c.Moves = append(c.Moves, Move{timePointer(m.At), m.What, placePointer(m.From), placePointer(m.To)})
	}
	return c
}

func linkCoverage(s *fault.Snapshot) LinkCoverage {
	c := LinkCoverage{Known: len(s.Links), WithoutRun: []Link{}}
	for _, l := range s.Links {
		if l.Seen {
			c.Heard++
		}
		if l.Run == "" {
			c.WithoutRun = append(c.WithoutRun, Link{Place(l.A), Place(l.B), l.Seen})
		}
	}
	return c
}

func staleRows(s *fault.Snapshot) []StaleRow {
	out := []StaleRow{}
	for _, row := range s.Plant.Stale(s.Joined, sightings(s)) {
		out = append(out, StaleRow{row.Run.ID, row.End.String(), row.Why})
	}
	return out
}

// sightings tell what is seen of ports now; false while their switch does not
// answer.
func sightings(s *fault.Snapshot) func(plant.PortRef) (plant.Sighting, bool) {
	return func(ref plant.PortRef) (plant.Sighting, bool) {
		sw, ok := s.Switch(ref.Switch)
		if !ok || !sw.Answering() {
			return plant.Sighting{}, false
		}
		p, ok := sw.Port(ref.Port)
		if !ok {
			return plant.Sighting{}, false
		}
		seen := plant.Sighting{Up: p.Oper == port.Up}
		if !seen.Up && !p.DownSince.IsZero() {
			seen.DownFor = s.At.Sub(p.DownSince)
		}
		if len(p.Neighbours) == 1 && p.Peer == (plant.PortRef{}) {
			seen.Device = p.Neighbours[0].System
		}
		return seen, true
	}
}

// placePointer is nil for no port.
func placePointer(ref plant.PortRef) *Place {
	if ref == (plant.PortRef{}) {
		return nil
	}
	return (*Place)(&ref)
}
