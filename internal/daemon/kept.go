package daemon

import (
	"encoding/json"
	"fmt"
	"time"

	"toneout/internal/fault"
	"toneout/internal/journal"
)

// kept is something that waits for the journal, as it stands in a checkpoint: a
// daemon that is killed while the journal is away loses none of it.
type kept struct {
	What   fault.EventKind      `json:"what,omitempty"`
	At     time.Time            `json:"at,omitzero"`
	ID     string               `json:"id,omitempty"`
	Record *journal.FaultRecord `json:"record,omitempty"`
	Event  *journal.Event       `json:"event,omitempty"` // in place of the others
}

// keep gives what waits, for a checkpoint that was begun at a mark. What became of
// a fault after that is left out, since the checkpoint may lack it; events that have
// an id can be told twice.
func (r *waitingRoom) keep(mark int) ([]byte, error) {
	if r == nil {
		return nil, nil
	}
	r.mutex.Lock()
	all, before := r.events, max(0, len(r.events)-(r.added-mark))
	r.mutex.Unlock() // whose elements nobody changes
	var out []kept
	for i := range all {
		switch e := &all[i]; {
		case e.event.ID != "":
			out = append(out, kept{Event: &e.event})
		case i < before:
			out = append(out, kept{What: e.fault.what, At: e.fault.at, ID: e.fault.id, Record: &e.fault.record})
		}
	}
	if len(out) == 0 {
		return nil, nil
	}
	data, err := json.Marshal(out)
	if err != nil {
		return nil, fmt.Errorf("keep %d events that wait for the journal: %w", len(out), err)
	}
	return data, nil
}

// restore takes what a checkpoint kept.
func (r *waitingRoom) restore(data []byte) error {
	if len(data) == 0 {
		return nil
	}
	var all []kept
	if err := json.Unmarshal(data, &all); err != nil {
		return fmt.Errorf("read the events that the checkpoint keeps: %w", err)
	}
	var events []waiting
	for _, k := range all {
		switch {
		case k.Event != nil:
			events = append(events, waiting{event: *k.Event})
		case k.Record != nil:
			events = append(events, waiting{fault: happening{k.What, k.At, k.ID, *k.Record}, again: true})
		}
	}
	r.add(events...)
	return nil
}
