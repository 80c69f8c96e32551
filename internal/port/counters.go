package port

// Counter names one of the counters that a switch keeps for a port.
type Counter uint8

// The counters, each with the object it is read from; the 64-bit object where
// the switch has it, else the 32-bit one.
const (
	InOctets            Counter = iota // ifHCInOctets, ifInOctets
	InUnicast                          // ifHCInUcastPkts, ifInUcastPkts
	InMulticast                        // ifHCInMulticastPkts, ifInMulticastPkts
	InBroadcast                        // ifHCInBroadcastPkts, ifInBroadcastPkts
	OutOctets                          // ifHCOutOctets, ifOutOctets
	OutUnicast                         // ifHCOutUcastPkts, ifOutUcastPkts
	OutMulticast                       // ifHCOutMulticastPkts, ifOutMulticastPkts
	OutBroadcast                       // ifHCOutBroadcastPkts, ifOutBroadcastPkts
	InErrors                           // ifInErrors
	InDiscards                         // ifInDiscards
	OutErrors                          // ifOutErrors
	OutDiscards                        // ifOutDiscards
	FCS                                // dot3HCStatsFCSErrors, dot3StatsFCSErrors
	Alignment                          // dot3HCStatsAlignmentErrors, dot3StatsAlignmentErrors
	Symbol                             // dot3HCStatsSymbolErrors, dot3StatsSymbolErrors
	TooLong                            // dot3HCStatsFrameTooLongs, dot3StatsFrameTooLongs
	InternalReceive                    // dot3HCStatsInternalMacReceiveErrors, dot3StatsInternalMacReceiveErrors
	InternalTransmit                   // dot3HCStatsInternalMacTransmitErrors, dot3StatsInternalMacTransmitErrors
	LateCollisions                     // dot3StatsLateCollisions
	ExcessiveCollisions                // dot3StatsExcessiveCollisions
	SingleCollisions                   // dot3StatsSingleCollisionFrames
	MultipleCollisions                 // dot3StatsMultipleCollisionFrames
	CarrierSense                       // dot3StatsCarrierSenseErrors
	MediaExits                         // ifMauMediaAvailableStateExits
	CRCAlign                           // etherStatsCRCAlignErrors
	Fragments                          // etherStatsFragments
	CounterCount                       // how many there are
)

var counterNames = [CounterCount]string{
	"octets in", "unicast frames in", "multicast frames in", "broadcast frames in",
	"octets out", "unicast frames out", "multicast frames out", "broadcast frames out",
	"errors in", "discards in", "errors out", "discards out",
	"FCS errors", "alignment errors", "symbol errors", "frames too long",
	"internal receive errors", "internal transmit errors",
	"late collisions", "excessive collisions", "single collisions", "multiple collisions",
	"carrier sense errors", "losses of the medium",
	"CRC or alignment errors", "fragments",
}

func (c Counter) String() string { return counterNames[c] }

// Counters holds some of a port's counters and knows which it has. The zero
// value has none.
type Counters struct {
	values  [CounterCount]uint64
	present uint32
	wide    uint32 // which of them are 64 bits wide on the switch
}

// Set32 stores a Counter32.
func (c *Counters) Set32(k Counter, v uint32) {
	c.values[k] = uint64(v)
	c.present |= 1 << k
	c.wide &^= 1 << k
}

// Set64 stores a Counter64.
func (c *Counters) Set64(k Counter, v uint64) {
	c.values[k] = v
	c.present |= 1 << k
	c.wide |= 1 << k
}

// Get gives a counter's value; false where it is absent.
func (c *Counters) Get(k Counter) (uint64, bool) { return c.values[k], c.Has(k) }

// Has tells whether the counter is present.
func (c *Counters) Has(k Counter) bool { return c.present&(1<<k) != 0 }

// Wide tells whether the counter is 64 bits wide on the switch.
func (c *Counters) Wide(k Counter) bool { return c.wide&(1<<k) != 0 }

// Add adds other's counters to these; a counter absent here starts from
// other's.
func (c *Counters) Add(other *Counters) {
	for k := range c.values {
		c.values[k] += other.values[k]
	}
	c.present |= other.present
	c.wide |= other.present
}

// Sum adds up those of the given counters that are present; false where none
// is.
func (c *Counters) Sum(counters ...Counter) (uint64, bool) {
	var sum uint64
	found := false
	for _, k := range counters {
		if v, ok := c.Get(k); ok {
			sum += v
			found = true
		}
	}
	return sum, found
}

// FramesIn is the number of good frames received; false where the switch
// counts none.
func (c *Counters) FramesIn() (uint64, bool) { return c.Sum(InUnicast, InMulticast, InBroadcast) }

// ErrorSource is which objects a count of damaged frames rests on.
type ErrorSource uint8

// The sources, best first. What is weaker may count what no cable did.
const (
	NoErrorSource  ErrorSource = iota
	EtherLike                  // FCS and alignment errors (RFC 3635)
	RMON                       // etherStatsCRCAlignErrors and etherStatsFragments (RFC 2819): of all frames on the line, on some switches those sent too
	InterfaceTable             // ifInErrors (RFC 2863): frames too long and overruns of the receiver too
)

// Weak tells that the count may hold what is no damage by the cable.
func (s ErrorSource) Weak() bool { return s > EtherLike }

// Object names the objects that a source is made of, "" for none.
func (s ErrorSource) Object() string {
	return [...]string{"", "dot3StatsFCSErrors", "etherStatsCRCAlignErrors", "ifInErrors"}[s]
}

// ErrorSource is the best source of damaged frames that the switch has.
//
// By EtherLike these are FCS and alignment errors, of which a frame adds to one
// only. Alignment errors alone are no source: they are not counted at all above
// 100 Mbit/s, so that 0 of them says nothing.
func (c *Counters) ErrorSource() ErrorSource {
	switch {
	case c.Has(FCS):
		return EtherLike
	case c.Has(CRCAlign):
		return RMON
	case c.Has(InErrors):
		return InterfaceTable
	}
	return NoErrorSource
}

// Errored is the number of frames received damaged, by the best source that
// the switch has; NoErrorSource where it has none.
func (c *Counters) Errored() (uint64, ErrorSource) {
	source := c.ErrorSource()
	n, _ := c.ErroredBy(source)
	return n, source
}

// ErroredBy is the number of frames received damaged by one source; false
// where that is not there.
func (c *Counters) ErroredBy(source ErrorSource) (uint64, bool) {
	var n uint64
	switch source {
	case EtherLike:
		n, _ = c.Sum(FCS, Alignment)
		return n, c.Has(FCS)
	case RMON:
		n, _ = c.Sum(CRCAlign, Fragments)
		return n, c.Has(CRCAlign)
	case InterfaceTable:
		return c.Get(InErrors)
	}
	return 0, false
}

// Only gives those of the counters that other has too. The kinds of frames
// come together or not at all, since their sum would jump otherwise.
func (c *Counters) Only(other *Counters) Counters {
	out := *c
	out.present &= other.present
	for _, frames := range []uint32{1<<InUnicast | 1<<InMulticast | 1<<InBroadcast, 1<<OutUnicast | 1<<OutMulticast | 1<<OutBroadcast} {
		if c.present&frames != out.present&frames {
			out.present &^= frames
		}
	}
	return out
}
