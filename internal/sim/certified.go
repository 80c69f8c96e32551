package sim

import (
	"encoding/csv"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strings"
)

// certificate is an acceptance test: how good the parts are that were laid.
type certificate struct {
	class    string             // limit line; "" for the cable's own class
	headroom float64            // dB that the parts are better than a link's may be
	near     map[string]float64 // the same of NEXT between two pairs where it differs, e.g. "36-45"
	wires    string             // wire map; "" for all in place
	pairs    bool               // values pair by pair; else the worst of all pairs
	step     float64            // MHz from value to value; 0 for a few
	strands  []float64          // of fibre: dB that each loses
}

const straight = "1-1 2-2 3-3 6-6 4-4 5-5 7-7 8-8"

// testValue is a row of tests.csv, by column.
type testValue struct{ run, on, tester, class, parameter, pairs, mhz, db, value, unit string }

const testColumns = "run,tested_on,tester,class,parameter,pairs,frequency_mhz,value_db,value,unit"

// parts is what a category's cable and connectors do at 100 MHz in dB, and
// over 100 m: a·√f + b·f + c/√f. They are the poorest that the component
// standards let pass (ANSI/TIA-568.2-D and ISO/IEC 11801-1, memory).
type parts struct {
	class                     string
	upTo                      float64 // MHz
	a, b, c                   float64
	connection                float64 // insertion loss of one, times √f
	nextCable, nextConnection float64
	farCable, farConnection   float64
	reflects                  float64 // return loss at 10 MHz and below
	from, slope               float64 // above from MHz it falls by slope·log10(f/from)
}

var partsOf = map[string]parts{
	"5e": {"D", 100, 1.967, 0.023, 0.05, 0.04, 35.3, 43, 23.8, 35.1, 19, 20, 10},
	"6":  {"E", 250, 1.808, 0.017, 0.2, 0.02, 44.3, 54, 27.8, 43.1, 21, 10, 7.5},
	"6A": {"EA", 500, 1.82, 0.0091, 0.25, 0.02, 44.3, 54, 27.8, 43.1, 21, 10, 7.5},
}

// categoryOf the cables that are tested.
var categoryOf = map[string]string{"horizontal-6a": "6A", "horizontal-6a-screened": "6A", "horizontal-6": "6", "horizontal-5e": "5e"}

var (
	pairNames  = []string{"12", "36", "45", "78"}
	pairCouple = []string{"12-36", "12-45", "12-78", "36-45", "36-78", "45-78"}
)

// few are the frequencies of a short report, MHz.
var few = []float64{4, 8, 16, 31.25, 62.5, 100, 200, 250, 400, 500}

func (t certificate) frequencies(upTo float64) (out []float64) {
	if t.step > 0 {
		for f := t.step; f <= upTo; f += t.step {
			out = append(out, f)
		}
		return out
	}
	for _, f := range few {
		if f <= upTo {
			out = append(out, f)
		}
	}
	return out
}

// link is a permanent link as laid, with the chance of its making.
type link struct {
	parts
	certificate
	lengthM float64
	twist   map[string]float64 // by pair: how much longer it is than the cable
	better  map[string]float64 // by pair or pairs: dB over the headroom
	phase   float64
}

func newLink(r record, t certificate, lengthM float64) link {
	chance := rand.New(rand.NewPCG(numberOf(r["id"]), 1896))
	l := link{parts: partsOf[categoryOf[r["cable"]]], certificate: t, lengthM: lengthM, twist: map[string]float64{}, better: map[string]float64{}}
	for i, pair := range pairNames {
		l.twist[pair] = 1.005 + 0.008*float64(i) + 0.004*chance.Float64()
		l.better[pair] = 2 * chance.Float64()
	}
	for _, two := range pairCouple {
		l.better[two] = 5 * chance.Float64()
	}
	l.phase = 6 * chance.Float64()
	return l
}

// ripple is what reflections along the link give back, 0 to 1.2 dB.
func (l link) ripple(f float64) float64 { return 0.6 + 0.6*math.Sin(l.lengthM*f/25+l.phase) }

// loss of a pair is its cable's, a little under what is allowed, and that of
// the connections at both ends.
func (l link) loss(pair string, f float64) float64 {
	root := math.Sqrt(f)
	return 0.94*l.twist[pair]*l.lengthM/100*(l.a*root+l.b*f+l.c/root) + 2*l.connection*root
}

// coupled adds what reaches the other pair in the cable and in so many
// connections as voltages, in dB.
func coupled(cable, connection, connections float64) float64 {
	return -20 * math.Log10(math.Pow(10, -cable/20)+connections*math.Pow(10, -connection/20))
}

func (l link) next(two string, f float64) float64 {
	db := coupled(l.nextCable-15*math.Log10(f/100), l.nextConnection-20*math.Log10(f/100), 1)
	if own, ok := l.near[two]; ok {
		return db + own
	}
	return db + l.headroom + l.better[two] + l.ripple(f)
}

// nextSum is the power that reaches a pair from the three others.
func (l link) nextSum(pair string, f float64) float64 {
	power := 0.0
	for _, two := range pairCouple {
		if strings.Contains(two, pair) {
			power += math.Pow(10, -l.next(two, f)/10)
		}
	}
	return -10 * math.Log10(power)
}

func (l link) reflected(pair string, f float64) float64 {
	return l.reflects - l.slope*math.Log10(max(f, l.from)/l.from) + l.headroom + l.better[pair] + l.ripple(f)
}

// far is the worst far-end crosstalk less the loss; sum that of three pairs.
func (l link) far(f float64, sum bool) float64 {
	db := coupled(l.farCable-20*math.Log10(f/100), l.farConnection-20*math.Log10(f/100), 3) + l.headroom + 1 + l.ripple(f)
	if sum {
		db -= 3
	}
	return db
}

// certify writes down the short report of a healthy run of the college; its
// values say more than the one figure in the sheet.
func (b *builder) certify(r record, lengthM float64) {
	b.test(r, certificate{headroom: 5.5 + float64(numberOf(r["id"])%25)/10}, lengthM)
}

// numberOf makes a number of a run's id, so that no run's chance hangs on another.
func numberOf(run string) uint64 {
	name := fnv.New64a()
	name.Write([]byte(run))
	return name.Sum64()
}

// certifyHealthy tests every so many of the healthy runs.
func (b *builder) certifyHealthy() {
	const oneOf = 4
	n := 0
	for _, i := range b.open {
		r := b.site.runs[i]
		if length := b.trueLength(r); length >= 30 && length <= 60 && r["pathways"] != motorTray {
			if n%oneOf == 0 {
				b.certify(r, length)
			}
			n++
		}
	}
}

// test writes the rows of a test, and leaves the margin to them.
func (b *builder) test(r record, t certificate, lengthM float64) {
	r["test_margin_db"] = ""
	w := testWriter{row: testValue{run: r["id"], on: r["tested_on"], tester: "tester of the " + r["installer"], class: t.class}}
	if len(t.strands) > 0 {
		for i, db := range t.strands {
			w.put("loss", fmt.Sprint(i+1), 0, db)
		}
	} else {
		l := newLink(r, t, lengthM)
		if t.class == "" {
			w.row.class = l.parts.class + " permanent link"
		}
		w.copper(l)
	}
	b.site.tests = append(b.site.tests, w.rows...)
}

type testWriter struct {
	row  testValue // what all rows of the test share
	rows []testValue
}

func (w *testWriter) put(parameter, pairs string, f, db float64) {
	row := w.row
	row.parameter, row.pairs, row.db = parameter, pairs, fmt.Sprintf("%.1f", db)
	if f > 0 {
		row.mhz = fmt.Sprint(f)
	}
	w.rows = append(w.rows, row)
}

func (w *testWriter) say(parameter, value, unit string) {
	row := w.row
	row.parameter, row.value, row.unit = parameter, value, unit
	w.rows = append(w.rows, row)
}

// nsPerM is the time that a signal takes along a metre, at 0.69 of light's speed.
const nsPerM = 1 / (0.69 * 0.299792458)

func (w *testWriter) copper(l link) {
	wires := l.wires
	if wires == "" {
		wires = straight
	}
	w.say("wire map", wires, "")
	longest, shortest := l.lengthM*l.twist["78"], l.lengthM*l.twist["12"]
	w.say("length", fmt.Sprintf("%.1f", longest), "m")
	if strings.Contains(wires, "x") {
		return // a tester measures no further on a broken pair
	}
	w.say("delay", fmt.Sprintf("%.0f", longest*nsPerM), "ns")
	w.say("delay skew", fmt.Sprintf("%.0f", (longest-shortest)*nsPerM), "ns")
	upTo := l.upTo
	if strings.HasPrefix(l.certificate.class, "D ") {
		upTo = partsOf["5e"].upTo
	}
	for _, f := range l.frequencies(upTo) {
		w.worst(l, "insertion loss", pairNames, f, l.loss, math.Max)
		w.worst(l, "NEXT", pairCouple, f, l.next, math.Min)
		w.worst(l, "PSNEXT", pairNames, f, l.nextSum, math.Min)
		w.worst(l, "return loss", pairNames, f, l.reflected, math.Min)
		w.put("ACR-F", "", f, l.far(f, false))
		w.put("PSACR-F", "", f, l.far(f, true))
	}
}

// worst writes a value for every pair, or the worst of them.
func (w *testWriter) worst(l link, parameter string, names []string, f float64, of func(string, float64) float64, worse func(a, b float64) float64) {
	db := of(names[0], f)
	for _, name := range names {
		if l.pairs {
			w.put(parameter, name, f, of(name, f))
		}
		db = worse(db, of(name, f))
	}
	if !l.pairs {
		w.put(parameter, "", f, db)
	}
}

// testsCSV is tests.csv, without the tests of runs that are in no file.
func (s *site) testsCSV() string {
	kept := s.ids()
	rows := [][]string{strings.Split(testColumns, ",")}
	for _, t := range s.tests {
		if kept[t.run] {
			rows = append(rows, []string{t.run, t.on, t.tester, t.class, t.parameter, t.pairs, t.mhz, t.db, t.value, t.unit})
		}
	}
	return written(rows)
}

func written(rows [][]string) string {
	var b strings.Builder
	if err := csv.NewWriter(&b).WriteAll(rows); err != nil {
		panic(err) // a strings.Builder takes everything
	}
	return b.String()
}
