package standards

import (
	"bytes"
	"fmt"
	"math/bits"
)

// Abilities is the set of modes one end of a link offers in auto-negotiation:
// bit n stands for bit n of IANAifMauAutoNegCapBits (RFC 4836).
type Abilities uint64

// abilityModes names the bits of IANAifMauAutoNegCapBits and the speeds of
// their modes; a bit that offers none (pause, FEC requests) has no speed. There
// is no bit for 2.5GBASE-T and 5GBASE-T, so an offer of those cannot be seen.
var abilityModes = [...]struct {
	name  string
	speed Speed
}{
	0: {"other", 0},
	1: {"10BASE-T half duplex", 10 * Mbps}, 2: {"10BASE-T full duplex", 10 * Mbps},
	3: {"100BASE-T4", 100 * Mbps},
	4: {"100BASE-TX half duplex", 100 * Mbps}, 5: {"100BASE-TX full duplex", 100 * Mbps},
	6: {"100BASE-T2 half duplex", 100 * Mbps}, 7: {"100BASE-T2 full duplex", 100 * Mbps},
	8: {"pause", 0}, 9: {"asymmetric pause", 0}, 10: {"symmetric pause", 0}, 11: {"asymmetric and symmetric pause", 0},
	12: {"1000BASE-X half duplex", Gbps}, 13: {"1000BASE-X full duplex", Gbps},
	14: {"1000BASE-T half duplex", Gbps}, 15: {"1000BASE-T full duplex", Gbps},
	16: {"10GBASE-T", 10 * Gbps},
	17: {"1000BASE-KX", Gbps}, 18: {"10GBASE-KX4", 10 * Gbps}, 19: {"10GBASE-KR", 10 * Gbps},
	20: {"40GBASE-KR4", 40 * Gbps}, 21: {"40GBASE-CR4", 40 * Gbps}, 22: {"100GBASE-CR10", 100 * Gbps},
	23: {"1000BASE-T1", Gbps}, 24: {"25GBASE-R-S", 25 * Gbps}, 25: {"25GBASE-R", 25 * Gbps},
	26: {"RS-FEC request", 0}, 27: {"BASE-R FEC request", 0},
	28: {"25GBASE-T", 25 * Gbps}, 29: {"40GBASE-T", 40 * Gbps},
	30: {"100GBASE-CR4", 100 * Gbps}, 31: {"100GBASE-KR4", 100 * Gbps}, 32: {"100GBASE-KP4", 100 * Gbps},
	33: {"forced master or slave", 0},
}

// ParseAbilities decodes the octets of a BITS value. Bit 0 is the most
// significant bit of the first octet (RFC 2578 7.1.4), so 10/100/1000 full
// duplex reads 0x6C 0x01. Octets past the eighth are not assigned and ignored.
func ParseAbilities(octets []byte) Abilities {
	var a Abilities
	for i, octet := range octets[:min(len(octets), 8)] {
		for bit := range 8 {
			if octet&(0x80>>bit) != 0 {
				a |= 1 << (8*i + bit)
			}
		}
	}
	return a
}

// Fastest is the highest speed among the modes, 0 where no bit names one.
func (a Abilities) Fastest() Speed {
	var fastest Speed
	for rest := a & (1<<len(abilityModes) - 1); rest != 0; rest &= rest - 1 {
		fastest = max(fastest, abilityModes[bits.TrailingZeros64(uint64(rest))].speed)
	}
	return fastest
}

// Offers tells whether any mode of at least this speed is in the set.
func (a Abilities) Offers(speed Speed) bool { return a.Fastest() >= speed }

// Octets encodes the set as a BITS value, the inverse of ParseAbilities:
// trailing octets without a bit are left out (RFC 2578 7.1.4), all for the
// empty set.
func (a Abilities) Octets() []byte {
	octets := make([]byte, 8)
	for bit := range 64 {
		if a&(1<<bit) != 0 {
			octets[bit/8] |= 0x80 >> (bit % 8)
		}
	}
	return bytes.TrimRight(octets, "\x00")
}

// Modes names the bits of the set in their order, one that is not assigned as
// "bit 40".
func (a Abilities) Modes() []string {
	var modes []string
	for bit := range 64 {
		if a&(1<<bit) != 0 {
			modes = append(modes, modeName(bit))
		}
	}
	return modes
}

func modeName(bit int) string {
	if bit < len(abilityModes) {
		return abilityModes[bit].name
	}
	return fmt.Sprintf("bit %d", bit)
}

// AbilitiesOf is the set of the modes that Modes names so. It reports false
// where a name is none of them; the set then holds the others.
func AbilitiesOf(modes ...string) (Abilities, bool) {
	var a Abilities
	known := true
	for _, mode := range modes {
		bit := 0
		for bit < 64 && modeName(bit) != mode {
			bit++
		}
		a |= 1 << bit // beyond 63 nothing is set
		known = known && bit < 64
	}
	return a, known
}
