package journal

import (
	"encoding/json"
	"fmt"
	"time"

	"toneout/internal/fault"
)

// Kind is what happened.
type Kind string

// The kinds of events.
const (
	FaultOpened  Kind = "fault-opened"
	FaultChanged Kind = "fault-changed" // it alarms or does not any longer, or has another severity, place or leading cause
	FaultClosed  Kind = "fault-closed"
	FaultTaken   Kind = "fault-taken" // somebody is at it

	RepairMade   Kind = "repair"
	RepairProven Kind = "repair-proven"
	RepairFailed Kind = "repair-failed" // errors returned before it was proven

	WorkPlanned Kind = "planned-work"
	WorkEnded   Kind = "planned-work-ended" // with what is worse than before it began

	NoteMade         Kind = "note"
	InventoryChanged Kind = "inventory-changed"
)

// Event is something that happened. It is written once and never changed.
type Event struct {
	ID   string    // what makes it one: an event that is appended twice is one event
	Kind Kind      //
	At   time.Time // when it happened
	By   string    // who told of it: a person, or the daemon by its name

	Run, Switch, Port string // what it is about; "" where it is about none

	Fault     string // the fault's identity, by FaultID; "" where it is of none
	FaultKind fault.Kind
	Since     time.Time // since when the fault is open

	Data json.RawMessage // the rest, of a type by its kind: FaultRecord, Repair, ...
}

// With gives the event with its data.
func (e Event) With(data any) (Event, error) {
	text, err := json.Marshal(data)
	if err != nil {
		return e, fmt.Errorf("write the event %s: %w", e.ID, err)
	}
	e.Data = text
	return e, nil
}

// FaultID is a fault's identity: its run, or its port where it has none, its
// kind, and since when it is open.
func FaultID(f *fault.Fault) string {
	return fmt.Sprintf("%s %s %s", placeOf(f), f.Kind, stamp(f.Since))
}

func placeOf(f *fault.Fault) string {
	if f.Run != "" {
		return fmt.Sprintf("run %q", f.Run)
	}
	return fmt.Sprintf("port %q %q", f.Switch, f.Port)
}

// stampLayout writes times of one length, so that they sort as texts do.
const stampLayout = "2006-01-02T15:04:05.000000Z"

func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(stampLayout)
}

func parseStamp(text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	return time.Parse(stampLayout, text)
}
