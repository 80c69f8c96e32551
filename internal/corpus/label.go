package corpus

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"
)

// Label is what is true of one run of a labelled plant.
type Label struct {
	Run         string // its true id
	Near, Far   string // "switch port" of its ends; Far is "" at a device
	From        time.Duration
	Causes      []string // truly at work, any of which is right to name first; none where nothing is
	Kinds       []string // any of which ought to be raised; none where nobody is to hear of anything
	LookAlike   bool     // nobody is to mend the cable, its cords or its optics
	RecordRight bool     // the inventory has this run, at this port
	Unseen      string   // why nobody could see it in the play, by what is asked and recorded; "" where it can be seen

	damages bool // some frames, though nobody is to hear of it
}

// Cause is the first of its causes, "nothing" where there is none.
func (l *Label) Cause() string {
	if len(l.Causes) == 0 {
		return "nothing"
	}
	return l.Causes[0]
}

// Labelled is a plant with faults and what only looks like them, each labelled.
type Labelled struct {
	Seed   uint64
	Labels []*Label
	Stage  *Stage
	// How often switches are asked before the first thing happens, and from then on.
	QuietPoll, ClosePoll time.Duration

	random  *rand.Rand
	site    *ground
	records []map[string]string // of the inventory as kept, and what else it says
	lacks   map[string]bool     // what the play goes without
	swapped map[string]bool     // runs at whose port the record has another
}

// The play: some days in which the ports show their habits, and then some in which
// things happen.
const (
	quietDays  = 8 * 24 * time.Hour
	firstHour  = quietDays + 6*time.Hour // when the first thing may happen
	lastHour   = firstHour + 24*time.Hour
	playEnds   = lastHour + 30*time.Hour
	quietPoll  = 5 * time.Minute
	closePoll  = time.Minute
	closeStep  = 5 * time.Second
	slowQuiet  = 3 * slowClose // no longer than what neighbours tell is kept
	slowClose  = 5 * time.Minute
	settleTime = 10 * time.Minute // before the first look, and before the first thing at the finer step, for links to settle
)

// recipe is one thing that can happen to a run: how, where, and what it is.
type recipe struct {
	causes    []string
	kinds     []string
	lookAlike bool
	weight    int // how often among all
	on        where
	do        func(p *planter)
}

// where is which runs a thing can happen to.
type where string

const (
	atDesk    where = "desk"    // copper to a PC or a workstation
	fed       where = "fed"     // copper to what is fed over the pairs and always on
	multiGig  where = "10g"     // copper that carries 10 Gb/s
	atFibre   where = "fibre"   // 10GBASE-SR between switches
	singleMod where = "single"  // 10GBASE-LR
	shortRun  where = "short"   // 10GBASE-ER
	fastRun   where = "25g"     // 25GBASE-SR
	victims   where = "passing" // the uplink of a switch that passes damaged frames on
	anyEnd    where = "end"     // desk or fed
)

// planter plants one recipe on one run.
type planter struct {
	*Labelled
	*spot
	label *Label
	from  time.Duration
}

// between draws evenly, and spread evenly on a logarithmic scale.
func (l *Labelled) between(low, high float64) float64 { return low + (high-low)*l.random.Float64() }

func (l *Labelled) spread(low, high float64) float64 {
	return low * math.Pow(high/low, l.random.Float64())
}

func (l *Labelled) chance(p float64) bool { return l.random.Float64() < p }

func pick[T any](l *Labelled, of ...T) T { return of[l.random.IntN(len(of))] }

// at plans what is done to the site at a time, with nobody looking.
func (l *Labelled) at(when time.Duration, do func()) {
	l.atTime(when, func(now time.Time) { l.Stage.Campus.Do(now, do) })
}

// atTime plans what takes the time itself.
func (l *Labelled) atTime(when time.Duration, do func(now time.Time)) {
	l.Stage.left = append(l.Stage.left, action{when, do})
}

// begins plans the thing itself.
func (p *planter) begins(do func()) { p.at(p.from, do) }

// repatched plans it for when a plug is back that was out for a moment.
func (p *planter) repatched(do func()) {
	out := time.Duration(p.between(40, 240)) * time.Second
	p.at(p.from-out, p.cable.Unplug)
	p.at(p.from, func() { do(); p.cable.Replug() })
}

// fresh plans it for a run that is first plugged in then, having lain ready; one
// between switches is lit on the first day, since it would be missed before.
func (p *planter) fresh(do func()) {
	if p.cable.B != nil {
		p.from = 0
		p.at(0, do)
	} else {
		p.at(0, func() { do(); p.cable.Unplug() })
		p.at(p.from, p.cable.Replug)
	}
	p.record["installed_on"] = p.Stage.begin.Add(p.from).AddDate(0, 0, -p.random.IntN(6)).Format(time.DateOnly)
	delete(p.record, "tested_on")
	delete(p.record, "test_result")
	delete(p.record, "test_margin_db")
}

// always plans it for the start: it was there before anybody watched.
func (p *planter) always(do func()) {
	p.from = 0
	p.at(0, do)
}

// laid plans a defect that comes with the laying: of a new run, or an old one.
func (p *planter) laid(do func()) {
	if p.chance(0.6) {
		p.fresh(do)
	} else {
		p.always(do)
	}
}

// tests writes an acceptance test into the record.
func (p *planter) tested(result string, margin float64) {
	p.record["tested_on"] = p.record["installed_on"]
	p.record["test_result"] = result
	p.record["test_margin_db"] = fmt.Sprintf("%.1f", margin)
}

// eat gives the dB that bring what an end has to spare down to so many.
func (p *planter) eat(toA bool, left float64) float64 {
	scale := math.Sqrt(map[int]float64{100: 0.5, 1000: 1, 10000: 6.4}[p.speed])
	return max((p.cable.Spare(p.speed, toA)-left)/scale, 0)
}

// mild to heavy: dB that a PHY has to spare, from a few damaged frames an hour of a
// desk's traffic to about one in ten.
func (p *planter) poor() float64 { return p.between(-3.8, -1.2) }

// NewLabelled makes the plant of a seed, with so many labels.
func NewLabelled(seed uint64, n int) *Labelled {
	l := newLabelled(seed)
	l.lay()
	l.deal(n, copperRecipes, fibreRecipes, lookAlikes)
	return l
}

// NewLabelledCopper makes the plant of a seed without its fibre, for a closer look at
// what happens to copper.
func NewLabelledCopper(seed uint64, n int) *Labelled {
	l := newLabelled(seed)
	l.layCoppers()
	l.deal(n, copperRecipes, lookAlikes)
	return l
}

// NewLabelledFibre makes the plant of a seed without its copper, for a closer look at
// what happens to fibre.
func NewLabelledFibre(seed uint64, n int) *Labelled {
	l := newLabelled(seed)
	l.layFibres()
	l.deal(n, fibreRecipes, lookAlikes)
	return l
}

func newLabelled(seed uint64) *Labelled {
	return &Labelled{Seed: seed, QuietPoll: quietPoll, ClosePoll: closePoll, random: rand.New(rand.NewPCG(seed, 0x1abe1)), swapped: map[string]bool{}}
}

// deal plants so many recipes of some groups.
func (l *Labelled) deal(n int, groups ...[]recipe) {
	var all []*recipe
	for _, group := range groups {
		for i := range group {
			for range group[i].weight {
				all = append(all, &group[i])
			}
		}
	}
	// Dealt like cards, and apart from all other chances, so that what a recipe draws
	// does not change which come.
	deal := rand.New(rand.NewPCG(l.Seed, 0xdea1))
	deal.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	for _, r := range all {
		if len(l.Labels) < n {
			l.plant(r)
		}
	}
	slices.SortStableFunc(l.Stage.left, func(a, b action) int { return cmp.Compare(a.at, b.at) })
	l.passOn()
	l.keep()
}

// plant plants one recipe where there is still a run for it.
func (l *Labelled) plant(r *recipe) {
	spot := l.site.take(l, r.on)
	if spot == nil {
		return
	}
	from := firstHour + time.Duration(l.random.Int64N(int64(lastHour-firstHour))).Truncate(time.Second)
	if hour := (from % (24 * time.Hour)).Hours(); (hour < 7 || hour > 19) && l.chance(0.7) { // most things happen when people work
		from = from.Truncate(24*time.Hour) + time.Duration(l.between(8, 18)*float64(time.Hour)).Truncate(time.Second)
	}
	p := &planter{Labelled: l, spot: spot, from: min(from, lastHour)}
	p.label = p.name(spot, r)
	r.do(p)
	p.label.From = p.from
}

// name gives a run a label.
func (l *Labelled) name(s *spot, r *recipe) *Label {
	label := &Label{Run: s.id, Near: s.near, Far: s.far, Causes: r.causes, Kinds: r.kinds, LookAlike: r.lookAlike}
	l.Labels = append(l.Labels, label)
	return label
}

// passOn labels the uplinks of switches that pass damaged frames on, where a run of
// theirs has some.
func (l *Labelled) passOn() {
	for _, s := range l.site.spots {
		if s.where != victims || s.taken {
			continue
		}
		from := time.Duration(-1)
		for _, label := range l.Labels {
			if (label.damages || slices.Contains(label.Kinds, "frame-errors")) && strings.Fields(label.Near)[0] == strings.Fields(s.near)[0] && (from < 0 || label.From < from) {
				from = label.From
			}
		}
		if from >= 0 {
			s.taken = true
			l.Labels = append(l.Labels, &Label{
				Run: s.id, Near: s.near, Far: s.far, From: from, Causes: []string{"upstream-errors"}, Kinds: []string{"frame-errors"}, LookAlike: true,
			})
		}
	}
}

// also gives another run the same label.
func (p *planter) also(s *spot) {
	one := *p.label
	one.Run, one.Near, one.Far, one.From = s.id, s.near, s.far, p.from
	p.Labels = append(p.Labels, &one)
}
