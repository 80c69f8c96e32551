package standards

// Medium is what a PHY sends through.
type Medium string

// The media of an inventory's cables.
const (
	Copper        Medium = "copper"
	Fibre         Medium = "fibre"
	Twinax        Medium = "twinax"
	ActiveOptical Medium = "active-optical"
)

// PHY is one physical layer of IEEE 802.3.
type PHY struct {
	Name   string // IEEE name, e.g. 10GBASE-SR
	Clause string // of IEEE 802.3; "" where the standard has none
	Speed  Speed
	Medium Medium  // "" where the type covers several
	BER    float64 // objective: errored bits per bit, at most
}

// phys lists the PHYs that toneout tells apart. Clauses and BER objectives:
// 10BASE-T 1e-8 (14, PHY test practice); 1000BASE-T 1e-10 (40.6.1.3.1: frame
// error 1e-7 at 125 octets). 100BASE-X is given both as 1e-8 and as 1e-12 in
// print; 1e-8 is taken, since a false alarm is worse than a late one. 1e-12
// for the rest: 55.1 for 10GBASE-T, the others from memory, as are the clauses
// 36, 39, 48, 49, 53, 54, 85, 89, 92, 107, 110 and 140 themselves.
var phys = []PHY{
	{"10BASE-T", "14", 10 * Mbps, Copper, 1e-8},
	{"100BASE-TX", "25", 100 * Mbps, Copper, 1e-8},
	{"100BASE-FX", "26", 100 * Mbps, Fibre, 1e-8},
	{"100BASE-BX10", "58", 100 * Mbps, Fibre, 1e-12},
	{"100BASE-LX10", "58", 100 * Mbps, Fibre, 1e-12},
	{"1000BASE-T", "40", Gbps, Copper, 1e-10},
	{"1000BASE-X", "36", Gbps, "", 1e-12},
	{"1000BASE-SX", "38", Gbps, Fibre, 1e-12},
	{"1000BASE-LX", "38", Gbps, Fibre, 1e-12},
	{"1000BASE-CX", "39", Gbps, Twinax, 1e-12},
	{"1000BASE-BX10", "59", Gbps, Fibre, 1e-12},
	{"1000BASE-LX10", "59", Gbps, Fibre, 1e-12},
	{"2.5GBASE-T", "126", 2500 * Mbps, Copper, 1e-12},
	{"5GBASE-T", "126", 5 * Gbps, Copper, 1e-12},
	{"10GBASE-T", "55", 10 * Gbps, Copper, 1e-12},
	{"10GBASE-X", "48", 10 * Gbps, "", 1e-12},
	{"10GBASE-CX4", "54", 10 * Gbps, Twinax, 1e-12},
	{"10GBASE-LX4", "53", 10 * Gbps, Fibre, 1e-12},
	{"10GBASE-R", "49", 10 * Gbps, "", 1e-12},
	{"10GBASE-SR", "52", 10 * Gbps, Fibre, 1e-12},
	{"10GBASE-LR", "52", 10 * Gbps, Fibre, 1e-12},
	{"10GBASE-ER", "52", 10 * Gbps, Fibre, 1e-12},
	{"10GBASE-LRM", "68", 10 * Gbps, Fibre, 1e-12},
	{"25GBASE-T", "113", 25 * Gbps, Copper, 1e-12},
	{"25GBASE-R", "107", 25 * Gbps, "", 1e-12},
	{"25GBASE-CR", "110", 25 * Gbps, Twinax, 1e-12},
	{"25GBASE-CR-S", "110", 25 * Gbps, Twinax, 1e-12},
	{"25GBASE-SR", "112", 25 * Gbps, Fibre, 1e-12},
	{"25GBASE-LR", "114", 25 * Gbps, Fibre, 1e-12},
	{"25GBASE-ER", "114", 25 * Gbps, Fibre, 1e-12},
	{"40GBASE-T", "113", 40 * Gbps, Copper, 1e-12},
	{"40GBASE-CR4", "85", 40 * Gbps, Twinax, 1e-12},
	{"40GBASE-SR4", "86", 40 * Gbps, Fibre, 1e-12},
	{"40GBASE-FR", "89", 40 * Gbps, Fibre, 1e-12},
	{"40GBASE-LR4", "87", 40 * Gbps, Fibre, 1e-12},
	{"100GBASE-CR10", "85", 100 * Gbps, Twinax, 1e-12},
	{"100GBASE-CR4", "92", 100 * Gbps, Twinax, 1e-12},
	{"100GBASE-SR10", "86", 100 * Gbps, Fibre, 1e-12},
	{"100GBASE-SR4", "95", 100 * Gbps, Fibre, 1e-12},
	{"100GBASE-LR4", "88", 100 * Gbps, Fibre, 1e-12},
	{"100GBASE-ER4", "88", 100 * Gbps, Fibre, 1e-12},
	{"100GBASE-DR", "140", 100 * Gbps, Fibre, 1e-12},
	{"100GBASE-FR1", "140", 100 * Gbps, Fibre, 1e-12},
	{"100GBASE-LR1", "140", 100 * Gbps, Fibre, 1e-12},
}

// PHYNamed finds a PHY by its IEEE name; either side of a single-fibre PHY
// (1000BASE-BX10-D) is found as that PHY.
func PHYNamed(name string) (PHY, bool) {
	name = withoutSide(name)
	for _, p := range phys {
		if p.Name == name {
			return p, true
		}
	}
	return PHY{}, false
}

// ObjectiveBER is the bit error objective of a link of which only speed and
// medium are known: that of the PHY most lenient among those that fit, so
// that a guess cannot raise an alarm. It reports false where none fits.
func ObjectiveBER(speed Speed, medium Medium) (float64, bool) {
	ber := 0.0
	for _, p := range phys {
		fits := p.Speed == speed && (medium == "" || p.Medium == "" || p.Medium == medium)
		if fits && p.BER > ber {
			ber = p.BER
		}
	}
	return ber, ber > 0
}

// Duplex is whether both ends may send at once.
type Duplex uint8

// A duplex that is not known is never half.
const (
	DuplexUnknown Duplex = iota
	HalfDuplex
	FullDuplex
)

func (d Duplex) String() string {
	return [...]string{"unknown", "half", "full"}[d]
}

type mauType struct {
	phy    string
	duplex Duplex
}

// mauTypes maps the last arc of dot3MauType (1.3.6.1.2.1.26.4.N, RFC 4836 and
// IANA-MAU-MIB) to a PHY. A type of its own for each duplex mode was assigned
// up to 1000BASE-T; later PHYs are full duplex only.
var mauTypes = map[int]mauType{
	5: {"10BASE-T", DuplexUnknown}, 10: {"10BASE-T", HalfDuplex}, 11: {"10BASE-T", FullDuplex},
	15: {"100BASE-TX", HalfDuplex}, 16: {"100BASE-TX", FullDuplex},
	17: {"100BASE-FX", HalfDuplex}, 18: {"100BASE-FX", FullDuplex},
	21: {"1000BASE-X", HalfDuplex}, 22: {"1000BASE-X", FullDuplex},
	23: {"1000BASE-LX", HalfDuplex}, 24: {"1000BASE-LX", FullDuplex},
	25: {"1000BASE-SX", HalfDuplex}, 26: {"1000BASE-SX", FullDuplex},
	27: {"1000BASE-CX", HalfDuplex}, 28: {"1000BASE-CX", FullDuplex},
	29: {"1000BASE-T", HalfDuplex}, 30: {"1000BASE-T", FullDuplex},
	31: {"10GBASE-X", FullDuplex}, 32: {"10GBASE-LX4", FullDuplex}, 33: {"10GBASE-R", FullDuplex},
	34: {"10GBASE-ER", FullDuplex}, 35: {"10GBASE-LR", FullDuplex}, 36: {"10GBASE-SR", FullDuplex},
	44: {"100BASE-BX10", FullDuplex}, 45: {"100BASE-BX10", FullDuplex}, 46: {"100BASE-LX10", FullDuplex},
	47: {"1000BASE-BX10", FullDuplex}, 48: {"1000BASE-BX10", FullDuplex}, 49: {"1000BASE-LX10", FullDuplex},
	54: {"10GBASE-T", FullDuplex}, 55: {"10GBASE-LRM", FullDuplex},
	71: {"40GBASE-CR4", FullDuplex}, 72: {"40GBASE-SR4", FullDuplex}, 73: {"40GBASE-FR", FullDuplex},
	74: {"40GBASE-LR4", FullDuplex}, 75: {"100GBASE-CR10", FullDuplex}, 76: {"100GBASE-SR10", FullDuplex},
	77: {"100GBASE-LR4", FullDuplex}, 78: {"100GBASE-ER4", FullDuplex},
	92: {"25GBASE-R", FullDuplex}, 93: {"25GBASE-SR", FullDuplex}, 94: {"25GBASE-T", FullDuplex},
	97: {"40GBASE-T", FullDuplex}, 102: {"100GBASE-SR4", FullDuplex},
	103: {"2.5GBASE-T", FullDuplex}, 104: {"5GBASE-T", FullDuplex},
	114: {"25GBASE-LR", FullDuplex}, 115: {"25GBASE-ER", FullDuplex}, 126: {"100GBASE-DR", FullDuplex},
	145: {"100GBASE-FR1", FullDuplex}, 146: {"100GBASE-LR1", FullDuplex},
}

// PHYOfMAU gives the PHY and duplex mode that a dot3MauType number names;
// false for a number that is not in the table.
func PHYOfMAU(number int) (PHY, Duplex, bool) {
	m, ok := mauTypes[number]
	if !ok {
		return PHY{}, DuplexUnknown, false
	}
	phy, ok := PHYNamed(m.phy)
	return phy, m.duplex, ok
}
