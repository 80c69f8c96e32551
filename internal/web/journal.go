package web

import (
	"cmp"
	"context"
	"slices"
	"time"
)

// Journal keeps what people tell. Its functions are called from many goroutines;
// what one that writes returns nil for is on the disk. An error says why nothing
// could be read or written.
type Journal struct {
	Repairs func(ctx context.Context, run string) ([]Repair, error) // "" for every run's
	Works   func(context.Context) ([]PlannedWork, error)
	Notes   func(ctx context.Context, run string) ([]Note, error)
	Taken   func(ctx context.Context, run string) ([]Taken, error)

	Repair func(context.Context, *Repair) error // fills ID and At
	Plan   func(context.Context, *PlannedWork) error
	Note   func(context.Context, *Note) error
	Take   func(context.Context, *Taken) error
}

// Repair is what somebody did about a run. Faults are the kinds that were open on
// it then.
type Repair struct {
	ID     string    `json:"id"`
	At     time.Time `json:"at"`
	Run    string    `json:"run"`
	Cause  string    `json:"cause"`
	By     string    `json:"by"`
	Note   string    `json:"note,omitempty"`
	Faults []string  `json:"faults"`

	Outcome   string     `json:"outcome,omitempty"` // proven, or failed where its fault returned; left out while neither
	OutcomeAt *time.Time `json:"outcome_at,omitempty"`
}

// What became of a repair.
const (
	RepairProven = "proven"
	RepairFailed = "failed"
)

// PlannedWork is announced work. To announce it otherwise, with its id: the
// latest holds.
type PlannedWork struct {
	ID   string            `json:"id"`
	At   time.Time         `json:"at"`
	On   map[string]string `json:"on"` // one attribute: run, panel, pathway, space, switch or plant
	From time.Time         `json:"from"`
	To   time.Time         `json:"to"`
	By   string            `json:"by"`
	Why  string            `json:"why"`

	Ended *WorkOutcome `json:"ended,omitempty"` // once it came to its end
}

// WorkOutcome is what is worse at the end of planned work than before it began.
type WorkOutcome struct {
	At     time.Time    `json:"at"`
	Worse  []WorseFault `json:"worse"`
	Silent []string     `json:"silent"` // switches that answered before
}

// With is both outcomes together; either may be nil.
func (o *WorkOutcome) With(other *WorkOutcome) *WorkOutcome {
	if o == nil || other == nil {
		return cmp.Or(o, other)
	}
	both := *o
	both.Worse = append(slices.Clone(other.Worse), o.Worse...)
	both.Silent = append(slices.Clone(other.Silent), o.Silent...)
	return &both
}

// WorseFault is a fault that was not there before, or milder.
type WorseFault struct {
	Run      string `json:"run"`
	Switch   string `json:"switch"`
	Port     string `json:"port"`
	Kind     string `json:"kind"`
	Severity string `json:"severity"`
	Summary  string `json:"summary"`
}

// Note is what somebody wants to be known of a run, a port, a switch or the plant.
type Note struct {
	ID     string    `json:"id"`
	At     time.Time `json:"at"`
	Run    string    `json:"run,omitempty"`
	Switch string    `json:"switch,omitempty"`
	Port   string    `json:"port,omitempty"`
	By     string    `json:"by"`
	Note   string    `json:"note"`
}

// Taken is that somebody is at an open fault.
type Taken struct {
	ID     string    `json:"id"`
	At     time.Time `json:"at"`
	Run    string    `json:"run,omitempty"`
	Switch string    `json:"switch,omitempty"`
	Port   string    `json:"port,omitempty"`
	Kind   string    `json:"kind"`
	By     string    `json:"by"`
	Note   string    `json:"note,omitempty"`
}
