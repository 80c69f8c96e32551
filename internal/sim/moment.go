package sim

import (
	"slices"
	"strings"
	"sync"
	"time"
)

// moment is what a switch shows at one time: copies, so that an answer is
// consistent while the campus goes on.
type moment struct {
	name       string
	engine     Engine
	interfaces []iface
	changed    time.Duration         // ifTableLastChange
	heard      func() []announcement // of the neighbours, in the order of their rows
	sensors    func() []sensorRow    // of optics, in the order of their rows
	mains      []mains               // what the chassis give over the pairs
}

// iface is a row of ifTable: the present ports come first, then the virtual
// rows, the link aggregation group and the sub-interfaces.
type iface struct {
	index      int
	name       string
	descr      string
	alias      string
	kind       int64 // ifType
	mac        [6]byte
	shut       bool
	up         bool
	connector  bool
	bits       uint64        // ifSpeed, before it saturates
	megabits   uint64        // ifHighSpeed
	mute       bool          // of duplex
	lastChange time.Duration // sysUpTime then
	cleared    time.Duration // ifCounterDiscontinuityTime
	probe      uint32        // etherStatsIndex
	lldpKind   int64         // lldpLocPortIdSubtype
	lldpID     string        // lldpLocPortId
	port       portState
	feed       Feed
	ether      *Counters // as dot3Stats, RMON and the MAUs have them
	line                 // as ifTable has them
}

type portState struct {
	media      Media
	optic      string
	speeds     []int
	advertised []int
	fixed      int
	unfed      bool
}

// virtual are the rows that no cable belongs to: ifType of IANAifType.
var virtual = []struct {
	name, descr string
	kind        int64
}{
	{"cpu", "Control plane", 53}, // propVirtual
	{"lo0", "Loopback", 24},      // softwareLoopback
	{"vlan20", "VLAN 20", 135},   // l2vlan
}

const lagKind = 161 // ieee8023adLag

// subinterface is one VLAN's share of a port, shown as a port of its own.
type subinterface struct {
	name string
	port *Port
}

// At gives the view of a moment.
func (s *Switch) At(now time.Time) *View {
	s.campus.mu.Lock()
	defer s.campus.mu.Unlock()
	s.campus.advance(now)
	s.forget()
	if s.columns == nil {
		s.columns = s.layout()
	}
	return &View{Columns: s.columns, Moment: s.moment(now)}
}

func (s *Switch) moment(now time.Time) *moment {
	present := s.present()
	m := &moment{
		name: s.Name, engine: s.engine(now), changed: max(s.changed-s.booted, 0),
		interfaces: make([]iface, 0, len(present)+len(virtual)+1+len(s.tagged)),
	}
	for _, p := range present {
		m.interfaces = append(m.interfaces, s.portRow(p))
	}
	for i := range virtual {
		m.interfaces = append(m.interfaces, s.virtualRow(i, uint64(m.engine.Up.Seconds())))
	}
	if len(s.bundle) > 0 {
		m.interfaces = append(m.interfaces, s.lagRow())
	}
	for i, sub := range s.tagged {
		if !sub.port.chassis.lost {
			m.interfaces = append(m.interfaces, s.subRow(i))
		}
	}
	for i := range m.interfaces {
		row := &m.interfaces[i]
		if row.ether == nil {
			row.ether = &row.Counters
		}
		s.quirks.disguise(row)
	}
	rows := s.neighbours
	at, cages := s.campus.elapsed, s.cages
	m.sensors = sync.OnceValue(func() []sensorRow { return s.sense(cages, at) })
	m.mains = s.mains()
	m.heard = sync.OnceValue(func() []announcement { return s.announcements(rows) })
	return m
}

func (s *Switch) portRow(p *Port) iface {
	row := iface{
		index: s.index(p), name: p.Name, descr: p.descr, alias: p.Alias,
		kind: 6, mac: p.mac(), shut: p.Shut, up: p.line.speed > 0, connector: true, // ethernetCsmacd
		lastChange: max(p.line.changed-s.booted, 0), line: p.line, feed: p.feed.Feed,
		port: portState{p.Media, p.Optic, p.Speeds, p.offered(), p.Fixed, p.Unfed},
	}
	row.lldpKind, row.lldpID = p.portID()
	row.probe = p.probe()
	if s.quirks.Refresh > 0 {
		ether := p.cache.ether
		row.Counters, row.ether = p.cache.plain, &ether
	}
	if s.quirks.Stamps && p.cleared > s.booted {
		row.cleared = p.cleared - s.booted
	}
	return row
}

func (s *Switch) virtualRow(i int, seconds uint64) iface {
	v := virtual[i]
	row := iface{index: s.virtualIndex(i), name: v.name, descr: v.descr, kind: v.kind, up: true}
	row.mac = s.chassis[0].mac(len(s.ports) + i)
	row.speed = 1000
	row.In[unicast], row.Out[unicast] = 9*seconds, 8*seconds
	row.InOctets, row.OutOctets = 9*140*seconds, 8*160*seconds
	return row
}

// lagRow is the group over the bundled ports (IEEE 802.1AX 6.3.2: its counters
// are the sums of its members').
func (s *Switch) lagRow() iface {
	row := iface{index: s.virtualIndex(len(virtual)), name: "lag1", descr: "Link aggregation group 1", kind: lagKind}
	row.mac = s.bundle[0].mac()
	for _, p := range s.bundle {
		if p.chassis.lost {
			continue
		}
		member := s.portRow(p)
		row.speed += member.speed
		row.up = row.up || member.up
		row.lastChange = max(row.lastChange, member.lastChange)
		row.Counters = row.Counters.plus(member.Counters)
	}
	return row
}

// subRow repeats its port's row under its own name and index.
func (s *Switch) subRow(i int) iface {
	row := s.portRow(s.tagged[i].port)
	row.index, row.name, row.alias = s.virtualIndex(len(virtual)+1+i), s.tagged[i].name, ""
	_, vlan, _ := strings.Cut(row.name, ".")
	row.descr += " VLAN " + vlan
	return row
}

// plus adds what a link aggregation group adds up.
func (c Counters) plus(o Counters) Counters {
	c.InOctets, c.OutOctets = c.InOctets+o.InOctets, c.OutOctets+o.OutOctets
	for cast := range c.In {
		c.In[cast], c.Out[cast] = c.In[cast]+o.In[cast], c.Out[cast]+o.Out[cast]
	}
	c.InternalRx += o.InErrors()
	c.InternalTx += o.OutErrors()
	return c
}

func (s *Switch) virtualIndex(i int) int {
	return s.first + (len(s.chassis)*s.block-1)*s.stride + 100 + i
}

// rowset is which interfaces have a row in a table, and their instances.
type rowset struct {
	rows []OID
	pick []int // index in moment.interfaces
}

func (r *rowset) add(interfaceAt int, row ...uint32) {
	r.rows, r.pick = append(r.rows, row), append(r.pick, interfaceAt)
}

// sorted puts the rows in the order of their instances.
func (r rowset) sorted() rowset {
	order := make([]int, len(r.rows))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return slices.Compare(r.rows[a], r.rows[b]) })
	var out rowset
	for _, i := range order {
		out.add(r.pick[i], r.rows[i]...)
	}
	return out
}
