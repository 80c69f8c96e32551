package fault

import (
	"fmt"
	"slices"
	"time"
)

// folds tell which kinds of fault are part of another one of the same run, in
// the order in which they are asked. What brings them about is told.
var folds = []struct {
	lead  Kind
	parts []Kind
}{
	// The frames that ends of different duplex damage are no other trouble, nor is
	// a low speed, which one end is set to: what is negotiated has the same duplex
	// at both ends (IEEE 802.3 28.2.3.1, 28B.3).
	{DuplexMismatch, []Kind{FrameErrors, BelowDesignSpeed}},
	// A device whose power is cut is gone, and its link with it.
	{PowerFailing, []Kind{NoLink, LinkFlapping, FrameErrors}},
	// A plug that loses contact damages frames before it does, and is sometimes
	// out of contact for some polls.
	{LinkFlapping, []Kind{FrameErrors, NoLink}},
}

// partLasts is for how long after the fault that told of it a part stays
// folded, and longer where it was not seen since: it may take longer to let go.
const partLasts = time.Hour

// longGone is for how long a link that comes and goes may be gone until that is
// told by itself (common practice, no source).
const longGone = 15 * time.Minute

// foldParts lets one fault alarm where a trouble of a run shows in several
// ways. The others stay listed, and what they found is evidence of that one.
func foldParts(faults, before []*Fault, at time.Time) []*Fault {
	for _, f := range faults {
		was := kindAmong(before, f.Kind)
		switch lead := leadOf(f, faults, at); {
		case !f.Alarm || slices.Contains(lightKinds, f.Kind):
		case lead != nil:
			f.fold(lead, at.Add(partLasts))
			lead.raise(f.Severity)
			lead.Evidence = appendNew(lead.Evidence, []string{f.Summary})
		case f.Kind != NoLink && was != nil && !was.folded.IsZero() && (was.folded.After(at) || f.unseen):
			f.Alarm, f.folded = false, was.folded
			f.Guards = append(f.Guards, wasPart)
		}
	}
	for _, f := range faults {
		if was := kindAmong(before, f.Kind); was != nil && was.Alarm {
			f.raise(was.raised)
		}
	}
	return faults
}

// raise makes a fault as severe as what it tells of, for as long as it is open,
// since each change is another alert.
func (f *Fault) raise(to Severity) {
	if severityOrder[to] > severityOrder[f.Severity] {
		f.Severity, f.raised = to, to
	}
}

// leadOf is the fault that tells of another one, nil where none does.
func leadOf(f *Fault, faults []*Fault, at time.Time) *Fault {
	for _, fold := range folds {
		lead := kindAmong(faults, fold.lead)
		if lead == nil || !lead.Alarm || !slices.Contains(fold.parts, f.Kind) {
			continue
		}
		if lead.Kind == LinkFlapping && f.Kind == NoLink && at.Sub(f.Since) >= longGone {
			continue
		}
		return lead
	}
	return nil
}

// fold lets another fault tell of this one, until then at least.
func (f *Fault) fold(lead *Fault, until time.Time) {
	f.Alarm, f.folded = false, until
	f.Guards = append(f.Guards, Guard{Name: SameTrouble, Says: fmt.Sprintf("It is told as part of another fault of this run: %s. Do the checks of that one first.", lead.Kind.Title())})
}

// TheOther is how such a fault names the one that tells of it.
const TheOther = "the other fault"

// IsPart tells whether another fault of the run, which is open, tells of this one.
func (f *Fault) IsPart() bool {
	return !f.Alarm && slices.ContainsFunc(f.Guards, func(g Guard) bool { return g.Name == SameTrouble && g.Says != wasPart.Says })
}

var wasPart = Guard{Name: SameTrouble, Says: "It was told as part of another fault of this run, which has let go."}

// remember notes with a site's ports what another fault told of, for a restart.
func (s *site) remember(faults []*Fault) {
	for _, p := range s.ports {
		p.Folded = nil
		for _, f := range faults {
			if !f.folded.IsZero() {
				p.Folded = append(p.Folded, folded{f.Kind, f.folded})
			}
		}
	}
}

// recall gives of the faults before a restart what is known of them.
func (s *site) recall() (before []*Fault) {
	for _, p := range s.ports {
		for _, f := range p.Folded {
			before = append(before, &Fault{Kind: f.Kind, folded: f.Until})
		}
	}
	return before
}
