package metrics

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
)

func TestLightIsToldByLane(t *testing.T) {
	r := goldenRig()
	light := func(lane string) (float64, bool) {
		return value(t, r.Exposition, "toneout_port_received_light_dbm", "switch", "acc-n2-1", "port", "1/49", "run", "N2-M-1", "lane", lane)
	}
	got, ok := light("1")
	require.True(t, ok)
	require.Equal(t, -3.25, got)
	_, ok = light("3")
	require.False(t, ok, "what is not told is absent")
	got, ok = light("4")
	require.True(t, ok)
	require.True(t, math.IsInf(got, -1), "dark is -Inf, not absent")
	_, ok = light("5")
	require.False(t, ok)
	got, _ = value(t, r.Exposition, "toneout_port_laser_bias_amperes", "port", "1/49", "lane", "1")
	require.Equal(t, 0.0065, got)
	got, _ = value(t, r.Exposition, "toneout_port_power_events_total", "port", "1/17", "event", "denied")
	require.Equal(t, 2.0, got)
	_, ok = value(t, r.Exposition, "toneout_port_power_events_total", "port", "1/17", "event", "absent")
	require.False(t, ok)
	sameAsLibrary(t, r.Exposition)
}

// Light goes with the optic, and with three askings in which it is not told.
func TestLightGoesWithTheOptic(t *testing.T) {
	tells := func(r *rig) bool {
		_, ok := value(t, r.Exposition, "toneout_port_sent_light_dbm", "port", "1/49", "lane", "1")
		return ok
	}
	t.Run("pulled", func(t *testing.T) {
		r := goldenRig()
		require.True(t, tells(r))
		poll := access(5)
		poll.Details = &port.Details{At: poll.At, Optics: map[int]*port.Optic{}}
		r.answered("acc-n2-1", poll)
		require.False(t, tells(r))
	})
	t.Run("not told", func(t *testing.T) {
		r := goldenRig()
		for minutes := 5; minutes <= 15; minutes += 5 {
			poll := access(minutes)
			poll.Details = &port.Details{At: poll.At}
			r.answered("acc-n2-1", poll)
			require.True(t, tells(r), "%d minutes", minutes)
		}
		poll := access(16)
		poll.Details = nil
		r.answered("acc-n2-1", poll)
		require.False(t, tells(r), "older than 15 minutes")
	})
}
