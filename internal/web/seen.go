package web

import (
	"fmt"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/standards"
)

// seenRuns is what the switches show of each run at whose ends one answers.
func seenRuns(s *fault.Snapshot) map[string]plant.Seen {
	seen := map[string]plant.Seen{}
	for _, r := range s.Plant.Runs {
		if one := seenOf(s, r); one != (plant.Seen{}) {
			seen[r.ID] = one
		}
	}
	return seen
}

func seenOf(s *fault.Snapshot, r *plant.Run) plant.Seen {
	near, far := s.Joined.PortsOf(r.ID)
	var seen plant.Seen
	for _, end := range []struct {
		at   plant.PortRef
		seen *plant.SeenEnd
	}{{near, &seen.Near}, {far, &seen.Far}} {
		p := answering(s, end.at)
		if p == nil {
			continue
		}
		*end.seen = plant.SeenEnd{Fastest: p.Fastest, Speed: p.Speed, PHY: p.PHY}
		if seen.Errors == "" && tooManyErrors(p, mediumOf(s.Plant, r)) {
			seen.Errors = errorWords(p)
		}
	}
	for _, f := range s.FaultsOf(r.ID) {
		if f.Kind == fault.FrameErrors && seen != (plant.Seen{}) {
			seen.Errors = f.Summary
		}
	}
	return seen
}

// answering is a port whose switch answers, or nil.
func answering(s *fault.Snapshot, at plant.PortRef) *fault.Port {
	sw, ok := s.Switch(at.Switch)
	if !ok || !sw.Answering() {
		return nil
	}
	p, _ := sw.Port(at.Port)
	return p
}

// tooManyErrors tells whether the last hour's damaged frames are more than the
// objective of the link's PHY lets pass, by the lower bound of their interval:
// a few are lawful, and a single one is no sign.
func tooManyErrors(p *fault.Port, medium standards.Medium) bool {
	ratio, ok := p.BitErrorRatio()
	if !ok {
		return false
	}
	phy, _ := standards.PHYNamed(p.PHY)
	objective := phy.BER
	if objective == 0 {
		objective, _ = standards.ObjectiveBER(p.Speed, medium)
	}
	return objective > 0 && ratio.Low > objective
}

func errorWords(p *fault.Port) string {
	return fmt.Sprintf("%s of %s frames that %s port %s received in the last %s were damaged",
		grouped(p.Hour.Errored), grouped(p.Hour.Frames), p.Switch, p.Name, p.Hour.Span())
}

// mediumOf is "" where it is not recorded.
func mediumOf(p *plant.Plant, r *plant.Run) standards.Medium {
	id := r.Cable
	if len(r.Segments) > 0 {
		id = r.Segments[0].Cable
	}
	if cable := p.Cable(id); cable != nil {
		return cable.Media
	}
	return ""
}
