package sim

import (
	"fmt"
	"math/rand/v2"
	"time"
)

// Quayside builds the college's annexe over the water: one core switch, one
// distribution switch below it, and four access switches of 24 ports that hang
// on nothing else. Every run is recorded, nothing is planted.
func Quayside(seed uint64, start time.Time) *Campus {
	b := &builder{Campus: NewCampus(seed, start), layout: rand.New(rand.NewPCG(1902, 3)), kept: 1}
	b.annexe()
	core := b.AddSwitch(SwitchPlan{Name: "core-q1-1", Space: "Q1-TR", Fibre: 8, Optic: "10GBASE-SR", First: 101, Up: 90 * 24 * time.Hour})
	dist := b.AddSwitch(SwitchPlan{
		Name: "dist-q2-1", Space: "Q2-TR", Fibre: 8, Optic: "10GBASE-SR", Up: 60 * 24 * time.Hour, LLDP: LLDP{Numbers: ByBridgePort},
	})
	b.link("Q1-F1-01", dist.Port("1/8"), core.Port("1/1"), "riser-q2")
	for n := 1; n <= 4; n++ {
		a := accessSwitch{fmt.Sprintf("acc-q2-%d", n), "Q2", n, "horizontal-6a", "6A", "Tern crew", 2023}
		s := b.AddSwitch(SwitchPlan{
			Name: a.name, Space: "Q2-TR", Copper: 24, Fibre: 2, Optic: "10GBASE-SR", First: 1 + 1000*(n%2),
			Up: time.Duration(10+n) * 24 * time.Hour, LLDP: speaking[n],
		})
		for position := 1; position <= 24; position++ {
			b.horizontal(s, a, position)
		}
		b.link(fmt.Sprintf("Q2-F1-%02d", n), s.Port("1/25"), dist.Port(fmt.Sprintf("1/%d", n)), "tray-q2-west")
	}
	return b.Campus
}

// link lays and records a fibre from a switch to the one above it.
func (b *builder) link(run string, near, far *Port, pathway string) {
	near.Alias, far.Alias = "to "+far.owner.Name, "to "+near.owner.Name
	b.Connect(Cable{
		ID: run, Media: Fibre, Kind: "OM4", LengthM: 20, A: near, B: far, Path: Path{Connectors: 2}, Pathways: []string{pathway},
		AtoB: Flow{Bits: 150e6, Mix: office, Broadcast: 2, Multicast: 4},
		BtoA: Flow{Bits: 420e6, Mix: bulk, Broadcast: 5, Multicast: 8},
	})
	b.record(backboneRecord(run, near, far, "riser-om4", "20", pathway, "", 0))
}

// annexe writes down the annexe's spaces, panels, pathways and cables.
func (b *builder) annexe() {
	b.site = site{
		name: "Ferrow Quay College, Quayside annexe",
		spaces: []string{
			`id: Q1-TR, name: Quayside 1 equipment room, building: Quayside, floor: "1"`,
			`id: Q2-TR, name: Quayside 2 telecom room, building: Quayside, floor: "2"`,
		},
		panels: []string{"id: Q1-F1, space: Q1-TR, positions: 24", "id: Q2-F1, space: Q2-TR, positions: 24"},
		pathways: []string{
			"id: tray-q2-east, name: Quayside 2 east tray, ambient_c: 24", "id: tray-q2-west, name: Quayside 2 west tray, ambient_c: 24",
			"id: riser-q2, name: Quayside riser, ambient_c: 28",
		},
		cables: []string{
			`id: horizontal-6a, media: copper, category: "6A", shield: U/UTP, awg: 23`,
			`id: riser-om4, media: fibre, fibre: OM4`,
		},
	}
	for n := 1; n <= 4; n++ {
		b.site.panels = append(b.site.panels, fmt.Sprintf("id: Q2-P%d, space: Q2-TR, positions: 24", n))
	}
}
