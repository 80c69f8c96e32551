package plant

import (
	"slices"

	"toneout/internal/standards"
)

// subject is one run as the rules see it. What costs is worked out when first
// asked for.
type subject struct {
	plant *Plant
	run   *Run
	seen  Seen

	fixed []part // the permanent link
	cords []part

	expectation Expected
	acceptance  *Acceptance
	worked      bool // expectation is worked out
	tested      bool // acceptance was asked for
}

// part is one piece of cable along a run.
type part struct {
	name     string // in words
	cable    *Cable // nil where not recorded
	metres   float64
	measured bool // whether metres is recorded
	pathways []string
}

// turn makes another run the subject, in the same memory.
func (s *subject) turn(p *Plant, r *Run, seen Seen) {
	*s = subject{plant: p, run: r, seen: seen, fixed: s.fixed[:0], cords: s.cords[:0]}
	for i := range r.Segments {
		seg := &r.Segments[i]
		s.fixed = append(s.fixed, p.part(segmentName(i), seg.Cable, seg.LengthM, seg.Pathways))
	}
	if len(r.Segments) == 0 {
		s.fixed = append(s.fixed, p.part("the cable", r.Cable, r.LengthM, nil))
	}
	s.cord(nearCord, r.NearCordCable, r.NearCordM)
	s.cord("the far cord", r.FarCordCable, r.FarCordM)
}

func (s *subject) cord(name, cable string, length real) {
	if cord := s.plant.part(name, cable, length, nil); cord.cable != nil || cord.metres > 0 {
		s.cords = append(s.cords, cord)
	}
}

const nearCord = "the near cord"

// along is every part from the near to the far end.
func (s *subject) along() []part {
	if len(s.cords) > 0 && s.cords[0].name == nearCord {
		return slices.Concat(s.cords[:1], s.fixed, s.cords[1:])
	}
	return slices.Concat(s.fixed, s.cords)
}

func (p *Plant) part(name, cable string, length real, pathways []string) part {
	metres, measured := length.Get()
	return part{name, p.Cable(cable), metres, measured, pathways}
}

func segmentName(i int) string {
	names := [...]string{"the first segment", "the second segment", "the third segment", "the fourth segment"}
	if i < len(names) {
		return names[i]
	}
	return "a further segment"
}

// expected is what the run ought to carry.
func (s *subject) expected() *Expected {
	if !s.worked {
		s.expectation, s.worked = s.plant.Expected(s.run, s.seen), true
	}
	return &s.expectation
}

// test is what its acceptance test says, nil where there is none.
func (s *subject) test() *Acceptance {
	if !s.tested {
		s.acceptance, s.tested = s.plant.Acceptance(s.run.ID), true
	}
	return s.acceptance
}

// medium is what all recorded parts of the permanent link are made of, "" where
// none is recorded or they differ.
func (s *subject) medium() (m standards.Medium) {
	for i := range s.fixed {
		if c := s.fixed[i].cable; c != nil {
			if m != "" && c.Media != m {
				return ""
			}
			m = c.Media
		}
	}
	return m
}

// anyCable says whether the cable of any part of the permanent link is recorded.
func (s *subject) anyCable() bool {
	return slices.ContainsFunc(s.fixed, func(p part) bool { return p.cable != nil })
}

func (s *subject) copper() bool { return s.medium() == standards.Copper }

func (s *subject) fibre() bool { return s.medium() == standards.Fibre }

// fixedM is the length of the permanent link as far as it is recorded; whole
// where all of it is.
func (s *subject) fixedM() (metres float64, whole bool) { return total(s.fixed) }

// cordsM is the length of the cords that are recorded.
func (s *subject) cordsM() float64 {
	metres, _ := total(s.cords)
	return metres
}

func total(parts []part) (metres float64, whole bool) {
	whole = true
	for i := range parts {
		metres += parts[i].metres
		whole = whole && parts[i].measured
	}
	return metres, whole
}

// speed is the most that the record asks of the run: its design speed must be
// carried some day, even where today's device asks for less.
func (s *subject) speed() standards.Speed { return max(s.run.DesignSpeed, s.run.DeviceSpeed) }

// carried is the judgement of the speed that the run is designed for.
func (s *subject) carried() (standards.Judgement, bool) {
	if s.speed() == 0 {
		return standards.Judgement{}, false
	}
	c, ok := s.expected().At(s.speed())
	return c.Judgement, ok
}

// pathways are those of the run and of its segments that could be read, each
// once.
func (s *subject) pathways() (all []*Pathway) {
	add := func(ids []string) {
		for _, id := range ids {
			if w := s.plant.Pathway(id); w != nil && !slices.Contains(all, w) {
				all = append(all, w)
			}
		}
	}
	add(s.run.Pathways)
	for i := range s.fixed {
		add(s.fixed[i].pathways)
	}
	return all
}
