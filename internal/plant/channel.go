package plant

import (
	"toneout/internal/port"
	"toneout/internal/standards"
)

// laid is what lies along a run, cords included, as far as it is recorded.
type laid struct {
	plant *Plant
	run   *Run

	first, other standards.Medium // of the recorded cables; other where a second one is along it
	category     standards.Category
	shield       standards.Shield // of the fixed cable: of two the worse
	fixedM       float64          // of the fixed cable, as far as it is recorded
	cordsM       float64
	warmest      port.Value[float64]

	noCable, noCategory, noShield, noLength, noCord bool // of some part it is not recorded

	missing []string
}

// lay walks along a run.
func (p *Plant) lay(r *Run) *laid {
	l := &laid{plant: p, run: r}
	if len(r.Segments) == 0 {
		l.fixed(p.Cable(r.Cable), r.LengthM)
	}
	l.warm(r.Pathways)
	for i := range r.Segments {
		s := &r.Segments[i]
		l.fixed(p.Cable(s.Cable), s.LengthM)
		l.warm(s.Pathways)
	}
	l.cord(p.Cable(r.NearCordCable), r.NearCordM)
	l.cord(p.Cable(r.FarCordCable), r.FarCordM)
	return l
}

// fixed adds a part of the permanent link; of an unscreened and a screened
// one, the first counts for both.
func (l *laid) fixed(c *Cable, length real) {
	metres, ok := length.Get()
	l.fixedM += metres
	l.noLength = l.noLength || !ok || metres == 0
	if c == nil {
		l.noCable = true
		return
	}
	l.of(c.Media)
	l.lower(c)
	l.noCategory = l.noCategory || c.Category == ""
	l.noShield = l.noShield || c.Shield == ""
	if shield := standards.Shield(c.Shield); shield != "" && (l.shield == "" || !shield.Screened()) {
		l.shield = shield
	}
}

func (l *laid) cord(c *Cable, length real) {
	metres, ok := length.Get()
	l.cordsM += metres
	l.noCord = l.noCord || !ok
	if c != nil {
		l.of(c.Media)
		l.lower(c)
	}
}

func (l *laid) of(m standards.Medium) {
	switch {
	case l.first == "":
		l.first = m
	case m != l.first:
		l.other = m
	}
}

// lower lets the lowest category rule the channel.
func (l *laid) lower(c *Cable) {
	if own := standards.Category(c.Category); own != "" && (l.category == "" || own.Below(l.category)) {
		l.category = own
	}
}

func (l *laid) warm(pathways []string) {
	for _, id := range pathways {
		w := l.plant.Pathway(id)
		if w == nil {
			continue
		}
		if celsius, ok := w.AmbientC.Get(); ok {
			if warmest, known := l.warmest.Get(); !known || celsius > warmest {
				l.warmest = w.AmbientC
			}
		}
	}
}

// medium is that of all recorded parts, "" where they differ.
func (l *laid) medium() standards.Medium {
	if l.other != "" {
		return ""
	}
	return l.first
}

// miss notes a key without which more could be said.
func (l *laid) miss(absent bool, key string) {
	if absent {
		l.missing = append(l.missing, key)
	}
}

// notJudged fills in a run of which the medium is not known.
func (l *laid) notJudged(e *Expected) {
	why := "cable is not recorded"
	switch {
	case l.other != "":
		why = "the record has " + string(l.first) + " and " + string(l.other) + " along one run: each part is a link of its own"
	case l.run.Cable != "":
		why = "the row of cable " + l.run.Cable + " could not be read"
	default:
		l.miss(true, "cable")
	}
	e.Missing = l.missing
	e.Speeds = make([]Carried, len(speeds))
	for i, speed := range speeds {
		e.Speeds[i] = Carried{Speed: speed, Judgement: standards.Judgement{Why: why}}
	}
}

// assembly judges twinax and active-optical, which come with their ends on:
// each is made for one PHY, of which the record tells nothing.
func (l *laid) assembly(e *Expected, seen Seen) {
	l.miss(l.noLength, "length_m")
	e.Missing = l.missing
	e.Speeds = make([]Carried, len(speeds))
	for i, speed := range speeds {
		best := Carried{Speed: speed, Judgement: standards.Judgement{Why: noPHY(speed, e.Medium)}}
		for _, phy := range assemblyPHYs[e.Medium] {
			runs := phy.Name == seen.Near.PHY || phy.Name == seen.Far.PHY
			if phy.Speed != speed || phy.Name == oldTwinax && !runs {
				continue
			}
			j := l.overAssembly(phy, e.Medium)
			if best.PHY == "" || rank(j) < rank(best.Judgement) {
				best.PHY, best.Judgement, best.Needs = phy.Name, j, "an assembly made for "+phy.Name
			}
			if runs {
				best.Needs = ""
			}
		}
		e.Speeds[i] = best
	}
}

// oldTwinax is taken for what runs only where it is seen: direct attach, which
// came after it, shares nothing with it but the medium.
const oldTwinax = "10GBASE-CX4"

func (l *laid) overAssembly(phy standards.PHY, m standards.Medium) standards.Judgement {
	j := phy.OverAssembly(m, l.fixedM)
	if l.noLength && j.Verdict != standards.NotAllowed {
		return standards.Judgement{Why: notMeasured}
	}
	return j
}

const notMeasured = "length_m is not recorded"

var assemblyPHYs = map[standards.Medium][]standards.PHY{
	standards.Twinax:        standards.AssemblyPHYs(standards.Twinax),
	standards.ActiveOptical: standards.AssemblyPHYs(standards.ActiveOptical),
}

func noPHY(speed standards.Speed, m standards.Medium) string {
	return "toneout has no PHY of " + speed.String() + " over " + string(m) + " in its tables"
}
