package fault

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"toneout/internal/plant"
)

// placesOfCauses are where a cause lies that is about the run and in no part of its
// own: what is not here lies in the permanent link.
var placesOfCauses = map[Cause]string{
	BadCord: "a cord or plug", LoosePlug: "a cord or plug", WrongCategory: "the cable or a cord", DirtyConnector: "a connector",
	BentFibre: "the fibre", WrongFibre: "the fibre", BrokenStrand: "the fibre", ReversedPolarity: "the fibre", LossOverBudget: "the fibre", ReceiverOverload: "a sender too strong for the run",
	FailingTransmitter: "the optic that sends", FailingReceiver: "the optic that receives", LooseOptic: "an optic", OpticMismatch: "an optic",
	Interference: "something beside the run", AlienCrosstalk: "the runs beside it", RecordWrong: "the record",
	DuplexSetting: "the settings of the two ends", FECMismatch: "the settings of the two ends", SpeedSetting: "the port's setting", PortShut: "the port's setting",
}

func (c Cause) place() string {
	if place, told := placesOfCauses[c]; told {
		return place
	}
	switch words[c].about {
	case AboutPort:
		return "the switch port"
	case AboutFarEnd:
		return "the device at the other end"
	case AboutRun:
	}
	return "the permanent link"
}

// endToEnd is what a switch sees of a run, and leaves to who goes there.
const endToEnd = "A switch sees the run only from end to end: it cannot tell "

// untold is what SNMP cannot tell of a cause, so that somebody has to look.
var untold = map[Cause]string{
	OpenPair: endToEnd + atWhichPlace, ShortedPair: endToEnd + atWhichPlace, CrossedPair: endToEnd + atWhichPlace, SplitPair: endToEnd + atWhichPlace,
	OverLength:         endToEnd + "how long the cable and its cords are.",
	WrongCategory:      endToEnd + "whether it is the cable or a cord.",
	PoorTermination:    endToEnd + "at which end the joint is.",
	AlienCrosstalk:     endToEnd + "which neighbour disturbs it.",
	Interference:       endToEnd + "where along the run it comes in.",
	ShieldBroken:       endToEnd + "at which end the screen is open.",
	DamagedCable:       endToEnd + "how far along the damage is.",
	CableHeat:          endToEnd + "which stretch is hot.",
	LoosePlug:          endToEnd + "which of its plugs and jacks it is.",
	BadCord:            endToEnd + "whether it is the near or the far cord.",
	DirtyConnector:     endToEnd + "which of the connectors it is.",
	BentFibre:          endToEnd + "how far along the bend is, and whether in the cable or a cord.",
	WrongFibre:         endToEnd + "which part is of the wrong kind.",
	LossOverBudget:     endToEnd + "which joint or length takes too much.",
	BrokenStrand:       endToEnd + "how far along the break is.",
	ReversedPolarity:   endToEnd + "where the strands change places.",
	ReceiverOverload:   "A switch cannot tell whether an attenuator is fitted.",
	LooseOptic:         "A switch cannot tell whether the optic or the plug in it has no contact.",
	OpticMismatch:      "A switch knows optics by what they say of themselves only.",
	FailingTransmitter: "An optic measures its own light: only a light meter tells whether it sends as much as it says.",
	FailingReceiver:    "An optic measures its own light: only a light meter tells whether as little arrives as it says.",
	FECMismatch:        "A switch cannot tell which of the two settings was meant.",
	DuplexSetting:      "A switch cannot tell which of the two settings was meant.",
	SpeedSetting:       "A switch cannot tell whether somebody meant that setting.",
	PortShut:           "A switch cannot tell who shut the port and why.",
	PortFaulty:         "A switch cannot tell its own port's errors from the run's: another port shows that.",
	FarEndFaulty:       "A switch does not see into the device at the other end: another device shows that.",
	FarEndLimit:        "A switch hears what the device offers now, and not what it is built for.",
	FarEndAsleep:       "A switch cannot tell a device that sleeps from one that nobody uses.",
	PowerBudget:        "A switch cannot tell what the device would need.",
	UpstreamErrors:     "A switch counts what it receives, and not where that was damaged first.",
	RecordWrong:        "SNMP reads no labels: they are at both ends.",
}

const atWhichPlace = "at which end or how far along."

// suspects tells in which parts the fault may still lie, likeliest first, which way what
// it shows went, and what SNMP cannot tell.
func (f *finding) suspects(both bool, beyond plant.PortRef) string {
	parts, limit := suspectParts(f.causes, Percent), untold[f.causes[0].Cause]
	if what, is := strings.CutPrefix(limit, endToEnd); is && len(parts) > 1 {
		limit = endToEnd + "which of these it is, nor " + what
	}
	return fmt.Sprintf("Where it may lie%s: %s. %s", f.way(both, beyond), strings.Join(parts, ", "), limit)
}

// way is which way what was damaged or dimmed went, "" where the kind does not tell.
func (f *finding) way(both bool, beyond plant.PortRef) string {
	switch {
	case f.kind != FrameErrors && !slices.Contains(lightKinds, f.kind):
		return ""
	case both || slices.Contains(f.seen, lossBothWays) || slices.Contains(f.seen, lossUnlike):
		return ", in both directions"
	case beyond.Port == "":
		return fmt.Sprintf(", on the way to %v", f.port.ref)
	}
	return fmt.Sprintf(", on the way from %v to %v", beyond, f.port.ref)
}

// leastSuspect is what a part must have of the whole to be named (common practice, no
// source).
const leastSuspect = 0.1

// suspectSentence tells in short in which parts the fault may still lie, "" for one
// alone. Its shares are rough ones, so that it holds still.
func suspectSentence(causes []CauseProbability) string {
	named := suspectParts(causes, func(p float64) string { return fmt.Sprintf("%.0f %%", 5*math.Round(20*p)) })
	if len(named) < 2 {
		return ""
	}
	return fmt.Sprintf("Where it may lie: %s. A switch sees the run only from end to end: swap a part, or test, to tell which.", strings.Join(named, ", "))
}

// suspectParts are the parts in which causes lie, each with its share, likeliest first.
func suspectParts(causes []CauseProbability, write func(float64) string) (named []string) {
	share := map[string]float64{}
	var parts []string
	for _, c := range causes {
		place := c.Cause.place()
		if share[place] == 0 {
			parts = append(parts, place)
		}
		share[place] += c.Probability
	}
	slices.SortStableFunc(parts, func(a, b string) int { return cmp.Compare(share[b], share[a]) })
	for _, part := range parts {
		if share[part] >= leastSuspect || len(named) == 0 {
			named = append(named, fmt.Sprintf("%s (%s)", part, write(share[part])))
		}
	}
	return named
}
