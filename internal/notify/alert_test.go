package notify

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
)

// The names and labels are those of config/alerts.yml, whose parity with these
// a test of the daemon checks through a real Prometheus and Alertmanager.
func TestAlertOfAFault(t *testing.T) {
	for _, c := range []struct {
		what string
		edit func(*fault.Fault)
		want map[string]string
	}{
		{"a run's", func(*fault.Fault) {}, map[string]string{"alertname": "RunBelowDesignSpeed", "switch": "acc-n2-1", "port": "1/17",
			"run": "N2-P1-17", "kind": "below-design-speed", "severity": "warning"}},
		{"of a port without a run", func(f *fault.Fault) { f.Run, f.Kind = "", fault.FrameErrors }, map[string]string{"alertname": "RunFrameErrors",
			"switch": "acc-n2-1", "port": "1/17", "kind": "frame-errors", "severity": "warning"}},
		{"of a setting", func(f *fault.Fault) { f.About, f.Severity = fault.AboutPort, fault.Critical }, map[string]string{"alertname": "PortSetting",
			"switch": "acc-n2-1", "port": "1/17", "run": "N2-P1-17", "kind": "below-design-speed", "severity": "critical"}},
		{"of a duplex mismatch seen at the run", func(f *fault.Fault) { f.Kind = "duplex-mismatch" }, map[string]string{"alertname": "PortSetting",
			"switch": "acc-n2-1", "port": "1/17", "run": "N2-P1-17", "kind": "duplex-mismatch", "severity": "warning"}},
		{"of a name that is no UTF-8", func(f *fault.Fault) { f.Port = "a\xff\xfeb" }, map[string]string{"alertname": "RunBelowDesignSpeed",
			"switch": "acc-n2-1", "port": "a\uFFFDb", "run": "N2-P1-17", "kind": "below-design-speed", "severity": "warning"}},
	} {
		t.Run(c.what, func(t *testing.T) {
			id, ok := ofFault(with(slow(), c.edit))
			require.True(t, ok)
			require.Equal(t, c.want, id.labels())
		})
	}
}

// An alert says what page and terminal say, by the words of package fault.
func TestAnAlertCarriesTheVerdict(t *testing.T) {
	wireMap := func(f *fault.Fault) {
		f.Medium, f.NextChecks = "copper", []fault.NextCheck{{Code: fault.WireMap}}
		f.Checks = []string{"Unplug the cords."}
	}
	const ends = "Run N2-P1-17: near end acc-n2-1 port 1/17, panel N2-P1 position 17; far end outlet 214-A. "
	for _, c := range []struct {
		what                 string
		edit                 func(*fault.Fault)
		summary, description string
	}{
		{"with the caution of its check", wireMap, "Run N2-P1-17: Below design speed", ends + "Likeliest cause: a pair is open (over 90 %). First check: Unplug the cords. " +
			"Take care: The pairs may carry up to 90 W: switch the port's power off before you unplug or open anything, and keep bare hands off wet or crushed cable."},
		{"none stands out", func(f *fault.Fault) {
			f.Kind, f.Causes = fault.FrameErrors, []fault.CauseProbability{{Cause: fault.PoorTermination, Probability: 0.29}, {Cause: fault.DamagedCable, Probability: 0.28},
				{Cause: fault.BadCord, Probability: 0.22}, {Cause: fault.LoosePlug, Probability: 0.21}}
		}, "Run N2-P1-17: Damaged frames", ends + "No cause stands out. Where it may lie: the permanent link (55 %), a cord or plug (45 %). " +
			"A switch sees the run only from end to end: swap a part, or test, to tell which. First check: Swap the cords at both ends."},
		{"the record", func(f *fault.Fault) {
			f.Causes = []fault.CauseProbability{{Cause: fault.RecordWrong, Probability: 0.62}}
		}, "Run N2-P1-17: Below design speed",
			ends + "Likeliest cause: the inventory is wrong (about 60 %). First check: Swap the cords at both ends."},
		{"a setting, of a port without a run", func(f *fault.Fault) {
			f.Run, f.Far, f.About, f.Causes = "", "", fault.AboutPort, []fault.CauseProbability{{Cause: fault.SpeedSetting, Probability: 0.9}}
		}, "Port 1/17 of acc-n2-1 (no run in the inventory): Below design speed, by the port or its setting and not the cable",
			"Port 1/17 of acc-n2-1 (no run in the inventory): near end acc-n2-1 port 1/17, panel N2-P1 position 17; far end not known. " +
				"Likeliest cause: the port is set to a lower speed (about 90 %). First check: Swap the cords at both ends."},
	} {
		t.Run(c.what, func(t *testing.T) {
			require.Equal(t, map[string]string{"summary": c.summary, "description": c.description, "building": "North", "owner": "Estates"},
				faultAnnotations(with(slow(), c.edit), "North"))
		})
	}
}

// A fault that no alert knows would be told to nobody.
func TestEveryKindHasItsAlert(t *testing.T) {
	for _, kind := range fault.Kinds {
		_, ok := ofFault(with(slow(), func(f *fault.Fault) { f.Kind = kind }))
		require.True(t, ok, kind)
	}
	_, ok := ofFault(with(slow(), func(f *fault.Fault) { f.Kind = "unheard-of" }))
	require.False(t, ok)
}

func TestLinks(t *testing.T) {
	for _, c := range []struct {
		id             identity
		external, want string
	}{
		{identity{run: "N2/17 a", switchName: "s", port: "1/1"}, "https://toneout.example/n/", "https://toneout.example/n/runs/N2%2F17%20a"},
		{identity{switchName: "s", port: "1/1"}, "https://toneout.example", "https://toneout.example/ports/s/1%2F1"},
		{identity{switchName: "s"}, "https://toneout.example", "https://toneout.example/"},
		{identity{attribute: "pathway", value: "tray"}, "https://toneout.example", "https://toneout.example/shared"},
		{identity{run: "R"}, "", ""},
	} {
		require.Equal(t, c.want, c.id.link(c.external))
	}
}

func silent(name, class, behind string) *fault.Switch {
	return &fault.Switch{Name: name, Tried: true, Silent: 3, Class: class, Behind: behind}
}

// A distribution switch that dies is one alert, which says how many more
// cannot be read; a switch that refuses credentials is not dead.
func TestSilentSwitches(t *testing.T) {
	n, err := New(Options{URLs: []string{"http://am.invalid"}})
	require.NoError(t, err)
	s := showing()
	s.Switches = []*fault.Switch{
		{Name: "core-1", Tried: true, LastAnswer: time.Now()}, {Name: "acc-9", Tried: true, Silent: 2, Class: "no answer"},
		silent("dist-1", "no answer", ""), silent("acc-1", "no answer", "dist-1"), silent("acc-2", "no answer", "dist-1"),
		silent("acc-3", "credentials", ""),
	}
	n.Tell(s)
	told := map[string]string{}
	for id, h := range n.Alertmanagers[0].queue.held {
		require.Equal(t, map[string]string{"alertname": id.name, "switch": id.switchName, "severity": "warning"}, id.labels())
		told[id.name+" "+id.switchName] = h.alert.annotations["description"]
	}
	require.Len(t, told, 2)
	require.Contains(t, told["SwitchNotAnswering dist-1"], "What became of the last poll: no answer. Switches behind it that cannot be read either: 2. First check")
	require.Contains(t, told["SwitchRefusesCredentials acc-3"], "refuses these credentials")
}

// A cut cable to a switch that has no other is told with the switch.
func TestASilentSwitchNamesTheRunsToIt(t *testing.T) {
	cut := func(run, silent string) *fault.Fault {
		return &fault.Fault{Run: run, Kind: fault.NoLink, Guards: []fault.Guard{{Name: fault.ParentDown, Switch: silent}}}
	}
	s := &fault.Snapshot{Faults: []*fault.Fault{
		cut("U2", "dist"), cut("U1", "dist"), cut("", "dist"), cut("V1", "acc"), cut("W1", "core"), cut("W2", "core"), cut("W3", "core"), cut("W4", "core"),
		{Run: "X", Kind: fault.NoLink, Guards: []fault.Guard{{Name: fault.ShutByAdmin}}},
	}}
	got := cutOff(s)
	require.Equal(t, map[string]string{"dist": "U1, U2", "acc": "V1", "core": "4"}, got)
	says := silence{class: "no answer", cut: got["dist"]}.annotations(identity{name: notAnswering, switchName: "dist"})
	require.Contains(t, says["description"], "no answer. Runs to it without a link: U1, U2. First check: ")
}

// What several runs share is one alert, which closes when it lets go.
func TestASharedCauseIsOneAlert(t *testing.T) {
	n, err := New(Options{URLs: []string{"http://am.invalid"}})
	require.NoError(t, err)
	s := showing()
	s.Shared = []*fault.SharedCause{{
		SharedName: fault.SharedName{Attribute: fault.ByPathway, Value: "tray-n2-east"}, Title: "pathway North 2 east tray (tray-n2-east)",
		Severity: fault.Critical, Probability: 0.875, Members: 12, Faulty: []string{"N2-P1-17", "N2-P1-18", "N2-P1-19"}, Checks: []string{"Walk the pathway."},
		Beside: []string{"lift motor", "pumps"}, Cautions: []string{"Local rules first.", "Plant rooms and power containment are for licensed people only."},
		NextChecks: []fault.NextCheck{{Check: "Walk the pathway.", Cautions: []string{"Plant rooms and power containment are for licensed people only."}}},
	}}
	n.Tell(s)
	n.Tell(s)
	held := n.Alertmanagers[0].queue.held
	require.Len(t, held, 1)
	for id, h := range held {
		require.Equal(t, map[string]string{"alertname": "SharedCableCause", "attribute": "pathway", "value": "tray-n2-east", "severity": "critical"}, id.labels())
		require.Equal(t, map[string]string{
			"summary": "3 of 12 runs share a cause: pathway North 2 east tray (tray-n2-east)",
			"description": "They have the pathway North 2 east tray (tray-n2-east) in common, and at fault together are (12 named at most): " +
				"N2-P1-17, N2-P1-18, N2-P1-19. By the record there is beside it: lift motor, pumps. Probability that this is why: 88 %. First check: Walk the pathway. " +
				"Take care: Plant rooms and power containment are for licensed people only.",
		}, h.alert.annotations)
		require.True(t, h.alert.ended.IsZero())
	}
	n.Tell(showing())
	for _, h := range held {
		require.False(t, h.alert.ended.IsZero())
	}
}
