package plant

import (
	"slices"
	"sort"

	"toneout/internal/standards"
)

// losses are the insertion losses of a test, by pair and rising in frequency.
type losses map[string][]lossAt

type lossAt struct{ mhz, db float64 }

// addLosses tells every value the insertion loss beside it.
func addLosses(values []value) {
	loss := lossesOf(values)
	for i := range values {
		v := &values[i]
		v.il, v.ilKnown = loss.at(v.pairs, v.mhz)
	}
}

// waivedBy says whether a line does not judge a value, so little being lost beside it.
func (v *value) waivedBy(l standards.Line) bool {
	return v.ilKnown && l.Waived(v.p, v.mhz, v.il)
}

func lossesOf(values []value) losses {
	all := losses{}
	for i := range values {
		if v := &values[i]; v.p == standards.InsertionLoss {
			all[v.pairs.key] = append(all[v.pairs.key], lossAt{v.mhz, v.got})
		}
	}
	for _, series := range all {
		if !slices.IsSortedFunc(series, byFrequency) {
			slices.SortStableFunc(series, byFrequency)
		}
	}
	return all
}

// byFrequency puts the greater of two losses at one frequency last.
func byFrequency(a, b lossAt) int {
	switch {
	case a.mhz < b.mhz || a.mhz == b.mhz && a.db < b.db:
		return -1
	case a.mhz > b.mhz || a.db > b.db:
		return 1
	}
	return 0
}

// at is the insertion loss at a frequency: the greatest of the pairs concerned, or
// of all pairs where not each of them was measured by name. It lies on the line
// between the neighbours measured, and is not known beyond the first and the last.
func (l losses) at(pairs *pairSet, mhz float64) (db float64, known bool) {
	named := len(pairs.pairs) > 0
	for _, p := range pairs.pairs {
		series, ok := l[p[0]+p[1]]
		if !ok {
			named = false
			break
		}
		at, ok := interpolate(series, mhz)
		if !ok {
			return 0, false
		}
		db, known = max(db, at), true
	}
	if named {
		return db, known
	}
	db, known = 0, false
	for _, series := range l {
		if at, ok := interpolate(series, mhz); ok {
			db, known = max(db, at), true
		}
	}
	return db, known
}

func interpolate(series []lossAt, mhz float64) (float64, bool) {
	i := sort.Search(len(series), func(i int) bool { return series[i].mhz > mhz }) // the first beyond
	switch {
	case i > 0 && series[i-1].mhz == mhz:
		return series[i-1].db, true
	case i == 0 || i == len(series):
		return 0, false
	}
	a, b := series[i-1], series[i]
	return a.db + (b.db-a.db)*(mhz-a.mhz)/(b.mhz-a.mhz), true
}
