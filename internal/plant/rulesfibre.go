package plant

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"toneout/internal/standards"
)

// lossRule is where the loss of a link of fibre stands.
const lossRule = "ANSI/TIA-568.3-D (loss of a link from length, connections and splices)"

// laserCare goes with work on fibre that carries light.
const laserCare = "; have both ends dark before a plug is opened"

// optics gives the optics that the record names at each end; false for one
// that is not recorded or of which no figures are known.
func (s *subject) optics() (near, far standards.Optic, nearKnown, farKnown bool) {
	if s.run.Optic != "" {
		near, nearKnown = standards.OpticNamed(s.run.Optic)
	}
	if s.run.FarOptic != "" {
		far, farKnown = standards.OpticNamed(s.run.FarOptic)
	}
	return near, far, nearKnown, farKnown
}

func (s *subject) opticNames() []string {
	switch near, far := s.run.Optic, s.run.FarOptic; {
	case near == "" && far == "":
		return nil
	case near == far || far == "":
		return []string{near}
	case near == "":
		return []string{far}
	default:
		return []string{near, far}
	}
}

func opticsDisagree(s *subject) []Finding {
	if s.run.Optic == "" || s.run.FarOptic == "" {
		return nil
	}
	near, far, nearKnown, farKnown := s.optics()
	if !nearKnown || !farKnown {
		return nil
	}
	j := standards.OpticsAgree(near, far)
	if j.Verdict < standards.Depends || j.Unit == "dBm" { // light is the matter of overload
		return nil
	}
	f := judged(j)
	f.Endangers = byVerdict(j.Verdict)
	f.Text = "the optics of the two ends: " + j.Why
	f.Mend = "read the print on both optics; fit the same kind at both ends" + laserCare
	if near.Strands == 1 && far.Strands == 1 {
		f.Mend = "read the print on both optics; fit two that are made as a pair, one sending what the other takes" + laserCare
	}
	return found(f)
}

// unlessDepends picks the words for what is forbidden or for what hangs on a
// condition.
func unlessDepends(j standards.Judgement, forbidden, depends string) string {
	if j.Verdict == standards.Depends {
		return depends
	}
	return forbidden
}

func byVerdict(v standards.Verdict) Endangers {
	if v == standards.NotAllowed {
		return Link
	}
	return Margin
}

func opticTooSlow(s *subject) []Finding {
	speed := s.speed()
	for _, name := range s.opticNames() {
		phy := opticPHY(name)
		if phy.Speed > 0 && phy.Speed < speed {
			return found(Finding{
				Verdict: standards.NotAllowed,
				Text:    fmt.Sprintf("it is meant for %s, and its optic %s does %s", speed, name, phy.Speed),
				By:      fmt.Sprintf("%s for %s", phy.Speed, speed), excess: float64(speed) / float64(phy.Speed),
				Source: clauseOf(phy),
				Mend:   "read the print on the optics; fit faster ones, or put the record right" + laserCare,
			})
		}
	}
	return nil
}

// opticPHY is the PHY that an optic's name means, the zero PHY for one that is
// not known; a single-fibre one's name may end with its side.
func opticPHY(name string) standards.PHY {
	phy, _ := standards.PHYNamed(strings.TrimSuffix(strings.TrimSuffix(name, "-D"), "-U"))
	return phy
}

func clauseOf(phy standards.PHY) string {
	if phy.Clause == "" {
		return "IEEE 802.3"
	}
	return "IEEE 802.3 clause " + phy.Clause
}

// overFibre is what the standard says of the recorded optics over the recorded
// fibre: of the one that fares worse.
func (s *subject) overFibre() (worst standards.Judgement, name string) {
	if !s.fibre() {
		return worst, ""
	}
	for _, optic := range s.opticNames() {
		phy := opticPHY(optic)
		if phy.Medium != standards.Fibre {
			continue
		}
		if j := phy.OverFibre(s.expected().Path); j.Verdict > worst.Verdict {
			worst, name = j, optic
		}
	}
	return worst, name
}

// ofOptic is a finding where the recorded optics fail over the fibre by a
// figure of this unit, "" for none.
func (s *subject) ofOptic(unit func(string) bool, text, mend string) []Finding {
	j, name := s.overFibre()
	if j.Verdict < standards.Depends || !unit(j.Unit) {
		return nil
	}
	f := judged(j)
	f.Endangers = byVerdict(j.Verdict)
	f.Text, f.Mend = fmt.Sprintf(text, name)+j.Why, mend+laserCare
	return found(f)
}

func opticWrongFibre(s *subject) []Finding {
	j, _ := s.overFibre()
	return s.ofOptic(func(unit string) bool { return unit != "m" && unit != "dB" && unit != "dBm" },
		unlessDepends(j, "optic %s does not suit this fibre: ", "optic %s suits this fibre under a condition only: "),
		unlessDepends(j, "compare the print on optic and cable; fit the optic that the fibre needs",
			"meet the condition, or fit the optic that the fibre needs; compare the print on optic and cable"))
}

func fibreTooLong(s *subject) []Finding {
	j, _ := s.overFibre()
	return s.ofOptic(func(unit string) bool { return unit == "m" },
		unlessDepends(j, "the fibre is too long for optic %s: ", "the fibre may be too long for optic %s: "),
		"measure the length; if it is right, fit optics that reach further")
}

func opticDamage(s *subject) []Finding {
	return s.overload(func(l *Light) (float64, bool) { return l.Damage.Get() },
		"the strongest sender puts up to %s on the receiver at the %v end, which may be damaged from %s on")
}

func receiverOverload(s *subject) []Finding {
	all := s.overload(func(l *Light) (float64, bool) { return l.TakesMost, true },
		"the strongest sender puts up to %s on the receiver at the %v end, which takes %s")
	if all == nil { // of one end's optic only
		all = s.ofOptic(func(unit string) bool { return unit == "dBm" }, "optic %s may be too strong for its like: ", "fit an attenuator")
	}
	return all
}

// overload finds the ends that receive more than a limit, in one finding by the
// one that receives most.
func (s *subject) overload(limit func(*Light) (float64, bool), text string) []Finding {
	if !s.fibre() || s.opticsApart() {
		return nil
	}
	var worst []Finding
	ends := 0
	for end := range s.expected().Light {
		light := &s.expected().Light[end]
		most, known := limit(light)
		if !light.Known || !known || light.Pad <= 0 || light.Most <= most {
			continue
		}
		ends++
		if f := overloaded(light, End(end), most, text); worst == nil || f.excess > worst[0].excess {
			worst = found(f)
		}
	}
	if ends > 1 {
		worst[0].Text += "; the other end is overloaded too"
		worst[0].Mend = strings.Replace(worst[0].Mend, "at that receiver before it is", "at each receiver before they are", 1)
	}
	return worst
}

func overloaded(light *Light, end End, most float64, text string) Finding {
	return Finding{
		Verdict: light.Judgement.Verdict, Source: light.Judgement.Source.Document, Sure: Likely,
		By:   fmt.Sprintf("%s over %s", quantity(light.Most-most, "dB"), quantity(most, "dBm")), // levels differ by dB
		Text: fmt.Sprintf(text, quantity(light.Most, "dBm"), end, quantity(most, "dBm")),
		Mend: fmt.Sprintf("fit an attenuator of %s at that receiver before it is plugged in", quantity(math.Ceil(light.Pad*10)/10, "dB")) + laserCare,

		excess: light.Most - most,
	}
}

func oneStrand(s *subject) []Finding {
	have, known := strandCount(s.run.Strands)
	near, far, nearKnown, farKnown := s.optics()
	optic := near
	if !nearKnown || farKnown && far.Strands > near.Strands {
		optic = far
	}
	if !known || !nearKnown && !farKnown || !s.fibre() || have >= optic.Strands {
		return nil
	}
	return found(Finding{
		Verdict: standards.NotAllowed,
		Text:    fmt.Sprintf("strands %q is recorded, and optic %s wants %d strands", s.run.Strands, optic.PHY, optic.Strands),
		By:      fmt.Sprintf("%d for %d", have, optic.Strands), excess: 1,
		Source: optic.Source.Document, Sure: Likely,
		Mend: "look at the patching and " + strandMend(have, optic.Strands) + laserCare,
	})
}

// strandMend is what helps where strands are too few; an optic for one strand
// stands in for one for two, never for parallel ones.
func strandMend(have, wanted int) string {
	if have == 1 && wanted == 2 {
		return "record all strands, or fit single-fibre optics at both ends"
	}
	return "record all strands, or fit optics that need no more than there are"
}

// strandCount reads how many strands a record names: "11-12" and "11;12" are
// two, "2" is a count. It reports false for what it cannot read.
func strandCount(text string) (n int, ok bool) {
	if count, err := strconv.Atoi(strings.TrimSpace(text)); err == nil {
		return count, count > 0
	}
	for item := range strings.FieldsFuncSeq(text, func(r rune) bool { return strings.ContainsRune(",;/+& ", r) }) {
		first, last, ranged := strings.Cut(item, "-")
		a, err := strconv.Atoi(first)
		if err != nil {
			return 0, false
		}
		b := a
		if ranged {
			if b, err = strconv.Atoi(last); err != nil || b < a {
				return 0, false
			}
		}
		n += b - a + 1
	}
	return n, n > 0
}

// fibreOf is the kind of fibre in a cable, false where it is not recorded.
func fibreOf(c *Cable) (standards.FibreType, bool) {
	if c == nil || c.Media != standards.Fibre {
		return standards.FibreType{}, false
	}
	kind := c.fibreType()
	return kind, kind.Known()
}

func mixedFibre(s *subject) []Finding {
	return s.joint(func(a, b standards.FibreType) bool {
		return a.SingleMode != b.SingleMode || !a.SingleMode && a.CoreUM != b.CoreUM
	},
		Finding{Verdict: standards.NotAllowed}, "light is lost from the larger core to the smaller")
}

func mixedGrades(s *subject) []Finding {
	return s.joint(func(a, b standards.FibreType) bool {
		return !a.SingleMode && !b.SingleMode && a.CoreUM == b.CoreUM && a != b
	},
		Finding{Verdict: standards.Depends, Sure: Likely}, "the lower grade rules the reach")
}

// joint finds the first piece of fibre that does not suit the one before it.
func (s *subject) joint(unlike func(a, b standards.FibreType) bool, f Finding, so string) []Finding {
	if !s.fibre() {
		return nil
	}
	var name string
	var last standards.FibreType
	for _, p := range s.along() {
		kind, known := fibreOf(p.cable)
		if !known {
			continue
		}
		if name != "" && unlike(last, kind) {
			f.Text = fmt.Sprintf("%s is %s and %s is %s: %s", name, last, p.name, kind, so)
			f.By = s.mismatch()
			f.Source = "ISO/IEC 11801-1 (one category of fibre along a channel)"
			f.Mend = "read the print on cables and cords; use one kind of fibre along the run" + laserCare
			return found(f)
		}
		name, last = p.name, kind
	}
	return nil
}

// opticsApart says whether the optics, recorded or else seen, do not work
// together, so that nothing can be said of the light between them.
func (s *subject) opticsApart() bool {
	fitted := opticsOf(s.run, s.seen)
	return standards.OpticsAgree(fitted.near, fitted.far).Verdict == standards.NotAllowed
}

// mismatch tells what the differing cores cost in each direction.
func (s *subject) mismatch() string {
	nm := 850.0
	if near, _, known, _ := s.optics(); known && len(near.SendsNM) > 0 {
		nm = near.SendsNM[0]
	}
	path := s.expected().Path
	var ways []string
	for _, way := range []struct {
		name        string
		towardsNear bool
	}{{"far", false}, {"near", true}} {
		if loss, ok := path.Loss(nm, way.towardsNear); ok && loss.Mismatch > 0 {
			ways = append(ways, fmt.Sprintf("up to %s towards the %s end", quantity(loss.Mismatch, "dB"), way.name))
		}
	}
	return strings.Join(ways, ", ")
}
