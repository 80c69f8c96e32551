package fault

import (
	"errors"
	"math/rand/v2"
	"regexp"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

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

var runLabel = regexp.MustCompile(`^(?P<run>[A-Z0-9-]+)`)

const every = time.Minute

var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// link is one simulated port as a scenario sees it: its state, and what comes
// in each poll.
type link struct {
	name, alias string
	index       int
	oper        port.Status
	mbps        uint32
	mau         int
	own, far    standards.Abilities
	auto        port.Answer
	frames      uint64              // good frames received a poll, of 500 octets
	errored     float64             // mean damaged frames a poll
	edit        func(*port.Reading) // what the switch tells otherwise

	counters   port.Counters
	octets     uint64
	good, bad  uint64
	lastChange uint32
}

func gigabitLink(name string) *link {
	return &link{name: name, index: 10101, oper: port.Up, mbps: 1000, mau: 30, own: gigabit, far: gigabit,
		auto: port.Yes, frames: 60_000}
}

// scene is a tracker with one switch, sw-1, and a clock.
type scene struct {
	t       *testing.T
	tracker *Tracker
	links   []*link
	every   time.Duration
	now     time.Time
	uptime  uint32
	random  *rand.Rand
}

func newScene(t *testing.T, runs []*plant.Run, links ...*link) *scene {
	p := plant.New(plant.Plant{
		Cables: []*plant.Cable{{ID: "horizontal-6a", Media: standards.Copper}, {ID: "riser-om4", Media: standards.Fibre}},
		Runs:   runs,
	})
	return &scene{
		t: t, links: links, every: every, now: start, uptime: 1_000_000, random: rand.New(rand.NewPCG(3, 14)),
		tracker: NewTracker(p, Settings{
			Switches:  []SwitchSettings{{Name: "sw-1", Address: "192.0.2.1:161", Space: "TR-1"}},
			Labels:    runLabel,
			PollEvery: every, FalseAlarmsPerWeek: 1,
		}),
	}
}

func horizontal(id, portName string) *plant.Run {
	return &plant.Run{ID: id, Switch: "sw-1", Port: portName, Cable: "horizontal-6a",
		DesignSpeed: standards.Gbps, Outlet: "214-A", LengthM: port.Some(62.0)}
}

// polls lets so many polls pass.
func (s *scene) polls(n int) *Snapshot {
	var snap *Snapshot
	for range n {
		s.now = s.now.Add(s.every)
		s.uptime += uint32(s.every / (10 * time.Millisecond))
		poll := port.Poll{At: s.now, Uptime: port.Some(s.uptime), Name: "sw-1"}
		for _, l := range s.links {
			poll.Ports = append(poll.Ports, l.reading(s))
		}
		snap = s.tracker.Answered("sw-1", poll)
	}
	return snap
}

func (l *link) reading(s *scene) port.Reading {
	if l.oper == port.Up {
		l.good += l.frames
		l.octets += 500 * l.frames
		if l.errored > 0 {
			l.bad += uint64(distuv.Poisson{Lambda: l.errored, Src: s.random}.Rand())
		}
	}
	r := port.Reading{
		At: s.now, Uptime: port.Some(s.uptime), Index: l.index, Name: l.name, Alias: l.alias, Type: 6, Connector: port.Yes,
		Admin: port.Up, Oper: l.oper, HighSpeed: port.Some(l.mbps), MAU: l.mau, LastChange: port.Some(l.lastChange),
		AutoNeg: port.AutoNegotiation{Enabled: l.auto, Capable: port.Some(gigabit), Advertised: port.Some(l.own), Received: port.Some(l.far)},
	}
	r.Counters.Set64(port.InOctets, l.octets)
	r.Counters.Set64(port.InUnicast, l.good)
	r.Counters.Set32(port.FCS, uint32(l.bad))
	r.Counters.Set32(port.Alignment, 0)
	if l.edit != nil {
		l.edit(&r)
	}
	return r
}

// without takes counters out of a reading.
func without(counters ...port.Counter) func(*port.Reading) {
	return func(r *port.Reading) {
		var left port.Counters
		for k := range port.CounterCount {
			if v, ok := r.Counters.Get(k); ok && !slices.Contains(counters, k) {
				left.Set64(k, v)
			}
		}
		r.Counters = left
	}
}

// fellBack is a link of 100 Mbit/s where both ends offer 1 Gbit/s.
func (l *link) fellBack() { l.mbps, l.mau = 100, 16 }

func (l *link) gigabitAgain() { l.mbps, l.mau = 1000, 30 }

func only(t *testing.T, snap *Snapshot) *Fault {
	require.Len(t, snap.Faults, 1)
	return snap.Faults[0]
}

func (s *scene) state(run string) State {
	r, ok := s.tracker.Snapshot().Run(run)
	require.True(s.t, ok)
	return r.State
}

func (s *scene) fail() {
	s.now = s.now.Add(every)
	s.uptime += 6000
	s.tracker.Failed("sw-1", s.now, "no-answer", errors.New("no answer"))
}
