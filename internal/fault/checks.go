package fault

import (
	"cmp"
	"slices"
)

// The next checks of a verdict stand in the order in which they find the cause
// soonest: by the probability that a check finds it over what the check costs, made
// anew after each one that found nothing (Heckerman, Breese and Rommelse,
// 'Decision-theoretic troubleshooting', 1995 (memory)). Where no two checks find the
// same cause no other order takes less time to find it, on average.

// CheckCode names a check for scripts.
type CheckCode string

// The checks that there are.
const (
	CompareSettings CheckCode = "compare-settings"
	OpenPort        CheckCode = "open-port"
	LookAtDevice    CheckCode = "look-at-device"
	AwaitTraffic    CheckCode = "await-traffic"
	ReadPowerBudget CheckCode = "read-power-budget"
	FollowErrors    CheckCode = "follow-errors"
	TraceRecord     CheckCode = "trace-record"
	OtherPort       CheckCode = "other-port"
	OtherDevice     CheckCode = "other-device"

	Reseat         CheckCode = "reseat"
	SwapNearCord   CheckCode = "swap-near-cord"
	SwapFarCord    CheckCode = "swap-far-cord"
	WireMap        CheckCode = "wire-map"
	MeasureLength  CheckCode = "measure-length"
	TestLink       CheckCode = "test-link"
	ReadJacket     CheckCode = "read-jacket"
	Reterminate    CheckCode = "re-terminate"
	MatchHours     CheckCode = "match-hours"
	OpenBundle     CheckCode = "open-bundle"
	TestScreen     CheckCode = "test-screen"
	SwapWholeCable CheckCode = "swap-cable"

	CleanConnectors CheckCode = "inspect-clean-inspect"
	ReseatOptic     CheckCode = "reseat-optic"
	ReadOptics      CheckCode = "read-optics"
	SwapSender      CheckCode = "swap-sending-optic"
	SwapReceiver    CheckCode = "swap-receiving-optic"
	FitAttenuator   CheckCode = "fit-attenuator"
	FlipStrands     CheckCode = "flip-strands"
	SwapStrands     CheckCode = "swap-strands"
	TraceSlack      CheckCode = "trace-slack"
	TestLoss        CheckCode = "test-loss"
	FindBreak       CheckCode = "find-break"
)

// Interruption is the most that a check may interrupt.
type Interruption string

// A check may interrupt nothing, the link, the device with its power, or others.
const (
	InterruptsNothing  Interruption = "none"
	InterruptsLink     Interruption = "link"
	InterruptsDevice   Interruption = "device"
	InterruptsServices Interruption = "other-services"
)

// NextCheck is one check of a verdict.
type NextCheck struct {
	Code        CheckCode    `json:"code"`
	Check       string       `json:"check"` // a sentence
	Minutes     int          `json:"minutes"`
	Tools       []string     `json:"tools"`
	Interrupts  Interruption `json:"interrupts"`        // at most, until it tells what it finds
	Mending     Interruption `json:"mending,omitempty"` // what to mend interrupts, where that is part of the check; "" where it is not
	Probability float64      `json:"probability"`       // that the cause is found at this check, done in this order
	Finds       []Find       `json:"finds"`             // likeliest first
	Cautions    []string     `json:"cautions"`
}

// Find is a cause that a check finds, and with which probability it does where that
// is the cause.
type Find struct {
	Cause  Cause   `json:"cause"`
	Surely float64 `json:"surely"`
}

// check is what a check takes and finds.
type check struct {
	code       CheckCode
	minutes    int // on average, with the way there; what is read from a desk is cheap
	interrupts Interruption
	mending    Interruption // at most, to mend what it found; "" where that is not part of it
	finds      weights      // with which probability each
	end        side         // of a cause that lies at an end it finds what lies there; "" for both ends
	of         []material
}

const (
	surely       = 0.95 // it hardly misses
	nearlySurely = 0.9
	mostly       = 0.8
	perhaps      = 0.5
	seldom       = 0.3
)

// checks is what there is to do. Minutes and how surely each finds what are common
// practice, no source.
var checks = []check{
	{code: CompareSettings, minutes: 5, interrupts: InterruptsNothing, mending: InterruptsLink, finds: weights{DuplexSetting: surely, SpeedSetting: surely, FECMismatch: surely}},
	{code: OpenPort, minutes: 3, interrupts: InterruptsNothing, finds: weights{PortShut: surely}},
	{code: LookAtDevice, minutes: 5, interrupts: InterruptsNothing, finds: weights{FarEndLimit: surely}},
	{code: AwaitTraffic, minutes: 2, interrupts: InterruptsNothing, finds: weights{FarEndAsleep: surely}},
	{code: ReadPowerBudget, minutes: 3, interrupts: InterruptsNothing, finds: weights{PowerBudget: surely}},
	{code: FollowErrors, minutes: 10, interrupts: InterruptsNothing, finds: weights{UpstreamErrors: surely}},
	{code: TraceRecord, minutes: 15, interrupts: InterruptsNothing, finds: weights{RecordWrong: surely}},
	{code: OtherPort, minutes: 8, interrupts: InterruptsDevice, finds: weights{PortFaulty: surely}},
	{code: OtherDevice, minutes: 10, interrupts: InterruptsDevice, finds: weights{FarEndFaulty: surely}},

	{code: Reseat, minutes: 5, interrupts: InterruptsDevice, finds: weights{LoosePlug: mostly}},
	{code: SwapNearCord, minutes: 4, interrupts: InterruptsDevice, finds: weights{BadCord: surely}, end: nearSide, of: copperAlone},
	{code: SwapFarCord, minutes: 6, interrupts: InterruptsDevice, finds: weights{BadCord: surely}, end: farSide, of: copperAlone},
	{code: WireMap, minutes: 12, interrupts: InterruptsDevice, finds: weights{OpenPair: surely, ShortedPair: surely, CrossedPair: surely, SplitPair: mostly}},
	{code: MeasureLength, minutes: 12, interrupts: InterruptsDevice, finds: weights{OverLength: surely, DamagedCable: mostly}},
	{code: TestLink, minutes: 25, interrupts: InterruptsDevice, finds: weights{
		OpenPair: surely, ShortedPair: surely, CrossedPair: surely, SplitPair: surely, OverLength: surely, PoorTermination: surely, DamagedCable: mostly}},
	{code: ReadJacket, minutes: 6, interrupts: InterruptsNothing, finds: weights{WrongCategory: mostly}},
	{code: Reterminate, minutes: 25, interrupts: InterruptsDevice, finds: weights{PoorTermination: mostly, SplitPair: mostly}},
	{code: MatchHours, minutes: 45, interrupts: InterruptsNothing, finds: weights{Interference: mostly, CableHeat: mostly}},
	{code: OpenBundle, minutes: 20, interrupts: InterruptsServices, finds: weights{AlienCrosstalk: mostly}},
	{code: TestScreen, minutes: 20, interrupts: InterruptsDevice, finds: weights{ShieldBroken: mostly}},
	{code: SwapWholeCable, minutes: 8, interrupts: InterruptsLink, finds: weights{BadCord: surely}, of: withOptics},

	{code: CleanConnectors, minutes: 10, interrupts: InterruptsLink, finds: weights{DirtyConnector: nearlySurely}},
	{code: ReseatOptic, minutes: 4, interrupts: InterruptsLink, finds: weights{LooseOptic: mostly}},
	{code: ReadOptics, minutes: 5, interrupts: InterruptsNothing, finds: weights{OpticMismatch: surely, WrongFibre: mostly}},
	{code: SwapSender, minutes: 6, interrupts: InterruptsLink, finds: weights{FailingTransmitter: surely}},
	{code: SwapReceiver, minutes: 6, interrupts: InterruptsLink, finds: weights{FailingReceiver: surely}},
	{code: FitAttenuator, minutes: 8, interrupts: InterruptsLink, finds: weights{ReceiverOverload: surely}},
	{code: FlipStrands, minutes: 4, interrupts: InterruptsLink, finds: weights{ReversedPolarity: surely}},
	{code: SwapStrands, minutes: 8, interrupts: InterruptsLink, finds: weights{BrokenStrand: mostly}},
	{code: TraceSlack, minutes: 15, interrupts: InterruptsNothing, mending: InterruptsServices, finds: weights{BentFibre: mostly}},
	{code: TestLoss, minutes: 25, interrupts: InterruptsLink, finds: weights{LossOverBudget: surely, BentFibre: perhaps, DirtyConnector: perhaps, WrongFibre: perhaps}},
	{code: FindBreak, minutes: 30, interrupts: InterruptsLink, finds: weights{BrokenStrand: surely, BentFibre: mostly, LossOverBudget: seldom}},
}

// agreeing is how many minutes it costs to agree on an interruption (common
// practice, no source).
var agreeing = map[Interruption]float64{InterruptsNothing: 0, InterruptsLink: 2, InterruptsDevice: 2, InterruptsServices: 10}

// cost is what a check costs, in minutes. Where there is no link, none is to be
// agreed on.
func (c *check) cost(kind Kind) float64 {
	if kind == NoLink && c.interrupts != InterruptsServices {
		return float64(c.minutes)
	}
	return float64(c.minutes) + agreeing[c.interrupts]
}

// suspicion is a cause with its probability, and the end at which it lies.
type suspicion struct {
	cause       Cause
	end         side
	probability float64
}

// side is an end of a run; "" where it is neither or not known.
type side string

const (
	nearSide side = "near"
	farSide  side = "far"
)

// suspectedOf gives causes in their order; a cord may be bad at either end, and the
// readings do not tell at which.
func suspectedOf(causes []CauseProbability, made material) (out []suspicion) {
	for _, c := range causes {
		if c.Cause == BadCord && made == ofCopper {
			out = append(out, suspicion{BadCord, nearSide, c.Probability / 2}, suspicion{BadCord, farSide, c.Probability / 2})
			continue
		}
		out = append(out, suspicion{c.Cause, "", c.Probability})
	}
	return out
}

// foundBy is the probability that a check finds what is suspected, if it is so.
func (s *suspicion) foundBy(c *check) float64 {
	if c.end != "" && s.end != "" && c.end != s.end {
		return 0
	}
	return c.finds[s.cause]
}

// found is the probability that a check finds any of them.
func (c *check) found(of []suspicion) (sum float64) {
	for i := range of {
		sum += of[i].probability * of[i].foundBy(c)
	}
	return sum
}

// unfound is what is left of them where a check found nothing; not brought to 1.
func unfound(c *check, of []suspicion) []suspicion {
	out := slices.Clone(of)
	for i := range out {
		out[i].probability *= 1 - out[i].foundBy(c)
	}
	return out
}

// step is a check in its place: the probability that the cause is found there, and
// what was suspected before it.
type step struct {
	*check
	probability float64
	before      []suspicion
}

// leastFound is the least probability that a check must have, of all, to be worth
// telling (common practice, no source); the second is told with less where the first
// may well miss the cause, so that nobody is left without a next step.
const leastFound = 0.01

// inOrder puts checks in the order of probability over cost, made anew after each,
// while one finds as much as the least.
func inOrder(from []*check, suspected []suspicion, least float64, cost func(*check) float64) (steps []step) {
	found := make([]float64, len(from))
	for i, c := range from {
		found[i] = c.found(suspected)
	}
	for {
		best, most := -1, 0.0
		for i, c := range from {
			if ratio := found[i] / cost(c); found[i] >= least && ratio > most {
				best, most = i, ratio
			}
		}
		if best < 0 {
			return steps
		}
		done := from[best]
		steps = append(steps, step{done, found[best], suspected})
		suspected = unfound(done, suspected)
		for i, c := range from {
			if found[i] > 0 && c.shares(done) {
				found[i] = c.found(suspected)
			}
		}
		found[best] = 0
	}
}

// shares tells whether both checks find some same cause.
func (c *check) shares(with *check) bool {
	for cause := range c.finds {
		if with.finds[cause] > 0 {
			return true
		}
	}
	return false
}

// checksOf are those that can be done on what is made so and find as much as the least.
func checksOf(made material, suspected []suspicion, least float64) (out []*check) {
	for i := range checks {
		c := &checks[i]
		if (c.of == nil || slices.Contains(c.of, made)) && c.found(suspected) >= least {
			out = append(out, c)
		}
	}
	return out
}

// ChecksFor gives what to do about a fault of a kind on a run of a medium, in order.
// Where nobody is at fault it ends with what shows that.
func ChecksFor(kind Kind, medium string, causes []CauseProbability) (out []NextCheck) {
	made, quiet := material(medium), words[causes[0].Cause].quiet
	suspected := suspectedOf(causes, made)
	cost := func(c *check) float64 { return c.cost(kind) }
	steps := inOrder(checksOf(made, suspected, leastFound), suspected, leastFound, cost)
	if len(steps) == 1 && steps[0].probability < hardlyMisses && !quiet {
		done := steps[0].check
		left := unfound(done, suspected)
		others := slices.DeleteFunc(checksOf(made, left, 0), func(c *check) bool { return c == done })
		next := inOrder(others, left, 0, cost)
		steps = append(steps, next[:min(1, len(next))]...)
	}
	for _, s := range steps {
		out = append(out, s.tell(kind, made))
		if quiet && s.finds[causes[0].Cause] > 0 {
			break
		}
	}
	return out
}

// tell puts a step into words.
func (s *step) tell(kind Kind, made material) NextCheck {
	w := checkWords[s.code]
	return NextCheck{
		Code: s.code, Check: w.on(kind, made), Minutes: s.minutes, Tools: orNone(w.tools), Interrupts: s.interrupts, Mending: s.mending,
		Probability: s.probability, Finds: s.tellFinds(), Cautions: made.fitting(w.cautions),
	}
}

// tellFinds gives what the check finds of what is still suspected, likeliest first;
// what is hardly suspected only where there is nothing else.
func (s *step) tellFinds() []Find {
	if finds := s.findsOver(leastFound); len(finds) > 0 {
		return finds
	}
	return s.findsOver(0)
}

func (s *step) findsOver(least float64) []Find {
	finds := []Find{}
	weight := weights{}
	for i := range s.before {
		one := &s.before[i]
		if one.foundBy(s.check) == 0 || one.probability < least {
			continue
		}
		if weight[one.cause] == 0 {
			finds = append(finds, Find{one.cause, s.finds[one.cause]})
		}
		weight[one.cause] += one.probability * one.foundBy(s.check)
	}
	slices.SortStableFunc(finds, func(a, b Find) int { return cmp.Compare(weight[b.Cause], weight[a.Cause]) })
	return finds
}
