package corpus

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"toneout/internal/sim"
)

// ground is the site of a labelled plant: two access switches whose desks and
// devices hang on copper, one whose copper carries 10 Gb/s, and fibre between a
// distribution switch and two others, one of which is not asked.
type ground struct {
	spots []*spot
	hides map[string][]string // tables, by switch
}

// spot is a run.
type spot struct {
	id        string
	near, far string
	where     where
	cable     *sim.Cable
	speed     int // Mb/s that it is meant for
	record    map[string]string
	taken     bool
	laidAs    string // category, on copper
	recorded  bool   // the inventory has it
	acceptance
}

const (
	access    = 24 // copper ports of an access switch
	tenGig    = 24
	cages     = 24
	unpolled  = "far-3"
	farSwitch = "dist-2" // of half of dist-1's runs

	tenGigBundle = "B-ACC-3"
)

// begun is a Monday.
var begun = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

// lay builds the site.
func (l *Labelled) lay() {
	s := &Scenario{Seed: l.Seed, Every: closePoll, SlowEvery: slowClose, Step: quietPoll, Switches: []Switch{
		{Name: "acc-1", Copper: access, Fibre: 1, Watts: 370}, {Name: "acc-2", Copper: access, Fibre: 1, Watts: 370},
		{Name: "acc-3", Copper: tenGig, Fibre: 1}, {Name: "dist-1", Fibre: cages}, {Name: "dist-2", Fibre: cages}, {Name: unpolled, Fibre: cages},
	}}
	for i := range 2 {
		if l.chance(0.5) {
			s.Switches[i].CutThrough = fmt.Sprintf("1/%d", access+1)
		}
	}
	l.build(s)
	for _, name := range []string{"acc-1", "acc-2"} {
		for n := 1; n <= access; n++ {
			l.layCopper(name, n, pick(l, "pc", "pc", "pc", "workstation", "workstation", "phone", "access point", "camera"))
		}
	}
	for n := 1; n <= tenGig; n++ {
		l.layTenGig(n)
	}
	for i, name := range []string{"acc-1", "acc-2", "acc-3"} {
		port := map[bool]int{true: access + 1, false: tenGig + 1}[i < 2]
		spot := l.layFibre(fmt.Sprintf("UP-%d", i+1), fmt.Sprintf("%s 1/%d", name, port), fmt.Sprintf("dist-2 1/%d", cages-i), "10GBASE-SR")
		spot.where = "uplink"
		if s.Switches[i].CutThrough != "" {
			spot.where = victims
		}
	}
	l.layTrunks()
}

// layFibres builds the distribution switches alone.
func (l *Labelled) layFibres() {
	l.build(&Scenario{Seed: l.Seed, Every: closePoll, SlowEvery: slowClose, Step: quietPoll, Switches: []Switch{
		{Name: "dist-1", Fibre: cages}, {Name: "dist-2", Fibre: cages}, {Name: unpolled, Fibre: cages},
	}})
	l.layTrunks()
}

// build sets the switches up.
func (l *Labelled) build(s *Scenario) {
	stage, err := s.Stage(begun)
	if err != nil {
		panic(err) // it stands above
	}
	l.Stage, l.site = stage, &ground{hides: map[string][]string{}}
	for i := range s.Switches {
		l.hide(s.Switches[i].Name)
	}
}

// layTrunks lays the fibre between the distribution switches.
func (l *Labelled) layTrunks() {
	optics := []string{"10GBASE-SR", "10GBASE-SR", "10GBASE-SR", "10GBASE-SR", "10GBASE-LR", "25GBASE-SR", "10GBASE-ER", "10GBASE-SR"}
	for n := 1; n <= cages-4; n++ {
		far := fmt.Sprintf("dist-2 1/%d", n)
		if n%2 == 0 {
			far = fmt.Sprintf("%s 1/%d", unpolled, n)
		}
		l.layFibre(fmt.Sprintf("F-%02d", n), fmt.Sprintf("dist-1 1/%d", n), far, pick(l, optics...))
	}
}

// hide draws which tables a switch does not show.
func (l *Labelled) hide(name string) {
	var hidden []string
	for _, table := range []struct {
		name  string
		share float64
	}{{"mau", 0.1}, {"autoneg", 0.1}, {"lldp", 0.2}, {"poe", 0.1}, {"sensors", 0.08}, {"dot3", 0.05}} {
		if l.chance(table.share) {
			hidden = append(hidden, table.name)
		}
	}
	l.site.hides[name] = hidden
	if slices.Contains(hidden, "dot3") {
		hidden = append(hidden, "dot3hc", "rmon")
	}
	l.Stage.Campus.Switch(name).Hide(hidden...)
}

func (l *Labelled) port(place string) *sim.Port {
	p, err := l.Stage.port(place)
	if err != nil {
		panic(err)
	}
	return p
}

// layCopper lays a run to a desk, or to what is fed over the pairs.
func (l *Labelled) layCopper(name string, n int, kind string) {
	id, place := fmt.Sprintf("%s-%02d", strings.ToUpper(name), n), fmt.Sprintf("%s 1/%d", name, n)
	cable := sim.Plug(id, l.port(place), kind)
	s := l.layCable(id, place, cable, pick(l, "6A", "6A", "6", "5e"), atDesk, 1000)
	s.record["device"], s.record["design_speed"] = kind, "1G"
	if cable.Device.Watts > 0 {
		s.where, s.record["always_on"] = fed, "true"
	}
}

// layTenGig lays a run that carries 10 Gb/s.
func (l *Labelled) layTenGig(n int) {
	id, place := fmt.Sprintf("ACC-3-%02d", n), fmt.Sprintf("acc-3 1/%d", n)
	port := l.port(place)
	port.Speeds = []int{100, 1000, 2500, 5000, 10000}
	cable := sim.Plug(id, port, "workstation")
	cable.Device.Speeds = port.Speeds
	s := l.layCable(id, place, cable, "6A", multiGig, 10000)
	s.record["device"], s.record["design_speed"], s.record["bundle"] = "workstation", "10G", tenGigBundle
}

// layCable lays a copper run and writes its record.
func (l *Labelled) layCable(id, place string, cable sim.Cable, kind string, on where, speed int) *spot {
	cable.Kind, cable.LengthM = kind, l.between(15, 85)
	floor := strings.Fields(place)[0]
	var number int
	fmt.Sscanf(place, floor+" 1/%d", &number)
	cable.Pathways = []string{fmt.Sprintf("tray-%s-%d", floor, 1+number%3)}
	screened := kind == "6A" && number%3 == 0
	cable.Channel = &sim.Channel{Warmth: sim.Warmth{Celsius: 21, Swing: l.between(1, 6)}, Screen: screened, Settles: l.chance(0.25)}
	if on == multiGig {
		cable.Channel.Bundle = tenGigBundle
		cable.LengthM = l.between(15, 55)
	}
	s := &spot{id: id, near: place, where: on, speed: speed, record: map[string]string{}}
	row := s.record
	row["cable"] = "cat-" + strings.ToLower(kind)
	if screened {
		row["cable"] += "-screened"
	}
	row["length_m"] = fmt.Sprintf("%.0f", cable.LengthM)
	row["near_cord_m"], row["far_cord_m"] = "2", "3"
	row["panel"], row["position"] = fmt.Sprintf("P-%s-%d", floor, (number-1)/12), fmt.Sprint(1+(number-1)%12)
	row["outlet"] = "O-" + id
	row["pathways"] = cable.Pathways[0]
	row["bundle"] = fmt.Sprintf("B-%s-%d", floor, number/12)
	row["installer"] = pick(l, "Northgate Crew", "Harbour Crew", "in house")
	row["installed_on"] = begun.AddDate(-1-l.random.IntN(12), 0, -l.random.IntN(300)).Format(time.DateOnly)
	margin := l.between(1.5, 8)
	row["tested_on"], row["test_result"], row["test_margin_db"] = row["installed_on"], "pass", fmt.Sprintf("%.1f", margin)
	s.laidAs, s.acceptance = kind, l.accepted(margin)
	row["connectors"] = "2"
	l.connect(s, cable)
	return s
}

// layFibre lays a run between two switches.
func (l *Labelled) layFibre(id, near, far, optic string) *spot {
	a, b := l.port(near), l.port(far)
	for _, p := range []*sim.Port{a, b} {
		if p.Optic != optic {
			p.Insert(begun, optic)
		}
	}
	kind, length, on := "OM4", l.between(30, 240), atFibre
	switch optic {
	case "10GBASE-LR":
		kind, length, on = "OS2", l.between(100, 3000), singleMod
	case "10GBASE-ER":
		kind, length, on = "OS2", l.between(18000, 30000), shortRun
	case "25GBASE-SR":
		length, on = l.between(20, 90), fastRun
	}
	cable := sim.Cable{ID: id, Media: sim.Fibre, Kind: kind, LengthM: length, A: a, B: b, AtoB: upwards, BtoA: downwards}
	cable.Connectors, cable.Splices = 2+2*l.random.IntN(2), 0
	s := &spot{id: id, near: near, far: far, where: on, speed: a.Speeds[0], record: map[string]string{}}
	row := s.record
	row["cable"] = map[string]string{"OM4": "om4", "OS2": "os2"}[kind]
	row["length_m"], row["connectors"], row["splices"] = fmt.Sprintf("%.0f", length), fmt.Sprint(cable.Connectors), "0"
	row["optic"], row["far_optic"], row["strands"] = optic, optic, "2"
	row["always_on"] = "true"
	row["design_speed"] = map[int]string{10000: "10G", 25000: "25G"}[s.speed]
	row["panel"], row["position"], row["pathways"] = "P-"+strings.Fields(near)[0], strings.TrimPrefix(strings.Fields(near)[1], "1/"), "duct-1"
	row["installed_on"] = begun.AddDate(-1-l.random.IntN(8), 0, -l.random.IntN(300)).Format(time.DateOnly)
	row["tested_on"], row["test_result"] = row["installed_on"], "pass"
	l.connect(s, cable)
	return s
}

// connect lays the cable and writes down where.
func (l *Labelled) connect(s *spot, cable sim.Cable) {
	cable.ID = s.id
	s.cable = l.Stage.Campus.Connect(cable)
	l.Stage.laid[s.id] = s.cable
	s.record["id"] = s.id
	near, far := strings.Fields(s.near), strings.Fields(s.far)
	s.record["switch"], s.record["port"] = near[0], near[1]
	if len(far) > 0 {
		s.record["far_switch"], s.record["far_port"] = far[0], far[1]
	}
	if l.chance(0.5) {
		s.cable.A.Alias = s.id + " " + s.record["outlet"]
	}
	l.site.spots = append(l.site.spots, s)
}

// take gives a run of a sort to which nothing happens yet, nil where there is none left.
func (g *ground) take(l *Labelled, on where) *spot {
	free := g.free(on)
	if len(free) == 0 {
		return nil
	}
	s := pick(l, free...)
	s.taken = true
	return s
}

// free gives those runs.
func (g *ground) free(on where) (out []*spot) {
	for _, s := range g.spots {
		fits := s.where == on || on == anyEnd && (s.where == atDesk || s.where == fed)
		if fits && !s.taken {
			out = append(out, s)
		}
	}
	return out
}

// beside gives runs of the same switch to which nothing happens yet, n at most.
func (g *ground) beside(one *spot, n int, fits func(*spot) bool) (out []*spot) {
	for _, s := range g.spots {
		same := strings.Fields(s.near)[0] == strings.Fields(one.near)[0] && s != one
		if same && !s.taken && len(out) < n && fits(s) {
			s.taken = true
			out = append(out, s)
		}
	}
	return out
}

func (s *spot) number() (n int) {
	fmt.Sscanf(strings.Fields(s.near)[1], "1/%d", &n)
	return n
}

func (s *spot) shares(pathway string) bool { return slices.Contains(s.cable.Pathways, pathway) }
