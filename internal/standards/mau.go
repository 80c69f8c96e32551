package standards

import (
	"maps"
	"slices"
)

type mauType struct {
	phy    string
	duplex Duplex
}

// mauTypes maps the last arc of dot3MauType (1.3.6.1.2.1.26.4.N, RFC 4836 and
// IANA-MAU-MIB) to a PHY. A type of its own for each duplex mode was assigned
// up to 1000BASE-T; later PHYs are full duplex only. The two sides of a
// single-fibre PHY have a number each.
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
	44: {"100BASE-BX10-D", FullDuplex}, 45: {"100BASE-BX10-U", FullDuplex}, 46: {"100BASE-LX10", FullDuplex},
	47: {"1000BASE-BX10-D", FullDuplex}, 48: {"1000BASE-BX10-U", FullDuplex}, 49: {"1000BASE-LX10", FullDuplex},
	54: {"10GBASE-T", FullDuplex}, 55: {"10GBASE-LRM", FullDuplex}, 56: {"1000BASE-KX", FullDuplex},
	70: {"40GBASE-KR4", FullDuplex}, 71: {"40GBASE-CR4", FullDuplex}, 72: {"40GBASE-SR4", FullDuplex},
	73: {"40GBASE-FR", FullDuplex},
	74: {"40GBASE-LR4", FullDuplex}, 75: {"100GBASE-CR10", FullDuplex}, 76: {"100GBASE-SR10", FullDuplex},
	77: {"100GBASE-LR4", FullDuplex}, 78: {"100GBASE-ER4", FullDuplex},
	79: {"1000BASE-T1", FullDuplex},
	92: {"25GBASE-R", FullDuplex}, 93: {"25GBASE-SR", FullDuplex}, 94: {"25GBASE-T", FullDuplex},
	97: {"40GBASE-T", FullDuplex}, 102: {"100GBASE-SR4", FullDuplex},
	103: {"2.5GBASE-T", FullDuplex}, 104: {"5GBASE-T", FullDuplex}, 105: {"100BASE-T1", FullDuplex},
	114: {"25GBASE-LR", FullDuplex}, 115: {"25GBASE-ER", FullDuplex}, 126: {"100GBASE-DR", FullDuplex},
	141: {"10BASE-T1L", FullDuplex}, 145: {"100GBASE-FR1", FullDuplex}, 146: {"100GBASE-LR1", FullDuplex},
}

// PHYOfMAU gives the PHY and duplex mode that a dot3MauType number names;
// false for a number that is not in the table.
func PHYOfMAU(number int) (PHY, Duplex, bool) {
	if number < 0 || number >= len(phyOfMAU) {
		return PHY{}, DuplexUnknown, false
	}
	m := &phyOfMAU[number]
	return m.phy, m.duplex, m.known
}

type mauPHY struct {
	phy    PHY
	duplex Duplex
	known  bool
}

// phyOfMAU is mauTypes by number with their PHYs, which are asked for in each
// poll of each port.
var phyOfMAU = func() []mauPHY {
	all := make([]mauPHY, 1+slices.Max(slices.Collect(maps.Keys(mauTypes))))
	for number, m := range mauTypes {
		phy, known := PHYNamed(m.phy)
		all[number] = mauPHY{phy, m.duplex, known}
	}
	return all
}()

// MAUNumber gives the dot3MauType number of a PHY by its IEEE name and duplex
// mode. A PHY with one number is found without a duplex mode as well; one of
// single fibre without its side (1000BASE-BX10) is that of the network's side,
// -D. It reports false where no number is known.
func MAUNumber(phy string, d Duplex) (int, bool) {
	var numbers []int
	for n, m := range mauTypes {
		if m.phy == phy || withoutSide(m.phy) == phy {
			numbers = append(numbers, n)
		}
	}
	slices.Sort(numbers)
	for _, n := range numbers {
		if mauTypes[n].duplex == d {
			return n, true
		}
	}
	if len(numbers) == 1 && d == DuplexUnknown {
		return numbers[0], true
	}
	return 0, false
}
