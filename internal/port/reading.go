package port

import (
	"time"

	"toneout/internal/standards"
)

// Value is a value that may be absent, which is never the same as 0.
type Value[T any] struct {
	value   T
	present bool
}

// Some is a present value.
func Some[T any](v T) Value[T] { return Value[T]{v, true} }

// Get gives the value; false where it is absent.
func (v Value[T]) Get() (T, bool) { return v.value, v.present }

// Status is ifAdminStatus or ifOperStatus (RFC 2863); 0 where it is absent.
type Status uint8

// The states of RFC 2863. Admin status knows the first three only.
const (
	StatusAbsent Status = iota
	Up
	Down
	Testing
	StatusUnknown
	Dormant
	NotPresent
	LowerLayerDown
)

func (s Status) String() string {
	names := [...]string{"not told", "up", "down", "testing", "unknown", "dormant", "not present", "lower layer down"}
	if int(s) < len(names) {
		return names[s]
	}
	return "out of range"
}

// Answer is a yes or no that may be absent.
type Answer uint8

// The answers.
const (
	NotTold Answer = iota
	Yes
	No
)

// AutoNegotiation is a port's row of ifMauAutoNegTable (RFC 4836).
type AutoNegotiation struct {
	Supported  Answer // ifMauAutoNegSupported, of ifMauTable
	Enabled    Answer // ifMauAutoNegAdminStatus
	Capable    Value[standards.Abilities]
	Advertised Value[standards.Abilities]
	Received   Value[standards.Abilities] // what the far end advertised
}

// Reading is what a switch said about one port at one moment.
type Reading struct {
	At     time.Time     // when the answer with the error counters arrived, with its monotonic part
	Uptime Value[uint32] // sysUpTime of the same answer, 1/100 s

	Index       int    // ifIndex: today's handle, not an identity
	Name        string // ifName, control characters taken out; "" where absent
	Description string // ifDescr, likewise
	Alias       string // ifAlias, likewise: what people wrote on the port

	Type      int    // ifType; 0 where absent
	Connector Answer // ifConnectorPresent
	Over      bool   // it lies over other interfaces (ifStackTable): an aggregate or a part of a port
	Unit      string // serial of the chassis or stack member that holds it; "" where not told
	Admin     Status
	Oper      Status

	LowSpeed  Value[uint32] // ifSpeed, bit/s; 4294967295 where it is more
	HighSpeed Value[uint32] // ifHighSpeed, Mbit/s

	LastChange    Value[uint32] // ifLastChange, 1/100 s of sysUpTime
	Discontinuity Value[uint32] // ifCounterDiscontinuityTime, likewise

	DuplexStatus standards.Duplex // dot3StatsDuplexStatus
	MAU          int              // last arc of ifMauType; 0 where absent or not listed
	AutoNeg      AutoNegotiation

	Counters Counters
}

// Poll is all that one switch answered in one round.
type Poll struct {
	At     time.Time // when the last answer arrived
	Uptime Value[uint32]
	Name   string // sysName
	Engine string // snmpEngineID in hexadecimal; "" where not told
	Ports  []Reading
	Tables []Table
	// Details as last asked: the same pointer until they are asked again, which
	// is also done at once where the agent restarted or its interfaces changed.
	// It is nil where they were never asked.
	Details *Details
}

// TableState is whether a switch gives a table, so that what is hidden isn't
// taken for healthy.
type TableState string

// The states of a table.
const (
	TableGiven  TableState = "given"
	TableEmpty  TableState = "empty"  // the switch has the table, and no row in it
	TableHidden TableState = "hidden" // not in this switch, or outside the view of the credentials: SNMP does not tell these apart
	TableBroken TableState = "broken" // asking for it fails
)

// Table is one table of a switch as far as these credentials show it.
type Table struct {
	Name    string // e.g. dot3HCStatsTable
	State   TableState
	Rows    int
	Missing []string // names of the columns that no row of a given table has
	Grant   string   // the subtree that a view must hold for it, e.g. 1.3.6.1.2.1.10.7
	Why     string   // of a broken one: what went wrong; of a given one: what of it could not be used
}

// Given tells whether the table has rows.
func (t Table) Given() bool { return t.State == TableGiven }

// ifType values (IANAifType-MIB) under which a physical Ethernet port may
// appear; all but the first are deprecated there and still in use.
const (
	ethernetCSMACD  = 6
	fastEther       = 62
	fastEtherFX     = 69
	gigabitEthernet = 117
)

// Physical tells whether the row is an Ethernet port that a cable can be
// plugged into, which sub-interfaces, VLANs, aggregates and loopbacks are not.
func (r *Reading) Physical() bool {
	switch r.Type {
	case ethernetCSMACD, fastEther, fastEtherFX, gigabitEthernet:
		return r.Connector != No && !r.Over
	}
	return false
}

const saturatedSpeed = 1<<32 - 1

// Speed is the link's speed: ifHighSpeed where above 0, else ifSpeed unless it
// is saturated (RFC 2863). It is 0, not known, on a port that is not up, since
// switches show the configured or the highest speed there.
func (r *Reading) Speed() standards.Speed {
	if r.Oper != Up {
		return 0
	}
	if high, ok := r.HighSpeed.Get(); ok && high > 0 {
		return standards.Speed(high) * standards.Mbps
	}
	if low, ok := r.LowSpeed.Get(); ok && low != saturatedSpeed {
		return standards.Speed(low)
	}
	return 0
}

// PHY is the physical layer by ifMauType; false where the switch does not
// say, or names a type not in the table.
func (r *Reading) PHY() (standards.PHY, bool) {
	phy, _, ok := standards.PHYOfMAU(r.MAU)
	return phy, ok
}

// Duplex is dot3StatsDuplexStatus, else what the MAU type says, else full at
// 1 Gbit/s and up (common practice, no source), else unknown. A port that is
// not up has none.
func (r *Reading) Duplex() standards.Duplex {
	if r.Oper != Up {
		return standards.DuplexUnknown
	}
	if r.DuplexStatus != standards.DuplexUnknown {
		return r.DuplexStatus
	}
	if _, duplex, ok := standards.PHYOfMAU(r.MAU); ok && duplex != standards.DuplexUnknown {
		return duplex
	}
	if r.Speed() >= standards.Gbps {
		return standards.FullDuplex
	}
	return standards.DuplexUnknown
}
