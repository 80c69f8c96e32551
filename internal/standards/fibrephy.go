package standards

// FibreReach is how far a PHY reaches over a kind of fibre.
type FibreReach struct {
	LengthM          float64 // most, in metres
	LeastM           float64 // the length the standard starts from
	LossDB           float64 // channel insertion loss, most
	EngineeredM      float64 // most under the Condition; 0 where LengthM is the end
	Condition        string  // what a length above LengthM depends on
	ModeConditioning bool    // a mode-conditioning cord is needed at each sending end
	Source           Source  // of the length
	LossSource       Source
	lossHalf         float64 // dB: half of the last place that LossDB is printed to
}

// reachRow is a row of the table: of a core in µm (0 for single mode) with at
// least a modal bandwidth, or of one grade alone.
type reachRow struct {
	core, modal float64
	grade       string
	FibreReach
}

// recall tells which figures of a row are memory.
type recall uint8

const (
	seen   recall = 0
	memoM  recall = 1 // the length
	memoDB recall = 2 // the loss
	memo          = memoM | memoDB
)

// over is a row of the table in its clause, reach its last: metres and dB.
func over(core, modal, metres, db float64, r recall) reachRow {
	return reachRow{core: core, modal: modal, FibreReach: FibreReach{LengthM: metres, LossDB: db,
		Source: Source{Memory: r&memoM != 0}, LossSource: Source{Memory: r&memoDB != 0}}}
}

// single is a row over single-mode fibre.
func single(metres, db float64, r recall) reachRow { return over(0, 0, metres, db, r) }

// cord marks a row that needs a mode-conditioning cord.
func (r reachRow) cord() reachRow {
	r.ModeConditioning = true
	return r
}

// upTo adds a length that the standard allows on a condition.
func (r reachRow) upTo(metres float64, condition string) reachRow {
	r.EngineeredM, r.Condition = metres, condition
	return r
}

// of narrows a row to one grade.
func (r reachRow) of(grade string) reachRow {
	r.grade = grade
	return r
}

const (
	engineered   = "the standard goes so far only on an engineered link: measure its loss"
	worseCable   = "cable of 1.0 dB/km, which the standard's table counts with, may lose too much: measure the loss"
	gradeInDoubt = "IEEE 802.3 names no reach of 1000BASE-SX over OM3; ANSI/TIA-568-C.0 goes so far (memory)"
)

// fibreReaches holds every PHY over every fibre that its clause names. A fibre
// between two rows counts as the lower one, so OM4 counts as OM3 where the
// standard names OM3 last. The least lengths of clauses 38, 112 and 140 are
// printed, the others memory.
//
// Conflicts. 1000BASE-SX over OM3: no row in IEEE 802.3; that of OM2 holds, the
// 800 m of TIA-568-C.0 are a condition. 1000BASE-LX over single mode is 5 km;
// the 10 km of some sheets is 1000BASE-LX10's. 10GBASE-SR over OM4 is 400 m,
// not the 450 to 550 m told before IEEE fixed it. 100BASE-FX is given full
// duplex (412 m half). 40GBASE-LR4 and 100GBASE-FR1 have informative rows for
// cable of 1.0 dB/km (OS1a; OS1 is no better). 10GBASE-LRM wants the cord on
// all but OM3. A single-fibre channel may lose 6.0 dB at 1310 nm and 5.5 at the
// longer wavelength; the stricter counts for both.
var fibreReaches = indexReaches([]phyReaches{
	{"100BASE-FX", "26", 0, []reachRow{over(62.5, 0, 2000, 11.0, seen), over(50, 0, 2000, 6.0, memoDB)}},
	{"100BASE-LX10", "58", 0.5, []reachRow{single(10000, 6.0, seen)}},
	{"100BASE-BX10", "58", 0.5, []reachRow{single(10000, 5.5, memo)}},
	{"1000BASE-SX", "38", 2, []reachRow{
		over(62.5, 160, 220, 2.38, memoDB), over(62.5, 200, 275, 2.60, memoDB),
		over(50, 400, 500, 3.37, memoDB), over(50, 500, 550, 3.56, memoDB),
		over(50, 2000, 550, 3.56, memoDB).upTo(800, gradeInDoubt),
	}},
	{"1000BASE-LX", "38", 2, []reachRow{
		over(62.5, 160, 550, 2.35, memoDB).cord(), over(50, 400, 550, 2.35, memoDB).cord(),
		single(5000, 4.57, memoDB),
	}},
	{"1000BASE-LX10", "59", 0.5, []reachRow{
		over(62.5, 160, 550, 2.4, memo).cord(), over(50, 400, 550, 2.4, memo).cord(),
		single(10000, 6.0, memoDB),
	}},
	{"1000BASE-BX10", "59", 0.5, []reachRow{single(10000, 5.5, memoDB)}},
	{"10GBASE-SR", "52", 2, []reachRow{
		over(62.5, 160, 26, 1.6, memoDB), over(62.5, 200, 33, 1.6, memoDB),
		over(50, 400, 66, 1.7, memoDB), over(50, 500, 82, 1.8, memoDB),
		over(50, 2000, 300, 2.6, seen), over(50, 4700, 400, 2.9, seen),
	}},
	{"10GBASE-LRM", "68", 0.5, []reachRow{
		over(62.5, 160, 220, 1.9, seen).cord(), over(50, 400, 100, 1.7, seen).cord(),
		over(50, 500, 220, 1.9, seen).cord(), over(50, 2000, 220, 1.9, seen),
	}},
	{"10GBASE-LR", "52", 2, []reachRow{single(10000, 6.2, memoDB)}},
	{"10GBASE-ER", "52", 2, []reachRow{single(30000, 11.0, memoM).upTo(40000, engineered)}},
	{"25GBASE-SR", "112", 0.5, []reachRow{over(50, 2000, 70, 1.8, seen), over(50, 4700, 100, 1.9, seen)}},
	{"25GBASE-LR", "114", 2, []reachRow{single(10000, 6.3, memo)}},
	{"25GBASE-ER", "114", 2, []reachRow{single(30000, 18, memo).upTo(40000, engineered)}},
	{"40GBASE-SR4", "86", 0.5, []reachRow{over(50, 2000, 100, 1.9, memoDB), over(50, 4700, 150, 1.5, seen)}},
	{"40GBASE-FR", "89", 2, []reachRow{single(2000, 4.0, memo)}},
	{"40GBASE-LR4", "87", 2, []reachRow{
		single(10000, 6.7, seen),
		single(4000, 6.7, seen).of("OS1a").upTo(10000, worseCable),
		single(4000, 6.7, seen).of("OS1").upTo(10000, worseCable),
	}},
	{"100GBASE-SR10", "86", 0.5, []reachRow{over(50, 2000, 100, 1.9, memoDB), over(50, 4700, 150, 1.5, seen)}},
	{"100GBASE-SR4", "95", 0.5, []reachRow{over(50, 2000, 70, 1.8, memoDB), over(50, 4700, 100, 1.9, memoDB)}},
	{"100GBASE-LR4", "88", 2, []reachRow{single(10000, 6.3, memoDB)}},
	{"100GBASE-ER4", "88", 2, []reachRow{single(30000, 18, memoM).upTo(40000, engineered)}},
	{"100GBASE-DR", "140", 2, []reachRow{single(500, 3.0, memo)}},
	{"100GBASE-FR1", "140", 2, []reachRow{
		single(2000, 4.0, seen),
		single(1000, 4.0, seen).of("OS1a").upTo(2000, worseCable),
		single(1000, 4.0, seen).of("OS1").upTo(2000, worseCable),
	}},
	{"100GBASE-LR1", "140", 2, []reachRow{single(10000, 6.3, memo)}},
})

type phyReaches struct {
	phy, clause string
	leastM      float64
	rows        []reachRow
}

func indexReaches(list []phyReaches) map[string][]reachRow {
	byPHY := make(map[string][]reachRow)
	for _, p := range list {
		for _, row := range p.rows {
			row.LeastM = p.leastM
			row.Source.Document = "IEEE 802.3 clause " + p.clause
			row.LossSource.Document = row.Source.Document
			row.lossHalf = 0.05
			if p.clause == "38" {
				row.lossHalf = 0.005 // its table prints hundredths
			}
			byPHY[p.phy] = append(byPHY[p.phy], row)
		}
	}
	return byPHY
}

// FibrePHYs lists the PHYs whose reach over fibre is known, by rising speed.
func FibrePHYs() []PHY {
	var list []PHY
	for _, p := range phys {
		if _, ok := fibreReaches[p.Name]; ok {
			list = append(list, p)
		}
	}
	return list
}

// FibreReach is how far the PHY reaches over a kind of fibre. It reports false
// where the standard names no reach for it.
func (p PHY) FibreReach(f FibreType) (FibreReach, bool) {
	var best *reachRow
	rows := fibreReaches[p.Name]
	for i := range rows {
		row := &rows[i]
		if row.fits(f) && (best == nil || row.modal >= best.modal) {
			best = row // of the same bandwidth the later row, which is of one grade
		}
	}
	if best == nil {
		return FibreReach{}, false
	}
	return best.FibreReach, true
}

func (r *reachRow) fits(f FibreType) bool {
	switch {
	case !f.Known() || f.SingleMode != (r.core == 0):
		return false
	case r.grade != "":
		return r.grade == f.Grade
	}
	return f.SingleMode || f.CoreUM == r.core && f.Modal850 >= r.modal
}
