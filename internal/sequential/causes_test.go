package sequential

import (
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

var plants = flag.Int("plants", 200, "plants to play for each number of shared causes; 400 for the table")

// By hand: 40 members, 8 of them in a panel with 6 faulty, 1 faulty elsewhere;
// 2 panels of one attribute. At the best fit P is 6/8
// in the panel.
func TestOnePanelStandsOut(t *testing.T) {
	faulty := make([]bool, 40)
	for _, i := range []int{0, 1, 2, 3, 4, 5, 20} {
		faulty[i] = true
	}
	groups := []Group{{0, span(0, 8), false}, {0, span(8, 40), false}}
	causes := SharedCauses(faulty, groups)
	require.Len(t, causes, 1)
	require.Equal(t, []int{0}, causes[0].Groups)
	require.InDelta(t, 0.75, causes[0].Theta, 0.01)
	// Log-likelihood at theta 0.7453, eps = (½ + 1 + 6 eps/0.75)/90 = 0.01829, P = 0.75 in the panel:
	// 33 ln(1 - eps) + ln eps + 2 ln(1 - theta) + 6 ln P = -0.6092 - 4.0013 - 2.7357 - 1.7261 = -9.0723;
	// without: eps = 7.5/90, 33 ln(1 - eps) + 7 ln eps = -20.2657. The penalty is ln 1 + ln 2 + ½ ln 8 = 1.7329.
	require.InDelta(t, 20.2657-9.0723-1.7329, causes[0].Gain, 0.001)
	require.Empty(t, causes[0].Rivals)
}

func TestGroupsOfTheSameMembersAreOneCause(t *testing.T) {
	faulty := make([]bool, 60)
	for i := range 8 {
		faulty[i] = true
	}
	// Bundle and batch hold the same ten runs; the pathway one more, and rivals them.
	groups := []Group{{0, span(0, 10), false}, {1, span(0, 10), false}, {2, span(0, 11), false}, {2, span(11, 60), false}}
	causes := SharedCauses(faulty, groups)
	require.Len(t, causes, 1)
	require.Equal(t, []int{0, 1}, causes[0].Groups)
	require.Len(t, causes[0].Rivals, 1)
	require.Equal(t, []int{2}, causes[0].Rivals[0].Groups)
	require.Less(t, causes[0].Rivals[0].Gain, causes[0].Gain)
}

// What is too little to find a cause by may be enough to stay with one.
func TestAHeldGroupGoesLater(t *testing.T) {
	faulty := make([]bool, 48)
	for _, i := range []int{0, 1, 2, 3, 4, 20} {
		faulty[i] = true
	}
	groups := []Group{{Attribute: 0, Members: span(0, 16)}, {Attribute: 0, Members: span(16, 48)}}
	for attribute := range 8 {
		groups = append(groups, Group{Attribute: attribute + 1, Members: span(0, 48)})
	}
	require.Empty(t, SharedCauses(faulty, groups))
	groups[0].Held = true
	causes := SharedCauses(faulty, groups)
	require.Len(t, causes, 1)
	require.Equal(t, []int{0}, causes[0].Groups)
}

func TestTwoFaultyMembersAreNoCause(t *testing.T) {
	faulty := make([]bool, 1000)
	faulty[3], faulty[4] = true, true
	require.Empty(t, SharedCauses(faulty, []Group{{Members: []int{3, 4}}}))
	require.Empty(t, SharedCauses(nil, nil))
	faulty[5] = true
	require.Len(t, SharedCauses(faulty, []Group{{Members: []int{3, 4, 5}}}), 1)
}

func span(from, to int) (all []int) {
	for i := from; i < to; i++ {
		all = append(all, i)
	}
	return all
}

// Two of a room's three panels fail: a greedy search takes the room first, and
// the batch that is nearly the room when that is barred.
func TestTwoPanelsAreNotTheirRoom(t *testing.T) {
	faulty := make([]bool, 600)
	for i := range 48 {
		faulty[i] = i%8 != 7
	}
	groups := []Group{{0, span(0, 60), false}, {0, span(60, 600), false}, {1, span(0, 62), false}, {1, span(62, 600), false}}
	for panel := range 25 {
		groups = append(groups, Group{2, span(24*panel, 24*panel+24), false})
	}
	var found []int
	for _, c := range SharedCauses(faulty, groups) {
		found = append(found, c.Groups[0])
	}
	require.ElementsMatch(t, []int{4, 5}, found)
}

// The search against every set of up to 3 groups of small plants, each
// fitted by a plain reading of the formulas.
func TestSearchAgainstAllSets(t *testing.T) {
	const plays = 150
	random := rand.New(rand.NewPCG(5, 8))
	best := 0
	for play := range plays {
		faulty, groups := smallPlant(random)
		got := SharedCauses(faulty, groups)
		var chosen []int
		for _, c := range got {
			chosen = append(chosen, c.Groups[0])
		}
		score := plainScore(faulty, groups, chosen)
		most := bestOfAll(faulty, groups)
		require.Less(t, most-score, 3.0, "play %d", play)
		if most-score < 0.05 {
			best++
		}
	}
	t.Logf("the best of all sets in %d of %d plants", best, plays)
	require.GreaterOrEqual(t, best, plays*95/100)
}

func smallPlant(random *rand.Rand) (faulty []bool, groups []Group) {
	const members, perAttribute = 80, 5
	for attribute := range 3 {
		of := make([]Group, perAttribute)
		for i := range members {
			g := random.IntN(perAttribute)
			of[g].Attribute = attribute
			of[g].Members = append(of[g].Members, i)
		}
		groups = append(groups, of...)
	}
	healthy := make([]float64, members)
	for i := range healthy {
		healthy[i] = 0.97
	}
	for range random.IntN(3) {
		for _, i := range groups[random.IntN(len(groups))].Members {
			healthy[i] *= 0.4
		}
	}
	faulty = make([]bool, members)
	for i, h := range healthy {
		faulty[i] = random.Float64() > h
	}
	return faulty, groups
}

func bestOfAll(faulty []bool, groups []Group) float64 {
	most := plainScore(faulty, groups, nil)
	for a := range groups {
		most = max(most, plainScore(faulty, groups, []int{a}))
		for b := range a {
			most = max(most, plainScore(faulty, groups, []int{a, b}))
			for c := range b {
				most = max(most, plainScore(faulty, groups, []int{a, b, c}))
			}
		}
	}
	return most
}

// plainScore goes over every member in each pass; -Inf where a group has less
// than 3 faulty members.
func plainScore(faulty []bool, groups []Group, chosen []int) float64 {
	n := float64(len(faulty))
	theta, eps := make([]float64, len(chosen)), 0.05
	holds := make([][]bool, len(chosen))
	for j, g := range chosen {
		holds[j], theta[j] = make([]bool, len(faulty)), 0.5
		failed := 0
		for _, i := range groups[g].Members {
			holds[j][i] = true
			if faulty[i] {
				failed++
			}
		}
		if failed < 3 {
			return math.Inf(-1)
		}
	}
	chance := func(i int) float64 {
		q := 1 - eps
		for j := range chosen {
			if holds[j][i] {
				q *= 1 - theta[j]
			}
		}
		return 1 - q
	}
	for range 60 {
		own, owed := 0.5, make([]float64, len(chosen))
		for i, f := range faulty {
			if !f {
				continue
			}
			p := chance(i)
			own += eps / p
			for j := range chosen {
				if holds[j][i] {
					owed[j] += theta[j] / p
				}
			}
		}
		eps = own / (n + 50)
		for j, g := range chosen {
			theta[j] = min(0.995, owed[j]/float64(len(groups[g].Members)))
		}
	}
	score := 0.0
	for i, f := range faulty {
		if p := chance(i); f {
			score += math.Log(p)
		} else {
			score += math.Log1p(-p)
		}
	}
	for _, g := range chosen {
		score -= math.Log(3) + math.Log(5) + math.Log(float64(len(groups[g].Members)))/2
	}
	return score
}

// cabling is a plant of runs and what they share.
type cabling struct {
	groups []Group
	causes [][]int // groups that may be planted, by attribute
}

const runs = 5000

// newCabling lays the runs of a campus: 24 to a panel and a switch, mostly the
// same ones; one to three pathways and an installer for a room's runs; bundles
// of a dozen; batches that follow the building; 6 kinds of cable.
func newCabling(random *rand.Rand) *cabling {
	of := make([]map[int][]int, 8)
	for a := range of {
		of[a] = make(map[int][]int)
	}
	put := func(attribute, value, run int) {
		of[attribute][value] = append(of[attribute][value], run)
	}
	var crew, batch, cable int
	for run := range runs {
		room := run / 96
		if run%96 == 0 {
			crew, batch, cable = random.IntN(12), random.IntN(40), random.IntN(6)
		}
		put(0, run/24, run)
		put(1, run/12, run)
		put(2, 3*room+run/16%3, run)
		put(2, 1000+room/4, run)
		if random.IntN(10) > 0 { // not every run's record tells the crew
			put(3, crew, run)
		}
		put(4, batch, run)
		put(5, cable, run)
		put(6, room, run)
		if near := run; random.IntN(5) == 0 {
			put(7, 1000+random.IntN(runs/48), near)
		} else {
			put(7, run/48, near)
		}
	}
	c := &cabling{causes: make([][]int, len(of))}
	for a, values := range of {
		for _, value := range sortedKeys(values) {
			if members := values[value]; len(members) >= 8 {
				c.causes[a] = append(c.causes[a], len(c.groups))
			}
			c.groups = append(c.groups, Group{Attribute: a, Members: values[value]})
		}
	}
	return c
}

func sortedKeys(m map[int][]int) (keys []int) {
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// plant makes runs faulty: 1 in 250 by itself, and the members of so many
// groups of at most 200 with a chance of 0.3 to 0.9.
func (c *cabling) plant(random *rand.Rand, causes int) (faulty []bool, planted []int) {
	faulty = make([]bool, runs)
	for i := range faulty {
		faulty[i] = random.IntN(250) == 0
	}
	for len(planted) < causes {
		of := c.causes[random.IntN(len(c.causes))]
		if len(of) == 0 {
			continue
		}
		g := of[random.IntN(len(of))]
		if len(c.groups[g].Members) > 200 || slices.Contains(planted, g) {
			continue
		}
		planted = append(planted, g)
		theta := 0.3 + 0.6*random.Float64()
		for _, i := range c.groups[g].Members {
			faulty[i] = faulty[i] || random.Float64() < theta
		}
	}
	return faulty, planted
}

func TestSharedCausesOfPlantedPlants(t *testing.T) {
	for causes := 0; causes <= 5; causes++ {
		var found, right, exact int
		for play := range *plants {
			random := rand.New(rand.NewPCG(uint64(causes), uint64(play)))
			c := newCabling(random)
			faulty, truth := c.plant(random, causes)
			got := SharedCauses(faulty, c.groups)
			hits := 0
			for _, cause := range got {
				if slices.ContainsFunc(cause.Groups, func(g int) bool { return slices.Contains(truth, g) }) {
					hits++
				}
			}
			if hits == causes && len(got) == causes {
				exact++
			}
			found, right = found+len(got), right+hits
		}
		if causes == 0 {
			require.Zero(t, found)
			continue
		}
		precision, recall := float64(right)/float64(found), float64(right)/float64(causes**plants)
		t.Logf("%d causes: precision %.3f, recall %.3f, exact set %.2f", causes, precision, recall, float64(exact)/float64(*plants))
		require.GreaterOrEqual(t, precision, 0.98)
		require.GreaterOrEqual(t, recall, 0.95)
	}
}

func BenchmarkSharedCauses(b *testing.B) {
	random := rand.New(rand.NewPCG(9, 9))
	c := newCabling(random)
	faulty, _ := c.plant(random, 5)
	b.ReportAllocs()
	for b.Loop() {
		SharedCauses(faulty, c.groups)
	}
}
