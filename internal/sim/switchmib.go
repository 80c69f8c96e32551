package sim

import (
	"fmt"
	"slices"
	"strconv"
)

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
	5: func(i *iface) Value { return Gauge32(i.bits) },
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

// ifXTable is IF-MIB's but for its 64-bit columns.
var ifXTable = map[uint32]func(*iface) Value{
	1:  func(i *iface) Value { return Octets(i.name) },
	2:  func(i *iface) Value { return Counter32(i.In[multicast]) },
	3:  func(i *iface) Value { return Counter32(i.In[broadcast]) },
	4:  func(i *iface) Value { return Counter32(i.Out[multicast]) },
	5:  func(i *iface) Value { return Counter32(i.Out[broadcast]) },
	14: func(i *iface) Value { return status(i.connector) },
	15: func(i *iface) Value { return Gauge32(i.megabits) },
	16: func(*iface) Value { return truth(false) },
	17: func(i *iface) Value { return truth(i.connector) },
	18: func(i *iface) Value { return Octets(i.alias) },
	19: func(i *iface) Value { return Ticks(i.cleared) },
}

// ifHCTable are the 64-bit columns of the same entry.
var ifHCTable = map[uint32]func(*iface) Value{
	6:  func(i *iface) Value { return Counter64(i.InOctets) },
	7:  func(i *iface) Value { return Counter64(i.In[unicast]) },
	8:  func(i *iface) Value { return Counter64(i.In[multicast]) },
	9:  func(i *iface) Value { return Counter64(i.In[broadcast]) },
	10: func(i *iface) Value { return Counter64(i.OutOctets) },
	11: func(i *iface) Value { return Counter64(i.Out[unicast]) },
	12: func(i *iface) Value { return Counter64(i.Out[multicast]) },
	13: func(i *iface) Value { return Counter64(i.Out[broadcast]) },
}

// dot3Stats is EtherLike-MIB's dot3StatsTable (RFC 3635): all counters 32 bits.
var dot3Stats = map[uint32]func(*iface) Value{
	1:  func(i *iface) Value { return Integer(int64(i.index)) },
	4:  func(i *iface) Value { return Counter32(i.ether.SingleCollision) },
	5:  func(i *iface) Value { return Counter32(i.ether.MultipleCollision) },
	6:  func(i *iface) Value { return Counter32(i.ether.SQETest) },
	7:  func(i *iface) Value { return Counter32(i.ether.Deferred) },
	8:  func(i *iface) Value { return Counter32(i.ether.Late) },
	9:  func(i *iface) Value { return Counter32(i.ether.Excessive) },
	10: func(i *iface) Value { return Counter32(i.ether.InternalTx) },
	11: func(i *iface) Value { return Counter32(i.ether.Carrier) },
	13: func(i *iface) Value { return Counter32(i.ether.TooLong) },
	16: func(i *iface) Value { return Counter32(i.ether.InternalRx) },
	18: func(i *iface) Value { return Counter32(i.ether.Symbol) },
	19: func(i *iface) Value { // dot3StatsDuplexStatus: unknown, half, full
		switch {
		case !i.up || i.mute:
			return Integer(1)
		case i.half:
			return Integer(2)
		}
		return Integer(3)
	},
}

// dot3FCS are its two columns of bad frames, which some switches lack.
var dot3FCS = map[uint32]func(*iface) Value{
	2: func(i *iface) Value { return Counter32(i.ether.Alignment) },
	3: func(i *iface) Value { return Counter32(i.ether.FCS) },
}

// dot3HCStats is the same RFC's dot3HCStatsTable, in its own order.
var dot3HCStats = map[uint32]func(*iface) Value{
	3: func(i *iface) Value { return Counter64(i.ether.InternalTx) },
	4: func(i *iface) Value { return Counter64(i.ether.TooLong) },
	5: func(i *iface) Value { return Counter64(i.ether.InternalRx) },
	6: func(i *iface) Value { return Counter64(i.ether.Symbol) },
}

// dot3HCFCS are its columns of bad frames.
var dot3HCFCS = map[uint32]func(*iface) Value{
	1: func(i *iface) Value { return Counter64(i.ether.Alignment) },
	2: func(i *iface) Value { return Counter64(i.ether.FCS) },
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
	6: func(i *iface) Value { return Counter32(i.ether.Exits) },
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
	"1000BASE-LX": 24, "1000BASE-SX": 26, "10GBASE-ER": 34, "10GBASE-LR": 35, "10GBASE-SR": 36,
	"40GBASE-SR4": 72, "40GBASE-LR4": 74, "100GBASE-LR4": 77, "25GBASE-SR": 93, "100GBASE-SR4": 102, "25GBASE-LR": 114,
}

// mauNumber is the last arc of the type, 0 where it is unknown, as without a
// link on copper.
func mauNumber(media Media, optic string, speed int, half bool) uint32 {
	phy := optic
	if media == Copper {
		phy = strconv.Itoa(speed)
	}
	number, known := mauTypes[phy]
	if known && half {
		number--
	}
	return number
}

func mauType(i *iface, speed int, half bool) Value {
	number := mauNumber(i.port.media, i.port.optic, speed, half)
	if number == 0 {
		return ObjectID(OID{0, 0}) // zeroDotZero
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
func abilities(speeds []int) Value { return Octets(bits(speeds)) }

func bits(speeds []int) string {
	var octets []byte
	for _, speed := range speeds {
		for _, bit := range map[int][]int{10: {1, 2}, 100: {4, 5}, 1000: {15}, 10000: {16}}[speed] {
			for len(octets) <= bit/8 {
				octets = append(octets, 0)
			}
			octets[bit/8] |= 0x80 >> (bit % 8)
		}
	}
	return string(octets)
}
