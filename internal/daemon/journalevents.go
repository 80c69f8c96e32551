package daemon

import (
	"fmt"
	"time"

	"toneout/internal/journal"
	"toneout/internal/plant"
)

// inventoryChange is the data of an event of its kind: ids of runs, the first
// hundred of each.
type inventoryChange struct {
	Runs     int      `json:"runs"`
	Problems int      `json:"problems"`
	Added    []string `json:"added,omitempty"`
	Removed  []string `json:"removed,omitempty"`
	Changed  []string `json:"changed,omitempty"`
	More     int      `json:"more,omitempty"` // that are not named
}

// mostNamed is how many runs of each sort a change of the inventory names.
const mostNamed = 100

// tellInventory hands over what another inventory changed, if anything.
func (w *journalWriter) tellInventory(before, now *plant.Plant, problems int, at time.Time) {
	if w == nil || before == now {
		return
	}
	c := inventoryChange{Runs: len(now.Runs), Problems: problems}
	name := func(list *[]string, id string) {
		if len(*list) < mostNamed {
			*list = append(*list, id)
		} else {
			c.More++
		}
	}
	for _, run := range now.Runs {
		if was := before.Run(run.ID); was == nil {
			name(&c.Added, run.ID)
		} else if !was.SaysAlike(run) {
			name(&c.Changed, run.ID)
		}
	}
	for _, run := range before.Runs {
		if now.Run(run.ID) == nil {
			name(&c.Removed, run.ID)
		}
	}
	if len(c.Added)+len(c.Changed)+len(c.Removed) == 0 {
		return
	}
	e, err := journal.Event{ID: fmt.Sprintf("inventory %s %s", w.by, stamp(at)), Kind: journal.InventoryChanged, At: at, By: w.by}.With(c)
	if err == nil {
		w.room.add(waiting{event: e})
	}
}
