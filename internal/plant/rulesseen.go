package plant

import (
	"fmt"
	"strings"

	"toneout/internal/standards"
)

// up is the speed that the run is seen at, 0 where it is not known.
func (s *subject) up() standards.Speed {
	if s.seen.Near.Speed > 0 {
		return s.seen.Near.Speed
	}
	return s.seen.Far.Speed
}

// slowerThanCable is asked only where the record names no speed that is meant:
// else it is a fault of the run, or no fault at all.
func slowerThanCable(s *subject) []Finding {
	up := s.up()
	if up == 0 || s.run.DesignSpeedMeant() > 0 || s.seen.Near.Fastest == 0 && s.seen.Far.Fastest == 0 {
		return nil
	}
	allowed, _ := s.expected().Fastest()
	sure := Likely
	for _, end := range []SeenEnd{s.seen.Near, s.seen.Far} {
		if end.Fastest == 0 {
			sure = Possible // what is there may do no more
		} else {
			allowed = min(allowed, end.Fastest)
		}
	}
	if up >= allowed {
		return nil
	}
	return found(Finding{
		Text: fmt.Sprintf("it is up at %s, and its cable and the ports known allow %s", up, allowed),
		By:   fmt.Sprintf("%s for %s", up, allowed), Sure: sure, Source: "IEEE 802.3 (reach of the speed) and what its switches show",
		Mend: "record the speed meant as design_speed; where it is more than this, look at the far end's settings, then at cords and pairs",
	})
}

// worksByLuck tells that a run is seen at a speed that the standards do not
// give it.
func worksByLuck(s *subject) []Finding {
	up := s.up()
	if up == 0 {
		return nil
	}
	c, ok := s.expected().At(up)
	if !ok || c.Verdict != standards.NotAllowed {
		return nil
	}
	f := judged(c.Judgement)
	f.Text = fmt.Sprintf("it runs at %s, which the standards do not give it: %s", up, c.Why)
	f.Mend = "make sure that the record is right; if it is, the run may fail with heat, age or a new neighbour"
	return found(f)
}

func otherOptic(s *subject) (all []Finding) {
	for _, end := range []struct {
		name, recorded, seen string
	}{
		{"near", s.run.Optic, s.seen.Near.PHY}, {"far", s.run.FarOptic, s.seen.Far.PHY},
	} {
		if !otherPHY(end.recorded, end.seen) {
			continue
		}
		all = append(all, Finding{
			Text:   fmt.Sprintf("%s is recorded at the %s end, and the switch shows %s", end.recorded, end.name, end.seen),
			Source: "what its switch shows (dot3MauType, RFC 4836)", Sure: Likely,
			Mend: "read the print on the optic and put the record right",
		})
	}
	return all
}

// otherPHY tells whether two PHY names cannot be the same optic. A switch may
// show a family (10GBASE-R) for one of its members, and LX for LX10, which has
// its number later.
func otherPHY(recorded, seen string) bool {
	r, recordedKnown := standards.PHYNamed(recorded)
	p, seenKnown := standards.PHYNamed(seen)
	if !recordedKnown || !seenKnown || r.Name == p.Name {
		return false
	}
	if r.Speed == p.Speed && (r.Medium == "" || p.Medium == "") {
		return false
	}
	return !strings.HasPrefix(r.Name, p.Name) && !strings.HasPrefix(p.Name, r.Name)
}
