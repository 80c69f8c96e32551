package fault

import (
	"cmp"
	"flag"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The table's numbers are fitted to labelled plants: those that make the true causes
// likeliest, held near to what the table has (a Gaussian on their logarithms). What it
// prints are the scores of each part of the plants by a fit to the others, and -fit-out
// the numbers themselves; no item or cause is added by it.
var (
	fitTo     = flag.String("fit", "", "files of what labelled plants were told (corpus, -dump), with commas between")
	fitOut    = flag.String("fit-out", "", "a file to write the fitted numbers to, beside those of the table")
	fitSpread = flag.Float64("fit-spread", 1, "how far a logarithm may be from the table's, one standard deviation")
	fitParts  = flag.Int("fit-parts", 4, "parts, each scored by a fit to the others; 0 for none")
)

// lesson is a fault whose causes are known, as it was weighed at one time.
type lesson struct {
	Weighed
	right  []Cause
	weight float64
	plant  int
	counts bool // as it was told last, and of a fault: what is scored
}

// tableNumber names a number of the table.
type tableNumber struct {
	table string // prior, tells, record
	of    material
	name  string // of the prior or the item
	cause Cause
}

// model are the logarithms of the table's numbers.
type model struct {
	index    map[tableNumber]int
	now, was []float64
	tells    []bool // whether it is of an item
	held     []bool
}

// unlearnt are items that plants can't teach: in them what was there before anybody
// watched is what came with the laying, but on the day when watching begins it may be
// any fault.
var unlearnt = []item{sinceBefore}

// reasons are what a lesson's causes rest on: of each cause its prior, and the items
// by group, as places in the model.
type reasons struct {
	*lesson
	causes []Cause
	prior  []int // -1 where the prior does not name it
	groups [][][]int
}

func (m *model) number(n tableNumber, value float64) int {
	i, known := m.index[n]
	if !known {
		i = len(m.now)
		m.tells = append(m.tells, n.table != "prior")
		m.held = append(m.held, slices.Contains(unlearnt, item(n.name)))
		m.index[n], m.now, m.was = i, append(m.now, math.Log(value)), append(m.was, math.Log(value))
	}
	return i
}

func (m *model) reasonsOf(l *lesson) *reasons {
	r := &reasons{lesson: l}
	prior := l.Before.Prior.weights()
	add := func(cause Cause) (groups [][]int) {
		at := map[string]int{}
		see := func(table, group string, i item, ratio float64) {
			g, known := at[table+group]
			if !known {
				g = len(groups)
				at[table+group], groups = g, append(groups, nil)
			}
			groups[g] = append(groups[g], m.number(tableNumber{table, l.Of, string(i), cause}, ratio))
		}
		for _, i := range l.Seen {
			t := l.Of.tells(i)
			if ratio, told := t.ratio[cause]; told && prior[cause] > 0 {
				see("tells", t.group, i, ratio)
			}
		}
		for _, i := range l.Record {
			t := ofRecord(i)
			if ratio, told := t.ratio[cause]; told {
				see("record", t.group, i, ratio)
			}
		}
		return groups
	}
	for cause := range words {
		weight, named := prior[cause]
		groups := add(cause)
		switch {
		case named:
			r.prior = append(r.prior, m.number(tableNumber{"prior", "", string(l.Before.Prior), cause}, weight))
		case len(groups) > 0 && l.Of.suffers(cause) && slices.ContainsFunc(groups, func(g []int) bool { return m.was[g[0]] > 0 }):
			r.prior = append(r.prior, -1)
		default:
			continue
		}
		r.causes, r.groups = append(r.causes, cause), append(r.groups, groups)
	}
	return r
}

// odds are the probabilities of a lesson's causes; used is told each number that one
// rests on.
func (m *model) odds(r *reasons, used func(cause, number int)) []float64 {
	p := make([]float64, len(r.causes))
	var named, sum float64
	for c := range r.causes {
		var z float64
		if r.prior[c] >= 0 {
			z = m.now[r.prior[c]]
			used(c, r.prior[c])
		}
		for _, group := range r.groups[c] {
			most := slices.MaxFunc(group, func(a, b int) int { return cmp.Compare(math.Abs(m.now[a]), math.Abs(m.now[b])) })
			z += m.now[most]
			used(c, most)
		}
		p[c] = math.Exp(z)
		if r.prior[c] >= 0 {
			named += p[c]
		}
	}
	for c, cause := range r.causes {
		if r.prior[c] < 0 {
			p[c] *= named * unlisted
		}
		if r.Before.Weak && cause == PortFaulty {
			p[c] += weakPort * named
		}
		sum += p[c]
	}
	for c := range p {
		p[c] /= sum
	}
	return p
}

// loss is what is made least: the sum of the negative logarithms of what the true
// causes were given, and what it costs to be far from the table. It adds its gradient.
func (m *model) loss(lessons []*reasons, gradient []float64) (loss float64) {
	hold := 1 / (*fitSpread * *fitSpread)
	for i := range m.now {
		d := m.now[i] - m.was[i]
		loss += hold * d * d / 2
		gradient[i] = hold * d
	}
	var rests [][2]int
	for _, r := range lessons {
		rests = rests[:0]
		p := m.odds(r, func(cause, number int) { rests = append(rests, [2]int{cause, number}) })
		given := 0.0
		for c, cause := range r.causes {
			if slices.Contains(r.right, cause) {
				given += p[c]
			}
		}
		if given == 0 {
			continue // the table does not name it
		}
		loss -= r.weight * math.Log(given)
		for _, rest := range rests {
			c := rest[0]
			gradient[rest[1]] += r.weight * p[c]
			if slices.Contains(r.right, r.causes[c]) {
				gradient[rest[1]] -= r.weight * p[c] / given
			}
		}
	}
	return loss
}

// learn moves the numbers along the gradient (Adam: Kingma and Ba, ICLR 2015; memory).
func (m *model) learn(lessons []*reasons, steps int) {
	mean, square, gradient := make([]float64, len(m.now)), make([]float64, len(m.now)), make([]float64, len(m.now))
	for step := 1; step <= steps; step++ {
		m.loss(lessons, gradient)
		rate := 0.03 * min(1, 3*(1-float64(step)/float64(steps)))
		for i, g := range gradient {
			if m.held[i] {
				continue
			}
			mean[i], square[i] = 0.9*mean[i]+0.1*g, 0.99*square[i]+0.01*g*g
			m.now[i] -= rate * mean[i] / (1 - math.Pow(0.9, float64(step))) / (math.Sqrt(square[i]/(1-math.Pow(0.99, float64(step)))) + 1e-3)
			if m.tells[i] && m.now[i]*m.was[i] < 0 { // what speaks for a cause does not speak against it
				m.now[i] = 0
			}
		}
	}
}

func newModel(lessons []*lesson) (*model, []*reasons) {
	m := &model{index: map[tableNumber]int{}}
	var all []*reasons
	for _, l := range lessons {
		all = append(all, m.reasonsOf(l))
	}
	return m, all
}

// marks are how well causes were named.
type marks struct {
	n, first, second int
	loss             float64
	wrong            map[string]int
}

func (k *marks) take(m *model, r *reasons) {
	p := m.odds(r, func(int, int) {})
	order := make([]int, len(p))
	given := 0.0
	for c := range order {
		order[c] = c
		if slices.Contains(r.right, r.causes[c]) {
			given += p[c]
		}
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(p[b], p[a]) })
	right := func(n int) bool { return len(order) > n && slices.Contains(r.right, r.causes[order[n]]) }
	k.n++
	k.loss -= math.Log(max(given, 1e-6))
	switch {
	case right(0):
		k.first, k.second = k.first+1, k.second+1
		return
	case right(1):
		k.second++
	}
	if k.wrong == nil {
		k.wrong = map[string]int{}
	}
	k.wrong[fmt.Sprintf("%s: %s, named %s", r.Before.Prior, r.right[0], r.causes[order[0]])]++
}

func (k *marks) String() string {
	n := float64(max(k.n, 1))
	s := fmt.Sprintf("%d faults, first %.1f %%, two %.1f %%, loss %.3f", k.n, 100*float64(k.first)/n, 100*float64(k.second)/n, k.loss/n)
	for _, w := range slices.SortedFunc(maps.Keys(k.wrong), func(a, b string) int { return cmp.Or(k.wrong[b]-k.wrong[a], cmp.Compare(a, b)) }) {
		s += fmt.Sprintf("\n      %d %s", k.wrong[w], w)
	}
	return s
}

const fitSteps = 400

// The numbers that are fitted to the plants of -fit, scored on plants that they were
// not fitted to.
func TestFit(t *testing.T) {
	lessons := practice()
	if *fitTo != "" {
		lessons = append(lessonsOf(t, *fitTo), lessons...)
	}
	m, all := newModel(lessons)
	score := func(title string, m *model, some func(*reasons) bool, all []*reasons) {
		for _, of := range []material{ofCopper, ofFibre, ofAssembly} {
			k := &marks{}
			for _, r := range all {
				if r.counts && r.Of == of && some(r) {
					k.take(m, r)
				}
			}
			t.Logf("%s, %s: %v", title, of, k)
		}
	}
	everything := func(*reasons) bool { return true }
	score("by the table", m, everything, all)
	for part := range *fitParts {
		m, all := newModel(lessons)
		held := func(r *reasons) bool { return r.plant%*fitParts == part }
		m.learn(slices.DeleteFunc(slices.Clone(all), held), fitSteps)
		score(fmt.Sprintf("part %d by a fit to the others", part), m, held, all)
	}
	m.learn(all, fitSteps)
	score("by the fit to all", m, everything, all)
	if *fitOut != "" {
		require.NoError(t, os.WriteFile(*fitOut, []byte(m.String()), 0o644))
	}
}

// Fitted or not, the table makes of this evidence what practice does.
func TestTheTableAgreesWithPractice(t *testing.T) {
	for _, l := range practice() {
		require.Contains(t, l.right, l.Causes()[0].Cause, "%v: %q", l.Before.Prior, l.Seen)
	}
}

// String has a number on each line: its table, material, name and cause, what the
// table has and what the fit makes of it.
func (m *model) String() string {
	var lines []string
	for n, i := range m.index {
		lines = append(lines, fmt.Sprintf("%s\t%s\t%s\t%s\t%.6g\t%.6g\n", n.table, n.of, n.name, n.cause, math.Exp(m.was[i]), math.Exp(m.now[i])))
	}
	slices.Sort(lines)
	return strings.Join(lines, "")
}

// Faults drawn by the table itself lead a fit that starts from wrong numbers back to
// what they were drawn by.
func TestAFitFindsWhatCausesShow(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	var lessons []*lesson
	seen := []items{{followTraffic, inBursts}, {followTime, shortBursts}, {keepHours, unscreened}, {evenHours, screened}, {unevenHours, nightToo}}
	for n := range 4000 {
		w := Weighed{Of: ofCopper, Before: before{Prior: copperErrors}, Seen: seen[n%len(seen)]}
		drawn := random.Float64()
		for _, c := range w.Causes() {
			if drawn -= c.Probability; drawn <= 0 {
				lessons = append(lessons, &lesson{Weighed: w, right: []Cause{c.Cause}, weight: 1, counts: true})
				break
			}
		}
	}
	m, all := newModel(lessons)
	gradient := make([]float64, len(m.now))
	least := m.loss(all, gradient)
	wrong := []int{m.index[tableNumber{"tells", ofCopper, string(followTime), Interference}], m.index[tableNumber{"tells", ofCopper, string(evenHours), PoorTermination}]}
	for _, i := range wrong {
		m.was[i] += 2
		m.now[i] = m.was[i]
	}
	distorted := m.loss(all, gradient)
	require.Greater(t, distorted, least+50, "wrong numbers make what was seen less likely")
	m.learn(all, fitSteps)
	require.Less(t, m.loss(all, gradient), least+10)
}
