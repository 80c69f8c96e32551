package standards

import (
	"fmt"
	"math"
)

// Arrival is the light that ought to arrive at one end.
type Arrival struct {
	Loss        PathLoss
	Least, Most float64 // dBm expected: the weakest sender over the most loss, the strongest over the least
	Margin      float64 // dB of Least above the receiver's sensitivity; below 0 where it falls short
	Pad         float64 // dB to add so that the strongest sender cannot overload the receiver; 0 for none
	Judgement
}

// Arriving tells what light of the optic from ought to arrive at the optic to,
// over the path towards its near or its far end. It judges by the power budget:
// depends where the loss, measured, may turn out well or an attenuator is
// needed; not allowed where even the least loss is too much, or the light may
// damage the receiver. Between two of one PHY a loss within its channel
// insertion loss is enough, whatever the Margin: from clause 52 on the least
// average power taken only informs. It reports false where an optic or the loss
// is not known.
func Arriving(path FibrePath, from, to Optic, towardsNear bool) (Arrival, bool) {
	a, best, ok := arriving(path, from, to, towardsNear)
	if !ok {
		return Arrival{}, false
	}
	a.Judgement = a.judgeBright(from, to)
	if !withinChannel(path, from, to, a.Loss.Most) {
		a.Judgement = gravest(a.judgeDim(to, best), a.Judgement)
	}
	return a, true
}

// arriving is Arriving without the judgement; best is what the weakest sender
// brings over the least loss.
func arriving(path FibrePath, from, to Optic, towardsNear bool) (a Arrival, best float64, ok bool) {
	loss, ok := from.lossOver(path, towardsNear)
	if !ok || to.PHY == "" {
		return Arrival{}, 0, false
	}
	coupledLeast, coupledMost := from.entering(path.enters(towardsNear))
	a = Arrival{
		Loss:  loss,
		Least: from.SendLeast - coupledMost - loss.Most,
		Most:  from.SendMost - coupledLeast - loss.Least,
	}
	a.Margin = a.Least - to.TakeLeast
	a.Pad = max(0, a.Most-to.TakeMost)
	return a, from.SendLeast - coupledLeast - loss.Least, true
}

// withinChannel tells whether a loss is within the channel insertion loss of
// the PHY at both ends.
func withinChannel(path FibrePath, from, to Optic, db float64) bool {
	if withoutSide(from.PHY) != withoutSide(to.PHY) {
		return false
	}
	reach, fit := PHY{Name: withoutSide(from.PHY)}.reachOver(path)
	return fit.Verdict == Allowed && reach.bears(db)
}

// lossOver is the path's loss over all wavelengths that the optic sends.
func (o Optic) lossOver(path FibrePath, towardsNear bool) (PathLoss, bool) {
	if len(o.SendsNM) == 0 {
		return PathLoss{}, false
	}
	var all PathLoss
	for i, nm := range o.SendsNM {
		if i > 0 && nm == o.SendsNM[i-1] {
			continue
		}
		loss, ok := path.Loss(nm, towardsNear)
		if !ok {
			return PathLoss{}, false
		}
		if i == 0 {
			all = loss
		}
		all.Least, all.Most = min(all.Least, loss.Least), max(all.Most, loss.Most)
	}
	return all, true
}

// entering is what the optic loses in dB where its light enters a fibre that
// its levels were not stated for. 100BASE-FX: 5.0 dB from its 62.5 µm source
// into 50 µm. 1000BASE-LX sends least -11.5 dBm into multimode (memory). A
// multimode optic into single mode: 6 to 10 dB or worse by common practice, 20
// as from a filled core.
func (o Optic) entering(f FibreType) (least, most float64) {
	switch {
	case o.PHY == "100BASE-FX" && f.CoreUM == 50:
		return 0, 5.0
	case o.PHY == "1000BASE-LX" && f.Known() && !f.SingleMode:
		return 0, 0.5
	case !o.SingleMode && f.SingleMode:
		return 6, multimodeIntoSingleMost
	}
	return 0, 0
}

// rounding is the dB below which a difference is one of binary fractions.
const rounding = 1e-9

// judgeDim judges whether too little may arrive, best where the path loses least.
func (a Arrival) judgeDim(to Optic, best float64) Judgement {
	j := Judgement{Verdict: Allowed, Have: a.Least, Limit: to.TakeLeast, Unit: "dBm", Source: to.Source}
	switch {
	case best < to.TakeLeast-rounding:
		j.Verdict = NotAllowed
		j.Why = fmt.Sprintf("only %.1f dBm may arrive, %.1f dBm where all losses are at their least; %s needs %.1f dBm",
			a.Least, best, to.PHY, to.TakeLeast)
	case a.Margin < -rounding:
		j.Verdict = Depends
		j.Why = fmt.Sprintf("only %.1f dBm may arrive where all losses are at their most, and %s needs %.1f dBm: measure the loss",
			a.Least, to.PHY, to.TakeLeast)
	}
	return j
}

// judgeBright judges whether too much may arrive.
func (a Arrival) judgeBright(from, to Optic) Judgement {
	j := Judgement{Verdict: Allowed, Have: a.Most, Limit: to.TakeMost, Unit: "dBm", Source: to.Source}
	switch {
	case to.DamageKnown && a.Most > to.Damage+rounding:
		j.Verdict, j.Limit = NotAllowed, to.Damage
		j.Why = fmt.Sprintf("up to %.1f dBm of %s may damage the receiver of %s, which bears %.1f dBm: add at least %.1f dB",
			a.Most, from.PHY, to.PHY, to.Damage, upTenth(a.Pad))
	case a.Pad > rounding:
		j.Verdict = Depends
		j.Why = fmt.Sprintf("up to %.1f dBm of %s may overload the receiver of %s, which takes %.1f dBm: add at least %.1f dB",
			a.Most, from.PHY, to.PHY, to.TakeMost, upTenth(a.Pad))
	}
	return j
}

// upTenth rounds up to a tenth: an attenuator must not be short of it.
func upTenth(db float64) float64 { return math.Ceil(db*10-1e-6) / 10 }
