package corpus

import "slices"

// Check is something that a technician does: the minutes that it takes, and the
// causes that it finds.
type Check struct {
	Name    string
	Minutes float64
	Finds   []string
}

// The checks of field practice. What they find follows from what they are; the
// minutes are common practice, no source.
var (
	reseat        = Check{"reseat the plugs, look at latch and contacts", 5, []string{"loose-plug"}}
	swapCords     = Check{"swap both cords and watch", 10, []string{"bad-cord"}}
	wireMap       = Check{"wire map with a split-pair test", 12, []string{"open-pair", "shorted-pair", "crossed-pair", "split-pair"}}
	compareEnds   = Check{"compare the settings of both ends", 5, []string{"duplex-setting", "speed-setting", "port-shut", "fec-mismatch"}}
	lookAtDevice  = Check{"see what the device can do and whether it sleeps", 5, []string{"far-end-limit", "far-end-asleep"}}
	otherPort     = Check{"move the run to another port", 8, []string{"port-faulty"}}
	otherDevice   = Check{"put a known-good device on the run", 10, []string{"far-end-faulty"}}
	reflectometer = Check{"length and distance to the fault by reflectometer", 12, []string{"over-length", "damaged-cable"}}
	readJacket    = Check{"read the print on cable and cords", 6, []string{"wrong-category"}}
	terminate     = Check{"inspect and re-terminate the worse end", 25, []string{"poor-termination", "split-pair"}}
	walk          = Check{"walk the pathway and match the machines' hours", 45, []string{"interference", "cable-heat"}}
	unbundle      = Check{"unbundle the cords, use ports apart", 20, []string{"alien-crosstalk"}}
	screens       = Check{"continuity of the screens at both panels", 20, []string{"shield-broken"}}
	upstream      = Check{"trace the errors to the first port", 10, []string{"upstream-errors"}}
	readRecord    = Check{"trace the run and mend the record", 15, []string{"record-wrong"}}
	readBudget    = Check{"read the switch's power budget", 3, []string{"power-budget"}}

	clean       = Check{"inspect, clean, inspect, both ends", 10, []string{"dirty-connector"}}
	traceSlack  = Check{"trace slack, doors and ties", 15, []string{"bent-fibre"}}
	lossTest    = Check{"loss test against the budget", 25, []string{"loss-over-budget", "bent-fibre", "dirty-connector"}}
	reseatOptic = Check{"reseat the optics", 4, []string{"loose-optic"}}
	swapOptic   = Check{"swap the optics", 10, []string{"failing-transmitter", "failing-receiver", "optic-mismatch"}}
	readOptics  = Check{"read the optics' types and the cords' colours", 5, []string{"wrong-fibre", "optic-mismatch"}}
	flipStrands = Check{"flip the strands at one end", 4, []string{"reversed-polarity"}}
	faultLight  = Check{"find the break by fault light or OTDR", 30, []string{"broken-strand"}}
	attenuator  = Check{"look for the attenuator", 5, []string{"receiver-overload"}}
)

var (
	copperRest = []Check{
		swapCords, wireMap, compareEnds, lookAtDevice, terminate, otherPort, otherDevice, reflectometer, readJacket, upstream, readRecord, walk, unbundle, screens, readBudget,
	}
	fibreRest = []Check{
		clean, reseatOptic, traceSlack, swapOptic, readOptics, flipStrands, compareEnds, lossTest, faultLight, attenuator, otherPort, upstream, readRecord, otherDevice,
	}
	fieldFirst = map[string][]Check{
		"below-design-speed": {swapCords, wireMap, compareEnds, lookAtDevice},
		"frame-errors":       {swapCords, terminate, wireMap, otherPort},
		"duplex-mismatch":    {compareEnds},
		"link-flapping":      {reseat, swapCords, otherDevice},
		"no-link":            {reseat, otherDevice, wireMap, compareEnds},
		"power-fault":        {otherDevice, wireMap, readBudget},
	}
	fieldFibre = map[string][]Check{
		"low-light":    {clean, traceSlack, swapOptic},
		"excess-loss":  {clean, traceSlack, lossTest},
		"high-light":   {attenuator},
		"no-link":      {compareEnds, flipStrands, faultLight},
		"frame-errors": {clean, swapOptic},
	}
)

// FieldOrder is field practice's own order of checks for a kind: that of its first
// checks, then whatever else there is.
func FieldOrder(kind string, fibre bool) []Check {
	if fibre {
		return slices.Concat(fieldFibre[kind], fibreRest)
	}
	return slices.Concat(fieldFirst[kind], []Check{reseat}, copperRest)
}

// neverFound is what it takes where no check of the order finds the cause.
const neverFound = 120

// MinutesToFind is how long an order takes until a check finds one of the causes; a
// check that stands there twice is done once.
func MinutesToFind(order []Check, causes []string) (minutes float64) {
	done := map[string]bool{}
	for _, c := range order {
		if done[c.Name] {
			continue
		}
		done[c.Name] = true
		minutes += c.Minutes
		if slices.ContainsFunc(c.Finds, func(cause string) bool { return slices.Contains(causes, cause) }) {
			return minutes
		}
	}
	return minutes + neverFound
}
