package plant

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"toneout/internal/standards"
)

// Rule is what a finding breaks, as a code for scripts.
type Rule string

// The rules that an audit asks of a run.
const (
	OpticDamage      Rule = "optic-damage"
	ReceiverOverload Rule = "receiver-overload"
	OpticsDisagree   Rule = "optics-disagree"
	OpticWrongFibre  Rule = "optic-wrong-fibre"
	OpticTooSlow     Rule = "optic-too-slow"
	FibreTooLong     Rule = "fibre-too-long"
	LossOverBudget   Rule = "loss-over-budget"
	MixedFibre       Rule = "mixed-fibre"
	MixedGrades      Rule = "mixed-grades"
	OneStrand        Rule = "one-strand"

	CategoryTooLow     Rule = "category-too-low"
	CordCategoryTooLow Rule = "cord-category-too-low"
	ChannelTooLong     Rule = "channel-too-long"
	LinkTooLong        Rule = "link-too-long"
	SpeedNotCarried    Rule = "speed-not-carried"
	SpeedDepends       Rule = "speed-depends"
	CordsTooLong       Rule = "cords-too-long"
	TooHot             Rule = "too-hot"
	TooManyConnectors  Rule = "too-many-connectors"
	UnscreenedCord     Rule = "unscreened-cord"
	MixedScreens       Rule = "mixed-screens"
	NearInterference   Rule = "near-interference"
	BehindPhone        Rule = "behind-phone"
	CordBelowCable     Rule = "cord-below-cable"

	WireMapFault        Rule = "wire-map-fault"
	TestFailed          Rule = "test-failed"
	TestTooNear         Rule = "test-too-near"
	TestedBelowDesign   Rule = "tested-below-design"
	NeverTested         Rule = "never-tested"
	TestDiffers         Rule = "test-differs"
	LengthDiffers       Rule = "length-differs"
	TestedTooEarly      Rule = "tested-before-installed"
	WarrantyBeforeStart Rule = "warranty-before-installed"

	MixedMedia          Rule = "mixed-media"
	OpticOtherMedium    Rule = "optic-other-medium"
	DeviceFaster        Rule = "device-faster"
	ExpectedLossDiffers Rule = "expected-loss-differs"
	ConnectorsTooFew    Rule = "connectors-too-few"
	LengthImprobable    Rule = "length-improbable"
	GaugeImprobable     Rule = "gauge-improbable"
	PositionBeyond      Rule = "position-beyond-panel"
	PositionShared      Rule = "position-shared"
	OutletShared        Rule = "outlet-shared"
	SeenDiffers         Rule = "seen-differs"
	CableNotRecorded    Rule = "cable-not-recorded"
	LengthNotRecorded   Rule = "length-not-recorded"
	TypeNotRecorded     Rule = "type-not-recorded"
	HeatNotRecorded     Rule = "heat-not-recorded"

	OtherOptic      Rule = "other-optic"
	WorksByLuck     Rule = "works-by-luck"
	SlowerThanCable Rule = "slower-than-cable"
)

// scope is of which runs a rule is asked, by their status.
type scope uint8

const (
	inUse  scope = iota // live and faulty ones
	kept                // spare ones too: what a record must hold
	always              // abandoned ones too: where the record contradicts itself
)

func (s scope) covers(status Status) bool {
	switch status {
	case Abandoned:
		return s == always
	case Spare:
		return s >= kept
	}
	return true
}

// rule is one thing that is asked of a run. What it finds need not name the
// run, the rule, or what is endangered where that is the rule's own.
type rule struct {
	code      Rule
	endangers Endangers
	of        scope
	find      func(*subject) []Finding
	unless    []Rule // silent where one of these found something: one cause, one finding
}

// What tells why a run may not carry the speed that it is designed for.
var (
	tooLow     = []Rule{CategoryTooLow, CordCategoryTooLow}
	roots      = append([]Rule{MixedFibre}, tooLow...)
	conditions = append([]Rule{OpticDamage, ReceiverOverload}, roots...)
	notCarried = append([]Rule{SpeedNotCarried, ChannelTooLong, OpticsDisagree, OpticWrongFibre, OpticTooSlow, FibreTooLong, LossOverBudget}, roots...)
)

// rules is every rule, in the order in which they are asked.
var rules = []rule{
	{MixedMedia, Records, always, mixedMedia, nil},
	{OpticOtherMedium, Records, always, opticOtherMedium, nil},

	{OpticsDisagree, Link, inUse, opticsDisagree, nil},
	{OpticDamage, Equipment, inUse, opticDamage, nil},
	{ReceiverOverload, Link, inUse, receiverOverload, []Rule{OpticDamage, OpticsDisagree}},
	{OpticTooSlow, Link, inUse, opticTooSlow, []Rule{OpticOtherMedium}},
	{MixedFibre, Link, inUse, mixedFibre, nil},
	{MixedGrades, Margin, inUse, mixedGrades, []Rule{MixedFibre}},
	{OpticWrongFibre, Link, inUse, opticWrongFibre, []Rule{MixedFibre, OpticsDisagree}},
	{FibreTooLong, Link, inUse, fibreTooLong, []Rule{MixedFibre}},
	{LossOverBudget, Link, inUse, lossOverBudget, []Rule{MixedFibre}},
	{OneStrand, Link, inUse, oneStrand, nil},

	{CategoryTooLow, Link, inUse, categoryTooLow, nil},
	{CordCategoryTooLow, Link, inUse, cordCategoryTooLow, []Rule{CategoryTooLow}},
	{ChannelTooLong, Link, inUse, channelTooLong, nil},
	{LinkTooLong, Margin, inUse, linkTooLong, []Rule{ChannelTooLong}},
	{TooManyConnectors, Margin, inUse, tooManyConnectors, nil},
	{SpeedNotCarried, Link, inUse, speedNotCarried, roots},
	{SpeedDepends, Margin, inUse, speedDepends, conditions},
	{CordsTooLong, Margin, inUse, cordsTooLong, []Rule{ChannelTooLong, LinkTooLong}},
	{TooHot, Margin, inUse, tooHot, []Rule{ChannelTooLong, LinkTooLong}},
	{UnscreenedCord, Margin, inUse, unscreenedCord, nil},
	{MixedScreens, Margin, inUse, mixedScreens, nil},
	{NearInterference, Margin, inUse, nearInterference, nil},
	{BehindPhone, Margin, inUse, behindPhone, nil},
	{CordBelowCable, Growth, inUse, cordBelowCable, tooLow},

	{WireMapFault, Link, inUse, wireMapFault, nil},
	{TestFailed, Link, inUse, testFailed, []Rule{WireMapFault}},
	{TestTooNear, Margin, inUse, testTooNear, nil},
	{TestedBelowDesign, Margin, inUse, testedBelowDesign, notCarried},
	{NeverTested, Margin, inUse, neverTested, nil},
	{TestDiffers, Records, always, testDiffers, []Rule{TestFailed, WireMapFault}},
	{LengthDiffers, Records, always, lengthDiffers, nil},
	{TestedTooEarly, Records, always, testedTooEarly, nil},
	{WarrantyBeforeStart, Records, always, warrantyBeforeStart, nil},

	{DeviceFaster, Records, always, deviceFaster, nil},
	{ExpectedLossDiffers, Records, kept, expectedLossDiffers, []Rule{LossOverBudget, MixedFibre}},
	{ConnectorsTooFew, Records, always, connectorsTooFew, nil},
	{LengthImprobable, Records, kept, lengthImprobable, nil},
	{GaugeImprobable, Records, kept, gaugeImprobable, nil},
	{PositionBeyond, Records, always, positionBeyond, nil},
	{PositionShared, Records, kept, positionShared, nil},
	{OutletShared, Records, kept, outletShared, nil},
	{SeenDiffers, Records, kept, seenDiffers, nil},
	{CableNotRecorded, Records, kept, cableNotRecorded, nil},
	{LengthNotRecorded, Records, kept, lengthNotRecorded, []Rule{CableNotRecorded}},
	{TypeNotRecorded, Records, kept, typeNotRecorded, nil},
	{HeatNotRecorded, Records, kept, heatNotRecorded, nil},

	{OtherOptic, Records, inUse, otherOptic, nil},
	{WorksByLuck, Margin, inUse, worksByLuck, notCarried},
	{SlowerThanCable, Growth, inUse, slowerThanCable, nil},
}

// told says whether another rule told the cause already, as something no less
// grave.
func (r *rule) told(findings []Finding) bool {
	if len(findings) == 0 || len(r.unless) == 0 {
		return false
	}
	return slices.ContainsFunc(findings, func(f Finding) bool {
		return worstFirst[f.Endangers] <= worstFirst[r.endangers] && slices.Contains(r.unless, f.Rule)
	})
}

// found is the answer of a rule that finds one thing.
func found(f Finding) []Finding { return []Finding{f} }

// past is a finding about a figure that passes its limit, with how much and
// how sure; the rest is the caller's.
func past(have, limit float64, unit string, src standards.Source) Finding {
	f := Finding{Verdict: standards.NotAllowed, Source: src.Document, Sure: Certain}
	if unit != "" {
		f.By, f.excess = beyond(have, limit, unit), share(have, limit)
	}
	if src.Memory && f.excess < farPast {
		f.Sure = Likely
	}
	return f
}

// farPast is the share of a limit from which on it does not matter whether the
// figure is exact.
const farPast = 0.25

// judged is a finding from a judgement that is not to the run's favour.
func judged(j standards.Judgement) Finding {
	f := past(j.Have, j.Limit, j.Unit, j.Source)
	f.Verdict = j.Verdict
	if j.Unit != "" && j.Have <= j.Limit { // within what a condition allows
		f.By, f.excess = fmt.Sprintf("%s of at most %s", quantity(j.Have, j.Unit), quantity(j.Limit, j.Unit)), 0
	}
	return f
}

func share(have, limit float64) float64 {
	if limit == 0 {
		return math.Abs(have)
	}
	return math.Abs(have-limit) / math.Abs(limit)
}

// beyond tells by how much a limit is passed, e.g. "4 m over 100 m".
func beyond(have, limit float64, unit string) string {
	way := "over"
	if have < limit {
		way = "under"
	}
	apart := unit
	if unit == "dBm" {
		apart = "dB" // levels differ by a ratio
	}
	return fmt.Sprintf("%s %s %s %s", quantity(math.Abs(have-limit), apart), way, tenths(limit), unit)
}

func quantity(v float64, unit string) string { return tenths(v) + " " + unit }

// tenths writes a number to one decimal place, or two where it is below 0.1.
func tenths(v float64) string {
	places := 10.0
	if math.Abs(v) < 0.1 {
		places = 100
	}
	return strconv.FormatFloat(math.Round(v*places)/places, 'f', -1, 64)
}
