package fault

import (
	"fmt"
	"slices"
)

// sharedTitles are the attributes in words.
var sharedTitles = map[Attribute]string{
	ByPanel: "panel", ByBundle: "bundle", ByPathway: "pathway", ByInstaller: "installer", ByBatch: "batch", ByCable: "cable", BySpace: "space",
	BySwitch: "switch", ByLineCard: "line card",
}

// The checks of what runs share.
const (
	InspectPanel   CheckCode = "inspect-panel"
	TraceBundle    CheckCode = "trace-bundle"
	WalkPathway    CheckCode = "walk-pathway"
	OpenTwoEnds    CheckCode = "open-two-ends"
	TestBatch      CheckCode = "test-batch"
	CompareCable   CheckCode = "compare-cable"
	LookAtRoom     CheckCode = "look-at-room"
	LookAtSwitch   CheckCode = "look-at-switch"
	OtherLineCard  CheckCode = "other-line-card"
	certifier                = "a certification tester with permanent-link adapters, within its calibration"
	microscope               = "an inspection microscope"
	connectorClean           = "a cleaner for the connector"
	lightSource              = "a light source"
	thermometer              = "a thermometer"
)

// sharedCheck is the check of an attribute: what page, alerts and terminal say of it,
// what it takes and what it would find.
type sharedCheck struct {
	code       CheckCode
	says       string
	minutes    int
	interrupts Interruption
	mending    Interruption // what to mend interrupts, where that is part of it
	tools      []string
	surely     float64 // with which probability it shows what is wrong, if the attribute is why
	finds      []Cause // likeliest first
	cautions   []string
}

// copperShared are the checks on copper; minutes, how surely each finds and what are
// common practice, no source.
var copperShared = map[Attribute]sharedCheck{
	ByPanel: {InspectPanel, "Inspect the panel: how the pairs are laid in, strain relief, its ground; then test one of these runs from its front.",
		30, InterruptsDevice, "", []string{certifier}, mostly, []Cause{PoorTermination, ShieldBroken, LoosePlug}, []string{plugging}},
	ByBundle: {TraceBundle, "Open the bundle where it can be reached: look for tight ties, sharp bends, heat; then test one of these runs.",
		30, InterruptsServices, "", []string{certifier, thermometer}, mostly, []Cause{AlienCrosstalk, DamagedCable, CableHeat}, []string{powered, warm, heights}},
	ByPathway: {WalkPathway, "Walk the pathway along these runs, at the hours of the errors: look for machines, power cables, heat, water and new work beside it.",
		45, InterruptsNothing, "", []string{thermometer}, mostly, []Cause{Interference, DamagedCable, CableHeat}, []string{plantRooms, heights}},
	ByInstaller: {OpenTwoEnds, "Open one end of two of these runs and look for the same mistake; then look at this installer's other runs before they fail.",
		30, InterruptsDevice, "", nil, mostly, []Cause{PoorTermination, SplitPair, CrossedPair}, []string{powered}},
	ByBatch: {TestBatch, "Test two of these runs from end to end, and read the print on their jackets; lay no more of this batch before that is understood.",
		50, InterruptsDevice, "", []string{certifier}, mostly, []Cause{WrongCategory, DamagedCable, PoorTermination}, []string{powered}},
	ByCable: {CompareCable, "Compare what the record says of this cable with the print on its jacket and with what the runs carry; test one of them from end to end.",
		30, InterruptsDevice, "", []string{certifier}, mostly, []Cause{WrongCategory, RecordWrong, OverLength}, []string{powered}},
	BySpace: {LookAtRoom, "Look at the room: heat, damp, its power and ground, and what was changed there.",
		20, InterruptsNothing, "", []string{thermometer}, perhaps, []Cause{PoorTermination, Interference, ShieldBroken, PortFaulty}, []string{plantRooms, earthing}},
	BySwitch: {LookAtSwitch, "Look at the switch's log, power supplies and temperature; then move one of these runs to another switch, with the same settings.",
		15, InterruptsDevice, "", []string{switchAccess}, nearlySurely, []Cause{PortFaulty, UpstreamErrors}, []string{static, plugging}},
	ByLineCard: {OtherLineCard, "Move one of these runs to a port of another card, with the same settings: if it is well there, the card is at fault.",
		10, InterruptsDevice, "", []string{switchAccess}, nearlySurely, []Cause{PortFaulty}, []string{static, plugging}},
}

// fibreShared are those on fibre.
var fibreShared = map[Attribute]sharedCheck{
	ByPanel: {InspectPanel, "Inspect the panel's connectors, clean them and inspect again; look at trunk and cassette behind it.",
		30, InterruptsServices, "", []string{microscope, connectorClean}, nearlySurely, []Cause{DirtyConnector, BentFibre, ReversedPolarity}, []string{laser, scope}},
	ByBundle: {TraceBundle, "Trace the bundle: look for tight ties, sharp turns and what presses on it.",
		25, InterruptsNothing, InterruptsServices, nil, mostly, []Cause{BentFibre, BrokenStrand}, []string{heights, laser}},
	ByPathway: {WalkPathway, "Walk the pathway along these runs: look for tight turns, what presses on the cables, and new work.",
		45, InterruptsNothing, InterruptsServices, nil, mostly, []Cause{BentFibre, BrokenStrand}, []string{plantRooms, heights, laser}},
	ByInstaller: {OpenTwoEnds, "Inspect the connectors of two of these runs for the same mistake; then look at this installer's other runs before they fail.",
		20, InterruptsLink, "", []string{microscope, connectorClean}, mostly, []Cause{DirtyConnector, LossOverBudget}, []string{laser, scope}},
	ByBatch: {TestBatch, copperShared[ByBatch].says,
		50, InterruptsLink, "", []string{lightSource, lightMeter}, mostly, []Cause{LossOverBudget, WrongFibre}, []string{laser}},
	ByCable: {CompareCable, copperShared[ByCable].says,
		30, InterruptsLink, "", []string{lightSource, lightMeter}, mostly, []Cause{WrongFibre, LossOverBudget, RecordWrong}, []string{laser}},
	BySpace: {LookAtRoom, "Look at the room: heat, damp, dust, and what was changed there.",
		20, InterruptsNothing, "", []string{thermometer}, perhaps, []Cause{DirtyConnector, FailingTransmitter, PortFaulty}, []string{plantRooms, earthing}},
	BySwitch: {LookAtSwitch, copperShared[BySwitch].says,
		15, InterruptsLink, "", []string{switchAccess}, nearlySurely, []Cause{PortFaulty, FailingTransmitter, FailingReceiver}, []string{static, laser}},
	ByLineCard: {OtherLineCard, copperShared[ByLineCard].says,
		10, InterruptsLink, "", []string{switchAccess}, nearlySurely, []Cause{PortFaulty}, []string{static, laser}},
}

func (h *hold) checkOf(a Attribute) sharedCheck {
	if h.Glass {
		return fibreShared[a]
	}
	return copperShared[a]
}

func (h *hold) material() material {
	if h.Glass {
		return ofFibre
	}
	return ofCopper
}

// tell puts a check into words. Probable is how probably its attribute is why.
func (c *sharedCheck) tell(made material, says string, probable float64) NextCheck {
	n := NextCheck{
		Code: c.code, Check: says, Minutes: c.minutes, Tools: orNone(c.tools), Interrupts: c.interrupts, Mending: c.mending,
		Probability: probable * c.surely, Finds: []Find{}, Cautions: made.fitting(c.cautions),
	}
	for _, cause := range c.finds {
		n.Finds = append(n.Finds, Find{cause, c.surely})
	}
	return n
}

// nextChecks are that of the shared cause, those of what else the very same runs have in
// common, of which each is as likely why, and that of the first rival.
func (h *hold) nextChecks() []NextCheck {
	each := h.Probability / float64(1+len(h.Also))
	first := h.checkOf(h.Name.Attribute)
	out := []NextCheck{first.tell(h.material(), first.says, each)}
	beside := func(n SharedName, probable float64) {
		c := h.checkOf(n.Attribute)
		check := c.tell(h.material(), fmt.Sprintf("%s: %s", n, c.says), probable)
		if !slices.Contains(saysOf(out), check.Check) {
			out = append(out, check)
		}
	}
	for _, n := range h.Also {
		beside(n, each)
	}
	if len(h.Rivals) > 0 {
		beside(h.Rivals[0].SharedName, h.Rivals[0].Probability)
	}
	return out
}

func saysOf(checks []NextCheck) []string {
	says := make([]string, len(checks))
	for i := range checks {
		says[i] = checks[i].Check
	}
	return says
}

// cautions are those of all the checks; fibre has that of its light always.
func (h *hold) cautions() []string {
	var specific []string
	for _, c := range h.nextChecks() {
		specific = append(specific, c.Cautions...)
	}
	if h.Glass {
		specific = append(specific, laser)
	}
	return h.material().cautions(specific)
}
