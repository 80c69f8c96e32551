package fault

import (
	"slices"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// The table of causes: by kind and medium how often each cause is the one, and by
// item of evidence how many times likelier that is seen where a cause is at work
// than where others are. All of it is common practice, no source, unless a standard
// stands beside it. What is not known is no item, and changes nothing.

// materials are what the table tells apart: a cord of twinax or an active optical
// cable is one piece with its plugs.
type material string

const (
	ofCopper   material = "copper"
	ofFibre    material = "fibre"
	ofAssembly material = "assembly"
)

// made tells what the port's run is made of; copper where that is not known.
func (p *portState) made() material {
	medium, run := p.mediumNow(), p.join.Run
	lit := p.optic != nil && len(p.optic.Lanes) > 0 || p.Light.Known != nil || run != nil && run.Optic != ""
	if medium == "" && lit { // without a link, and what it is of is not recorded
		return ofFibre
	}
	return madeOf(medium)
}

func madeOf(medium standards.Medium) material {
	switch medium {
	case standards.Fibre:
		return ofFibre
	case standards.Twinax, standards.ActiveOptical:
		return ofAssembly
	}
	return ofCopper
}

// suffers tells whether a cause can befall what is made so.
func (m material) suffers(cause Cause) bool {
	of, some := onlyOf[cause]
	return !some || slices.Contains(of, m)
}

var (
	copperAlone = []material{ofCopper}
	fibreAlone  = []material{ofFibre}
	withOptics  = []material{ofFibre, ofAssembly}
)

// onlyOf are the causes of some materials; what is not here befalls any.
var onlyOf = map[Cause][]material{
	OpenPair: copperAlone, ShortedPair: copperAlone, CrossedPair: copperAlone, SplitPair: copperAlone,
	OverLength: copperAlone, WrongCategory: copperAlone, PoorTermination: copperAlone, AlienCrosstalk: copperAlone,
	Interference: copperAlone, ShieldBroken: copperAlone, DamagedCable: copperAlone, CableHeat: copperAlone,
	LoosePlug: copperAlone, DuplexSetting: copperAlone, PowerBudget: copperAlone,
	DirtyConnector: fibreAlone, BentFibre: fibreAlone, WrongFibre: fibreAlone, LossOverBudget: fibreAlone,
	ReceiverOverload: fibreAlone, BrokenStrand: fibreAlone, ReversedPolarity: fibreAlone,
	FailingTransmitter: fibreAlone, FailingReceiver: fibreAlone,
	LooseOptic: withOptics, OpticMismatch: withOptics, FECMismatch: withOptics,
}

// The priors, in parts of any whole. Of a gigabit link that comes up at 10 or 100
// Mbit/s a pair is missing, since those need two pairs and it needs four (IEEE 802.3
// clauses 14, 25, 40). Above, all four pairs are needed at any speed.
var (
	copperFellBack = weights{OpenPair: 38, BadCord: 12, DamagedCable: 10, PoorTermination: 7, PortFaulty: 3, CrossedPair: 5,
		ShortedPair: 5, SplitPair: 2, FarEndFaulty: 3, FarEndLimit: 6, RecordWrong: 5, WrongCategory: 2, DuplexSetting: 2}
	copperTrained = weights{PoorTermination: 20, WrongCategory: 20, BadCord: 20, AlienCrosstalk: 15,
		OverLength: 10, CableHeat: 5, DamagedCable: 5, PortFaulty: 5}
	fibreSlow = weights{OpticMismatch: 55, SpeedSetting: 25, PortFaulty: 10, RecordWrong: 10}

	copperErrors = weights{BadCord: 24, PoorTermination: 22, DamagedCable: 11, LoosePlug: 9, Interference: 9,
		FarEndFaulty: 6, PortFaulty: 5, OverLength: 3, WrongCategory: 3, SplitPair: 3, ShieldBroken: 3, CableHeat: 3, AlienCrosstalk: 2, DuplexSetting: 2}
	fibreErrors = weights{DirtyConnector: 45, LooseOptic: 12, BentFibre: 12, FailingTransmitter: 10,
		FailingReceiver: 8, LossOverBudget: 6, WrongFibre: 4, FarEndFaulty: 3}
	assemblyErrors = weights{BadCord: 55, LooseOptic: 20, FarEndFaulty: 13, PortFaulty: 12}

	copperFlaps = weights{LoosePlug: 42, BadCord: 20, FarEndFaulty: 13, DamagedCable: 9, PortFaulty: 6,
		PoorTermination: 5, ShieldBroken: 3, Interference: 2}
	fibreFlaps = weights{LooseOptic: 33, DirtyConnector: 20, BentFibre: 14, FailingTransmitter: 10, FarEndFaulty: 9,
		PortFaulty: 6, LossOverBudget: 5, BrokenStrand: 3}
	assemblyFlaps = weights{BadCord: 45, LooseOptic: 33, FarEndFaulty: 13, PortFaulty: 9}

	copperNoLink = weights{LoosePlug: 18, BadCord: 18, FarEndFaulty: 19, DamagedCable: 18, OpenPair: 10, ShortedPair: 3, PortFaulty: 6,
		CrossedPair: 3, RecordWrong: 2, SpeedSetting: 2}
	fibreNoLink = weights{BrokenStrand: 26, LooseOptic: 15, FarEndFaulty: 14, DirtyConnector: 12, FailingTransmitter: 11,
		BentFibre: 8, PortFaulty: 4, OpticMismatch: 3, FECMismatch: 2, SpeedSetting: 3, ReversedPolarity: 2, RecordWrong: 2}
	assemblyNoLink = weights{BadCord: 40, LooseOptic: 25, FarEndFaulty: 20, PortFaulty: 8, OpticMismatch: 5, RecordWrong: 2}

	lightLow = weights{DirtyConnector: 40, BentFibre: 15, FailingTransmitter: 12, LooseOptic: 10, LossOverBudget: 8,
		WrongFibre: 4, FailingReceiver: 4, OpticMismatch: 4, BrokenStrand: 3}
	lightDark = weights{BrokenStrand: 45, LooseOptic: 15, FailingTransmitter: 12, FarEndFaulty: 10, DirtyConnector: 8,
		FailingReceiver: 5, ReversedPolarity: 5}
	lightHigh = weights{ReceiverOverload: 80, OpticMismatch: 10, RecordWrong: 6, FailingReceiver: 4}
	lossHigh  = weights{DirtyConnector: 42, BentFibre: 20, LossOverBudget: 12, LooseOptic: 10, WrongFibre: 6,
		FailingReceiver: 5, FailingTransmitter: 1}

	// A short lies in the run or the device; an overload is more often a device that
	// draws more than it asked for.
	powerShort    = weights{ShortedPair: 35, DamagedCable: 25, FarEndFaulty: 20, BadCord: 12, PoorTermination: 5, PortFaulty: 3}
	powerOverload = weights{FarEndFaulty: 60, DamagedCable: 12, ShortedPair: 10, BadCord: 10, PortFaulty: 8}

	duplexDiffers = weights{DuplexSetting: 80, SpeedSetting: 6, FarEndFaulty: 5, PortFaulty: 3, OverLength: 1}
)

// priors are those of a kind that says no more by itself.
var priors = map[Kind]map[material]weights{
	FrameErrors:  {ofCopper: copperErrors, ofFibre: fibreErrors, ofAssembly: assemblyErrors},
	LinkFlapping: {ofCopper: copperFlaps, ofFibre: fibreFlaps, ofAssembly: assemblyFlaps},
	NoLink:       {ofCopper: copperNoLink, ofFibre: fibreNoLink, ofAssembly: assemblyNoLink},
}

// item is one thing that may be seen of a fault.
type item string

// What a port shows of itself.
const (
	linkLost       item = "errors come with lost links"
	linkLostLit    item = "light is lost with lost links"
	lateCollided   item = "late collisions come with damaged frames"
	sourcesNear    item = "by the record there are sources of interference near"
	shortByRecord  item = "by the record the run is well inside its length"
	followTraffic  item = "errors follow the traffic"
	followTime     item = "errors do not follow the traffic"
	silentNow      item = "none was damaged in the last hour"
	inBursts       item = "errors come in bursts"
	keepHours      item = "errors keep to certain hours"
	neverUp        item = "the link was never up"
	farOffersLess  item = "the far end offers less than is meant"
	farOffersMeant item = "the far end offers what is meant"
	fecSpeed       item = "its speed needs error correction that both ends agree on"
	belowFEC       item = "its speed needs no error correction"
	atHundred      item = "the link runs at 100 Mbit/s or less"
	aboveHundred   item = "the link runs at 1 Gbit/s or more"
	noInternal     item = "the port counts no errors of its own"
	findsNone      item = "the switch finds nothing to feed"
	powerAtFault   item = "the power is at fault by its status"
	errorsBeside   item = "frames are damaged beside"
	cleanBeside    item = "no frame is damaged beside"
	fedNow         item = "the device is fed"
	receivesNone   item = "no light is received"
	receivesSome   item = "light is received"
	endForced      item = "auto-negotiation is off at an end"
	lateOnly       item = "late collisions tell of it"
)

// When it began, as in onset.item.
const (
	sinceNew     item = "it began with the first link"
	sincePatched item = "it began after a plug was out for minutes"
	sinceRewired item = "it began after the link was away as for work on the run"
	sinceBefore  item = "it was there before anybody watched"
	afterGood    item = "it began by itself after a good time"
)

// What the record, the speed, the counts and other ports show.
const (
	longByRecord   item = "by the record the run is about as long as one may be"
	screened       item = "by the record the cable is screened"
	unscreened     item = "by the record the cable has no screen"
	passedTest     item = "by the record the run passed its test"
	multiGigabit   item = "the link is meant for more than 1 Gbit/s"
	gigabitOrLess  item = "the link is meant for 1 Gbit/s or less"
	symbolsWhole   item = "the damaged frames came in whole symbols"
	symbolsWrong   item = "the damaged frames came in wrong symbols"
	internalErrors item = "the port counts errors of its own"
	blockErrors    item = "ports beside it on the switch receive damaged frames too"
	wayErrors      item = "runs of the same pathway or bundle receive damaged frames too"
)

// What the light shows of a direction, as in direction.items.
const (
	sentFell       item = "a part of what is missing was never sent"
	sentEnough     item = "as much is sent as ought to be"
	lossOneWay     item = "one direction alone loses more"
	lossMuch       item = "it loses more by far than a bend or dirt takes"
	lossBothWays   item = "both directions lose more"
	lightChanged   item = "it loses more than it did"
	lossLaid       item = "it may be so since the run was laid"
	lossLaidPassed item = "it would be so since the run was laid, and passed its test"
	lightSteady    item = "the light is as usual"
	farSends       item = "the far end sends light"
	litBefore      item = "there was a link before"
	bothSendDark   item = "both send and neither receives"
	bothDark       item = "neither end receives light, and both send"
	oneDark        item = "one end alone receives no light"
	farOpticGone   item = "there is no optic at the far end"
)

// telling is what an item says. Items of one group depend on each other, so that of
// these the most telling one counts for each cause.
type telling struct {
	group string
	ratio weights
}

// tells is what the items say. Those of a kind's own stand in tellsOf.
var tells = map[item]telling{
	sourcesNear:   {"outside", weights{Interference: 3.5}},
	followTraffic: {"follows", weights{Interference: 0.4, ShieldBroken: 0.4, LoosePlug: 0.6}},
	followTime:    {"follows", weights{Interference: 5, ShieldBroken: 5, LoosePlug: 1.5, PoorTermination: 0.5, OverLength: 0.5, SplitPair: 0.5, FarEndFaulty: 0.5}},
	silentNow:     {"bursts", weights{Interference: 2, ShieldBroken: 2, LoosePlug: 1.5, PoorTermination: 0.5, OverLength: 0.5, PortFaulty: 0.5, DamagedCable: 0.7}},
	inBursts:      {"bursts", weights{Interference: 1.5, ShieldBroken: 1.5, LoosePlug: 1.5, PoorTermination: 0.7, OverLength: 0.7}},
	keepHours:     {"hours", weights{Interference: 5, ShieldBroken: 5, CableHeat: 8, PoorTermination: 0.6}},
	shortByRecord: {"length", weights{OverLength: 0.1, CableHeat: 0.2}},
	longByRecord:  {"length", weights{OverLength: 3, CableHeat: 3}},
	screened:      {"screen", weights{ShieldBroken: 6, Interference: 0.3, AlienCrosstalk: 0.2}},
	unscreened:    {"screen", weights{ShieldBroken: 0.05}},
	passedTest:    {"test", weights{PoorTermination: 0.6, OverLength: 0.3, OpenPair: 0.7, SplitPair: 0.3, CrossedPair: 0.3, WrongCategory: 0.6}},
	multiGigabit:  {"speed", weights{AlienCrosstalk: 8, WrongCategory: 4, OverLength: 2}},
	gigabitOrLess: {"speed", weights{AlienCrosstalk: 0.02}},

	sinceNew: {"onset", weights{SplitPair: 6, CrossedPair: 10, OverLength: 6, WrongCategory: 5, PoorTermination: 4, BadCord: 0.5,
		DamagedCable: 0.2, Interference: 0.2, ShieldBroken: 0.2, LoosePlug: 0.3, CableHeat: 0.3, PortFaulty: 0.3, FarEndFaulty: 0.3,
		RecordWrong: 2, WrongFibre: 5, LossOverBudget: 6, OpticMismatch: 3, ReversedPolarity: 10, BentFibre: 0.4, FailingTransmitter: 0.2,
		FailingReceiver: 0.3, BrokenStrand: 0.4}},
	sincePatched: {"onset", weights{BadCord: 5, WrongCategory: 3, OpenPair: 2, FarEndLimit: 3, DamagedCable: 0.15, Interference: 0.2,
		ShieldBroken: 0.2, CableHeat: 0.2, PortFaulty: 0.2, FarEndFaulty: 0.4, OverLength: 0.2, SplitPair: 0.3, PoorTermination: 0.5,
		DirtyConnector: 3, WrongFibre: 3, OpticMismatch: 2, ReversedPolarity: 4, BentFibre: 0.5, FailingTransmitter: 0.2, FailingReceiver: 0.2}},
	sinceRewired: {"onset", weights{PoorTermination: 6, SplitPair: 6, CrossedPair: 6, BadCord: 0.7, DamagedCable: 0.3,
		Interference: 0.2, ShieldBroken: 0.3, CableHeat: 0.2, PortFaulty: 0.2, FarEndFaulty: 0.5, OverLength: 0.4, DirtyConnector: 2}},
	// Nobody mended it: what came with the laying, or what is around.
	sinceBefore: {"onset", weights{OverLength: 5, WrongCategory: 4, SplitPair: 3, PoorTermination: 2, RecordWrong: 5, FarEndLimit: 4,
		Interference: 2, ShieldBroken: 2, CableHeat: 2.5, LossOverBudget: 5, WrongFibre: 3, DamagedCable: 0.6, BadCord: 0.7, LoosePlug: 0.7}},
	afterGood: {"onset", weights{DamagedCable: 2, Interference: 2, ShieldBroken: 2, CableHeat: 2, LoosePlug: 1.5, PortFaulty: 2, FarEndFaulty: 2,
		BadCord: 0.5, PoorTermination: 0.4, OverLength: 0.05, WrongCategory: 0.05, SplitPair: 0.05, CrossedPair: 0.1, FarEndLimit: 0.4, RecordWrong: 0.1,
		LossOverBudget: 0.1, WrongFibre: 0.1, ReversedPolarity: 0.05, OpticMismatch: 0.1, DirtyConnector: 0.4, BentFibre: 1.5, LooseOptic: 1.5,
		FailingTransmitter: 1.5, FailingReceiver: 1.5}},

	// A PHY that fails to train takes speeds off its offer, so that less is weak.
	farOffersLess:  {"offers", weights{FarEndLimit: 12, RecordWrong: 5}},
	farOffersMeant: {"offers", weights{FarEndLimit: 0.02, RecordWrong: 0.1}},

	symbolsWhole:   {"counts", weights{DuplexSetting: 8, FarEndFaulty: 15, UpstreamErrors: 10}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.05, UpstreamErrors: 0.05}},
	internalErrors: {"own", weights{PortFaulty: 40}},
	noInternal:     {"own", weights{PortFaulty: 0.5}},
	// No link of 25 Gbit/s and up comes up where the ends correct errors differently
	// (IEEE 802.3 clauses 91 and 108); slower ones hardly ever correct any.
	fecSpeed:     {"fec", weights{FECMismatch: 10}},
	belowFEC:     {"fec", weights{FECMismatch: 0.01}},
	aboveHundred: {"duplex", weights{DuplexSetting: 0.001}},
	atHundred:    {"duplex", weights{DuplexSetting: 8}},
	blockErrors:  {"block", weights{PortFaulty: 5}},
	wayErrors:    {"way", weights{Interference: 3, CableHeat: 3, AlienCrosstalk: 3}},
	errorsBeside: {"beside", weights{DamagedCable: 4, PoorTermination: 3, SplitPair: 4, WrongCategory: 2, BadCord: 1.5, OpenPair: 0.5, CrossedPair: 0.3, FarEndLimit: 0.1, RecordWrong: 0.2, LoosePlug: 1.5, FarEndFaulty: 0.5}},
	cleanBeside:  {"beside", weights{DamagedCable: 0.6, PoorTermination: 0.4, SplitPair: 0.3, FarEndFaulty: 1.5, BadCord: 0.7}},

	linkLostLit: {"link", weights{LooseOptic: 6}},
	linkLost:    {"link", weights{LoosePlug: 15, BadCord: 4, LooseOptic: 8}},
	// A segment that is too long makes late collisions too.
	lateCollided: {"duplex", weights{DuplexSetting: 200}},
	endForced:    {"forced", weights{DuplexSetting: 3, SpeedSetting: 3}},
	lateOnly:     {"late", weights{OverLength: 5}},
	fedNow:       {"power", weights{OpenPair: 6, LoosePlug: 0.2, BadCord: 0.8, FarEndFaulty: 2.5, RecordWrong: 0.2, DamagedCable: 0.4, ShortedPair: 2}},
	findsNone:    {"power", weights{FarEndFaulty: 0.5, OpenPair: 0.5, DamagedCable: 1.3, LoosePlug: 1.3}},
	powerAtFault: {"power", weights{ShortedPair: 15, DamagedCable: 4, LoosePlug: 0.2, FarEndFaulty: 0.7}},
	neverUp: {"onset", weights{CrossedPair: 8, OpenPair: 2, RecordWrong: 9, DamagedCable: 0.3, LoosePlug: 0.6,
		ReversedPolarity: 15, OpticMismatch: 8, BrokenStrand: 0.4, BentFibre: 0.4}},
	receivesNone: {"lit", weights{FECMismatch: 0.05, BrokenStrand: 2, ReversedPolarity: 2, SpeedSetting: 0.2, OpticMismatch: 0.5}},
	receivesSome: {"lit", weights{SpeedSetting: 6, OpticMismatch: 4, FECMismatch: 6, PortFaulty: 3, BrokenStrand: 0.1, LooseOptic: 0.5, ReversedPolarity: 0.1, WrongFibre: 3}},

	sentFell:       {"sent", weights{FailingTransmitter: 10}},
	sentEnough:     {"sent", weights{FailingTransmitter: 0.3}},
	lossOneWay:     {"ways", weights{DirtyConnector: 3, BentFibre: 0.4, LossOverBudget: 0.3}},
	lossBothWays:   {"ways", weights{BentFibre: 6, DirtyConnector: 0.5, WrongFibre: 4}},
	lossMuch:       {"much", weights{WrongFibre: 8, BentFibre: 0.5, DirtyConnector: 0.3, LossOverBudget: 0.3, FailingTransmitter: 0.5}},
	lightChanged:   {"onset", weights{LossOverBudget: 0.1, WrongFibre: 0.5, OpticMismatch: 0.3}},
	lossLaid:       {"onset", weights{LossOverBudget: 10, BentFibre: 3, WrongFibre: 3, DirtyConnector: 0.5}},
	lossLaidPassed: {"test", weights{LossOverBudget: 0.15, WrongFibre: 0.3}},
	lightSteady: {"light", weights{DirtyConnector: 0.4, BentFibre: 0.2, LossOverBudget: 0.2, FailingTransmitter: 0.7,
		FailingReceiver: 3, WrongFibre: 2}},
	farSends:     {"sends", weights{FailingTransmitter: 0.1, FarEndFaulty: 0.1}},
	litBefore:    {"onset", weights{ReversedPolarity: 0.6}},
	bothSendDark: {"polarity", weights{ReversedPolarity: 30}},
	bothDark:     {"polarity", weights{ReversedPolarity: 5, BrokenStrand: 0.5, DirtyConnector: 0.2, BentFibre: 0.5, FailingReceiver: 0.1, FailingTransmitter: 0.1}},
	oneDark:      {"polarity", weights{ReversedPolarity: 0.02, BrokenStrand: 2}},
	farOpticGone: {"optic", weights{LooseOptic: 4}},
}

// byRule is what an audit's finding says: the record breaks a rule. A rule that is
// not here says nothing of causes; a source of interference beside the run counts by
// itself. Groups keep what one mistake in the record does to several rules apart.
var byRule = map[plant.Rule]telling{
	plant.ChannelTooLong:     {"length", weights{OverLength: 15}},
	plant.LinkTooLong:        {"length", weights{OverLength: 8}},
	plant.CordsTooLong:       {"cords", weights{OverLength: 4, BadCord: 1.5}},
	plant.TooHot:             {"heat", weights{CableHeat: 10, OverLength: 3}},
	plant.CategoryTooLow:     {"category", weights{WrongCategory: 15}},
	plant.CordCategoryTooLow: {"category", weights{WrongCategory: 10, BadCord: 3}},
	plant.SpeedNotCarried:    {"category", weights{WrongCategory: 10, OverLength: 3}},
	plant.SpeedDepends:       {"category", weights{AlienCrosstalk: 4, WrongCategory: 3}},
	plant.TooManyConnectors:  {"connectors", weights{PoorTermination: 2}},
	plant.UnscreenedCord:     {"screen", weights{Interference: 2}},
	plant.MixedScreens:       {"screen", weights{Interference: 2}},
	plant.TestFailed:         {"test", weights{PoorTermination: 4, DamagedCable: 2}},
	plant.TestTooNear:        {"test", weights{PoorTermination: 2}},

	plant.OpticDamage:      {"overload", weights{ReceiverOverload: 20, FailingReceiver: 3}},
	plant.ReceiverOverload: {"overload", weights{ReceiverOverload: 20}},
	plant.OpticsDisagree:   {"optics", weights{OpticMismatch: 20}},
	plant.OpticTooSlow:     {"optics", weights{OpticMismatch: 5}},
	plant.OpticWrongFibre:  {"fibre", weights{WrongFibre: 15}},
	plant.MixedFibre:       {"fibre", weights{WrongFibre: 15}},
	plant.MixedGrades:      {"fibre", weights{WrongFibre: 3}},
	plant.FibreTooLong:     {"budget", weights{LossOverBudget: 10}},
	plant.LossOverBudget:   {"budget", weights{LossOverBudget: 10}},
}

// byWireMap is what the wire map of the acceptance test found.
var byWireMap = map[plant.WireFaultKind]telling{
	plant.WireOpen:     {"wire map", weights{OpenPair: 20}},
	plant.WireShort:    {"wire map", weights{ShortedPair: 20}},
	plant.WireCrossed:  {"wire map", weights{CrossedPair: 10}},
	plant.WireReversed: {"wire map", weights{CrossedPair: 10}},
	plant.WireMiswired: {"wire map", weights{CrossedPair: 20}},
	plant.WireSplit:    {"wire map", weights{SplitPair: 30}},
}

// testPassed is what an acceptance test says that was passed.
var testPassed = telling{"test", weights{PoorTermination: 0.6, OverLength: 0.3, OpenPair: 0.7}}
