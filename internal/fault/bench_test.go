package fault

import (
	"fmt"
	"testing"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// campus is a plant of 1,000 switches of 48 ports, two thirds of them with a
// run, of which so many in 1,000 came up at 100M.
type campus struct {
	tracker *Tracker
	names   []string
	slow    int
	polls   int
}

const benchSwitches, benchPorts = 1000, 48

func newCampus(slow int) *campus {
	c := &campus{slow: slow}
	rows := plant.Plant{Cables: []*plant.Cable{{ID: "horizontal-6a", Media: standards.Copper}}}
	settings := Settings{PollEvery: time.Minute, FalseAlarmsPerWeek: 1}
	for s := range benchSwitches {
		name := fmt.Sprintf("sw-%d", s)
		c.names = append(c.names, name)
		settings.Switches = append(settings.Switches, SwitchSettings{Name: name})
		for p := range benchPorts {
			if p%3 != 0 {
				rows.Runs = append(rows.Runs, &plant.Run{ID: fmt.Sprintf("R-%d-%d", s, p), Switch: name, Port: fmt.Sprintf("1/%d", p), DesignSpeed: standards.Gbps})
			}
		}
	}
	c.tracker = NewTracker(plant.New(rows), settings)
	return c
}

// poll is the next poll of a switch in turn.
func (c *campus) poll() (string, port.Poll) {
	sw, round := c.polls%benchSwitches, c.polls/benchSwitches
	at := start.Add(time.Duration(c.polls) * time.Minute / benchSwitches)
	c.polls++
	poll := port.Poll{At: at, Ports: make([]port.Reading, benchPorts)}
	for p := range poll.Ports {
		r := &poll.Ports[p]
		*r = port.Reading{At: at, Index: p + 1, Name: fmt.Sprintf("1/%d", p), Type: 6, Admin: port.Up, Oper: port.Up, HighSpeed: port.Some(uint32(1000)), MAU: 30}
		r.AutoNeg = port.AutoNegotiation{Enabled: port.Yes, Capable: port.Some(gigabit), Advertised: port.Some(gigabit), Received: port.Some(gigabit)}
		if (sw*benchPorts+p)*7919%1000 < c.slow {
			r.HighSpeed, r.MAU = port.Some(uint32(100)), 16
		}
		for k := range port.InErrors {
			r.Counters.Set64(k, uint64(round)*60_000)
		}
		for k := port.InErrors; k < port.CounterCount; k++ {
			r.Counters.Set32(k, 0)
		}
	}
	return c.names[sw], poll
}

// BenchmarkAnswered is the owner's work for one answer of one switch among
// 1,000, by how many ports in 1,000 have an open fault.
func BenchmarkAnswered(b *testing.B) {
	for _, slow := range []int{0, 10, 50, 200} {
		b.Run(fmt.Sprintf("open=%d", slow*benchSwitches*benchPorts/1000), func(b *testing.B) {
			c := newCampus(slow)
			for range 6 * benchSwitches {
				c.tracker.Answered(c.poll())
			}
			type answer struct {
				name string
				poll port.Poll
			}
			var ready []answer
			b.ReportAllocs()
			b.ResetTimer()
			for b.Loop() {
				if len(ready) == 0 {
					b.StopTimer()
					for range 500 {
						name, poll := c.poll()
						ready = append(ready, answer{name, poll})
					}
					b.StartTimer()
				}
				c.tracker.Answered(ready[0].name, ready[0].poll)
				ready = ready[1:]
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/benchPorts, "ns/port-poll")
		})
	}
}
