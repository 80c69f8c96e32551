package snmp

import (
	"encoding/hex"
	"net/netip"
	"strings"

	"toneout/internal/port"
)

// The subtypes of identifiers (IEEE 802.1AB-2005, LldpChassisIdSubtype and
// LldpPortIdSubtype), by their number.
var (
	chassisKinds = [...]port.IDKind{
		1: port.IDComponent, 2: port.IDAlias, 3: port.IDComponent, 4: port.IDMAC, 5: port.IDAddress, 6: port.IDName, 7: port.IDLocal,
	}
	portKinds = [...]port.IDKind{
		1: port.IDAlias, 2: port.IDComponent, 3: port.IDMAC, 4: port.IDAddress, 5: port.IDName, 6: port.IDCircuit, 7: port.IDLocal,
	}
)

// identifier reads an identifier; one of an unknown subtype may be anything, as
// a local one is.
func identifier(kinds []port.IDKind, subtype uint64, octets string) port.ID {
	id := port.ID{Kind: port.IDLocal}
	if subtype < uint64(len(kinds)) && kinds[subtype] != port.IDAbsent {
		id.Kind = kinds[subtype]
	}
	switch {
	case id.Kind == port.IDMAC && len(octets) == 6:
		id.Text = mac(octets)
	case id.Kind == port.IDAddress:
		id.Text = address(octets)
	}
	if id.Text == "" {
		id.Text = clean(octets)
	}
	if id.Text == "" {
		return port.ID{}
	}
	return id
}

func mac(octets string) string {
	var pairs []string
	for _, octet := range []byte(octets) {
		pairs = append(pairs, hex.EncodeToString([]byte{octet}))
	}
	return strings.Join(pairs, ":")
}

// address reads a network address, of which the first octet tells the family
// (IANA Address Family Numbers: 1 IPv4, 2 IPv6); "" where it is none of these.
func address(octets string) string {
	lengths := map[byte]int{1: 4, 2: 16}
	if octets == "" || lengths[octets[0]] != len(octets)-1 {
		return ""
	}
	ip, _ := netip.AddrFromSlice([]byte(octets[1:]))
	return ip.String()
}

// roles reads LldpSystemCapabilitiesMap, a BITS of 8: bit 0 is the most
// significant one of the first octet (RFC 3417 8).
func roles(octets string) port.Roles {
	var set port.Roles
	for role := port.Other; role <= port.Station && octets != ""; role++ {
		if octets[0]&(0x80>>role) != 0 {
			set = set.With(role)
		}
	}
	return set
}
