package web

import (
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// The auto-negotiation offers of RFC 4836: 10/100/1000 full duplex, and
// 10/100 alone.
var (
	gigabit = standards.ParseAbilities([]byte{0x6C, 0x01})
	legacy  = standards.ParseAbilities([]byte{0x6C, 0x00})
)

var (
	start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	zone  = time.FixedZone("FQT", 3600)
)

// socket is one port of the fixture and what comes in each poll.
type socket struct {
	name, alias string
	oper        port.Status
	mbps        uint32
	mau         int
	far         standards.Abilities
	frames      uint64
	errored     uint64
	uncounted   bool // the switch does not count damaged frames

	good, bad uint64
}

func up(name, alias string) *socket {
	return &socket{name: name, alias: alias, oper: port.Up, mbps: 1000, mau: 30, far: gigabit, frames: 60_000}
}

func (s *socket) reading(at time.Time, uptime uint32, index int) port.Reading {
	if s.oper == port.Up {
		s.good, s.bad = s.good+s.frames, s.bad+s.errored
	}
	r := port.Reading{
		At: at, Uptime: port.Some(uptime), Index: index, Name: s.name, Alias: s.alias, Type: 6, Connector: port.Yes,
		Admin: port.Up, Oper: s.oper, HighSpeed: port.Some(s.mbps), MAU: s.mau,
		AutoNeg: port.AutoNegotiation{Enabled: port.Yes, Capable: port.Some(gigabit), Advertised: port.Some(gigabit), Received: port.Some(s.far)},
	}
	r.Counters.Set64(port.InOctets, 500*s.good)
	r.Counters.Set64(port.InUnicast, s.good)
	if !s.uncounted {
		r.Counters.Set32(port.FCS, uint32(s.bad))
	}
	return r
}

// nasty is markup as somebody may write it on a port or into a record.
const nasty = `<script>alert("N2")</script>`

// oddID is a run's id that no path may hold as it is.
const oddID = "N2/P1 #9?&%2F<b>é"

// college is an inventory that shows every state.
func college() *plant.Plant {
	horizontal := func(id, portName string) *plant.Run {
		return &plant.Run{ID: id, Switch: "acc-n2-1", Port: portName, Cable: "horizontal-6a", LengthM: port.Some(62.0),
			Panel: "N2-P1", Position: portName, Outlet: "214-A", DesignSpeed: standards.Gbps, Pathways: []string{"tray-n2-east"},
			Importance: plant.Normal, Status: plant.Live, File: "/srv/plant/runs.csv", Line: 7}
	}
	important := horizontal("N2-P1-17", "1/17")
	important.Importance, important.Owner = plant.High, "library "+nasty
	important.InstalledOn = time.Date(2021, 7, 30, 0, 0, 0, 0, time.UTC)
	return plant.New(plant.Plant{
		Site:     "Ferrow Quay College",
		Spaces:   []*plant.Space{{ID: "N2-TR", Name: "North 2 telecom room"}},
		Panels:   []*plant.Panel{{ID: "N2-P1", Space: "N2-TR"}},
		Pathways: []*plant.Pathway{{ID: "tray-n2-east", Name: "North 2 east tray", Near: []string{"lift motor"}, AmbientC: port.Some(35.0)}},
		Cables: []*plant.Cable{
			{ID: "horizontal-6a", Media: standards.Copper, Category: "6A", Shield: "U/UTP", AWG: port.Some(23)},
			{ID: "riser-om4", Media: standards.Fibre, Fibre: "OM4"},
		},
		Runs: []*plant.Run{
			important, horizontal("N2-P1-18", "1/18"), horizontal("N2-P1-19", "1/19"), horizontal("N2-P1-20", "1/20"),
			horizontal("N2-P1-21", "1/21"), horizontal(oddID, "1/22"),
			{ID: "S1-P1-1", Switch: "acc-s1-1", Port: "1/1", DesignSpeed: standards.Gbps},
			{ID: "N2-BB-1", Switch: "acc-n2-1", Port: "1/49", FarSwitch: "acc-s1-1", FarPort: "1/49", Cable: "riser-om4"},
			{ID: "N2-P1-90", Switch: "acc-n2-1", Port: "9/90", DesignSpeed: standards.Gbps},
			{ID: "N2-P1-30", Switch: "acc-n2-1", Port: "1/24"}, {ID: "N2-P1-31", Switch: "acc-n2-1", Port: "1/24"},
		},
	})
}

// sockets of acc-n2-1: one whose run has an open pair, one that receives
// damaged frames, a healthy one, one with a device of 100 Mbit/s, an empty
// one, another slow one, one without a run, one that two records claim, and
// one of which the switch does not tell damaged frames.
func sockets() []*socket {
	open, damaged, well := up("1/17", nasty), up("1/18", "N2-P1-18"), up("1/19", "N2-P1-19 reading room")
	open.mbps, open.mau = 100, 16
	damaged.errored = 4
	limited := up("1/20", "door reader")
	limited.mbps, limited.mau, limited.far = 100, 16, legacy
	empty := up("1/21", "")
	empty.oper = port.Down
	odd := up("1/22", "")
	odd.mbps, odd.mau = 100, 16
	spare := up("1/23", nasty)
	spare.mbps, spare.mau = 100, 16
	claimed := up("1/24", "")
	trunk := up("1/49", "to south")
	trunk.mau, trunk.uncounted = 26, true
	return []*socket{open, damaged, well, limited, empty, odd, spare, claimed, trunk}
}

// scene is what a real tracker gives after half an hour in which acc-n2-1
// answers, acc-s1-1 never does, and acc-b1-1 is not tried.
func scene() *fault.Snapshot {
	_, snapshot := played()
	return snapshot
}

func played() (*fault.Tracker, *fault.Snapshot) {
	tracker := fault.NewTracker(college(), fault.Settings{
		Switches: []fault.SwitchSettings{
			{Name: "acc-n2-1", Address: "192.0.2.1:161", Space: "N2-TR"},
			{Name: "acc-s1-1", Address: "192.0.2.2:161", Space: "S1-TR"},
			{Name: "acc-b1-1", Address: "192.0.2.3:161"},
		},
		Labels: regexp.MustCompile(`^(?P<run>[A-Z0-9-]+)`), PollEvery: time.Minute, FalseAlarmsPerWeek: 1,
	})
	ports, at, uptime := sockets(), start, uint32(1_000_000)
	var snapshot *fault.Snapshot
	for range 30 {
		at, uptime = at.Add(time.Minute), uptime+6000
		poll := port.Poll{At: at, Uptime: port.Some(uptime), Name: "acc-n2-1.ferrow", Tables: []port.Table{
			{Name: "ifXTable", State: port.TableGiven, Rows: len(ports)}, {Name: "dot3HCStatsTable", State: port.TableHidden},
		}}
		for i, s := range ports {
			poll.Ports = append(poll.Ports, s.reading(at, uptime, i+1))
		}
		tracker.Answered("acc-n2-1", poll)
		snapshot = tracker.Failed("acc-s1-1", at, "no-answer", errors.New("ask 192.0.2.2:161: no answer within 2s"))
	}
	return tracker, snapshot
}

// source shows one snapshot, 90 s after its last poll.
func source(snapshot *fault.Snapshot) Source {
	return Source{
		Snapshot: func() *fault.Snapshot { return snapshot },
		Inventory: func() InventoryState {
			return InventoryState{Problems: []plant.Problem{{
				File: "/srv/plant/runs.csv", Line: 14, Kind: "run", ID: "N2-P1-40", Text: `length_m "6o" is not a number`,
			}}}
		},
		Metrics: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.Write([]byte("toneout_switch_up 1\n")) }),
		Alive:   func() error { return nil },
		Now:     func() time.Time { return snapshot.At.Add(90 * time.Second).In(zone) },
	}
}

func serve(t *testing.T, s Source) *httptest.Server {
	server := httptest.NewServer(Handler(s))
	t.Cleanup(server.Close)
	return server
}

// silenced is the scene after acc-n2-1 missed three polls too.
func silenced() *fault.Snapshot {
	tracker, snapshot := played()
	for range 3 {
		snapshot = tracker.Failed("acc-n2-1", snapshot.At.Add(time.Minute), "no-answer", errors.New("ask 192.0.2.1:161: no answer within 2s"))
	}
	return snapshot
}

// nothing is a daemon without inventory and switches.
func nothing() *fault.Snapshot {
	return fault.NewTracker(plant.New(plant.Plant{}), fault.Settings{PollEvery: time.Minute, FalseAlarmsPerWeek: 1}).Snapshot()
}

// get asks a server; the answer's body is read.
func get(t *testing.T, url string) (*http.Response, string) {
	return ask(t, http.MethodGet, url)
}

func ask(t *testing.T, method, url string) (*http.Response, string) {
	request, err := http.NewRequest(method, url, nil)
	require.NoError(t, err)
	answer, err := http.DefaultTransport.RoundTrip(request) // follows no redirect
	require.NoError(t, err)
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	return answer, string(body)
}
