package plant

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// drawn is a random run of which all is recorded that copper or fibre asks for.
func drawn(rnd *rand.Rand, cables []string, longest float64) Run {
	cable := func() string { return cables[rnd.IntN(len(cables))] }
	metres := func(most float64) real { return port.Some(0.5 + rnd.Float64()*most) }
	r := Run{
		ID: "R", NearCordM: metres(12), FarCordM: metres(12), NearCordCable: cable(), FarCordCable: cable(),
		Connectors: port.Some(1 + rnd.IntN(6)), Splices: port.Some(rnd.IntN(3)), CordAWG: port.Some(24),
		Pathways: []string{[]string{"15", "30", "45", "60"}[rnd.IntN(4)]},
	}
	if rnd.IntN(2) == 0 {
		r.Cable, r.LengthM = cable(), metres(longest)
		return r
	}
	for range 1 + rnd.IntN(3) {
		r.Segments = append(r.Segments, Segment{Cable: cable(), LengthM: metres(longest / 2)})
	}
	return r
}

func copperCables() (all []string) {
	for _, c := range categories {
		all = append(all, c, c+"s")
	}
	return all
}

func longer(length *real, rnd *rand.Rand) {
	metres, _ := length.Get()
	*length = port.Some(metres + rnd.Float64()*30)
}

// lengthOf is the length of one part of a run's fixed cable.
func lengthOf(r *Run, rnd *rand.Rand) *real {
	if len(r.Segments) == 0 {
		return &r.LengthM
	}
	r.Segments = append([]Segment(nil), r.Segments...)
	return &r.Segments[rnd.IntN(len(r.Segments))].LengthM
}

// worsenings make a copper run worse, or leave it as it is.
var worsenings = map[string]func(*Run, *rand.Rand){
	"longer link": func(r *Run, rnd *rand.Rand) { longer(lengthOf(r, rnd), rnd) },
	"longer cord": func(r *Run, rnd *rand.Rand) { longer(&r.NearCordM, rnd) },
	"warmer": func(r *Run, rnd *rand.Rand) {
		r.Pathways = append([]string{"45", "60", "65"}[rnd.IntN(3):][:1], r.Pathways...)
	},
	"more connectors": func(r *Run, rnd *rand.Rand) {
		n, _ := r.Connectors.Get()
		r.Connectors = port.Some(n + 1 + rnd.IntN(3))
	},
	"thinner cords": func(r *Run, _ *rand.Rand) { r.CordAWG = port.Some(26) },
	"lower cord": func(r *Run, rnd *rand.Rand) {
		own := standards.Category(strings.TrimSuffix(r.FarCordCable, "s"))
		lower := categories[rnd.IntN(len(categories))]
		if standards.Category(lower).Below(own) {
			r.FarCordCable = lower
		}
	},
}

func TestWorseCopperNeverCarriesMore(t *testing.T) {
	p, rnd := cablePlant(), rand.New(rand.NewPCG(4, 8))
	for range 3000 {
		r := drawn(rnd, copperCables(), 90)
		before := p.Expected(&r, Seen{})
		for name, worsen := range worsenings {
			poorer := r
			worsen(&poorer, rnd)
			after := p.Expected(&poorer, Seen{})
			for i := range before.Speeds {
				was, is := before.Speeds[i].Judgement, after.Speeds[i].Judgement
				require.GreaterOrEqual(t, rank(is), rank(was), "%s: %v of %+v was %q, is %q", name, speeds[i], r, was.Why, is.Why)
			}
		}
	}
}

// A longer fibre may take light off a receiver that had too much of it, or pass
// the least length of its PHY; else it carries no more.
func TestWorseFibreNeverCarriesMore(t *testing.T) {
	p, rnd := cablePlant(), rand.New(rand.NewPCG(5, 8))
	for i := range 3000 {
		r := drawn(rnd, fibres[i%2*5:][:5-i%2*2], 600+float64(i%2)*12000)
		before := p.Expected(&r, Seen{})
		for _, name := range []string{"longer link", "more connectors"} {
			poorer := r
			worsenings[name](&poorer, rnd)
			after := p.Expected(&poorer, Seen{})
			for i := range before.Speeds {
				was, is := before.Speeds[i].Judgement, after.Speeds[i].Judgement
				if strings.Contains(was.Why, "overload") || strings.Contains(was.Why, "damage") || strings.Contains(was.Why, "shorter than") {
					continue
				}
				require.GreaterOrEqual(t, rank(is), rank(was), "%s: %v of %+v was %q, is %q", name, speeds[i], r, was.Why, is.Why)
			}
		}
	}
}

// forget takes what one key records off a run; sure tells that no speed may be
// allowed without it.
var forget = []struct {
	sure bool
	take func(*Run, *rand.Rand)
}{
	{true, func(r *Run, rnd *rand.Rand) { *lengthOf(r, rnd) = real{} }},
	{true, func(r *Run, rnd *rand.Rand) {
		if lengthOf(r, rnd); len(r.Segments) > 0 {
			r.Segments[rnd.IntN(len(r.Segments))].Cable = ""
		} else {
			r.Cable = ""
		}
	}},
	{false, func(r *Run, _ *rand.Rand) { r.NearCordM = real{} }},
	{false, func(r *Run, _ *rand.Rand) { r.FarCordM, r.FarCordCable = real{}, "" }},
	{false, func(r *Run, _ *rand.Rand) { r.NearCordCable = "" }},
	{false, func(r *Run, _ *rand.Rand) { r.Connectors = whole{} }},
	{false, func(r *Run, _ *rand.Rand) { r.Pathways = nil }},
	{false, func(r *Run, _ *rand.Rand) { r.CordAWG = whole{} }},
	{false, func(r *Run, _ *rand.Rand) {
		if r.Cable != "" && standards.Category(strings.TrimSuffix(r.Cable, "s")).Known() {
			r.Cable = strings.TrimSuffix(r.Cable, "s") + "?"
		}
	}},
}

// A no that a part of the record gives stands when the rest is written down;
// and nothing is allowed over cable of which kind or length is not recorded.
func TestWhatIsNotRecordedNeitherForbidsNorAllows(t *testing.T) {
	p, rnd := cablePlant(), rand.New(rand.NewPCG(6, 8))
	for i := range 6000 {
		cables, longest := copperCables(), 90.0
		if i%2 == 0 {
			cables, longest = fibres[i%4/2*5:][:5-i%4/2*2], 600+float64(i%4/2)*12000
		}
		r := drawn(rnd, cables, longest)
		known := p.Expected(&r, Seen{})
		partial, sure := r, false
		for range 1 + rnd.IntN(3) {
			key := forget[rnd.IntN(len(forget))]
			key.take(&partial, rnd)
			sure = sure || key.sure
		}
		for i, c := range p.Expected(&partial, Seen{}).Speeds {
			require.False(t, sure && c.Verdict == standards.Allowed, "%v over %+v", c.Speed, partial)
			if c.Verdict == standards.NotAllowed {
				require.Equal(t, standards.NotAllowed, known.Speeds[i].Verdict, "%v: %q of %+v, but %q of %+v", c.Speed, c.Why, partial, known.Speeds[i].Why, r)
			}
		}
	}
}
