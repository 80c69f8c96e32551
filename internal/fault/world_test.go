package fault

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// box is one simulated switch of a world.
type box struct {
	name       string
	links      []*link
	engine     string
	units      []port.Unit
	neighbours []port.Neighbour // Index is that of the hearing link
	optics     map[int]*port.Optic
	power      map[int]port.Power
	deaf       bool   // it tells no new details
	failing    bool   // asking for its neighbours fails
	class      string // of the error of its polls; "" where it answers

	asked   *port.Details
	uptime  uint32
	offset  time.Duration // of its polls in the interval
	restart bool          // before the next poll
}

// world is a tracker with several switches and one clock. Details are asked
// anew in every fifth poll, and at once where ask is set.
type world struct {
	scene
	boxes []*box
	runs  []*plant.Run
	polln int
	ask   bool
}

// boxed makes a switch of ports 1/1, 1/2 and so on, whose chassis id is a MAC
// address of a range for documentation (RFC 7042 2.1.2).
func boxed(name string, ports int) *box {
	b := &box{name: name, uptime: 1_000_000}
	for i := range ports {
		l := gigabitLink(fmt.Sprintf("1/%d", i+1))
		l.index = i + 1
		b.links = append(b.links, l)
	}
	return b
}

func (b *box) chassis() port.ID { return port.ID{Kind: port.IDMAC, Text: "00:00:5e:00:53:" + b.name} }

func newWorld(t *testing.T, runs []*plant.Run, boxes ...*box) *world {
	w := &world{boxes: boxes, runs: runs, scene: scene{t: t, every: every, now: start, random: rand.New(rand.NewPCG(2, 71))}}
	for i, b := range boxes {
		b.offset = time.Duration(i+1) * time.Second
	}
	w.tracker = NewTracker(plant.New(w.plant()), w.settings())
	return w
}

func (w *world) plant() plant.Plant {
	return plant.Plant{
		Cables: []*plant.Cable{{ID: "horizontal-6a", Media: standards.Copper}, {ID: "riser-om4", Media: standards.Fibre, Fibre: "OM4"},
			{ID: "aoc", Media: standards.ActiveOptical}},
		Runs: w.runs,
	}
}

func (w *world) settings() Settings {
	s := Settings{PollEvery: every, FalseAlarmsPerWeek: 1, Labels: runLabel}
	for _, b := range w.boxes {
		s.Switches = append(s.Switches, SwitchSettings{Name: b.name})
	}
	return s
}

// cable lets the ports of two switches hear each other.
func cable(a *box, aPort string, b *box, bPort string) {
	a.hears(aPort, b.announces(bPort))
	b.hears(bPort, a.announces(aPort))
}

func (b *box) announces(portName string) port.Neighbour {
	return port.Neighbour{Chassis: b.chassis(), Port: port.ID{Kind: port.IDName, Text: portName}, System: b.name,
		Roles: port.Roles(0).With(port.Bridge)}
}

func (b *box) hears(portName string, n port.Neighbour) {
	n.Index = b.link(portName).index
	b.neighbours = append(b.neighbours, n)
}

func (b *box) hearsNobody(portName string) {
	index := b.link(portName).index
	var left []port.Neighbour
	for _, n := range b.neighbours {
		if n.Index != index {
			left = append(left, n)
		}
	}
	b.neighbours = left
}

func (b *box) link(name string) *link {
	for _, l := range b.links {
		if l.name == name {
			return l
		}
	}
	panic("no link " + name)
}

// station is an end device.
func station(name string) port.Neighbour {
	return port.Neighbour{Chassis: port.ID{Kind: port.IDLocal, Text: name}, Port: port.ID{Kind: port.IDLocal, Text: "nic of " + name},
		System: name, Roles: port.Roles(0).With(port.Station)}
}

func phone(name string) port.Neighbour {
	n := station(name)
	n.Roles = port.Roles(0).With(port.Telephone).With(port.Bridge)
	return n
}

// polls lets so many polls pass, each switch at its own moment.
func (w *world) polls(n int) (snap *Snapshot) {
	for range n {
		round := w.now
		for _, b := range w.boxes {
			w.now = round.Add(b.offset)
			snap = w.poll(b)
		}
		w.now = round.Add(w.every)
		w.polln++
		w.ask = false
	}
	return snap
}

func (w *world) poll(b *box) *Snapshot {
	b.uptime += uint32(w.every / (10 * time.Millisecond))
	if b.class != "" {
		return w.tracker.Failed(b.name, w.now, b.class, errors.New("no answer"))
	}
	if b.restart {
		b.restart, b.uptime = false, 3000
	}
	w.uptime = b.uptime
	if !b.deaf && (b.asked == nil || w.ask || w.polln%5 == 0) {
		d := &port.Details{At: w.now, Chassis: b.chassis(), Units: b.units, Optics: maps.Clone(b.optics), Power: maps.Clone(b.power)}
		if !b.failing {
			d.Neighbours = append(d.Neighbours, b.neighbours...)
		}
		b.asked = d
	}
	poll := port.Poll{At: w.now, Uptime: port.Some(b.uptime), Name: b.name, Engine: b.engine, Details: b.asked}
	if b.failing {
		poll.Tables = []port.Table{{Name: "lldpRemTable", State: port.TableBroken}}
	}
	for _, l := range b.links {
		poll.Ports = append(poll.Ports, l.reading(&w.scene))
	}
	return w.tracker.Answered(b.name, poll)
}

func (w *world) view(name string) *Switch {
	s, ok := w.tracker.Snapshot().Switch(name)
	require.True(w.t, ok)
	return s
}

func (w *world) port(name, portName string) *Port {
	p, ok := w.view(name).Port(portName)
	require.True(w.t, ok)
	return p
}

func ref(name, portName string) plant.PortRef { return plant.PortRef{Switch: name, Port: portName} }
