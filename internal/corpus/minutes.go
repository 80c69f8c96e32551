package corpus

import "slices"

// Check is something that a technician does: the minutes that it takes, and the
// causes that it finds.
type Check struct {
	Name    string
	Minutes float64
	Finds   []string
	half    half
}

// half is what a check at one end finds only where the one at the other end was done
// too: a label does not tell at which end its cause lies.
type half struct {
	finds []string
	with  string
}

func (c *Check) finds(causes []string, done map[string]bool) bool {
	among := func(found []string) bool {
		return slices.ContainsFunc(found, func(cause string) bool { return slices.Contains(causes, cause) })
	}
	return among(c.Finds) || done[c.half.with] && among(c.half.finds)
}

// The checks of field practice. What they find follows from what they are; the
// minutes are common practice, no source.
var (
	reseat        = Check{"reseat the plugs, look at latch and contacts", 5, []string{"loose-plug"}, half{}}
	swapNearCord  = Check{"swap the cord at the panel and watch", 4, nil, half{[]string{"bad-cord"}, "swap the cord at the outlet and watch"}}
	swapFarCord   = Check{"swap the cord at the outlet and watch", 6, nil, half{[]string{"bad-cord"}, swapNearCord.Name}}
	wireMap       = Check{"wire map with a split-pair test", 12, []string{"open-pair", "shorted-pair", "crossed-pair", "split-pair"}, half{}}
	compareEnds   = Check{"compare the settings of both ends", 5, []string{"duplex-setting", "speed-setting", "port-shut", "fec-mismatch"}, half{}}
	lookAtDevice  = Check{"see what the device can do and whether it sleeps", 5, []string{"far-end-limit", "far-end-asleep"}, half{}}
	otherPort     = Check{"move the run to another port", 8, []string{"port-faulty"}, half{}}
	otherDevice   = Check{"put a known-good device on the run", 10, []string{"far-end-faulty"}, half{}}
	reflectometer = Check{"length and distance to the fault by reflectometer", 12, []string{"over-length", "damaged-cable"}, half{}}
	readJacket    = Check{"read the print on cable and cords", 6, []string{"wrong-category"}, half{}}
	testLink      = Check{"test the permanent link against its limits", 25, []string{
		"open-pair", "shorted-pair", "crossed-pair", "split-pair", "over-length", "poor-termination", "damaged-cable"}, half{}}
	terminate  = Check{"inspect and re-terminate the worse end", 25, []string{"poor-termination", "split-pair"}, half{}}
	walk       = Check{"walk the pathway and match the machines' hours", 45, []string{"interference", "cable-heat"}, half{}}
	unbundle   = Check{"unbundle the cords, use ports apart", 20, []string{"alien-crosstalk"}, half{}}
	screens    = Check{"continuity of the screens at both panels", 20, []string{"shield-broken"}, half{}}
	upstream   = Check{"trace the errors to the first port", 10, []string{"upstream-errors"}, half{}}
	readRecord = Check{"trace the run and mend the record", 15, []string{"record-wrong"}, half{}}
	readBudget = Check{"read the switch's power budget", 3, []string{"power-budget"}, half{}}

	clean        = Check{"inspect, clean, inspect, both ends", 10, []string{"dirty-connector"}, half{}}
	traceSlack   = Check{"trace slack, doors and ties", 15, []string{"bent-fibre"}, half{}}
	lossTest     = Check{"loss test against the budget", 25, []string{"loss-over-budget", "bent-fibre", "dirty-connector"}, half{}}
	reseatOptic  = Check{"reseat the optics", 4, []string{"loose-optic"}, half{}}
	swapSender   = Check{"swap the optic that sends to the receiver that suffers", 5, []string{"failing-transmitter"}, half{[]string{"optic-mismatch"}, "swap the optic of the receiver that suffers"}}
	swapReceiver = Check{"swap the optic of the receiver that suffers", 5, []string{"failing-receiver"}, half{[]string{"optic-mismatch"}, swapSender.Name}}
	readOptics   = Check{"read the optics' types and the cords' colours", 5, []string{"wrong-fibre", "optic-mismatch"}, half{}}
	flipStrands  = Check{"flip the strands at one end", 4, []string{"reversed-polarity"}, half{}}
	swapStrands  = Check{"swap the strands at both ends", 8, []string{"broken-strand"}, half{}}
	faultLight   = Check{"find the break by fault light or OTDR", 30, []string{"broken-strand"}, half{}}
	attenuator   = Check{"look for the attenuator", 5, []string{"receiver-overload"}, half{}}
)

var (
	copperRest = []Check{
		swapNearCord, swapFarCord, wireMap, compareEnds, lookAtDevice, terminate, testLink, otherPort, otherDevice, reflectometer, readJacket, upstream, readRecord, walk, unbundle, screens, readBudget,
	}
	fibreRest = []Check{
		clean, reseatOptic, traceSlack, swapSender, swapReceiver, readOptics, flipStrands, compareEnds, lossTest, swapStrands, faultLight, attenuator, otherPort, upstream, readRecord, otherDevice,
	}
	fieldFirst = map[string][]Check{
		"below-design-speed": {swapNearCord, swapFarCord, wireMap, compareEnds, lookAtDevice},
		"frame-errors":       {swapNearCord, swapFarCord, testLink, terminate, wireMap, otherPort},
		"duplex-mismatch":    {compareEnds},
		"link-flapping":      {reseat, swapNearCord, swapFarCord, otherDevice},
		"no-link":            {reseat, otherDevice, wireMap, compareEnds},
		"power-fault":        {otherDevice, wireMap, readBudget},
	}
	fieldFibre = map[string][]Check{
		"low-light":    {clean, traceSlack, swapSender, swapReceiver},
		"excess-loss":  {clean, traceSlack, lossTest},
		"high-light":   {attenuator},
		"no-link":      {compareEnds, flipStrands, faultLight},
		"frame-errors": {clean, swapSender, swapReceiver},
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
		if c.finds(causes, done) {
			return minutes
		}
	}
	return minutes + neverFound
}
