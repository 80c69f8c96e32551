package standards

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestParseSpeed(t *testing.T) {
	for _, s := range speeds {
		got, err := ParseSpeed(s.name)
		require.NoError(t, err)
		require.Equal(t, s.speed, got)
		require.Equal(t, s.name, got.String())
	}
	_, err := ParseSpeed("1.5G")
	require.ErrorContains(t, err, `speed "1.5G" is none of 10M 100M 1G`)
	require.Equal(t, "unknown", Speed(0).String())
	require.Equal(t, "20G", (20 * Gbps).String())
}

// RFC 4836 (IANAifMauAutoNegCapBits) and RFC 2578 7.1.4: bit 0 is the most
// significant bit of the first octet.
func TestAbilitiesReadFromTheMostSignificantBit(t *testing.T) {
	full := ParseAbilities([]byte{0x6C, 0x01})
	require.Equal(t, Abilities(1<<1|1<<2|1<<4|1<<5|1<<15), full)
	require.Equal(t, Gbps, full.Fastest())
	require.True(t, full.Offers(Gbps))

	legacy := ParseAbilities([]byte{0x6C, 0x00})
	require.Equal(t, 100*Mbps, legacy.Fastest())
	require.False(t, legacy.Offers(Gbps))

	require.Zero(t, ParseAbilities(nil).Fastest())
	require.Equal(t, 10*Gbps, ParseAbilities([]byte{0, 0, 0x80}).Fastest(), "bit 16 is 10GBASE-T")
}

// Numbers of RFC 4836 (dot3MauType) and later revisions of IANA-MAU-MIB.
func TestPHYOfMAU(t *testing.T) {
	rows := []struct {
		number int
		name   string
		speed  Speed
		duplex Duplex
	}{
		{5, "10BASE-T", 10 * Mbps, DuplexUnknown},
		{10, "10BASE-T", 10 * Mbps, HalfDuplex},
		{16, "100BASE-TX", 100 * Mbps, FullDuplex},
		{30, "1000BASE-T", Gbps, FullDuplex},
		{36, "10GBASE-SR", 10 * Gbps, FullDuplex},
		{54, "10GBASE-T", 10 * Gbps, FullDuplex},
		{103, "2.5GBASE-T", 2500 * Mbps, FullDuplex},
		{104, "5GBASE-T", 5 * Gbps, FullDuplex},
		{145, "100GBASE-FR1", 100 * Gbps, FullDuplex},
	}
	for _, row := range rows {
		phy, duplex, ok := PHYOfMAU(row.number)
		require.True(t, ok, row.name)
		require.Equal(t, row.name, phy.Name)
		require.Equal(t, row.speed, phy.Speed)
		require.Equal(t, row.duplex, duplex)
	}
	_, _, ok := PHYOfMAU(4711)
	require.False(t, ok)
}

func TestEveryMAUTypeNamesAPHYOfTheTable(t *testing.T) {
	for number := range mauTypes {
		_, _, ok := PHYOfMAU(number)
		require.True(t, ok, "MAU type %d names no PHY", number)
	}
}

func TestObjectiveBER(t *testing.T) {
	rows := []struct {
		speed  Speed
		medium Medium
		want   float64
	}{
		{Gbps, Copper, 1e-10},        // IEEE 802.3 40.6.1.3.1
		{10 * Gbps, Copper, 1e-12},   // IEEE 802.3 55.1, objectives of 802.3an
		{10 * Gbps, Fibre, 1e-12},    // clause 52, memory
		{Gbps, Fibre, 1e-12},         // clause 38, memory
		{100 * Mbps, Fibre, 2.5e-10}, // 100BASE-FX: FDDI's PMD (ISO/IEC 9314-3), memory
		{100 * Mbps, Copper, 1e-8},   // the lenient one of two printed values
		{Gbps, "", 1e-10},            // medium not known: the lenient one
		{10 * Mbps, Copper, 1e-8},    // clause 14
		{2500 * Mbps, "", 1e-12},     // clause 126, memory
	}
	for _, row := range rows {
		got, ok := ObjectiveBER(row.speed, row.medium)
		require.True(t, ok)
		require.Equal(t, row.want, got, "%v %v", row.speed, row.medium)
	}
	_, ok := ObjectiveBER(3*Gbps, Copper)
	require.False(t, ok)
}
