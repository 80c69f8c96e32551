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
	LossOverBudget:     {"more loss than the budget", AboutRun, false},
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
	FarEndLimit:        {"the far end is able to no more", AboutFarEnd, true},
	FarEndAsleep:       {"the device is asleep", AboutFarEnd, true},
	PowerBudget:        {"the switch has no power left for it", AboutPort, true},
	UpstreamErrors:     {"frames that were bad when they were sent", AboutFarEnd, true},
	RecordWrong:        {"the inventory is wrong", AboutRun, false},
}

const (
	plugging   = "Power over Ethernet may be on the cord: don't pull it under load."
	heights    = "Work at height and above ceilings: use the site's ladder rules, and keep away from power."
	laser      = "Never look into a fibre or an optic; have both ends dark before a plug is opened."
	static     = "Ground yourself before touching a module."
	powered    = "The pairs may carry up to 90 W: no bare hands on a wet or crushed cable, and switch the port's power off before it is opened."
	earthing   = "There may be a voltage between the ends of a screen: leave bonds as they are, and let an electrician measure."
	plantRooms = "Plant rooms and power containment are for licensed people only."
)

// wordsOfCheck is what every surface says of a check.
type wordsOfCheck struct {
	says     string
	tools    []string
	cautions []string        // beside the standing ones
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
	CompareSettings: {says: "Compare the speed and the duplex that both ends are set to; set both to auto-negotiation unless someone wants it otherwise.",
		glass: "Compare the speed and the forward error correction that both ends are set to, with what their optics ask for.",
		tools: []string{switchAccess}},
	OpenPort: {says: "Not at the cable: somebody shut the port. Open it, or note the run as spare.",
		tools: []string{switchAccess}},
	LookAtDevice: {says: "See what the device at the far end is able to do; if that is all, note its speed in the inventory (device_speed)."},
	AwaitTraffic: {says: "Wait for traffic: it is a fault only if the speed stays low while the device is in use."},
	ReadPowerBudget: {says: "Look at the switch's power budget and the port's priority, not at the cable.",
		tools: []string{switchAccess}},
	FollowErrors: {says: "Look for the first port on the way that counts errors, and for frames longer than this port takes."},
	TraceRecord:  {says: "Compare the inventory's row with the labels at both ends."},
	OtherPort: {says: "Move the run to another port of the same settings, after checking VLAN, power and port security.",
		tools: []string{switchAccess}, cautions: []string{static}},
	OtherDevice: {says: "Put another device at the end that sends: the other one than counted the errors.",
		tools: []string{"a device known to be good"}, of: map[Kind]string{
			BelowDesignSpeed: "Put a device at the far end that is known to reach the speed meant.",
			LowLight:         "See whether the device at the far end has power and sends light; then put another device there.",
			LinkFlapping:     "See whether the device at the far end restarts; then put another device there.",
			NoLink:           "See whether the device at the far end has power; then put another device there.",
			PowerFailing:     "Put a device known to be good on the port with a short cord; then on the same run.",
			DuplexMismatch:   "Put another device at the far end, with its port set to auto-negotiation.",
		}},

	Reseat: {says: "Reseat the plugs at both ends; look at latch, contacts and strain relief.", cautions: []string{plugging}},
	SwapNearCord: {says: "Swap the cord at the near end for one known to be good, and watch.",
		tools: []string{goodCord}, cautions: []string{plugging}},
	SwapFarCord: {says: "Swap the cord at the far end for one known to be good, and watch.",
		tools: []string{goodCord}, cautions: []string{plugging}},
	WireMap: {says: "Wire-map the fixed part with the cords out, by a test that sees split pairs; compare the colours at both ends: T568A at one and T568B at the other cross two pairs.",
		tools: []string{"a wire mapper that sees split pairs"}, cautions: []string{powered}, of: map[Kind]string{
			BelowDesignSpeed: "Wire-map the fixed part with the cords out, by a test that sees split pairs: look at pins 4-5 and 7-8.",
			NoLink:           "Wire-map the fixed part with the cords out, by a test that sees split pairs: look at pins 1-2 and 3-6.",
		}},
	MeasureLength: {says: "Measure the length with the cords in, by time-domain reflectometer: 90 m fixed, 100 m in all; where a pair ends early, look there for damage.",
		tools: []string{"a time-domain reflectometer"}, cautions: []string{powered, heights}, of: map[Kind]string{
			NoLink: "Measure from the panel how far it is to where pairs end, by time-domain reflectometer, and look there for damage.",
		}},
	TestLink: {says: "Test the fixed part again against the limits that it was accepted by, and compare with the acceptance test: crosstalk and return loss with their distance.",
		tools: []string{"a certification tester with permanent-link adapters, within its calibration"}, cautions: []string{powered}},
	ReadJacket: {says: "Read the print on the jacket of the cable and of both cords."},
	Reterminate: {says: "Look at the untwist at panel and outlet; re-terminate the worse end by pairs and test the fixed part.",
		tools: []string{"a punch-down tool", "a new jack", "a certification tester"}, cautions: []string{powered}},
	MatchHours: {says: "Compare the hours of the errors with the machines beside the pathway, and the heat along it with the length that it allows.",
		tools: []string{"a thermometer"}, cautions: []string{plantRooms, heights}},
	OpenBundle: {says: "Open the cord bundle, use panel ports that are not side by side, and watch.", cautions: []string{plugging}},
	TestScreen: {says: "Look at the screen's continuity at both panels, with the cords out.",
		tools: []string{"a continuity tester"}, cautions: []string{earthing}},
	SwapWholeCable: {says: "Swap the cord, or the cable that is one piece with its plugs, for one known to be good, and watch.",
		tools: []string{"a cord or cable of the same kind known to be good"}, cautions: []string{static, laser}},

	CleanConnectors: {says: "Inspect, clean and inspect again, both ends.",
		tools: []string{"an inspection microscope", "a cleaner for the connector"}, cautions: []string{laser}},
	ReseatOptic: {says: "Reseat the optic and its plug.", cautions: []string{static, laser}},
	ReadOptics: {says: "Read the type of the optics at both ends, and the print on cable and cords.",
		tools: []string{switchAccess}, cautions: []string{laser}},
	SwapSender: {says: "Swap the optic at the end that sends: the other one than counted the errors.",
		tools: []string{goodOptic}, cautions: []string{static, laser}, of: map[Kind]string{
			LinkFlapping: "Swap the optic at the far end, and watch.",
			NoLink:       "Read at each end how much light the optic sends and receives; swap the one that sends none.",
			LowLight:     "Swap the optic at the end that sends: the other one than receives too little.",
			ExcessLoss:   "Swap the optic at the end that sends.",
		}},
	SwapReceiver: {says: "Swap the optic in the port that counted the errors.",
		tools: []string{goodOptic}, cautions: []string{static, laser}, of: map[Kind]string{
			LinkFlapping: "Swap the optic at the near end, and watch.",
			NoLink:       "Swap the optic at the near end.",
			LowLight:     measureThenSwap,
			HighLight:    measureThenSwap,
			ExcessLoss:   measureThenSwap,
		}},
	FitAttenuator: {says: "Measure the light that arrives with a meter, and fit an attenuator at the receiver: both ends dark whenever a plug is opened.",
		tools: []string{lightMeter, "an attenuator"}, cautions: []string{laser}},
	FlipStrands: {says: "Turn the duplex clip at one end.", cautions: []string{laser}},
	SwapStrands: {says: "Compare the light at both ends: dark at one end only is one strand. Then swap the strands at both ends: what goes with the strand is the fibre's, what stays is the equipment's.",
		cautions: []string{laser}},
	TraceSlack: {says: "Trace the slack: doors, ties, tight turns.", cautions: []string{laser, heights}},
	TestLoss: {says: "Measure the loss and compare it with length, connectors and splices.",
		tools: []string{"a light source", lightMeter}, cautions: []string{laser}},
	FindBreak: {says: "Unplug both optics, whose receivers it may damage, and find the place by an optical time-domain reflectometer.",
		tools: []string{"an optical time-domain reflectometer", "a launch cord"}, cautions: []string{laser, heights}},
}

const (
	switchAccess = "access to the switches' settings"
	goodCord     = "a cord known to be good"
	goodOptic    = "an optic of the same type known to be good"
	lightMeter   = "a light meter"

	measureThenSwap = "Measure the light that arrives with a meter: where it is as it ought to be, swap the optic that receives."
)

// Words tells what a check may interrupt.
func (i Interruption) Words() string { return interruptionWords[i] }

// Takes is what the check takes, in words.
func (c *NextCheck) Takes() string {
	out := fmt.Sprintf("About %d minutes; %s.", c.Minutes, c.Interrupts.Words())
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
			title += " (it may miss it)"
		}
		titles = append(titles, title)
	}
	return fmt.Sprintf("%.0f %%: %s.", 100*c.Probability, strings.Join(titles, "; "))
}

// HowToRead tells what the percentages of checks mean.
const HowToRead = "A percentage is how probable it is that the cause is found at this check, done in this order."

var interruptionWords = map[Interruption]string{
	InterruptsNothing:  "interrupts nothing",
	InterruptsLink:     "may interrupt the link",
	InterruptsDevice:   "may interrupt the link and a device fed over it",
	InterruptsServices: "may interrupt other links too",
}

// Title is a cause in words, as it reads after "likely".
func (c Cause) Title() string { return words[c].title }

// Quiet tells whether a cause is no fault of anybody, or another's, so that
// nobody is told.
func (c Cause) Quiet() bool { return words[c].quiet }

// standingCautions come with every fault; they defer to those in charge.
var standingCautions = []string{
	"Local electrical, fire and building codes, site rules and licensed practice come first.",
	"Treat every fibre as live: the light is invisible.",
	"Keep to the separation from mains, and never open power containment.",
	"Power over Ethernet may be present.",
	"Mind ladder and height rules; ask for the asbestos register before lifting a tile or drilling.",
	"Restore firestop; tests and swaps interrupt service, so agree on a time.",
}

// kindCautions are those of kinds, whatever the check.
var kindCautions = map[Kind][]string{PowerFailing: {powered}}
