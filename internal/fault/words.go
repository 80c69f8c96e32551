package fault

import (
	"cmp"
	"fmt"
	"strings"
)

// Cause is why a run falls short.
type Cause string

// The causes that are told apart.
const (
	OpenPair           Cause = "open-pair"
	ShortedPair        Cause = "shorted-pair"
	CrossedPair        Cause = "crossed-pair"
	SplitPair          Cause = "split-pair"
	OverLength         Cause = "over-length"
	WrongCategory      Cause = "wrong-category"
	PoorTermination    Cause = "poor-termination"
	AlienCrosstalk     Cause = "alien-crosstalk"
	Interference       Cause = "interference"
	ShieldBroken       Cause = "shield-broken"
	DamagedCable       Cause = "damaged-cable"
	CableHeat          Cause = "cable-heat"
	LoosePlug          Cause = "loose-plug"
	BadCord            Cause = "bad-cord"
	DirtyConnector     Cause = "dirty-connector"
	BentFibre          Cause = "bent-fibre"
	WrongFibre         Cause = "wrong-fibre"
	LossOverBudget     Cause = "loss-over-budget"
	ReceiverOverload   Cause = "receiver-overload"
	LooseOptic         Cause = "loose-optic"
	OpticMismatch      Cause = "optic-mismatch"
	FailingTransmitter Cause = "failing-transmitter"
	FailingReceiver    Cause = "failing-receiver"
	BrokenStrand       Cause = "broken-strand"
	ReversedPolarity   Cause = "reversed-polarity"
	FECMismatch        Cause = "fec-mismatch"
	DuplexSetting      Cause = "duplex-setting"
	SpeedSetting       Cause = "speed-setting"
	PortShut           Cause = "port-shut"
	PortFaulty         Cause = "port-faulty"
	FarEndFaulty       Cause = "far-end-faulty"
	FarEndLimit        Cause = "far-end-limit"
	FarEndAsleep       Cause = "far-end-asleep"
	PowerBudget        Cause = "power-budget"
	UpstreamErrors     Cause = "upstream-errors"
	RecordWrong        Cause = "record-wrong"
)

// Title is a kind's name in words.
func (k Kind) Title() string { return kindTitles[k] }

var kindTitles = map[Kind]string{
	BelowDesignSpeed: "Below design speed",
	FrameErrors:      "Damaged frames",
	DuplexMismatch:   "Duplex mismatch",
	LinkFlapping:     "Link comes and goes",
	NoLink:           "No link",
	LowLight:         "Too little light",
	HighLight:        "Too much light",
	ExcessLoss:       "More loss than expected",
	PowerFailing:     "Power over the pairs fails",
}

// causeWords is what every surface says of a cause.
type causeWords struct {
	title string
	about About
	quiet bool // nobody's fault: shown, never alarmed
}

// words is the table that pages, alerts and the terminal speak from, checkWords what
// they say of checks.
var words = map[Cause]causeWords{
	OpenPair:           {"a pair is open", AboutRun, false},
	ShortedPair:        {"conductors are shorted", AboutRun, false},
	CrossedPair:        {"conductors are crossed", AboutRun, false},
	SplitPair:          {"split pairs", AboutRun, false},
	OverLength:         {"the run is too long", AboutRun, false},
	WrongCategory:      {"cable or cord of too low a category", AboutRun, false},
	PoorTermination:    {"poor termination", AboutRun, false},
	AlienCrosstalk:     {"crosstalk from neighbours in the bundle", AboutRun, false},
	Interference:       {"interference from outside", AboutRun, false},
	ShieldBroken:       {"the screen is broken or not bonded", AboutRun, false},
	DamagedCable:       {"the cable is damaged", AboutRun, false},
	CableHeat:          {"the cable is too hot", AboutRun, false},
	LoosePlug:          {"a loose plug or worn jack", AboutRun, false},
	BadCord:            {"a bad cord", AboutRun, false},
	DirtyConnector:     {"a dirty connector", AboutRun, false},
	BentFibre:          {"a bent or crushed fibre", AboutRun, false},
	WrongFibre:         {"fibre of the wrong kind", AboutRun, false},
	LossOverBudget:     {"more length or joints than the loss budget allows", AboutRun, false},
	ReceiverOverload:   {"too much light for the receiver", AboutRun, false},
	LooseOptic:         {"a loose optic", AboutPort, false},
	OpticMismatch:      {"optics that do not match", AboutPort, false},
	FailingTransmitter: {"a failing transmitter", AboutFarEnd, false},
	FailingReceiver:    {"a failing receiver", AboutPort, false},
	BrokenStrand:       {"a broken strand", AboutRun, false},
	ReversedPolarity:   {"the two fibres are the wrong way round", AboutRun, false},
	FECMismatch:        {"forward error correction set differently at the two ends", AboutPort, false},
	DuplexSetting:      {"duplex set differently at the two ends", AboutPort, false},
	SpeedSetting:       {"the port is set to a lower speed", AboutPort, false},
	PortShut:           {"the port is shut on its switch", AboutPort, true},
	PortFaulty:         {"the switch port is faulty", AboutPort, false},
	FarEndFaulty:       {"the device at the other end is faulty", AboutFarEnd, false},
	FarEndLimit:        {"the device at the other end can go no faster", AboutFarEnd, true},
	FarEndAsleep:       {"the device is asleep", AboutFarEnd, true},
	PowerBudget:        {"the switch has no power left for it", AboutPort, true},
	UpstreamErrors:     {"frames that were bad when they were sent", AboutFarEnd, true},
	RecordWrong:        {"the inventory is wrong", AboutRun, false},
}

// wordsOfCheck is what every surface says of a check.
type wordsOfCheck struct {
	says     string
	tools    []string
	cautions []string        // beside the standing ones, of any material: cautions.go tells which fits
	of       map[Kind]string // what is said of a kind instead
	glass    string          // on fibre and assemblies instead, where that is something else
}

// on is what is said of a kind of fault on what is made so.
func (w *wordsOfCheck) on(kind Kind, made material) string {
	if made != ofCopper && w.glass != "" {
		return w.glass
	}
	return cmp.Or(w.of[kind], w.says)
}

var checkWords = map[CheckCode]wordsOfCheck{
	CompareSettings: {says: "Compare the speed and duplex settings of both ends. Set both to auto-negotiation, unless a fixed setting is wanted; a change drops the link for some seconds.",
		glass: "Compare the speed and the forward error correction that both ends are set to, and what their optics need; a change drops the link for some seconds.",
		tools: []string{switchAccess}},
	OpenPort: {says: "Leave the cable alone: somebody shut the port. Ask who and why; then open it, or mark the run as spare in the inventory.",
		tools: []string{switchAccess}},
	LookAtDevice: {says: "Look up how fast the device at the far end can go. If it can go no faster, write its speed in the inventory (device_speed)."},
	AwaitTraffic: {says: "Wait for traffic: it is a fault only if the speed stays low while the device is in use."},
	ReadPowerBudget: {says: "Leave the cable alone: look at the switch's power budget and the port's priority.",
		tools: []string{switchAccess}},
	FollowErrors: {says: "Follow the traffic back to the first port that counts errors; look too for frames longer than this port takes."},
	TraceRecord:  {says: "Compare the inventory's row with the labels at both ends."},
	OtherPort: {says: "Check VLAN, power and port security; then move the run to another port with the same settings, and see whether the fault clears.",
		tools: []string{switchAccess}, cautions: []string{static, plugging, laser}},
	OtherDevice: {says: "Put another device at the sending end: the end that did not count the errors.",
		tools: []string{"a device known to be good"}, cautions: []string{plugging, laser}, of: map[Kind]string{
			BelowDesignSpeed: "Put a device at the far end that is known to reach the design speed.",
			LowLight:         "See whether the device at the far end has power and sends light; then put another device there.",
			LinkFlapping:     "See whether the device at the far end restarts; then put another device there.",
			NoLink:           "See whether the device at the far end has power; then put another device there.",
			PowerFailing:     "Put a device known to be good on the port with a short cord; then on the same run.",
			DuplexMismatch:   "Put another device at the far end, with its port set to auto-negotiation.",
		}},

	Reseat: {says: "Reseat the plugs at both ends; look at latch, contacts and strain relief, change what is worn, and see whether the fault clears.", cautions: []string{plugging}},
	SwapNearCord: {says: "Swap the cord at the near end for one known to be good, and see whether the fault clears.",
		tools: []string{goodCord}, cautions: []string{plugging}},
	SwapFarCord: {says: "Swap the cord at the far end for one known to be good, and see whether the fault clears.",
		tools: []string{goodCord}, cautions: []string{plugging}},
	WireMap: {says: "Unplug the cords. Wire-map the permanent link, and each cord by itself, with a tester that sees split pairs. Compare the colours at both ends: T568A at one and T568B at the other cross two pairs.",
		tools: []string{"a wire mapper that sees split pairs"}, cautions: []string{powered}, of: map[Kind]string{
			BelowDesignSpeed: "Unplug the cords. Wire-map the permanent link, and each cord by itself, with a tester that sees split pairs: look at pins 4-5 and 7-8.",
			NoLink:           "Unplug the cords. Wire-map the permanent link, and each cord by itself, with a tester that sees split pairs: look at pins 1-2 and 3-6.",
			PowerFailing:     "Switch the port's power off and unplug the cords. Wire-map the permanent link, and each cord by itself: look for conductors that touch, and for water or crushing.",
		}},
	MeasureLength: {says: "Measure the length of the permanent link and of the whole channel with a time-domain reflectometer: 90 m and 100 m at most. Where a pair ends early, look there for damage.",
		tools: []string{"a time-domain reflectometer"}, cautions: []string{powered, heights}, of: map[Kind]string{
			NoLink: "Measure from the panel, with a time-domain reflectometer, how far away the pairs end; look there for damage.",
		}},
	TestLink: {says: "Certify the permanent link again, by the limits that it was accepted by. Compare crosstalk and return loss with the acceptance test, and see at which distance they are worst.",
		tools: []string{"a certification tester with permanent-link adapters, within its calibration"}, cautions: []string{powered}},
	ReadJacket: {says: "Read the category printed on the jackets of the cable and of both cords."},
	Reterminate: {says: "Look at panel and outlet how far the pairs are untwisted: 13 mm at most. Re-terminate the worse end, and certify the permanent link.",
		tools: []string{"a punch-down tool", "a new jack", "a certification tester"}, cautions: []string{powered}},
	MatchHours: {says: "Walk the pathway. Compare the hours of the errors with those of machines and lighting beside it, and measure how warm it is: heat shortens the length that a cable may have.",
		tools: []string{"a thermometer"}, cautions: []string{plantRooms, heights}},
	OpenBundle: {says: "Loosen the bundle of cords, use panel ports that are not side by side, and see whether the fault clears.", cautions: []string{plugging, warm}},
	TestScreen: {says: "Unplug the cords, and test at both panels whether the screen is continuous.",
		tools: []string{"a continuity tester"}, cautions: []string{earthing, plugging}},
	SwapWholeCable: {says: "Swap the cord, or the cable that is one piece with its plugs, for one known to be good, and see whether the fault clears.",
		tools: []string{"a cord or cable of the same kind known to be good"}, cautions: []string{static, laser}},

	CleanConnectors: {says: "Inspect the connectors at both ends with a microscope, clean them, and inspect them again; see whether the fault clears.",
		tools: []string{"an inspection microscope", "a cleaner for the connector"}, cautions: []string{laser, scope}},
	ReseatOptic: {says: "Reseat the optic and its plug, and see whether the light holds still.", cautions: []string{static, laser}},
	ReadOptics: {says: "Compare the type of the optics at both ends, and the fibre type printed on cable and cords.",
		tools: []string{switchAccess}, cautions: []string{laser}},
	SwapSender: {says: "Swap the optic at the sending end: the end that did not count the errors.",
		tools: []string{goodOptic}, cautions: []string{static, laser}, of: map[Kind]string{
			LinkFlapping: "Swap the optic at the far end, and see whether the fault clears.",
			NoLink:       "Read at each end how much light the optic sends and receives; swap the one that sends none.",
			LowLight:     "Swap the optic at the sending end, opposite the one that receives too little.",
			ExcessLoss:   "Swap the optic at the sending end.",
		}},
	SwapReceiver: {says: "Swap the optic in the port that counted the errors.",
		tools: []string{goodOptic}, cautions: []string{static, laser}, of: map[Kind]string{
			LinkFlapping: "Swap the optic at the near end, and see whether the fault clears.",
			NoLink:       "Swap the optic at the near end.",
			LowLight:     measureThenSwap,
			HighLight:    measureThenSwap,
			ExcessLoss:   measureThenSwap,
		}},
	FitAttenuator: {says: "Measure the light that arrives at each end with a light meter, fit an attenuator at a receiver that gets too much, and see whether its light is inside the window.",
		tools: []string{lightMeter, "an attenuator"}, cautions: []string{laser}},
	FlipStrands: {says: "Swap the two fibres at one end, by turning the duplex clip.", cautions: []string{laser}},
	SwapStrands: {says: "Compare the light at both ends: where one end alone is dark, one strand is suspect. Swap the strands at both ends: if the fault moves it is the fibre, if it stays it is the equipment.",
		cautions: []string{laser}},
	TraceSlack: {says: "Follow the cords and the slack: look for tight turns, tight ties, and fibre caught in a door or crushed; free it, and see whether the light comes back.", cautions: []string{laser, heights}},
	TestLoss: {says: "Measure the loss of the run. Compare it with what its length, connectors and splices should lose.",
		tools: []string{"a light source", lightMeter}, cautions: []string{laser}},
	FindBreak: {says: "Unplug the fibre from the optics at both ends, since the pulses can damage their receivers; find the place with an optical time-domain reflectometer.",
		tools: []string{"an optical time-domain reflectometer", "a launch cord"}, cautions: []string{laser, heights}},
}

const (
	switchAccess = "access to the switches' settings"
	goodCord     = "a cord known to be good"
	goodOptic    = "an optic of the same type known to be good"
	lightMeter   = "a light meter"

	measureThenSwap = "Measure the light that arrives with a light meter: if it is as expected, swap the receiving optic."
)

// Words tells what a check may interrupt.
func (i Interruption) Words() string { return interruptionWords[i] }

// Takes is what the check takes, in words.
func (c *NextCheck) Takes() string {
	interrupts := c.Interrupts.Words()
	if c.Mending != "" {
		interrupts = fmt.Sprintf("to look %s, to mend what it finds %s", c.Interrupts.Words(), c.Mending.Words())
	}
	out := fmt.Sprintf("About %d minutes; %s.", c.Minutes, interrupts)
	if len(c.Tools) > 0 {
		out += " Needs " + strings.Join(c.Tools, ", ") + "."
	}
	return out
}

// hardlyMisses is how surely a check must find a cause so that it is not told that it
// may miss it.
const hardlyMisses = 0.9

// WouldFind is what the check would find, in words, with the probability that it does.
func (c *NextCheck) WouldFind() string {
	var titles []string
	for _, f := range c.Finds {
		title := f.Cause.Title()
		if f.Surely < hardlyMisses {
			title += " (it can miss that)"
		}
		titles = append(titles, title)
	}
	return fmt.Sprintf("%s: %s.", Percent(c.Probability), strings.Join(titles, "; "))
}

// HowToRead tells what the percentages of checks mean.
const HowToRead = "Each percentage is the probability that this check finds the cause, if the checks are done in this order."

var interruptionWords = map[Interruption]string{
	InterruptsNothing:  "interrupts nothing",
	InterruptsLink:     "interrupts the link",
	InterruptsDevice:   "interrupts the link, and the power of a device fed over it",
	InterruptsServices: "may interrupt other links too",
}

// Title is a cause in words, as it reads after "likely".
func (c Cause) Title() string { return words[c].title }

// Quiet tells whether a cause is no fault of anybody, or another's, so that
// nobody is told.
func (c Cause) Quiet() bool { return words[c].quiet }

// Percent writes a probability, without claiming certainty by rounding.
func Percent(p float64) string {
	switch {
	case p > 0 && p < 0.01:
		return "under 1 %"
	case p < 1 && p > 0.99:
		return "over 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}
