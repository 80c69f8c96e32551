package plant

import (
	"fmt"
	"slices"
	"strings"
)

// WireFault is one thing wrong with a wire map.
type WireFault struct {
	Kind      WireFaultKind
	Pins      string // e.g. "7", "4-5", "3-6 and 4-5"; "" where not recorded
	Text      string // in words, without a full stop
	Effect    string // what it would do to a link, likewise
	Suspected bool   // by measured values and not by the wire map itself
}

// WireFaultKind names a wire map's fault.
type WireFaultKind string

// The kinds of wire map faults by the field's names (ANSI/TIA-1152-A, IEC 61935-1;
// memory).
const (
	WireShort    WireFaultKind = "short"
	WireOpen     WireFaultKind = "open"
	WireMiswired WireFaultKind = "miswired" // conductors at wrong pins, but for the next two
	WireCrossed  WireFaultKind = "crossed"  // whole pairs in each other's place
	WireReversed WireFaultKind = "reversed" // the two conductors of a pair in each other's place
	WireSplit    WireFaultKind = "split"    // every pin right, but two pairs share their twists
	WireUnnamed  WireFaultKind = "fault"    // nothing but "fail" is recorded
)

// What a fault does to a link. Auto-negotiation, 10BASE-T and 100BASE-TX run on
// 1-2 and 3-6 alone (IEEE 802.3 clauses 14, 25, 28), 1000BASE-T and faster on all
// four pairs (clause 40, 126, 55). A 1000BASE-T port puts right polarity and a
// crossover within 1-2/3-6 and within 4-5/7-8 (clause 40.4.4 and 40.3.1.4; memory).
const (
	noLink     = "no link is to be expected: auto-negotiation, 10BASE-T and 100BASE-TX need pairs 1-2 and 3-6"
	fallsBack  = "1000BASE-T and faster need all four pairs: the link falls back to 100 Mb/s, or does not come up at all"
	putsRight  = "often nothing is to be seen, since ports with automatic crossover put it right; without it there is no link"
	foursRight = "nothing at 100 Mb/s and below, which do not use these pairs; 1000BASE-T ports mostly put it right"
	polarity   = "often nothing is to be seen, since 1000BASE-T ports put the polarity right; an older device may not link"
	disturbs   = "the two pairs disturb each other: damaged frames at 100 Mb/s and above, though continuity is right and 10 Mb/s may pass"
	unscreened = "the screen does not keep disturbance out, and the run counts as unscreened until it is mended"
	toScreen   = "the pair is out of balance and may not work at all"
	anything   = "what it does to a link depends on which pins it is"
)

func unnamedFault() WireFault {
	return WireFault{Kind: WireUnnamed, Text: "the wire map failed and the record does not say how", Effect: anything}
}

func splitFault(a, b wirePair, suspected bool) WireFault {
	f := WireFault{Kind: WireSplit, Pins: fmt.Sprintf("%s and %s", min(a.String(), b.String()), max(a.String(), b.String())),
		Effect: disturbs, Suspected: suspected}
	f.Text = "pairs " + f.Pins + " are split"
	if suspected {
		f.Text = "pairs " + f.Pins + " may be split: each pin is right but their NEXT is far below its limit"
	}
	return f
}

// faultFinder names what is wrong with conductors; a pin is explained once.
type faultFinder struct {
	found  map[string]string // by near pin
	told   map[string]bool   // pins whose place is explained
	faults []WireFault
}

func findFaults(conductors []Conductor, shorts []wirePair) []WireFault {
	f := faultFinder{found: map[string]string{}, told: map[string]bool{}}
	for _, c := range conductors {
		f.found[c.Pin] = c.Found
		if c.Found == c.Expected {
			f.told[c.Pin] = true
		}
	}
	f.shorts(shorts)
	f.opens()
	whole := f.wholePairs()
	f.crossed(whole)
	f.reversed(whole)
	f.miswired()
	slices.SortStableFunc(f.faults, func(a, b WireFault) int { return gravity(a) - gravity(b) })
	return f.faults
}

// gravity puts a fault that lets no link up first.
func gravity(f WireFault) int {
	return slices.Index([]string{noLink, fallsBack, toScreen, disturbs, anything, putsRight, polarity, foursRight, unscreened}, f.Effect)
}

func (f *faultFinder) add(kind WireFaultKind, pins, effect, format string, args ...any) {
	f.faults = append(f.faults, WireFault{Kind: kind, Pins: pins, Effect: effect, Text: fmt.Sprintf(format, args...)})
}

func (f *faultFinder) shorts(shorts []wirePair) {
	for _, s := range shorts {
		effect := effectOn(s[:])
		if s[1] == screenPin {
			effect = toScreen
		}
		f.add(WireShort, s.String(), effect, "%s and %s are shorted", pinName(s[0]), pinName(s[1]))
	}
}

func (f *faultFinder) opens() {
	for _, pair := range wirePairs {
		switch a, b := f.open(pair[0]), f.open(pair[1]); {
		case a && b:
			f.add(WireOpen, pair.String(), effectOn(pair[:]), "both conductors of pair %s are open", pair)
		case a || b:
			pin := pair[0]
			if b {
				pin = pair[1]
			}
			f.add(WireOpen, pin, effectOn(pair[:]), "pin %s, of pair %s, is open", pin, pair)
		}
	}
	if f.open(screenPin) {
		f.add(WireOpen, screenPin, unscreened, "the screen is open")
	}
}

// open tells whether a pin is open, and that this explains it.
func (f *faultFinder) open(pin string) bool {
	found, tested := f.found[pin]
	if tested && found == "" {
		f.told[pin] = true
	}
	return tested && found == ""
}

// arrival is where a whole pair arrives, and whether with its conductors swapped.
type arrival struct {
	at      wirePair
	swapped bool
}

func (f *faultFinder) wholePairs() map[wirePair]arrival {
	whole := map[wirePair]arrival{}
	for _, pair := range wirePairs {
		for _, at := range wirePairs {
			switch a, b := f.found[pair[0]], f.found[pair[1]]; {
			case a == at[0] && b == at[1]:
				whole[pair] = arrival{at, false}
			case a == at[1] && b == at[0]:
				whole[pair] = arrival{at, true}
			}
		}
	}
	return whole
}

// crossed names whole pairs that stand in each other's place: two, or three or four
// in a ring.
func (f *faultFinder) crossed(whole map[wirePair]arrival) {
	done := map[wirePair]bool{}
	for _, pair := range wirePairs {
		ring := ringFrom(pair, whole)
		if len(ring) < 2 || done[pair] {
			continue
		}
		for _, p := range ring {
			done[p], f.told[p[0]], f.told[p[1]] = true, true, true
		}
		f.addCrossed(ring, whole)
	}
}

// ringFrom follows a pair to where it arrives until it is back; nil where it never is.
func ringFrom(start wirePair, whole map[wirePair]arrival) (ring []wirePair) {
	for at := start; len(ring) <= len(wirePairs); {
		ring = append(ring, at)
		next, known := whole[at]
		if !known {
			return nil
		}
		if at = next.at; at == start {
			return ring
		}
	}
	return nil
}

func (f *faultFinder) addCrossed(ring []wirePair, whole map[wirePair]arrival) {
	names := make([]string, len(ring))
	var on, swapped []string
	for i, p := range ring {
		names[i] = p.String()
		on = append(on, p[0], p[1])
		if whole[p].swapped {
			swapped = append(swapped, p.String())
		}
	}
	slices.Sort(names)
	text, effect := "pairs "+and(names)+" are crossed", effectOn(on)
	switch and(names) {
	case "1-2 and 3-6":
		effect = putsRight
		text = "crossover: 1-2 arrives at 3-6 and 3-6 at 1-2, as with T568A at one end and T568B at the other"
	case "4-5 and 7-8":
		effect = foursRight
	}
	if len(swapped) > 0 {
		text += "; the conductors of " + and(swapped) + " are swapped besides"
	}
	f.add(WireCrossed, and(names), effect, "%s", text)
}

func (f *faultFinder) reversed(whole map[wirePair]arrival) {
	for _, pair := range wirePairs {
		if got, ok := whole[pair]; ok && got.at == pair && got.swapped {
			f.told[pair[0]], f.told[pair[1]] = true, true
			f.add(WireReversed, pair.String(), polarity, "pair %s is reversed: its two conductors are swapped", pair)
		}
	}
}

// miswired names, in one fault, the pins that nothing else explains.
func (f *faultFinder) miswired() {
	var wrong, places []string
	for _, pin := range strings.Split(pins+screenPin, "") {
		if found, tested := f.found[pin]; tested && !f.told[pin] {
			wrong = append(wrong, pin)
			places = append(places, fmt.Sprintf("%s arrives at %s", pinName(pin), pinName(found)))
		}
	}
	if len(wrong) > 0 {
		f.add(WireMiswired, and(wrong), effectOn(wrong), "miswired: %s", strings.Join(places, ", "))
	}
}

// effectOn tells what pins that do not work mean to a link.
func effectOn(broken []string) string {
	for _, pin := range broken {
		if strings.Contains("1236", pin) {
			return noLink
		}
	}
	return fallsBack
}

func pinName(pin string) string {
	if pin == screenPin {
		return "the screen"
	}
	return "pin " + pin
}
