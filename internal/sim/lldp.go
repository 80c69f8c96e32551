package sim

import (
	"hash/fnv"
	"slices"
	"strconv"
	"time"
)

// LLDP is how a switch speaks and numbers in the discovery protocol (IEEE
// 802.1AB-2005). The zero value: port numbers are ifIndexes, port ids are
// ifNames, the chassis id is an address of the first port.
type LLDP struct {
	Numbers PortNumbers
	PortID  PortID
	Address string // an IPv4 address, then the chassis id: "192.0.2.7"
}

// PortNumbers are what LldpPortNumber equals. The textual convention wants
// dot1dBasePort of a bridge and ifIndex of others; switches do as they like.
type PortNumbers string

// The numbers of ports. OwnNumber is neither, so that only lldpLocPortId tells.
const (
	ByIfIndex    PortNumbers = ""
	ByBridgePort PortNumbers = "bridge port"
	OwnNumber    PortNumbers = "own"
)

// PortID is a subtype of port identifiers (LldpPortIdSubtype).
type PortID string

// The port identifiers.
const (
	InterfaceName  PortID = "" // interfaceName(5)
	MACAddress     PortID = "MAC address"
	InterfaceAlias PortID = "alias" // the ifName where there is no ifAlias
	LocalPortID    PortID = "local" // the number on the faceplate
)

// holdTime is how long what was heard is believed: a time-to-live of four
// intervals of 30 s (IEEE 802.1AB-2005 10.5.3.3). The link's last moment
// counts as the last time that anything was heard.
const holdTime = 120 * time.Second

// announcement is what one end of a link says of itself.
type announcement struct {
	chassisKind, portKind              int64 // LldpChassisIdSubtype, LldpPortIdSubtype
	chassis, port                      string
	portDescr, systemName, systemDescr string
	abilities                          string // LldpSystemCapabilitiesMap
	negotiates, negotiating            bool   // the 802.3 part
	advertised                         string
	mau                                uint32
}

// Subtypes of chassis and port identifiers.
const (
	macChassis     = 4
	networkChassis = 5
	aliasPort      = 1
	macPort        = 3
	namePort       = 5
	localPort      = 7
)

// System capabilities: bit 0 is the most significant bit of the only octet.
const (
	bridgeAbility    = "\x20" // bridge(2)
	wirelessAbility  = "\x10" // wlanAccessPoint(3)
	telephoneAbility = "\x24" // telephone(5) with a bridge(2) for the PC behind it
	stationAbility   = "\x01" // stationOnly(7)
)

// neighbour is what a port has heard of one other system.
type neighbour struct {
	port  *Port
	from  *Port         // or
	by    *Device       // one of the two
	index uint32        // lldpRemIndex
	since time.Duration // last change, since the campus's start
	gone  bool
	lost  time.Duration // when the link fell, if gone
	last  announcement  // what was said at the end, if gone
}

func (n *neighbour) said() announcement {
	switch {
	case n.gone:
		return n.last
	case n.from != nil:
		return n.from.announcement()
	}
	return n.by.announcement(n.port)
}

// introduce makes both ends of a link hear each other.
func (c *Cable) introduce(at time.Duration) {
	if c.B != nil {
		c.A.hear(&neighbour{from: c.B}, at)
		c.B.hear(&neighbour{from: c.A}, at)
		return
	}
	for d := c.Device; d != nil; d = d.Behind {
		if d.LLDP && !d.Off {
			c.A.hear(&neighbour{by: d}, at)
		}
	}
}

// hear takes a neighbour in, as a change where it is not the same as before.
func (p *Port) hear(n *neighbour, at time.Duration) {
	n.port, n.since = p, at
	for _, known := range p.heard {
		if known.gone && known.last == n.said() {
			known.gone = false
			p.owner.columns = nil
			return
		}
	}
	p.owner.met++
	n.index = p.owner.met
	said := n.said()
	p.heard = slices.DeleteFunc(p.heard, func(known *neighbour) bool {
		return known.gone && known.last.chassis == said.chassis && known.last.port == said.port
	})
	p.heard = append(p.heard, n)
	p.owner.columns = nil
}

// lose notes that a port's link has fallen: what was heard is kept for a time.
func (p *Port) lose(at time.Duration) {
	for _, n := range p.heard {
		if !n.gone {
			n.last = n.said()
			n.gone, n.lost = true, at
			p.owner.columns = nil
			p.owner.forgetBy(at + holdTime)
		}
	}
}

// forgetBy notes when a neighbour's time is over.
func (s *Switch) forgetBy(at time.Duration) {
	if s.forgets == 0 || at < s.forgets {
		s.forgets = at
	}
}

// forget drops the neighbours whose time is over.
func (s *Switch) forget() {
	now := s.campus.elapsed
	if s.forgets == 0 || now < s.forgets {
		return
	}
	s.forgets, s.columns = 0, nil
	for _, p := range s.ports {
		p.heard = slices.DeleteFunc(p.heard, func(n *neighbour) bool { return n.gone && now >= n.lost+holdTime })
		for _, n := range p.heard {
			if n.gone {
				s.forgetBy(n.lost + holdTime)
			}
		}
	}
}

// listNeighbours puts them in the order of their rows.
func (s *Switch) listNeighbours() {
	s.neighbours = nil
	for _, p := range s.present() {
		s.neighbours = append(s.neighbours, p.heard...)
	}
	slices.SortFunc(s.neighbours, func(a, b *neighbour) int { return slices.Compare(s.remoteRow(a), s.remoteRow(b)) })
}

// announcements gives what the neighbours say now.
func (s *Switch) announcements(of []*neighbour) []announcement {
	s.campus.mu.Lock()
	defer s.campus.mu.Unlock()
	out := make([]announcement, len(of))
	for i, n := range of {
		out[i] = n.said()
	}
	return out
}

// announcement is what a switch's port says.
func (p *Port) announcement() announcement {
	s := p.owner
	a := announcement{
		portDescr: p.descr, systemName: s.Name, systemDescr: "Ferrow Quay switch " + s.model, abilities: bridgeAbility,
		negotiates: p.Media == Copper, negotiating: p.Media == Copper && p.Fixed == 0,
		mau: mauNumber(p.Media, p.Optic, p.line.speed, p.line.half),
	}
	a.chassisKind, a.chassis = s.chassisID()
	a.portKind, a.port = p.portID()
	if a.negotiating {
		a.advertised = bits(p.offered())
	}
	a.advertised = pad(a.advertised)
	return a
}

// chassisID gives the identifier; a network address follows the number of its
// family, 1 for IPv4 (IANA address family numbers).
func (s *Switch) chassisID() (kind int64, id string) {
	if s.lldp.Address != "" {
		return networkChassis, "\x01" + addressOctets(s.lldp.Address)
	}
	mac := s.chassis[0].mac(0)
	return macChassis, string(mac[:])
}

func (p *Port) portID() (kind int64, id string) {
	switch {
	case p.owner.lldp.PortID == MACAddress:
		mac := p.mac()
		return macPort, string(mac[:])
	case p.owner.lldp.PortID == LocalPortID:
		return localPort, strconv.Itoa(p.position() + 1)
	case p.owner.lldp.PortID == InterfaceAlias && p.Alias != "":
		return aliasPort, p.Alias
	}
	return namePort, p.Name
}

// lldpNumber is the port's LldpPortNumber.
func (p *Port) lldpNumber() uint32 {
	switch p.owner.lldp.Numbers {
	case ByBridgePort:
		return p.bridgePort()
	case OwnNumber:
		return uint32(len(p.owner.ports) + p.position())
	}
	return uint32(p.owner.index(p))
}

// announcement is what a device says to the port that it hangs on.
func (d *Device) announcement(to *Port) announcement {
	mac := d.mac()
	a := announcement{
		chassisKind: macChassis, chassis: string(mac[:]), portKind: macPort, port: string(mac[:]),
		systemName: d.Name, systemDescr: "Ferrow Quay " + d.Kind, abilities: stationAbility,
		negotiates: to.Media == Copper, negotiating: to.Media == Copper && d.Fixed == 0,
		mau: mauNumber(to.Media, to.Optic, to.line.speed, d.line.half),
	}
	switch d.Kind {
	case "phone":
		a.abilities, a.portDescr = telephoneAbility, "SW"
	case "access point":
		a.abilities, a.portDescr = wirelessAbility, "uplink"
	case "server":
		a.portKind, a.port, a.portDescr = namePort, "port1", "port1"
	}
	if a.negotiating {
		a.advertised = bits(d.Speeds)
	}
	a.advertised = pad(a.advertised)
	return a
}

// mac is the device's address, locally administered, by its name.
func (d *Device) mac() [6]byte {
	h := fnv.New32a()
	h.Write([]byte(d.Kind + " " + d.Name))
	sum := h.Sum32()
	return [6]byte{0x06, 0xd0, byte(sum >> 24), byte(sum >> 16), byte(sum >> 8), byte(sum)}
}
