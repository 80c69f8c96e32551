package web

import "toneout/internal/port"

// tableCost is what a table tells, and what is lost where it is not given.
type tableCost struct {
	place   int // among the others, from 1: what matters most first
	tells   string
	without string // follows "without it: "
	standIn string // the table that does as well where it is given; "" for none
}

// lastRank is where tables come that nobody wrote about here.
const lastRank = 1000

func (t tableCost) rank() int {
	if t.place == 0 {
		return lastRank
	}
	return t.place
}

// costs of tables: RFC 2863 (interfaces), 3635 (Ethernet), 2819 (RMON), 4836
// (MAUs), 6933 (entities), 3433 (sensors), 3621 (power over the pairs), 4188 (bridges), IEEE 802.1AB (neighbours).
var costs = map[string]tableCost{
	"ifTable":               {1, "the ports and their state", "no port is seen at all", ""},
	"ifXTable":              {2, "names, speeds and 64-bit counts", "ports have no name to join a run by, speeds above 4G are not told, and counts of fast links overflow unseen", ""},
	"dot3StatsTable":        {3, "damaged frames and duplex", "damaged frames are not counted, or only among other things, and duplex is not told", ""},
	"dot3HCStatsTable":      {4, "damaged frames in 64 bits", "damaged frames are counted in 32 bits alone, which a very bad fast link overflows", "dot3StatsTable"},
	"etherStatsTable":       {5, "damaged frames, by RMON", "there is nothing to fall back on where dot3StatsTable is not given", "dot3StatsTable"},
	"ifMauAutoNegTable":     {6, "what both ends offer", "a device that can do no more looks like a cable that carries no more", ""},
	"ifMauTable":            {7, "the physical layer", "the kind of link and its brief losses are not told", ""},
	"lldpRemTable":          {8, "neighbours", "a row with the wrong port goes unnoticed, and a dead switch cannot be told from those that it hides", ""},
	"lldpLocPortTable":      {9, "the numbers that neighbours go by", "neighbours may not be placed on the port that hears them", ""},
	"lldpXdot3RemPortTable": {10, "what neighbours offer", "the far end's speeds are known from its offers on the link alone", "ifMauAutoNegTable"},
	"dot1dBasePortTable":    {11, "the numbers of bridge ports", "neighbours that are told by bridge port may not be placed", "lldpLocPortTable"},
	"entPhysicalTable":      {12, "serial numbers", "a switch that was replaced is noticed by its engine id and its ports alone", ""},
	"entAliasMappingTable":  {14, "which member of a stack holds a port", "a member of a stack that was replaced cannot be told from the others", ""},
	"ifStackTable":          {13, "which ports are parts of others", "aggregates may be taken for ports", ""},
	"entPhySensorTable":     {15, "light, laser current and temperature of optics", "light that fades is noticed by the frames that it damages alone", ""},
	"pethPsePortTable":      {16, "power over the pairs", "a short or an overload on a pair under power is not seen", ""},
}

// WithoutTable is what is lost where a switch doesn't give a table.
func WithoutTable(name string) string { return costs[name].without }

// columnCosts is what is lost where a table is given without one of these
// columns; it follows "without …: ". The lack of another costs next to nothing.
var columnCosts = map[string]string{
	"ifName":                        "ports go by their description or number, which an upgrade may change",
	"ifAlias":                       "what people wrote on the ports is not seen",
	"ifType":                        "ports cannot be told from what is no port",
	"ifOperStatus":                  "whether a port has a link is not told",
	"ifAdminStatus":                 "a port that is switched off looks like one without a link",
	"ifHighSpeed":                   "speeds above 4G are not told",
	"ifLastChange":                  "link losses between two polls go unseen",
	"ifHCInOctets":                  "octets are counted in 32 bits, which a fast link overflows",
	"ifHCInUcastPkts":               "frames are counted in 32 bits, which a fast link overflows",
	"dot3StatsFCSErrors":            "damaged frames are not counted, or only among other things",
	"dot3StatsDuplexStatus":         "half duplex may go unseen",
	"ifMauType":                     "the kind of link is not told",
	"ifMauAutoNegCapReceivedBits":   "a device that can do no more looks like a cable that carries no more",
	"ifMauAutoNegCapAdvertisedBits": "a port that is set to offer less looks like a cable that carries less",
	"lldpRemSysName":                "neighbours are known by their ids alone",
	"lldpRemPortId":                 "a neighbour's port is not told, so a wrong port in a row goes unnoticed",
	"pethPsePortShortCounter":       "a short on a pair under power is not seen",
	"pethPsePortOverLoadCounter":    "an overload on a pair under power is not seen",
	"entPhysicalSerialNum":          "a switch that was replaced is noticed by its engine id and its ports alone",
}

// errorCount is what damaged frames are counted by.
type errorCount struct {
	objects string
	doubt   string // why it is weaker; "" for the best
}

var countedBy = map[port.ErrorSource]errorCount{
	port.EtherLike:      {"FCS and alignment errors", ""},
	port.RMON:           {"etherStatsCRCAlignErrors and etherStatsFragments", "some switches count the frames sent too"},
	port.InterfaceTable: {"ifInErrors", "it counts frames too long and overruns of the receiver too"},
}
