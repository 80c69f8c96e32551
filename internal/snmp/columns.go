package snmp

import (
	"slices"
	"strings"

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
	ifTable               = "ifTable"
	ifXTable              = "ifXTable"
	dot3StatsTable        = "dot3StatsTable"
	dot3HCStatsTable      = "dot3HCStatsTable"
	ifMauTable            = "ifMauTable"
	ifMauAutoNegTable     = "ifMauAutoNegTable"
	entPhysicalTable      = "entPhysicalTable"
	entAliasMappingTable  = "entAliasMappingTable"
	ifStackTable          = "ifStackTable"
	lldpRemTable          = "lldpRemTable"
	lldpXdot3RemPortTable = "lldpXdot3RemPortTable"
	lldpLocPortTable      = "lldpLocPortTable"
	dot1dBasePortTable    = "dot1dBasePortTable"
	etherStatsTable       = "etherStatsTable"
	entPhySensorTable     = "entPhySensorTable"
	pethPsePortTable      = "pethPsePortTable"
)

// entries gives each table's entry (RFC 2863, 3433, 3621, 3635, 4836, 6933, 4188,
// 2819, IEEE 802.1AB-2005 clause 12 and annex G).
var entries = map[string]string{
	ifTable:               ".1.3.6.1.2.1.2.2.1.",
	ifXTable:              ".1.3.6.1.2.1.31.1.1.1.",
	dot3StatsTable:        ".1.3.6.1.2.1.10.7.2.1.",
	dot3HCStatsTable:      ".1.3.6.1.2.1.10.7.11.1.",
	ifMauTable:            ".1.3.6.1.2.1.26.2.1.1.",
	ifMauAutoNegTable:     ".1.3.6.1.2.1.26.5.1.1.",
	entPhysicalTable:      ".1.3.6.1.2.1.47.1.1.1.1.",
	entAliasMappingTable:  ".1.3.6.1.2.1.47.1.3.2.1.",
	ifStackTable:          ".1.3.6.1.2.1.31.1.2.1.",
	lldpRemTable:          ".1.0.8802.1.1.2.1.4.1.1.",
	lldpXdot3RemPortTable: ".1.0.8802.1.1.2.1.5.4623.1.3.1.1.",
	lldpLocPortTable:      ".1.0.8802.1.1.2.1.3.7.1.",
	dot1dBasePortTable:    ".1.3.6.1.2.1.17.1.4.1.",
	etherStatsTable:       ".1.3.6.1.2.1.16.1.1.1.",
	entPhySensorTable:     ".1.3.6.1.2.1.99.1.1.1.",
	pethPsePortTable:      ".1.3.6.1.2.1.105.1.1.1.",
}

// tableNames are the tables of the groups.
var tableNames = []string{ifTable, ifXTable, dot3StatsTable, dot3HCStatsTable, ifMauTable, ifMauAutoNegTable}

// mibs are the arcs of the modules that the tables lie in.
var mibs = []string{
	"1.3.6.1.2.1.2", "1.3.6.1.2.1.31", "1.3.6.1.2.1.10.7", "1.3.6.1.2.1.26",
	"1.3.6.1.2.1.47", "1.0.8802.1.1.2", "1.3.6.1.2.1.17", "1.3.6.1.2.1.16",
	"1.3.6.1.2.1.99", "1.3.6.1.2.1.105",
}

// grant gives the subtree that a view must hold for a table.
func grant(table string) string {
	i := slices.IndexFunc(mibs, func(mib string) bool { return strings.HasPrefix(entries[table], "."+mib+".") })
	return mibs[i]
}

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
	name    string // e.g. ifName
	prefix  string // the object's name with a dot after it
	object  []byte // the same in octets
	kind    gosnmp.Asn1BER
	counter port.Counter // where it is one, else port.CounterCount
	set     func(*row, value)
}

// wide tells a 64-bit counter.
func (c *column) wide() bool { return c.kind == gosnmp.Counter64 }

// pace is when a group is asked for, if not in each poll.
type pace uint8

const (
	always   pace = iota
	seldom        // on the slow clock, and where the ports changed
	onChange      // likewise, and of ports whose link changed
)

// group is a set of columns that are asked for together, so that a port's
// row of them is of one moment.
type group struct {
	name    string
	indexes int  // arcs in an instance: ifIndex, or ifIndex.mauIndex
	moment  bool // gives the reading its time; without it there is none
	pace    pace
	columns []*column
}

// groups are in the order in which they are asked. Name, status, speed and
// error counters stand together, so that these are never taken for those of
// another port or of another link. Where not even one row of a group fits into
// an answer, its columns are split in this order.
var groups = []*group{
	{name: "status and error counters", indexes: 1, moment: true, columns: []*column{
		ifName,
		number(ifTable, "8 ifOperStatus", gosnmp.Integer, 7, func(r *row, n uint64) { r.Oper = port.Status(n) }),
		number(ifTable, "7 ifAdminStatus", gosnmp.Integer, 3, func(r *row, n uint64) { r.Admin = port.Status(n) }),
		number(ifXTable, "15 ifHighSpeed", gosnmp.Gauge32, 1<<32-1, func(r *row, n uint64) { r.HighSpeed = port.Some(uint32(n)) }),
		number(ifTable, "5 ifSpeed", gosnmp.Gauge32, 1<<32-1, func(r *row, n uint64) { r.LowSpeed = port.Some(uint32(n)) }),
		number(dot3StatsTable, "19 dot3StatsDuplexStatus", gosnmp.Integer, 3, func(r *row, n uint64) { r.DuplexStatus = duplexes[n] }),
		ticks(ifTable, "9 ifLastChange", func(r *row, n uint32) { r.LastChange = port.Some(n) }),
		ticks(ifXTable, "19 ifCounterDiscontinuityTime", func(r *row, n uint32) { r.Discontinuity = port.Some(n) }),
		counter64(dot3HCStatsTable, "2 dot3HCStatsFCSErrors", port.FCS), counter32(dot3StatsTable, "3 dot3StatsFCSErrors", port.FCS),
		counter64(dot3HCStatsTable, "1 dot3HCStatsAlignmentErrors", port.Alignment), counter32(dot3StatsTable, "2 dot3StatsAlignmentErrors", port.Alignment),
		counter64(ifXTable, "7 ifHCInUcastPkts", port.InUnicast), counter32(ifTable, "11 ifInUcastPkts", port.InUnicast),
		counter64(ifXTable, "8 ifHCInMulticastPkts", port.InMulticast), counter32(ifXTable, "2 ifInMulticastPkts", port.InMulticast),
		counter64(ifXTable, "9 ifHCInBroadcastPkts", port.InBroadcast), counter32(ifXTable, "3 ifInBroadcastPkts", port.InBroadcast),
		counter64(ifXTable, "6 ifHCInOctets", port.InOctets), counter32(ifTable, "10 ifInOctets", port.InOctets),
		counter32(ifTable, "14 ifInErrors", port.InErrors),
	}},
	typesAndTexts,
	{name: "other counters", indexes: 1, columns: []*column{
		counter64(ifXTable, "10 ifHCOutOctets", port.OutOctets), counter32(ifTable, "16 ifOutOctets", port.OutOctets),
		counter64(ifXTable, "11 ifHCOutUcastPkts", port.OutUnicast), counter32(ifTable, "17 ifOutUcastPkts", port.OutUnicast),
		counter64(ifXTable, "12 ifHCOutMulticastPkts", port.OutMulticast), counter32(ifXTable, "4 ifOutMulticastPkts", port.OutMulticast),
		counter64(ifXTable, "13 ifHCOutBroadcastPkts", port.OutBroadcast), counter32(ifXTable, "5 ifOutBroadcastPkts", port.OutBroadcast),
		counter32(ifTable, "13 ifInDiscards", port.InDiscards),
		counter32(ifTable, "19 ifOutDiscards", port.OutDiscards), counter32(ifTable, "20 ifOutErrors", port.OutErrors),
		counter64(dot3HCStatsTable, "6 dot3HCStatsSymbolErrors", port.Symbol), counter32(dot3StatsTable, "18 dot3StatsSymbolErrors", port.Symbol),
		counter64(dot3HCStatsTable, "4 dot3HCStatsFrameTooLongs", port.TooLong), counter32(dot3StatsTable, "13 dot3StatsFrameTooLongs", port.TooLong),
		counter64(dot3HCStatsTable, "5 dot3HCStatsInternalMacReceiveErrors", port.InternalReceive),
		counter32(dot3StatsTable, "16 dot3StatsInternalMacReceiveErrors", port.InternalReceive),
		counter64(dot3HCStatsTable, "3 dot3HCStatsInternalMacTransmitErrors", port.InternalTransmit),
		counter32(dot3StatsTable, "10 dot3StatsInternalMacTransmitErrors", port.InternalTransmit),
		counter32(dot3StatsTable, "8 dot3StatsLateCollisions", port.LateCollisions), counter32(dot3StatsTable, "9 dot3StatsExcessiveCollisions", port.ExcessiveCollisions),
		counter32(dot3StatsTable, "4 dot3StatsSingleCollisionFrames", port.SingleCollisions), counter32(dot3StatsTable, "5 dot3StatsMultipleCollisionFrames", port.MultipleCollisions),
		counter32(dot3StatsTable, "11 dot3StatsCarrierSenseErrors", port.CarrierSense),
	}},
	{name: "MAUs", indexes: 2, columns: []*column{
		number(ifMauTable, "4 ifMauStatus", gosnmp.Integer, 6, func(r *row, n uint64) { r.mauStatus = n }),
		counter32(ifMauTable, "6 ifMauMediaAvailableStateExits", port.MediaExits),
	}},
	{name: "MAU types and auto-negotiation", indexes: 2, pace: onChange, columns: []*column{
		plain(ifMauTable, "3 ifMauType", gosnmp.ObjectIdentifier, func(r *row, v value) { r.MAU = mauType(v.text) }),
		number(ifMauAutoNegTable, "1 ifMauAutoNegAdminStatus", gosnmp.Integer, 2, func(r *row, n uint64) { r.AutoNeg.Enabled = port.Answer(n) }),
		bits(ifMauAutoNegTable, "10 ifMauAutoNegCapAdvertisedBits", func(r *row, a standards.Abilities) { r.AutoNeg.Advertised = port.Some(a) }),
		bits(ifMauAutoNegTable, "11 ifMauAutoNegCapReceivedBits", func(r *row, a standards.Abilities) { r.AutoNeg.Received = port.Some(a) }),
	}},
	{name: "auto-negotiation abilities", indexes: 2, pace: seldom, columns: []*column{
		number(ifMauTable, "12 ifMauAutoNegSupported", gosnmp.Integer, 2, func(r *row, n uint64) { r.AutoNeg.Supported = port.Answer(n) }),
		bits(ifMauAutoNegTable, "9 ifMauAutoNegCapabilityBits", func(r *row, a standards.Abilities) { r.AutoNeg.Capable = port.Some(a) }),
	}},
}

// typesAndTexts says which rows are ports, and what people call them.
var typesAndTexts = &group{name: "types and descriptions", indexes: 1, pace: seldom, columns: []*column{
	number(ifTable, "3 ifType", gosnmp.Integer, 1<<31-1, func(r *row, n uint64) { r.Type = int(n) }),
	number(ifXTable, "17 ifConnectorPresent", gosnmp.Integer, 2, func(r *row, n uint64) { r.Connector = port.Answer(n) }),
	text(ifTable, "2 ifDescr", func(r *row, s string) { r.Description = s }),
	text(ifXTable, "18 ifAlias", func(r *row, s string) { r.Alias = s }),
}}

// ifName says which port a row is.
var ifName = text(ifXTable, "1 ifName", func(r *row, s string) { r.Name = s })

// duplexes gives the meaning of dot3StatsDuplexStatus (RFC 3635).
var duplexes = [...]standards.Duplex{
	1: standards.DuplexUnknown, 2: standards.HalfDuplex, 3: standards.FullDuplex,
}

// plain makes a column of an object, given as its last arc and its name.
func plain(table, object string, kind gosnmp.Asn1BER, set func(*row, value)) *column {
	arc, name, _ := strings.Cut(object, " ")
	prefix := entries[table] + arc + "."
	return &column{table: table, name: name, prefix: prefix, object: nameOf(prefix), kind: kind, counter: port.CounterCount, set: set}
}

// number is a column of numbers; one above most is out of range and absent,
// and so is 0 of an INTEGER, since every enumeration here starts with 1.
func number(table, object string, kind gosnmp.Asn1BER, most uint64, set func(*row, uint64)) *column {
	return plain(table, object, kind, func(r *row, v value) {
		if v.number <= most && (kind != gosnmp.Integer || v.number > 0) {
			set(r, v.number)
		}
	})
}

func ticks(table, object string, set func(*row, uint32)) *column {
	return number(table, object, gosnmp.TimeTicks, 1<<32-1, func(r *row, n uint64) { set(r, uint32(n)) })
}

// text is a column of names that people read and that are compared.
func text(table, object string, set func(*row, string)) *column {
	return plain(table, object, gosnmp.OctetString, func(r *row, v value) { set(r, clean(v.text)) })
}

func bits(table, object string, set func(*row, standards.Abilities)) *column {
	return plain(table, object, gosnmp.OctetString, func(r *row, v value) { set(r, standards.ParseAbilities([]byte(v.text))) })
}

// counter32 gives way to the 64-bit instance of the same port and poll.
func counter32(table, object string, k port.Counter) *column {
	c := number(table, object, gosnmp.Counter32, 1<<32-1, func(r *row, n uint64) {
		if !r.Counters.Wide(k) {
			r.Counters.Set32(k, uint32(n))
		}
	})
	c.counter = k
	return c
}

func counter64(table, object string, k port.Counter) *column {
	c := plain(table, object, gosnmp.Counter64, func(r *row, v value) { r.Counters.Set64(k, v.number) })
	c.counter = k
	return c
}
