package plant

import (
	"fmt"
	"math"

	"toneout/internal/standards"
)

// lossOverBudget speaks of the most that length and joints may lose, which good
// connectors seldom do: it is only possible where less might fit, and what a
// test measured settles it.
func lossOverBudget(s *subject) []Finding {
	j, name := s.overFibre()
	findings := s.ofOptic(func(unit string) bool { return unit == "dB" },
		unlessDepends(j, "the run loses more than optic %s allows: ", "the run may lose more than optic %s allows: "),
		"measure the loss; take out connectors, or fit optics with a larger budget")
	if len(findings) == 0 || j.Verdict != standards.Depends {
		return findings
	}
	f := &findings[0]
	f.Sure = Possible
	if _, counted := s.run.Connectors.Get(); !counted {
		f.Text += "; connectors are not recorded, and one at each end is taken"
	}
	switch m := s.measuredLoss(name); {
	case m == nil:
	case m.Value+m.Accuracy <= j.Limit:
		return nil
	case m.Value-m.Accuracy > j.Limit:
		f.Verdict, f.Endangers, f.Sure = standards.NotAllowed, Link, Certain
		f.By, f.excess = beyond(m.Value, j.Limit, "dB"), share(m.Value, j.Limit)
		f.Text = fmt.Sprintf("its test measured %s at %s nm, and optic %s allows %s",
			quantity(m.Value, "dB"), figure(m.WavelengthNM), name, quantity(j.Limit, "dB"))
		f.Mend = "clean its connectors and measure again; take out connectors, or fit optics with a larger budget" + laserCare
	}
	return findings
}

// measuredLoss is the loss that the run's test measured near an optic's
// wavelength, where the test passed as a link; nil for none.
func (s *subject) measuredLoss(name string) *Measured {
	a := s.test()
	optic, _ := standards.OpticNamed(name)
	if a == nil || a.Result != Pass && a.Result != PassMarginal || len(optic.SendsNM) == 0 {
		return nil
	}
	for i := range a.ByParameter {
		m := &a.ByParameter[i]
		if m.Parameter == FibreLoss && math.Abs(m.WavelengthNM-optic.SendsNM[0]) <= oneWindow {
			return m
		}
	}
	return nil
}

// oneWindow is by how many nm a tester's light may differ from an optic's and
// lose alike (common practice, no source).
const oneWindow = 50

func expectedLossDiffers(s *subject) []Finding {
	recorded, ok := s.run.ExpectedLossDB.Get()
	if _, counted := s.run.Connectors.Get(); !ok || !s.fibre() || !counted {
		return nil
	}
	least, most, ok := s.computedLoss()
	if !ok || recorded >= least-lossStep && recorded <= most+lossStep {
		return nil
	}
	limit := most
	if recorded < least {
		limit = least
	}
	f := past(recorded, limit, "dB", standards.Source{Document: "ANSI/TIA-568.3-D (loss of a link from length, connections and splices)", Memory: true})
	f.Text = fmt.Sprintf("expected_loss_db is %s, and length, connectors and splices give %s to %s dB", tenths(recorded), tenths(least), tenths(most))
	f.Mend = "count connectors and splices and measure the length, then put the wrong one right"
	return found(f)
}

// lossStep is how finely losses are written down, in dB.
const lossStep = 0.1

// computedLoss is the least and most that the path may lose by its parts, at
// the optics' wavelengths or, where none are recorded, at the usual two.
func (s *subject) computedLoss() (least, most float64, ok bool) {
	path := s.expected().Path
	if len(path.Parts) == 0 {
		return 0, 0, false
	}
	wavelengths := []float64{850, 1300}
	if path.Parts[0].Fibre.SingleMode {
		wavelengths = []float64{1310, 1550}
	}
	if near, _, known, _ := s.optics(); known && len(near.SendsNM) > 0 {
		wavelengths = near.SendsNM
	}
	for _, nm := range wavelengths {
		for _, towardsNear := range []bool{false, true} {
			loss, known := path.Loss(nm, towardsNear)
			if !known {
				return 0, 0, false
			}
			if !ok {
				least, most, ok = loss.Least, loss.Most, true
			}
			least, most = min(least, loss.Least), max(most, loss.Most)
		}
	}
	return least, most, ok
}
