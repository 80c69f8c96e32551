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
	copperFellBack: {OpenPair: 14, SpeedSetting: 4.4, OverLength: 0.042, FarEndLimit: 74, RecordWrong: 1.1, BadCord: 0.39, ShortedPair: 0.93, CrossedPair: 3.2, DamagedCable: 0.92,
		PoorTermination: 0.25, SplitPair: 0.8, WrongCategory: 0.18, PortFaulty: 0.021, FarEndFaulty: 0.033, DuplexSetting: 0.067},
	copperTrained: {RecordWrong: 38, FarEndLimit: 4.4, PoorTermination: 8.6, WrongCategory: 0.78, BadCord: 40, AlienCrosstalk: 2.9,
		OverLength: 2, CableHeat: 1.1, DamagedCable: 1.1, PortFaulty: 1.1},
	copperErrors: {BadCord: 15, PoorTermination: 33, DamagedCable: 5.3, Interference: 13, PortFaulty: 1.1, OverLength: 18, SplitPair: 0.63,
		CableHeat: 1.5, AlienCrosstalk: 1.6, ShieldBroken: 2, FarEndFaulty: 4.8, LoosePlug: 2.2, WrongCategory: 1.1, DuplexSetting: 0.28},
	copperFlaps: {LoosePlug: 92, BadCord: 4.4, FarEndFaulty: 2.5, DamagedCable: 0.24, PortFaulty: 0.55, PoorTermination: 0.41, ShieldBroken: 0.068, Interference: 0.068},
	copperNoLink: {PowerBudget: 68, FarEndFaulty: 5.1, DamagedCable: 2.9, OpenPair: 18, LoosePlug: 0.84, ShortedPair: 2.5, BadCord: 0.71, CrossedPair: 1.7, PortFaulty: 0.34,
		RecordWrong: 0.18, SpeedSetting: 0.17},
	powerShort:    {ShortedPair: 94, DamagedCable: 2.3, FarEndFaulty: 1.7, BadCord: 1, PoorTermination: 0.38, PortFaulty: 0.2},
	powerOverload: {FarEndFaulty: 41, DamagedCable: 34, ShortedPair: 9, BadCord: 9, PortFaulty: 6.5},
	duplexDiffers: {DuplexSetting: 97, SpeedSetting: 1.3, FarEndFaulty: 1.3, PortFaulty: 0.68, OverLength: 0.11},
}

// copperTells is what the items say of a copper run.
var copperTells = map[item]telling{
	sourcesNear:   {"outside", weights{Interference: 180}},
	followTraffic: {"follows", weights{Interference: 0.17, ShieldBroken: 0.14, LoosePlug: 0.37}},
	followTime: {"follows", weights{Interference: 6.3,
		ShieldBroken: 5, LoosePlug: 1.7, PoorTermination: 0.49, OverLength: 0.32, SplitPair: 0.34, FarEndFaulty: 0.33}},
	silentNow: {"bursts", weights{Interference: 0.32,
		ShieldBroken: 0.4, LoosePlug: 1.2, PoorTermination: 0.32, OverLength: 0.29, PortFaulty: 0.2, DamagedCable: 0.11}},
	inBursts:  {"bursts", weights{Interference: 1.3, ShieldBroken: 1.5, LoosePlug: 3.4, PoorTermination: 1, OverLength: 0.65}},
	keepHours: {"hours", weights{Interference: 300, ShieldBroken: 8.3, CableHeat: 1.2, PoorTermination: 0.44}},
	shortBursts: {"bursts", weights{Interference: 42, ShieldBroken: 36, LoosePlug: 3.2, PoorTermination: 0.12, OverLength: 0.15, SplitPair: 0.14,
		CableHeat: 0.038, PortFaulty: 0.042, FarEndFaulty: 0.23, DamagedCable: 0.07, BadCord: 1.4}},
	noShortBursts:   {"bursts", weights{Interference: 0.037, ShieldBroken: 0.064, LoosePlug: 0.046}},
	struckTogether:  {"company", weights{Interference: 16, ShieldBroken: 0.15, AlienCrosstalk: 2.2, CableHeat: 0.52, DamagedCable: 0.18, BadCord: 0.13, LoosePlug: 0.15}},
	struckAlone:     {"company", weights{Interference: 0.23, ShieldBroken: 1}},
	struckWithPorts: {"company", weights{Interference: 8.3, ShieldBroken: 0.18, AlienCrosstalk: 3, CableHeat: 0.43, DamagedCable: 0.19, BadCord: 0.2, LoosePlug: 0.2}},
	struckWithNone:  {"company", weights{Interference: 0.71, ShieldBroken: 1}},
	fewDamaged: {"share", weights{Interference: 0.69, ShieldBroken: 0.92, CableHeat: 3.8, LoosePlug: 1, SplitPair: 0.84, PortFaulty: 1.2, FarEndFaulty: 1.2,
		BadCord: 1, PoorTermination: 0.8, OverLength: 0.55, DamagedCable: 0.72, AlienCrosstalk: 0.62, WrongCategory: 0.92}},
	someDamaged: {"share", weights{Interference: 0.83, ShieldBroken: 3.4, CableHeat: 0.45, LoosePlug: 0.79, SplitPair: 1, PortFaulty: 2.4, FarEndFaulty: 3.5,
		BadCord: 0.97, PoorTermination: 4.9, OverLength: 2.9, DamagedCable: 1, AlienCrosstalk: 2.2, WrongCategory: 1.1}},
	manyDamaged: {"share", weights{Interference: 0.35, ShieldBroken: 0.41, CableHeat: 0.065, LoosePlug: 0.65, SplitPair: 9.8, PortFaulty: 0.23, FarEndFaulty: 1.1,
		BadCord: 1.2, PoorTermination: 1, OverLength: 2.7, DamagedCable: 1.8, AlienCrosstalk: 1.7, WrongCategory: 2.4}},
	evenHours: {"levels", weights{PoorTermination: 5, OverLength: 1.4, SplitPair: 2.5, WrongCategory: 3.7, PortFaulty: 2.7, FarEndFaulty: 1.1, BadCord: 0.041, CableHeat: 0.04, Interference: 0.088, ShieldBroken: 0.091, LoosePlug: 0.12}},
	unevenHours: {"levels", weights{BadCord: 5.1, CableHeat: 8.3, DamagedCable: 5.7, Interference: 2.8, ShieldBroken: 3.4, PoorTermination: 0.17,
		OverLength: 1, SplitPair: 0.22, PortFaulty: 0.035, FarEndFaulty: 0.14}},
	warmHours: {"hours", weights{CableHeat: 1, Interference: 0.38, ShieldBroken: 2.4}},
	nightToo:  {"hours", weights{CableHeat: 0.015, Interference: 0.04, ShieldBroken: 0.041}},
	// Who negotiates has no duplex of its own set (IEEE 802.3 28.2.3.1).
	bothNegotiate: {"forced", weights{DuplexSetting: 0.01, SpeedSetting: 0.01}},
	slowBeside: {"slow", weights{PoorTermination: 0.14, BadCord: 1, DamagedCable: 12, SplitPair: 7.9, PortFaulty: 0.08, FarEndFaulty: 0.063,
		Interference: 0.14, ShieldBroken: 0.074, LoosePlug: 0.31}},
	anotherDevice: {"device", weights{FarEndLimit: 31, OpenPair: 0.22, DamagedCable: 0.15}},
	sameDevice:    {"device", weights{FarEndLimit: 0.01, RecordWrong: 0.15}},
	heldBefore:    {"device", weights{FarEndLimit: 0.01, RecordWrong: 0.01, WrongCategory: 0.072, OverLength: 0.15}},
	otherRow:      {"rows", weights{RecordWrong: 150}},
	noneSoFast:    {"rows", weights{RecordWrong: 300, WrongCategory: 0.027, AlienCrosstalk: 0.02, OverLength: 0.1, PoorTermination: 0.2, BadCord: 0.2, DamagedCable: 0.2}},
	// Moderate, and common practice, no source: a row that is confirmed may still hold
	// another run's speed. What the record does not say it cannot say wrongly.
	rowConfirmed: {"row", weights{RecordWrong: 0.5}},
	rowDisputed:  {"row", weights{RecordWrong: 4}},
	notByRecord:  {"row", weights{RecordWrong: 0.02}},
	laidLately:   {"onset", weights{PoorTermination: 3, SplitPair: 5.8, CrossedPair: 18, OverLength: 5.8, WrongCategory: 5.8}},
	// As fitted: beside when the trouble began and what its test measured, that a run is old
	// says next to nothing. Contacts wear with each mating (IEC 60603-7; memory) and not with
	// years, and a record tells neither those nor which cable lies outdoors.
	laidLongAgo:   {"age", weights{CrossedPair: 0.93, SplitPair: 0.97}},
	wideMargin:    {"test", weights{PoorTermination: 0.23, SplitPair: 0.45, OverLength: 0.19, CableHeat: 1}},
	slimMargin:    {"test", weights{PoorTermination: 1.4, OverLength: 2, CableHeat: 1.2}},
	neighbourCame: {"neighbour", weights{AlienCrosstalk: 160}},
	powerLost:     {"drawn", weights{LoosePlug: 5.5, FarEndFaulty: 0.33, BadCord: 1.2}},
	failedNearly:  {"test", weights{PoorTermination: 11, OverLength: 6.7, SplitPair: 0.33}},
	failedFar:     {"test", weights{SplitPair: 35, PoorTermination: 0.14, OverLength: 0.13, CrossedPair: 3}},
	midByRecord:   {"length", weights{OverLength: 0.041}},
	fedAlong:      {"fed", weights{FarEndFaulty: 5.1, OpenPair: 1.7}},
	fedAnew:       {"fed", weights{FarEndFaulty: 0.12, OpenPair: 0.12}},
	shortByRecord: {"length", weights{OverLength: 0.012, CableHeat: 0.68}},
	longByRecord:  {"length", weights{OverLength: 11, CableHeat: 15}},
	screened:      {"screen", weights{ShieldBroken: 4.7, Interference: 0.033, AlienCrosstalk: 0.39, CableHeat: 0.81}},
	unscreened:    {"screen", weights{ShieldBroken: 0.024}},
	passedTest:    {"test", weights{PoorTermination: 0.33, OverLength: 0.24, OpenPair: 0.91, SplitPair: 0.81, CrossedPair: 0.24, WrongCategory: 0.83}},
	multiGigabit:  {"speed", weights{AlienCrosstalk: 37, WrongCategory: 300, OverLength: 7.8}},
	gigabitOrLess: {"speed", weights{AlienCrosstalk: 0.01}},

	sinceNew: {"onset", weights{SplitPair: 220, CrossedPair: 150, OverLength: 37, WrongCategory: 22, PoorTermination: 11, BadCord: 0.16,
		DamagedCable: 0.07, Interference: 0.076, ShieldBroken: 0.076, LoosePlug: 0.14, CableHeat: 0.14, PortFaulty: 0.048, FarEndFaulty: 0.15,
		RecordWrong: 1.6, OpenPair: 0.24, ShortedPair: 0.31, FarEndLimit: 0.63, AlienCrosstalk: 0.11}},
	sincePatched: {"onset", weights{BadCord: 63, WrongCategory: 48, OpenPair: 27, FarEndLimit: 6.8, DamagedCable: 0.047, Interference: 0.052,
		ShieldBroken: 0.057, CableHeat: 0.072, PortFaulty: 0.12, FarEndFaulty: 0.31, OverLength: 0.055, SplitPair: 0.094, PoorTermination: 0.041,
		RecordWrong: 0.072, ShortedPair: 0.073, CrossedPair: 0.13}},
	sinceToday: {"onset", weights{BadCord: 240, LoosePlug: 1.4, WrongCategory: 1.3, DamagedCable: 0.83, Interference: 0.13, ShieldBroken: 0.17,
		CableHeat: 0.22, PortFaulty: 0.16, FarEndFaulty: 1, OverLength: 0.13}},
	sinceRewired: {"onset", weights{PoorTermination: 11, SplitPair: 220, CrossedPair: 24, BadCord: 0.34, DamagedCable: 0.12, Interference: 0.074, ShieldBroken: 0.14, CableHeat: 0.075, PortFaulty: 0.034, FarEndFaulty: 0.31, OverLength: 0.16, OpenPair: 8.9, ShortedPair: 1.2}},
	// Nobody mended it: what came with the laying, or what is around. Any fault may have
	// been there on the day when watching begins.
	sinceBefore: {"onset", weights{OverLength: 3.5, WrongCategory: 3, SplitPair: 2.5, PoorTermination: 2, RecordWrong: 3.5, FarEndLimit: 3.5,
		Interference: 2, ShieldBroken: 2, CableHeat: 2.5, DamagedCable: 0.8, BadCord: 0.8, LoosePlug: 0.8, OpenPair: 0.9, ShortedPair: 0.6,
		CrossedPair: 0.8}},
	afterGood: {"onset", weights{DamagedCable: 4.9, Interference: 5.9, ShieldBroken: 7.5, CableHeat: 34, LoosePlug: 1, PortFaulty: 1.9,
		FarEndFaulty: 1, BadCord: 0.14, PoorTermination: 0.01, OverLength: 0.01, WrongCategory: 0.018, SplitPair: 0.01, CrossedPair: 0.01,
		FarEndLimit: 0.11, RecordWrong: 0.01, ShortedPair: 3.3, AlienCrosstalk: 9}},

	// A PHY that fails to train takes speeds off its offer, so that less is weak.
	farOffersLess:  {"offers", weights{FarEndLimit: 13, RecordWrong: 12}},
	farOffersMeant: {"offers", weights{FarEndLimit: 0.01, RecordWrong: 0.025}},

	farCouldMore: {"offers", weights{FarEndLimit: 0.034, RecordWrong: 0.022}},

	symbolsWhole:   {"counts", weights{DuplexSetting: 270, FarEndFaulty: 220, PortFaulty: 300, UpstreamErrors: 40}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.01, PortFaulty: 0.21, UpstreamErrors: 0.01}},
	internalErrors: {"own", weights{PortFaulty: 300}},
	noInternal:     {"own", weights{PortFaulty: 0.01}},
	aboveHundred:   {"duplex", weights{DuplexSetting: 0.01}},
	atHundred:      {"duplex", weights{DuplexSetting: 89}},
	blockErrors:    {"block", weights{PortFaulty: 34, AlienCrosstalk: 39}},
	wayErrors:      {"way", weights{Interference: 1.9, CableHeat: 1.2, AlienCrosstalk: 7.7}},
	errorsBeside: {"beside", weights{DamagedCable: 14, PoorTermination: 3.9, SplitPair: 27, WrongCategory: 5.2, BadCord: 3.7, OpenPair: 0.085,
		CrossedPair: 0.1, FarEndLimit: 0.023, RecordWrong: 0.075, LoosePlug: 18, FarEndFaulty: 0.29, DuplexSetting: 12}},
	cleanBeside: {"beside", weights{DamagedCable: 0.085, PoorTermination: 0.18, SplitPair: 0.11, FarEndFaulty: 0.67, BadCord: 0.18, DuplexSetting: 0.11}},

	linkLost: {"link", weights{LoosePlug: 71, BadCord: 19, DamagedCable: 4.7, PoorTermination: 1.7}},
	// A contact that fails by itself fails by the minute; a cord is moved now and then.
	linkLostOften: {"link", weights{LoosePlug: 300, BadCord: 5.8, DamagedCable: 3, PoorTermination: 1.5}},
	// A segment that is too long makes late collisions too.
	lateCollided: {"duplex", weights{DuplexSetting: 300}},
	endForced:    {"forced", weights{DuplexSetting: 24, SpeedSetting: 4.2}},
	lateOnly:     {"late", weights{OverLength: 10}},
	fedNow:       {"power", weights{PowerBudget: 0.013, OpenPair: 31, LoosePlug: 0.072, BadCord: 0.48, FarEndFaulty: 13, RecordWrong: 0.074, DamagedCable: 0.15, ShortedPair: 1, CrossedPair: 5.2}},
	findsNone:    {"power", weights{PowerBudget: 1, FarEndFaulty: 0.24, OpenPair: 1, DamagedCable: 36, LoosePlug: 1}},
	powerAtFault: {"power", weights{ShortedPair: 76, DamagedCable: 9.2, LoosePlug: 0.076, FarEndFaulty: 0.57}},
	neverUp:      {"onset", weights{CrossedPair: 180, OpenPair: 8.4, RecordWrong: 33, DamagedCable: 0.14, LoosePlug: 0.44}},

	afterWork:     {"onset", copperByHands},
	goodAfterWork: {"work", copperByHands},
}

// copperRecord is what a record says that breaks a rule, and the acceptance test. A
// rule that is not here says nothing of causes; a source of interference beside the
// run counts by itself. Groups keep what one mistake in the record does to several
// rules apart.
var copperRecord = map[item]telling{
	ruleBroken(plant.ChannelTooLong):     {"length", weights{OverLength: 130}},
	ruleBroken(plant.LinkTooLong):        {"length", weights{OverLength: 28}},
	ruleBroken(plant.CordsTooLong):       {"cords", weights{OverLength: 9.2, BadCord: 1.9}},
	ruleBroken(plant.TooHot):             {"heat", weights{CableHeat: 40, OverLength: 5.8}},
	ruleBroken(plant.CategoryTooLow):     {"category", weights{WrongCategory: 110}},
	ruleBroken(plant.CordCategoryTooLow): {"category", weights{WrongCategory: 190, BadCord: 3.2}},
	ruleBroken(plant.SpeedNotCarried):    {"category", weights{WrongCategory: 36, OverLength: 5.8}},
	ruleBroken(plant.SpeedDepends):       {"category", weights{AlienCrosstalk: 9.2, WrongCategory: 5.8}},
	ruleBroken(plant.TooManyConnectors):  {"connectors", weights{PoorTermination: 3}},
	ruleBroken(plant.UnscreenedCord):     {"screen", weights{Interference: 3}},
	ruleBroken(plant.MixedScreens):       {"screen", weights{Interference: 3}},
	ruleBroken(plant.TestFailed):         {"test", weights{PoorTermination: 9.2, DamagedCable: 3}},
	ruleBroken(plant.TestTooNear):        {"test", weights{PoorTermination: 3}},

	wiredSo(plant.WireOpen):     {"wire map", weights{OpenPair: 120}},
	wiredSo(plant.WireShort):    {"wire map", weights{ShortedPair: 120}},
	wiredSo(plant.WireCrossed):  {"wire map", weights{CrossedPair: 40}},
	wiredSo(plant.WireReversed): {"wire map", weights{CrossedPair: 40}},
	wiredSo(plant.WireMiswired): {"wire map", weights{CrossedPair: 140}},
	wiredSo(plant.WireSplit):    {"wire map", weights{SplitPair: 240}},
	testPassed:                  {"test", weights{PoorTermination: 1.5, OverLength: 1, OpenPair: 0.62}},
}
