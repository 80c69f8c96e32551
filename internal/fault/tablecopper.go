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
	copperFellBack: {OpenPair: 30, SpeedSetting: 3.6, OverLength: 0.1, FarEndLimit: 45, RecordWrong: 6.3, BadCord: 2.5, ShortedPair: 2.9, CrossedPair: 4.6, DamagedCable: 2.5,
		PoorTermination: 0.67, SplitPair: 0.94, WrongCategory: 0.41, PortFaulty: 0.1, FarEndFaulty: 0.12, DuplexSetting: 0.19},
	copperTrained: {RecordWrong: 4.5, FarEndLimit: 8.7, PoorTermination: 19, WrongCategory: 25, BadCord: 19, AlienCrosstalk: 11,
		OverLength: 5.7, CableHeat: 2.1, DamagedCable: 2.1, PortFaulty: 2.1},
	copperErrors: {BadCord: 19, PoorTermination: 27, DamagedCable: 7.8, Interference: 4.4, PortFaulty: 3, OverLength: 23, SplitPair: 2.4,
		CableHeat: 3.2, AlienCrosstalk: 2.7, ShieldBroken: 3.6, FarEndFaulty: 2.5, LoosePlug: 0.41, WrongCategory: 1.3, DuplexSetting: 0.23},
	copperFlaps: {LoosePlug: 67, BadCord: 20, FarEndFaulty: 8.7, DamagedCable: 1.7, PortFaulty: 1.8, PoorTermination: 1.2, ShieldBroken: 0.21, Interference: 0.21},
	copperNoLink: {PowerBudget: 52, FarEndFaulty: 7.9, DamagedCable: 12, OpenPair: 11, LoosePlug: 3.8, ShortedPair: 5.5, BadCord: 3.3, CrossedPair: 2.5, PortFaulty: 1.1,
		RecordWrong: 0.47, SpeedSetting: 0.46},
	powerShort:    {ShortedPair: 71, DamagedCable: 14, FarEndFaulty: 9, BadCord: 4.3, PoorTermination: 1.3, PortFaulty: 0.71},
	powerOverload: {FarEndFaulty: 65, DamagedCable: 11, ShortedPair: 8.7, BadCord: 8.7, PortFaulty: 6.1},
	duplexDiffers: {DuplexSetting: 90, SpeedSetting: 4.3, FarEndFaulty: 3.7, PortFaulty: 1.7, OverLength: 0.28},
}

// copperTells is what the items say of a copper run.
var copperTells = map[item]telling{
	sourcesNear:   {"outside", weights{Interference: 7.4}},
	followTraffic: {"follows", weights{Interference: 0.18, ShieldBroken: 0.17, LoosePlug: 0.42}},
	followTime: {"follows", weights{Interference: 5.4,
		ShieldBroken: 9.4, LoosePlug: 1.9, PoorTermination: 0.48, OverLength: 0.32, SplitPair: 0.34, FarEndFaulty: 0.33}},
	silentNow: {"bursts", weights{Interference: 0.84,
		ShieldBroken: 0.42, LoosePlug: 1.6, PoorTermination: 0.32, OverLength: 0.31, PortFaulty: 0.22, DamagedCable: 0.18}},
	inBursts:  {"bursts", weights{Interference: 2, ShieldBroken: 1.8, LoosePlug: 1.8, PoorTermination: 0.5, OverLength: 0.56}},
	keepHours: {"hours", weights{Interference: 210, ShieldBroken: 8.8, CableHeat: 3.2, PoorTermination: 0.44}},
	shortBursts: {"bursts", weights{Interference: 21, ShieldBroken: 14, LoosePlug: 2.3, PoorTermination: 0.14, OverLength: 0.15, SplitPair: 0.15,
		CableHeat: 0.076, PortFaulty: 0.17, FarEndFaulty: 0.23, DamagedCable: 0.12, BadCord: 3.7}},
	noShortBursts:  {"bursts", weights{Interference: 0.11, ShieldBroken: 0.15, LoosePlug: 0.071}},
	struckTogether: {"company", weights{Interference: 17, ShieldBroken: 0.15, AlienCrosstalk: 3, CableHeat: 0.34, DamagedCable: 0.15, BadCord: 0.15, LoosePlug: 0.15}},
	struckAlone:    {"company", weights{Interference: 0.16, ShieldBroken: 1.4}},
	fewDamaged: {"share", weights{Interference: 0.83, ShieldBroken: 0.92, CableHeat: 4.7, LoosePlug: 1.2, SplitPair: 0.84, PortFaulty: 1.1, FarEndFaulty: 1.3,
		BadCord: 0.76, PoorTermination: 0.82, OverLength: 0.56, DamagedCable: 0.41, AlienCrosstalk: 0.8, WrongCategory: 1.4}},
	someDamaged: {"share", weights{Interference: 0.84, ShieldBroken: 1.6, CableHeat: 0.92, LoosePlug: 1, SplitPair: 1.7, PortFaulty: 0.96, FarEndFaulty: 1.3,
		BadCord: 0.8, PoorTermination: 1.2, OverLength: 1, DamagedCable: 0.98, AlienCrosstalk: 2.4, WrongCategory: 1.1}},
	manyDamaged: {"share", weights{Interference: 0.64, ShieldBroken: 0.68, CableHeat: 0.3, LoosePlug: 0.83, SplitPair: 2.6, PortFaulty: 0.78, FarEndFaulty: 1.7,
		BadCord: 0.83, PoorTermination: 1, OverLength: 1.6, DamagedCable: 1.1, AlienCrosstalk: 1.1, WrongCategory: 1.8}},
	evenHours: {"levels", weights{PoorTermination: 4.8, OverLength: 0.65, SplitPair: 3.1, WrongCategory: 3.1, PortFaulty: 2.4, FarEndFaulty: 1.7, BadCord: 0.022, CableHeat: 0.027, Interference: 0.13, ShieldBroken: 0.13, LoosePlug: 0.14}},
	unevenHours: {"levels", weights{BadCord: 3, CableHeat: 6.2, DamagedCable: 5.1, Interference: 2.5, ShieldBroken: 2, PoorTermination: 0.22,
		OverLength: 0.59, SplitPair: 0.23, PortFaulty: 0.083, FarEndFaulty: 0.14}},
	warmHours: {"hours", weights{CableHeat: 1.3, Interference: 0.88, ShieldBroken: 2}},
	nightToo:  {"hours", weights{CableHeat: 0.018, Interference: 0.043, ShieldBroken: 0.042}},
	// Who negotiates has no duplex of its own set (IEEE 802.3 28.2.3.1).
	bothNegotiate: {"forced", weights{DuplexSetting: 0.01, SpeedSetting: 0.018}},
	slowBeside: {"slow", weights{PoorTermination: 0.86, BadCord: 4.8, DamagedCable: 3.7, SplitPair: 3.1, PortFaulty: 0.11, FarEndFaulty: 0.064,
		Interference: 0.069, ShieldBroken: 0.074, LoosePlug: 0.32}},
	anotherDevice: {"device", weights{FarEndLimit: 29, OpenPair: 0.22, DamagedCable: 0.15}},
	sameDevice:    {"device", weights{FarEndLimit: 0.01, RecordWrong: 0.15}},
	heldBefore:    {"device", weights{FarEndLimit: 0.01, RecordWrong: 0.01, WrongCategory: 0.074, OverLength: 0.15}},
	otherRow:      {"rows", weights{RecordWrong: 280}},
	laidLately:    {"onset", weights{PoorTermination: 3, SplitPair: 5.8, CrossedPair: 18, OverLength: 5.8, WrongCategory: 5.8}},
	laidLongAgo:   {"age", weights{CrossedPair: 3.3, SplitPair: 0.61}},
	wideMargin:    {"test", weights{PoorTermination: 0.29, SplitPair: 0.39, OverLength: 0.27, CableHeat: 0.57}},
	slimMargin:    {"test", weights{PoorTermination: 1.5, OverLength: 2.3, CableHeat: 0.54}},
	neighbourCame: {"neighbour", weights{AlienCrosstalk: 140}},
	powerLost:     {"drawn", weights{LoosePlug: 4.5, FarEndFaulty: 0.33, BadCord: 1.4}},
	failedNearly:  {"test", weights{PoorTermination: 8, OverLength: 4.3, SplitPair: 0.37}},
	failedFar:     {"test", weights{SplitPair: 34, PoorTermination: 0.13, OverLength: 0.13, CrossedPair: 3}},
	midByRecord:   {"length", weights{OverLength: 0.077}},
	fedAlong:      {"fed", weights{FarEndFaulty: 3.4, OpenPair: 1.9}},
	fedAnew:       {"fed", weights{FarEndFaulty: 0.064, OpenPair: 1.7}},
	shortByRecord: {"length", weights{OverLength: 0.019, CableHeat: 0.26}},
	longByRecord:  {"length", weights{OverLength: 25, CableHeat: 11}},
	screened:      {"screen", weights{ShieldBroken: 7.5, Interference: 0.03, AlienCrosstalk: 0.17, CableHeat: 1.3}},
	unscreened:    {"screen", weights{ShieldBroken: 0.044}},
	passedTest:    {"test", weights{PoorTermination: 0.23, OverLength: 0.38, OpenPair: 0.53, SplitPair: 0.44, CrossedPair: 0.36, WrongCategory: 0.75}},
	multiGigabit:  {"speed", weights{AlienCrosstalk: 33, WrongCategory: 190, OverLength: 13}},
	gigabitOrLess: {"speed", weights{AlienCrosstalk: 0.01}},

	sinceNew: {"onset", weights{SplitPair: 89, CrossedPair: 90, OverLength: 36, WrongCategory: 9.7, PoorTermination: 11, BadCord: 0.19,
		DamagedCable: 0.072, Interference: 0.076, ShieldBroken: 0.076, LoosePlug: 0.14, CableHeat: 0.14, PortFaulty: 0.093, FarEndFaulty: 0.15,
		RecordWrong: 2.8, OpenPair: 0.27, ShortedPair: 0.32, FarEndLimit: 0.88, AlienCrosstalk: 0.12}},
	sincePatched: {"onset", weights{BadCord: 19, WrongCategory: 18, OpenPair: 20, FarEndLimit: 8.2, DamagedCable: 0.06, Interference: 0.071,
		ShieldBroken: 0.072, CableHeat: 0.072, PortFaulty: 0.062, FarEndFaulty: 0.33, OverLength: 0.064, SplitPair: 0.13, PoorTermination: 0.13,
		RecordWrong: 0.072, ShortedPair: 0.074, CrossedPair: 0.13}},
	sinceToday: {"onset", weights{BadCord: 26, LoosePlug: 1.8, WrongCategory: 1.6, DamagedCable: 2, Interference: 0.2, ShieldBroken: 0.2,
		CableHeat: 0.21, PortFaulty: 0.2, FarEndFaulty: 0.33, OverLength: 0.14}},
	sinceRewired: {"onset", weights{PoorTermination: 8.8, SplitPair: 69, CrossedPair: 15, BadCord: 0.43, DamagedCable: 0.13, Interference: 0.076, ShieldBroken: 0.14, CableHeat: 0.075, PortFaulty: 0.06, FarEndFaulty: 0.33, OverLength: 0.19, OpenPair: 6.6, ShortedPair: 1.4}},
	// Nobody mended it: what came with the laying, or what is around. Any fault may have
	// been there on the day when watching begins.
	sinceBefore: {"onset", weights{OverLength: 3.5, WrongCategory: 3, SplitPair: 2.5, PoorTermination: 2, RecordWrong: 3.5, FarEndLimit: 3.5,
		Interference: 2, ShieldBroken: 2, CableHeat: 2.5, DamagedCable: 0.8, BadCord: 0.8, LoosePlug: 0.8, OpenPair: 0.9, ShortedPair: 0.6,
		CrossedPair: 0.8}},
	afterGood: {"onset", weights{DamagedCable: 3, Interference: 7.8, ShieldBroken: 6.7, CableHeat: 20, LoosePlug: 1.8, PortFaulty: 1.9,
		FarEndFaulty: 1.7, BadCord: 0.17, PoorTermination: 0.011, OverLength: 0.01, WrongCategory: 0.012, SplitPair: 0.01, CrossedPair: 0.01,
		FarEndLimit: 0.093, RecordWrong: 0.01, ShortedPair: 2.9, AlienCrosstalk: 5.8}},

	// A PHY that fails to train takes speeds off its offer, so that less is weak.
	farOffersLess:  {"offers", weights{FarEndLimit: 5.7, RecordWrong: 12}},
	farOffersMeant: {"offers", weights{FarEndLimit: 0.01, RecordWrong: 0.025}},

	farCouldMore: {"offers", weights{FarEndLimit: 0.029, RecordWrong: 0.024}},

	symbolsWhole:   {"counts", weights{DuplexSetting: 50, FarEndFaulty: 120, PortFaulty: 300, UpstreamErrors: 40}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.01, PortFaulty: 0.21, UpstreamErrors: 0.01}},
	internalErrors: {"own", weights{PortFaulty: 300}},
	noInternal:     {"own", weights{PortFaulty: 0.01}},
	aboveHundred:   {"duplex", weights{DuplexSetting: 0.01}},
	atHundred:      {"duplex", weights{DuplexSetting: 71}},
	blockErrors:    {"block", weights{PortFaulty: 27, AlienCrosstalk: 17}},
	wayErrors:      {"way", weights{Interference: 4.3, CableHeat: 3.1, AlienCrosstalk: 14}},
	errorsBeside: {"beside", weights{DamagedCable: 10, PoorTermination: 4.7, SplitPair: 17, WrongCategory: 2.8, BadCord: 4, OpenPair: 0.17,
		CrossedPair: 0.12, FarEndLimit: 0.025, RecordWrong: 0.075, LoosePlug: 4.6, FarEndFaulty: 0.31, DuplexSetting: 16}},
	cleanBeside: {"beside", weights{DamagedCable: 0.33, PoorTermination: 0.2, SplitPair: 0.087, FarEndFaulty: 0.79, BadCord: 0.16, DuplexSetting: 0.1}},

	linkLost: {"link", weights{LoosePlug: 59, BadCord: 22, DamagedCable: 6.6, PoorTermination: 1.8}},
	// A contact that fails by itself fails by the minute; a cord is moved now and then.
	linkLostOften: {"link", weights{LoosePlug: 300, BadCord: 5.8, DamagedCable: 3, PoorTermination: 1.9}},
	// A segment that is too long makes late collisions too.
	lateCollided: {"duplex", weights{DuplexSetting: 300}},
	endForced:    {"forced", weights{DuplexSetting: 12, SpeedSetting: 5}},
	lateOnly:     {"late", weights{OverLength: 12}},
	fedNow:       {"power", weights{PowerBudget: 0.012, OpenPair: 21, LoosePlug: 0.074, BadCord: 0.56, FarEndFaulty: 8.1, RecordWrong: 0.076, DamagedCable: 0.18, ShortedPair: 1.3, CrossedPair: 3.5}},
	findsNone:    {"power", weights{PowerBudget: 1.1, FarEndFaulty: 0.29, OpenPair: 0.46, DamagedCable: 11, LoosePlug: 1.2}},
	powerAtFault: {"power", weights{ShortedPair: 76, DamagedCable: 9.2, LoosePlug: 0.076, FarEndFaulty: 0.57}},
	neverUp:      {"onset", weights{CrossedPair: 89, OpenPair: 1.2, RecordWrong: 33, DamagedCable: 0.14, LoosePlug: 0.44}},
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
	ruleBroken(plant.CategoryTooLow):     {"category", weights{WrongCategory: 38}},
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
	testPassed:                  {"test", weights{PoorTermination: 1.3, OverLength: 0.53, OpenPair: 0.43}},
}
