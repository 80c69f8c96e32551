package sim

import (
	"fmt"
	"slices"
	"time"
)

// Port is a switch port with a jack or an optic.
type Port struct {
	Name       string // ifName, "1/17"
	Alias      string // ifAlias
	Media      Media
	Speeds     []int  // Mb/s that it can do
	Advertised []int  // Mb/s that it is set to offer; nil = all
	Fixed      int    // 10 or 100 Mb/s, full duplex without auto-negotiation; 0 = negotiates
	Optic      string // PHY of a fibre port, "10GBASE-SR"
	Shut       bool   // ifAdminStatus down

	owner *Switch
	line  line
}

// Switch gives the port's switch; Counters what the port has counted, to be
// read inside Campus.Do.
func (p *Port) Switch() *Switch { return p.owner }

// Counters: see Switch.
func (p *Port) Counters() Counters { return p.line.Counters }

// Link gives the port's speed in Mb/s, 0 for no link, to be read inside Campus.Do.
func (p *Port) Link() (speed int, half bool) { return p.line.speed, p.line.half }

func (p *Port) offered() []int {
	if p.Advertised != nil {
		return p.Advertised
	}
	return p.Speeds
}

// SwitchPlan describes a switch to build. Ports are named 1/1 and on.
type SwitchPlan struct {
	Name    string
	Space   string // telecom room
	Copper  int    // ports of 10, 100 and 1000BASE-T
	Fibre   int    // cages for 10 Gb/s optics, numbered after the copper ports
	Optic   string // in every cage
	First   int    // ifIndex of the first port; 1 where 0
	Stride  int    // from one port's ifIndex to the next; 1 where 0
	Up      time.Duration
	Without []string // tables hidden: "mau", "autoneg", "dot3", "dot3hc", "hc" (64-bit columns), "ifx"
}

// Switch is a simulated switch: a MIB and an Engine for an Agent.
type Switch struct {
	Name  string
	Space string

	campus  *Campus
	ports   []*Port
	without []string
	first   int
	stride  int
	booted  time.Duration // since the campus's start; negative: before it
	boots   uint32
	columns []Column      // nil after a change of layout
	changed time.Duration // when the layout did, since the campus's start
}

func newSwitch(c *Campus, plan SwitchPlan) *Switch {
	s := &Switch{
		Name: plan.Name, Space: plan.Space, campus: c, without: plan.Without,
		first: max(plan.First, 1), stride: max(plan.Stride, 1), booted: -plan.Up, changed: -plan.Up, boots: 1,
	}
	for i := 1; i <= plan.Copper+plan.Fibre; i++ {
		p := &Port{Name: fmt.Sprintf("1/%d", i), Media: Copper, Speeds: []int{10, 100, 1000}, owner: s}
		if i > plan.Copper {
			p.Media, p.Speeds, p.Optic = Fibre, []int{10000}, plan.Optic
		}
		p.line.changed = -plan.Up
		s.ports = append(s.ports, p)
	}
	return s
}

// Port gives a port by its ifName; it panics where there is none, as names stand in code.
func (s *Switch) Port(name string) *Port {
	i := slices.IndexFunc(s.ports, func(p *Port) bool { return p.Name == name })
	if i < 0 {
		panic(fmt.Sprintf("switch %s has no port %s", s.Name, name))
	}
	return s.ports[i]
}

// Ports gives all ports in order.
func (s *Switch) Ports() []*Port { return slices.Clone(s.ports) }

// IfIndex gives a port's present ifIndex.
func (s *Switch) IfIndex(p *Port) int {
	s.campus.mu.Lock()
	defer s.campus.mu.Unlock()
	return s.index(slices.Index(s.ports, p))
}

func (s *Switch) index(i int) int { return s.first + i*s.stride }

// Restart starts the switch anew: sysUpTime and counters from 0, one more
// boot, every link lost and negotiated again.
func (s *Switch) Restart(now time.Time) {
	s.campus.Do(now, func() {
		s.booted = s.campus.since(now)
		s.boots++
		for _, c := range s.campus.cables {
			if c.A.owner == s || c.B != nil && c.B.owner == s {
				c.interrupt(s.booted)
			}
		}
		for _, p := range s.ports { // after the links fell: a new boot has counted nothing
			p.line.Counters = Counters{}
		}
	})
}

// interrupt drops the link, to be negotiated again.
func (c *Cable) interrupt(at time.Duration) {
	if a, b := c.ends(); a.speed > 0 {
		a.down(at)
		b.down(at)
	}
	c.trainedAfter = at + c.training()
}

// Renumber moves every ifIndex by an offset, as a firmware upgrade may.
func (s *Switch) Renumber(offset int) {
	s.campus.mu.Lock()
	defer s.campus.mu.Unlock()
	s.first += offset
	s.columns, s.changed = nil, s.campus.elapsed
}

// Hide hides tables (see SwitchPlan.Without), in place of those hidden before.
func (s *Switch) Hide(tables ...string) {
	s.campus.mu.Lock()
	defer s.campus.mu.Unlock()
	s.without = tables
	s.columns, s.changed = nil, s.campus.elapsed
}

// Engine gives the switch's SNMP engine.
func (s *Switch) Engine(now time.Time) Engine {
	s.campus.mu.Lock()
	defer s.campus.mu.Unlock()
	return s.engine(now)
}

func (s *Switch) engine(now time.Time) Engine {
	return Engine{ID: engineID(s.Name), Boots: s.boots, Up: max(s.campus.since(now)-s.booted, 0)}
}
