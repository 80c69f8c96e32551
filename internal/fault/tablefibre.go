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
	fibreErrors: {DirtyConnector: 49, BentFibre: 8.1, LooseOptic: 9.8, FailingTransmitter: 4.3, FailingReceiver: 5.4,
		LossOverBudget: 9.6, WrongFibre: 3.1, ReceiverOverload: 10, FarEndFaulty: 0.57, PortFaulty: 0.48},
	assemblyErrors: {BadCord: 55, LooseOptic: 20, FarEndFaulty: 13, PortFaulty: 12},
	fibreFlaps: {LooseOptic: 41, DirtyConnector: 17, BentFibre: 13, FailingTransmitter: 9.2, WrongFibre: 4.6, LossOverBudget: 4.6,
		FarEndFaulty: 5.5, PortFaulty: 3.7, BrokenStrand: 1.8},
	assemblyFlaps: {BadCord: 45, LooseOptic: 33, FarEndFaulty: 13, PortFaulty: 9},
	fibreNoLink: {BrokenStrand: 58, ReversedPolarity: 7, OpticMismatch: 10, DirtyConnector: 2.1, BentFibre: 1.5, WrongFibre: 11,
		LossOverBudget: 0.81, FailingTransmitter: 1.3, FailingReceiver: 0.36, LooseOptic: 0.98, FECMismatch: 3.3, PortShut: 1.5, FarEndFaulty: 0.76,
		PortFaulty: 0.84, SpeedSetting: 0.56, RecordWrong: 0.27},
	assemblyNoLink: {BadCord: 40, LooseOptic: 25, FarEndFaulty: 20, PortFaulty: 8, OpticMismatch: 5, RecordWrong: 2},
	lightLow: {DirtyConnector: 55, BentFibre: 15, FailingTransmitter: 6.7, LooseOptic: 7.3, LossOverBudget: 9.5, WrongFibre: 3.7,
		OpticMismatch: 2.4, FailingReceiver: 0.43},
	lightDark: {BrokenStrand: 81, ReversedPolarity: 3.6, FailingTransmitter: 3.7, PortShut: 3.7, FarEndFaulty: 3.1, LooseOptic: 2.3,
		DirtyConnector: 1.8, FailingReceiver: 1.2},
	lightHigh: {ReceiverOverload: 80, OpticMismatch: 10, RecordWrong: 6, FailingReceiver: 4},
	lossHigh: {DirtyConnector: 60, BentFibre: 20, LossOverBudget: 2.4, LooseOptic: 8.6, WrongFibre: 5.7, OpticMismatch: 1.9,
		FailingReceiver: 0.64, FailingTransmitter: 0.64},
}

// fibreTells is what the items say of a fibre run, or of an assembly.
var fibreTells = map[item]telling{
	neverUp: {"onset", weights{ReversedPolarity: 30, RecordWrong: 5.5, LossOverBudget: 3.6, OpticMismatch: 1.9, WrongFibre: 3.4, DirtyConnector: 0.59,
		PortShut: 0.48, PortFaulty: 0.5, FarEndFaulty: 0.49, BrokenStrand: 0.13, LooseOptic: 0.3, BentFibre: 0.15, FailingTransmitter: 0.1,
		FailingReceiver: 0.1}},
	sinceNew: {"onset", weights{BadCord: 0.5, LossOverBudget: 8, ReversedPolarity: 8, WrongFibre: 4, ReceiverOverload: 4, RecordWrong: 2,
		PortFaulty: 0.3, FarEndFaulty: 0.3, DirtyConnector: 0.4, OpticMismatch: 0.5, BentFibre: 0.2, FailingTransmitter: 0.1,
		FailingReceiver: 0.1, LooseOptic: 0.2, BrokenStrand: 0.3}},
	// Nobody mended it: what came with the laying.
	sinceBefore: {"onset", weights{BadCord: 0.8, FarEndLimit: 2, RecordWrong: 2.5, LossOverBudget: 2, ReversedPolarity: 3, WrongFibre: 2,
		ReceiverOverload: 2, OpticMismatch: 0.7, BentFibre: 0.8, FailingTransmitter: 0.5, FailingReceiver: 0.5,
		LooseOptic: 0.7, BrokenStrand: 0.5}},
	sincePatched: {"onset", weights{BadCord: 5, FarEndLimit: 3, DirtyConnector: 13, WrongFibre: 4.3, OpticMismatch: 7.8, ReversedPolarity: 3.9,
		ReceiverOverload: 6.6, LooseOptic: 0.36, FECMismatch: 0.3, FarEndFaulty: 0.29, PortFaulty: 0.18, BentFibre: 0.15, BrokenStrand: 0.15,
		FailingTransmitter: 0.1, FailingReceiver: 0.081, LossOverBudget: 0.29}},
	sinceRewired: {"onset", weights{BadCord: 0.7, DirtyConnector: 3, WrongFibre: 3, ReversedPolarity: 3, LossOverBudget: 3, OpticMismatch: 3,
		PortFaulty: 0.2, FarEndFaulty: 0.5, BentFibre: 0.6, FailingTransmitter: 0.2, FailingReceiver: 0.2, LooseOptic: 0.5}},
	afterGood: {"onset", weights{BadCord: 0.5, FarEndLimit: 0.4, BentFibre: 4.4, LooseOptic: 5, FailingTransmitter: 4.4, FailingReceiver: 3.7,
		BrokenStrand: 1.6, PortFaulty: 1, FarEndFaulty: 1.1, PortShut: 2, FECMismatch: 4.5, DirtyConnector: 0.041, OpticMismatch: 0.093, ReceiverOverload: 0.15,
		RecordWrong: 0.1, ReversedPolarity: 0.05, LossOverBudget: 0.033, WrongFibre: 0.094}},

	symbolsWhole:   {"counts", weights{FarEndFaulty: 15, UpstreamErrors: 10}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.05, UpstreamErrors: 0.05}},
	internalErrors: {"own", weights{PortFaulty: 40}},
	noInternal:     {"own", weights{PortFaulty: 0.42}},
	// No link of 25 Gbit/s and up comes up where the ends correct errors differently
	// (IEEE 802.3 clauses 91 and 108); slower ones hardly ever correct any.
	fecSpeed:     {"fec", weights{FECMismatch: 47}},
	belowFEC:     {"fec", weights{FECMismatch: 0.01}},
	blockErrors:  {"block", weights{PortFaulty: 5}},
	errorsBeside: {"beside", weights{BadCord: 1.5, FarEndLimit: 0.1, RecordWrong: 0.2, FarEndFaulty: 0.5}},
	cleanBeside:  {"beside", weights{FarEndFaulty: 1.5, BadCord: 0.7}},
	linkLost:     {"link", weights{BadCord: 4, LooseOptic: 59}},

	lightSteady: {"level", weights{FailingReceiver: 4.4, FECMismatch: 6.7, SpeedSetting: 2.6, PortFaulty: 1, FarEndFaulty: 1.2, WrongFibre: 0.89,
		LooseOptic: 0.59, FailingTransmitter: 0.061, OpticMismatch: 0.049, PortShut: 0.1, DirtyConnector: 0.011, BentFibre: 0.036, LossOverBudget: 0.061,
		ReceiverOverload: 0.057, ReversedPolarity: 0.02}},
	lightFair: {"level", weights{FailingReceiver: 1.8, FECMismatch: 3, SpeedSetting: 2.9, PortFaulty: 2.7, FarEndFaulty: 1.8, LooseOptic: 0.33,
		FailingTransmitter: 0.28, OpticMismatch: 1, DirtyConnector: 0.15, BentFibre: 0.18, LossOverBudget: 0.086, ReceiverOverload: 0.21,
		PortShut: 0.1, ReversedPolarity: 0.03}},
	lightLess: {"level", weights{WrongFibre: 0.15, OpticMismatch: 0.25, FailingReceiver: 0.037, FarEndFaulty: 0.03, PortFaulty: 0.049, FECMismatch: 0.03, SpeedSetting: 0.03,
		PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.047, ReversedPolarity: 0.05, RecordWrong: 0.1}},
	lightUnder: {"level", weights{FailingReceiver: 0.1, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03, SpeedSetting: 0.03, PortShut: 0.02,
		ReceiverOverload: 0.02, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	lightShort: {"level", weights{LossOverBudget: 73, WrongFibre: 0.26, OpticMismatch: 0.4, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	// Light for multimode fibre loses 10 dB and more in a core of 9 µm, and a receiver
	// for one wavelength hardly sees the other; dirt and bends seldom take so much.
	lightMuchLess: {"level", weights{WrongFibre: 14, OpticMismatch: 1.1, LooseOptic: 0.4, FailingTransmitter: 0.3, DirtyConnector: 0.58,
		BentFibre: 0.18, LossOverBudget: 0.1, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.071, ReversedPolarity: 0.05}},
	lightMuchShort: {"level", weights{WrongFibre: 20, OpticMismatch: 2.4, LooseOptic: 0.5, FailingTransmitter: 0.3, DirtyConnector: 0.27,
		BentFibre: 0.25, LossOverBudget: 0.17, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.1, ReversedPolarity: 0.05}},
	// A receiver for one wavelength hardly sees another.
	lightVast: {"level", weights{OpticMismatch: 29, WrongFibre: 1.2, LooseOptic: 0.3, FailingTransmitter: 0.2, DirtyConnector: 0.086,
		BentFibre: 0.1, LossOverBudget: 0.05, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.05, ReceiverOverload: 0.02, BrokenStrand: 0.2, ReversedPolarity: 0.1}},
	lightOver:   {"level", weights{ReceiverOverload: 210}},
	mayOverload: {"reach", weights{ReceiverOverload: 34}},
	neverOver:   {"reach", weights{ReceiverOverload: 0.018}},
	undimmed:    {"modes", weights{WrongFibre: 0.028}},
	mixable:     {"modes", weights{WrongFibre: 16}},
	longWave:    {"modes", weights{WrongFibre: 0.2}},

	lossOneWay: {"ways", weights{DirtyConnector: 7.2, LooseOptic: 0.49, OpticMismatch: 0.25, LossOverBudget: 0.071, BentFibre: 0.071, WrongFibre: 0.088}},
	lossBothWays: {"ways", weights{BentFibre: 26, LossOverBudget: 6.9, WrongFibre: 2.2, LooseOptic: 1, OpticMismatch: 0.63, BrokenStrand: 0.3,
		DirtyConnector: 0.051, FailingTransmitter: 0.1}},
	lossUnlike: {"ways", weights{OpticMismatch: 5.1, LooseOptic: 2.1, BentFibre: 0.67, WrongFibre: 0.68, LossOverBudget: 0.5, DirtyConnector: 0.4,
		FailingTransmitter: 0.4}},
	goodBefore: {"onset", weights{LossOverBudget: 0.1, WrongFibre: 0.3, ReversedPolarity: 0.5, ReceiverOverload: 0.3, OpticMismatch: 0.5}},
	lossPassed: {"test", weights{LossOverBudget: 0.015, ReversedPolarity: 1, WrongFibre: 0.38}},

	sentFell:   {"sent", weights{FailingTransmitter: 73}},
	sentNone:   {"sent", weights{FailingTransmitter: 30, PortShut: 3, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	sentUsual:  {"sent", weights{FailingTransmitter: 0.04}},
	sentEnough: {"sent", weights{FailingTransmitter: 0.29}},
	biasRose:   {"sent", weights{FailingTransmitter: 15}},
	biasUsual:  {"sent", weights{FailingTransmitter: 0.2}},
	farSends:   {"sent", weights{FailingTransmitter: 0.048, FarEndFaulty: 0.048, PortShut: 0.019}},

	// A plug or an optic that loses contact moves with every breath; dirt and glass lie
	// still.
	lightJumps: {"moves", weights{LooseOptic: 56, BentFibre: 1, FailingReceiver: 0.29, DirtyConnector: 0.15, FailingTransmitter: 0.1,
		LossOverBudget: 0.1, WrongFibre: 0.1, OpticMismatch: 0.1}},
	lightStill:   {"moves", weights{LooseOptic: 0.024}},
	lightCrept:   {"sent", weights{FailingTransmitter: 20, BentFibre: 0.1, DirtyConnector: 0.1, LooseOptic: 0.1, LossOverBudget: 0.1, WrongFibre: 0.03, OpticMismatch: 0.03}},
	lightStepped: {"sent", weights{FailingTransmitter: 0.05}},

	modelsDiffer: {"optics", weights{OpticMismatch: 80}},
	modelsAlike:  {"optics", weights{OpticMismatch: 0.13}},
	opticSwapped: {"optics", weights{OpticMismatch: 19, DirtyConnector: 1.5, FailingTransmitter: 0.5}},
	farOpticGone: {"optics", weights{LooseOptic: 3.2}},

	receivesNone: {"lit", weights{FECMismatch: 0.03, SpeedSetting: 0.049, PortFaulty: 0.094, OpticMismatch: 0.42, LossOverBudget: 0.048, WrongFibre: 0.18,
		BentFibre: 0.13, DirtyConnector: 0.12, FailingReceiver: 0.28, BrokenStrand: 1.3, ReversedPolarity: 4.3, FailingTransmitter: 1, PortShut: 2,
		FarEndFaulty: 1.2}},
	receivesSome: {"lit", weights{ReversedPolarity: 0.03, PortShut: 0.05}},
	bothSteady:   {"both", weights{FECMismatch: 5, SpeedSetting: 2.8, BrokenStrand: 0.02, ReversedPolarity: 0.02, DirtyConnector: 0.2, BentFibre: 0.2}},
	bothSendDark: {"polarity", weights{ReversedPolarity: 1, FailingReceiver: 0.1}},
	bothDark: {"polarity", weights{ReversedPolarity: 4, DirtyConnector: 0.1, LooseOptic: 0.29, FailingReceiver: 0.05, FailingTransmitter: 0.05,
		PortShut: 0.1, FarEndFaulty: 0.2}},
	oneDark: {"polarity", weights{ReversedPolarity: 0.019, BrokenStrand: 1.6}},
}

// fibreRecord is what a record says that breaks a rule.
var fibreRecord = map[item]telling{
	ruleBroken(plant.OpticDamage):      {"overload", weights{ReceiverOverload: 20, FailingReceiver: 3}},
	ruleBroken(plant.ReceiverOverload): {"overload", weights{ReceiverOverload: 28}},
	ruleBroken(plant.OpticsDisagree):   {"optics", weights{OpticMismatch: 20}},
	ruleBroken(plant.OpticTooSlow):     {"optics", weights{OpticMismatch: 5}},
	ruleBroken(plant.OpticWrongFibre):  {"fibre", weights{WrongFibre: 15}},
	ruleBroken(plant.MixedFibre):       {"fibre", weights{WrongFibre: 15}},
	ruleBroken(plant.MixedGrades):      {"fibre", weights{WrongFibre: 3}},
	ruleBroken(plant.FibreTooLong):     {"budget", weights{LossOverBudget: 10}},
	ruleBroken(plant.LossOverBudget):   {"budget", weights{LossOverBudget: 8.8}},
	ruleBroken(plant.TestFailed):       {"test", weights{LossOverBudget: 5}},
}
