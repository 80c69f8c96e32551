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
	fibreErrors: {DirtyConnector: 16, BentFibre: 9.2, LooseOptic: 12, FailingTransmitter: 7.2, FailingReceiver: 9.6,
		LossOverBudget: 24, WrongFibre: 8, ReceiverOverload: 12, FarEndFaulty: 0.85, PortFaulty: 0.71},
	assemblyErrors: {BadCord: 55, LooseOptic: 20, FarEndFaulty: 13, PortFaulty: 12},
	fibreFlaps: {LooseOptic: 41, DirtyConnector: 17, BentFibre: 13, FailingTransmitter: 9.2, WrongFibre: 4.6, LossOverBudget: 4.6,
		FarEndFaulty: 5.5, PortFaulty: 3.7, BrokenStrand: 1.8},
	assemblyFlaps: {BadCord: 45, LooseOptic: 33, FarEndFaulty: 13, PortFaulty: 9},
	fibreNoLink: {BrokenStrand: 18, ReversedPolarity: 9.2, OpticMismatch: 24, DirtyConnector: 3.5, BentFibre: 2.6, WrongFibre: 27,
		LossOverBudget: 1.4, FailingTransmitter: 2, FailingReceiver: 0.48, LooseOptic: 1.5, FECMismatch: 4.1, PortShut: 2.2, FarEndFaulty: 1.1,
		PortFaulty: 1.3, SpeedSetting: 0.8, RecordWrong: 0.39},
	assemblyNoLink: {BadCord: 40, LooseOptic: 25, FarEndFaulty: 20, PortFaulty: 8, OpticMismatch: 5, RecordWrong: 2},
	lightLow: {DirtyConnector: 46, BentFibre: 13, FailingTransmitter: 8, LooseOptic: 8.2, LossOverBudget: 15, WrongFibre: 6.7,
		OpticMismatch: 3.1, FailingReceiver: 0.53},
	lightDark: {BrokenStrand: 34, ReversedPolarity: 29, FailingTransmitter: 8.3, PortShut: 8.3, FarEndFaulty: 6.9, LooseOptic: 6.9,
		DirtyConnector: 4.2, FailingReceiver: 2.8},
	lightHigh: {ReceiverOverload: 80, OpticMismatch: 10, RecordWrong: 6, FailingReceiver: 4},
	lossHigh: {DirtyConnector: 40, BentFibre: 15, LossOverBudget: 14, LooseOptic: 16, WrongFibre: 10, OpticMismatch: 3,
		FailingReceiver: 1, FailingTransmitter: 1},
}

// fibreTells is what the items say of a fibre run, or of an assembly.
var fibreTells = map[item]telling{
	neverUp: {"onset", weights{ReversedPolarity: 29, RecordWrong: 5.6, LossOverBudget: 3.8, OpticMismatch: 1.7, WrongFibre: 3.1, DirtyConnector: 0.59,
		PortShut: 0.48, PortFaulty: 0.5, FarEndFaulty: 0.49, BrokenStrand: 0.16, LooseOptic: 0.3, BentFibre: 0.15, FailingTransmitter: 0.1,
		FailingReceiver: 0.1}},
	sinceNew: {"onset", weights{BadCord: 0.5, LossOverBudget: 8, ReversedPolarity: 8, WrongFibre: 4, ReceiverOverload: 4, RecordWrong: 2,
		PortFaulty: 0.3, FarEndFaulty: 0.3, DirtyConnector: 0.4, OpticMismatch: 0.5, BentFibre: 0.2, FailingTransmitter: 0.1,
		FailingReceiver: 0.1, LooseOptic: 0.2, BrokenStrand: 0.3}},
	// Nobody mended it: what came with the laying.
	sinceBefore: {"onset", weights{BadCord: 0.8, FarEndLimit: 2, RecordWrong: 2.5, LossOverBudget: 2, ReversedPolarity: 3, WrongFibre: 2,
		ReceiverOverload: 2, OpticMismatch: 0.7, BentFibre: 0.8, FailingTransmitter: 0.5, FailingReceiver: 0.5,
		LooseOptic: 0.7, BrokenStrand: 0.5}},
	sincePatched: {"onset", weights{BadCord: 5, FarEndLimit: 3, DirtyConnector: 20, WrongFibre: 3.2, OpticMismatch: 6.9, ReversedPolarity: 3.9,
		ReceiverOverload: 6, LooseOptic: 0.35, FECMismatch: 0.3, FarEndFaulty: 0.29, PortFaulty: 0.18, BentFibre: 0.17, BrokenStrand: 0.17,
		FailingTransmitter: 0.1, FailingReceiver: 0.074, LossOverBudget: 0.28}},
	sinceRewired: {"onset", weights{BadCord: 0.7, DirtyConnector: 3, WrongFibre: 3, ReversedPolarity: 3, LossOverBudget: 3, OpticMismatch: 3,
		PortFaulty: 0.2, FarEndFaulty: 0.5, BentFibre: 0.6, FailingTransmitter: 0.2, FailingReceiver: 0.2, LooseOptic: 0.5}},
	afterGood: {"onset", weights{BadCord: 0.5, FarEndLimit: 0.4, BentFibre: 5.4, LooseOptic: 4.7, FailingTransmitter: 3.8, FailingReceiver: 2.9,
		BrokenStrand: 3.2, PortFaulty: 0.97, FarEndFaulty: 1.1, PortShut: 2, FECMismatch: 3.9, DirtyConnector: 0.07, OpticMismatch: 0.09, ReceiverOverload: 0.13,
		RecordWrong: 0.1, ReversedPolarity: 0.05, LossOverBudget: 0.025, WrongFibre: 0.078}},

	symbolsWhole:   {"counts", weights{FarEndFaulty: 15, UpstreamErrors: 10}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.05, UpstreamErrors: 0.05}},
	internalErrors: {"own", weights{PortFaulty: 40}},
	noInternal:     {"own", weights{PortFaulty: 0.41}},
	// No link of 25 Gbit/s and up comes up where the ends correct errors differently
	// (IEEE 802.3 clauses 91 and 108); slower ones hardly ever correct any.
	fecSpeed:     {"fec", weights{FECMismatch: 41}},
	belowFEC:     {"fec", weights{FECMismatch: 0.01}},
	blockErrors:  {"block", weights{PortFaulty: 5}},
	errorsBeside: {"beside", weights{BadCord: 1.5, FarEndLimit: 0.1, RecordWrong: 0.2, FarEndFaulty: 0.5}},
	cleanBeside:  {"beside", weights{FarEndFaulty: 1.5, BadCord: 0.7}},
	linkLost:     {"link", weights{BadCord: 4, LooseOptic: 6.7}},

	lightSteady: {"level", weights{FailingReceiver: 4, FECMismatch: 5.8, SpeedSetting: 2.4, PortFaulty: 0.9, FarEndFaulty: 1.1, WrongFibre: 0.76,
		LooseOptic: 0.61, FailingTransmitter: 0.058, OpticMismatch: 0.047, PortShut: 0.1, DirtyConnector: 0.015, BentFibre: 0.034, LossOverBudget: 0.056,
		ReceiverOverload: 0.058, ReversedPolarity: 0.02}},
	lightFair: {"level", weights{FailingReceiver: 1.6, FECMismatch: 3, SpeedSetting: 2.9, PortFaulty: 2.7, FarEndFaulty: 1.8, LooseOptic: 0.39,
		FailingTransmitter: 0.28, OpticMismatch: 0.88, DirtyConnector: 0.23, BentFibre: 0.18, LossOverBudget: 0.077, ReceiverOverload: 0.19,
		PortShut: 0.1, ReversedPolarity: 0.03}},
	lightLess: {"level", weights{WrongFibre: 0.14, OpticMismatch: 0.26, FailingReceiver: 0.036, FarEndFaulty: 0.03, PortFaulty: 0.049, FECMismatch: 0.03, SpeedSetting: 0.03,
		PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.049, ReversedPolarity: 0.05, RecordWrong: 0.1}},
	lightUnder: {"level", weights{FailingReceiver: 0.1, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03, SpeedSetting: 0.03, PortShut: 0.02,
		ReceiverOverload: 0.02, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	lightShort: {"level", weights{LossOverBudget: 18, WrongFibre: 0.24, OpticMismatch: 0.4, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	// Light for multimode fibre loses 10 dB and more in a core of 9 µm, and a receiver
	// for one wavelength hardly sees the other; dirt and bends seldom take so much.
	lightMuchLess: {"level", weights{WrongFibre: 12, OpticMismatch: 1.1, LooseOptic: 0.4, FailingTransmitter: 0.3, DirtyConnector: 0.62,
		BentFibre: 0.18, LossOverBudget: 0.1, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.085, ReversedPolarity: 0.05}},
	lightMuchShort: {"level", weights{WrongFibre: 16, OpticMismatch: 2.3, LooseOptic: 0.5, FailingTransmitter: 0.3, DirtyConnector: 0.27,
		BentFibre: 0.3, LossOverBudget: 0.18, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.1, ReversedPolarity: 0.05}},
	// A receiver for one wavelength hardly sees another.
	lightVast: {"level", weights{OpticMismatch: 29, WrongFibre: 1.2, LooseOptic: 0.3, FailingTransmitter: 0.2, DirtyConnector: 0.085,
		BentFibre: 0.1, LossOverBudget: 0.05, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.05, ReceiverOverload: 0.02, BrokenStrand: 0.2, ReversedPolarity: 0.1}},
	lightOver:   {"level", weights{ReceiverOverload: 210}},
	mayOverload: {"reach", weights{ReceiverOverload: 32}},
	neverOver:   {"reach", weights{ReceiverOverload: 0.019}},
	undimmed:    {"modes", weights{WrongFibre: 0.027}},
	mixable:     {"modes", weights{WrongFibre: 8.4}},
	longWave:    {"modes", weights{WrongFibre: 0.2}},

	lossOneWay: {"ways", weights{DirtyConnector: 4.1, LooseOptic: 0.45, OpticMismatch: 0.24, LossOverBudget: 0.15, BentFibre: 0.066, WrongFibre: 0.089}},
	lossBothWays: {"ways", weights{BentFibre: 4.1, LossOverBudget: 5.3, WrongFibre: 4.5, LooseOptic: 1.3, OpticMismatch: 0.65, BrokenStrand: 0.3,
		DirtyConnector: 0.092, FailingTransmitter: 0.1}},
	lossUnlike: {"ways", weights{OpticMismatch: 5.1, LooseOptic: 2.1, BentFibre: 0.68, WrongFibre: 0.68, LossOverBudget: 0.5, DirtyConnector: 0.4,
		FailingTransmitter: 0.4}},
	goodBefore: {"onset", weights{LossOverBudget: 0.1, WrongFibre: 0.3, ReversedPolarity: 0.5, ReceiverOverload: 0.3, OpticMismatch: 0.5}},
	lossPassed: {"test", weights{LossOverBudget: 0.15, ReversedPolarity: 1.3, WrongFibre: 0.48}},

	sentFell:   {"sent", weights{FailingTransmitter: 72}},
	sentNone:   {"sent", weights{FailingTransmitter: 30, PortShut: 3, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	sentUsual:  {"sent", weights{FailingTransmitter: 0.038}},
	sentEnough: {"sent", weights{FailingTransmitter: 0.29}},
	biasRose:   {"sent", weights{FailingTransmitter: 15}},
	biasUsual:  {"sent", weights{FailingTransmitter: 0.2}},
	farSends:   {"sent", weights{FailingTransmitter: 0.05, FarEndFaulty: 0.05, PortShut: 0.02}},

	// A plug or an optic that loses contact moves with every breath; dirt and glass lie
	// still.
	lightJumps: {"moves", weights{LooseOptic: 51, BentFibre: 0.8, FailingReceiver: 0.29, DirtyConnector: 0.15, FailingTransmitter: 0.1,
		LossOverBudget: 0.1, WrongFibre: 0.1, OpticMismatch: 0.1}},
	lightStill:   {"moves", weights{LooseOptic: 0.027}},
	lightCrept:   {"sent", weights{FailingTransmitter: 20, BentFibre: 0.1, DirtyConnector: 0.1, LooseOptic: 0.1, LossOverBudget: 0.1, WrongFibre: 0.03, OpticMismatch: 0.03}},
	lightStepped: {"sent", weights{FailingTransmitter: 0.049}},

	modelsDiffer: {"optics", weights{OpticMismatch: 77}},
	modelsAlike:  {"optics", weights{OpticMismatch: 0.14}},
	opticSwapped: {"optics", weights{OpticMismatch: 17, DirtyConnector: 1.5, FailingTransmitter: 0.5}},
	farOpticGone: {"optics", weights{LooseOptic: 3}},

	receivesNone: {"lit", weights{FECMismatch: 0.03, SpeedSetting: 0.049, PortFaulty: 0.093, OpticMismatch: 0.25, LossOverBudget: 0.048, WrongFibre: 0.13,
		BentFibre: 0.12, DirtyConnector: 0.12, FailingReceiver: 0.28, BrokenStrand: 3.7, ReversedPolarity: 4.4, FailingTransmitter: 0.76, PortShut: 1.7,
		FarEndFaulty: 1.1}},
	receivesSome: {"lit", weights{ReversedPolarity: 0.03, PortShut: 0.05}},
	bothSteady:   {"both", weights{FECMismatch: 5.1, SpeedSetting: 2.8, BrokenStrand: 0.02, ReversedPolarity: 0.02, DirtyConnector: 0.2, BentFibre: 0.2}},
	bothSendDark: {"polarity", weights{ReversedPolarity: 10, FailingReceiver: 0.1}},
	bothDark: {"polarity", weights{ReversedPolarity: 2.3, DirtyConnector: 0.1, LooseOptic: 0.29, FailingReceiver: 0.05, FailingTransmitter: 0.05,
		PortShut: 0.1, FarEndFaulty: 0.2}},
	oneDark: {"polarity", weights{ReversedPolarity: 0.019, BrokenStrand: 1.8}},
}

// fibreRecord is what a record says that breaks a rule.
var fibreRecord = map[item]telling{
	ruleBroken(plant.OpticDamage):      {"overload", weights{ReceiverOverload: 20, FailingReceiver: 3}},
	ruleBroken(plant.ReceiverOverload): {"overload", weights{ReceiverOverload: 25}},
	ruleBroken(plant.OpticsDisagree):   {"optics", weights{OpticMismatch: 20}},
	ruleBroken(plant.OpticTooSlow):     {"optics", weights{OpticMismatch: 5}},
	ruleBroken(plant.OpticWrongFibre):  {"fibre", weights{WrongFibre: 15}},
	ruleBroken(plant.MixedFibre):       {"fibre", weights{WrongFibre: 15}},
	ruleBroken(plant.MixedGrades):      {"fibre", weights{WrongFibre: 3}},
	ruleBroken(plant.FibreTooLong):     {"budget", weights{LossOverBudget: 10}},
	ruleBroken(plant.LossOverBudget):   {"budget", weights{LossOverBudget: 7.2}},
	ruleBroken(plant.TestFailed):       {"test", weights{LossOverBudget: 5}},
}
