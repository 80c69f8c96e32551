package plant

import (
	"fmt"
	"strconv"
	"strings"

	"toneout/internal/standards"
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
	if t.path == nil {
		t.path = j.plant.fibreLink(t.run)
	}
	for _, part := range t.path.Parts {
		if grade != "" && part.Fibre.Grade != "" && part.Fibre.Grade != grade {
			return 0, false, fmt.Sprintf("the class says %s and the record %s: which is right decides the limit", grade, part.Fibre.Grade)
		}
	}
	loss, ok := t.path.Loss(nm, towardsNear)
	if !ok {
		return 0, false, fmt.Sprintf("the record of the run does not tell its fibre and length, or that fibre has no figure at %s nm", figure(nm))
	}
	_, connectors := t.run.Connectors.Get()
	_, splices := t.run.Splices.Get()
	return loss.Most, connectors && splices, ""
}

// fibreLink is a run's fibre without its cords, which the reference of a loss test
// takes out (ISO/IEC 14763-3; memory). A part that is not recorded is the zero part.
func (p *Plant) fibreLink(r *Run) *standards.FibrePath {
	path := &standards.FibrePath{}
	path.Connectors, _ = r.Connectors.Get()
	path.Splices, _ = r.Splices.Get()
	segments := r.Segments
	if len(segments) == 0 {
		segments = []Segment{{Cable: r.Cable, LengthM: r.LengthM}}
	}
	for _, s := range segments {
		var part standards.FibrePart
		if c := p.Cable(s.Cable); c != nil {
			part.Fibre = c.fibreType()
		}
		part.LengthM, _ = s.LengthM.Get()
		path.Parts = append(path.Parts, part)
	}
	return path
}

// fibreType is the fibre of a cable: its grade, or what its core says; the zero type
// where neither is recorded.
func (c *Cable) fibreType() standards.FibreType {
	if f, ok := standards.FibreNamed(c.Fibre); ok {
		return f
	}
	core, _ := c.CoreUM.Get()
	modal, _ := c.ModalBandwidth.Get()
	f, _ := standards.FibreOfCore(core, modal)
	return f
}

// fibreClass reads e.g. "OM4 850" or "OS2 1310 nm": the grade and the wavelength, ""
// and 0 where not told.
func fibreClass(text string) (grade string, nm float64) {
	for word := range strings.FieldsSeq(text) {
		word = strings.TrimSuffix(strings.ToLower(word), "nm")
		if v, err := strconv.ParseFloat(word, 64); err == nil && v > 0 {
			nm = v
		} else if f, ok := standards.FibreNamed(strings.ToUpper(word)); ok {
			grade = f.Grade
		}
	}
	return grade, nm
}

// towardsNear tells a strand measured from the far end, which its text says in words.
func towardsNear(pairs string) bool {
	p := strings.ToLower(pairs)
	return strings.Contains(p, "far to near") || strings.Contains(p, "towards near")
}
