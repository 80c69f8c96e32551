package port

import (
	"time"

	"toneout/internal/standards"
)

// Details is what changes seldom on a switch and is asked on a slower clock:
// what it is built of, whom its ports hear, what their optics
// tell of themselves, and what they feed.
type Details struct {
	At         time.Time // when it was asked
	Chassis    ID        // what the switch calls itself to its neighbours (IEEE 802.1AB)
	Units      []Unit    // in the order of their positions; none where not told
	Neighbours []Neighbour
	Optics     map[int]*Optic // by ifIndex; no entry where none is plugged in, or it tells nothing
	Power      map[int]Power  // by ifIndex; no entry where the port feeds none, or can't be told apart
}

// Unit is a chassis or a member of a stack: a physical entity of class chassis
// (ENTITY-MIB, RFC 6933).
type Unit struct {
	Serial   string // "" where not told
	Model    string
	Position int // among its siblings; the number in "1/17" on most stacks
}

// IDKind is what an identifier of IEEE 802.1AB is (8.5.2.2, 8.5.3.2), for
// chassis and ports alike.
type IDKind uint8

// The kinds.
const (
	IDAbsent    IDKind = iota
	IDComponent        // entPhysicalAlias of a chassis, a backplane or a port
	IDAlias            // ifAlias
	IDMAC              // a MAC address
	IDAddress          // a network address
	IDName             // ifName
	IDCircuit          // agent circuit id (RFC 3046)
	IDLocal            // locally assigned: anything
)

// ID names a chassis or a port to its neighbours.
type ID struct {
	Kind IDKind
	Text string // addresses as "02:00:5e:10:00:01" and "192.0.2.1"; control characters taken out
}

// Role is what a neighbour says it does (LldpSystemCapabilitiesMap).
type Role uint8

// The roles, by their bit.
const (
	Other Role = iota
	Repeater
	Bridge
	AccessPoint
	Router
	Telephone
	CableModem
	Station
)

// Roles is a set of roles; the zero value is none, or none told.
type Roles uint8

// Has tells whether a role is in the set.
func (r Roles) Has(role Role) bool { return r&(1<<role) != 0 }

// With gives the set with a role added.
func (r Roles) With(role Role) Roles { return r | 1<<role }

// Neighbour is a device that a port hears announce itself (IEEE 802.1AB). A
// port may hear several: a telephone with a computer behind it.
type Neighbour struct {
	Index      int // ifIndex of the port that hears it; 0 where that can't be told
	Chassis    ID
	Port       ID     // its port at the other end
	PortText   string // its description of that port
	System     string // its name
	SystemText string // its description of itself
	Roles      Roles  // enabled
	// Of the port at the other end, by the IEEE 802.3 MAC/PHY part; absent
	// and 0 where it does not announce it.
	Offered Value[standards.Abilities]
	MAU     int
}
