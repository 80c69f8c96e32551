package fault

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

var sharedPlants = flag.Int("plants", 40, "plants to play for each number of shared causes; 400 for the table")

const plantRuns = 5000

// plantedPlant is a campus through the tracker, whose runs share what those of a real
// one do: 24 to a panel, 12 to a bundle, two pathways each, crews and batches
// by the building, mostly the switch beside the panel.
type plantedPlant struct {
	t       testing.TB
	random  *rand.Rand
	tracker *Tracker
	card    int   // ports of a line card
	used    []int // ports of each switch
	runs    []*plant.Run
	groups  map[SharedName][]int
	names   []SharedName // in an order that does not depend on chance
}

// newPlantedPlant draws one of switches in one piece; so much of the record is
// missing.
func newPlantedPlant(t testing.TB, seed uint64, runs int, missing float64) *plantedPlant {
	return newCardedPlant(t, seed, runs, missing, 1000)
}

// newCardedPlant draws one whose switches have so many ports to a line card.
func newCardedPlant(t testing.TB, seed uint64, runs int, missing float64, card int) *plantedPlant {
	p := &plantedPlant{t: t, random: rand.New(rand.NewPCG(seed, 77)), groups: map[SharedName][]int{}, card: card}
	settings := Settings{PollEvery: time.Minute, FalseAlarmsPerWeek: 1}
	used := make([]int, runs/48+1)
	for i := range used {
		settings.Switches = append(settings.Switches, SwitchSettings{Name: fmt.Sprint("sw-", i), Space: fmt.Sprint("TR-", i/2)})
	}
	var crew, batch, cable int
	var panels []*plant.Panel
	for i := range runs {
		room := i / 96
		if i%96 == 0 {
			crew, batch, cable = p.random.IntN(12), p.random.IntN(40), p.random.IntN(6)
		}
		at := i / 48
		if p.random.IntN(5) == 0 {
			at = p.random.IntN(len(used))
		}
		used[at]++
		if i%24 == 0 {
			panels = append(panels, &plant.Panel{ID: fmt.Sprint("P", i/24), Space: fmt.Sprint("TR-", room)})
		}
		run := &plant.Run{
			ID: fmt.Sprint("R", i), Switch: fmt.Sprint("sw-", at), Port: p.portName(used[at]), DesignSpeed: standards.Gbps,
			Panel: fmt.Sprint("P", i/24), Bundle: fmt.Sprint("bundle ", i/12), Pathways: []string{fmt.Sprint("tray ", 3*room+i/16%3), fmt.Sprint("riser ", room/4)},
			Installer: fmt.Sprint("crew ", crew), Batch: fmt.Sprint("batch ", batch), Cable: fmt.Sprint("cable ", cable),
		}
		p.runs = append(p.runs, run)
	}
	p.truth(settings)
	for _, run := range p.runs {
		for _, value := range []*string{&run.Panel, &run.Bundle, &run.Installer, &run.Batch, &run.Cable} {
			if p.random.Float64() < missing {
				*value = ""
			}
		}
		if p.random.Float64() < missing {
			run.Pathways = nil
		}
	}
	inventory := plant.New(plant.Plant{Runs: p.runs, Panels: panels})
	p.tracker, p.used = NewTracker(inventory, settings), used
	for poll := range 2 {
		p.poll(settings, used, poll)
	}
	return p
}

func (p *plantedPlant) portName(n int) string {
	return fmt.Sprintf("%d/%d", (n-1)/p.card+1, (n-1)%p.card+1)
}

// truth notes what the runs have in common, whether recorded or not.
func (p *plantedPlant) truth(settings Settings) {
	for i, r := range p.runs {
		var at int
		fmt.Sscanf(r.Switch, "sw-%d", &at)
		for _, name := range []SharedName{
			{ByPanel, r.Panel}, {ByBundle, r.Bundle}, {ByPathway, r.Pathways[0]}, {ByPathway, r.Pathways[1]}, {ByInstaller, r.Installer},
			{ByBatch, r.Batch}, {ByCable, r.Cable}, {BySwitch, r.Switch}, {ByLineCard, r.Switch + "/" + slotOf(r.Port)}, {BySpace, settings.Switches[at].Space},
		} {
			if p.groups[name] == nil {
				p.names = append(p.names, name)
			}
			p.groups[name] = append(p.groups[name], i)
		}
	}
}

func (p *plantedPlant) poll(settings Settings, ports []int, n int) {
	at := start.Add(time.Duration(n) * time.Minute)
	for i, sw := range settings.Switches {
		poll := port.Poll{At: at.Add(time.Duration(i) * 500 * time.Millisecond), Uptime: port.Some(uint32(1_000_000 + 6000*n)), Name: sw.Name}
		for k := 1; k <= ports[i]; k++ {
			r := port.Reading{At: poll.At, Uptime: poll.Uptime, Index: k, Name: p.portName(k), Type: 6, Admin: port.Up, Oper: port.Up,
				HighSpeed: port.Some(uint32(1000)), MAU: 30, Connector: port.Yes}
			r.Counters.Set64(port.InOctets, uint64(n)*30_000_000)
			r.Counters.Set64(port.InUnicast, uint64(n)*60_000)
			r.Counters.Set32(port.FCS, 0)
			poll.Ports = append(poll.Ports, r)
		}
		p.tracker.Answered(sw.Name, poll)
	}
}

// plant makes runs faulty: 1 in 250 by itself, and the members of so many
// groups of 8 to 200 with a chance of 0.3 to 0.9.
func (p *plantedPlant) plant(causes int, among ...Attribute) (faulty []bool, planted []SharedName) {
	if len(among) == 0 {
		among = Attributes
	}
	faulty = make([]bool, len(p.runs))
	for i := range faulty {
		faulty[i] = p.random.IntN(250) == 0
	}
	for len(planted) < causes {
		attribute := among[p.random.IntN(len(among))]
		var of []SharedName
		for _, name := range p.names {
			if n := len(p.groups[name]); name.Attribute == attribute && n >= 8 && n <= 200 {
				of = append(of, name)
			}
		}
		if len(of) == 0 {
			continue
		}
		name := of[p.random.IntN(len(of))]
		if slices.Contains(planted, name) {
			continue
		}
		planted = append(planted, name)
		theta := 0.3 + 0.6*p.random.Float64()
		for _, i := range p.groups[name] {
			faulty[i] = faulty[i] || p.random.Float64() < theta
		}
	}
	return faulty, planted
}

// play lets runs come up below their speed, at once, and no others; what was
// found before is forgotten.
func (p *plantedPlant) play(faulty []bool) *Snapshot {
	t := p.tracker
	t.shared.held, t.shared.at = nil, time.Time{}
	for _, s := range t.order {
		for _, port := range s.order {
			var i int
			fmt.Sscanf(port.join.Run.ID, "R%d", &i)
			if faulty[i] {
				port.slow = slow{Open: true, Awake: true, Since: t.at, Meant: standards.Gbps, Speed: 100 * standards.Mbps}
				t.board.note(port)
			} else if port.slow.Open {
				port.slow = slow{}
				t.board.note(port)
			}
		}
	}
	return t.Snapshot()
}

// tally is what came of many plants.
type sharedTally struct{ found, planted, right, exact, plays int }

func (s sharedTally) precision() float64 { return float64(s.right) / float64(max(s.found, 1)) }
func (s sharedTally) recall() float64    { return float64(s.right) / float64(max(s.planted, 1)) }

// tried plays one planting. A cause is found where it is named, or where what
// is named has the very same runs, and the cause stands beside it.
func (p *plantedPlant) tried(sum *sharedTally, causes int, among ...Attribute) {
	faulty, planted := p.plant(causes, among...)
	found, hits := p.play(faulty).Shared, 0
	for _, c := range found {
		names := append([]SharedName{c.SharedName}, c.Also...)
		if slices.ContainsFunc(names, func(n SharedName) bool { return slices.Contains(planted, n) }) {
			hits++
		}
	}
	if hits == causes && len(found) == causes {
		sum.exact++
	}
	sum.found, sum.planted, sum.right, sum.plays = sum.found+len(found), sum.planted+causes, sum.right+hits, sum.plays+1
}

const toACampus = 10 // plantings

func playPlants(t *testing.T, causes int, missing float64) (sum sharedTally) {
	var p *plantedPlant
	for play := range *sharedPlants {
		if play%toACampus == 0 {
			p = newPlantedPlant(t, uint64(1000*causes+play), plantRuns, missing)
		}
		p.tried(&sum, causes)
	}
	return sum
}

// Detection of shared causes as the tracker does it, attributes from the record
// and state from the ports.
func TestSharedCausesOfPlants(t *testing.T) {
	var lost, all float64
	for causes := 0; causes <= 5; causes++ {
		whole, third := playPlants(t, causes, 0), playPlants(t, causes, 1.0/3)
		t.Logf("%d causes: precision %.3f, recall %.3f, exact %.2f; a third of the record missing: %.3f, %.3f", causes,
			whole.precision(), whole.recall(), float64(whole.exact)/float64(whole.plays), third.precision(), third.recall())
		if causes == 0 {
			require.Zero(t, whole.found, "a group in a plant without one")
			require.Zero(t, third.found, "likewise")
			continue
		}
		require.GreaterOrEqual(t, whole.precision(), 0.98)
		require.GreaterOrEqual(t, whole.recall(), 0.95)
		lost, all = lost+float64(whole.right-third.right), all+float64(whole.planted)
	}
	t.Logf("a third of the record missing costs %.3f of recall", lost/all)
	require.LessOrEqual(t, lost/all, 0.1)
}

// A line card fails, of switches with two or three of them, whose ports go to
// one panel each for the most part: the card is told from its switch and from
// that panel.
func TestLineCardsOfPlants(t *testing.T) {
	var sum sharedTally
	var p *plantedPlant
	for play := range *sharedPlants {
		if play%toACampus == 0 {
			p = newCardedPlant(t, uint64(9000+play), plantRuns, 0, 24)
		}
		p.tried(&sum, 1+play%3, ByLineCard)
	}
	t.Logf("line cards: precision %.3f, recall %.3f", sum.precision(), sum.recall())
	require.GreaterOrEqual(t, sum.precision(), 0.95)
	require.GreaterOrEqual(t, sum.recall(), 0.9)
}
