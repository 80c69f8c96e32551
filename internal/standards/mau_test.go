package standards

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Numbers of dot3MauType (1.3.6.1.2.1.26.4.N): RFC 4836 up to 55, IANA-MAU-MIB
// of 2014 up to 78, of 2017 up to 104, the later ones of the 2026 registry.
func TestMAUNumbersBothWays(t *testing.T) {
	rows := []struct {
		number int
		phy    string
		duplex Duplex
	}{
		{5, "10BASE-T", DuplexUnknown}, {10, "10BASE-T", HalfDuplex}, {11, "10BASE-T", FullDuplex},
		{15, "100BASE-TX", HalfDuplex}, {16, "100BASE-TX", FullDuplex},
		{17, "100BASE-FX", HalfDuplex}, {18, "100BASE-FX", FullDuplex},
		{21, "1000BASE-X", HalfDuplex}, {22, "1000BASE-X", FullDuplex},
		{23, "1000BASE-LX", HalfDuplex}, {24, "1000BASE-LX", FullDuplex},
		{25, "1000BASE-SX", HalfDuplex}, {26, "1000BASE-SX", FullDuplex},
		{27, "1000BASE-CX", HalfDuplex}, {28, "1000BASE-CX", FullDuplex},
		{29, "1000BASE-T", HalfDuplex}, {30, "1000BASE-T", FullDuplex},
		{31, "10GBASE-X", FullDuplex}, {32, "10GBASE-LX4", FullDuplex}, {33, "10GBASE-R", FullDuplex},
		{34, "10GBASE-ER", FullDuplex}, {35, "10GBASE-LR", FullDuplex}, {36, "10GBASE-SR", FullDuplex},
		{44, "100BASE-BX10-D", FullDuplex}, {45, "100BASE-BX10-U", FullDuplex}, {46, "100BASE-LX10", FullDuplex},
		{47, "1000BASE-BX10-D", FullDuplex}, {48, "1000BASE-BX10-U", FullDuplex}, {49, "1000BASE-LX10", FullDuplex},
		{54, "10GBASE-T", FullDuplex}, {55, "10GBASE-LRM", FullDuplex}, {56, "1000BASE-KX", FullDuplex},
		{70, "40GBASE-KR4", FullDuplex}, {71, "40GBASE-CR4", FullDuplex}, {72, "40GBASE-SR4", FullDuplex},
		{73, "40GBASE-FR", FullDuplex}, {74, "40GBASE-LR4", FullDuplex}, {75, "100GBASE-CR10", FullDuplex},
		{76, "100GBASE-SR10", FullDuplex}, {77, "100GBASE-LR4", FullDuplex}, {78, "100GBASE-ER4", FullDuplex},
		{79, "1000BASE-T1", FullDuplex}, {92, "25GBASE-R", FullDuplex}, {93, "25GBASE-SR", FullDuplex}, {94, "25GBASE-T", FullDuplex},
		{97, "40GBASE-T", FullDuplex}, {102, "100GBASE-SR4", FullDuplex}, {103, "2.5GBASE-T", FullDuplex}, {104, "5GBASE-T", FullDuplex},
		{105, "100BASE-T1", FullDuplex}, {114, "25GBASE-LR", FullDuplex}, {115, "25GBASE-ER", FullDuplex}, {126, "100GBASE-DR", FullDuplex},
		{141, "10BASE-T1L", FullDuplex}, {145, "100GBASE-FR1", FullDuplex}, {146, "100GBASE-LR1", FullDuplex},
	}
	require.Len(t, mauTypes, len(rows))
	for _, row := range rows {
		phy, duplex, ok := PHYOfMAU(row.number)
		require.True(t, ok, row.number)
		require.Equal(t, withoutSide(row.phy), phy.Name, row.number)
		require.Equal(t, row.duplex, duplex, row.number)
		number, ok := MAUNumber(row.phy, row.duplex)
		require.True(t, ok, row.phy)
		require.Equal(t, row.number, number, row.phy)
	}
}

func TestMAUNumberOfLessThanAType(t *testing.T) {
	rows := []struct {
		phy    string
		duplex Duplex
		want   int
		ok     bool
	}{
		{"10GBASE-T", DuplexUnknown, 54, true}, // its only number
		{"1000BASE-T", DuplexUnknown, 0, false},
		{"10GBASE-T", HalfDuplex, 0, false},
		{"1000BASE-BX10", FullDuplex, 47, true}, // the network's side
		{"10BASE-T1S", FullDuplex, 0, false},
		{"", FullDuplex, 0, false},
	}
	for _, row := range rows {
		number, ok := MAUNumber(row.phy, row.duplex)
		require.Equal(t, row.ok, ok, row.phy)
		require.Equal(t, row.want, number, row.phy)
	}
	_, _, ok := PHYOfMAU(0)
	require.False(t, ok)
}
