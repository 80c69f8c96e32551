package sim

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"time"
)

// FerrowQuay builds Ferrow Quay College: 3 buildings, 5 telecom rooms, 2 core
// and 10 access switches, and what hangs on them; and on paper an old workshop
// whose switches nobody can ask. The cabling, the devices,
// the records and the planted faults are always the same; seed moves only
// chance in the traffic and the errors. The campus is its own invention.
func FerrowQuay(seed uint64, start time.Time) *Campus {
	b := &builder{Campus: NewCampus(seed, start), layout: rand.New(rand.NewPCG(1887, 12)), kept: 0.66}
	b.rooms()
	b.core()
	for i, a := range accessSwitches {
		b.access(i, a)
	}
	b.backbone()
	b.spares()
	b.mistakes()
	b.misrecord()
	b.certifyHealthy()
	b.workshop()
	b.Noise(motorTray, Schedule{Offset: 6 * time.Second, Every: 100 * time.Second, For: 45 * time.Second}, motorBER)
	return b.Campus
}

// room is a telecom room; it has a tray to the east and one to the west.
type room struct{ id, name, building, floor string }

var telecomRooms = []room{
	{"N1", "North 1 main equipment room", "North", "1"},
	{"N2", "North 2 telecom room", "North", "2"},
	{"N3", "North 3 telecom room", "North", "3"},
	{"S1", "South 1 telecom room", "South", "1"},
	{"B1", "Boathouse telecom room", "Boathouse", "1"},
}

// accessSwitch serves one panel of its room, position for port.
type accessSwitch struct {
	name, room string
	panel      int
	cable      string // of the horizontal runs
	category   string
	installer  string
	year       int
}

var accessSwitches = []accessSwitch{
	{"acc-n1-1", "N1", 1, "horizontal-6a", "6A", "Tern crew", 2021},
	{"acc-n1-2", "N1", 2, "horizontal-6a", "6A", "Tern crew", 2021},
	{"acc-n2-1", "N2", 1, "horizontal-6a", "6A", "Heron crew", 2021},
	{"acc-n2-2", "N2", 2, "horizontal-6a", "6A", "Heron crew", 2021},
	{"acc-n2-3", "N2", 3, "horizontal-6a", "6A", "Tern crew", 2022},
	{"acc-n3-1", "N3", 1, "horizontal-6a", "6A", "Heron crew", 2022},
	{"acc-n3-2", "N3", 2, "horizontal-6a", "6A", "Curlew crew", 2022},
	{"acc-s1-1", "S1", 1, "horizontal-6", "6", "Curlew crew", 2016},
	{"acc-s1-2", "S1", 2, "horizontal-6", "6", "Curlew crew", 2016},
	{"acc-b1-1", "B1", 1, "horizontal-5e", "5e", "Dunlin crew", 2011},
}

// speaking is how the access switches announce themselves, one after the other.
var speaking = []LLDP{
	{}, {Numbers: ByBridgePort}, {Numbers: OwnNumber}, {Numbers: ByBridgePort, PortID: MACAddress}, {PortID: MACAddress},
	{PortID: InterfaceAlias}, {Numbers: ByBridgePort, PortID: LocalPortID}, {}, {Address: "192.0.2.9"}, {Numbers: OwnNumber},
}

// showing is how the access switches show the sensors of optics, likewise.
var showing = []OpticQuirks{
	{}, {DBm: true}, {OddScale: true, Levels: 3}, {DBm: true, Levels: 1, DarkUnavailable: true}, {DarkUnavailable: true, ShortNames: true},
}

// bundled is the switch whose uplinks are one group, with a sub-interface.
const bundled = "acc-n3-1"

// builder lays the campus out; layout is its own source of chance, so that the
// plant is the same for every seed.
type builder struct {
	*Campus
	layout *rand.Rand
	kept   float64 // share of the copper runs that are recorded
	open   []int   // indexes of site.runs that neither fault nor mistake has touched
}

// core builds the two distribution switches and the servers on them.
func (b *builder) core() {
	for i := range 2 {
		s := b.AddSwitch(SwitchPlan{
			Name: fmt.Sprintf("core-n1-%d", i+1), Space: "N1-TR", Fibre: 24, Optic: "10GBASE-SR",
			First: 101, Up: time.Duration(211+31*i) * 24 * time.Hour,
			LLDP: []LLDP{{}, {Numbers: ByBridgePort}}[i],
		})
		for n := 17; n <= 19; n++ {
			b.server(s, n, 3*i+n-16)
		}
	}
}

func (b *builder) server(s *Switch, n, position int) {
	run := fmt.Sprintf("N1-F2-%02d", position)
	p := s.Port(fmt.Sprintf("1/%d", n))
	p.Alias = "server hall rack 4"
	b.Connect(Cable{
		ID: run, Media: Fibre, Kind: "OM4", LengthM: 14, A: p, Path: Path{Connectors: 2},
		Device: &Device{Kind: "server", Speeds: []int{10000}, Name: fmt.Sprintf("srv-n1-%02d", position), LLDP: true},
		AtoB:   Flow{Bits: 120e6, Mix: office, Broadcast: 2, Multicast: 1},
		BtoA:   Flow{Bits: 340e6, Mix: bulk, Multicast: 0.1},
	})
	b.record(record{
		"id": run, "switch": s.Name, "port": p.Name, "cable": "riser-om4", "length_m": "14", "panel": "N1-F2",
		"position": fmt.Sprint(position), "pathways": "tray-n1-cross", "strands": "2", "connectors": "2",
		"optic": "10GBASE-SR", "far_optic": "10GBASE-SR", "design_speed": "10G", "device": "server",
		"owner": "computing", "importance": "high", "always_on": "true", "installer": "Tern crew", "installed_on": "2021-07-12",
		"tested_on": "2021-07-28", "test_result": "pass",
	})
}

// access builds one access switch with its 48 runs.
func (b *builder) access(i int, a accessSwitch) {
	optic := "10GBASE-SR"
	if a.room == "S1" || a.room == "B1" {
		optic = "10GBASE-LR"
	}
	plan := SwitchPlan{
		Name: a.name, Space: a.room + "-TR", Copper: 48, Fibre: 2, Optic: optic,
		First: []int{1, 1, 10101, 1000}[i%4], Stride: []int{1, 1, 1, 5}[i%4], Watts: 370,
		Quirks: Quirks{Optics: showing[i%len(showing)]},
		Up:     time.Duration(20+17*i)*24*time.Hour + time.Duration(i)*97*time.Minute,
		LLDP:   speaking[i%len(speaking)],
	}
	if a.name == bundled {
		plan.Bundle, plan.Tagged = []string{"1/49", "1/50"}, []string{"1/49.20"}
	}
	s := b.AddSwitch(plan)
	for n := 1; n <= 48; n++ {
		b.horizontal(s, a, n)
	}
}

// horizontal lays the run at a position, plugs something in, and mostly records it.
func (b *builder) horizontal(s *Switch, a accessSwitch, n int) {
	p := s.Port(fmt.Sprintf("1/%d", n))
	run := fmt.Sprintf("%s-P%d-%02d", a.room, a.panel, n)
	plan, planted := plantings[s.Name+" "+p.Name]
	kind, recorded := b.drawDevice(), b.layout.Float64() < b.kept
	length := 16 + float64(b.layout.IntN(70))
	side := "east"
	if n > 24 {
		side = "west"
	}
	if planted {
		kind, recorded = plan.device, !plan.unrecorded
	}
	p.Shut = kind == "shut"
	cable := Plug(run, p, kind)
	cable.Kind, cable.LengthM = a.category, length
	cable.Pathways = []string{"tray-" + strings.ToLower(a.room) + "-" + side}
	if planted {
		plan.apply(&cable)
	}
	announce(cable.Device, a, n)
	b.places[run] = p
	if kind != "none" {
		b.Connect(cable)
	}
	if b.layout.IntN(8) == 0 {
		p.Alias = "room " + roomNumber(a, n)
	}
	if planted {
		b.plant(plan, s, p, run)
	}
	if recorded {
		b.horizontalRecord(s, a, p, n, cable, plan, planted)
	}
}

// announce names what hangs at a position, "ap-n2-114" at position 14 of North
// 2's first panel. Few PCs announce themselves; some phones have a PC behind.
func announce(d *Device, a accessSwitch, n int) {
	if d == nil || d.Off {
		return
	}
	place := fmt.Sprintf("%s-%d%02d", strings.ToLower(a.room), a.panel, n)
	switch kind := devices[d.Kind]; {
	case kind.name != "":
		d.Name = kind.name + "-" + place
	case d.Kind == "pc":
		d.Name, d.LLDP = "pc-"+place, (a.panel+n)%19 == 0
	}
	if d.Kind == "phone" && n%4 == 1 {
		d.Behind = &Device{Kind: "pc", Name: "desk-" + place, Speeds: gigabit, LLDP: n%8 == 1}
	}
}

// drawDevice says what is at the far end of a run: "off" is there without
// power, "none" means that the port is not patched, "shut" is shut besides.
func (b *builder) drawDevice() string {
	draw := b.layout.Float64()
	for _, k := range []struct {
		kind  string
		share float64
	}{{"pc", 0.62}, {"phone", 0.10}, {"access point", 0.07}, {"printer", 0.05}, {"camera", 0.05}, {"off", 0.06}, {"none", 0.04}} {
		if draw -= k.share; draw < 0 {
			return k.kind
		}
	}
	return "shut"
}

// backbone lays two uplinks from every access switch and the core's own pair.
func (b *builder) backbone() {
	cores := []*Switch{b.Switch("core-n1-1"), b.Switch("core-n1-2")}
	for i, a := range accessSwitches {
		for j, core := range cores {
			near := b.Switch(a.name).Port(fmt.Sprintf("1/%d", 49+j))
			b.uplink(a, near, core.Port(fmt.Sprintf("1/%d", i+1)), 2*i+j+1, 2*a.panel-1+j)
		}
	}
	for n := range 2 {
		name := fmt.Sprintf("1/%d", 23+n)
		run := fmt.Sprintf("N1-F2-%02d", 11+n)
		near, far := cores[0].Port(name), cores[1].Port(name)
		b.Connect(Cable{
			ID: run, Media: Fibre, Kind: "OM4", LengthM: 9, A: near, B: far, Path: Path{Connectors: 2},
			AtoB: Flow{Bits: 700e6, Mix: office, Broadcast: 5, Multicast: 8},
			BtoA: Flow{Bits: 640e6, Mix: office, Broadcast: 5, Multicast: 8},
		})
		b.record(backboneRecord(run, near, far, "riser-om4", "9", "tray-n1-cross", "", 0))
	}
}

// uplink lays the run from a switch to a position of the main equipment
// room's panel; outside that room it starts at a panel too.
func (b *builder) uplink(a accessSwitch, near, far *Port, position, nearPosition int) {
	run := fmt.Sprintf("N1-F1-%02d", position)
	kind, cable, pathway, length, panel := "OM4", "riser-om4", "riser-north", 30+11*position%50, a.room+"-F1"
	switch a.room {
	case "N1":
		pathway, length, panel = "tray-n1-cross", 12, ""
	case "S1":
		kind, cable, pathway, length = "OS2", "duct-os2", "duct-south", 310
	case "B1":
		kind, cable, pathway, length = "OS2", "duct-os2", "duct-boathouse", 540
	}
	far.fit(near.Optic)
	near.Alias, far.Alias = "to "+far.owner.Name, "to "+near.owner.Name
	c := Cable{
		ID: run, Media: Fibre, Kind: kind, LengthM: float64(length), A: near, B: far, Path: Path{Connectors: 2},
		AtoB: Flow{Bits: 150e6, Mix: office, Broadcast: 2, Multicast: 4},
		BtoA: Flow{Bits: 420e6, Mix: bulk, Broadcast: 5, Multicast: 8},
	}
	if plan, ok := plantings[near.owner.Name+" "+near.Name]; ok {
		plan.apply(&c)
		b.plant(plan, far.owner, far, run) // the receiver counts
		if plan.what == overload {
			b.misrecorded = append(b.misrecorded, RecordError{
				Run: run, What: tooBright, Because: "optics for 40 km on a few hundred metres, without an attenuator",
			})
		}
	}
	b.Connect(c)
	b.record(backboneRecord(run, near, far, cable, fmt.Sprint(length), pathway, panel, nearPosition))
}
