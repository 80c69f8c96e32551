package daemon

import (
	"time"

	"toneout/internal/fault"
	"toneout/internal/metrics"
)

func (w *owner) replace(c change) *fault.Snapshot {
	w.tracker = fault.NewTracker(c.setup.Plant, c.setup.settings())
	return w.tracker.Snapshot()
}

func inventoryTold(*metrics.Exposition, bool, time.Time, int) {}

func notified(*metrics.Exposition) func(string, string, int) { return nil }
