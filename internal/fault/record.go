package fault

import (
	"fmt"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// standing is what the record of a port's run says for and against causes, by
// the standards and by the values measured when the run was installed.
type standing struct {
	items     items
	sentences []string
}

// standingOf reads the record of a run once for one of its ends; what ports
// show later does not change it.
func standingOf(p *plant.Plant, run *plant.Run, end plant.End) *standing {
	s := &standing{}
	for _, f := range p.AuditRun(run, plant.Seen{}) {
		if i := ruleBroken(f.Rule); ofRecord(i).ratio != nil {
			s.items.see(i, true)
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

func (s *standing) takeTest(test *plant.Acceptance) {
	s.sentences = append(s.sentences, test.Summary())
	if test.WireMap != nil {
		for _, f := range test.WireMap.Faults {
			s.items.see(wiredSo(f.Kind), true)
		}
	}
	s.items.see(testPassed, test.Result == plant.Pass)
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
	return fmt.Sprintf("By the record the %v end should receive %.1f to %.1f dBm; its optic takes %.1f to %.1f dBm.",
		end, l.Least, l.Most, l.TakesLeast, l.TakesMost)
}

// mostFactor bounds what a record can say: it may be wrong itself.
const mostFactor = 40

// factors are what all that the record says tells of each cause.
func factors(record items) weights {
	tellings := make([]telling, 0, len(record))
	for _, i := range record {
		tellings = append(tellings, ofRecord(i))
	}
	out := pooled(tellings)
	for cause, factor := range out {
		out[cause] = min(factor, mostFactor)
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

// byRecord gives what the record says of causes, and its sentences.
func (p *portState) byRecord() (items, []string) {
	if !p.recordSpeaks() {
		return nil, nil
	}
	s := p.record()
	return s.items, s.sentences
}
