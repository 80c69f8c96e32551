package snmp

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"toneout/internal/port"

	"github.com/stretchr/testify/require"
)

// IEEE 802.1AB-2005, LldpChassisIdSubtype and LldpPortIdSubtype: the numbers of
// the two differ. Addresses by IANA Address Family Numbers in the first octet.
func TestIdentifiers(t *testing.T) {
	mac := "\x02\x00\x5e\x10\x00\x01"
	for name, row := range map[string]struct {
		kinds   []port.IDKind
		subtype uint64
		octets  string
		want    port.ID
	}{
		"chassisComponent":            {chassisKinds[:], 1, "FQ48-0005", port.ID{Kind: port.IDComponent, Text: "FQ48-0005"}},
		"chassis interfaceAlias":      {chassisKinds[:], 2, "N2-P1-7", port.ID{Kind: port.IDAlias, Text: "N2-P1-7"}},
		"chassis portComponent":       {chassisKinds[:], 3, "backplane", port.ID{Kind: port.IDComponent, Text: "backplane"}},
		"chassis macAddress":          {chassisKinds[:], 4, mac, port.ID{Kind: port.IDMAC, Text: "02:00:5e:10:00:01"}},
		"chassis networkAddress":      {chassisKinds[:], 5, "\x01\xc0\x00\x02\x07", port.ID{Kind: port.IDAddress, Text: "192.0.2.7"}},
		"chassis interfaceName":       {chassisKinds[:], 6, "1/1", port.ID{Kind: port.IDName, Text: "1/1"}},
		"chassis local":               {chassisKinds[:], 7, "closet", port.ID{Kind: port.IDLocal, Text: "closet"}},
		"port interfaceAlias":         {portKinds[:], 1, "N2-P1-7", port.ID{Kind: port.IDAlias, Text: "N2-P1-7"}},
		"port portComponent":          {portKinds[:], 2, "p7", port.ID{Kind: port.IDComponent, Text: "p7"}},
		"port macAddress":             {portKinds[:], 3, mac, port.ID{Kind: port.IDMAC, Text: "02:00:5e:10:00:01"}},
		"port networkAddress, IPv6":   {portKinds[:], 4, "\x02\x20\x01\x0d\xb8" + strings.Repeat("\x00", 11) + "\x07", port.ID{Kind: port.IDAddress, Text: "2001:db8::7"}},
		"port interfaceName":          {portKinds[:], 5, "1/17", port.ID{Kind: port.IDName, Text: "1/17"}},
		"port agentCircuitId":         {portKinds[:], 6, "c17", port.ID{Kind: port.IDCircuit, Text: "c17"}},
		"port local":                  {portKinds[:], 7, "17", port.ID{Kind: port.IDLocal, Text: "17"}},
		"a MAC address as text":       {portKinds[:], 3, "02-00-5e-10-00-01", port.ID{Kind: port.IDMAC, Text: "02-00-5e-10-00-01"}},
		"an address of no family":     {portKinds[:], 4, "dock", port.ID{Kind: port.IDAddress, Text: "dock"}},
		"an address cut short":        {portKinds[:], 4, "\x01\xc0\x00", port.ID{Kind: port.IDAddress, Text: "\uFFFD"}},
		"an unknown subtype":          {portKinds[:], 99, "x", port.ID{Kind: port.IDLocal, Text: "x"}},
		"no subtype":                  {portKinds[:], 0, "x", port.ID{Kind: port.IDLocal, Text: "x"}},
		"NUL padding and control":     {portKinds[:], 5, "\x021/17\r\n\x00\x00\x00", port.ID{Kind: port.IDName, Text: "1/17"}},
		"nothing":                     {portKinds[:], 5, "", port.ID{}},
		"nothing but padding":         {portKinds[:], 5, "\x00\x00\x00", port.ID{}},
		"an address without an octet": {portKinds[:], 4, "", port.ID{}},
	} {
		require.Equal(t, row.want, identifier(row.kinds, row.subtype, row.octets), name)
	}
}

// LldpSystemCapabilitiesMap (IEEE 802.1AB-2005): other(0) ... stationOnly(7).
func TestRoles(t *testing.T) {
	require.Equal(t, port.Roles(0).With(port.Bridge).With(port.Telephone), roles("\x24"))
	require.Equal(t, port.Roles(0).With(port.Other), roles("\x80\xff"))
	require.Equal(t, port.Roles(0).With(port.Station), roles("\x01"))
	require.Zero(t, roles(""))
}

// Whatever a device announces is text that can be shown, of bounded length.
func FuzzIdentifier(f *testing.F) {
	f.Add(uint64(4), "\x02\x00\x5e\x10\x00\x01")
	f.Add(uint64(5), "\x01\xc0\x00\x02\x07")
	f.Add(uint64(5), "\x021/17\x00\xff")
	f.Fuzz(func(t *testing.T, subtype uint64, octets string) {
		for _, kinds := range [][]port.IDKind{chassisKinds[:], portKinds[:]} {
			id := identifier(kinds, subtype, octets)
			require.True(t, utf8.ValidString(id.Text))
			require.LessOrEqual(t, len(id.Text), longestName)
			require.False(t, strings.ContainsFunc(id.Text, unicode.IsControl))
			require.Equal(t, id.Text == "", id.Kind == port.IDAbsent)
		}
		roles(octets)
	})
}
