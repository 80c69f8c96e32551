package plant

import (
	"strings"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// SeenEnd is what a switch shows of the port at one end of a run; the zero
// value is an end that nobody watches.
type SeenEnd struct {
	Fastest standards.Speed // the most that the port can do; 0 where not known
	Speed   standards.Speed // what it runs at; 0 where not known or without link
	PHY     string          // IEEE name of what it runs; "" where not told
}

// Seen is what the switches show of one run beside its record. The zero value
// is a run of which only the record is known.
type Seen struct {
	Near, Far SeenEnd
	Errors    string // damaged frames of late, in words; "" for none seen
}

// Expected is what a run ought to carry, by its record and the standards.
type Expected struct {
	Medium   standards.Medium // "" where not recorded, or mixed along the run
	Channel  standards.CopperChannel
	Path     standards.FibrePath
	AmbientC port.Value[float64] // the warmest pathway

	Speeds []Carried // every nominal speed, rising; the cable's own, whatever stands at its ends
	Light  [2]Light  // by the End that receives; of fibre whose optics are known
	Loss   Budget    // of fibre

	LimitedBy []Limit  // what at its ends does less than the cable may carry
	Missing   []string // keys of the record without which more could be said
}

// Carried is whether a run may carry one speed.
type Carried struct {
	Speed standards.Speed
	PHY   string // by which PHY the judgement is best; "" where none runs at it over this medium
	Needs string // what the run must be given for it, e.g. other optics; "" for nothing
	standards.Judgement
}

// Light is the light that one end ought to receive, in dBm, and what its optic
// takes. Connectors that are not recorded, as Missing then tells, are counted
// as one at each end.
type Light struct {
	Known                 bool
	Least, Most           float64 // expected
	TakesLeast, TakesMost float64 // the receiver's window
	Damage                port.Value[float64]
	LossLeast, LossMost   float64 // of the direction towards this end, dB
	Pad                   float64 // dB to add so that the strongest sender cannot overload it; 0 for none
	Judgement             standards.Judgement
}

// Budget is what a fibre run ought to lose in the worse direction, in dB, from
// its length, connections and splices, beside what its record says.
type Budget struct {
	Known       bool
	NM          float64 // wavelength
	Least, Most float64
	Recorded    port.Value[float64] // expected_loss_db
	Agrees      bool                // what is recorded lies within, to 0.1 dB; false where either is not known
}

// Limit is something at an end of a run that does only so much.
type Limit struct {
	What  string // e.g. "the port at the near end"
	Speed standards.Speed
}

// String says it, e.g. "the port at the near end does 1G at most".
func (l Limit) String() string { return l.What + " does " + l.Speed.String() + " at most" }

// Expected judges every nominal speed over a run: by what is recorded of it,
// and for what stands at its ends by what is seen there. What is not recorded
// never lets a speed pass that the rest forbids.
func (p *Plant) Expected(r *Run, seen Seen) Expected {
	laid := p.lay(r)
	e := Expected{Medium: laid.medium(), AmbientC: laid.warmest, Missing: laid.missing}
	switch e.Medium {
	case standards.Copper:
		laid.copper(&e)
	case standards.Fibre:
		laid.fibre(&e, seen)
	case standards.Twinax, standards.ActiveOptical:
		laid.assembly(&e, seen)
	default:
		laid.notJudged(&e)
	}
	e.LimitedBy = e.limits(r, seen)
	return e
}

// At is the judgement of one nominal speed; false for any other.
func (e Expected) At(speed standards.Speed) (Carried, bool) {
	for i := range e.Speeds {
		if e.Speeds[i].Speed == speed {
			return e.Speeds[i], true
		}
	}
	return Carried{}, false
}

// Fastest is the highest speed that the cable may carry, and the highest that
// it may carry under a condition; 0 for none.
func (e Expected) Fastest() (allowed, depends standards.Speed) {
	for i := range e.Speeds {
		switch e.Speeds[i].Verdict {
		case standards.Allowed:
			allowed = e.Speeds[i].Speed
		case standards.Depends:
			depends = e.Speeds[i].Speed
		}
	}
	return allowed, depends
}

// EndsDo is the most that both ends can do; 0 where the cable may carry no more
// than they, or nothing is known of them.
func (e Expected) EndsDo() (least standards.Speed) {
	for _, l := range e.LimitedBy {
		if least == 0 || l.Speed < least {
			least = l.Speed
		}
	}
	return least
}

// limits lists what at the ends does less than the cable may carry.
func (e *Expected) limits(r *Run, seen Seen) (all []Limit) {
	most := max(e.Fastest())
	add := func(what string, speed standards.Speed) {
		if speed > 0 && speed < most {
			all = append(all, Limit{what, speed})
		}
	}
	add("the port at the near end", seen.Near.Fastest)
	add("the port at the far end", seen.Far.Fastest)
	add("the device at the far end", r.DeviceSpeed)
	if e.Medium == standards.Fibre {
		fitted := opticsOf(r, seen)
		add(nearOptic, phyOf(fitted.near).Speed)
		add(farOptic, phyOf(fitted.far).Speed)
	}
	for _, through := range r.PassesThrough {
		if through == "phone" {
			add("a phone on the way", phoneSpeed)
		}
	}
	return all
}

const (
	nearOptic = "the optic at the near end"
	farOptic  = "the optic at the far end"
)

// phoneSpeed is what phones pass on at most (common practice, no source).
const phoneSpeed = standards.Gbps

// speeds are the nominal speeds, rising.
var speeds = standards.Speeds()

// graver is the judgement that rules of two: what forbids, before what is not
// recorded, before a condition. Conditions are both told.
func graver(a, b standards.Judgement) standards.Judgement {
	switch {
	case rank(b) > rank(a):
		return b
	case a.Verdict == standards.Depends && b.Verdict == standards.Depends && !strings.Contains(a.Why, b.Why):
		a.Why += "; " + b.Why
	}
	return a
}

// rank orders judgements from the best to the worst for a run.
func rank(j standards.Judgement) int {
	return [...]int{standards.Allowed: 0, standards.Depends: 1, standards.NotJudged: 2, standards.NotAllowed: 3}[j.Verdict]
}
