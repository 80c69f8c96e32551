package plant

import (
	"fmt"
	"math"
	"strings"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// fibrePHY is a PHY over fibre with what to fit for it.
type fibrePHY struct {
	standards.PHY
	optic standards.Optic
	needs string
}

// The PHYs over fibre by the place of their speed among the nominal ones,
// those over two strands first.
var multimodePHYs, singleModePHYs = fibrePHYsOver("OM1", "OM4"), fibrePHYsOver("OS2")

func fibrePHYsOver(grades ...string) [][]fibrePHY {
	all := make([][]fibrePHY, len(speeds))
	for _, duplex := range []bool{true, false} {
		for _, phy := range standards.FibrePHYs() {
			optic, _ := standards.OpticNamed(phy.Name)
			if (optic.Strands == 2) != duplex || !reachesAny(phy, grades) {
				continue
			}
			for i, speed := range speeds {
				if speed == phy.Speed {
					all[i] = append(all[i], fibrePHY{phy, optic, phy.Name + " optics at both ends"})
				}
			}
		}
	}
	return all
}

func reachesAny(phy standards.PHY, grades []string) bool {
	for _, grade := range grades {
		fibre, _ := standards.FibreNamed(grade)
		if _, ok := phy.FibreReach(fibre); ok {
			return true
		}
	}
	return false
}

// optics are those at the ends of a run: recorded, or else seen. The zero Optic
// is one that is not known.
type optics struct{ near, far standards.Optic }

func opticsOf(r *Run, seen Seen) optics {
	return optics{fittedOptic(r.Optic, seen.Near.PHY), fittedOptic(r.FarOptic, seen.Far.PHY)}
}

func fittedOptic(recorded, seen string) standards.Optic {
	o, ok := standards.OpticNamed(recorded)
	if !ok && recorded == "" {
		o, _ = standards.OpticNamed(seen)
	}
	return o
}

// phyOf is the PHY of an optic; a single-fibre one's name ends with its side.
func phyOf(o standards.Optic) standards.PHY {
	name := strings.TrimSuffix(strings.TrimSuffix(o.PHY, "-D"), "-U")
	phy, _ := standards.PHYNamed(name)
	return phy
}

// fibre judges a run of fibre.
func (l *laid) fibre(e *Expected, seen Seen) {
	e.Path = l.path()
	fitted := opticsOf(l.run, seen)
	l.missFibre(fitted)
	e.Missing = l.missing
	judged := e.Path
	if l.noLength {
		judged = shortest(e.Path)
	}
	strands, _ := strandCount(l.run.Strands)
	e.Speeds = make([]Carried, len(speeds))
	phys := e.phys()
	for i, speed := range speeds {
		c := &e.Speeds[i]
		c.Speed = speed
		switch own, ok := fitted.carry(speed, judged); {
		case ok:
			*c = own
			c.Judgement = stranded(stranded(c.Judgement, fitted.near, strands), fitted.far, strands)
		case len(phys[i]) == 0:
			c.Why = noPHY(speed, standards.Fibre)
		default:
			c.best(phys[i], judged, strands)
		}
		c.Judgement = l.asRecorded(c.Judgement)
	}
	e.Light[NearEnd], e.Light[FarEnd] = lightAt(e.Path, fitted.far, fitted.near, true), lightAt(e.Path, fitted.near, fitted.far, false)
	e.Loss = l.budget(e.Path, fitted)
}

// asRecorded takes back what hangs on a length or a number of connectors that
// is not recorded.
func (l *laid) asRecorded(j standards.Judgement) standards.Judgement {
	_, counted := l.run.Connectors.Get()
	switch {
	case l.noLength && j.Verdict != standards.NotAllowed:
		return standards.Judgement{Why: notMeasured}
	case !counted && j.Verdict == standards.NotAllowed && (j.Unit == "dB" || j.Unit == "dBm"):
		j.Verdict = standards.Depends
		j.Why += "; connectors are not recorded, and one at each end is taken"
	}
	return j
}

// phys are the PHYs that can come into question, by the first fibre known.
func (e *Expected) phys() [][]fibrePHY {
	for i := range e.Path.Parts {
		if f := &e.Path.Parts[i].Fibre; f.Known() && f.SingleMode {
			return singleModePHYs
		} else if f.Known() {
			break
		}
	}
	return multimodePHYs
}

// best judges a speed by the PHY that fares best over a path with so many
// strands, 0 where they are not recorded. Of those that fare alike the
// first counts, and where all are too short the one that reaches furthest.
func (c *Carried) best(phys []fibrePHY, path standards.FibrePath, strands int) {
	for i := range phys {
		j := stranded(phys[i].OverFibre(path), phys[i].optic, strands)
		further := rank(j) == rank(c.Judgement) && j.Verdict == standards.NotAllowed && j.Unit == "m" && j.Limit > c.Limit
		if i == 0 || rank(j) < rank(c.Judgement) || further {
			c.PHY, c.Needs, c.Judgement = phys[i].Name, phys[i].needs, j
		}
		if c.Verdict == standards.Allowed {
			return
		}
	}
}

// stranded adds the condition that a run is given as many strands as an optic
// wants; strands is 0 where they are not recorded.
func stranded(j standards.Judgement, optic standards.Optic, strands int) standards.Judgement {
	if strands == 0 || strands >= optic.Strands {
		return j
	}
	return graver(j, standards.Judgement{Verdict: standards.Depends, Source: optic.Source,
		Why: fmt.Sprintf("%s wants %d strands, and strands records %d", optic.PHY, optic.Strands, strands)})
}

// carry judges the speed of the optics that are fitted, by them; false where
// none of them runs at it. That they do not work together is told first.
func (o optics) carry(speed standards.Speed, path standards.FibrePath) (c Carried, ok bool) {
	c.Speed = speed
	for _, phy := range [...]standards.PHY{phyOf(o.near), phyOf(o.far)} {
		if phy.Speed != speed || phy.Name == c.PHY {
			continue
		}
		if ok {
			c.Judgement = graver(c.Judgement, phy.OverFibre(path))
		} else {
			c.PHY, c.Judgement, ok = phy.Name, phy.OverFibre(path), true
		}
	}
	if !ok {
		return c, false
	}
	if o.near.PHY == "" || o.far.PHY == "" {
		c.Needs = "the same optic at the other end"
		return c, true
	}
	agree := standards.OpticsAgree(o.near, o.far)
	if agree.Verdict == standards.NotAllowed {
		c.Judgement = agree
	}
	c.Judgement = graver(c.Judgement, agree)
	return c, true
}

// lightAt is the light that one end ought to receive.
func lightAt(path standards.FibrePath, from, to standards.Optic, towardsNear bool) Light {
	if from.PHY == "" || to.PHY == "" || len(path.Parts) == 0 {
		return Light{}
	}
	a, ok := standards.Arriving(path, from, to, towardsNear)
	if !ok {
		return Light{}
	}
	light := Light{
		Known: true, Least: a.Least, Most: a.Most, TakesLeast: to.TakeLeast, TakesMost: to.TakeMost,
		LossLeast: a.Loss.Least, LossMost: a.Loss.Most, Pad: a.Pad, Judgement: a.Judgement,
	}
	if to.DamageKnown {
		light.Damage = port.Some(to.Damage)
	}
	return light
}

// path is the run's fibre with its cords. Connectors that are not recorded
// count as usualConnectors and one between every two segments, splices as none.
func (l *laid) path() standards.FibrePath {
	path := l.plant.fibreLink(l.run)
	if _, ok := l.run.Connectors.Get(); !ok {
		path.Connectors = usualConnectors
		if _, spliced := l.run.Splices.Get(); !spliced {
			path.Connectors += len(path.Parts) - 1
		}
	}
	first, last := path.Parts[0].Fibre, path.Parts[len(path.Parts)-1].Fibre
	if near, ok := l.fibreCord(l.run.NearCordCable, l.run.NearCordM, first); ok {
		path.Parts = append([]standards.FibrePart{near}, path.Parts...)
	}
	if far, ok := l.fibreCord(l.run.FarCordCable, l.run.FarCordM, last); ok {
		path.Parts = append(path.Parts, far)
	}
	return *path
}

// usualConnectors is one mated pair at each end of a link (common practice, no
// source).
const usualConnectors = 2

// fibreCord is a cord as a part of the path. One whose cable is not recorded
// is of the fibre beside it; one whose length is not recorded counts where its
// fibre is another.
func (l *laid) fibreCord(cable string, length real, beside standards.FibreType) (standards.FibrePart, bool) {
	part := standards.FibrePart{Fibre: beside}
	if c := l.plant.Cable(cable); c != nil {
		part.Fibre = c.fibreType()
	}
	metres, ok := length.Get()
	part.LengthM = metres
	if !ok && part.Fibre != beside {
		part.LengthM, ok = hardlyAnyM, true
	}
	return part, ok && part.LengthM > 0
}

// hardlyAnyM is a length that counts as recorded and adds nothing.
const hardlyAnyM = math.SmallestNonzeroFloat64

// shortest is a path whose unrecorded lengths are next to none: what forbids
// it forbids the run.
func shortest(path standards.FibrePath) standards.FibrePath {
	parts := append([]standards.FibrePart(nil), path.Parts...)
	for i := range parts {
		if parts[i].LengthM == 0 {
			parts[i].LengthM = hardlyAnyM
		}
	}
	path.Parts = parts
	return path
}

func (l *laid) missFibre(fitted optics) {
	l.miss(l.noCable, "cable")
	l.miss(l.noLength, "length_m")
	_, counted := l.run.Connectors.Get()
	l.miss(!counted, "connectors")
	_, spliced := l.run.Splices.Get()
	l.miss(!spliced && (len(l.run.Segments) > 1 || l.fixedM > drumM), "splices")
	l.miss(fitted.near.PHY == "" && l.run.Optic == "", "optic")
	l.miss(fitted.far.PHY == "" && l.run.FarOptic == "", "far_optic")
}

// drumM is a length of fibre that is seldom laid without a splice (common
// practice, no source).
const drumM = 2000

// budget is what the path ought to lose in the worse direction, at the
// wavelength of the optics or else the shorter one of the fibre's two.
func (l *laid) budget(path standards.FibrePath, fitted optics) Budget {
	b := Budget{Recorded: l.run.ExpectedLossDB, NM: 850}
	if path.Parts[0].Fibre.SingleMode {
		b.NM = 1310
	}
	for _, o := range [...]standards.Optic{fitted.far, fitted.near} {
		if len(o.SendsNM) > 0 {
			b.NM = o.SendsNM[0]
		}
	}
	towardsFar, ok := path.Loss(b.NM, false)
	towardsNear, _ := path.Loss(b.NM, true)
	if !ok {
		return b
	}
	b.Known, b.Least, b.Most = true, max(towardsFar.Least, towardsNear.Least), max(towardsFar.Most, towardsNear.Most)
	if db, recorded := b.Recorded.Get(); recorded {
		b.Agrees = db > b.Least-aTenth && db < b.Most+aTenth
	}
	return b
}

// aTenth is how finely losses are written down, in dB, with what adding up
// fractions may cost.
const aTenth = 0.1 + 1e-9
