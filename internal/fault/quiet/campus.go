package main

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

const (
	portsOfSwitch = 48
	uplinks       = 2 // the last ports of a switch lead to its neighbours in a ring
)

// start is a Monday.
var start = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

// campus is switches of one tracker, and what it alarmed of.
type campus struct {
	random   *rand.Rand
	tracker  *fault.Tracker
	switches []*campusSwitch
	polls    int // of ports
	alarms   []alarm
}

type alarm struct{ kind, habit string }

type campusSwitch struct {
	name     string
	number   int
	lines    [portsOfSwitch]*line
	readings []port.Reading
	details  *port.Details
	booted   time.Time
	silent   int // polls left until it is back from a restart
	ring     [uplinks]*campusSwitch
}

func newCampus(seed, number uint64, switches int, ofPlant float64) *campus {
	c := &campus{random: rand.New(rand.NewPCG(seed, number))}
	inventory := plant.Plant{Cables: []*plant.Cable{
		{ID: "horizontal-6a", Media: standards.Copper, Category: "6A"}, {ID: "riser-om4", Media: standards.Fibre, Fibre: "OM4"},
	}}
	settings := fault.Settings{PollEvery: time.Minute, FalseAlarmsPerWeek: float64(switches*portsOfSwitch) / ofPlant}
	for n := range switches {
		s := c.newSwitch(n, int(number))
		c.switches = append(c.switches, s)
		settings.Switches = append(settings.Switches, fault.SwitchSettings{Name: s.name})
	}
	for n, s := range c.switches {
		s.ring = [uplinks]*campusSwitch{c.switches[(n+switches-1)%switches], c.switches[(n+1)%switches]}
		inventory.Runs = append(inventory.Runs, s.lay(c.random)...)
	}
	c.tracker = fault.NewTracker(plant.New(inventory), settings)
	return c
}

func (c *campus) newSwitch(n, campus int) *campusSwitch {
	s := &campusSwitch{name: fmt.Sprintf("acc-%d-%d", campus, n), number: n, readings: make([]port.Reading, portsOfSwitch)}
	s.booted = start.Add(-time.Duration(1+c.random.IntN(1000)) * time.Hour)
	return s
}

// lay gives each port of a switch its habit, and its run.
func (s *campusSwitch) lay(r *rand.Rand) (runs []*plant.Run) {
	for i := range s.lines {
		g := &s.readings[i]
		*g = port.Reading{Index: i + 1, Name: fmt.Sprintf("1/%d", i+1), Type: 6, Connector: port.Yes, Admin: port.Up}
		g.AutoNeg = port.AutoNegotiation{Supported: port.Yes, Enabled: port.Yes, Capable: port.Some(all), Advertised: port.Some(all)}
		l := &line{reading: g, busy: deskBusy * (0.5 + r.Float64()), idle: deskIdle, offers: all, noise: r.Uint32()}
		s.lines[i] = l
		l.zero()
		run := &plant.Run{ID: fmt.Sprintf("%s-%d", s.name, i+1), Switch: s.name, Port: g.Name, Cable: "horizontal-6a", LengthM: port.Some(20 + 60*r.Float64()), DesignSpeed: standards.Gbps}
		if up := i - (portsOfSwitch - uplinks); up >= 0 {
			l.habit, l.uplink, l.busy, l.idle = &habit{name: "between switches"}, s.ring[up], 20*deskBusy, 20*deskIdle
			g.AutoNeg = port.AutoNegotiation{Supported: port.No}
			if up == 0 {
				continue // the other end's run
			}
			run.FarSwitch, run.FarPort = s.ring[up].name, fmt.Sprintf("1/%d", portsOfSwitch-1)
			run.Cable, run.DesignSpeed, run.Connectors = "riser-om4", 10*standards.Gbps, port.Some(2)
			runs = append(runs, run)
			continue
		}
		l.habit = drawn(r)
		l.habit.lay(l, r)
		if l.errors != nil {
			l.errors.due = r.ExpFloat64()
		}
		if l.record == 1 {
			run.DeviceSpeed = 100 * standards.Mbps
		}
		if l.record != 2 && i%3 != 0 { // a third of the ports have no run
			runs = append(runs, run)
		}
	}
	return runs
}

func drawn(r *rand.Rand) *habit {
	n := r.IntN(100)
	for i := range habits {
		if n -= habits[i].share; n < 0 {
			return &habits[i]
		}
	}
	panic("the shares of the habits are not 100")
}

// play lets so many weeks pass.
func (c *campus) play(weeks int) {
	for minute := range weeks * 7 * minutesOfDay {
		for n, s := range c.switches {
			at := start.Add(time.Duration(minute)*time.Minute + time.Duration(n)*time.Minute/time.Duration(len(c.switches)))
			c.take(s.poll(c, minute, at), at, minute)
		}
	}
}

// restartEvery is how many polls a switch runs in the mean: four weeks.
const restartEvery = 4 * 7 * minutesOfDay

// poll asks one switch.
func (s *campusSwitch) poll(c *campus, minute int, at time.Time) []fault.Event {
	if s.silent == 0 && c.random.IntN(restartEvery) == 0 {
		s.silent = 1 + c.random.IntN(5)
		s.booted = at.Add(time.Duration(s.silent-1)*time.Minute - 30*time.Second)
		for _, l := range s.lines {
			l.reset()
		}
	}
	if s.silent > 0 {
		if s.silent--; s.silent > 0 {
			return c.tracker.Failed(s.name, at, "timeout", errors.New("no answer")).Events
		}
	}
	uptime := uint32(at.Sub(s.booted) / (10 * time.Millisecond))
	for _, l := range s.lines {
		l.poll(c.random, minute, at, uptime)
	}
	if s.details == nil || (minute+s.number)%5 == 0 {
		s.details = s.told(c.random, minute, at)
	}
	c.polls += portsOfSwitch
	return c.tracker.Take(s.name, port.Poll{
		At: at, Uptime: port.Some(uptime), Name: s.name, Engine: "80001f88" + s.name, Ports: s.readings, Details: s.details,
	})
}

func (s *campusSwitch) chassis() port.ID { return port.ID{Kind: port.IDMAC, Text: "mac " + s.name} }

// told are the switch's details: its neighbours and its optics' light.
func (s *campusSwitch) told(r *rand.Rand, minute int, at time.Time) *port.Details {
	d := &port.Details{
		At: at, Chassis: s.chassis(), Units: []port.Unit{{Serial: "FQ" + s.name}},
		Optics: make(map[int]*port.Optic, uplinks), Power: make(map[int]port.Power),
	}
	for i, l := range s.lines {
		index := i + 1
		switch {
		case l.uplink != nil:
			far := port.ID{Kind: port.IDName, Text: fmt.Sprintf("1/%d", 2*portsOfSwitch-1-index)}
			d.Neighbours = append(d.Neighbours, port.Neighbour{Index: index, Chassis: l.uplink.chassis(), Port: far, System: l.uplink.name})
			d.Optics[index] = s.optic(r, l, minute)
		case l.power != nil:
			p := *l.power
			d.Power[index] = p
		}
		if l.power != nil || l.offers == fast {
			d.Neighbours = append(d.Neighbours, port.Neighbour{Index: index, Chassis: port.ID{Kind: port.IDLocal, Text: fmt.Sprintf("device %s-%d", s.name, index)}})
		}
	}
	return d
}

// optic is a module whose light wanders by a tenth of a dB or two and follows
// the warmth of the day.
func (s *campusSwitch) optic(r *rand.Rand, l *line, minute int) *port.Optic {
	warm := math.Sin(2 * math.Pi * float64(minute%minutesOfDay) / minutesOfDay)
	wander := func(dbm float64) port.Value[port.Light] {
		return port.Some(port.Light(dbm + 0.3*warm + 0.15*r.NormFloat64()))
	}
	received := wander(-3.8)
	if l.uplink.silent > 0 {
		received = port.Some(port.NoLight)
	}
	return &port.Optic{
		Serial: fmt.Sprintf("OP%s-%d", s.name, l.reading.Index), Model: "10G-SR", Celsius: port.Some(38 + 6*warm),
		Lanes: []port.Lane{{Received: received, Sent: wander(-2.5), BiasMA: port.Some(6 + 0.4*warm)}},
	}
}

// take counts whom the poll alarmed.
func (c *campus) take(events []fault.Event, at time.Time, minute int) {
	for _, e := range events {
		f := e.Fault
		if !f.Alarm || e.What != fault.Opened && e.What != fault.Alarmed {
			continue
		}
		a := alarm{string(f.Kind), c.habitAt(f.Switch, f.Port)}
		fmt.Printf("week %d, %s: %s (%s): %s\n", 1+minute/7/minutesOfDay, at.Format("Mon 15:04"), a.kind, a.habit, strings.Join(append([]string{f.Summary}, f.Evidence...), " "))
		c.alarms = append(c.alarms, a)
	}
}

func (c *campus) habitAt(name, portName string) string {
	for _, s := range c.switches {
		for _, l := range s.lines {
			if s.name == name && l.reading.Name == portName {
				return l.habit.name
			}
		}
	}
	return "no port"
}
