package fault

import (
	"fmt"
	"slices"
	"time"
)

// lightKinds are those that tell of one trouble on a fibre, by what they
// measure of it.
var lightKinds = []Kind{LowLight, HighLight, ExcessLoss}

// harmKinds are what such a trouble does to the link: they are worse, and are
// told instead.
var harmKinds = []Kind{NoLink, FrameErrors, LinkFlapping}

// foldedFor is for how many slow intervals after the fault that told of it a
// light fault stays folded: it takes two readings to let go.
const foldedFor = 3

// foldLight lets one fault alarm where the light of a run shows one trouble in
// several ways: the harm that it does to the link, else what was seen first.
// The others stay listed and their finding is evidence of that one, so that
// somebody is told once, of all of it. They let go with other readings than that
// one, so each has until later to do so by itself.
func foldLight(faults, before []*Fault, at, later time.Time) []*Fault {
	var lead *Fault
	for _, f := range faults {
		if f.Alarm && leadsLight(f, lead) {
			lead = f
		}
	}
	for _, f := range faults {
		was := kindAmong(before, f.Kind)
		switch {
		case !f.Alarm || !slices.Contains(lightKinds, f.Kind):
			continue
		case f == lead && (was == nil || !was.folded.After(at)):
			continue
		case f == lead:
			f.Alarm, f.folded = false, was.folded
			f.Guards = append(f.Guards, wasPart)
			continue
		}
		f.fold(lead, later)
		lead.tell(f)
		lead.advise(&judged{})
		lead.tellLight()
	}
	return faults
}

// tell takes over the evidence of a fault that another one tells of, so that a page that
// shows both has each sentence once.
func (f *Fault) tell(part *Fault) {
	if !part.restated {
		f.Evidence = appendNew(f.Evidence, []string{part.Summary})
	}
	own := []string{}
	for _, sentence := range part.Evidence {
		switch {
		case slices.Contains(f.Evidence, sentence):
		case slices.Contains(part.pleas, sentence):
			if part.Cause() != f.Cause() { // else they say the same
				own = append(own, sentence)
			}
		default:
			f.Evidence = append(f.Evidence, sentence)
		}
	}
	if len(own) == 0 {
		own = append(own, fmt.Sprintf("%s: its evidence is listed with the other fault of this run, %s.", part.Kind.Title(), f.Kind.Title()))
	}
	part.Evidence = own
}

// tellLight gives a fault whose evidence is of light its caution, whatever the cause.
func (f *Fault) tellLight() {
	if !slices.Contains(f.Cautions, laser) {
		f.Cautions = append([]string{laser}, f.Cautions...)
	}
}

// appendNew appends the sentences that are not there yet.
func appendNew(to, sentences []string) []string {
	for _, s := range sentences {
		if !slices.Contains(to, s) {
			to = append(to, s)
		}
	}
	return to
}

// leadsLight tells whether an alarm is to be told rather than another one.
func leadsLight(f, than *Fault) bool {
	harms, measures := slices.Contains(harmKinds, f.Kind), slices.Contains(lightKinds, f.Kind)
	switch {
	case !harms && !measures:
		return false
	case than == nil:
		return true
	case harms != slices.Contains(harmKinds, than.Kind):
		return harms
	case harms:
		return slices.Index(harmKinds, f.Kind) < slices.Index(harmKinds, than.Kind)
	}
	return f.Since.Before(than.Since)
}
