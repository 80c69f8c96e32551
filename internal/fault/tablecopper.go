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
	copperFellBack: {OpenPair: 20, SpeedSetting: 3.3, OverLength: 0.12, FarEndLimit: 48, RecordWrong: 6.8, BadCord: 2.5, ShortedPair: 2.9, CrossedPair: 11, DamagedCable: 2.5,
		PoorTermination: 0.77, SplitPair: 1.2, WrongCategory: 0.43, PortFaulty: 0.1, FarEndFaulty: 0.12, DuplexSetting: 0.19},
	copperTrained: {RecordWrong: 4.5, FarEndLimit: 8.6, PoorTermination: 19, WrongCategory: 26, BadCord: 19, AlienCrosstalk: 11,
		OverLength: 5.6, CableHeat: 2.1, DamagedCable: 2.1, PortFaulty: 2.1},
	copperErrors: {BadCord: 18, PoorTermination: 27, DamagedCable: 7.7, Interference: 4.1, PortFaulty: 3.1, OverLength: 23, SplitPair: 2.8,
		CableHeat: 3.2, AlienCrosstalk: 2.9, ShieldBroken: 3.8, FarEndFaulty: 2.6, LoosePlug: 0.41, WrongCategory: 1.4, DuplexSetting: 0.24},
	copperFlaps: {LoosePlug: 66, BadCord: 20, FarEndFaulty: 8.7, DamagedCable: 1.7, PortFaulty: 1.9, PoorTermination: 1.2, ShieldBroken: 0.22, Interference: 0.21},
	copperNoLink: {PowerBudget: 53, FarEndFaulty: 7.7, DamagedCable: 12, OpenPair: 8.3, LoosePlug: 3.8, ShortedPair: 5.5, BadCord: 3.2, CrossedPair: 4.2, PortFaulty: 1.1,
		RecordWrong: 0.47, SpeedSetting: 0.45},
	powerShort:    {ShortedPair: 71, DamagedCable: 14, FarEndFaulty: 9, BadCord: 4.3, PoorTermination: 1.3, PortFaulty: 0.71},
	powerOverload: {FarEndFaulty: 65, DamagedCable: 11, ShortedPair: 8.7, BadCord: 8.7, PortFaulty: 6.1},
	duplexDiffers: {DuplexSetting: 90, SpeedSetting: 4.3, FarEndFaulty: 3.7, PortFaulty: 1.7, OverLength: 0.28},
}

// copperTells is what the items say of a copper run.
var copperTells = map[item]telling{
	sourcesNear:   {"outside", weights{Interference: 7.4}},
	followTraffic: {"follows", weights{Interference: 0.19, ShieldBroken: 0.17, LoosePlug: 0.42}},
	followTime: {"follows", weights{Interference: 7.4,
		ShieldBroken: 9.7, LoosePlug: 1.9, PoorTermination: 0.5, OverLength: 0.32, SplitPair: 0.34, FarEndFaulty: 0.33}},
	silentNow: {"bursts", weights{Interference: 0.94,
		ShieldBroken: 0.39, LoosePlug: 1.6, PoorTermination: 0.32, OverLength: 0.31, PortFaulty: 0.22, DamagedCable: 0.2}},
	inBursts:  {"bursts", weights{Interference: 2.7, ShieldBroken: 1.8, LoosePlug: 1.8, PoorTermination: 0.5, OverLength: 0.56}},
	keepHours: {"hours", weights{Interference: 13, ShieldBroken: 13, CableHeat: 28, PoorTermination: 0.44}},
	shortBursts: {"bursts", weights{Interference: 27, ShieldBroken: 14, LoosePlug: 2.3, PoorTermination: 0.14, OverLength: 0.15, SplitPair: 0.15,
		CableHeat: 0.063, PortFaulty: 0.17, FarEndFaulty: 0.23, DamagedCable: 0.12, BadCord: 3.6}},
	noShortBursts:  {"bursts", weights{Interference: 0.042, ShieldBroken: 0.18, LoosePlug: 0.071}},
	struckTogether: {"company", weights{Interference: 18, ShieldBroken: 0.15, AlienCrosstalk: 3, CableHeat: 0.33, DamagedCable: 0.15, BadCord: 0.15, LoosePlug: 0.15}},
	struckAlone:    {"company", weights{Interference: 0.076, ShieldBroken: 1.9}},
	fewDamaged: {"share", weights{Interference: 1.2, ShieldBroken: 1.2, CableHeat: 1.2, LoosePlug: 1.2, SplitPair: 0.84, PortFaulty: 1.2, FarEndFaulty: 1.2,
		BadCord: 0.84, PoorTermination: 0.84, OverLength: 0.84, DamagedCable: 0.84, AlienCrosstalk: 0.84, WrongCategory: 0.84}},
	someDamaged: {"share", weights{Interference: 1.2, ShieldBroken: 1.2, CableHeat: 1.2, LoosePlug: 1.2, SplitPair: 1.2, PortFaulty: 1.2, FarEndFaulty: 1.2,
		BadCord: 1.2, PoorTermination: 1.2, OverLength: 1.2, DamagedCable: 1.2, AlienCrosstalk: 1.2, WrongCategory: 1.2}},
	manyDamaged: {"share", weights{Interference: 0.84, ShieldBroken: 0.84, CableHeat: 0.84, LoosePlug: 0.84, SplitPair: 1.2, PortFaulty: 0.84, FarEndFaulty: 0.84,
		BadCord: 1.2, PoorTermination: 1.2, OverLength: 1.2, DamagedCable: 1.2, AlienCrosstalk: 1.2, WrongCategory: 1.2}},
	evenHours: {"levels", weights{PoorTermination: 4.8, OverLength: 0.66, SplitPair: 3.2, WrongCategory: 3.1, PortFaulty: 2.3, FarEndFaulty: 1.7, BadCord: 0.021, CableHeat: 0.025, Interference: 0.13, ShieldBroken: 0.13, LoosePlug: 0.14}},
	unevenHours: {"levels", weights{BadCord: 3.1, CableHeat: 10, DamagedCable: 5.6, Interference: 1.4, ShieldBroken: 1.5, PoorTermination: 0.22,
		OverLength: 0.62, SplitPair: 0.23, PortFaulty: 0.083, FarEndFaulty: 0.15}},
	warmHours: {"hours", weights{CableHeat: 1.1, Interference: 1.1, ShieldBroken: 2}},
	nightToo:  {"hours", weights{CableHeat: 0.016, Interference: 0.046, ShieldBroken: 0.042}},
	// Who negotiates has no duplex of its own set (IEEE 802.3 28.2.3.1).
	bothNegotiate: {"forced", weights{DuplexSetting: 0.01, SpeedSetting: 0.018}},
	slowBeside: {"slow", weights{PoorTermination: 0.88, BadCord: 4.9, DamagedCable: 4.1, SplitPair: 3.1, PortFaulty: 0.12, FarEndFaulty: 0.066,
		Interference: 0.07, ShieldBroken: 0.075, LoosePlug: 0.32}},
	anotherDevice: {"device", weights{FarEndLimit: 29, OpenPair: 0.23, DamagedCable: 0.15}},
	sameDevice:    {"device", weights{FarEndLimit: 0.01, RecordWrong: 0.15}},
	heldBefore:    {"device", weights{FarEndLimit: 0.01, RecordWrong: 0.01, WrongCategory: 0.073, OverLength: 0.15}},
	otherRow:      {"rows", weights{RecordWrong: 270}},
	laidLately:    {"onset", weights{PoorTermination: 3, SplitPair: 5.8, CrossedPair: 18, OverLength: 5.8, WrongCategory: 5.8}},
	laidLongAgo:   {"age", weights{CrossedPair: 0.87, SplitPair: 0.63}},
	wideMargin:    {"test", weights{PoorTermination: 0.31, SplitPair: 0.38, OverLength: 0.26, CableHeat: 0.54}},
	slimMargin:    {"test", weights{PoorTermination: 1.5, OverLength: 2.3, CableHeat: 0.5}},
	neighbourCame: {"neighbour", weights{AlienCrosstalk: 140}},
	powerLost:     {"drawn", weights{LoosePlug: 4.5, FarEndFaulty: 0.33, BadCord: 1.4}},
	failedNearly:  {"test", weights{PoorTermination: 8.3, OverLength: 4.3, SplitPair: 0.36}},
	failedFar:     {"test", weights{SplitPair: 34, PoorTermination: 0.13, OverLength: 0.13, CrossedPair: 3}},
	midByRecord:   {"length", weights{OverLength: 0.077}},
	fedAlong:      {"fed", weights{FarEndFaulty: 3.5, OpenPair: 1.3}},
	fedAnew:       {"fed", weights{FarEndFaulty: 0.063, OpenPair: 2}},
	shortByRecord: {"length", weights{OverLength: 0.019, CableHeat: 0.3}},
	longByRecord:  {"length", weights{OverLength: 26, CableHeat: 11}},
	screened:      {"screen", weights{ShieldBroken: 7.3, Interference: 0.028, AlienCrosstalk: 0.2, CableHeat: 1.2}},
	unscreened:    {"screen", weights{ShieldBroken: 0.049}},
	passedTest:    {"test", weights{PoorTermination: 0.23, OverLength: 0.37, OpenPair: 0.76, SplitPair: 0.42, CrossedPair: 0.22, WrongCategory: 0.81}},
	multiGigabit:  {"speed", weights{AlienCrosstalk: 36, WrongCategory: 200, OverLength: 13}},
	gigabitOrLess: {"speed", weights{AlienCrosstalk: 0.01}},

	sinceNew: {"onset", weights{SplitPair: 91, CrossedPair: 65, OverLength: 39, WrongCategory: 9.7, PoorTermination: 11, BadCord: 0.19,
		DamagedCable: 0.072, Interference: 0.076, ShieldBroken: 0.076, LoosePlug: 0.14, CableHeat: 0.14, PortFaulty: 0.093, FarEndFaulty: 0.15,
		RecordWrong: 2.9, OpenPair: 0.3, ShortedPair: 0.32, FarEndLimit: 0.92, AlienCrosstalk: 0.12}},
	sincePatched: {"onset", weights{BadCord: 19, WrongCategory: 19, OpenPair: 22, FarEndLimit: 7.7, DamagedCable: 0.06, Interference: 0.07,
		ShieldBroken: 0.072, CableHeat: 0.071, PortFaulty: 0.062, FarEndFaulty: 0.33, OverLength: 0.066, SplitPair: 0.13, PoorTermination: 0.13,
		RecordWrong: 0.071, ShortedPair: 0.074, CrossedPair: 0.13}},
	sinceToday: {"onset", weights{BadCord: 26, LoosePlug: 1.8, WrongCategory: 1.6, DamagedCable: 1.9, Interference: 0.2, ShieldBroken: 0.21,
		CableHeat: 0.21, PortFaulty: 0.2, FarEndFaulty: 0.33, OverLength: 0.14}},
	sinceRewired: {"onset", weights{PoorTermination: 9.7, SplitPair: 78, CrossedPair: 41, BadCord: 0.44, DamagedCable: 0.13, Interference: 0.076, ShieldBroken: 0.14, CableHeat: 0.075, PortFaulty: 0.06, FarEndFaulty: 0.33, OverLength: 0.19, OpenPair: 1.4, ShortedPair: 1.6}},
	// Nobody mended it: what came with the laying, or what is around. Any fault may have
	// been there on the day when watching begins.
	sinceBefore: {"onset", weights{OverLength: 3.5, WrongCategory: 3, SplitPair: 2.5, PoorTermination: 2, RecordWrong: 3.5, FarEndLimit: 3.5,
		Interference: 2, ShieldBroken: 2, CableHeat: 2.5, DamagedCable: 0.8, BadCord: 0.8, LoosePlug: 0.8, OpenPair: 0.9, ShortedPair: 0.6,
		CrossedPair: 0.8}},
	afterGood: {"onset", weights{DamagedCable: 2.8, Interference: 7, ShieldBroken: 6.8, CableHeat: 20, LoosePlug: 1.7, PortFaulty: 1.8,
		FarEndFaulty: 1.6, BadCord: 0.16, PoorTermination: 0.01, OverLength: 0.01, WrongCategory: 0.011, SplitPair: 0.01, CrossedPair: 0.01,
		FarEndLimit: 0.089, RecordWrong: 0.01, ShortedPair: 2.4, AlienCrosstalk: 6}},

	// A PHY that fails to train takes speeds off its offer, so that less is weak.
	farOffersLess:  {"offers", weights{FarEndLimit: 5.4, RecordWrong: 12}},
	farOffersMeant: {"offers", weights{FarEndLimit: 0.01, RecordWrong: 0.024}},

	farCouldMore: {"offers", weights{FarEndLimit: 0.03, RecordWrong: 0.025}},

	symbolsWhole:   {"counts", weights{DuplexSetting: 49, FarEndFaulty: 120, PortFaulty: 300, UpstreamErrors: 40}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.01, PortFaulty: 0.21, UpstreamErrors: 0.01}},
	internalErrors: {"own", weights{PortFaulty: 300}},
	noInternal:     {"own", weights{PortFaulty: 0.01}},
	aboveHundred:   {"duplex", weights{DuplexSetting: 0.01}},
	atHundred:      {"duplex", weights{DuplexSetting: 67}},
	blockErrors:    {"block", weights{PortFaulty: 27, AlienCrosstalk: 16}},
	wayErrors:      {"way", weights{Interference: 5.2, CableHeat: 2.9, AlienCrosstalk: 14}},
	errorsBeside: {"beside", weights{DamagedCable: 10, PoorTermination: 4.8, SplitPair: 16, WrongCategory: 2.8, BadCord: 4, OpenPair: 0.18,
		CrossedPair: 0.11, FarEndLimit: 0.025, RecordWrong: 0.075, LoosePlug: 4.6, FarEndFaulty: 0.31, DuplexSetting: 16}},
	cleanBeside: {"beside", weights{DamagedCable: 0.31, PoorTermination: 0.22, SplitPair: 0.11, FarEndFaulty: 0.74, BadCord: 0.15, DuplexSetting: 0.1}},

	linkLost: {"link", weights{LoosePlug: 60, BadCord: 23, DamagedCable: 6.9, PoorTermination: 1.8}},
	// A contact that fails by itself fails by the minute; a cord is moved now and then.
	linkLostOften: {"link", weights{LoosePlug: 300, BadCord: 5.8, DamagedCable: 3, PoorTermination: 1.9}},
	// A segment that is too long makes late collisions too.
	lateCollided: {"duplex", weights{DuplexSetting: 300}},
	endForced:    {"forced", weights{DuplexSetting: 12, SpeedSetting: 5}},
	lateOnly:     {"late", weights{OverLength: 12}},
	fedNow:       {"power", weights{PowerBudget: 0.012, OpenPair: 17, LoosePlug: 0.074, BadCord: 0.56, FarEndFaulty: 8.3, RecordWrong: 0.076, DamagedCable: 0.18, ShortedPair: 1.3, CrossedPair: 4.1}},
	findsNone:    {"power", weights{PowerBudget: 1.2, FarEndFaulty: 0.29, OpenPair: 0.46, DamagedCable: 11, LoosePlug: 1.2}},
	powerAtFault: {"power", weights{ShortedPair: 76, DamagedCable: 9.2, LoosePlug: 0.076, FarEndFaulty: 0.57}},
	neverUp:      {"onset", weights{CrossedPair: 68, OpenPair: 1.5, RecordWrong: 33, DamagedCable: 0.14, LoosePlug: 0.44}},
}

// copperRecord is what a record says that breaks a rule, and the acceptance test. A
// rule that is not here says nothing of causes; a source of interference beside the
// run counts by itself. Groups keep what one mistake in the record does to several
// rules apart.
var copperRecord = map[item]telling{
	ruleBroken(plant.ChannelTooLong):     {"length", weights{OverLength: 79}},
	ruleBroken(plant.LinkTooLong):        {"length", weights{OverLength: 28}},
	ruleBroken(plant.CordsTooLong):       {"cords", weights{OverLength: 9.2, BadCord: 1.9}},
	ruleBroken(plant.TooHot):             {"heat", weights{CableHeat: 40, OverLength: 5.8}},
	ruleBroken(plant.CategoryTooLow):     {"category", weights{WrongCategory: 40}},
	ruleBroken(plant.CordCategoryTooLow): {"category", weights{WrongCategory: 40, BadCord: 5.8}},
	ruleBroken(plant.SpeedNotCarried):    {"category", weights{WrongCategory: 40, OverLength: 5.8}},
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
	wiredSo(plant.WireMiswired): {"wire map", weights{CrossedPair: 120}},
	wiredSo(plant.WireSplit):    {"wire map", weights{SplitPair: 230}},
	testPassed:                  {"test", weights{PoorTermination: 1.3, OverLength: 0.52, OpenPair: 0.58}},
}
