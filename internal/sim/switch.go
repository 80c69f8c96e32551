package sim

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Port is a switch port with a jack or an optic.
type Port struct {
	Name       string // ifName, "1/17"
	Alias      string // ifAlias
	Media      Media
	Speeds     []int  // Mb/s that it can do
	Advertised []int  // Mb/s that it is set to offer; nil = all
	Fixed      int    // 10 or 100 Mb/s without auto-negotiation; 0 = negotiates
	Half       bool   // what is fixed is half duplex
	Optic      string // PHY of a fibre port, "10GBASE-SR"; Insert changes it
	Shut       bool   // ifAdminStatus down
	OneWay     bool   // a fibre port that stays up while it receives, whatever the far end does
	Unfed      bool   // power over the pairs is switched off here
	FEC        string // how it corrects errors on fibre, in words; both ends must agree
	Ill        *Illness

	owner   *Switch
	chassis *chassis
	descr   string // ifDescr
	number  int    // within the chassis, from 1
	line    line
	cleared time.Duration // when the counters last began anew, since the campus's start
	heard   []*neighbour
	cache   cache
	feed    feed
	exit    *Port // where a cut-through switch sends what comes in here
	module  *Module
	pulled  *pulled // what its sensors said last, of a module taken out
}

// Switch gives the port's switch; Counters what the port has counted, to be
// read inside Campus.Do.
func (p *Port) Switch() *Switch { return p.owner }

// Counters: see Switch.
func (p *Port) Counters() Counters { return p.line.Counters }

// Link gives the port's speed in Mb/s, 0 for no link, to be read inside Campus.Do.
func (p *Port) Link() (speed int, half bool) { return p.line.speed, p.line.half }

// Changed gives when the link last came or went, since the campus's start, and
// Negotiated the speeds in Mb/s that the port offers and hears offered; both to
// be read inside Campus.Do.
func (p *Port) Changed() time.Duration { return p.line.changed }

// Negotiated: see Changed.
func (p *Port) Negotiated() (offers, hears []int) { return p.offered(), p.line.heard }

func (p *Port) offered() []int {
	if p.Advertised != nil {
		return p.Advertised
	}
	return p.Speeds
}

// dead says that the port offers no link: shut, or without power.
func (p *Port) dead() bool { return p.Shut || p.chassis.lost || p.owner.off }

// SwitchPlan describes a switch to build. Ports are named 1/1 and on, those of
// a stack's second member 2/1 and on.
type SwitchPlan struct {
	Name    string
	Space   string // telecom room
	Members int    // chassis of a stack; 0 and 1 are no stack
	Copper  int    // ports of 10, 100 and 1000BASE-T of each chassis
	Fibre   int    // cages for optics, numbered after the copper ports
	Optic   string // in every cage
	First   int    // ifIndex of the first port; 1 where 0
	Stride  int    // from one port's ifIndex to the next; 1 where 0
	Up      time.Duration
	// CutThrough is the port out of which the switch sends what its others
	// receive, damaged frames included; empty: it checks every frame first.
	CutThrough string
	Watts      float64  // that each chassis can give over the pairs of its copper ports; 0 = it feeds nobody
	Engine     string   // text of the engine's id, as a copied configuration may set it; Name where empty
	Bundle     []string // ports of a link aggregation group, a row "lag1"
	Tagged     []string // sub-interfaces, "1/49.20": rows that look like ports
	LLDP       LLDP
	Quirks     Quirks
	// Without names tables hidden: "mau", "autoneg", "dot3", "dot3hc", "fcs"
	// (columns 2 and 3 of dot3Stats and their 64-bit copies), "hc" (64-bit
	// columns), "ifx", "rmon", "entity", "lldp", "lldp3" (its 802.3 part),
	// "stack", "bridge", "sensors" (ENTITY-SENSOR-MIB), "poe"; or any object or subtree by its OID.
	Without []string
}

// Switch is a simulated switch: a MIB and an Engine for an Agent.
type Switch struct {
	Name  string
	Space string

	campus   *Campus
	model    string
	chassis  []*chassis
	ports    []*Port // by their place and number
	bundle   []*Port
	tagged   []subinterface
	lldp     LLDP
	quirks   Quirks
	without  []string
	first    int
	stride   int
	block    int // ports of a chassis
	engineID []byte
	watts    float64
	off      bool          // no power
	booted   time.Duration // since the campus's start; negative: before it
	boots    uint32
	columns  []Column      // nil after a change of layout
	changed  time.Duration // when the interfaces' rows did, since the campus's start

	cages      []cage        // in the order of their rows
	neighbours []*neighbour  // in the order of their rows
	met        uint32        // neighbours so far, since the boot
	forgets    time.Duration // when the next of them is too old; 0 = none is
	refreshed  refresh
}

func newSwitch(c *Campus, plan SwitchPlan) *Switch {
	s := &Switch{
		Name: plan.Name, Space: plan.Space, campus: c, without: plan.Without, model: model(plan), lldp: plan.LLDP, watts: plan.Watts,
		first: max(plan.First, 1), stride: max(plan.Stride, 1), block: plan.Copper + plan.Fibre,
		booted: -plan.Up, changed: -plan.Up, boots: 1, engineID: engineID(plan.Name),
	}
	if plan.Engine != "" {
		s.engineID = engineID(plan.Engine)
	}
	for place := 1; place <= max(plan.Members, 1); place++ {
		ch := &chassis{serial: c.serial(s.model), place: place, supply: c.serial("FQP")}
		ch.base = macBase(plan.Name)
		if place > 1 {
			ch.base = macBase(ch.serial)
		}
		s.chassis = append(s.chassis, ch)
		s.fill(ch, plan)
	}
	for _, name := range plan.Bundle {
		s.bundle = append(s.bundle, s.Port(name))
	}
	for _, name := range plan.Tagged {
		port, _, _ := strings.Cut(name, ".")
		s.tagged = append(s.tagged, subinterface{name, s.Port(port)})
	}
	if plan.CutThrough != "" {
		s.cutThrough(plan.CutThrough)
	}
	s.quirk(plan.Quirks)
	return s
}

// fill gives a chassis its ports.
func (s *Switch) fill(ch *chassis, plan SwitchPlan) {
	for i := 1; i <= s.block; i++ {
		p := &Port{Media: Copper, Speeds: []int{10, 100, 1000}, owner: s, chassis: ch, number: i}
		p.rename()
		if i > plan.Copper {
			p.Media, p.Speeds = Fibre, []int{10000}
			p.fit(plan.Optic)
		}
		p.feed.Status = FeedSearching
		p.line.changed, p.cleared = -plan.Up, -plan.Up
		s.ports = append(s.ports, p)
	}
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

// Present gives those ports that the switch shows: all but a lost member's.
func (s *Switch) Present() []*Port { return slices.Clone(s.present()) }

// IfIndex gives a port's present ifIndex.
func (s *Switch) IfIndex(p *Port) int {
	s.campus.mu.Lock()
	defer s.campus.mu.Unlock()
	return s.index(p)
}

// position is a port's place in the whole switch, lost members counted, from 0.
func (p *Port) position() int { return (p.chassis.place-1)*p.owner.block + p.number - 1 }

func (s *Switch) index(p *Port) int { return s.first + p.position()*s.stride }

// Restart starts the switch anew: sysUpTime and counters from 0, one more
// boot, every link lost and negotiated again.
func (s *Switch) Restart(now time.Time) {
	s.campus.Do(now, func() { s.boot(now, s.boots+1) })
}

func (s *Switch) boot(now time.Time, boots uint32) {
	s.booted, s.boots = s.campus.since(now), boots
	s.met, s.columns = 0, nil
	s.reload(s.ports)
	for _, p := range s.ports {
		p.cleared = s.booted
	}
}

// reload starts ports anew: links lost, counters from 0, no neighbours. It
// comes before a change of hardware, so that the far ends remember the old.
func (s *Switch) reload(ports []*Port) {
	at := s.campus.elapsed
	for _, c := range s.campus.cables {
		if slices.Contains(ports, c.A) || c.B != nil && slices.Contains(ports, c.B) {
			c.fall(at)
		}
	}
	for _, p := range ports { // after the links fell: what has just started has counted nothing
		p.clear(at)
		p.cache, p.heard, p.feed = cache{}, nil, feed{Feed: Feed{Status: FeedSearching}}
	}
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
	return Engine{ID: s.engineID, Boots: s.boots, Up: max(s.campus.since(now)-s.booted, 0)}
}
