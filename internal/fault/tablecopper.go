package fault

import "toneout/internal/plant"

const (
	copperFellBack prior = "copper that fell back"
	copperTrained  prior = "copper that trained lower"
	copperErrors   prior = "errors on copper"
	copperFlaps    prior = "flaps on copper"
	copperNoLink   prior = "no link on copper"
	powerShort     prior = "power short"
	powerOverload  prior = "power overload"
	duplexDiffers  prior = "duplex differs"
)

// copperPriors: of a gigabit link that comes up at 10 or 100 Mbit/s a pair is missing,
// since those need two pairs and it needs four (IEEE 802.3 clauses 14, 25, 40). Above,
// all four pairs are needed at any speed. A short in what is fed lies in the run or the
// device; an overload is more often a device that draws more than it asked for.
var copperPriors = map[prior]weights{
	copperFellBack: {OpenPair: 38, BadCord: 12, DamagedCable: 10, PoorTermination: 7, PortFaulty: 3, CrossedPair: 5,
		ShortedPair: 5, SplitPair: 2, FarEndFaulty: 3, FarEndLimit: 6, RecordWrong: 5, WrongCategory: 2, DuplexSetting: 2},
	copperTrained: {PoorTermination: 20, WrongCategory: 20, BadCord: 20, AlienCrosstalk: 15,
		OverLength: 10, CableHeat: 5, DamagedCable: 5, PortFaulty: 5},
	copperErrors: {BadCord: 24, PoorTermination: 22, DamagedCable: 11, LoosePlug: 9, Interference: 9,
		FarEndFaulty: 6, PortFaulty: 5, OverLength: 3, WrongCategory: 3, SplitPair: 3, ShieldBroken: 3, CableHeat: 3, AlienCrosstalk: 2, DuplexSetting: 2},
	copperFlaps: {LoosePlug: 42, BadCord: 20, FarEndFaulty: 13, DamagedCable: 9, PortFaulty: 6,
		PoorTermination: 5, ShieldBroken: 3, Interference: 2},
	copperNoLink: {LoosePlug: 18, BadCord: 18, FarEndFaulty: 19, DamagedCable: 18, OpenPair: 10, ShortedPair: 3, PortFaulty: 6,
		CrossedPair: 3, RecordWrong: 2, SpeedSetting: 2},
	powerShort:    {ShortedPair: 35, DamagedCable: 25, FarEndFaulty: 20, BadCord: 12, PoorTermination: 5, PortFaulty: 3},
	powerOverload: {FarEndFaulty: 60, DamagedCable: 12, ShortedPair: 10, BadCord: 10, PortFaulty: 8},
	duplexDiffers: {DuplexSetting: 80, SpeedSetting: 6, FarEndFaulty: 5, PortFaulty: 3, OverLength: 1},
}

// copperTells is what the items say of a copper run.
var copperTells = map[item]telling{
	sourcesNear:   {"outside", weights{Interference: 3.5}},
	followTraffic: {"follows", weights{Interference: 0.4, ShieldBroken: 0.4, LoosePlug: 0.6}},
	followTime: {"follows", weights{Interference: 5,
		ShieldBroken: 5, LoosePlug: 1.5, PoorTermination: 0.5, OverLength: 0.5, SplitPair: 0.5, FarEndFaulty: 0.5}},
	silentNow: {"bursts", weights{Interference: 2,
		ShieldBroken: 2, LoosePlug: 1.5, PoorTermination: 0.5, OverLength: 0.5, PortFaulty: 0.5, DamagedCable: 0.7}},
	inBursts:      {"bursts", weights{Interference: 1.5, ShieldBroken: 1.5, LoosePlug: 1.5, PoorTermination: 0.7, OverLength: 0.7}},
	keepHours:     {"hours", weights{Interference: 5, ShieldBroken: 5, CableHeat: 8, PoorTermination: 0.6}},
	shortByRecord: {"length", weights{OverLength: 0.1, CableHeat: 0.2}},
	longByRecord:  {"length", weights{OverLength: 3, CableHeat: 3}},
	screened:      {"screen", weights{ShieldBroken: 6, Interference: 0.3, AlienCrosstalk: 0.2}},
	unscreened:    {"screen", weights{ShieldBroken: 0.05}},
	passedTest:    {"test", weights{PoorTermination: 0.6, OverLength: 0.3, OpenPair: 0.7, SplitPair: 0.3, CrossedPair: 0.3, WrongCategory: 0.6}},
	multiGigabit:  {"speed", weights{AlienCrosstalk: 8, WrongCategory: 4, OverLength: 2}},
	gigabitOrLess: {"speed", weights{AlienCrosstalk: 0.02}},

	sinceNew: {"onset", weights{SplitPair: 6,
		CrossedPair: 10, OverLength: 6, WrongCategory: 5, PoorTermination: 4, BadCord: 0.5, DamagedCable: 0.2, Interference: 0.2,
		ShieldBroken: 0.2, LoosePlug: 0.3, CableHeat: 0.3, PortFaulty: 0.3, FarEndFaulty: 0.3, RecordWrong: 2}},
	sincePatched: {"onset", weights{BadCord: 5,
		WrongCategory: 3, OpenPair: 2, FarEndLimit: 3, DamagedCable: 0.15, Interference: 0.2, ShieldBroken: 0.2, CableHeat: 0.2,
		PortFaulty: 0.2, FarEndFaulty: 0.4, OverLength: 0.2, SplitPair: 0.3, PoorTermination: 0.5}},
	sinceRewired: {"onset", weights{PoorTermination: 6,
		SplitPair: 6, CrossedPair: 6, BadCord: 0.7, DamagedCable: 0.3, Interference: 0.2, ShieldBroken: 0.3, CableHeat: 0.2,
		PortFaulty: 0.2, FarEndFaulty: 0.5, OverLength: 0.4}},
	// Nobody mended it: what came with the laying, or what is around.
	sinceBefore: {"onset", weights{OverLength: 5,
		WrongCategory: 4, SplitPair: 3, PoorTermination: 2, RecordWrong: 5, FarEndLimit: 4, Interference: 2, ShieldBroken: 2,
		CableHeat: 2.5, DamagedCable: 0.6, BadCord: 0.7, LoosePlug: 0.7}},
	afterGood: {"onset", weights{DamagedCable: 2,
		Interference: 2, ShieldBroken: 2, CableHeat: 2, LoosePlug: 1.5, PortFaulty: 2, FarEndFaulty: 2, BadCord: 0.5,
		PoorTermination: 0.4, OverLength: 0.05, WrongCategory: 0.05, SplitPair: 0.05, CrossedPair: 0.1, FarEndLimit: 0.4,
		RecordWrong: 0.1}},

	// A PHY that fails to train takes speeds off its offer, so that less is weak.
	farOffersLess:  {"offers", weights{FarEndLimit: 12, RecordWrong: 5}},
	farOffersMeant: {"offers", weights{FarEndLimit: 0.02, RecordWrong: 0.1}},

	symbolsWhole:   {"counts", weights{DuplexSetting: 8, FarEndFaulty: 15, UpstreamErrors: 10}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.05, UpstreamErrors: 0.05}},
	internalErrors: {"own", weights{PortFaulty: 40}},
	noInternal:     {"own", weights{PortFaulty: 0.5}},
	aboveHundred:   {"duplex", weights{DuplexSetting: 0.001}},
	atHundred:      {"duplex", weights{DuplexSetting: 8}},
	blockErrors:    {"block", weights{PortFaulty: 5}},
	wayErrors:      {"way", weights{Interference: 3, CableHeat: 3, AlienCrosstalk: 3}},
	errorsBeside: {"beside", weights{DamagedCable: 4,
		PoorTermination: 3, SplitPair: 4, WrongCategory: 2, BadCord: 1.5, OpenPair: 0.5, CrossedPair: 0.3, FarEndLimit: 0.1,
		RecordWrong: 0.2, LoosePlug: 1.5, FarEndFaulty: 0.5}},
	cleanBeside: {"beside", weights{DamagedCable: 0.6, PoorTermination: 0.4, SplitPair: 0.3, FarEndFaulty: 1.5, BadCord: 0.7}},

	linkLost: {"link", weights{LoosePlug: 15, BadCord: 4}},
	// A segment that is too long makes late collisions too.
	lateCollided: {"duplex", weights{DuplexSetting: 200}},
	endForced:    {"forced", weights{DuplexSetting: 3, SpeedSetting: 3}},
	lateOnly:     {"late", weights{OverLength: 5}},
	fedNow:       {"power", weights{OpenPair: 6, LoosePlug: 0.2, BadCord: 0.8, FarEndFaulty: 2.5, RecordWrong: 0.2, DamagedCable: 0.4, ShortedPair: 2}},
	findsNone:    {"power", weights{FarEndFaulty: 0.5, OpenPair: 0.5, DamagedCable: 1.3, LoosePlug: 1.3}},
	powerAtFault: {"power", weights{ShortedPair: 15, DamagedCable: 4, LoosePlug: 0.2, FarEndFaulty: 0.7}},
	neverUp:      {"onset", weights{CrossedPair: 8, OpenPair: 2, RecordWrong: 9, DamagedCable: 0.3, LoosePlug: 0.6}},
}

// copperRecord is what a record says that breaks a rule, and the acceptance test. A
// rule that is not here says nothing of causes; a source of interference beside the
// run counts by itself. Groups keep what one mistake in the record does to several
// rules apart.
var copperRecord = map[item]telling{
	ruleBroken(plant.ChannelTooLong):     {"length", weights{OverLength: 15}},
	ruleBroken(plant.LinkTooLong):        {"length", weights{OverLength: 8}},
	ruleBroken(plant.CordsTooLong):       {"cords", weights{OverLength: 4, BadCord: 1.5}},
	ruleBroken(plant.TooHot):             {"heat", weights{CableHeat: 10, OverLength: 3}},
	ruleBroken(plant.CategoryTooLow):     {"category", weights{WrongCategory: 15}},
	ruleBroken(plant.CordCategoryTooLow): {"category", weights{WrongCategory: 10, BadCord: 3}},
	ruleBroken(plant.SpeedNotCarried):    {"category", weights{WrongCategory: 10, OverLength: 3}},
	ruleBroken(plant.SpeedDepends):       {"category", weights{AlienCrosstalk: 4, WrongCategory: 3}},
	ruleBroken(plant.TooManyConnectors):  {"connectors", weights{PoorTermination: 2}},
	ruleBroken(plant.UnscreenedCord):     {"screen", weights{Interference: 2}},
	ruleBroken(plant.MixedScreens):       {"screen", weights{Interference: 2}},
	ruleBroken(plant.TestFailed):         {"test", weights{PoorTermination: 4, DamagedCable: 2}},
	ruleBroken(plant.TestTooNear):        {"test", weights{PoorTermination: 2}},

	wiredSo(plant.WireOpen):     {"wire map", weights{OpenPair: 20}},
	wiredSo(plant.WireShort):    {"wire map", weights{ShortedPair: 20}},
	wiredSo(plant.WireCrossed):  {"wire map", weights{CrossedPair: 10}},
	wiredSo(plant.WireReversed): {"wire map", weights{CrossedPair: 10}},
	wiredSo(plant.WireMiswired): {"wire map", weights{CrossedPair: 20}},
	wiredSo(plant.WireSplit):    {"wire map", weights{SplitPair: 30}},
	testPassed:                  {"test", weights{PoorTermination: 0.6, OverLength: 0.3, OpenPair: 0.7}},
}
