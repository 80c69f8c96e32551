package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// IEEE 802.1AB 8.5.3: what a neighbour calls its port, by kind.
func TestPeersByTheKindOfPortID(t *testing.T) {
	id := func(kind port.IDKind, text string) func(*port.Neighbour) {
		return func(n *port.Neighbour) { n.Port = port.ID{Kind: kind, Text: text} }
	}
	rows := []struct {
		name   string
		change func(*port.Neighbour)
		want   plant.PortRef
	}{
		{"ifName", id(port.IDName, "1/2"), ref("b", "1/2")},
		{"ifAlias", id(port.IDAlias, "to the riser"), ref("b", "1/2")},
		{"an alias that two ports have", id(port.IDAlias, "staff"), plant.PortRef{}},
		{"local text that is a name", id(port.IDLocal, "1/2"), ref("b", "1/2")},
		{"a bare number may be anything", id(port.IDLocal, "2"), plant.PortRef{}},
		{"a MAC address, with the port's description", func(n *port.Neighbour) {
			n.Port, n.PortText = port.ID{Kind: port.IDMAC, Text: "00:00:5e:00:53:99"}, "port two"
		}, ref("b", "1/2")},
		{"a MAC address alone", id(port.IDMAC, "00:00:5e:00:53:99"), plant.PortRef{}},
		{"a name that is not there", id(port.IDName, "9/9"), plant.PortRef{}},
		{"another chassis of the same system name", func(n *port.Neighbour) {
			n.Chassis.Text = "00:00:5e:00:53:ff"
		}, plant.PortRef{}},
		{"a chassis id of another kind, and the system name", func(n *port.Neighbour) {
			n.Chassis = port.ID{Kind: port.IDLocal, Text: "rack 3"}
		}, ref("b", "1/2")},
		{"nothing but a name that no switch has", func(n *port.Neighbour) {
			n.Chassis, n.System = port.ID{}, "elsewhere"
		}, plant.PortRef{}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			a, b := boxed("a", 2), boxed("b", 4)
			b.link("1/2").alias = "to the riser"
			b.link("1/2").edit = func(r *port.Reading) { r.Description = "port two" }
			b.link("1/3").alias, b.link("1/4").alias = "staff", "staff"
			n := b.announces("1/2")
			row.change(&n)
			a.hears("1/1", n)
			w := newWorld(t, nil, a, b)
			w.polls(2)
			require.Equal(t, row.want, w.port("a", "1/1").Peer)
			require.Len(t, w.port("a", "1/1").Neighbours, 1)
		})
	}
}

func TestABareNumberCountsWhereThatPortHearsBack(t *testing.T) {
	a, b := boxed("a", 2), boxed("b", 2)
	n := b.announces("1/2")
	n.Port = port.ID{Kind: port.IDLocal, Text: "2"}
	a.hears("1/1", n)
	b.hears("1/2", a.announces("1/1"))
	w := newWorld(t, nil, a, b)
	w.polls(2)
	require.Equal(t, ref("b", "1/2"), w.port("a", "1/1").Peer)
}

// IEEE 802.1AB 8.5.3.2: a locally assigned id may be anything; as ifIndex it is
// often also the text of another port.
func TestABareNumberIsFirstTheIndexOfThePortThatHearsBack(t *testing.T) {
	for name, confuse := range map[string]func(*box){
		"another port's name":        func(b *box) { b.links[0].name, b.links[1].name = "2", "3" },
		"what is written on another": func(b *box) { b.links[0].alias = "2" },
	} {
		t.Run(name, func(t *testing.T) {
			a, b := boxed("a", 2), boxed("b", 2)
			confuse(b)
			n := b.announces("")
			n.Port = port.ID{Kind: port.IDLocal, Text: "2"}
			a.hears("1/1", n)
			b.hears(b.links[1].name, a.announces("1/1"))
			w := newWorld(t, nil, a, b)
			w.polls(2)
			require.Equal(t, ref("b", b.links[1].name), w.port("a", "1/1").Peer)
		})
	}
}

func TestSeveralNeighboursAtOnePort(t *testing.T) {
	rolesNotTold := func(n port.Neighbour) port.Neighbour { n.Roles = 0; return n }
	b, c := boxed("b", 2), boxed("c", 2)
	rows := []struct {
		name  string
		heard []port.Neighbour
		want  plant.PortRef
	}{
		{"a switch among telephones and stations: a hub between", []port.Neighbour{station("pc-1"), b.announces("1/1"), phone("ph-1")}, plant.PortRef{}},
		{"two switches: a hub between", []port.Neighbour{b.announces("1/1"), c.announces("1/1")}, plant.PortRef{}},
		{"a switch and one that does not tell what it does", []port.Neighbour{b.announces("1/1"), rolesNotTold(station("x"))}, plant.PortRef{}},
		{"a telephone and the computer behind it", []port.Neighbour{phone("ph-1"), station("pc-1")}, plant.PortRef{}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			a := boxed("a", 2)
			for _, n := range row.heard {
				a.hears("1/1", n)
			}
			w := newWorld(t, nil, a, b, c)
			w.polls(2)
			require.Equal(t, row.want, w.port("a", "1/1").Peer)
			require.Len(t, w.port("a", "1/1").Neighbours, len(row.heard))
		})
	}
}

// A switch without management that passes on what it should keep (IEEE 802.1AB
// 7.1) lets two switches and a computer hear each other over three cables.
func TestAHubIsNoCable(t *testing.T) {
	a, b := boxed("a", 2), boxed("b", 2)
	for _, n := range []port.Neighbour{b.announces("1/1"), station("pc")} {
		a.hears("1/1", offering(n, gigabit))
	}
	b.hears("1/1", a.announces("1/1"))
	b.hears("1/1", station("pc"))
	run := &plant.Run{ID: "R", Switch: "a", Port: "1/1", Cable: "horizontal-6a", DesignSpeed: standards.Gbps}
	w := newWorld(t, []*plant.Run{run}, a, b)
	b.link("1/1").errored = 200
	a.link("1/1").fellBack()
	a.link("1/1").far = legacy // the hub's
	w.polls(10)
	require.Empty(t, w.port("b", "1/1").Run, "b's cable to the hub is another one")
	require.Equal(t, FarEndLimit, w.tracker.Snapshot().FaultsOf("R")[0].Cause(), "what b offers is not what the hub does")
	require.Len(t, w.tracker.Snapshot().FaultsOf("R"), 1)
	require.Empty(t, w.tracker.Snapshot().Links)
	b.class = "no-answer"
	w.polls(6)
	require.True(t, w.view("b").Told())
}

func TestNeighboursThatAreNotToldAnyLongerAge(t *testing.T) {
	a, b := boxed("a", 1), boxed("b", 1)
	cable(a, "1/1", b, "1/1")
	w := newWorld(t, nil, a, b)
	w.polls(2)
	a.deaf, b.deaf = true, true
	w.polls(14)
	require.NotEmpty(t, w.port("a", "1/1").Neighbours)
	w.polls(3)
	require.Empty(t, w.port("a", "1/1").Neighbours, "after 3 slow intervals of 5 minutes")
	require.Zero(t, w.port("a", "1/1").Peer)
	require.Nil(t, w.view("a").Details)
	require.Empty(t, w.tracker.Snapshot().Links)
}

func TestNeighboursThatFailedToBeAskedCountOnForAWhile(t *testing.T) {
	a, b := boxed("a", 1), boxed("b", 1)
	cable(a, "1/1", b, "1/1")
	w := newWorld(t, nil, a, b)
	w.polls(2)
	a.failing = true
	w.polls(10)
	require.Equal(t, ref("b", "1/1"), w.port("a", "1/1").Peer)
	w.polls(10)
	require.Zero(t, w.port("a", "1/1").Peer)
	require.NotNil(t, w.view("a").Details)
}

func TestEachCableBetweenSwitchesOnce(t *testing.T) {
	a, b, c := boxed("a", 3), boxed("b", 3), boxed("c", 3)
	cable(a, "1/1", b, "1/1")
	cable(b, "1/2", c, "1/1")
	riser := &plant.Run{ID: "RISER", Switch: "b", Port: "1/1", FarSwitch: "a", FarPort: "1/1"}
	quiet := &plant.Run{ID: "QUIET", Switch: "c", Port: "1/3", FarSwitch: "a", FarPort: "1/3"}
	spare := &plant.Run{ID: "SPARE", Switch: "c", Port: "1/2", FarSwitch: "a", FarPort: "1/2", Status: plant.Spare}
	w := newWorld(t, []*plant.Run{riser, quiet, spare}, a, b, c)
	w.polls(2)
	require.Equal(t, []Link{
		{A: ref("a", "1/1"), B: ref("b", "1/1"), Run: "RISER", Seen: true},
		{A: ref("a", "1/3"), B: ref("c", "1/3"), Run: "QUIET"},
		{A: ref("b", "1/2"), B: ref("c", "1/1"), Seen: true},
	}, w.tracker.Snapshot().Links)
}

// Where two ports do not agree whom they hear, another device is between.
func TestPortsThatContradictEachOtherAreNoCable(t *testing.T) {
	a, b := boxed("a", 2), boxed("b", 2)
	a.hears("1/1", b.announces("1/1"))
	b.hears("1/1", a.announces("1/2"))
	w := newWorld(t, nil, a, b)
	w.polls(2)
	require.Empty(t, w.tracker.Snapshot().Links)
}

func TestNeighboursJoinTheFarEnd(t *testing.T) {
	a, b := boxed("a", 2), boxed("b", 2)
	run := &plant.Run{ID: "UP", Switch: "a", Port: "1/1", FarSwitch: "b"}
	w := newWorld(t, []*plant.Run{run}, a, b)
	w.polls(3)
	require.Empty(t, w.port("b", "1/2").Run)
	cable(a, "1/1", b, "1/2")
	w.polls(6)
	require.Equal(t, "UP", w.port("b", "1/2").Run, "joined anew as neighbours are heard")
	require.Equal(t, plant.ByNeighbour, w.port("b", "1/2").JoinedBy)
}

func TestTwinsOfOneEngineID(t *testing.T) {
	a, b, c := boxed("a", 1), boxed("b", 1), boxed("c", 1)
	a.engine, b.engine, c.engine = "80001f8804", "80001f8804", "80001f8805"
	w := newWorld(t, nil, a, b, c)
	w.polls(1)
	require.Equal(t, map[string][]string{"80001f8804": {"a", "b"}}, w.tracker.Snapshot().Twins())
}

func TestDownSince(t *testing.T) {
	l := gigabitLink("1/1")
	s := newScene(t, nil, l)
	s.polls(3)
	l.oper, l.lastChange = port.Down, s.uptime+2000 // 20 s after the last poll
	fell := s.now.Add(20 * time.Second)
	since := func() time.Time {
		p, _ := s.polls(1).Switches[0].Port("1/1")
		return p.DownSince
	}
	require.Equal(t, fell, since())
	require.Equal(t, fell, since())
	l.lastChange = s.uptime + 3000 // back for a moment
	require.Equal(t, s.now.Add(30*time.Second), since())
	before := since()
	s.uptime, l.lastChange = 0, 0 // the agent restarts
	require.Equal(t, before, since())
	l.oper = port.Up
	require.Zero(t, since())
}
