package metrics

import (
	"errors"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// college is a small plant: an access switch, a core switch and one that
// falls silent; runs with one port, with two, and with none.
func college() *plant.Plant {
	return plant.New(plant.Plant{
		Site: "Ferrow Quay College",
		Spaces: []*plant.Space{
			{ID: "N2-TR", Building: "North"}, {ID: "N1-TR", Building: "North"}, {ID: "M-TR", Building: "Main"},
		},
		Panels:   []*plant.Panel{{ID: "N2-P1", Space: "N2-TR"}},
		Pathways: []*plant.Pathway{{ID: "tray-n2-east"}, {ID: "riser-n"}, {ID: "duct-nm"}},
		Cables: []*plant.Cable{
			{ID: "horizontal-6a", Media: standards.Copper, Category: "6A"}, {ID: "riser-om4", Media: standards.Fibre, Fibre: "OM4"},
		},
		Runs: []*plant.Run{
			{ID: "N2-P1-17", Switch: "acc-n2-1", Port: "1/17", Cable: "horizontal-6a", LengthM: port.Some(62.5),
				Panel: "N2-P1", Position: "17", Outlet: "214-A", Pathways: []string{"tray-n2-east", "riser-n"},
				Bundle: "N2-B3", Installer: "crew 4", DesignSpeed: standards.Gbps, Owner: "Estates"},
			{ID: "N2-M-1", Switch: "acc-n2-1", Port: "1/49", FarSwitch: "core-m", FarPort: "2/1", Segments: []plant.Segment{
				{Cable: "riser-om4", LengthM: port.Some(40.0), Pathways: []string{"riser-n"}},
				{Cable: "riser-om4", LengthM: port.Some(110.0), Pathways: []string{"duct-nm"}},
			}, DesignSpeed: 10 * standards.Gbps},
			{ID: "N1-P1-1", Switch: "acc-n1-1", Port: "1/1", Cable: "horizontal-6a", DesignSpeed: standards.Gbps},
			{ID: "N2-P1-48", Switch: "acc-n2-1", Port: "1/48", Cable: "horizontal-6a", Panel: "N2-P1", Position: "48"},
		},
	})
}

func settings() fault.Settings {
	return fault.Settings{
		Switches: []fault.SwitchSettings{
			{Name: "acc-n2-1", Space: "N2-TR"}, {Name: "core-m", Space: "M-TR"}, {Name: "acc-n1-1", Space: "N1-TR"},
		},
		PollEvery: time.Minute, FalseAlarmsPerWeek: 1,
	}
}

// portAt is a port that is up at a speed, in the poll of that number.
func portAt(poll int, index int, name string, speed standards.Speed, counters func(*port.Counters)) port.Reading {
	r := port.Reading{
		At: noon.Add(time.Duration(poll) * time.Minute), Uptime: port.Some(uint32(100_000 + 6000*poll)),
		Index: index, Name: name, Type: 6, Connector: port.Yes, Admin: port.Up, Oper: port.Up,
		HighSpeed: port.Some(uint32(speed / standards.Mbps)), DuplexStatus: standards.FullDuplex,
	}
	if counters != nil {
		counters(&r.Counters)
	}
	return r
}

// traffic counts frames of 1,000 octets, so many in each poll, and damaged
// ones.
func traffic(poll, frames, damaged int) func(*port.Counters) {
	return func(c *port.Counters) {
		good := uint64(poll * frames)
		c.Set64(port.InUnicast, good)
		c.Set64(port.InOctets, 1000*good)
		c.Set64(port.OutOctets, 500*good)
		c.Set32(port.FCS, uint32(poll*damaged))
		for _, k := range []port.Counter{port.Alignment, port.Symbol, port.TooLong, port.InternalReceive, port.LateCollisions, port.ExcessiveCollisions} {
			c.Set32(k, 0)
		}
	}
}

// access is what acc-n2-1 answers: a slow run, a trunk, a port without a
// record that counts errors, one that is down, and one that counts no errors
// and tells no duplex.
func access(poll int) port.Poll {
	down := portAt(poll, 3, "1/3", standards.Gbps, nil)
	down.Oper = port.Down
	terse := portAt(poll, 4, "1/4", 100*standards.Mbps, func(c *port.Counters) { c.Set32(port.InUnicast, uint32(10*poll)) })
	terse.DuplexStatus = standards.DuplexUnknown
	all := answer(poll,
		portAt(poll, 17, "1/17", 100*standards.Mbps, traffic(poll, 60_000, 0)),
		portAt(poll, 49, "1/49", 10*standards.Gbps, traffic(poll, 6_000_000, 0)),
		portAt(poll, 2, "1/2", standards.Gbps, traffic(poll, 60_000, 30)),
		down, terse)
	all.Tables = []port.Table{{Name: "ifTable", State: port.TableGiven}, {Name: "dot3StatsTable", State: port.TableGiven},
		{Name: "ifMauTable", State: port.TableHidden}}
	all.Details = accessDetails
	return all
}

// accessDetails is what acc-n2-1 tells on the slow clock: an optic of four
// lanes, of which the last is dark and the third tells nothing received, and a
// port that feeds.
var accessDetails = &port.Details{
	At: noon,
	Optics: map[int]*port.Optic{49: {Serial: "FQ-1", Celsius: port.Some(41.5), Lanes: []port.Lane{
		{Received: port.Some(port.Light(-3.25)), Sent: port.Some(port.Light(-1.5)), BiasMA: port.Some(6.5)},
		{Received: port.Some(port.Light(-3.5)), Sent: port.Some(port.Light(-1.5)), BiasMA: port.Some(6.25)},
		{Sent: port.Some(port.Light(-1.75))},
		{Received: port.Some(port.NoLight), Sent: port.Some(port.Light(-1.5))},
	}}},
	Power: map[int]port.Power{17: {Status: port.PowerDelivering, Shorts: port.Some(uint32(1)), Overloads: port.Some(uint32(0)), Denied: port.Some(uint32(2))}},
}

func core(poll int) port.Poll {
	return answer(poll, portAt(poll, 1, "2/1", 10*standards.Gbps, traffic(poll, 3_000_000, 3)))
}

func answer(poll int, ports ...port.Reading) port.Poll {
	return port.Poll{At: noon.Add(time.Duration(poll) * time.Minute), Uptime: port.Some(uint32(100_000 + 6000*poll)), Ports: ports}
}

// rig is an exposition behind a real tracker.
type rig struct {
	*fault.Tracker
	*Exposition
	latest *fault.Snapshot
}

func newRig(p *plant.Plant) *rig { return &rig{fault.NewTracker(p, settings()), New(), nil} }

func (r *rig) answered(name string, poll port.Poll) {
	r.latest = r.Tracker.Answered(name, poll)
	r.Polled(name, Answered, 0.04)
	r.Update(r.latest, name)
}

func (r *rig) failed(name string, poll int) {
	r.latest = r.Tracker.Failed(name, noon.Add(time.Duration(poll)*time.Minute), "no answer", errors.New("no answer within 6 s"))
	r.Polled(name, "no answer", 6)
	r.Update(r.latest, name)
}

// verdicts are the golden exposition's faults, written out here so that it
// doesn't change with the wording and the weights of package fault.
var verdicts = []fault.Fault{
	{Run: "N2-M-1", Switch: "acc-n2-1", Port: "1/49", Kind: fault.FrameErrors, About: fault.AboutRun, Severity: fault.Critical,
		Causes: []fault.CauseProbability{{Cause: fault.DirtyConnector, Probability: 0.75}, {Cause: fault.BentFibre, Probability: 0.25}},
		Checks: []string{"Inspect, clean and inspect again, both ends."}, Alarm: true,
		Medium: "fibre", NextChecks: []fault.NextCheck{{Code: fault.CleanConnectors}},
		Near: "acc-n2-1 port 1/49", Far: "core-m port 2/1", Space: "N2-TR"},
	{Run: "N2-P1-17", Switch: "acc-n2-1", Port: "1/17", Kind: fault.BelowDesignSpeed, About: fault.AboutRun, Severity: fault.Warning,
		Causes: []fault.CauseProbability{{Cause: fault.OpenPair, Probability: 1}},
		Checks: []string{"Swap the cords at both ends."}, Alarm: true,
		Near: "acc-n2-1 port 1/17, panel N2-P1 position 17", Far: "outlet 214-A", Space: "N2-TR", Owner: "Estates"},
	{Switch: "acc-n2-1", Port: "1/2", Kind: fault.FrameErrors, About: fault.AboutRun, Severity: fault.Warning,
		Causes: []fault.CauseProbability{{Cause: fault.BadCord, Probability: 0.28}, {Cause: fault.PoorTermination, Probability: 0.27},
			{Cause: fault.Interference, Probability: 0.25}, {Cause: fault.PortFaulty, Probability: 0.2}},
		Checks: []string{"Swap the cord at the panel."}, Alarm: true,
		Near: `acc-n2-1 port 1/2 ("Print room")`, Space: "N2-TR"},
	{Run: "N2-P1-17", Switch: "acc-n2-1", Port: "1/17", Kind: fault.FrameErrors, About: fault.AboutPort, Severity: fault.Warning,
		Causes: []fault.CauseProbability{{Cause: fault.DuplexSetting, Probability: 1}},
		Checks: []string{"Compare the settings of both ends."}, Alarm: true,
		Near: "acc-n2-1 port 1/17, panel N2-P1 position 17", Far: "outlet 214-A", Space: "N2-TR", Owner: "Estates"},
	{Switch: "acc-n2-1", Port: "1/4", Kind: fault.BelowDesignSpeed, About: fault.AboutFarEnd, Severity: fault.Warning,
		Causes: []fault.CauseProbability{{Cause: fault.FarEndAsleep, Probability: 1}},
		Checks: []string{"None: wait for traffic."}, Quiet: true, Near: "acc-n2-1 port 1/4", Space: "N2-TR"},
}

// goldenRig is the small plant after three polls, two switches answering and
// one fallen silent.
func goldenRig() *rig {
	r := newRig(college())
	r.answered("acc-n1-1", answer(0, portAt(0, 1, "1/1", standards.Gbps, traffic(0, 100, 0))))
	for poll := range 4 {
		r.answered("acc-n2-1", access(poll))
		r.answered("core-m", core(poll))
	}
	for poll := 1; poll <= 3; poll++ {
		r.failed("acc-n1-1", poll)
	}
	judged := *r.latest
	judged.Faults = pointers(verdicts)
	judged.Shared = []*fault.SharedCause{{
		SharedName: fault.SharedName{Attribute: fault.ByPathway, Value: "riser-n"}, Title: "pathway Riser north (riser-n)", Severity: fault.Critical,
		Probability: 0.875, Members: 12, Faulty: []string{"N2-M-1", "N2-M-2", "N2-M-3"}, Checks: []string{"Walk the pathway."},
		Beside: []string{"lift motor"}, Cautions: []string{"Plant rooms and power containment are for licensed people only."},
		NextChecks: []fault.NextCheck{{Check: "Walk the pathway.", Cautions: []string{"Plant rooms and power containment are for licensed people only."}}},
	}}
	r.latest = &judged
	r.Update(r.latest, "core-m")
	r.Inventory(true, noon.Add(-time.Hour), 2)
	r.Notified("http://127.0.0.1:9093", "sent", 7)
	r.Checkpoint(true, noon)
	r.Journal(false, 2, 0)
	r.History(true, 3)
	return r
}

// promtool finds the outside judge of expositions and rules.
func promtool(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("promtool")
	if err != nil && os.Getenv("TONEOUT_SYSTEM_TESTS") == "1" {
		t.Fatal("promtool is missing, and TONEOUT_SYSTEM_TESTS=1 wants it")
	}
	if err != nil {
		t.Skip("promtool is not installed (Debian package prometheus)")
	}
	return path
}

func run(t *testing.T, command *exec.Cmd) string {
	t.Helper()
	out, err := command.CombinedOutput()
	require.NoError(t, err, "%s", out)
	return string(out)
}
