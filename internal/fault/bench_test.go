package fault

import (
	"fmt"
	"runtime"
	"syscall"
	"testing"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// campus is a plant of switches of 48 ports, two thirds of them with a run, of
// which so many in 1,000 came up at 100M. Each switch hears the one before and
// the one after it and has stations on the other ports, asked every fifth poll.
type campus struct {
	tracker *Tracker
	names   []string
	details []*port.Details
	slow    int
	polls   int
}

const benchSwitches, benchPorts = 1000, 48

func newCampus(switches, slow int) *campus {
	c := &campus{slow: slow, details: make([]*port.Details, switches)}
	rows := plant.Plant{Cables: []*plant.Cable{{ID: "horizontal-6a", Media: standards.Copper}}}
	settings := Settings{PollEvery: time.Minute, FalseAlarmsPerWeek: 1}
	for s := range switches {
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
	switches := len(c.names)
	sw, round := c.polls%switches, c.polls/switches
	at := start.Add(time.Duration(c.polls) * time.Minute / time.Duration(switches))
	c.polls++
	if round%5 == 0 {
		c.details[sw] = c.hears(sw, at)
	}
	poll := port.Poll{At: at, Name: c.names[sw], Details: c.details[sw], Engine: "80001f88" + c.names[sw], Ports: make([]port.Reading, benchPorts)}
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

// hears are the details of a switch.
func (c *campus) hears(sw int, at time.Time) *port.Details {
	chassis := func(n int) port.ID { return port.ID{Kind: port.IDMAC, Text: fmt.Sprintf("mac %d", n)} }
	d := &port.Details{At: at, Chassis: chassis(sw), Units: []port.Unit{{Serial: fmt.Sprint("FQ", sw)}}}
	for p := range benchPorts {
		n := port.Neighbour{Index: p + 1, Chassis: port.ID{Kind: port.IDLocal, Text: fmt.Sprintf("station %d-%d", sw, p)}}
		switches := len(c.names)
		switch p {
		case 0:
			n.Chassis, n.Port = chassis((sw+switches-1)%switches), port.ID{Kind: port.IDName, Text: "1/1"}
		case 1:
			n.Chassis, n.Port = chassis((sw+1)%switches), port.ID{Kind: port.IDName, Text: "1/0"}
		}
		d.Neighbours = append(d.Neighbours, n)
	}
	return d
}

// run lets so many polls pass and gives the processor's time for each port,
// everything but the making of the polls.
func (c *campus) run(polls int) time.Duration {
	type answer struct {
		name string
		poll port.Poll
	}
	var spent time.Duration
	for polls > 0 {
		batch := make([]answer, min(polls, 500))
		for i := range batch {
			batch[i].name, batch[i].poll = c.poll()
		}
		began := processorTime()
		for _, a := range batch {
			c.tracker.Answered(a.name, a.poll)
		}
		spent += processorTime() - began
		polls -= len(batch)
	}
	return spent
}

// processorTime is what the process has used, which other processes on the
// machine don't change.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkAnswered is the owner's work for one answer of one switch among
// 1,000, by how many ports in 1,000 have an open fault.
func BenchmarkAnswered(b *testing.B) {
	for _, slow := range []int{0, 10, 50, 200} {
		b.Run(fmt.Sprintf("open=%d", slow*benchSwitches*benchPorts/1000), func(b *testing.B) {
			c := newCampus(benchSwitches, slow)
			c.run(6 * benchSwitches)
			runtime.GC()
			b.ReportAllocs()
			b.ResetTimer()
			spent := c.run(b.N)
			b.ReportMetric(float64(spent.Nanoseconds())/float64(b.N)/benchPorts, "cpu-ns/port-poll")
		})
	}
}

// BenchmarkScale gives the cost of a port-poll among 2,000 switches to that
// among 50, measured in turn.
func BenchmarkScale(b *testing.B) {
	for _, slow := range []int{0, 10} {
		b.Run(fmt.Sprintf("slow=%d‰", slow), func(b *testing.B) {
			few, many := newCampus(50, slow), newCampus(2000, slow)
			few.run(6 * 50)
			many.run(6 * 2000)
			runtime.GC()
			const polls = 10_000 // five intervals of many, 200 of few
			var spent [2]time.Duration
			for b.Loop() {
				for range 5 {
					spent[0] += few.run(polls / 5)
					spent[1] += many.run(polls / 5)
				}
			}
			per := func(d time.Duration) float64 { return float64(d.Nanoseconds()) / float64(b.N) / polls / benchPorts }
			b.ReportMetric(per(spent[0]), "cpu-ns/port-poll-at-50")
			b.ReportMetric(per(spent[1]), "cpu-ns/port-poll-at-2000")
			b.ReportMetric(float64(spent[1])/float64(spent[0]), "ratio")
		})
	}
}
