package standards

import "math"

// Parameter is a quantity that a certification test measures.
type Parameter string

// The parameters that have limit lines. Losses are positive dB, delay and skew
// nanoseconds.
const (
	InsertionLoss Parameter = "insertion loss"
	NEXT          Parameter = "NEXT"
	PSNEXT        Parameter = "PSNEXT"
	ACRN          Parameter = "ACR-N"
	PSACRN        Parameter = "PSACR-N"
	ACRF          Parameter = "ACR-F"
	PSACRF        Parameter = "PSACR-F"
	ReturnLoss    Parameter = "return loss"
	Delay         Parameter = "delay"
	DelaySkew     Parameter = "delay skew"
)

// atMost tells whether the parameter's limit is a greatest value.
func (p Parameter) atMost() bool {
	return p == InsertionLoss || p == Delay || p == DelaySkew
}

// Line says which limit line a value is held against.
type Line struct {
	Category      Category
	PermanentLink bool // else the channel
	ISO           bool // ISO/IEC 11801-1's class where it differs from ANSI/TIA-568.2-D's category
}

// delayMHz is where TIA-568.2-D quotes the one figure of delay (memory).
const delayMHz = 10

// Range gives the frequencies the line spans, in MHz; both 0 where the category
// is not known. Categories 3, 7, 7A and 8 have a range and no limits here: their
// equations were not at hand. Category 5 is judged at 100 MHz alone.
func (l Line) Range() (leastMHz, mostMHz float64) {
	most := l.Category.WidthMHz()
	if l.Category == Cat5 {
		return most, most
	}
	return min(1, most), most
}

// Limit gives the limit of a parameter at a frequency in MHz: dB, or ns of
// delay and delay skew. It reports false outside the line's range, and where no
// limit is known. At 0 MHz, no frequency being stated, delay has its limit at
// 10 MHz, delay skew its only one, and the rest none.
func (l Line) Limit(p Parameter, mhz float64) (float64, bool) {
	if mhz == 0 && (p == Delay || p == DelaySkew) {
		mhz = delayMHz
	}
	least, most := l.Range()
	if !(mhz >= least && mhz <= most) {
		return 0, false
	}
	if c := l.cabling(); c != nil {
		return l.compute(c, p, mhz)
	}
	if l.Category == Cat5 {
		return l.categoryFive(p)
	}
	return 0, false
}

// Margin gives by how much a measured value keeps its limit, in the limit's
// unit: above 0 it does, below 0 it breaks it. It reports false where Limit
// does, and for a value that is no finite number.
func (l Line) Margin(p Parameter, mhz, value float64) (float64, bool) {
	limit, ok := l.Limit(p, mhz)
	if !ok || math.IsNaN(value) || math.IsInf(value, 0) {
		return 0, false
	}
	if p.atMost() {
		return limit - value, true
	}
	return value - limit, true
}

// Insertion loss in dB below which what comes back from a pair, or over from
// another, tells of the near connections alone: the standards then want the
// value stated and not judged (ISO/IEC 11801-1 clauses 6 and 7, TIA-568.2-D;
// memory).
const (
	returnLossWaiverDB = 3
	crosstalkWaiverDB  = 4 // ISO only; the power sum follows its terms
)

// Waived tells whether a value is for information only because the insertion
// loss measured at its frequency, in dB, is small. Where that loss was not
// measured nothing is waived: do not call it with 0 in its place.
func (l Line) Waived(p Parameter, mhz, insertionLossDB float64) bool {
	if least, most := l.Range(); !(mhz >= least && mhz <= most) {
		return false
	}
	switch p {
	case ReturnLoss:
		return insertionLossDB < returnLossWaiverDB
	case NEXT, PSNEXT:
		return l.ISO && insertionLossDB < crosstalkWaiverDB
	}
	return false
}

// SignalToNoise gives the ratio of the powers of signal and noise that are so
// many dB apart, e.g. by ACR-N; the ratio of their voltages is its square root.
func SignalToNoise(db float64) (ratio float64) { return math.Pow(10, db/10) }

// Source tells where the line's limits of a parameter stand.
func (l Line) Source(p Parameter) Source {
	switch {
	case l.Category == Cat5:
		return Source{Document: "TIA TSB-67, Category 5 at 100 MHz"}
	case l.ISO && l.PermanentLink:
		return Source{"ISO/IEC 11801-1 clause 7, " + string(p), true}
	case l.ISO:
		return Source{"ISO/IEC 11801-1 clause 6, " + string(p), !l.seen(p)}
	case l.PermanentLink:
		return Source{"ANSI/TIA-568.2-D 6.4, " + string(p), true}
	}
	return Source{"ANSI/TIA-568.2-D 6.3, " + string(p), true}
}

// seen tells which of ISO's channel limits were held against a printed table:
// those of class E.
func (l Line) seen(p Parameter) bool {
	return l.Category == Cat6 && (p == NEXT || p == PSNEXT || p == DelaySkew)
}
