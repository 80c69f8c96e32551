package standards

import "strings"

// Optic is what a PHY's optic sends and takes: average power in dBm, for each lane
// where there are several. The zero value is an optic that is not known.
type Optic struct {
	PHY                 string  // IEEE name
	SendLeast, SendMost float64 // dBm
	TakeLeast, TakeMost float64 // dBm: sensitivity and overload
	Damage              float64 // dBm; 0 and DamageKnown false where not published
	DamageKnown         bool
	SendsNM, TakesNM    []float64  // nominal wavelengths, one a lane; they differ on a single-fibre optic
	SendsBandNM         [2]float64 // least and most of what it may send at
	TakesBandNM         [2]float64
	Strands             int // of the duplex or parallel path, both directions together
	SingleMode          bool
	Source              Source
}

// lanes is the number of lanes of each direction.
func (o Optic) lanes() int { return len(o.SendsNM) }

// opticRow is a row of the table: an optic that takes what it sends.
type opticRow struct {
	phy, clause      string
	sends            [2]float64 // dBm
	takes            [2]float64
	damage           float64 // dBm; none where not published
	lanes            []float64
	band             [2]float64
	strands          int
	single, recalled bool
}

const none = 99 // dBm, far above what any optic sends

var (
	lan4 = []float64{1295.56, 1300.05, 1304.58, 1309.14} // lanes 800 GHz apart, memory
	cwdm = []float64{1271, 1291, 1311, 1331}
)

// opticRows holds the optical levels. From clause 52 on the standard rates its
// optics by modulation amplitude; the least average power taken is then the
// least sent less the channel insertion loss (informative). Levels told here
// are average power, which is what a switch reports.
//
// Conflicts and doubts. 1000BASE-LX10 -19.5 dBm and 1000BASE-BX10 -20 dBm are
// memory within 0.5 dB. 10GBASE-LRM's window of -6.5 to +1.5 on some sheets is
// its least sent and its damage level. 40GBASE-FR also takes 1260 to 1355 nm.
// 1000BASE-LX sends least 0.5 dB less into multimode, see entering.
var opticRows = []opticRow{
	{"100BASE-FX", "26", [2]float64{-20, -14}, [2]float64{-31, -14}, none, []float64{1300}, [2]float64{1270, 1380}, 2, false, true},
	{"100BASE-LX10", "58", [2]float64{-15, -8}, [2]float64{-25, -8}, none, []float64{1310}, [2]float64{1260, 1360}, 2, true, false},
	{"1000BASE-SX", "38", [2]float64{-9.5, 0}, [2]float64{-17, 0}, none, []float64{850}, [2]float64{770, 860}, 2, false, false},
	{"1000BASE-LX", "38", [2]float64{-11, -3}, [2]float64{-19, -3}, none, []float64{1310}, [2]float64{1270, 1355}, 2, true, false},
	{"1000BASE-LX10", "59", [2]float64{-9, -3}, [2]float64{-19.5, -3}, none, []float64{1310}, [2]float64{1260, 1360}, 2, true, true},
	{"10GBASE-SR", "52", [2]float64{-7.3, -1}, [2]float64{-9.9, -1}, none, []float64{850}, [2]float64{840, 860}, 2, false, false},
	{"10GBASE-LR", "52", [2]float64{-8.2, 0.5}, [2]float64{-14.4, 0.5}, 1.5, []float64{1310}, [2]float64{1260, 1355}, 2, true, false},
	{"10GBASE-ER", "52", [2]float64{-4.7, 4}, [2]float64{-15.8, -1}, 4, []float64{1550}, [2]float64{1530, 1565}, 2, true, false},
	{"10GBASE-LRM", "68", [2]float64{-6.5, 0.5}, [2]float64{-8.4, 0.5}, 1.5, []float64{1310}, [2]float64{1260, 1355}, 2, false, true},
	{"25GBASE-SR", "112", [2]float64{-8.4, 2.4}, [2]float64{-10.3, 2.4}, 3.4, []float64{850}, [2]float64{840, 860}, 2, false, true},
	{"25GBASE-LR", "114", [2]float64{-7, 2}, [2]float64{-13.3, 2}, 3, []float64{1310}, [2]float64{1295, 1325}, 2, true, true},
	{"25GBASE-ER", "114", [2]float64{-3, 6}, [2]float64{-21, -4}, -3, []float64{1302.5}, [2]float64{1295, 1310}, 2, true, true},
	{"40GBASE-SR4", "86", [2]float64{-7.6, 2.4}, [2]float64{-9.5, 2.4}, 3.4, lanesOf(850, 4), [2]float64{840, 860}, 8, false, true},
	{"40GBASE-FR", "89", [2]float64{0, 3}, [2]float64{-4, 3}, 4, []float64{1550}, [2]float64{1530, 1565}, 2, true, true},
	{"40GBASE-LR4", "87", [2]float64{-7, 2.3}, [2]float64{-13.7, 2.3}, 3.3, cwdm, [2]float64{1264.5, 1337.5}, 2, true, true},
	{"100GBASE-SR10", "86", [2]float64{-7.6, 2.4}, [2]float64{-9.5, 2.4}, 3.4, lanesOf(850, 10), [2]float64{840, 860}, 20, false, true},
	{"100GBASE-SR4", "95", [2]float64{-8.4, 2.4}, [2]float64{-10.3, 2.4}, 3.4, lanesOf(850, 4), [2]float64{840, 860}, 8, false, true},
	{"100GBASE-LR4", "88", [2]float64{-4.3, 4.5}, [2]float64{-10.6, 4.5}, 5.5, lan4, [2]float64{1294.53, 1310.19}, 2, true, true},
	{"100GBASE-ER4", "88", [2]float64{-2.9, 2.9}, [2]float64{-20.9, 4.5}, 5.5, lan4, [2]float64{1294.53, 1310.19}, 2, true, true},
	{"100GBASE-DR", "140", [2]float64{-2.9, 4}, [2]float64{-5.9, 4}, 5, []float64{1311}, [2]float64{1304.5, 1317.5}, 2, true, true},
	{"100GBASE-FR1", "140", [2]float64{-3.1, 4}, [2]float64{-7.1, 4}, 5, []float64{1311}, [2]float64{1304.5, 1317.5}, 2, true, true},
	{"100GBASE-LR1", "140", [2]float64{-1.9, 4.8}, [2]float64{-8.2, 4.8}, 5.8, []float64{1311}, [2]float64{1304.5, 1317.5}, 2, true, true},
}

func lanesOf(nm float64, count int) []float64 {
	lanes := make([]float64, count)
	for i := range lanes {
		lanes[i] = nm
	}
	return lanes
}

var optics = indexOptics()

func indexOptics() map[string]Optic {
	byPHY := make(map[string]Optic)
	for _, r := range opticRows {
		byPHY[r.phy] = r.optic()
	}
	addSingleFibre(byPHY, "100BASE-BX10", "58", [2]float64{-14, -8}, [2]float64{-28.2, -8}, 1550, [2]float64{1480, 1580})
	addSingleFibre(byPHY, "1000BASE-BX10", "59", [2]float64{-9, -3}, [2]float64{-20, -3}, 1490, [2]float64{1480, 1500})
	return byPHY
}

func (r opticRow) optic() Optic {
	o := Optic{
		PHY: r.phy, SendLeast: r.sends[0], SendMost: r.sends[1], TakeLeast: r.takes[0], TakeMost: r.takes[1],
		SendsNM: r.lanes, TakesNM: r.lanes, SendsBandNM: r.band, TakesBandNM: r.band,
		Strands: r.strands, SingleMode: r.single, Source: Source{"IEEE 802.3 clause " + r.clause, r.recalled},
	}
	if r.damage != none {
		o.Damage, o.DamageKnown = r.damage, true
	}
	return o
}

// addSingleFibre adds both sides of a single-fibre PHY: D sends downstream and
// takes upstream, at 1310 nm; U the reverse. The name without a side, which is
// all that some switches tell, may be either, so both wavelengths count.
// The levels are memory.
func addSingleFibre(byPHY map[string]Optic, phy, clause string, sends, takes [2]float64, downNM float64, down [2]float64) {
	o := opticRow{phy, clause, sends, takes, none, []float64{1310, downNM}, [2]float64{1260, down[1]}, 1, true, true}.optic()
	byPHY[phy] = o
	up, upNM := [2]float64{1260, 1360}, []float64{1310}
	d, u := o, o
	d.PHY, d.SendsNM, d.SendsBandNM, d.TakesNM, d.TakesBandNM = phy+"-D", []float64{downNM}, down, upNM, up
	u.PHY, u.SendsNM, u.SendsBandNM, u.TakesNM, u.TakesBandNM = phy+"-U", upNM, up, []float64{downNM}, down
	byPHY[d.PHY], byPHY[u.PHY] = d, u
}

// OpticNamed finds an optic by the IEEE name of its PHY, a single-fibre one
// with its side (1000BASE-BX10-D) or without.
func OpticNamed(phy string) (Optic, bool) {
	o, ok := optics[phy]
	return o, ok
}

// withoutSide cuts the side off the name of a single-fibre optic.
func withoutSide(phy string) string {
	if base, _, ok := strings.Cut(phy, "-BX10-"); ok {
		return base + "-BX10"
	}
	return phy
}
