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

// Backplane is the medium of a PHY inside a housing: of no inventory's cable.
const Backplane Medium = "backplane"

// PHY is one physical layer of IEEE 802.3.
type PHY struct {
	Name   string // IEEE name, e.g. 10GBASE-SR
	Clause string // of IEEE 802.3; "" where the standard has none
	Speed  Speed
	Medium Medium  // "" where the type covers several
	BER    float64 // objective: errored bits per bit, at most; 0 where not known
}

// phys lists the PHYs that toneout tells apart. Clauses and BER objectives:
// 10BASE-T 1e-8 (14, PHY test practice); 1000BASE-T 1e-10 (40.6.1.3.1: frame
// error 1e-7 at 125 octets). 100BASE-X is given both as 1e-8 and as 1e-12 in
// print; of 100BASE-TX 1e-8 is taken, since a false alarm is worse than a late
// one, of 100BASE-FX the 2.5e-10 of its PMD, FDDI's (memory). 1e-12 for the
// rest: 55.1 for 10GBASE-T, the others from memory, as are the clauses 36,
// 39, 48, 49, 53, 54, 70, 84, 85, 89, 92, 107, 110 and 140 themselves. Over one
// pair: 1e-9 for 10BASE-T1L (146), 1e-10 for the others (96, 97, 147),
// from memory; 100BASE-T1L was not published when this was written.
var phys = []PHY{
	{"10BASE-T", "14", 10 * Mbps, Copper, 1e-8},
	{"10BASE-T1S", "147", 10 * Mbps, Copper, 1e-10},
	{"10BASE-T1L", "146", 10 * Mbps, Copper, 1e-9},
	{"100BASE-TX", "25", 100 * Mbps, Copper, 1e-8},
	{"100BASE-T1", "96", 100 * Mbps, Copper, 1e-10},
	{"100BASE-T1L", "", 100 * Mbps, Copper, 0},
	{"100BASE-FX", "26", 100 * Mbps, Fibre, 2.5e-10},
	{"100BASE-BX10", "58", 100 * Mbps, Fibre, 1e-12},
	{"100BASE-LX10", "58", 100 * Mbps, Fibre, 1e-12},
	{"1000BASE-T", "40", Gbps, Copper, 1e-10},
	{"1000BASE-T1", "97", Gbps, Copper, 1e-10},
	{"1000BASE-KX", "70", Gbps, Backplane, 1e-12},
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
	{"40GBASE-KR4", "84", 40 * Gbps, Backplane, 1e-12},
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
