package standards

// CopperNeeds is what a PHY asks of balanced cabling.
type CopperNeeds struct {
	Category   Category // the lowest that carries it at all, "" where one pair is asked by other terms
	ReachM     float64  // the longest channel over the best cabling, in metres
	Pairs      int
	Pins       string // of the eight-way connector, pair by pair; "" for one pair
	Connectors int    // mated pairs along the channel, at most; 0 is no limit
	Source     Source
}

// step is a length up to which a PHY may run over a category and those above.
type step struct {
	least     Category // "" for cabling without categories: one pair
	screened  bool     // counts for screened cable only
	uptoM     float64  // of the whole channel
	condition string   // on which it depends; "" where it is allowed
	beyond    string   // added to what is said of a longer channel
	source    Source
}

// copperRow is a PHY with its needs and its steps. Of the steps that a channel
// fits the best verdict holds, the first of those; so a better or shorter
// channel, which fits more of them, is never judged worse.
type copperRow struct {
	phy   string
	needs CopperNeeds
	steps []step
}

// copperTable is a row with the steps that count for each category, that which
// is not known first.
type copperTable struct {
	copperRow
	unscreened, screened [][]step
}

// The pairs' pins (IEEE 802.3 14.5.1 and 40.8.1, memory): BI_DA 1-2, BI_DB 3-6,
// BI_DC 4-5, BI_DD 7-8.
const (
	twoPairPins  = "1-2, 3-6"
	fourPairPins = "1-2, 3-6, 4-5, 7-8"
)

// Most mated pairs: the four of the reference channel (ISO/IEC 11801-1 and
// ANSI/TIA-568.0-D, memory), the two of IEEE 802.3 113.7.
const (
	channelConnectors = 4
	cat8Connectors    = 2
)

var (
	clause14  = Source{Document: "IEEE 802.3 14.4 (100 m nominal: 11.5 dB at 5 to 10 MHz decides)"}
	clause25  = Source{"IEEE 802.3 25.4.9 (two pairs of Category 5)", true}
	clause40  = Source{"IEEE 802.3 40.7 (four pairs of Category 5)", true}
	clause55  = Source{Document: "IEEE 802.3 55.7"}
	clause113 = Source{Document: "IEEE 802.3 113.7"}
	clause126 = Source{Document: "IEEE 802.3 126.7"}
	tsb95     = Source{"TIA/EIA TSB-95 (1999)", true}
	tsb155    = Source{Document: "TIA TSB-155-A"}
	tsb5021   = Source{Document: "TIA TSB-5021"}
)

const (
	assess5021 = "installed cabling of this category must first be assessed by TIA TSB-5021: alien crosstalk and signal-to-noise ratio"
	alien155   = "between 37 and 55 m it depends on the alien crosstalk from neighbouring cables (TIA TSB-155-A): test it, or keep the bundle loose"
	swept155   = "screened Category 6 is specified to 250 MHz only: the channel must be measured to 500 MHz (TIA TSB-155-A)"
	beyond155  = "; beyond that the alien crosstalk must be mitigated (TIA TSB-155-A)"
	addendum95 = "Category 5 from before 5e must pass the return loss and ELFEXT tests of TIA/EIA TSB-95"
	onePair    = "it needs one pair that keeps the link segment of its own clause, of which no category tells"
	thickPair  = "it needs one pair of about 18 AWG that keeps the link segment of its own clause, of which no category tells"
	multidrop  = "point to point reaches 15 m: it must be a multidrop segment that keeps its own clause"
	typeB      = "type A reaches 15 m: the link must be of type B"
)

// copperRows: PHYs by rising speed, those over one pair last. Where a printed
// figure is doubted the stricter stands: one says of 5GBASE-T that Category 6
// carries it, another that only 6A surely does, and TSB-5021 covers both 5e and
// 6; so unscreened Category 6 depends. Screened Category 6 beyond 55 m is free
// of TSB-155-A's limit, yet specified to half the PHY's bandwidth.
var copperRows = tablesOf([]copperRow{
	{"10BASE-T", CopperNeeds{Cat3, 100, 2, twoPairPins, channelConnectors, clause14}, []step{
		{least: Cat3, uptoM: 100, source: clause14},
	}},
	{"100BASE-TX", CopperNeeds{Cat5, 100, 2, twoPairPins, channelConnectors, clause25}, []step{
		{least: Cat5, uptoM: 100, source: clause25},
	}},
	{"1000BASE-T", CopperNeeds{Cat5, 100, 4, fourPairPins, channelConnectors, clause40}, []step{
		{least: Cat5e, uptoM: 100, source: clause40},
		{least: Cat5, uptoM: 100, condition: addendum95, source: tsb95},
	}},
	{"2.5GBASE-T", CopperNeeds{Cat5e, 100, 4, fourPairPins, channelConnectors, clause126}, []step{
		{least: Cat6, uptoM: 100, source: clause126},
		{least: Cat5e, uptoM: 100, condition: assess5021, source: tsb5021},
	}},
	{"5GBASE-T", CopperNeeds{Cat5e, 100, 4, fourPairPins, channelConnectors, clause126}, []step{
		{least: Cat6A, uptoM: 100, source: clause126},
		{least: Cat6, screened: true, uptoM: 100, source: clause126},
		{least: Cat5e, uptoM: 100, condition: assess5021, source: tsb5021},
	}},
	{"10GBASE-T", CopperNeeds{Cat6, 100, 4, fourPairPins, channelConnectors, clause55}, []step{
		{least: Cat6A, uptoM: 100, source: clause55},
		{least: Cat6, screened: true, uptoM: 55, source: clause55},
		{least: Cat6, uptoM: 37, source: tsb155},
		{least: Cat6, uptoM: 55, condition: alien155, beyond: beyond155, source: tsb155},
		{least: Cat6, screened: true, uptoM: 100, condition: swept155, source: tsb155},
	}},
	{"25GBASE-T", CopperNeeds{Cat8, 30, 4, fourPairPins, cat8Connectors, clause113}, []step{
		{least: Cat8, uptoM: 30, source: clause113},
	}},
	{"40GBASE-T", CopperNeeds{Cat8, 30, 4, fourPairPins, cat8Connectors, clause113}, []step{
		{least: Cat8, uptoM: 30, source: clause113},
	}},
	singlePair("10BASE-T1S", "IEEE 802.3 147", step{uptoM: 15, condition: onePair}, step{uptoM: 25, condition: multidrop}),
	singlePair("10BASE-T1L", "IEEE 802.3 146", step{uptoM: 1000, condition: thickPair}),
	singlePair("100BASE-T1", "IEEE 802.3 96", step{uptoM: 15, condition: onePair}),
	singlePair("100BASE-T1L", "ISO/IEC 11801 single-pair channels", step{uptoM: 500, condition: onePair}),
	singlePair("1000BASE-T1", "IEEE 802.3 97", step{uptoM: 15, condition: onePair}, step{uptoM: 40, condition: typeB}),
})

// singlePair is the row of a PHY over one pair; its steps rise. Multidrop's
// 25 m are from memory, the other lengths printed in the scope of ISO/IEC's
// document on single-pair channels.
func singlePair(phy, document string, steps ...step) copperRow {
	source := Source{Document: document}
	for i := range steps {
		steps[i].source = source
		steps[i].source.Memory = steps[i].condition == multidrop
	}
	return copperRow{phy, CopperNeeds{ReachM: steps[len(steps)-1].uptoM, Pairs: 1, Source: source}, steps}
}

// CopperPHYs lists the PHYs that run over the two or four pairs of a category,
// by rising speed.
func CopperPHYs() []PHY {
	var list []PHY
	for _, row := range copperRows {
		if phy, ok := PHYNamed(row.phy); ok && row.needs.Pairs > 1 {
			list = append(list, phy)
		}
	}
	return list
}

// CopperNeeds tells what the PHY asks of balanced cabling; false for one that
// does not run over it, or of which no figures are known.
func (p PHY) CopperNeeds() (CopperNeeds, bool) {
	row, ok := p.copperRow()
	if !ok {
		return CopperNeeds{}, false
	}
	return row.needs, true
}

func (p PHY) copperRow() (*copperTable, bool) {
	for i := range copperRows {
		if copperRows[i].phy == p.Name {
			return &copperRows[i], true
		}
	}
	return nil, false
}
