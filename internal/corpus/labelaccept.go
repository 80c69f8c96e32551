package corpus

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
)

// acceptance is what a test found as a run was handed over, where one was made.
type acceptance struct {
	made    bool
	wires   string  // wire map
	next    float64 // dB better than the limit of near-end crosstalk at 100 MHz, of the worst pair,
	reflect float64 // and of return loss
}

// limitsAt are the limits of a permanent link at 100 MHz, dB: NEXT and return loss
// (ISO/IEC 11801-1 classes D, E and EA; memory).
var limitsAt = map[string][2]float64{"5e": {32.3, 12}, "6": {41.8, 14}, "6A": {41.8, 14}}

// accepted draws a sound run's test; one in three was ever written down in full.
func (l *Labelled) accepted(margin float64) acceptance {
	return acceptance{made: l.chance(0.35), wires: "pass", next: margin, reflect: margin + l.between(0, 3)}
}

// flawed has the test of a run that had its defect from the start find it, where
// there was one and the run was taken over in spite of it.
func (p *planter) flawed(worst float64, wires string) {
	if !p.chance(0.4) {
		return
	}
	p.tested(map[bool]string{true: "fail", false: "pass*"}[worst < 0 || wires != "pass"], worst)
	p.acceptance = acceptance{true, wires, worst, worst + p.between(0, 2)}
}

// writeTests writes the tests of those runs that are in the inventory.
func (l *Labelled) writeTests(directory string) error {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	rows := [][]string{{"run", "tested_on", "parameter", "frequency_mhz", "value_db", "value", "unit"}}
	for _, s := range l.site.spots {
		limits, known := limitsAt[s.laidAs]
		on := s.record["tested_on"]
		if !s.recorded || !s.acceptance.made || !known || on == "" {
			continue
		}
		a := s.acceptance
		rows = append(rows,
			[]string{s.id, on, "wire map", "", "", a.wires, ""},
			[]string{s.id, on, "length", "", "", fmt.Sprintf("%.1f", s.cable.LengthM), "m"},
			[]string{s.id, on, "NEXT", "100", fmt.Sprintf("%.1f", limits[0]+a.next), "", ""},
			[]string{s.id, on, "return loss", "100", fmt.Sprintf("%.1f", limits[1]+a.reflect), "", ""},
		)
	}
	if err := w.WriteAll(rows); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(directory, "tests.csv"), out.Bytes(), 0o600)
}
