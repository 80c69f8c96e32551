package journal

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
)

// The keys of a record outlast changes of what it is made from: this text changes
// by additions only.
func TestAFaultsRecord(t *testing.T) {
	f := &fault.Fault{
		Run: "R", Switch: "sw-1", Port: "1/1", Kind: fault.LowLight, About: fault.AboutRun, Severity: fault.Warning, Since: noon, Summary: "Too dark.",
		Evidence: []string{"e"}, Causes: []fault.CauseProbability{{Cause: fault.DirtyConnector, Probability: 0.75}}, Medium: "fibre", Alarm: true,
		NextChecks: []fault.NextCheck{{Code: fault.CleanConnectors, Check: "Inspect, clean, inspect."}}, Cautions: []string{"c"},
		Guards: []fault.Guard{{Name: fault.AtWork, Says: "g"}}, Near: "here", Far: "there", Space: "TR", Owner: "o",
	}
	r := RecordOf(f, &fault.Snapshot{Plant: plant.New(plant.Plant{})})
	r.Along = AlongOf(plant.New(plant.Plant{Runs: []*plant.Run{{
		ID: "R", Installer: "Harrow", Pathways: []string{"riser"},
		Segments: []plant.Segment{{Cable: "om4", Pathways: []string{"riser", "tray"}}, {Cable: "om4"}},
	}}}), "R")
	r.Readings = []ReadingRecord{
		readingOf(&fault.Port{Switch: "sw-1", Name: "1/1", LastReading: noon, Oper: port.Up, Light: &fault.PortLight{Lanes: []fault.LaneLight{
			{Received: port.Some(port.NoLight), Sent: port.Some(port.Light(-2.5))}, {Received: port.Some(port.Light(-30)), Loss: port.Some(3.5)},
		}}}),
		readingOf(&fault.Port{Switch: "sw-2", Name: "1/2", LastReading: noon, Hour: fault.Hour{Seconds: 3600, Frames: 5, Bits: 4000, Judged: fault.Judged{Seconds: 3600}}}),
	}
	text, err := json.Marshal(r)
	require.NoError(t, err)
	require.JSONEq(t, `{"run": "R", "switch": "sw-1", "port": "1/1", "near": "here", "far": "there", "space": "TR", "owner": "o", "medium": "fibre",
		"pathways": ["riser", "tray"], "cables": ["om4"], "installer": "Harrow",
		"kind": "low-light", "about": "run", "severity": "warning", "since": "2026-03-02T12:00:00Z", "summary": "Too dark.", "evidence": ["e"],
		"causes": [{"cause": "dirty-connector", "probability": 0.75}], "checks": [{"code": "inspect-clean-inspect", "check": "Inspect, clean, inspect."}],
		"cautions": ["c"], "guards": [{"name": "planned", "says": "g"}], "planned": false, "quiet": false, "alarm": true, "readings": [
			{"switch": "sw-1", "port": "1/1", "at": "2026-03-02T12:00:00Z", "link": "up", "link_changes": 0,
			 "lanes": [{"dark": true, "sent_dbm": -2.5}, {"received_dbm": -30, "loss_db": 3.5}]},
			{"switch": "sw-2", "port": "1/2", "at": "2026-03-02T12:00:00Z", "link_changes": 0, "hour_seconds": 3600, "hour_frames": 5, "hour_bits": 4000, "hour_errored": 0}]}`,
		string(text))
	var back FaultRecord
	require.NoError(t, json.Unmarshal(text, &back))
	require.Equal(t, r, back)
}
