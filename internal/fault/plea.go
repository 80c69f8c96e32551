package fault

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// What counts as speaking for a cause or against it, and from when on one stands out
// (common practice, no source).
const (
	speaksFor     = 1.5 // times likelier
	speaksAgainst = 0.67
	standsOut     = 0.3
)

const noneStandsOut = "No cause stands out"

// pleas tell what speaks for the leading cause and what against it, or that none
// stands out.
func (f *finding) pleas() (out []string) {
	lead := f.causes[0]
	if lead.Probability < standsOut {
		return append([]string{noneStandsOut + ": done in this order, the checks find it soonest on average."}, withoutEmpty(suspectSentence(f.causes))...)
	}
	pro, con := f.weighed.speak(lead.Cause)
	if len(pro) > 0 {
		out = append(out, fmt.Sprintf("For the likeliest cause (%s): %s.", lead.Cause.Title(), strings.Join(pro, "; ")))
	}
	if len(con) > 0 && f.named != lead.Cause { // what the readings name outweighs these
		out = append(out, fmt.Sprintf("Against the likeliest cause (%s): %s.", lead.Cause.Title(), strings.Join(con, "; ")))
	}
	return append(out, withoutEmpty(suspectSentence(f.causes))...)
}

// speak gives what is seen that speaks for a cause, and what speaks against it, in words.
func (w *Weighed) speak(of Cause) (pro, con []string) {
	for _, i := range w.Seen {
		switch ratio, told := w.Of.tells(i).ratio[of]; {
		case !told:
		case ratio >= speaksFor:
			pro = append(pro, i.words())
		case ratio <= speaksAgainst:
			con = append(con, i.words())
		}
	}
	return pro, con
}

// seenSince are items that claim more by their name than watching shows.
var seenSince = map[item]string{
	neverUp: "no link was seen since watching began",
	fedAnew: "its power was first seen after the link was lost",
}

// words is an item as verdicts tell it.
func (i item) words() string { return cmp.Or(seenSince[i], string(i)) }

// placesOfCauses are where a cause lies that is about the run and in no part of its
// own: what is not here lies in the permanent link.
var placesOfCauses = map[Cause]string{
	BadCord: "a cord or plug", LoosePlug: "a cord or plug", WrongCategory: "the cable or a cord", DirtyConnector: "a connector",
	BentFibre: "the fibre", WrongFibre: "the fibre", BrokenStrand: "the fibre", ReversedPolarity: "the fibre", LossOverBudget: "the fibre", ReceiverOverload: "the fibre",
	FailingTransmitter: "the optic that sends", FailingReceiver: "the optic that receives", LooseOptic: "an optic", OpticMismatch: "an optic",
	Interference: "something beside the run", AlienCrosstalk: "the runs beside it", RecordWrong: "the record",
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

// leastSuspect is what a part must have of the whole to be named (common practice, no
// source).
const leastSuspect = 0.1

// suspectSentence tells in which parts the fault may still lie, likeliest first, "" for
// one alone.
func suspectSentence(causes []CauseProbability) string {
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
	var named []string
	for _, part := range parts {
		if share[part] >= leastSuspect {
			named = append(named, fmt.Sprintf("%s (%s)", part, Percent(share[part])))
		}
	}
	if len(named) < 2 {
		return ""
	}
	return fmt.Sprintf("Where it may lie: %s. A switch sees the run only from end to end: swap a part, or test, to tell which.", strings.Join(named, ", "))
}
