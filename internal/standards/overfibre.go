package standards

import (
	"fmt"
	"strings"
)

// OverFibre judges a link of the PHY, an optic of it at both ends, over a path:
// the reach over the worst of its fibres, the channel insertion loss and the
// power budget in both directions, and what else the standard asks for.
func (p PHY) OverFibre(path FibrePath) Judgement {
	if len(path.Parts) == 0 {
		return Judgement{Why: "cable and length_m are not recorded"}
	}
	reach, fit := p.reachOver(path)
	if fit.Verdict != Allowed {
		return fit
	}
	length, ok := path.LengthM()
	if !ok {
		return Judgement{Why: "length_m is not recorded"}
	}
	far := reach.judge(p, asRecorded(length))
	if far.Verdict == NotAllowed {
		return far
	}
	loss := reach.judgeLoss(p, path, false)
	if !path.ofOneKind() {
		loss = gravest(loss, reach.judgeLoss(p, path, true))
	}
	return gravest(far, loss, reach.judgeCord(p))
}

// reachOver is the reach over the worst of the path's fibres, each figure by
// itself, and whether the PHY runs over all of them.
func (p PHY) reachOver(path FibrePath) (FibreReach, Judgement) {
	var worst FibreReach
	fit := Judgement{Verdict: Allowed}
	for i, part := range path.Parts {
		reach, ok := p.FibreReach(part.Fibre)
		switch {
		case !ok:
			fit = gravest(fit, p.unfit(part.Fibre))
		case i == 0:
			worst = reach
		default:
			worst = worst.with(reach)
		}
	}
	return worst, fit
}

// unfit says why the PHY has no reach over a fibre.
func (p PHY) unfit(f FibreType) Judgement {
	rows := fibreReaches[p.Name]
	j := Judgement{Verdict: NotAllowed}
	switch {
	case len(rows) == 0:
		return Judgement{Why: "no reach of " + p.Name + " over fibre is known"}
	case !f.Known():
		return Judgement{Why: "fibre, or core_um and modal_bandwidth_mhz_km, is not recorded"}
	case f.SingleMode:
		j.Why = fmt.Sprintf("%s is an optic for multimode, and %s is single mode: most of its light is lost where it enters", p.Name, f)
	case p.overSingleModeOnly():
		j.Why = fmt.Sprintf("%s is an optic for single mode, and %s is multimode: light may arrive, but its modes smear the signal", p.Name, f)
	case f.Modal850 == 0:
		return Judgement{Why: "modal_bandwidth_mhz_km is not recorded"}
	default:
		j.Why = fmt.Sprintf("no reach of %s over %s is published", p.Name, f)
	}
	j.Source = rows[0].Source
	return j
}

func (p PHY) overSingleModeOnly() bool {
	for _, row := range fibreReaches[p.Name] {
		if row.core > 0 {
			return false
		}
	}
	return true
}

// with is the worse of two reaches, each figure by itself.
func (r FibreReach) with(o FibreReach) FibreReach {
	end := min(r.end(), o.end())
	if o.end() == end && (r.end() > end || r.Condition == "") {
		r.Condition = o.Condition
	}
	if o.LengthM < r.LengthM {
		r.LengthM, r.Source = o.LengthM, o.Source
	}
	if o.LossDB < r.LossDB {
		r.LossDB, r.LossSource, r.lossHalf = o.LossDB, o.LossSource, o.lossHalf
	}
	r.EngineeredM = end
	r.ModeConditioning = r.ModeConditioning || o.ModeConditioning
	return r
}

// end is the most that the standard allows under any condition.
func (r FibreReach) end() float64 { return max(r.LengthM, r.EngineeredM) }

func (r FibreReach) judge(p PHY, length float64) Judgement {
	j := Judgement{Verdict: Allowed, Have: length, Limit: r.LengthM, Unit: "m", Source: r.Source}
	switch {
	case length > r.end():
		j.Verdict = NotAllowed
		j.Why = fmt.Sprintf("%g m is longer than the %g m that %s reaches", length, r.end(), p.Name)
		j.Limit = r.end()
	case length > r.LengthM:
		j.Verdict, j.Why = Depends, r.Condition
	case length < r.LeastM:
		j.Verdict, j.Limit = Depends, r.LeastM
		j.Why = fmt.Sprintf("%g m is shorter than the %g m from which %s is specified", length, r.LeastM, p.Name)
	}
	return j
}

// judgeLoss holds one direction's loss against the channel insertion loss, which
// leaves the power budget its penalties, and its light against the overload.
func (r FibreReach) judgeLoss(p PHY, path FibrePath, towardsNear bool) Judgement {
	optic, ok := OpticNamed(p.Name)
	if !ok {
		return Judgement{Why: "the optical levels of " + p.Name + " are not known"}
	}
	a, _, ok := arriving(path, optic, optic, towardsNear)
	if !ok {
		return Judgement{Why: "the attenuation of a fibre of the path is not known"}
	}
	j := Judgement{Verdict: Allowed, Have: a.Loss.Most, Limit: r.LossDB, Unit: "dB", Source: r.LossSource}
	switch {
	case !r.bears(a.Loss.Least):
		j.Verdict, j.Have = NotAllowed, a.Loss.Least
		j.Why = fmt.Sprintf("%s allows %.2f dB, and even good cable and connections lose %.2f dB%s", p.Name, r.LossDB, a.Loss.Least, a.Loss.unlike())
	case !r.bears(a.Loss.Most):
		j.Verdict = Depends
		j.Why = fmt.Sprintf("%s allows %.2f dB, and the path may lose up to %.2f dB%s: measure the loss", p.Name, r.LossDB, a.Loss.Most, a.Loss.unlike())
	}
	return gravest(j, a.judgeBright(optic, optic))
}

// bears tells whether a loss, rounded as the limits are printed, is within the
// channel insertion loss: 33 m of OM1 and two connectors lose 1.6155 dB, which
// the standard prints as 1.6.
func (r FibreReach) bears(db float64) bool {
	return db < r.LossDB+r.lossHalf-rounding
}

func (l PathLoss) unlike() string {
	if l.Mismatch == 0 {
		return ""
	}
	return fmt.Sprintf(", up to %.1f dB of it where unlike fibres meet", l.Mismatch)
}

func (r FibreReach) judgeCord(p PHY) Judgement {
	if !r.ModeConditioning {
		return Judgement{Verdict: Allowed}
	}
	return Judgement{Verdict: Depends, Source: r.Source,
		Why: p.Name + " over multimode needs a mode-conditioning cord at both ends"}
}

// gravest is the judgement that rules among several: what forbids, before what
// is not recorded, before a condition. Conditions are all told, the figures are
// the first one's.
func gravest(all ...Judgement) Judgement {
	rank := [...]int{Allowed: 0, Depends: 1, NotJudged: 2, NotAllowed: 3}
	ruling := all[0]
	for _, j := range all[1:] {
		switch {
		case rank[j.Verdict] > rank[ruling.Verdict]:
			ruling = j
		case j.Verdict == ruling.Verdict && !strings.Contains(ruling.Why, j.Why):
			ruling.Why += "; " + j.Why
		}
	}
	return ruling
}
