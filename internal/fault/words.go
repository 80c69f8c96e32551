package fault

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
	title   string
	about   About
	quiet   bool // nobody's fault: shown, never alarmed
	check   string
	caution string // beside the standing ones
}

const (
	plugging = "Power over Ethernet may be on the cord: don't pull it under load."
	heights  = "Work at height and above ceilings: use the site's ladder rules, and keep away from power."
	laser    = "Never look into a fibre or an optic; have both ends dark before a plug is opened."
	static   = "Ground yourself before touching a module."
	powered  = "The pairs may carry up to 90 W: no bare hands on a wet or crushed cable, and switch the port's power off before it is opened."
	earthing = "There may be a voltage between the ends of a screen: leave bonds as they are, and let an electrician measure."
)

// words is the table that pages, alerts and the terminal speak from.
var words = map[Cause]causeWords{
	OpenPair: {"a pair is open", AboutRun, false,
		"Swap the cords at both ends, then wire-map the fixed part: look at pins 4-5 and 7-8.", plugging},
	ShortedPair: {"conductors are shorted", AboutRun, false,
		"Wire-map the fixed part with the cords out, and look where the pairs are laid into the jacks.", powered},
	CrossedPair: {"conductors are crossed", AboutRun, false,
		"Wire-map the run, and compare the colours at both ends: T568A at one and T568B at the other cross two pairs.", plugging},
	SplitPair: {"split pairs", AboutRun, false,
		"Wire-map with a test that sees split pairs; then re-terminate by pairs at the end that is wrong.", plugging},
	OverLength: {"the run is too long", AboutRun, false,
		"Measure the length with the cords in: 90 m fixed, 100 m in all.", plugging},
	WrongCategory: {"cable or cord of too low a category", AboutRun, false,
		"Read the print on the jacket of the cable and of both cords.", plugging},
	PoorTermination: {"poor termination", AboutRun, false,
		"Look at the untwist at panel and outlet; re-terminate the worse end and test the fixed part.", plugging},
	AlienCrosstalk: {"crosstalk from neighbours in the bundle", AboutRun, false,
		"Open the cord bundle, use panel ports that are not side by side, and watch.", plugging},
	Interference: {"interference from outside", AboutRun, false,
		"Compare the hours of the errors with the machines beside the pathway.",
		"Plant rooms and power containment are for licensed people only."},
	ShieldBroken: {"the screen is broken or not bonded", AboutRun, false,
		"Look at the screen's continuity at both panels, with the cords out.", earthing},
	DamagedCable: {"the cable is damaged", AboutRun, false,
		"Measure the distance to the fault from the panel and look there.", heights},
	CableHeat: {"the cable is too hot", AboutRun, false,
		"Compare the temperature along the pathway with the length that it allows.", heights},
	LoosePlug: {"a loose plug or worn jack", AboutRun, false,
		"Reseat the plugs at both ends; look at latch, contacts and strain relief.", plugging},
	BadCord: {"a bad cord", AboutRun, false,
		"Swap the cord at the panel for one known to be good and watch; then the cord at the outlet.", plugging},
	DirtyConnector: {"a dirty connector", AboutRun, false,
		"Inspect, clean and inspect again, both ends.", laser},
	BentFibre: {"a bent or crushed fibre", AboutRun, false,
		"Trace the slack: doors, ties, tight turns.", laser},
	WrongFibre: {"fibre of the wrong kind", AboutRun, false,
		"Read the print on cable and cords, and the type of both optics.", laser},
	LossOverBudget: {"more loss than the budget", AboutRun, false,
		"Measure the loss and compare it with length, connectors and splices.", laser},
	ReceiverOverload: {"too much light for the receiver", AboutRun, false,
		"Measure the light that arrives with a meter, and fit an attenuator at the receiver: both ends dark whenever a plug is opened.", laser},
	LooseOptic: {"a loose optic", AboutPort, false,
		"Reseat the optic and its plug.", static},
	OpticMismatch: {"optics that do not match", AboutPort, false,
		"Read the type of the optics at both ends.", static},
	FailingTransmitter: {"a failing transmitter", AboutFarEnd, false,
		"Swap the optic at the end that sends: the other one than counted the errors.", static},
	FailingReceiver: {"a failing receiver", AboutPort, false,
		"Swap the optic in the port that counted the errors.", static},
	BrokenStrand: {"a broken strand", AboutRun, false,
		"Compare the light at both ends: dark at one end only is one strand. Then unplug both optics, whose receivers it may damage, and find the place by an optical time-domain reflectometer.", laser},
	ReversedPolarity: {"the two fibres are the wrong way round", AboutRun, false,
		"Turn the duplex clip at one end.", laser},
	FECMismatch: {"forward error correction set differently at the two ends", AboutPort, false,
		"Compare the setting at both ends, with what their optics ask for.", ""},
	DuplexSetting: {"duplex set differently at the two ends", AboutPort, false,
		"Compare the settings of both ends; set both to auto-negotiation.", ""},
	SpeedSetting: {"the port is set to a lower speed", AboutPort, false,
		"Look at the port's speed setting; set it to auto-negotiation unless someone wants it so.", ""},
	PortShut: {"the port is shut on its switch", AboutPort, true,
		"None at the cable: somebody shut the port. Open it, or note the run as spare.", ""},
	PortFaulty: {"the switch port is faulty", AboutPort, false,
		"Move the run to another port of the same settings, after checking VLAN, power and port security.", static},
	FarEndFaulty: {"the device at the other end is faulty", AboutFarEnd, false,
		"Put another device at the end that sends: the other one than counted the errors.", ""},
	FarEndLimit: {"the far end is able to no more", AboutFarEnd, true,
		"None at the cable: note the device's speed in the inventory (device_speed).", ""},
	FarEndAsleep: {"the device is asleep", AboutFarEnd, true,
		"None: wait for traffic. It becomes a fault if the speed stays low while the device is in use.", ""},
	PowerBudget: {"the switch has no power left for it", AboutPort, true,
		"None at the cable: look at the switch's power budget and the port's priority.", ""},
	UpstreamErrors: {"frames that were bad when they were sent", AboutFarEnd, true,
		"Look for the first port on the way that counts errors, and for frames longer than this port takes.", ""},
	RecordWrong: {"the inventory is wrong", AboutRun, false,
		"Compare the inventory's row with the labels at both ends.", ""},
}

// otherChecks are those of kinds for which what words says does not fit.
var otherChecks = map[Cause]map[Kind]string{
	FarEndFaulty: {
		LowLight:       "See whether the device at the far end has power and sends light; then put another device there.",
		LinkFlapping:   "See whether the device at the far end restarts; then put another device there.",
		NoLink:         "See whether the device at the far end has power; then put another device there.",
		PowerFailing:   "Put a device known to be good on the port with a short cord; then on the same run.",
		DuplexMismatch: "Put another device at the far end, with its port set to auto-negotiation.",
	},
	FailingTransmitter: {
		LinkFlapping: "Swap the optics, one end at a time, and watch.",
		NoLink:       "Read at each end how much light the optic sends and receives; swap the one that sends none.",
		LowLight:     "Swap the optic at the end that sends: the other one than receives too little.",
		ExcessLoss:   "Swap the optic at the end that sends.",
	},
	FailingReceiver: {
		LowLight:   "Measure the light that arrives with a meter: where it is as it ought to be, swap the optic that receives.",
		HighLight:  "Measure the light that arrives with a meter: where it is as it ought to be, swap the optic that receives.",
		ExcessLoss: "Measure the light that arrives with a meter: where it is as it ought to be, swap the optic that receives.",
	},
	OpenPair: {
		NoLink: "Swap the cords at both ends, then wire-map the fixed part: look at pins 1-2 and 3-6.",
	},
}

// checkFor is what to do first about a cause of a kind of fault.
func checkFor(kind Kind, c Cause) string {
	if check, other := otherChecks[c][kind]; other {
		return check
	}
	return words[c].check
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
