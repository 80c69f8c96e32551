package snmp

import (
	"toneout/internal/port"
	"toneout/internal/standards"

	"github.com/gosnmp/gosnmp"
)

// The scalars that are asked for by name.
const (
	sysUpTime          = ".1.3.6.1.2.1.1.3"
	sysUpTime0         = sysUpTime + ".0"
	sysName            = ".1.3.6.1.2.1.1.5"
	sysName0           = sysName + ".0"
	ifTableLastChange  = ".1.3.6.1.2.1.31.1.5" // RFC 2863
	ifTableLastChange0 = ifTableLastChange + ".0"
)

var (
	sysUpTimeObject, sysUpTimeName                 = nameOf(sysUpTime), nameOf(sysUpTime0)
	sysNameObject, sysNameName                     = nameOf(sysName), nameOf(sysName0)
	ifTableLastChangeObject, ifTableLastChangeName = nameOf(ifTableLastChange), nameOf(ifTableLastChange0)
)

// Tables whose rows a switch may or may not give.
const (
	ifTable           = "ifTable"
	ifXTable          = "ifXTable"
	dot3StatsTable    = "dot3StatsTable"
	dot3HCStatsTable  = "dot3HCStatsTable"
	ifMauTable        = "ifMauTable"
	ifMauAutoNegTable = "ifMauAutoNegTable"
)

// entries gives each table's entry (RFC 2863, 3635, 4836).
var entries = map[string]string{
	ifTable:           ".1.3.6.1.2.1.2.2.1.",
	ifXTable:          ".1.3.6.1.2.1.31.1.1.1.",
	dot3StatsTable:    ".1.3.6.1.2.1.10.7.2.1.",
	dot3HCStatsTable:  ".1.3.6.1.2.1.10.7.11.1.",
	ifMauTable:        ".1.3.6.1.2.1.26.2.1.1.",
	ifMauAutoNegTable: ".1.3.6.1.2.1.26.5.1.1.",
}

var tableNames = []string{ifTable, ifXTable, dot3StatsTable, dot3HCStatsTable, ifMauTable, ifMauAutoNegTable}

// mauTypes is what ifMauType's values start with (RFC 4836).
const mauTypes = ".1.3.6.1.2.1.26.4."

// row is one port as far as it is known; in the MAU tables one MAU of it.
type row struct {
	port.Reading
	mauStatus uint64
}

// column is one column of a table.
type column struct {
	table   string
	prefix  string // the object's name with a dot after it
	object  []byte // the same in octets
	kind    gosnmp.Asn1BER
	counter port.Counter // where it is one, else port.CounterCount
	set     func(*row, value)
}

// wide tells a 64-bit counter.
func (c *column) wide() bool { return c.kind == gosnmp.Counter64 }

// group is a set of columns that are asked for together, so that a port's
// row of them is of one moment.
type group struct {
	name    string
	indexes int  // arcs in an instance: ifIndex, or ifIndex.mauIndex
	moment  bool // gives the reading its time; without it there is none
	columns []*column
}

// groups are in the order in which they are asked. Name, status, speed and
// error counters stand together, so that these are never taken for those of
// another port or of another link. Where not even one row of a group fits into
// an answer, its columns are split in this order.
var groups = []*group{
	{name: "status and error counters", indexes: 1, moment: true, columns: []*column{
		ifName,
		number(ifTable, "8", gosnmp.Integer, 7, func(r *row, n uint64) { r.Oper = port.Status(n) }),
		number(ifTable, "7", gosnmp.Integer, 3, func(r *row, n uint64) { r.Admin = port.Status(n) }),
		number(ifXTable, "15", gosnmp.Gauge32, 1<<32-1, func(r *row, n uint64) { r.HighSpeed = port.Some(uint32(n)) }),
		number(ifTable, "5", gosnmp.Gauge32, 1<<32-1, func(r *row, n uint64) { r.LowSpeed = port.Some(uint32(n)) }),
		number(dot3StatsTable, "19", gosnmp.Integer, 3, func(r *row, n uint64) { r.DuplexStatus = duplexes[n] }),
		ticks(ifTable, "9", func(r *row, n uint32) { r.LastChange = port.Some(n) }),
		ticks(ifXTable, "19", func(r *row, n uint32) { r.Discontinuity = port.Some(n) }),
		counter64(dot3HCStatsTable, "2", port.FCS), counter32(dot3StatsTable, "3", port.FCS),
		counter64(dot3HCStatsTable, "1", port.Alignment), counter32(dot3StatsTable, "2", port.Alignment),
		counter64(ifXTable, "7", port.InUnicast), counter32(ifTable, "11", port.InUnicast),
		counter64(ifXTable, "8", port.InMulticast), counter32(ifXTable, "2", port.InMulticast),
		counter64(ifXTable, "9", port.InBroadcast), counter32(ifXTable, "3", port.InBroadcast),
		counter64(ifXTable, "6", port.InOctets), counter32(ifTable, "10", port.InOctets),
		counter32(ifTable, "14", port.InErrors),
	}},
	{name: "types and descriptions", indexes: 1, columns: []*column{
		number(ifTable, "3", gosnmp.Integer, 1<<31-1, func(r *row, n uint64) { r.Type = int(n) }),
		number(ifXTable, "17", gosnmp.Integer, 2, func(r *row, n uint64) { r.Connector = port.Answer(n) }),
		text(ifTable, "2", func(r *row, s string) { r.Description = s }),
		text(ifXTable, "18", func(r *row, s string) { r.Alias = s }),
	}},
	{name: "other counters", indexes: 1, columns: []*column{
		counter64(ifXTable, "10", port.OutOctets), counter32(ifTable, "16", port.OutOctets),
		counter64(ifXTable, "11", port.OutUnicast), counter32(ifTable, "17", port.OutUnicast),
		counter64(ifXTable, "12", port.OutMulticast), counter32(ifXTable, "4", port.OutMulticast),
		counter64(ifXTable, "13", port.OutBroadcast), counter32(ifXTable, "5", port.OutBroadcast),
		counter32(ifTable, "13", port.InDiscards),
		counter32(ifTable, "19", port.OutDiscards), counter32(ifTable, "20", port.OutErrors),
		counter64(dot3HCStatsTable, "6", port.Symbol), counter32(dot3StatsTable, "18", port.Symbol),
		counter64(dot3HCStatsTable, "4", port.TooLong), counter32(dot3StatsTable, "13", port.TooLong),
		counter64(dot3HCStatsTable, "5", port.InternalReceive), counter32(dot3StatsTable, "16", port.InternalReceive),
		counter64(dot3HCStatsTable, "3", port.InternalTransmit), counter32(dot3StatsTable, "10", port.InternalTransmit),
		counter32(dot3StatsTable, "8", port.LateCollisions), counter32(dot3StatsTable, "9", port.ExcessiveCollisions),
		counter32(dot3StatsTable, "4", port.SingleCollisions), counter32(dot3StatsTable, "5", port.MultipleCollisions),
		counter32(dot3StatsTable, "11", port.CarrierSense),
	}},
	{name: "MAUs and auto-negotiation", indexes: 2, columns: []*column{
		plain(ifMauTable, "3", gosnmp.ObjectIdentifier, func(r *row, v value) { r.MAU = mauType(v.text) }),
		number(ifMauTable, "4", gosnmp.Integer, 6, func(r *row, n uint64) { r.mauStatus = n }),
		counter32(ifMauTable, "6", port.MediaExits),
		number(ifMauTable, "12", gosnmp.Integer, 2, func(r *row, n uint64) { r.AutoNeg.Supported = port.Answer(n) }),
		number(ifMauAutoNegTable, "1", gosnmp.Integer, 2, func(r *row, n uint64) { r.AutoNeg.Enabled = port.Answer(n) }),
		bits(ifMauAutoNegTable, "9", func(r *row, a standards.Abilities) { r.AutoNeg.Capable = port.Some(a) }),
		bits(ifMauAutoNegTable, "10", func(r *row, a standards.Abilities) { r.AutoNeg.Advertised = port.Some(a) }),
		bits(ifMauAutoNegTable, "11", func(r *row, a standards.Abilities) { r.AutoNeg.Received = port.Some(a) }),
	}},
}

// ifName says which port a row is.
var ifName = text(ifXTable, "1", func(r *row, s string) { r.Name = s })

// duplexes gives the meaning of dot3StatsDuplexStatus (RFC 3635).
var duplexes = [...]standards.Duplex{
	1: standards.DuplexUnknown, 2: standards.HalfDuplex, 3: standards.FullDuplex,
}

func plain(table, arc string, kind gosnmp.Asn1BER, set func(*row, value)) *column {
	prefix := entries[table] + arc + "."
	return &column{table: table, prefix: prefix, object: nameOf(prefix), kind: kind, counter: port.CounterCount, set: set}
}

// number is a column of numbers; one above most is out of range and absent,
// and so is 0 of an INTEGER, since every enumeration here starts with 1.
func number(table, arc string, kind gosnmp.Asn1BER, most uint64, set func(*row, uint64)) *column {
	return plain(table, arc, kind, func(r *row, v value) {
		if v.number <= most && (kind != gosnmp.Integer || v.number > 0) {
			set(r, v.number)
		}
	})
}

func ticks(table, arc string, set func(*row, uint32)) *column {
	return number(table, arc, gosnmp.TimeTicks, 1<<32-1, func(r *row, n uint64) { set(r, uint32(n)) })
}

// text is a column of names that people read and that are compared.
func text(table, arc string, set func(*row, string)) *column {
	return plain(table, arc, gosnmp.OctetString, func(r *row, v value) { set(r, clean(v.text)) })
}

func bits(table, arc string, set func(*row, standards.Abilities)) *column {
	return plain(table, arc, gosnmp.OctetString, func(r *row, v value) { set(r, standards.ParseAbilities([]byte(v.text))) })
}

// counter32 gives way to the 64-bit instance of the same port and poll.
func counter32(table, arc string, k port.Counter) *column {
	c := number(table, arc, gosnmp.Counter32, 1<<32-1, func(r *row, n uint64) {
		if !r.Counters.Wide(k) {
			r.Counters.Set32(k, uint32(n))
		}
	})
	c.counter = k
	return c
}

func counter64(table, arc string, k port.Counter) *column {
	c := plain(table, arc, gosnmp.Counter64, func(r *row, v value) { r.Counters.Set64(k, v.number) })
	c.counter = k
	return c
}
