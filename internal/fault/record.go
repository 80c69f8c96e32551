package fault

import (
	"fmt"
	"maps"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// standing is what the record of a port's run says for and against causes, by
// the standards and by the values measured when the run was installed.
type standing struct {
	factors   weights // of causes, as scaled and raised take them
	sentences []string
}

// ruleFactors tells how many times likelier a cause is where an audit finds
// that the record breaks a rule (common practice, no source). A rule that is
// not here says nothing of causes; a source of interference beside the run
// counts by itself.
var ruleFactors = map[plant.Rule]weights{
	plant.ChannelTooLong:     {OverLength: 15},
	plant.LinkTooLong:        {OverLength: 8},
	plant.CordsTooLong:       {OverLength: 4, BadCord: 1.5},
	plant.TooHot:             {CableHeat: 10, OverLength: 3},
	plant.CategoryTooLow:     {WrongCategory: 15},
	plant.CordCategoryTooLow: {WrongCategory: 10, BadCord: 3},
	plant.SpeedNotCarried:    {WrongCategory: 10, OverLength: 3},
	plant.SpeedDepends:       {AlienCrosstalk: 4, WrongCategory: 3},
	plant.TooManyConnectors:  {PoorTermination: 2},
	plant.UnscreenedCord:     {Interference: 2},
	plant.MixedScreens:       {Interference: 2},
	plant.TestFailed:         {PoorTermination: 4, DamagedCable: 2},
	plant.TestTooNear:        {PoorTermination: 2},

	plant.OpticDamage:      {ReceiverOverload: 20, FailingReceiver: 3},
	plant.ReceiverOverload: {ReceiverOverload: 20},
	plant.OpticsDisagree:   {OpticMismatch: 20},
	plant.OpticTooSlow:     {OpticMismatch: 5},
	plant.OpticWrongFibre:  {WrongFibre: 15},
	plant.MixedFibre:       {WrongFibre: 15},
	plant.MixedGrades:      {WrongFibre: 3},
	plant.FibreTooLong:     {LossOverBudget: 10},
	plant.LossOverBudget:   {LossOverBudget: 10},
}

// wireFactors is likewise for what a wire map found.
var wireFactors = map[plant.WireFaultKind]weights{
	plant.WireOpen:     {OpenPair: 20},
	plant.WireShort:    {ShortedPair: 20},
	plant.WireCrossed:  {CrossedPair: 10},
	plant.WireReversed: {CrossedPair: 10},
	plant.WireMiswired: {CrossedPair: 20},
	plant.WireSplit:    {SplitPair: 30},
}

// standingOf reads the record of a run once for one of its ends; what ports
// show later does not change it.
func standingOf(p *plant.Plant, run *plant.Run, end plant.End) *standing {
	s := &standing{factors: weights{}}
	for _, f := range p.AuditRun(run, plant.Seen{}) {
		if factors, tells := ruleFactors[f.Rule]; tells {
			s.take(factors)
			s.sentences = append(s.sentences, findingSentence(f))
		}
	}
	if test := p.Acceptance(run.ID); test != nil {
		s.takeTest(test)
	}
	if sentence := lightSentence(end, p.Expected(run, plant.Seen{}).Light[end]); sentence != "" {
		s.sentences = append(s.sentences, sentence)
	}
	return s
}

// take multiplies what several findings say of one cause.
func (s *standing) take(factors weights) {
	for cause, factor := range factors {
		if known, ok := s.factors[cause]; ok {
			factor *= known
		}
		s.factors[cause] = min(factor, mostFactor)
	}
}

// mostFactor bounds what a record can say: it may be wrong itself.
const mostFactor = 40

func (s *standing) takeTest(test *plant.Acceptance) {
	s.sentences = append(s.sentences, test.Summary())
	if test.WireMap != nil {
		for _, f := range test.WireMap.Faults {
			s.take(wireFactors[f.Kind])
		}
	}
	if test.Result == plant.Pass {
		s.take(weights{PoorTermination: 0.6, OverLength: 0.3, OpenPair: 0.7})
	}
}

func findingSentence(f plant.Finding) string {
	by := ""
	if f.By != "" {
		by = ": " + f.By
	}
	return fmt.Sprintf("By the record %s%s (%s).", f.Text, by, f.Source)
}

// lightSentence tells what light an end ought to receive, "" where the record
// does not tell.
func lightSentence(end plant.End, l plant.Light) string {
	if !l.Known {
		return ""
	}
	return fmt.Sprintf("By the record the %v end ought to receive %.1f to %.1f dBm; its optic takes %.1f to %.1f dBm.",
		end, l.Least, l.Most, l.TakesLeast, l.TakesMost)
}

// raised gives w with the weights of some causes multiplied; one that w does not
// hold starts with a small share of the whole.
func raised(w, factors weights) weights {
	const unlisted = 0.01
	sum := 0.0
	for _, weight := range w {
		sum += weight
	}
	out := maps.Clone(w)
	for cause, factor := range factors {
		if weight, listed := w[cause]; listed {
			out[cause] = weight * factor
		} else if factor > 1 {
			out[cause] = sum * unlisted * factor
		}
	}
	return out
}

// record is what the record of the port's run says, worked out when first asked
// for.
func (p *portState) record() *standing {
	if p.join.Run == nil || p.inventory == nil {
		return &standing{}
	}
	if p.standing == nil {
		p.standing = standingOf(p.inventory, p.join.Run, p.join.End)
	}
	return p.standing
}

// recordSpeaks leaves out causes of another medium than the link has now: the
// record is then of something else.
func (p *portState) recordSpeaks() bool {
	return p.join.Run != nil && (p.medium == "" || p.medium == p.mediumNow() || p.medium != standards.Copper && !copperLike(p.mediumNow()))
}

// byRecord weighs causes by the record, and gives its sentences.
func (p *portState) byRecord(w weights) (weights, []string) {
	if !p.recordSpeaks() {
		return w, nil
	}
	s := p.record()
	return raised(w, s.factors), s.sentences
}
