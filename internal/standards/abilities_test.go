package standards

import (
	"testing"
	"testing/quick"

	"github.com/stretchr/testify/require"
)

// IANAifMauAutoNegCapBits (IANA-MAU-MIB of 2017): each bit's mode, and the
// octets it makes with bit 0 the most significant (RFC 2578 7.1.4).
func TestAbilityBits(t *testing.T) {
	rows := []struct {
		mode   string
		octets []byte
		speed  Speed
	}{
		{"other", []byte{0x80}, 0},
		{"10BASE-T half duplex", []byte{0x40}, 10 * Mbps},
		{"10BASE-T full duplex", []byte{0x20}, 10 * Mbps},
		{"100BASE-T4", []byte{0x10}, 100 * Mbps},
		{"100BASE-TX half duplex", []byte{0x08}, 100 * Mbps},
		{"100BASE-TX full duplex", []byte{0x04}, 100 * Mbps},
		{"100BASE-T2 half duplex", []byte{0x02}, 100 * Mbps},
		{"100BASE-T2 full duplex", []byte{0x01}, 100 * Mbps},
		{"pause", []byte{0, 0x80}, 0},
		{"asymmetric pause", []byte{0, 0x40}, 0},
		{"symmetric pause", []byte{0, 0x20}, 0},
		{"asymmetric and symmetric pause", []byte{0, 0x10}, 0},
		{"1000BASE-X half duplex", []byte{0, 0x08}, Gbps},
		{"1000BASE-X full duplex", []byte{0, 0x04}, Gbps},
		{"1000BASE-T half duplex", []byte{0, 0x02}, Gbps},
		{"1000BASE-T full duplex", []byte{0, 0x01}, Gbps},
		{"10GBASE-T", []byte{0, 0, 0x80}, 10 * Gbps},
		{"1000BASE-KX", []byte{0, 0, 0x40}, Gbps},
		{"10GBASE-KX4", []byte{0, 0, 0x20}, 10 * Gbps},
		{"10GBASE-KR", []byte{0, 0, 0x10}, 10 * Gbps},
		{"40GBASE-KR4", []byte{0, 0, 0x08}, 40 * Gbps},
		{"40GBASE-CR4", []byte{0, 0, 0x04}, 40 * Gbps},
		{"100GBASE-CR10", []byte{0, 0, 0x02}, 100 * Gbps},
		{"1000BASE-T1", []byte{0, 0, 0x01}, Gbps},
		{"25GBASE-R-S", []byte{0, 0, 0, 0x80}, 25 * Gbps},
		{"25GBASE-R", []byte{0, 0, 0, 0x40}, 25 * Gbps},
		{"RS-FEC request", []byte{0, 0, 0, 0x20}, 0},
		{"BASE-R FEC request", []byte{0, 0, 0, 0x10}, 0},
		{"25GBASE-T", []byte{0, 0, 0, 0x08}, 25 * Gbps},
		{"40GBASE-T", []byte{0, 0, 0, 0x04}, 40 * Gbps},
		{"100GBASE-CR4", []byte{0, 0, 0, 0x02}, 100 * Gbps},
		{"100GBASE-KR4", []byte{0, 0, 0, 0x01}, 100 * Gbps},
		{"100GBASE-KP4", []byte{0, 0, 0, 0, 0x80}, 100 * Gbps},
		{"forced master or slave", []byte{0, 0, 0, 0, 0x40}, 0},
	}
	require.Len(t, abilityModes, len(rows))
	for bit, row := range rows {
		a := ParseAbilities(row.octets)
		require.Equal(t, Abilities(1)<<bit, a, row.mode)
		require.Equal(t, []string{row.mode}, a.Modes())
		require.Equal(t, row.octets, a.Octets(), row.mode)
		require.Equal(t, row.speed, a.Fastest(), row.mode)
		again, ok := AbilitiesOf(row.mode)
		require.True(t, ok)
		require.Equal(t, a, again)
	}
}

// 10, 100 and 1000 Mb/s with full duplex are bits 1, 2, 4, 5 and 15: 0x6C01.
func TestAbilitiesOfGigabitPort(t *testing.T) {
	a, ok := AbilitiesOf("10BASE-T half duplex", "10BASE-T full duplex",
		"100BASE-TX half duplex", "100BASE-TX full duplex", "1000BASE-T full duplex")
	require.True(t, ok)
	require.Equal(t, []byte{0x6C, 0x01}, a.Octets())

	a, ok = AbilitiesOf("10GBASE-T", "2.5GBASE-T") // which has no bit
	require.False(t, ok)
	require.Equal(t, Abilities(1<<16), a)

	a, ok = AbilitiesOf()
	require.True(t, ok)
	require.Empty(t, a.Octets())
	require.Empty(t, a.Modes())
}

func TestAbilitiesRoundTrip(t *testing.T) {
	require.NoError(t, quick.Check(func(bits uint64) bool {
		a := Abilities(bits)
		named, known := AbilitiesOf(a.Modes()...)
		return known && named == a && ParseAbilities(a.Octets()) == a
	}, nil))
	require.Equal(t, []string{"bit 40", "bit 63"}, Abilities(1<<40|1<<63).Modes())
}

func FuzzParseAbilities(f *testing.F) {
	f.Add([]byte{0x6C, 0x01})
	f.Add([]byte{})
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0, 1, 0xFF})
	f.Fuzz(func(t *testing.T, octets []byte) {
		a := ParseAbilities(octets)
		require.Equal(t, a, ParseAbilities(a.Octets()))
		named, known := AbilitiesOf(a.Modes()...)
		require.True(t, known)
		require.Equal(t, a, named)
		require.LessOrEqual(t, len(a.Octets()), min(len(octets), 8))
	})
}
