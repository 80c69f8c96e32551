package fault

import (
	"fmt"

	"toneout/internal/plant"
)

// opticAccuracyDB is what an optic's own readings are good to (common practice,
// no source).
const opticAccuracyDB = 3

// over tells whether the direction loses more than it ought to, by more than
// two optics' readings are likely to differ.
func (d *direction) over() bool {
	most, known := d.most.Get()
	return known && d.loss.told && d.loss.now > most+lossRises
}

// guards tells why nobody is to be told of a dark receiver.
func (d *direction) guards() []Guard {
	k := d.to.Light.Known
	if !d.received.dark() || d.from == nil {
		return nil
	}
	far := k.beam.sender
	switch {
	case shut(d.from):
		return []Guard{{Name: ShutByAdmin, Says: fmt.Sprintf("%v at the other end is shut, so it sends no light.", d.from.ref)}}
	case far.unread(), far.view.Silent > 0 && !far.view.LastAnswer.After(k.Low.Since):
		return []Guard{{Name: ParentDown, Switch: far.name, Says: fmt.Sprintf("%s at the other end does not answer, so it may have no power to send light.", far.name)}}
	}
	return nil
}

// lightSentences are what the light at the port is, as far as it is told.
func (p *portState) lightSentences() []string {
	d := p.towardWorst()
	if p.made() != ofFibre || !d.received.told {
		return nil
	}
	return withoutEmpty(d.receivedSentence(), d.sentSentence(), d.lossSentence())
}

// inUse tells whether the run is one that carries something.
func inUse(run *plant.Run) bool {
	return run == nil || run.Status != plant.Spare && run.Status != plant.Abandoned
}
