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
	fibreErrors: {DirtyConnector: 38, BentFibre: 13, LooseOptic: 12, FailingTransmitter: 7, FailingReceiver: 18,
		LossOverBudget: 9, WrongFibre: 8, ReceiverOverload: 5, FarEndFaulty: 2, PortFaulty: 2},
	assemblyErrors: {BadCord: 55, LooseOptic: 20, FarEndFaulty: 13, PortFaulty: 12},
	fibreFlaps: {LooseOptic: 45, DirtyConnector: 18, BentFibre: 14, FailingTransmitter: 10, WrongFibre: 5, LossOverBudget: 5,
		FarEndFaulty: 6, PortFaulty: 4, BrokenStrand: 2},
	assemblyFlaps: {BadCord: 45, LooseOptic: 33, FarEndFaulty: 13, PortFaulty: 9},
	fibreNoLink: {BrokenStrand: 20, ReversedPolarity: 8, OpticMismatch: 10, DirtyConnector: 12, BentFibre: 8, WrongFibre: 8,
		LossOverBudget: 3, FailingTransmitter: 8, FailingReceiver: 1.5, LooseOptic: 8, FECMismatch: 4, PortShut: 5, FarEndFaulty: 4,
		PortFaulty: 3, SpeedSetting: 2, RecordWrong: 1},
	assemblyNoLink: {BadCord: 40, LooseOptic: 25, FarEndFaulty: 20, PortFaulty: 8, OpticMismatch: 5, RecordWrong: 2},
	lightLow: {DirtyConnector: 40, BentFibre: 17, FailingTransmitter: 14, LooseOptic: 14, LossOverBudget: 12, WrongFibre: 10,
		OpticMismatch: 6, FailingReceiver: 1},
	lightDark: {BrokenStrand: 36, ReversedPolarity: 14, FailingTransmitter: 6, PortShut: 6, FarEndFaulty: 5, LooseOptic: 5,
		DirtyConnector: 3, FailingReceiver: 2},
	lightHigh: {ReceiverOverload: 80, OpticMismatch: 10, RecordWrong: 6, FailingReceiver: 4},
	lossHigh: {DirtyConnector: 40, BentFibre: 20, LossOverBudget: 14, LooseOptic: 12, WrongFibre: 10, OpticMismatch: 3,
		FailingReceiver: 1, FailingTransmitter: 1},
}

// fibreTells is what the items say of a fibre run, or of an assembly.
var fibreTells = map[item]telling{
	neverUp: {"onset", weights{ReversedPolarity: 8, RecordWrong: 6, LossOverBudget: 4, OpticMismatch: 4, WrongFibre: 3, DirtyConnector: 0.6,
		PortShut: 0.5, PortFaulty: 0.5, FarEndFaulty: 0.5, BrokenStrand: 0.2, LooseOptic: 0.3, BentFibre: 0.15, FailingTransmitter: 0.1,
		FailingReceiver: 0.1}},
	sinceNew: {"onset", weights{BadCord: 0.5, LossOverBudget: 8, ReversedPolarity: 8, WrongFibre: 4, ReceiverOverload: 4, RecordWrong: 2,
		PortFaulty: 0.3, FarEndFaulty: 0.3, DirtyConnector: 0.4, OpticMismatch: 0.5, BentFibre: 0.2, FailingTransmitter: 0.1,
		FailingReceiver: 0.1, LooseOptic: 0.2, BrokenStrand: 0.3}},
	// Nobody mended it: what came with the laying.
	sinceBefore: {"onset", weights{BadCord: 0.7, FarEndLimit: 4, RecordWrong: 5, LossOverBudget: 4, ReversedPolarity: 6, WrongFibre: 3,
		ReceiverOverload: 4, OpticMismatch: 0.4, BentFibre: 0.6, FailingTransmitter: 0.2, FailingReceiver: 0.2,
		LooseOptic: 0.5, BrokenStrand: 0.3}},
	sincePatched: {"onset", weights{BadCord: 5, FarEndLimit: 3, DirtyConnector: 5, WrongFibre: 5, OpticMismatch: 5, ReversedPolarity: 4,
		ReceiverOverload: 4, LooseOptic: 0.4, FECMismatch: 0.3, FarEndFaulty: 0.3, PortFaulty: 0.2, BentFibre: 0.2, BrokenStrand: 0.2,
		FailingTransmitter: 0.1, FailingReceiver: 0.1, LossOverBudget: 0.5}},
	sinceRewired: {"onset", weights{BadCord: 0.7, DirtyConnector: 3, WrongFibre: 3, ReversedPolarity: 3, LossOverBudget: 3, OpticMismatch: 3,
		PortFaulty: 0.2, FarEndFaulty: 0.5, BentFibre: 0.6, FailingTransmitter: 0.2, FailingReceiver: 0.2, LooseOptic: 0.5}},
	afterGood: {"onset", weights{BadCord: 0.5, FarEndLimit: 0.4, BentFibre: 3, LooseOptic: 3, FailingTransmitter: 3, FailingReceiver: 3,
		BrokenStrand: 3, PortFaulty: 2, FarEndFaulty: 2, PortShut: 2, FECMismatch: 2, DirtyConnector: 0.1, OpticMismatch: 0.1, ReceiverOverload: 0.1,
		RecordWrong: 0.1, ReversedPolarity: 0.05, LossOverBudget: 0.05, WrongFibre: 0.05}},

	symbolsWhole:   {"counts", weights{FarEndFaulty: 15, UpstreamErrors: 10}},
	symbolsWrong:   {"counts", weights{FarEndFaulty: 0.05, UpstreamErrors: 0.05}},
	internalErrors: {"own", weights{PortFaulty: 40}},
	noInternal:     {"own", weights{PortFaulty: 0.5}},
	// No link of 25 Gbit/s and up comes up where the ends correct errors differently
	// (IEEE 802.3 clauses 91 and 108); slower ones hardly ever correct any.
	fecSpeed:     {"fec", weights{FECMismatch: 20}},
	belowFEC:     {"fec", weights{FECMismatch: 0.01}},
	blockErrors:  {"block", weights{PortFaulty: 5}},
	errorsBeside: {"beside", weights{BadCord: 1.5, FarEndLimit: 0.1, RecordWrong: 0.2, FarEndFaulty: 0.5}},
	cleanBeside:  {"beside", weights{FarEndFaulty: 1.5, BadCord: 0.7}},
	linkLost:     {"link", weights{BadCord: 4, LooseOptic: 8}},

	lightSteady: {"level", weights{FailingReceiver: 6, FECMismatch: 3, SpeedSetting: 3, PortFaulty: 2, FarEndFaulty: 2, WrongFibre: 0.5,
		LooseOptic: 0.3, FailingTransmitter: 0.1, OpticMismatch: 0.05, PortShut: 0.1, DirtyConnector: 0.03, BentFibre: 0.03, LossOverBudget: 0.03,
		ReceiverOverload: 0.03, ReversedPolarity: 0.02}},
	lightFair: {"level", weights{FailingReceiver: 3, FECMismatch: 3, SpeedSetting: 3, PortFaulty: 3, FarEndFaulty: 2, LooseOptic: 0.5,
		FailingTransmitter: 0.3, OpticMismatch: 0.2, DirtyConnector: 0.3, BentFibre: 0.2, LossOverBudget: 0.1, ReceiverOverload: 0.1,
		PortShut: 0.1, ReversedPolarity: 0.03}},
	lightLess: {"level", weights{WrongFibre: 0.1, OpticMismatch: 0.4, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03, SpeedSetting: 0.03,
		PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.05, ReversedPolarity: 0.05, RecordWrong: 0.1}},
	lightUnder: {"level", weights{FailingReceiver: 0.1, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03, SpeedSetting: 0.03, PortShut: 0.02,
		ReceiverOverload: 0.02, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	lightShort: {"level", weights{LossOverBudget: 3, WrongFibre: 0.3, OpticMismatch: 0.4, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	// Light for multimode fibre loses 10 dB and more in a core of 9 µm, and a receiver
	// for one wavelength hardly sees the other; dirt and bends seldom take so much.
	lightMuchLess: {"level", weights{WrongFibre: 10, OpticMismatch: 2, LooseOptic: 0.4, FailingTransmitter: 0.3, DirtyConnector: 0.3,
		BentFibre: 0.2, LossOverBudget: 0.1, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.1, ReversedPolarity: 0.05}},
	lightMuchShort: {"level", weights{WrongFibre: 10, OpticMismatch: 3, LooseOptic: 0.5, FailingTransmitter: 0.3, DirtyConnector: 0.3,
		BentFibre: 0.3, LossOverBudget: 0.2, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.02, ReceiverOverload: 0.02, BrokenStrand: 0.1, ReversedPolarity: 0.05}},
	// A receiver for one wavelength hardly sees another.
	lightVast: {"level", weights{OpticMismatch: 15, WrongFibre: 2, LooseOptic: 0.3, FailingTransmitter: 0.2, DirtyConnector: 0.1,
		BentFibre: 0.1, LossOverBudget: 0.05, FailingReceiver: 0.05, FarEndFaulty: 0.03, PortFaulty: 0.05, FECMismatch: 0.03,
		SpeedSetting: 0.03, PortShut: 0.05, ReceiverOverload: 0.02, BrokenStrand: 0.2, ReversedPolarity: 0.1}},
	lightOver:   {"level", weights{ReceiverOverload: 200}},
	mayOverload: {"reach", weights{ReceiverOverload: 8}},
	neverOver:   {"reach", weights{ReceiverOverload: 0.02}},
	undimmed:    {"modes", weights{WrongFibre: 0.03}},
	mixable:     {"modes", weights{WrongFibre: 6}},
	longWave:    {"modes", weights{WrongFibre: 0.2}},

	lossOneWay: {"ways", weights{DirtyConnector: 2, LooseOptic: 0.5, OpticMismatch: 0.2, LossOverBudget: 0.15, BentFibre: 0.1, WrongFibre: 0.1}},
	lossBothWays: {"ways", weights{BentFibre: 4, LossOverBudget: 4, WrongFibre: 4, LooseOptic: 1.5, OpticMismatch: 0.7, BrokenStrand: 0.3,
		DirtyConnector: 0.1, FailingTransmitter: 0.1}},
	lossUnlike: {"ways", weights{OpticMismatch: 5, LooseOptic: 2, BentFibre: 0.7, WrongFibre: 0.7, LossOverBudget: 0.5, DirtyConnector: 0.4,
		FailingTransmitter: 0.4}},
	goodBefore: {"onset", weights{LossOverBudget: 0.1, WrongFibre: 0.3, ReversedPolarity: 0.5, ReceiverOverload: 0.3, OpticMismatch: 0.5}},
	lossPassed: {"test", weights{LossOverBudget: 0.06, ReversedPolarity: 0.6, WrongFibre: 0.6}},

	sentFell:   {"sent", weights{FailingTransmitter: 60}},
	sentNone:   {"sent", weights{FailingTransmitter: 30, PortShut: 3, BrokenStrand: 0.05, ReversedPolarity: 0.05}},
	sentUsual:  {"sent", weights{FailingTransmitter: 0.05}},
	sentEnough: {"sent", weights{FailingTransmitter: 0.3}},
	biasRose:   {"sent", weights{FailingTransmitter: 15}},
	biasUsual:  {"sent", weights{FailingTransmitter: 0.2}},
	farSends:   {"sent", weights{FailingTransmitter: 0.05, FarEndFaulty: 0.05, PortShut: 0.02}},

	// A plug or an optic that loses contact moves with every breath; dirt and glass lie
	// still.
	lightJumps: {"moves", weights{LooseOptic: 25, BentFibre: 1.5, FailingReceiver: 0.3, DirtyConnector: 0.15, FailingTransmitter: 0.1,
		LossOverBudget: 0.1, WrongFibre: 0.1, OpticMismatch: 0.1}},
	lightStill:   {"moves", weights{LooseOptic: 0.05}},
	lightCrept:   {"sent", weights{FailingTransmitter: 15, BentFibre: 0.15, DirtyConnector: 0.1, LooseOptic: 0.1, LossOverBudget: 0.1, WrongFibre: 0.03, OpticMismatch: 0.03}},
	lightStepped: {"sent", weights{FailingTransmitter: 0.1}},

	modelsDiffer: {"optics", weights{OpticMismatch: 60}},
	modelsAlike:  {"optics", weights{OpticMismatch: 0.05}},
	opticSwapped: {"optics", weights{OpticMismatch: 12, DirtyConnector: 1.5, FailingTransmitter: 0.5}},
	farOpticGone: {"optics", weights{LooseOptic: 4}},

	receivesNone: {"lit", weights{FECMismatch: 0.03, SpeedSetting: 0.05, PortFaulty: 0.1, OpticMismatch: 0.1, LossOverBudget: 0.05, WrongFibre: 0.05,
		BentFibre: 0.15, DirtyConnector: 0.15, FailingReceiver: 0.3, BrokenStrand: 2, ReversedPolarity: 2, FailingTransmitter: 1.5, PortShut: 2,
		FarEndFaulty: 2}},
	receivesSome: {"lit", weights{ReversedPolarity: 0.03, PortShut: 0.05}},
	bothSteady:   {"both", weights{FECMismatch: 5, SpeedSetting: 3, BrokenStrand: 0.02, ReversedPolarity: 0.02, DirtyConnector: 0.2, BentFibre: 0.2}},
	bothSendDark: {"polarity", weights{ReversedPolarity: 10, FailingReceiver: 0.1}},
	bothDark: {"polarity", weights{ReversedPolarity: 2, DirtyConnector: 0.1, LooseOptic: 0.3, FailingReceiver: 0.05, FailingTransmitter: 0.05,
		PortShut: 0.1, FarEndFaulty: 0.2}},
	oneDark: {"polarity", weights{ReversedPolarity: 0.02, BrokenStrand: 2}},
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
	ruleBroken(plant.TestFailed):       {"test", weights{LossOverBudget: 5}},
}
