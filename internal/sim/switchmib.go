package sim

import (
	"fmt"
	"hash/fnv"
	"slices"
	"strconv"
	"time"
)

// moment is what a switch shows at one time: copies, so that an answer is
// consistent while the campus goes on.
type moment struct {
	name       string
	engine     Engine
	interfaces []iface
	changed    time.Duration // ifTableLastChange
}

// iface is a row of ifTable; the ports come first, the others after them.
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
	lastChange time.Duration // sysUpTime then
	port       portState
	line
}

type portState struct {
	media      Media
	optic      string
	speeds     []int
	advertised []int
	fixed      int
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

// At gives the view of a moment.
func (s *Switch) At(now time.Time) *View {
	s.campus.mu.Lock()
	defer s.campus.mu.Unlock()
	s.campus.advance(now)
	if s.columns == nil {
		s.columns = s.layout()
	}
	return &View{Columns: s.columns, Moment: s.moment(now)}
}

func (s *Switch) moment(now time.Time) *moment {
	m := &moment{
		name: s.Name, engine: s.engine(now), interfaces: make([]iface, 0, len(s.ports)+len(virtual)),
		changed: max(s.changed-s.booted, 0),
	}
	for i, p := range s.ports {
		m.interfaces = append(m.interfaces, iface{
			index: s.index(i), name: p.Name, descr: "Unit 1 port " + p.Name[2:], alias: p.Alias,
			kind: 6, mac: s.mac(i), shut: p.Shut, up: p.line.speed > 0, connector: true, // ethernetCsmacd
			lastChange: max(p.line.changed-s.booted, 0), line: p.line,
			port: portState{p.Media, p.Optic, p.Speeds, p.offered(), p.Fixed},
		})
	}
	seconds := uint64(m.engine.Up.Seconds())
	for i, v := range virtual {
		row := iface{index: s.virtualIndex(i), name: v.name, descr: v.descr, kind: v.kind, mac: s.mac(len(s.ports) + i), up: true}
		row.speed = 1000
		row.In[unicast], row.Out[unicast] = 9*seconds, 8*seconds
		row.InOctets, row.OutOctets = 9*140*seconds, 8*160*seconds
		m.interfaces = append(m.interfaces, row)
	}
	return m
}

func (s *Switch) virtualIndex(i int) int { return s.index(len(s.ports)-1) + 100 + i }

// mac makes a locally administered address.
func (s *Switch) mac(i int) [6]byte {
	h := fnv.New32a()
	h.Write([]byte(s.Name))
	sum := h.Sum32()
	return [6]byte{0x02, byte(sum >> 16), byte(sum >> 8), byte(sum), byte(i >> 8), byte(i)}
}

// layout makes the columns for the present numbering. A switch with no use
// for a table leaves it out.
func (s *Switch) layout() []Column {
	var all, ports, maus, negotiating []OID
	var copper []int
	for i, p := range s.ports {
		row := OID{uint32(s.index(i))}
		all, ports, maus = append(all, row), append(ports, row), append(maus, OID{row[0], 1})
		if p.Media == Copper {
			copper, negotiating = append(copper, i), append(negotiating, OID{row[0], 1})
		}
	}
	for i := range virtual {
		all = append(all, OID{uint32(s.virtualIndex(i))})
	}
	has := func(table string) bool { return !slices.Contains(s.without, table) }
	columns := scalars()
	columns = append(columns, table("1.3.6.1.2.1.2.2.1", all, nil, ifTable)...)
	if has("ifx") {
		columns = append(columns, table("1.3.6.1.2.1.31.1.1.1", all, nil, ifXTable(has("hc")))...)
	}
	if has("dot3") {
		columns = append(columns, table("1.3.6.1.2.1.10.7.2.1", ports, nil, dot3Stats)...)
	}
	if has("dot3hc") {
		columns = append(columns, table("1.3.6.1.2.1.10.7.11.1", ports, nil, dot3HCStats)...)
	}
	if has("mau") {
		columns = append(columns, table("1.3.6.1.2.1.26.2.1.1", maus, nil, ifMau)...)
	}
	if has("mau") && has("autoneg") {
		columns = append(columns, table("1.3.6.1.2.1.26.5.1.1", negotiating, copper, ifMauAutoNeg)...)
	}
	slices.SortFunc(columns, func(a, b Column) int { return slices.Compare(a.Object, b.Object) })
	return columns
}

// table makes columns by their number; pick maps rows to interfaces where they differ.
func table(entry string, rows []OID, pick []int, cells map[uint32]func(*iface) Value) []Column {
	var out []Column
	for number, cell := range cells {
		out = append(out, Column{
			Object: append(ParseOID(entry), number), Rows: rows,
			Value: func(m any, row int) Value {
				if pick != nil {
					row = pick[row]
				}
				return cell(&m.(*moment).interfaces[row])
			},
		})
	}
	return out
}

func scalars() []Column {
	cells := map[string]func(*moment) Value{
		// The system group (RFC 3418). 32473 is kept for examples (RFC 5612).
		"1.3.6.1.2.1.1.1": func(m *moment) Value {
			return Octets(fmt.Sprintf("Ferrow Quay simulated switch, %d interfaces", len(m.interfaces)))
		},
		"1.3.6.1.2.1.1.2": func(*moment) Value { return ObjectID(OID{1, 3, 6, 1, 4, 1, 32473, 1, 1}) },
		"1.3.6.1.2.1.1.3": func(m *moment) Value { return Ticks(m.engine.Up) },
		"1.3.6.1.2.1.1.4": func(*moment) Value { return Octets("network office") },
		"1.3.6.1.2.1.1.5": func(m *moment) Value { return Octets(m.name) },
		"1.3.6.1.2.1.1.6": func(*moment) Value { return Octets("Ferrow Quay College") },
		"1.3.6.1.2.1.1.7": func(*moment) Value { return Integer(2) }, // layer 2
		"1.3.6.1.2.1.2.1": func(m *moment) Value { return Integer(int64(len(m.interfaces))) },
		// ifTableLastChange (RFC 2863): the rows were laid out then.
		"1.3.6.1.2.1.31.1.5": func(m *moment) Value { return Ticks(m.changed) },
		// The snmpEngine group (RFC 3411 section 5).
		"1.3.6.1.6.3.10.2.1.1": func(m *moment) Value { return Value{Tag: TagOctetString, Text: m.engine.ID} },
		"1.3.6.1.6.3.10.2.1.2": func(m *moment) Value { return Integer(int64(m.engine.Boots)) },
		"1.3.6.1.6.3.10.2.1.3": func(m *moment) Value { return Integer(int64(m.engine.Up.Seconds())) },
		"1.3.6.1.6.3.10.2.1.4": func(*moment) Value { return Integer(65507) },
	}
	var out []Column
	for object, cell := range cells {
		out = append(out, Column{
			Object: ParseOID(object), Rows: []OID{{0}},
			Value: func(m any, _ int) Value { return cell(m.(*moment)) },
		})
	}
	return out
}

func truth(b bool) Value { // TruthValue of RFC 2579
	if b {
		return Integer(1)
	}
	return Integer(2)
}

func status(up bool) Value {
	if up {
		return Integer(1)
	}
	return Integer(2)
}

// ifTable is IF-MIB's (RFC 2863), with the meanings of RFC 3635 section 3.
var ifTable = map[uint32]func(*iface) Value{
	1: func(i *iface) Value { return Integer(int64(i.index)) },
	2: func(i *iface) Value { return Octets(i.descr) },
	3: func(i *iface) Value { return Integer(i.kind) },
	4: func(*iface) Value { return Integer(1500) },
	5: func(i *iface) Value { return Gauge32(uint64(i.speed) * 1_000_000) },
	6: func(i *iface) Value { return Octets(string(i.mac[:])) },
	7: func(i *iface) Value { return status(!i.shut) },
	8: func(i *iface) Value { return status(i.up) },
	9: func(i *iface) Value { return Ticks(i.lastChange) },

	10: func(i *iface) Value { return Counter32(i.InOctets) },
	11: func(i *iface) Value { return Counter32(i.In[unicast]) },
	12: func(i *iface) Value { return Counter32(i.In[multicast] + i.In[broadcast]) },
	13: zero32,
	14: func(i *iface) Value { return Counter32(i.InErrors()) },
	15: zero32,
	16: func(i *iface) Value { return Counter32(i.OutOctets) },
	17: func(i *iface) Value { return Counter32(i.Out[unicast]) },
	18: func(i *iface) Value { return Counter32(i.Out[multicast] + i.Out[broadcast]) },
	19: zero32,
	20: func(i *iface) Value { return Counter32(i.OutErrors()) },
	21: func(*iface) Value { return Gauge32(0) },
	22: func(*iface) Value { return ObjectID(OID{0, 0}) },
}

func zero32(*iface) Value { return Counter32(0) }

// ifXTable is IF-MIB's, with or without its 64-bit columns.
func ifXTable(wide bool) map[uint32]func(*iface) Value {
	cells := map[uint32]func(*iface) Value{
		1:  func(i *iface) Value { return Octets(i.name) },
		2:  func(i *iface) Value { return Counter32(i.In[multicast]) },
		3:  func(i *iface) Value { return Counter32(i.In[broadcast]) },
		4:  func(i *iface) Value { return Counter32(i.Out[multicast]) },
		5:  func(i *iface) Value { return Counter32(i.Out[broadcast]) },
		14: func(i *iface) Value { return status(i.connector) },
		15: func(i *iface) Value { return Gauge32(uint64(i.speed)) },
		16: func(*iface) Value { return truth(false) },
		17: func(i *iface) Value { return truth(i.connector) },
		18: func(i *iface) Value { return Octets(i.alias) },
		19: func(*iface) Value { return Ticks(0) },
	}
	if wide {
		cells[6] = func(i *iface) Value { return Counter64(i.InOctets) }
		cells[10] = func(i *iface) Value { return Counter64(i.OutOctets) }
		for n, kind := range []cast{unicast, multicast, broadcast} {
			cells[uint32(7+n)] = func(i *iface) Value { return Counter64(i.In[kind]) }
			cells[uint32(11+n)] = func(i *iface) Value { return Counter64(i.Out[kind]) }
		}
	}
	return cells
}

// dot3Stats is EtherLike-MIB's dot3StatsTable (RFC 3635): all counters 32 bits.
var dot3Stats = map[uint32]func(*iface) Value{
	1:  func(i *iface) Value { return Integer(int64(i.index)) },
	2:  func(i *iface) Value { return Counter32(i.Alignment) },
	3:  func(i *iface) Value { return Counter32(i.FCS) },
	4:  func(i *iface) Value { return Counter32(i.SingleCollision) },
	5:  func(i *iface) Value { return Counter32(i.MultipleCollision) },
	6:  func(i *iface) Value { return Counter32(i.SQETest) },
	7:  func(i *iface) Value { return Counter32(i.Deferred) },
	8:  func(i *iface) Value { return Counter32(i.Late) },
	9:  func(i *iface) Value { return Counter32(i.Excessive) },
	10: func(i *iface) Value { return Counter32(i.InternalTx) },
	11: func(i *iface) Value { return Counter32(i.Carrier) },
	13: func(i *iface) Value { return Counter32(i.TooLong) },
	16: func(i *iface) Value { return Counter32(i.InternalRx) },
	18: func(i *iface) Value { return Counter32(i.Symbol) },
	19: func(i *iface) Value { // dot3StatsDuplexStatus: unknown, half, full
		switch {
		case !i.up:
			return Integer(1)
		case i.half:
			return Integer(2)
		}
		return Integer(3)
	},
}

// dot3HCStats is the same RFC's dot3HCStatsTable, in its own order.
var dot3HCStats = map[uint32]func(*iface) Value{
	1: func(i *iface) Value { return Counter64(i.Alignment) },
	2: func(i *iface) Value { return Counter64(i.FCS) },
	3: func(i *iface) Value { return Counter64(i.InternalTx) },
	4: func(i *iface) Value { return Counter64(i.TooLong) },
	5: func(i *iface) Value { return Counter64(i.InternalRx) },
	6: func(i *iface) Value { return Counter64(i.Symbol) },
}

// ifMau is MAU-MIB's ifMauTable (RFC 4836).
var ifMau = map[uint32]func(*iface) Value{
	1: func(i *iface) Value { return Integer(int64(i.index)) },
	2: func(*iface) Value { return Integer(1) },
	3: func(i *iface) Value { return mauType(i, i.speed, i.half) },
	4: func(i *iface) Value {
		if i.shut {
			return Integer(5) // shutdown
		}
		return Integer(3) // operational
	},
	5: func(i *iface) Value {
		if i.up {
			return Integer(3) // available
		}
		return Integer(4) // notAvailable
	},
	6: func(i *iface) Value { return Counter32(i.Exits) },
	7: func(*iface) Value { return Integer(3) }, // noJabber
	8: zero32,
	9: zero32,

	11: func(i *iface) Value { return mauType(i, slices.Max(i.port.speeds), false) },
	12: func(i *iface) Value { return truth(i.port.media == Copper) },
	14: func(*iface) Value { return Counter64(0) },
}

// mauTypes are the last arcs of dot3MauType (IANA-MAU-MIB) by PHY; half duplex
// is one less where it exists.
var mauTypes = map[string]uint32{
	"10": 11, "100": 16, "1000": 30, "2500": 103, "5000": 104, "10000": 54, // BASE-T
	"1000BASE-LX": 24, "1000BASE-SX": 26, "10GBASE-LR": 35, "10GBASE-SR": 36,
}

// mauType is zeroDotZero where the type is unknown, as without a link on copper.
func mauType(i *iface, speed int, half bool) Value {
	phy := i.port.optic
	if i.port.media == Copper {
		phy = strconv.Itoa(speed)
	}
	number, known := mauTypes[phy]
	if !known {
		return ObjectID(OID{0, 0})
	}
	if half {
		number--
	}
	return ObjectID(OID{1, 3, 6, 1, 2, 1, 26, 4, number})
}

// ifMauAutoNeg is MAU-MIB's ifMauAutoNegTable; column 3 does not exist.
var ifMauAutoNeg = map[uint32]func(*iface) Value{
	1: func(i *iface) Value { return status(i.port.fixed == 0) }, // enabled, disabled
	2: func(i *iface) Value { return status(len(i.heard) > 0) },  // detected, notdetected
	4: func(i *iface) Value {
		switch {
		case i.port.fixed > 0:
			return Integer(4) // disabled
		case i.up:
			return Integer(3) // complete
		}
		return Integer(2) // configuring
	},
	9:  func(i *iface) Value { return abilities(i.port.speeds) },
	10: func(i *iface) Value { return abilities(i.port.advertised) },
	11: func(i *iface) Value { return abilities(i.heard) },
}

// abilities are IANAifMauAutoNegCapBits: 10BASE-T 1 and 2 (full duplex),
// 100BASE-TX 4 and 5, 1000BASE-T full duplex 15, 10GBASE-T 16. Bit 0 is the
// most significant of the first octet (RFC 3417 section 8).
func abilities(speeds []int) Value {
	var octets []byte
	for _, speed := range speeds {
		for _, bit := range map[int][]int{10: {1, 2}, 100: {4, 5}, 1000: {15}, 10000: {16}}[speed] {
			for len(octets) <= bit/8 {
				octets = append(octets, 0)
			}
			octets[bit/8] |= 0x80 >> (bit % 8)
		}
	}
	return Octets(string(octets))
}
