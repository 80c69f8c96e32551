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
	fibreErrors: {DirtyConnector: 43, BentFibre: 7.9, LooseOptic: 7, FailingTransmitter: 1.5, FailingReceiver: 5.1,
		LossOverBudget: 19, WrongFibre: 3.3, ReceiverOverload: 13, FarEndFaulty: 0.21, PortFaulty: 0.022},
	assemblyErrors: {BadCord: 55, LooseOptic: 20, FarEndFaulty: 13, PortFaulty: 12},
	fibreFlaps: {LooseOptic: 41, DirtyConnector: 17, BentFibre: 13, FailingTransmitter: 9.2, WrongFibre: 4.6, LossOverBudget: 4.6,
		FarEndFaulty: 5.5, PortFaulty: 3.7, BrokenStrand: 1.8},
	assemblyFlaps: {BadCord: 45, LooseOptic: 33, FarEndFaulty: 13, PortFaulty: 9},
	fibreNoLink: {BrokenStrand: 53, ReversedPolarity: 3.4, OpticMismatch: 17, DirtyConnector: 0.66, BentFibre: 0.5, WrongFibre: 12,
		LossOverBudget: 0.1, FailingTransmitter: 0.5, FailingReceiver: 0.15, LooseOptic: 0.31, FECMismatch: 4.6, PortShut: 5.9, FarEndFaulty: 0.32,
		PortFaulty: 0.4, SpeedSetting: 0.27, RecordWrong: 0.12},
	assemblyNoLink: {BadCord: 40, LooseOptic: 25, FarEndFaulty: 20, PortFaulty: 8, OpticMismatch: 5, RecordWrong: 2},
	lightLow: {DirtyConnector: 61, BentFibre: 10, FailingTransmitter: 5.3, LooseOptic: 2.4, LossOverBudget: 17, WrongFibre: 2.3,
		OpticMismatch: 2, FailingReceiver: 0.25},
	lightDark: {BrokenStrand: 85, ReversedPolarity: 1.7, FailingTransmitter: 2.9, PortShut: 2.8, FarEndFaulty: 2.4, LooseOptic: 1.5,
		DirtyConnector: 2.8, FailingReceiver: 0.96},
	lightHigh: {ReceiverOverload: 80, OpticMismatch: 10, RecordWrong: 6, FailingReceiver: 4},
	lossHigh: {DirtyConnector: 76, BentFibre: 12, LossOverBudget: 1.4, LooseOptic: 6.1, WrongFibre: 2.5, OpticMismatch: 1.3,
		FailingReceiver: 0.43, FailingTransmitter: 0.43},
}

// fibreTells is what the items say of a fibre run, or of an assembly.
var fibreTells = map[item]telling{
	neverUp: {"onset", weights{ReversedPolarity: 180, RecordWrong: 5.2, LossOverBudget: 1, OpticMismatch: 1, WrongFibre: 13, DirtyConnector: 0.58,
		PortShut: 0.37, PortFaulty: 0.5, FarEndFaulty: 0.49, BrokenStrand: 0.091, LooseOptic: 0.3, BentFibre: 0.15, FailingTransmitter: 0.1,
		FailingReceiver: 0.1}},
	sinceNew: {"onset", weights{BadCord: 0.5, LossOverBudget: 8, ReversedPolarity: 8, WrongFibre: 4, ReceiverOverload: 4, RecordWrong: 2,
		PortFaulty: 0.3, FarEndFaulty: 0.3, DirtyConnector: 0.4, OpticMismatch: 0.5, BentFibre: 0.2, FailingTransmitter: 0.1,
		FailingReceiver: 0.1, LooseOptic: 0.2, BrokenStrand: 0.3}},
	// Nobody mended it: what came with the laying.
	sinceBefore: {"onset", weights{BadCord: 0.8, FarEndLimit: 2, RecordWrong: 2.5, LossOverBudget: 2, ReversedPolarity: 3, WrongFibre: 2,
		ReceiverOverload: 2, OpticMismatch: 0.7, BentFibre: 0.8, FailingTransmitter: 0.5, FailingReceiver: 0.5,
		LooseOptic: 0.7, BrokenStrand: 0.5}},
	sincePatched: {"onset", weights{BadCord: 5, FarEndLimit: 3, DirtyConnector: 16, WrongFibre: 9.1, OpticMismatch: 9.7, ReversedPolarity: 3.9,
		ReceiverOverload: 7.9, LooseOptic: 0.34, FECMismatch: 0.3, FarEndFaulty: 0.29, PortFaulty: 0.16, BentFibre: 0.11, BrokenStrand: 0.15,
		FailingTransmitter: 0.1, FailingReceiver: 0.08, LossOverBudget: 0.13}},
	sinceRewired: {"onset", weights{BadCord: 0.7, DirtyConnector: 3, WrongFibre: 3.1, ReversedPolarity: 3, LossOverBudget: 2.9, OpticMismatch: 3,
		PortFaulty: 0.2, FarEndFaulty: 0.5, BentFibre: 0.6, FailingTransmitter: 0.2, FailingReceiver: 0.2, LooseOptic: 0.5}},
	afterGood: {"onset", weights{BadCord: 0.5, FarEndLimit: 0.4, BentFibre: 5.8, LooseOptic: 6.7, FailingTransmitter: 3.5, FailingReceiver: 10,
		BrokenStrand: 1.9, PortFaulty: 0.32, FarEndFaulty: 1, PortShut: 1.9, FECMismatch: 5.2, DirtyConnector: 0.041, OpticMismatch: 0.087, ReceiverOverload: 0.17,
		RecordWrong: 0.1, ReversedPolarity: 0.05, LossOverBudget: 0.014, WrongFibre: 0.28}},

	// What comes with the laying shows when the run is new. That it is old says nothing:
	// glass does not age within its life, and whoever patches an old run does the same to it.
	laidLately:    {"onset", weights{ReversedPolarity: 3, WrongFibre: 3, LossOverBudget: 3, ReceiverOverload: 2, OpticMismatch: 2}},
	afterWork:     {"onset", fibreByHands},
	goodAfterWork: {"work", fibreByHands},
	rowConfirmed:  {"row", weights{RecordWrong: 0.5}},
	rowDisputed:   {"row", weights{RecordWrong: 4}},
	notByRecord:   {"row", weights{RecordWrong: 0.02}},

	symbolsWhole:   {"counts", weights{FarEndFaulty: 15, UpstreamErrors: 10}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.05, UpstreamErrors: 0.05}},
	internalErrors: {"own", weights{PortFaulty: 40}},
	noInternal:     {"own", weights{PortFaulty: 0.42}},
	// No link of 25 Gbit/s and up comes up where the ends correct errors differently
	// (IEEE 802.3 clauses 91 and 108); slower ones hardly ever correct any.
	fecSpeed:     {"fec", weights{FECMismatch: 140}},
	belowFEC:     {"fec", weights{FECMismatch: 0.01}},
	blockErrors:  {"block", weights{PortFaulty: 4.3}},
	errorsBeside: {"beside", weights{BadCord: 1.5, FarEndLimit: 0.1, RecordWrong: 0.2, FarEndFaulty: 0.5}},
	cleanBeside:  {"beside", weights{FarEndFaulty: 1.5, BadCord: 0.7}},
	linkLost:     {"link", weights{BadCord: 4, LooseOptic: 180}},

	lightSteady: {"level", weights{FailingReceiver: 1.4, FECMismatch: 7.9, SpeedSetting: 2.4, PortFaulty: 0.44, FarEndFaulty: 1, WrongFibre: 1,
		LooseOptic: 1, FailingTransmitter: 0.049, OpticMismatch: 0.047, PortShut: 0.1, DirtyConnector: 0.01, BentFibre: 0.026, LossOverBudget: 0.059,
		ReceiverOverload: 0.12, ReversedPolarity: 0.02}},
	lightFair: {"level", weights{FailingReceiver: 1.3, FECMismatch: 3, SpeedSetting: 2.9, PortFaulty: 2.6, FarEndFaulty: 1.7, LooseOptic: 0.28,
		FailingTransmitter: 0.27, OpticMismatch: 3.4, DirtyConnector: 0.089, BentFibre: 0.16, LossOverBudget: 0.083, ReceiverOverload: 0.37,
		PortShut: 0.1, ReversedPolarity: 0.03}},
	lightLess: {"level", weights{WrongFibre: 0.27, OpticMismatch: 0.11, FailingReceiver: 0.021, FarEndFaulty: 0.03, PortFaulty: 0.033, FECMismatch: 0.03, SpeedSetting: 0.03,
		PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.038, ReversedPolarity: 0.05, RecordWrong: 0.1}},
	lightUnder: {"level", weights{FailingReceiver: 0.1, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03, SpeedSetting: 0.03, PortShut: 0.02,
		ReceiverOverload: 0.02, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	lightShort: {"level", weights{LossOverBudget: 250, WrongFibre: 1, OpticMismatch: 0.39, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.02, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	// Light for multimode fibre loses 10 dB and more in a core of 9 µm, and a receiver
	// for one wavelength hardly sees the other; dirt and bends seldom take so much.
	lightMuchLess: {"level", weights{WrongFibre: 40, OpticMismatch: 1, LooseOptic: 0.43, FailingTransmitter: 0.3, DirtyConnector: 0.37,
		BentFibre: 0.17, LossOverBudget: 0.1, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.049, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.063, ReversedPolarity: 0.05}},
	lightMuchShort: {"level", weights{WrongFibre: 20, OpticMismatch: 3, LooseOptic: 0.5, FailingTransmitter: 0.3, DirtyConnector: 0.18,
		BentFibre: 0.2, LossOverBudget: 0.27, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.049, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.1, ReversedPolarity: 0.05}},
	// A receiver for one wavelength hardly sees another.
	lightVast: {"level", weights{OpticMismatch: 61, WrongFibre: 1, LooseOptic: 0.3, FailingTransmitter: 0.2, DirtyConnector: 0.073,
		BentFibre: 0.1, LossOverBudget: 0.05, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.05, ReceiverOverload: 0.02, BrokenStrand: 0.2, ReversedPolarity: 0.1}},
	lightOver:   {"level", weights{ReceiverOverload: 300}},
	mayOverload: {"reach", weights{ReceiverOverload: 200}},
	neverOver:   {"reach", weights{ReceiverOverload: 0.016}},
	undimmed:    {"modes", weights{WrongFibre: 0.026}},
	mixable:     {"modes", weights{WrongFibre: 25}},
	longWave:    {"modes", weights{WrongFibre: 0.2}},

	lossOneWay: {"ways", weights{DirtyConnector: 8.6, LooseOptic: 0.75, OpticMismatch: 0.41, LossOverBudget: 0.038, BentFibre: 0.06, WrongFibre: 0.076}},
	lossBothWays: {"ways", weights{BentFibre: 50, LossOverBudget: 3.7, WrongFibre: 2.8, LooseOptic: 2, OpticMismatch: 0.54, BrokenStrand: 0.3,
		DirtyConnector: 0.036, FailingTransmitter: 0.1}},
	lossUnlike: {"ways", weights{OpticMismatch: 5.2, LooseOptic: 2.3, BentFibre: 0.63, WrongFibre: 0.67, LossOverBudget: 0.5, DirtyConnector: 0.4,
		FailingTransmitter: 0.4}},
	goodBefore: {"onset", weights{LossOverBudget: 0.1, WrongFibre: 0.3, ReversedPolarity: 0.5, ReceiverOverload: 0.3, OpticMismatch: 0.5}},
	lossPassed: {"test", weights{LossOverBudget: 0.008, ReversedPolarity: 0.86, WrongFibre: 1}},

	sentFell:   {"sent", weights{FailingTransmitter: 150}},
	sentNone:   {"sent", weights{FailingTransmitter: 30, PortShut: 3, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	sentUsual:  {"sent", weights{FailingTransmitter: 0.039}},
	sentEnough: {"sent", weights{FailingTransmitter: 0.28}},
	biasRose:   {"sent", weights{FailingTransmitter: 15}},
	biasUsual:  {"sent", weights{FailingTransmitter: 0.2}},
	farSends:   {"sent", weights{FailingTransmitter: 0.047, FarEndFaulty: 0.047, PortShut: 0.015}},

	// A plug or an optic that loses contact moves with every breath; dirt and glass lie
	// still.
	lightJumps: {"moves", weights{LooseOptic: 130, BentFibre: 0.63, FailingReceiver: 0.26, DirtyConnector: 0.15, FailingTransmitter: 0.1,
		LossOverBudget: 0.1, WrongFibre: 0.1, OpticMismatch: 0.1}},
	lightStill:   {"moves", weights{LooseOptic: 0.017}},
	lightCrept:   {"sent", weights{FailingTransmitter: 26, BentFibre: 0.061, DirtyConnector: 0.1, LooseOptic: 0.13, LossOverBudget: 0.1, WrongFibre: 0.03, OpticMismatch: 0.03}},
	lightStepped: {"sent", weights{FailingTransmitter: 0.03}},

	modelsDiffer: {"optics", weights{OpticMismatch: 140}},
	modelsAlike:  {"optics", weights{OpticMismatch: 0.22}},
	opticSwapped: {"optics", weights{OpticMismatch: 24, DirtyConnector: 1, FailingTransmitter: 0.5}},
	farOpticGone: {"optics", weights{LooseOptic: 3.2}},

	receivesNone: {"lit", weights{FECMismatch: 0.03, SpeedSetting: 0.048, PortFaulty: 0.09, OpticMismatch: 0.66, LossOverBudget: 0.048, WrongFibre: 0.19,
		BentFibre: 0.12, DirtyConnector: 0.2, FailingReceiver: 0.26, BrokenStrand: 1, ReversedPolarity: 3.5, FailingTransmitter: 0.78, PortShut: 4.9,
		FarEndFaulty: 1}},
	receivesSome: {"lit", weights{ReversedPolarity: 0.03, PortShut: 0.05}},
	bothSteady:   {"both", weights{FECMismatch: 5, SpeedSetting: 2.8, BrokenStrand: 0.02, ReversedPolarity: 0.02, DirtyConnector: 0.2, BentFibre: 0.2}},
	bothSendDark: {"polarity", weights{ReversedPolarity: 0.57, FailingReceiver: 0.1}},
	bothDark: {"polarity", weights{ReversedPolarity: 1.3, DirtyConnector: 0.12, LooseOptic: 0.29, FailingReceiver: 0.05, FailingTransmitter: 0.05,
		PortShut: 0.1, FarEndFaulty: 0.2}},
	oneDark: {"polarity", weights{ReversedPolarity: 0.019, BrokenStrand: 1.8}},
}

// fibreRecord is what a record says that breaks a rule.
var fibreRecord = map[item]telling{
	ruleBroken(plant.OpticDamage):      {"overload", weights{ReceiverOverload: 20, FailingReceiver: 3}},
	ruleBroken(plant.ReceiverOverload): {"overload", weights{ReceiverOverload: 35}},
	ruleBroken(plant.OpticsDisagree):   {"optics", weights{OpticMismatch: 13}},
	ruleBroken(plant.OpticTooSlow):     {"optics", weights{OpticMismatch: 5}},
	ruleBroken(plant.OpticWrongFibre):  {"fibre", weights{WrongFibre: 15}},
	ruleBroken(plant.MixedFibre):       {"fibre", weights{WrongFibre: 15}},
	ruleBroken(plant.MixedGrades):      {"fibre", weights{WrongFibre: 3}},
	ruleBroken(plant.FibreTooLong):     {"budget", weights{LossOverBudget: 10}},
	ruleBroken(plant.LossOverBudget):   {"budget", weights{LossOverBudget: 8.9}},
	ruleBroken(plant.TestFailed):       {"test", weights{LossOverBudget: 5}},
}
