package plant

import (
	"strconv"
	"strings"
)

// A loss tester's accuracy in dB where a row states none (common practice, no source).
const lossAccuracy = 0.25

// takeFibre holds a strand's loss against the most that the run's fibre, connectors and
// splices may lose at the wavelength in the class, e.g. "OM4 850".
func (j *testJudge) takeFibre(t *test, row *TestRow) {
	db, ok := row.ValueDB.Get()
	if !ok {
		if db, ok = t.inUnit(row, map[string]float64{"db": 1}, "dB"); !ok {
			return
		}
	}
	grade, nm := fibreClass(row.Class)
	if nm == 0 {
		t.refuse(row, "class %q names no wavelength: write the fibre and nm, such as OM4 850", row.Class)
		return
	}
	limit, sure, why := j.fibreLimit(t, grade, nm, towardsNear(row.Pairs))
	switch {
	case why != "":
		t.refuse(row, "%s", why)
		return
	case !sure && db > limit:
		t.refuse(row, "the record of the run tells not both connectors and splices: the limit is %.1f dB or more", limit)
		return
	}
	m := Measured{Parameter: FibreLoss, Pairs: row.Pairs, WavelengthNM: nm, Value: db, Limit: limit, Margin: limit - db, Unit: "dB",
		Accuracy: lossAccuracy}
	if stated, told := row.AccuracyDB.Get(); told {
		m.Accuracy, m.Stated = stated, true
	}
	t.add(m)
}

// fibreLimit is the most that a run may lose, by the figures of its own fibre; it is
// sure where connectors and splices are both recorded, else it may be more. It tells
// why where it is not known.
func (j *testJudge) fibreLimit(t *test, grade string, nm float64, towardsNear bool) (limit float64, sure bool, why string) {
	if t.run == nil {
		return 0, false, "the run's own row was not read"
	}
	return 0, false, "a fibre's path loss is not at hand"
}

// fibreClass reads e.g. "OM4 850" or "OS2 1310 nm": the grade and the wavelength, ""
// and 0 where not told.
func fibreClass(text string) (grade string, nm float64) {
	for word := range strings.FieldsSeq(text) {
		word = strings.TrimSuffix(strings.ToLower(word), "nm")
		if v, err := strconv.ParseFloat(word, 64); err == nil && v > 0 {
			nm = v
		} else {
			grade = strings.ToUpper(word)
		}
	}
	return grade, nm
}

// towardsNear tells a strand measured from the far end, which its text says in words.
func towardsNear(pairs string) bool {
	p := strings.ToLower(pairs)
	return strings.Contains(p, "far to near") || strings.Contains(p, "towards near")
}
