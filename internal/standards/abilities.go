package standards

// Abilities is the set of modes one end of a link offers in auto-negotiation:
// bit n stands for bit n of IANAifMauAutoNegCapBits (RFC 4836).
type Abilities uint64

// abilitySpeeds maps a bit's number to the speed of its mode; bits that offer
// no speed (other, pause, FEC requests, ForceMS) have none. There is no bit
// for 2.5GBASE-T and 5GBASE-T, so an offer of those cannot be seen.
var abilitySpeeds = [64]Speed{
	1: 10 * Mbps, 2: 10 * Mbps, 3: 100 * Mbps, 4: 100 * Mbps, 5: 100 * Mbps, 6: 100 * Mbps, 7: 100 * Mbps,
	12: Gbps, 13: Gbps, 14: Gbps, 15: Gbps, 16: 10 * Gbps, 17: Gbps, 18: 10 * Gbps, 19: 10 * Gbps,
	20: 40 * Gbps, 21: 40 * Gbps, 22: 100 * Gbps, 23: Gbps, 24: 25 * Gbps, 25: 25 * Gbps,
	28: 25 * Gbps, 29: 40 * Gbps, 30: 100 * Gbps, 31: 100 * Gbps, 32: 100 * Gbps,
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
	for bit, speed := range abilitySpeeds {
		if a&(1<<bit) != 0 && speed > fastest {
			fastest = speed
		}
	}
	return fastest
}

// Offers tells whether any mode of at least this speed is in the set.
func (a Abilities) Offers(speed Speed) bool { return a.Fastest() >= speed }
