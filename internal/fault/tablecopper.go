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
	copperFellBack: {OpenPair: 28, SpeedSetting: 3.6, OverLength: 0.11, FarEndLimit: 46, RecordWrong: 6.3, BadCord: 2.2, ShortedPair: 2.8, CrossedPair: 6.1, DamagedCable: 2.6,
		PoorTermination: 0.68, SplitPair: 0.97, WrongCategory: 0.41, PortFaulty: 0.1, FarEndFaulty: 0.11, DuplexSetting: 0.19},
	copperTrained: {RecordWrong: 4.5, FarEndLimit: 8.7, PoorTermination: 19, WrongCategory: 25, BadCord: 19, AlienCrosstalk: 11,
		OverLength: 5.7, CableHeat: 2.1, DamagedCable: 2.1, PortFaulty: 2.1},
	copperErrors: {BadCord: 16, PoorTermination: 25, DamagedCable: 8.7, Interference: 13, PortFaulty: 3.4, OverLength: 17, SplitPair: 2.2,
		CableHeat: 2.9, AlienCrosstalk: 2.9, ShieldBroken: 3.3, FarEndFaulty: 3, LoosePlug: 1.2, WrongCategory: 1.2, DuplexSetting: 0.26},
	copperFlaps: {LoosePlug: 66, BadCord: 20, FarEndFaulty: 8.9, DamagedCable: 1.7, PortFaulty: 1.9, PoorTermination: 1.3, ShieldBroken: 0.22, Interference: 0.22},
	copperNoLink: {PowerBudget: 52, FarEndFaulty: 6.9, DamagedCable: 12, OpenPair: 12, LoosePlug: 3.7, ShortedPair: 5.1, BadCord: 3.1, CrossedPair: 3.7, PortFaulty: 1.1,
		RecordWrong: 0.46, SpeedSetting: 0.45},
	powerShort:    {ShortedPair: 71, DamagedCable: 14, FarEndFaulty: 9, BadCord: 4.4, PoorTermination: 1.3, PortFaulty: 0.71},
	powerOverload: {FarEndFaulty: 65, DamagedCable: 11, ShortedPair: 8.7, BadCord: 8.7, PortFaulty: 6.1},
	duplexDiffers: {DuplexSetting: 90, SpeedSetting: 4.3, FarEndFaulty: 3.7, PortFaulty: 1.7, OverLength: 0.28},
}

// copperTells is what the items say of a copper run.
var copperTells = map[item]telling{
	sourcesNear:   {"outside", weights{Interference: 95}},
	followTraffic: {"follows", weights{Interference: 0.17, ShieldBroken: 0.15, LoosePlug: 0.41}},
	followTime: {"follows", weights{Interference: 5.2,
		ShieldBroken: 9.5, LoosePlug: 1.8, PoorTermination: 0.49, OverLength: 0.32, SplitPair: 0.34, FarEndFaulty: 0.33}},
	silentNow: {"bursts", weights{Interference: 1,
		ShieldBroken: 1, LoosePlug: 1.5, PoorTermination: 0.32, OverLength: 0.31, PortFaulty: 0.22, DamagedCable: 0.19}},
	inBursts:  {"bursts", weights{Interference: 1.9, ShieldBroken: 1.8, LoosePlug: 2.2, PoorTermination: 0.48, OverLength: 0.54}},
	keepHours: {"hours", weights{Interference: 210, ShieldBroken: 9, CableHeat: 3.2, PoorTermination: 0.44}},
	shortBursts: {"bursts", weights{Interference: 12, ShieldBroken: 11, LoosePlug: 1.9, PoorTermination: 0.13, OverLength: 0.15, SplitPair: 0.14,
		CableHeat: 0.06, PortFaulty: 0.17, FarEndFaulty: 0.23, DamagedCable: 0.1, BadCord: 1}},
	noShortBursts:   {"bursts", weights{Interference: 0.1, ShieldBroken: 0.17, LoosePlug: 0.065}},
	struckTogether:  {"company", weights{Interference: 17, ShieldBroken: 0.15, AlienCrosstalk: 3, CableHeat: 0.34, DamagedCable: 0.15, BadCord: 0.15, LoosePlug: 0.15}},
	struckAlone:     {"company", weights{Interference: 0.16, ShieldBroken: 1.4}},
	struckWithPorts: {"company", weights{Interference: 8, ShieldBroken: 0.2, AlienCrosstalk: 3, CableHeat: 0.4, DamagedCable: 0.2, BadCord: 0.2, LoosePlug: 0.2}},
	struckWithNone:  {"company", weights{Interference: 0.25, ShieldBroken: 1.3}},
	fewDamaged: {"share", weights{Interference: 1, ShieldBroken: 1, CableHeat: 4.8, LoosePlug: 1.1, SplitPair: 0.84, PortFaulty: 1.1, FarEndFaulty: 1.3,
		BadCord: 0.75, PoorTermination: 0.81, OverLength: 0.55, DamagedCable: 0.41, AlienCrosstalk: 0.78, WrongCategory: 1}},
	someDamaged: {"share", weights{Interference: 1, ShieldBroken: 2, CableHeat: 1, LoosePlug: 1, SplitPair: 1.8, PortFaulty: 1, FarEndFaulty: 1.3,
		BadCord: 1, PoorTermination: 1.3, OverLength: 1.1, DamagedCable: 1.1, AlienCrosstalk: 2.5, WrongCategory: 1.2}},
	manyDamaged: {"share", weights{Interference: 0.63, ShieldBroken: 0.69, CableHeat: 0.3, LoosePlug: 0.81, SplitPair: 2.7, PortFaulty: 0.67, FarEndFaulty: 1,
		BadCord: 1, PoorTermination: 1.1, OverLength: 1.7, DamagedCable: 1.1, AlienCrosstalk: 1.1, WrongCategory: 2}},
	evenHours: {"levels", weights{PoorTermination: 5.5, OverLength: 1, SplitPair: 3.6, WrongCategory: 3.5, PortFaulty: 2.4, FarEndFaulty: 1.7, BadCord: 0.022, CableHeat: 0.027, Interference: 0.13, ShieldBroken: 0.13, LoosePlug: 0.14}},
	unevenHours: {"levels", weights{BadCord: 3.2, CableHeat: 6.2, DamagedCable: 5.3, Interference: 2.4, ShieldBroken: 2, PoorTermination: 0.22,
		OverLength: 0.64, SplitPair: 0.23, PortFaulty: 0.083, FarEndFaulty: 0.14}},
	warmHours: {"hours", weights{CableHeat: 1.3, Interference: 1, ShieldBroken: 2.2}},
	nightToo:  {"hours", weights{CableHeat: 0.018, Interference: 0.043, ShieldBroken: 0.042}},
	// Who negotiates has no duplex of its own set (IEEE 802.3 28.2.3.1).
	bothNegotiate: {"forced", weights{DuplexSetting: 0.01, SpeedSetting: 0.018}},
	slowBeside: {"slow", weights{PoorTermination: 1, BadCord: 4.8, DamagedCable: 3.8, SplitPair: 3.2, PortFaulty: 0.11, FarEndFaulty: 0.066,
		Interference: 0.07, ShieldBroken: 0.075, LoosePlug: 0.32}},
	anotherDevice: {"device", weights{FarEndLimit: 29, OpenPair: 0.23, DamagedCable: 0.15}},
	sameDevice:    {"device", weights{FarEndLimit: 0.01, RecordWrong: 0.15}},
	heldBefore:    {"device", weights{FarEndLimit: 0.01, RecordWrong: 0.01, WrongCategory: 0.074, OverLength: 0.15}},
	otherRow:      {"rows", weights{RecordWrong: 280}},
	noneSoFast:    {"rows", weights{RecordWrong: 300, WrongCategory: 0.03, AlienCrosstalk: 0.02, OverLength: 0.1, PoorTermination: 0.2, BadCord: 0.2, DamagedCable: 0.2}},
	laidLately:    {"onset", weights{PoorTermination: 3, SplitPair: 5.8, CrossedPair: 18, OverLength: 5.8, WrongCategory: 5.8}},
	laidLongAgo:   {"age", weights{CrossedPair: 1, SplitPair: 0.55}},
	wideMargin:    {"test", weights{PoorTermination: 0.3, SplitPair: 0.38, OverLength: 0.14, CableHeat: 0.56}},
	slimMargin:    {"test", weights{PoorTermination: 1.6, OverLength: 2.2, CableHeat: 1}},
	neighbourCame: {"neighbour", weights{AlienCrosstalk: 140}},
	powerLost:     {"drawn", weights{LoosePlug: 4.3, FarEndFaulty: 0.33, BadCord: 1.5}},
	failedNearly:  {"test", weights{PoorTermination: 8.9, OverLength: 4.2, SplitPair: 0.36}},
	failedFar:     {"test", weights{SplitPair: 34, PoorTermination: 0.14, OverLength: 0.13, CrossedPair: 3}},
	midByRecord:   {"length", weights{OverLength: 0.077}},
	fedAlong:      {"fed", weights{FarEndFaulty: 3.6, OpenPair: 1}},
	fedAnew:       {"fed", weights{FarEndFaulty: 0.067, OpenPair: 1}},
	shortByRecord: {"length", weights{OverLength: 0.018, CableHeat: 0.25}},
	longByRecord:  {"length", weights{OverLength: 17, CableHeat: 9.6}},
	screened:      {"screen", weights{ShieldBroken: 6.5, Interference: 0.029, AlienCrosstalk: 0.17, CableHeat: 1}},
	unscreened:    {"screen", weights{ShieldBroken: 0.045}},
	passedTest:    {"test", weights{PoorTermination: 0.2, OverLength: 0.42, OpenPair: 0.63, SplitPair: 0.44, CrossedPair: 0.22, WrongCategory: 0.74}},
	multiGigabit:  {"speed", weights{AlienCrosstalk: 32, WrongCategory: 200, OverLength: 13}},
	gigabitOrLess: {"speed", weights{AlienCrosstalk: 0.01}},

	sinceNew: {"onset", weights{SplitPair: 89, CrossedPair: 77, OverLength: 38, WrongCategory: 9.9, PoorTermination: 11, BadCord: 0.21,
		DamagedCable: 0.072, Interference: 0.076, ShieldBroken: 0.076, LoosePlug: 0.14, CableHeat: 0.14, PortFaulty: 0.093, FarEndFaulty: 0.15,
		RecordWrong: 2.8, OpenPair: 0.28, ShortedPair: 0.32, FarEndLimit: 0.89, AlienCrosstalk: 0.12}},
	sincePatched: {"onset", weights{BadCord: 23, WrongCategory: 19, OpenPair: 20, FarEndLimit: 8.3, DamagedCable: 0.06, Interference: 0.061,
		ShieldBroken: 0.07, CableHeat: 0.073, PortFaulty: 0.062, FarEndFaulty: 0.33, OverLength: 0.069, SplitPair: 0.13, PoorTermination: 0.13,
		RecordWrong: 0.072, ShortedPair: 0.074, CrossedPair: 0.14}},
	sinceToday: {"onset", weights{BadCord: 29, LoosePlug: 1.5, WrongCategory: 1.5, DamagedCable: 1, Interference: 0.14, ShieldBroken: 0.18,
		CableHeat: 0.22, PortFaulty: 0.2, FarEndFaulty: 0.33, OverLength: 0.14}},
	sinceRewired: {"onset", weights{PoorTermination: 9.1, SplitPair: 68, CrossedPair: 16, BadCord: 0.42, DamagedCable: 0.13, Interference: 0.075, ShieldBroken: 0.14, CableHeat: 0.075, PortFaulty: 0.06, FarEndFaulty: 0.32, OverLength: 0.19, OpenPair: 6.3, ShortedPair: 1.4}},
	// Nobody mended it: what came with the laying, or what is around. Any fault may have
	// been there on the day when watching begins.
	sinceBefore: {"onset", weights{OverLength: 3.5, WrongCategory: 3, SplitPair: 2.5, PoorTermination: 2, RecordWrong: 3.5, FarEndLimit: 3.5,
		Interference: 2, ShieldBroken: 2, CableHeat: 2.5, DamagedCable: 0.8, BadCord: 0.8, LoosePlug: 0.8, OpenPair: 0.9, ShortedPair: 0.6,
		CrossedPair: 0.8}},
	afterGood: {"onset", weights{DamagedCable: 3.1, Interference: 3.5, ShieldBroken: 6.9, CableHeat: 28, LoosePlug: 1.3, PortFaulty: 1.9,
		FarEndFaulty: 1.7, BadCord: 0.24, PoorTermination: 0.013, OverLength: 0.01, WrongCategory: 0.012, SplitPair: 0.01, CrossedPair: 0.01,
		FarEndLimit: 0.092, RecordWrong: 0.01, ShortedPair: 2.9, AlienCrosstalk: 5.9}},

	// A PHY that fails to train takes speeds off its offer, so that less is weak.
	farOffersLess:  {"offers", weights{FarEndLimit: 5.5, RecordWrong: 12}},
	farOffersMeant: {"offers", weights{FarEndLimit: 0.01, RecordWrong: 0.025}},

	farCouldMore: {"offers", weights{FarEndLimit: 0.029, RecordWrong: 0.024}},

	symbolsWhole:   {"counts", weights{DuplexSetting: 49, FarEndFaulty: 120, PortFaulty: 300, UpstreamErrors: 40}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.01, PortFaulty: 0.21, UpstreamErrors: 0.01}},
	internalErrors: {"own", weights{PortFaulty: 300}},
	noInternal:     {"own", weights{PortFaulty: 0.01}},
	aboveHundred:   {"duplex", weights{DuplexSetting: 0.01}},
	atHundred:      {"duplex", weights{DuplexSetting: 71}},
	blockErrors:    {"block", weights{PortFaulty: 27, AlienCrosstalk: 17}},
	wayErrors:      {"way", weights{Interference: 4, CableHeat: 3.2, AlienCrosstalk: 14}},
	errorsBeside: {"beside", weights{DamagedCable: 9.9, PoorTermination: 4.8, SplitPair: 17, WrongCategory: 2.9, BadCord: 3.8, OpenPair: 0.17,
		CrossedPair: 0.12, FarEndLimit: 0.025, RecordWrong: 0.075, LoosePlug: 4.9, FarEndFaulty: 0.3, DuplexSetting: 16}},
	cleanBeside: {"beside", weights{DamagedCable: 0.33, PoorTermination: 0.2, SplitPair: 0.087, FarEndFaulty: 1, BadCord: 0.15, DuplexSetting: 0.1}},

	linkLost: {"link", weights{LoosePlug: 43, BadCord: 16, DamagedCable: 6.1, PoorTermination: 1.5}},
	// A contact that fails by itself fails by the minute; a cord is moved now and then.
	linkLostOften: {"link", weights{LoosePlug: 300, BadCord: 5.8, DamagedCable: 3, PoorTermination: 1.5}},
	// A segment that is too long makes late collisions too.
	lateCollided: {"duplex", weights{DuplexSetting: 300}},
	endForced:    {"forced", weights{DuplexSetting: 12, SpeedSetting: 5}},
	lateOnly:     {"late", weights{OverLength: 12}},
	fedNow:       {"power", weights{PowerBudget: 0.011, OpenPair: 32, LoosePlug: 0.073, BadCord: 0.54, FarEndFaulty: 6.7, RecordWrong: 0.075, DamagedCable: 0.17, ShortedPair: 1.2, CrossedPair: 3.3}},
	findsNone:    {"power", weights{PowerBudget: 1.1, FarEndFaulty: 0.29, OpenPair: 0.42, DamagedCable: 11, LoosePlug: 1.2}},
	powerAtFault: {"power", weights{ShortedPair: 76, DamagedCable: 9.2, LoosePlug: 0.076, FarEndFaulty: 0.57}},
	neverUp:      {"onset", weights{CrossedPair: 53, OpenPair: 9.1, RecordWrong: 33, DamagedCable: 0.14, LoosePlug: 0.44}},
}

// copperRecord is what a record says that breaks a rule, and the acceptance test. A
// rule that is not here says nothing of causes; a source of interference beside the
// run counts by itself. Groups keep what one mistake in the record does to several
// rules apart.
var copperRecord = map[item]telling{
	ruleBroken(plant.ChannelTooLong):     {"length", weights{OverLength: 80}},
	ruleBroken(plant.LinkTooLong):        {"length", weights{OverLength: 28}},
	ruleBroken(plant.CordsTooLong):       {"cords", weights{OverLength: 9.2, BadCord: 1.9}},
	ruleBroken(plant.TooHot):             {"heat", weights{CableHeat: 40, OverLength: 5.8}},
	ruleBroken(plant.CategoryTooLow):     {"category", weights{WrongCategory: 39}},
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
	wiredSo(plant.WireMiswired): {"wire map", weights{CrossedPair: 140}},
	wiredSo(plant.WireSplit):    {"wire map", weights{SplitPair: 230}},
	testPassed:                  {"test", weights{PoorTermination: 1, OverLength: 0.76, OpenPair: 0.44}},
}
