package fault

import (
	"slices"

	"toneout/internal/standards"
)

// The table of causes: by kind and medium how often each cause is the one, and by
// item of evidence how many times likelier that is seen where a cause is at work
// than where others are. Which items speak of which causes is common practice, no
// source, unless a standard stands beside it; how loudly was then fitted to labelled
// plants (fit_test.go; corpus), the items of the first day apart, which these can't
// teach. What is not known is no item, and changes nothing. The items stand
// in tableitems.go, what they tell of copper in tablecopper.go, of fibre and of
// assemblies in tablefibre.go.

// materials are what the table tells apart: a cord of twinax or an active optical
// cable is one piece with its plugs.
type material string

const (
	ofCopper   material = "copper"
	ofFibre    material = "fibre"
	ofAssembly material = "assembly"
)

// made tells what the port's run is made of; copper where that is not known.
func (p *portState) made() material {
	medium, run := p.mediumNow(), p.join.Run
	lit := p.optic != nil && len(p.optic.Lanes) > 0 || p.Light.Known != nil || run != nil && run.Optic != ""
	fast := p.Link.Speed >= 25*standards.Gbps // no copper to speak of carries as much (common practice, no source)
	if medium == "" && (lit || fast) {        // without a link, and what it is of is not recorded
		return ofFibre
	}
	return madeOf(medium)
}

// unmade tells whether nothing tells what the port's run is made of.
func (p *portState) unmade() bool { return p.mediumNow() == "" && p.made() == ofCopper }

func madeOf(medium standards.Medium) material {
	switch medium {
	case standards.Fibre:
		return ofFibre
	case standards.Twinax, standards.ActiveOptical:
		return ofAssembly
	}
	return ofCopper
}

// suffers tells whether a cause can befall what is made so.
func (m material) suffers(cause Cause) bool {
	of, some := onlyOf[cause]
	return !some || slices.Contains(of, m)
}

var (
	copperAlone = []material{ofCopper}
	fibreAlone  = []material{ofFibre}
	withOptics  = []material{ofFibre, ofAssembly}
)

// onlyOf are the causes of some materials; what is not here befalls any.
var onlyOf = map[Cause][]material{
	OpenPair: copperAlone, ShortedPair: copperAlone, CrossedPair: copperAlone, SplitPair: copperAlone,
	OverLength: copperAlone, WrongCategory: copperAlone, PoorTermination: copperAlone, AlienCrosstalk: copperAlone,
	Interference: copperAlone, ShieldBroken: copperAlone, DamagedCable: copperAlone, CableHeat: copperAlone,
	LoosePlug: copperAlone, DuplexSetting: copperAlone, PowerBudget: copperAlone,
	DirtyConnector: fibreAlone, BentFibre: fibreAlone, WrongFibre: fibreAlone, LossOverBudget: fibreAlone,
	ReceiverOverload: fibreAlone, BrokenStrand: fibreAlone, ReversedPolarity: fibreAlone,
	FailingTransmitter: fibreAlone, FailingReceiver: fibreAlone,
	LooseOptic: withOptics, OpticMismatch: withOptics, FECMismatch: withOptics,
}

// prior is how often each cause is the one where nothing is seen yet, by name.
type prior string

// weights are the prior's, in parts of any whole.
func (p prior) weights() weights {
	if w, is := copperPriors[p]; is {
		return w
	}
	return fibrePriors[p]
}

// priors are those of a kind that says no more by itself.
var priors = map[Kind]map[material]prior{
	FrameErrors:  {ofCopper: copperErrors, ofFibre: fibreErrors, ofAssembly: assemblyErrors},
	LinkFlapping: {ofCopper: copperFlaps, ofFibre: fibreFlaps, ofAssembly: assemblyFlaps},
	NoLink:       {ofCopper: copperNoLink, ofFibre: fibreNoLink, ofAssembly: assemblyNoLink},
}

// telling is what an item says. Items of one group depend on each other, so that of
// these the most telling one counts for each cause.
type telling struct {
	group string
	ratio weights
}

// tells is what an item says of what is made so; nothing where it is not in the table.
func (m material) tells(i item) telling {
	if m == ofCopper {
		return copperTells[i]
	}
	return fibreTells[i]
}

// ofRecord is what an item of the record says, whatever the port's link is made of.
func ofRecord(i item) telling {
	if t, is := copperRecord[i]; is {
		return t
	}
	return fibreRecord[i]
}
