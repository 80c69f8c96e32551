package plant

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"toneout/internal/standards"
)

// take sorts one row by what it measures.
func (j *testJudge) take(t *test, row *TestRow) {
	p := j.parameter(row.Parameter)
	switch {
	case isWireMap(row.Parameter):
		t.takeWireMap(row)
	case isFibreLoss(row.Parameter):
		j.takeFibre(t, row)
	case strings.EqualFold(row.Parameter, "length"):
		t.takeLength(row)
	case isResistance(row.Parameter):
		t.takeResistance(row)
	case p == "":
		t.refuse(row, "parameter %q is none that has a limit line", row.Parameter)
	case p == standards.Delay || p == standards.DelaySkew:
		j.takeDelay(t, row, p)
	default:
		j.takeLevel(t, row, p)
	}
}

func isWireMap(parameter string) bool {
	return strings.EqualFold(strings.ReplaceAll(parameter, " ", ""), "wiremap")
}

func isFibreLoss(parameter string) bool { return strings.EqualFold(parameter, string(FibreLoss)) }

func isResistance(parameter string) bool {
	p := strings.ToLower(parameter)
	return p == "resistance" || p == "dc resistance" || strings.HasSuffix(p, "loop resistance")
}

// refuse notes a row that could not be judged.
func (t *test) refuse(row *TestRow, format string, args ...any) {
	why, at := fmt.Sprintf(format, args...), origin{filepath.Base(row.File), row.Line}.String()
	i := slices.IndexFunc(t.unjudged, func(r refused) bool { return r.why == why })
	if i < 0 {
		t.unjudged = append(t.unjudged, refused{why, []string{at}})
		return
	}
	t.unjudged[i].at = append(t.unjudged[i].at, at)
}

// mostPlaces is how many rows of one reason are named.
const mostPlaces = 3

func (r refused) String() string {
	named := min(len(r.at), mostPlaces)
	where := r.at[:named]
	return fmt.Sprintf("%s: %s", andMore(where, len(r.at)-named), r.why)
}

func (t *test) takeWireMap(row *TestRow) {
	w, err := ParseWireMap(row.Value)
	switch {
	case err != nil:
		t.refuse(row, "%v", err)
	case t.WireMap != nil:
		t.refuse(row, "the test has a wire map already")
	default:
		t.WireMap = w
	}
}

// lengthUnits are metres, and what one foot is (ISO 80000-3).
var lengthUnits = map[string]float64{"m": 1, "ft": 0.3048}

func (t *test) takeLength(row *TestRow) {
	if metres, ok := t.inUnit(row, lengthUnits, "m or ft"); ok {
		t.LengthM = max(t.LengthM, metres)
	}
}

var timeUnits = map[string]float64{"ns": 1, "us": 1000, "µs": 1000, "μs": 1000}

func (j *testJudge) takeDelay(t *test, row *TestRow, p standards.Parameter) {
	ns, ok := t.inUnit(row, timeUnits, "ns or us")
	if !ok {
		return
	}
	mhz, _ := row.FrequencyMHz.Get() // the standard's own where not told
	t.values = append(t.values, value{row: row, p: p, mhz: mhz, got: ns, pairs: j.pairsOf(row.Pairs)})
}

// takeLevel takes a value in dB.
func (j *testJudge) takeLevel(t *test, row *TestRow, p standards.Parameter) {
	db, ok := row.ValueDB.Get()
	if !ok {
		if db, ok = t.inUnit(row, map[string]float64{"db": 1}, "dB"); !ok {
			return
		}
	}
	mhz, told := row.FrequencyMHz.Get()
	if !told || mhz == 0 {
		t.refuse(row, "%s without frequency_mhz has no limit", p)
		return
	}
	t.values = append(t.values, value{row: row, p: p, mhz: mhz, got: db, pairs: j.pairsOf(row.Pairs)})
}

// inUnit reads a value with its unit.
func (t *test) inUnit(row *TestRow, units map[string]float64, names string) (float64, bool) {
	v, err := number(row.Value)
	if err != nil {
		t.refuse(row, "%s wants a value in %s", row.Parameter, names)
		return 0, false
	}
	scale, known := units[strings.ToLower(row.Unit)]
	if !known {
		t.refuse(row, "unit %q of %s is not %s", row.Unit, row.Parameter, names)
	}
	return v * scale, known
}

// Direct-current loop resistance, ohm (ISO/IEC 11801-1 and ANSI/TIA-568.2-D; memory), and what
// a tester may be off by: 1 ohm and 1 % (IEC 61935-1 level III; memory).
const (
	channelOhm, linkOhm = 25, 21
	ohmAccuracy         = 1.0
	ohmShare            = 0.01
)

func (t *test) takeResistance(row *TestRow) {
	ohm, ok := t.inUnit(row, map[string]float64{"ohm": 1, "ω": 1}, "ohm")
	switch {
	case !ok:
	case t.lineErr != nil:
		t.refuse(row, "%v", t.lineErr)
	default:
		limit := float64(channelOhm)
		if t.Line.PermanentLink {
			limit = linkOhm
		}
		t.add(Measured{Parameter: LoopResistance, Pairs: row.Pairs, Value: ohm, Limit: limit, Margin: limit - ohm,
			Accuracy: ohmAccuracy + ohmShare*ohm, Unit: "ohm"})
	}
}
