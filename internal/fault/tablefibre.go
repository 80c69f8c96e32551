package fault

import "toneout/internal/plant"

const (
	fibreSlow      prior = "slow fibre"
	fibreErrors    prior = "errors on fibre"
	assemblyErrors prior = "errors on an assembly"
	fibreFlaps     prior = "flaps on fibre"
	assemblyFlaps  prior = "flaps on an assembly"
	fibreNoLink    prior = "no link on fibre"
	assemblyNoLink prior = "no link on an assembly"
	lightLow       prior = "little light"
	lightDark      prior = "no light"
	lightHigh      prior = "much light"
	lossHigh       prior = "much loss"
)

var fibrePriors = map[prior]weights{
	fibreSlow: {OpticMismatch: 55, SpeedSetting: 25, PortFaulty: 10, RecordWrong: 10},
	fibreErrors: {DirtyConnector: 45, LooseOptic: 12, BentFibre: 12, FailingTransmitter: 10,
		FailingReceiver: 8, LossOverBudget: 6, WrongFibre: 4, FarEndFaulty: 3},
	assemblyErrors: {BadCord: 55, LooseOptic: 20, FarEndFaulty: 13, PortFaulty: 12},
	fibreFlaps: {LooseOptic: 33, DirtyConnector: 20, BentFibre: 14, FailingTransmitter: 10, FarEndFaulty: 9,
		PortFaulty: 6, LossOverBudget: 5, BrokenStrand: 3},
	assemblyFlaps: {BadCord: 45, LooseOptic: 33, FarEndFaulty: 13, PortFaulty: 9},
	fibreNoLink: {BrokenStrand: 26, LooseOptic: 15, FarEndFaulty: 14, DirtyConnector: 12, FailingTransmitter: 11,
		BentFibre: 8, PortFaulty: 4, OpticMismatch: 3, FECMismatch: 2, SpeedSetting: 3, ReversedPolarity: 2, RecordWrong: 2},
	assemblyNoLink: {BadCord: 40, LooseOptic: 25, FarEndFaulty: 20, PortFaulty: 8, OpticMismatch: 5, RecordWrong: 2},
	lightLow: {DirtyConnector: 40, BentFibre: 15, FailingTransmitter: 12, LooseOptic: 10, LossOverBudget: 8,
		WrongFibre: 4, FailingReceiver: 4, OpticMismatch: 4, BrokenStrand: 3},
	lightDark: {BrokenStrand: 45, LooseOptic: 15, FailingTransmitter: 12, FarEndFaulty: 10, DirtyConnector: 8,
		FailingReceiver: 5, ReversedPolarity: 5},
	lightHigh: {ReceiverOverload: 80, OpticMismatch: 10, RecordWrong: 6, FailingReceiver: 4},
	lossHigh: {DirtyConnector: 42, BentFibre: 20, LossOverBudget: 12, LooseOptic: 10, WrongFibre: 6,
		FailingReceiver: 5, FailingTransmitter: 1},
}

// fibreTells is what the items say of a fibre run, or of an assembly.
var fibreTells = map[item]telling{
	sinceNew: {"onset", weights{BadCord: 0.5,
		PortFaulty: 0.3, FarEndFaulty: 0.3, RecordWrong: 2, WrongFibre: 5, LossOverBudget: 6, OpticMismatch: 3, ReversedPolarity: 10,
		BentFibre: 0.4, FailingTransmitter: 0.2, FailingReceiver: 0.3, BrokenStrand: 0.4}},
	sincePatched: {"onset", weights{BadCord: 5,
		FarEndLimit: 3, PortFaulty: 0.2, FarEndFaulty: 0.4, DirtyConnector: 3, WrongFibre: 3, OpticMismatch: 2, ReversedPolarity: 4,
		BentFibre: 0.5, FailingTransmitter: 0.2, FailingReceiver: 0.2}},
	sinceRewired: {"onset", weights{BadCord: 0.7, PortFaulty: 0.2, FarEndFaulty: 0.5, DirtyConnector: 2}},
	sinceBefore:  {"onset", weights{RecordWrong: 5, FarEndLimit: 4, LossOverBudget: 5, WrongFibre: 3, BadCord: 0.7}},
	afterGood: {"onset", weights{PortFaulty: 2,
		FarEndFaulty: 2, BadCord: 0.5, FarEndLimit: 0.4, RecordWrong: 0.1, LossOverBudget: 0.1, WrongFibre: 0.1,
		ReversedPolarity: 0.05, OpticMismatch: 0.1, DirtyConnector: 0.4, BentFibre: 1.5, LooseOptic: 1.5, FailingTransmitter: 1.5,
		FailingReceiver: 1.5}},

	symbolsWhole:   {"counts", weights{FarEndFaulty: 15, UpstreamErrors: 10}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.05, UpstreamErrors: 0.05}},
	internalErrors: {"own", weights{PortFaulty: 40}},
	noInternal:     {"own", weights{PortFaulty: 0.5}},
	// No link of 25 Gbit/s and up comes up where the ends correct errors differently
	// (IEEE 802.3 clauses 91 and 108); slower ones hardly ever correct any.
	fecSpeed:     {"fec", weights{FECMismatch: 10}},
	belowFEC:     {"fec", weights{FECMismatch: 0.01}},
	blockErrors:  {"block", weights{PortFaulty: 5}},
	errorsBeside: {"beside", weights{BadCord: 1.5, FarEndLimit: 0.1, RecordWrong: 0.2, FarEndFaulty: 0.5}},
	cleanBeside:  {"beside", weights{FarEndFaulty: 1.5, BadCord: 0.7}},

	linkLostLit:  {"link", weights{LooseOptic: 6}},
	linkLost:     {"link", weights{BadCord: 4, LooseOptic: 8}},
	neverUp:      {"onset", weights{RecordWrong: 9, ReversedPolarity: 15, OpticMismatch: 8, BrokenStrand: 0.4, BentFibre: 0.4}},
	receivesNone: {"lit", weights{FECMismatch: 0.05, BrokenStrand: 2, ReversedPolarity: 2, SpeedSetting: 0.2, OpticMismatch: 0.5}},
	receivesSome: {"lit", weights{SpeedSetting: 6,
		OpticMismatch: 4, FECMismatch: 6, PortFaulty: 3, BrokenStrand: 0.1, LooseOptic: 0.5, ReversedPolarity: 0.1, WrongFibre: 3}},

	sentFell:       {"sent", weights{FailingTransmitter: 10}},
	sentEnough:     {"sent", weights{FailingTransmitter: 0.3}},
	lossOneWay:     {"ways", weights{DirtyConnector: 3, BentFibre: 0.4, LossOverBudget: 0.3}},
	lossBothWays:   {"ways", weights{BentFibre: 6, DirtyConnector: 0.5, WrongFibre: 4}},
	lossMuch:       {"much", weights{WrongFibre: 8, BentFibre: 0.5, DirtyConnector: 0.3, LossOverBudget: 0.3, FailingTransmitter: 0.5}},
	lightChanged:   {"onset", weights{LossOverBudget: 0.1, WrongFibre: 0.5, OpticMismatch: 0.3}},
	lossLaid:       {"onset", weights{LossOverBudget: 10, BentFibre: 3, WrongFibre: 3, DirtyConnector: 0.5}},
	lossLaidPassed: {"test", weights{LossOverBudget: 0.15, WrongFibre: 0.3}},
	lightSteady: {"light", weights{DirtyConnector: 0.4,
		BentFibre: 0.2, LossOverBudget: 0.2, FailingTransmitter: 0.7, FailingReceiver: 3, WrongFibre: 2}},
	farSends:     {"sends", weights{FailingTransmitter: 0.1, FarEndFaulty: 0.1}},
	litBefore:    {"onset", weights{ReversedPolarity: 0.6}},
	bothSendDark: {"polarity", weights{ReversedPolarity: 30}},
	bothDark: {"polarity", weights{ReversedPolarity: 5,
		BrokenStrand: 0.5, DirtyConnector: 0.2, BentFibre: 0.5, FailingReceiver: 0.1, FailingTransmitter: 0.1}},
	oneDark:      {"polarity", weights{ReversedPolarity: 0.02, BrokenStrand: 2}},
	farOpticGone: {"optic", weights{LooseOptic: 4}},
}

// fibreRecord is what a record says that breaks a rule.
var fibreRecord = map[item]telling{
	ruleBroken(plant.OpticDamage):      {"overload", weights{ReceiverOverload: 20, FailingReceiver: 3}},
	ruleBroken(plant.ReceiverOverload): {"overload", weights{ReceiverOverload: 20}},
	ruleBroken(plant.OpticsDisagree):   {"optics", weights{OpticMismatch: 20}},
	ruleBroken(plant.OpticTooSlow):     {"optics", weights{OpticMismatch: 5}},
	ruleBroken(plant.OpticWrongFibre):  {"fibre", weights{WrongFibre: 15}},
	ruleBroken(plant.MixedFibre):       {"fibre", weights{WrongFibre: 15}},
	ruleBroken(plant.MixedGrades):      {"fibre", weights{WrongFibre: 3}},
	ruleBroken(plant.FibreTooLong):     {"budget", weights{LossOverBudget: 10}},
	ruleBroken(plant.LossOverBudget):   {"budget", weights{LossOverBudget: 10}},
}
