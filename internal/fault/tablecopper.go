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
	copperFellBack: {OpenPair: 38, FarEndLimit: 18, RecordWrong: 11, BadCord: 11, ShortedPair: 9, CrossedPair: 7, DamagedCable: 4,
		PoorTermination: 3, SplitPair: 3, WrongCategory: 3, PortFaulty: 1.5, FarEndFaulty: 1.5, DuplexSetting: 0.5},
	copperTrained: {PoorTermination: 20, WrongCategory: 20, BadCord: 20, AlienCrosstalk: 15,
		OverLength: 10, CableHeat: 5, DamagedCable: 5, PortFaulty: 5},
	copperErrors: {BadCord: 28, PoorTermination: 18, DamagedCable: 13, Interference: 13, PortFaulty: 12, OverLength: 12, SplitPair: 9,
		CableHeat: 9, AlienCrosstalk: 9, ShieldBroken: 8, FarEndFaulty: 6, LoosePlug: 4, WrongCategory: 3, DuplexSetting: 2},
	copperFlaps: {LoosePlug: 58, BadCord: 16, FarEndFaulty: 11, DamagedCable: 6, PortFaulty: 4, PoorTermination: 3, ShieldBroken: 1, Interference: 1},
	copperNoLink: {FarEndFaulty: 17, DamagedCable: 16, OpenPair: 15, LoosePlug: 12, ShortedPair: 12, BadCord: 11, CrossedPair: 6, PortFaulty: 4,
		RecordWrong: 2, SpeedSetting: 2},
	powerShort:    {ShortedPair: 55, DamagedCable: 20, FarEndFaulty: 13, BadCord: 7, PoorTermination: 3, PortFaulty: 2},
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
	inBursts:  {"bursts", weights{Interference: 1.5, ShieldBroken: 1.5, LoosePlug: 1.5, PoorTermination: 0.7, OverLength: 0.7}},
	keepHours: {"hours", weights{Interference: 5, ShieldBroken: 5, CableHeat: 8, PoorTermination: 0.6}},
	shortBursts: {"bursts", weights{Interference: 4, ShieldBroken: 5, LoosePlug: 2, PoorTermination: 0.3, OverLength: 0.3, SplitPair: 0.3,
		CableHeat: 0.3, PortFaulty: 0.4, FarEndFaulty: 0.4, DamagedCable: 0.4, BadCord: 0.6}},
	noShortBursts: {"bursts", weights{Interference: 0.25, ShieldBroken: 0.25, LoosePlug: 0.2}},
	evenHours:     {"levels", weights{PoorTermination: 2, OverLength: 1.5, SplitPair: 2, WrongCategory: 1.5, PortFaulty: 2, FarEndFaulty: 2, BadCord: 0.2, CableHeat: 0.1, Interference: 0.3, ShieldBroken: 0.3, LoosePlug: 0.3}},
	unevenHours: {"levels", weights{BadCord: 2, CableHeat: 2, DamagedCable: 1.3, Interference: 1.5, ShieldBroken: 1.5, PoorTermination: 0.4,
		OverLength: 0.4, SplitPair: 0.4, PortFaulty: 0.3, FarEndFaulty: 0.3}},
	warmHours: {"hours", weights{CableHeat: 6, Interference: 1.5, ShieldBroken: 1.5}},
	nightToo:  {"hours", weights{CableHeat: 0.1, Interference: 0.15, ShieldBroken: 0.15}},
	// Who negotiates has no duplex of its own set (IEEE 802.3 28.2.3.1).
	bothNegotiate: {"forced", weights{DuplexSetting: 0.02, SpeedSetting: 0.1}},
	slowBeside: {"slow", weights{PoorTermination: 1.5, BadCord: 1.5, DamagedCable: 1.5, SplitPair: 1.5, PortFaulty: 0.3, FarEndFaulty: 0.2,
		Interference: 0.2, ShieldBroken: 0.2, LoosePlug: 0.5}},
	anotherDevice: {"device", weights{FarEndLimit: 8, OpenPair: 0.4, DamagedCable: 0.3}},
	sameDevice:    {"device", weights{FarEndLimit: 0.05, RecordWrong: 0.3}},
	heldBefore:    {"device", weights{FarEndLimit: 0.02, RecordWrong: 0.05, WrongCategory: 0.2, OverLength: 0.3}},
	otherRow:      {"rows", weights{RecordWrong: 30}},
	laidLately:    {"onset", weights{PoorTermination: 2, SplitPair: 3, CrossedPair: 6, OverLength: 3, WrongCategory: 3}},
	laidLongAgo:   {"age", weights{CrossedPair: 0.4, SplitPair: 0.5}},
	wideMargin:    {"test", weights{PoorTermination: 0.4, SplitPair: 0.2, OverLength: 0.3, CableHeat: 0.6}},
	slimMargin:    {"test", weights{PoorTermination: 1.5, OverLength: 1.5, CableHeat: 1.5}},
	neighbourCame: {"neighbour", weights{AlienCrosstalk: 10}},
	powerLost:     {"drawn", weights{LoosePlug: 2, FarEndFaulty: 0.5, BadCord: 1.5}},
	failedNearly:  {"test", weights{PoorTermination: 3, OverLength: 2, SplitPair: 0.6}},
	failedFar:     {"test", weights{SplitPair: 8, PoorTermination: 0.3, OverLength: 0.3, CrossedPair: 2}},
	midByRecord:   {"length", weights{OverLength: 0.3}},
	fedAlong:      {"fed", weights{FarEndFaulty: 1.3, OpenPair: 0.8}},
	fedAnew:       {"fed", weights{FarEndFaulty: 0.2, OpenPair: 2}},
	shortByRecord: {"length", weights{OverLength: 0.1, CableHeat: 0.2}},
	longByRecord:  {"length", weights{OverLength: 4, CableHeat: 5}},
	screened:      {"screen", weights{ShieldBroken: 6, Interference: 0.15, AlienCrosstalk: 0.2, CableHeat: 0.7}},
	unscreened:    {"screen", weights{ShieldBroken: 0.05}},
	passedTest:    {"test", weights{PoorTermination: 0.6, OverLength: 0.3, OpenPair: 0.7, SplitPair: 0.3, CrossedPair: 0.3, WrongCategory: 0.6}},
	multiGigabit:  {"speed", weights{AlienCrosstalk: 10, WrongCategory: 5, OverLength: 5}},
	gigabitOrLess: {"speed", weights{AlienCrosstalk: 0.02}},

	sinceNew: {"onset", weights{SplitPair: 7, CrossedPair: 10, OverLength: 7, WrongCategory: 5, PoorTermination: 6, BadCord: 0.5,
		DamagedCable: 0.2, Interference: 0.2, ShieldBroken: 0.2, LoosePlug: 0.3, CableHeat: 0.3, PortFaulty: 0.3, FarEndFaulty: 0.3,
		RecordWrong: 2, OpenPair: 0.5, ShortedPair: 0.5, FarEndLimit: 1, AlienCrosstalk: 0.3}},
	sincePatched: {"onset", weights{BadCord: 4, WrongCategory: 3, OpenPair: 3, FarEndLimit: 4, DamagedCable: 0.15, Interference: 0.2,
		ShieldBroken: 0.2, CableHeat: 0.2, PortFaulty: 0.2, FarEndFaulty: 0.5, OverLength: 0.2, SplitPair: 0.3, PoorTermination: 0.5,
		RecordWrong: 0.2, ShortedPair: 0.2, CrossedPair: 0.3}},
	sinceToday: {"onset", weights{BadCord: 3, LoosePlug: 1.5, WrongCategory: 1.5, DamagedCable: 0.4, Interference: 0.4, ShieldBroken: 0.4,
		CableHeat: 0.4, PortFaulty: 0.4, FarEndFaulty: 0.5, OverLength: 0.3}},
	sinceRewired: {"onset", weights{PoorTermination: 6, SplitPair: 6, CrossedPair: 5, BadCord: 0.7, DamagedCable: 0.3, Interference: 0.2, ShieldBroken: 0.3, CableHeat: 0.2, PortFaulty: 0.2, FarEndFaulty: 0.5, OverLength: 0.4, OpenPair: 2, ShortedPair: 1.5}},
	// Nobody mended it: what came with the laying, or what is around. Any fault may have
	// been there on the day when watching begins.
	sinceBefore: {"onset", weights{OverLength: 3.5, WrongCategory: 3, SplitPair: 2.5, PoorTermination: 2, RecordWrong: 3.5, FarEndLimit: 3.5,
		Interference: 2, ShieldBroken: 2, CableHeat: 2.5, DamagedCable: 0.8, BadCord: 0.8, LoosePlug: 0.8, OpenPair: 0.9, ShortedPair: 0.6,
		CrossedPair: 0.8}},
	afterGood: {"onset", weights{DamagedCable: 2, Interference: 4, ShieldBroken: 2.5, CableHeat: 3, LoosePlug: 1.2, PortFaulty: 2,
		FarEndFaulty: 2, BadCord: 0.4, PoorTermination: 0.3, OverLength: 0.05, WrongCategory: 0.05, SplitPair: 0.05, CrossedPair: 0.05,
		FarEndLimit: 0.1, RecordWrong: 0.05, ShortedPair: 2, AlienCrosstalk: 2.5}},

	// A PHY that fails to train takes speeds off its offer, so that less is weak.
	farOffersLess:  {"offers", weights{FarEndLimit: 12, RecordWrong: 5}},
	farOffersMeant: {"offers", weights{FarEndLimit: 0.02, RecordWrong: 0.1}},

	farCouldMore: {"offers", weights{FarEndLimit: 0.05, RecordWrong: 0.1}},

	symbolsWhole:   {"counts", weights{DuplexSetting: 8, FarEndFaulty: 15, PortFaulty: 10, UpstreamErrors: 10}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.05, PortFaulty: 0.4, UpstreamErrors: 0.05}},
	internalErrors: {"own", weights{PortFaulty: 40}},
	noInternal:     {"own", weights{PortFaulty: 0.2}},
	aboveHundred:   {"duplex", weights{DuplexSetting: 0.001}},
	atHundred:      {"duplex", weights{DuplexSetting: 8}},
	blockErrors:    {"block", weights{PortFaulty: 5, AlienCrosstalk: 3}},
	wayErrors:      {"way", weights{Interference: 3, CableHeat: 4, AlienCrosstalk: 3}},
	errorsBeside: {"beside", weights{DamagedCable: 4, PoorTermination: 3, SplitPair: 4, WrongCategory: 2, BadCord: 2, OpenPair: 0.5,
		CrossedPair: 0.3, FarEndLimit: 0.1, RecordWrong: 0.2, LoosePlug: 1.5, FarEndFaulty: 0.5, DuplexSetting: 4}},
	cleanBeside: {"beside", weights{DamagedCable: 0.6, PoorTermination: 0.4, SplitPair: 0.3, FarEndFaulty: 1.5, BadCord: 0.7, DuplexSetting: 0.15}},

	linkLost: {"link", weights{LoosePlug: 15, BadCord: 4, DamagedCable: 2, PoorTermination: 1.5}},
	// A contact that fails by itself fails by the minute; a cord is moved now and then.
	linkLostOften: {"link", weights{LoosePlug: 60, BadCord: 3, DamagedCable: 2, PoorTermination: 1.5}},
	// A segment that is too long makes late collisions too.
	lateCollided: {"duplex", weights{DuplexSetting: 200}},
	endForced:    {"forced", weights{DuplexSetting: 3, SpeedSetting: 3}},
	lateOnly:     {"late", weights{OverLength: 5}},
	fedNow:       {"power", weights{OpenPair: 5, LoosePlug: 0.2, BadCord: 0.8, FarEndFaulty: 2.5, RecordWrong: 0.2, DamagedCable: 0.4, ShortedPair: 2, CrossedPair: 2}},
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
