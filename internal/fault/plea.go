package fault

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"toneout/internal/plant"
)

// What counts as speaking for a cause or against it, and from when on one stands out
// (common practice, no source).
const (
	speaksFor     = 1.5 // times likelier
	speaksAgainst = 0.67
	standsOut     = 0.3
)

const noneStandsOut = "No cause stands out"

// pleas tell what speaks for the leading cause, what against it and what against the
// next one, or that none stands out, and where it may lie. Both is whether both ends show
// it, and beyond what port is at the other end, as far as known.
func (f *finding) pleas(both bool, beyond plant.PortRef) (out []string) {
	lead := f.causes[0]
	if lead.Probability < standsOut {
		out = append(out, noneStandsOut+": done in this order, the checks find it soonest on average.")
	}
	pro, con := f.weighed.speak(lead.Cause)
	if len(pro) > 0 {
		out = append(out, fmt.Sprintf("For the likeliest cause (%s): %s.", lead.Cause.Title(), strings.Join(pro, "; ")))
	}
	if len(con) > 0 && f.named != lead.Cause { // what the readings name outweighs these
		out = append(out, fmt.Sprintf("Against the likeliest cause (%s): %s.", lead.Cause.Title(), strings.Join(con, "; ")))
	}
	return append(out, withoutEmpty(f.againstNext(pro), f.suspects(both, beyond))...)
}

// againstNext tells what speaks against the second cause and was not told as speaking for
// the first; "" where none stands out, or nothing does.
func (f *finding) againstNext(told []string) string {
	if len(f.causes) < 2 || f.causes[0].Probability < standsOut {
		return ""
	}
	next := f.causes[1].Cause
	_, con := f.weighed.speak(next)
	fresh := slices.DeleteFunc(slices.Clone(con), func(words string) bool { return slices.Contains(told, words) })
	switch {
	case len(con) == 0:
		return ""
	case len(fresh) > 0:
		con = fresh
	case len(con) == len(told):
		return fmt.Sprintf("The same speaks against the next one (%s).", next.Title())
	}
	return fmt.Sprintf("Against the next one (%s): %s.", next.Title(), strings.Join(con, "; "))
}

// speak gives what speaks for a cause, and what against it, in words: what the kind of
// fault shows by itself, what is seen, and what the record has.
func (w *Weighed) speak(of Cause) (pro, con []string) {
	if says := cmp.Or(w.says(of), shownBefore[w.Before.Prior][of]); says != "" {
		pro = append(pro, says)
	}
	hear := func(i item, t telling) {
		switch ratio, told := t.ratio[of]; {
		case !told:
		case ratio >= speaksFor:
			pro = append(pro, i.words())
		case ratio <= speaksAgainst:
			con = append(con, i.words())
		}
	}
	for _, i := range w.Seen {
		hear(i, w.Of.tells(i))
	}
	for _, i := range w.Record {
		hear(i, ofRecord(i))
	}
	return pro, con
}

// says is how readings that name the cause themselves do so, "" where they name none.
func (w *Weighed) says(of Cause) string {
	if of != w.Named && of != w.Blamed {
		return ""
	}
	return namedBy[of]
}

// namedBy tells by what readings a cause is named.
var namedBy = map[Cause]string{
	SpeedSetting: "the switch itself says how the port is set", FarEndLimit: "what the far end offers", FarEndAsleep: "the link carries next to nothing",
	DuplexSetting: "frames are damaged where one end does not negotiate", PortShut: "the switch itself says that the port is shut",
	PowerBudget: "the switch itself says that it had no power left", FarEndFaulty: "the switch at the other end does not answer",
	UpstreamErrors: "another port received the damaged frames first", RecordWrong: "the port is able to do no more, whatever the record means for it",
}

// shownBefore is what a kind of fault shows of causes before anything else is seen: the
// reasons are those of its prior.
var shownBefore = map[prior]map[Cause]string{
	copperFellBack: {OpenPair: twoPairsDo, ShortedPair: twoPairsDo, CrossedPair: twoPairsDo, DamagedCable: twoPairsDo},
	powerShort:     {ShortedPair: "the switch counts short circuits"},
	powerOverload:  {FarEndFaulty: "the switch counts overloads"},
	duplexDiffers:  {DuplexSetting: "collisions are counted that ends of one duplex do not make"},
	copperFlaps:    {LoosePlug: "a link that comes and goes is a contact that moves, as a rule"},
}

// twoPairsDo is why a pair is suspect (IEEE 802.3 clauses 14, 25, 40).
const twoPairsDo = "the link runs at a speed that needs two pairs, and not at one that needs all four"

// seenSince are items that claim more by their name than watching shows.
var seenSince = map[item]string{
	neverUp: "no link was seen since watching began",
	fedAnew: "its power was first seen after the link was lost",
}

// words is an item as verdicts tell it.
func (i item) words() string {
	text := cmp.Or(seenSince[i], string(i))
	if rule, is := strings.CutPrefix(text, recordSays); is {
		return recordSays + strings.ReplaceAll(rule, "-", " ")
	}
	return text
}
