package web

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// riser is two switches with 10GBASE-SR at both ends of 30 m of OM4, of which
// the second receives as told; a port beside it feeds a device.
func riser(polls int, received ...float64) *fault.Snapshot {
	inventory := plant.New(plant.Plant{
		Cables: []*plant.Cable{{ID: "riser-om4", Media: standards.Fibre, Fibre: "OM4"}},
		Runs: []*plant.Run{{ID: "RISER-1", Switch: "a", Port: "1/49", FarSwitch: "b", FarPort: "1/49", Cable: "riser-om4", LengthM: port.Some(30.0),
			Connectors: port.Some(2), Optic: "10GBASE-SR", FarOptic: "10GBASE-SR", DesignSpeed: 10 * standards.Gbps, Status: plant.Live}},
	})
	tracker := fault.NewTracker(inventory, fault.Settings{Switches: []fault.SwitchSettings{{Name: "a"}, {Name: "b"}}, PollEvery: time.Minute, FalseAlarmsPerWeek: 1})
	ends, feeding := []*socket{up("1/49", ""), up("1/49", "")}, up("1/1", "")
	for _, s := range ends {
		s.mbps, s.mau, s.far = 10000, 36, 0
	}
	var snapshot *fault.Snapshot
	for poll := range polls {
		at := start.Add(time.Duration(poll) * 5 * time.Minute)
		for i, name := range []string{"a", "b"} {
			level := -4.0
			if i == 1 {
				level = received[min(poll, len(received)-1)]
			}
			details := &port.Details{At: at, Optics: map[int]*port.Optic{1: {Serial: "S-" + name, Model: "SR" + nasty, Celsius: port.Some(40.0),
				Lanes: []port.Lane{{Received: port.Some(port.Light(level)), Sent: port.Some(port.Light(-2.5)), BiasMA: port.Some(6.5)}}}},
				Power: map[int]port.Power{2: {Enabled: port.Yes, Status: port.PowerDelivering, Class: port.Some(3), Shorts: port.Some(uint32(1)), Denied: port.Some(uint32(0))}}}
			uptime := uint32(1_000_000 + 30_000*poll)
			snapshot = tracker.Answered(name, port.Poll{At: at, Uptime: port.Some(uptime), Details: details,
				Ports: []port.Reading{ends[i].reading(at, uptime, 1), feeding.reading(at, uptime, 2)}})
		}
	}
	return snapshot
}

// 10GBASE-SR sends -7.3 to -1.0 and takes -9.9 to -1.0 dBm (IEEE 802.3 clause
// 52); the way ought to lose 1.6 dB at most (two connections of 0.75 dB, 30 m
// at 3.0 dB/km: ANSI/TIA-568.3-D).
func TestTheLightOfARun(t *testing.T) {
	server := serve(t, source(riser(16, -4)))
	_, body := get(t, server.URL+"/api/runs/RISER-1")
	var run RunDetail
	require.NoError(t, json.Unmarshal([]byte(body), &run))
	far := run.Ports.Far.Optic
	require.NotNil(t, far)
	require.Equal(t, "S-b", far.Serial)
	require.Equal(t, "10GBASE-SR", far.PHY)
	require.Equal(t, []float64{-9.9, -1}, []float64{*far.TakesLeastDBm, *far.TakesMostDBm})
	require.InDelta(t, -7.3-1.6, *far.ExpectedLeastDBm, 0.05)
	require.InDelta(t, 1.6, *far.LossMostDB, 0.05)
	require.Equal(t, Place{Switch: "a", Port: "1/49"}, *far.From)
	lane := far.Lanes[0]
	require.Equal(t, LaneNow{Lane: 1, ReceivedDBm: figure(-4), UsualReceivedDBm: figure(-4), Standing: "inside", SentDBm: figure(-2.5), UsualSentDBm: figure(-2.5),
		BiasMA: figure(6.5), LossDB: figure(1.5), UsualLossDB: figure(1.5)}, lane)

	_, page := get(t, server.URL+"/runs/RISER-1")
	for _, text := range []string{"The light now", "far end, b 1/49", "-9.9 to -1 dBm, 10GBASE-SR", "usual -4 dBm", "usual 1.5 dB", "inside the window", "Never look into a fibre"} {
		require.Contains(t, page, text)
	}
	require.NotContains(t, page, nasty)
	_, page = get(t, server.URL+"/ports/b/1%2F1")
	require.Contains(t, page, "delivering, class 3; 1 short circuit; no refusals")
}

func TestLightThatIsNotAsItOughtToBe(t *testing.T) {
	rows := []struct {
		name     string
		polls    int
		received []float64
		standing string
		says     string
	}{
		{"dark", 2, []float64{float64(port.NoLight)}, "outside", "no light"},
		{"below the window", 2, []float64{-10.5}, "outside", "outside the window"},
		{"above the window", 2, []float64{-0.5}, "outside", "outside the window"},
		{"fallen", 14, append(repeated(-3, 13), -5.5), "changed", "2 dB or more from usual"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			server := serve(t, source(riser(row.polls, row.received...)))
			_, body := get(t, server.URL+"/api/runs/RISER-1")
			var run RunDetail
			require.NoError(t, json.Unmarshal([]byte(body), &run), "JSON knows no infinity")
			require.Equal(t, row.standing, run.Ports.Far.Optic.Lanes[0].Standing)
			_, page := get(t, server.URL+"/runs/RISER-1")
			require.Contains(t, page, row.says)
			require.NotContains(t, strings.ToLower(page), "inf dbm")
		})
	}
}

func repeated(v float64, times int) (out []float64) {
	for range times {
		out = append(out, v)
	}
	return out
}

// A device's class is known while it is fed alone (RFC 3621, pethPsePortPowerClassifications:
// "only valid while a PD is being powered").
func TestAClassIsToldWhileThePortDeliversAlone(t *testing.T) {
	rows := map[port.PowerStatus]string{
		port.PowerDelivering: "delivering, class 3; no short circuits",
		port.PowerSearching:  "searching for a device to feed; no short circuits",
		port.PowerFault:      "fault; no short circuits",
		port.PowerDisabled:   "disabled; no short circuits",
	}
	for status, words := range rows {
		now := PortNow{Power: powerNow(&port.Power{Status: status, Class: port.Some(3), Shorts: port.Some(uint32(0))})}
		require.Equal(t, words, now.PowerWords())
		require.Equal(t, status == port.PowerDelivering, now.Power.Class != nil, "the JSON holds it where the words do")
	}
}
