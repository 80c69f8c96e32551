package web

import (
	"errors"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
)

// gapped is the scene with every kind of gap: a switch that refuses the
// credentials, one hidden behind another, twins, joins that wait, tables kept
// back, weaker counts, neighbours, a cable without a run, a move.
func gapped() *fault.Snapshot {
	tracker, s := played()
	for range 3 {
		s = tracker.Failed("acc-b1-1", s.At, "credentials", errors.New("ask 192.0.2.3:161: the switch refuses the passphrase of authentication"))
	}
	n2, s1 := s.Switches[0], s.Switches[1]
	n2.Engine = "80001f8803020000000001"
	s.Switches[2].Engine = n2.Engine
	n2.Suspended = "its serial number is another than before " + nasty
	s1.Behind = "acc-b1-1"
	n2.Tables = []port.Table{
		{Name: "ifTable", State: port.TableGiven, Rows: 9, Missing: []string{"ifLastChange"}, Grant: "1.3.6.1.2.1.2.2"},
		{Name: "dot3StatsTable", State: port.TableHidden, Grant: "1.3.6.1.2.1.10.7"},
		{Name: "dot3HCStatsTable", State: port.TableHidden, Grant: "1.3.6.1.2.1.10.7"},
		{Name: "lldpRemTable", State: port.TableBroken, Why: "its rows come back in a circle"},
		{Name: "ifMauTable", State: port.TableEmpty},
	}
	n2.Details = &port.Details{At: s.At, Chassis: port.ID{Kind: port.IDMAC, Text: "02:00:5e:10:00:01"}, Units: []port.Unit{{Serial: "FQ-0451", Position: 1}}}
	telephone := &port.Neighbour{System: "phone-214 " + nasty, Port: port.ID{Kind: port.IDLocal, Text: "1"}, Roles: port.Roles(0).With(port.Bridge).With(port.Telephone)}
	for i := range n2.Ports {
		p := &n2.Ports[i]
		switch p.Name {
		case "1/18":
			p.ErrorsBy, p.Neighbours = port.InterfaceTable, []*port.Neighbour{telephone}
		case "1/49":
			p.Peer = plant.PortRef{Switch: "acc-s1-1", Port: "1/49"}
		case "1/21":
			p.DownSince = start.AddDate(0, -2, 0)
		}
	}
	s.Links = []fault.Link{
		{A: plant.PortRef{Switch: "acc-n2-1", Port: "1/49"}, B: plant.PortRef{Switch: "acc-s1-1", Port: "1/49"}, Run: "N2-BB-1"},
		{A: plant.PortRef{Switch: "acc-n2-1", Port: "1/23"}, B: plant.PortRef{Switch: "acc-b1-1", Port: "1/1"}, Seen: true},
	}
	whole := plant.PortRef{Switch: "acc-n2-1"}
	s.Moves = []fault.Move{{At: start, What: "ifIndex of 9 ports", From: whole, To: whole}, {At: start, What: "device " + nasty, From: plant.PortRef{Switch: "acc-n2-1", Port: "1/18"}, To: plant.PortRef{Switch: "acc-n2-1", Port: "1/19"}}}
	return s
}

// in gives the part of the page that is one section.
func in(t *testing.T, page, id string) string {
	_, rest, found := strings.Cut(page, `<section class="gap" id="`+id+`"`)
	require.True(t, found, id)
	part, _, _ := strings.Cut(rest, "</section>")
	return part
}

func TestCoveragePageTellsEveryGap(t *testing.T) {
	s := source(gapped())
	inner := s.Inventory
	s.Inventory = func() InventoryState {
		state := inner()
		state.Loaded, state.Refused = start, `plant.yml:3: unknown key "runz"`
		return state
	}
	_, page := get(t, serve(t, s).URL+"/coverage")
	for id, wants := range map[string][]string{
		"switches": {"!</span> To mend:</span> 1 of 3 switches answers.", "There, and refusing the credentials: 1 of 3 switches", "the switch refuses the passphrase",
			"Hidden behind a switch that does not answer: 1 of 3 switches", "behind acc-b1-1"},
		"identity":  {"2 of 3 switches share an engine id", "acc-n2-1, acc-b1-1: engine id 80001f8803020000000001", "of 1 of 3 switches wait", "its serial number is another"},
		"conflicts": {"1 contradiction, over 2 of 11 runs.", "of 7 ports are confirmed", "claimed by runs N2-P1-30"},
		"inventory": {"1 error in the files; 11 runs are in use. Read at 2026-03-02 09:00:00 FQT", "unknown key &#34;runz&#34;", "runs.csv:14", "run N2-P1-40: length_m"},
		"health":    {"6 of 8 ports with a link are judged", "; 1 only by a weaker count; 1 cannot be judged.", "acc-n2-1</b>: 1 port: 1/18", "Damaged frames counted by ifInErrors alone", "It counts frames too long"},
		"tables": {"The only switch that answered once keeps", "dot3StatsTable (damaged frames and duplex): given by 0 of 1 switches, hidden at 1",
			"Without it: damaged frames are not counted", "<code>grant the subtree 1.3.6.1.2.1.10.7</code>", "without ifLastChange", "Without ifLastChange: link losses between two polls go unseen.", "broken: its rows come back in a circle", "empty at 1"},
		"runs":     {"7 of 11 runs are joined", "shows no port &#34;9/90&#34;", `href="/runs/N2-P1-90"`, "2 ends: "},
		"ports":    {"7 of 9 ports have a run", "acc-n2-1: 2 of 9 ports, 2 of them with a link", `href="/ports/acc-n2-1/1%2F23"`, "toneout draft"},
		"links":    {"1 of 2 cables between switches has a run", "1 cable is known by what the switches hear", "acc-n2-1 1/23", "acc-b1-1 1/1"},
		"outdated": {"2 of 11 runs no longer fit what is seen.", "N2-P1-21 near</a></b>: recorded as live, and without a link for 59 days", "shows no port &#34;9/90&#34;"},
		"moves":    {"2 moves seen", "<b>acc-n2-1</b>: ifIndex of 9 ports; seen ", "from acc-n2-1 1/18 to acc-n2-1 1/19"},
	} {
		part := in(t, page, id)
		for _, want := range wants {
			require.Contains(t, part, want, id)
		}
		require.Contains(t, page, `<a href="#`+id+`">`)
	}
}

// An empty section says what is well, and never goes missing; where nothing
// was seen, nothing is called well.
func TestCoverageWithoutGaps(t *testing.T) {
	server := serve(t, source(nothing()))
	_, page := get(t, server.URL+"/coverage")
	require.NotContains(t, page, "In order")
	ids := regexp.MustCompile(`<section class="gap" id="([a-z]+)"`).FindAllStringSubmatch(page, -1)
	require.Len(t, ids, 11)

	tracker := fault.NewTracker(plant.New(plant.Plant{Runs: []*plant.Run{{ID: "N2-P1-19", Switch: "acc-n2-1", Port: "1/19"}}}),
		fault.Settings{Switches: []fault.SwitchSettings{{Name: "acc-n2-1"}}, PollEvery: time.Minute, FalseAlarmsPerWeek: 1})
	well := up("1/19", "N2-P1-19")
	tracker.Answered("acc-n2-1", port.Poll{At: start, Ports: []port.Reading{well.reading(start, 1000, 1)},
		Tables: []port.Table{{Name: "dot3StatsTable", State: port.TableGiven, Rows: 1}}})
	s := source(tracker.Snapshot())
	s.Inventory = nil
	_, page = get(t, serve(t, s).URL+"/coverage")
	for id, want := range map[string]string{
		"switches": "The only switch answers.", "identity": "No two switches give the same engine id", "conflicts": "Nothing that the switches show contradicts the record of 1 run.",
		"inventory": "No row is lost: 1 run is in use.", "health": "The only port with a link is judged by damaged frames.", "tables": "None of the 1 switch that answered once keeps back",
		"runs": "The only run is joined", "ports": "The only port has a run in the inventory.", "links": "No cable between", "outdated": "No row of 1 run is known to be out of date.", "moves": "No device, description or port number was seen",
	} {
		require.Contains(t, in(t, page, id), "In order:", id)
		require.Contains(t, in(t, page, id), want)
	}
	require.NotContains(t, page, "To mend")
}

func TestCoverageJSONTellsEveryGap(t *testing.T) {
	server := serve(t, source(gapped()))
	c := decode[Coverage](t, server.URL+"/api/coverage")
	require.Equal(t, "acc-b1-1", c.Switches.Silent[0].Behind)
	require.True(t, c.Switches.Silent[1].Refuses)
	require.Equal(t, []Twins{{"80001f8803020000000001", []string{"acc-n2-1", "acc-b1-1"}}}, c.Switches.Twins)
	require.Equal(t, "acc-n2-1", c.Switches.Suspended[0].Name)
	var tables []string
	for _, table := range c.Switches.Tables {
		tables = append(tables, table.Table)
	}
	require.Equal(t, []string{"ifTable", "dot3StatsTable", "dot3HCStatsTable", "ifMauTable", "lldpRemTable"}, tables)
	require.Equal(t, TableCoverage{Table: "dot3StatsTable", Of: 1, Hidden: 1, Cost: costs["dot3StatsTable"].without, Grant: "1.3.6.1.2.1.10.7",
		Lacking: []LackingTable{{Switch: "acc-n2-1", State: "hidden", Unmet: true}}}, c.Switches.Tables[1])
	require.True(t, c.Switches.Tables[2].Lacking[0].Unmet, "nothing stands in for it, since dot3StatsTable is hidden too")
	require.Equal(t, PortHealth{Judged: 6, Weaker: 1, Unjudged: 1, NoLink: 1}, c.Ports.Health)
	require.Equal(t, []WeakerPort{{"acc-n2-1", "1/18", "N2-P1-18", "ifInErrors"}}, c.Ports.Weaker)
	require.Equal(t, "1/49", c.Ports.Unjudged[0].Port)
	require.Equal(t, LinkCoverage{2, 1, []Link{{Place{"acc-n2-1", "1/23"}, Place{"acc-b1-1", "1/1"}, true}}}, c.Links)
	require.Equal(t, &Place{"acc-n2-1", "1/19"}, c.Moves[1].To)
	require.Equal(t, StaleRow{"N2-P1-21", "near", "recorded as live, and without a link for 59 days"}, c.Stale[0])
	require.Equal(t, "up", c.Ports.Unjoined[0].Link)

	silent := decode[Coverage](t, serve(t, source(silenced())).URL+"/api/coverage")
	require.Equal(t, PortHealth{NotRead: 9}, silent.Ports.Health, "what is not read is never judged")
	require.Empty(t, silent.Ports.Unjoined[0].Link)
}

// A table of no use to any port of a switch, or that another stands in for,
// asks for nobody.
func TestTablesThatNobodyNeeds(t *testing.T) {
	sw := func(phy string, tables ...port.Table) *fault.Switch {
		return &fault.Switch{Tables: tables, Ports: []fault.Port{{Oper: port.Up, PHY: phy}}}
	}
	stats := port.Table{Name: "dot3StatsTable", State: port.TableGiven}
	hidden := func(name string) port.Table { return port.Table{Name: name, State: port.TableHidden} }
	without := func(columns ...string) port.Table {
		return port.Table{Name: "dot3StatsTable", State: port.TableGiven, Missing: columns}
	}
	stack := sw("1000BASE-T")
	stack.Details = &port.Details{Units: []port.Unit{{Position: 1}, {Position: 2}}}
	for _, row := range []struct {
		table port.Table
		sw    *fault.Switch
		unmet bool
	}{
		{hidden("dot3HCStatsTable"), sw("1000BASE-T", stats), false},
		{hidden("dot3HCStatsTable"), sw("1000BASE-T"), true},
		{hidden("ifMauAutoNegTable"), sw("1000BASE-T"), true},
		{hidden("ifMauAutoNegTable"), sw(""), true},
		{hidden("ifMauAutoNegTable"), sw("10GBASE-SR"), false},
		{hidden("dot3StatsTable"), sw("10GBASE-SR"), true},
		{hidden("someOtherTable"), sw("10GBASE-SR"), true},
		{hidden("entAliasMappingTable"), sw("1000BASE-T"), false},
		{hidden("entAliasMappingTable"), stack, true},
		{without("dot3StatsFCSErrors"), sw("1000BASE-T"), true},
		{without("dot3StatsCarrierSenseErrors"), sw("1000BASE-T"), false},
		{hidden("entPhySensorTable"), sw("1000BASE-T"), false},
		{hidden("entPhySensorTable"), sw("10GBASE-SR"), true},
		{hidden("pethPsePortTable"), sw("1000BASE-T"), false},
		{port.Table{Name: "pethPsePortTable", State: port.TableBroken}, sw("1000BASE-T"), true},
		{port.Table{Name: "pethPsePortTable", State: port.TableGiven}, sw("1000BASE-T"), false},
		{port.Table{Name: "pethPsePortTable", State: port.TableGiven, Why: "2 of 24 rows could not be matched to ports"}, sw("1000BASE-T"), true},
	} {
		require.Equal(t, row.unmet, unmet(row.sw, &row.table), row.table.Name)
	}
}

// What of a given table could not be used is told beside what a switch keeps back.
func TestWhatOfAGivenTableCouldNotBeUsed(t *testing.T) {
	sw := &fault.Switch{Name: "acc-1", Tables: []port.Table{{Name: "pethPsePortTable", State: port.TableGiven, Rows: 24, Why: "24 of 24 rows could not be matched to ports"}}}
	of := tableCoverage(&fault.Snapshot{Switches: []*fault.Switch{sw}})
	require.Equal(t, []LackingTable{{Switch: "acc-1", State: "given", Why: sw.Tables[0].Why, Unmet: true}}, of[0].Lacking)
	require.Equal(t, sw.Tables[0].Why, lackWords(&of[0].Lacking[0]))
}

func TestNeighboursOnPages(t *testing.T) {
	server := serve(t, source(gapped()))
	near := decode[RunVerdict](t, server.URL+"/api/runs/N2-P1-18").Ports.Near
	require.Equal(t, []Neighbour{{System: "phone-214 " + nasty, Port: "1", Roles: []string{"bridge", "telephone"}}}, near.Neighbours)
	require.Equal(t, []string{"description"}, near.ConfirmedBy)
	require.Equal(t, "ifInErrors", near.ErrorsCountedBy)
	_, page := get(t, server.URL+"/runs/N2-P1-18")
	for _, want := range []string{
		"port 1 (bridge, telephone)", "ifName, and confirmed by its description", "counted by ifInErrors, which is weaker: it counts frames too long",
	} {
		require.Contains(t, page, want)
	}
	require.NotContains(t, page, nasty)
	_, page = get(t, server.URL+"/ports/acc-n2-1/1/49")
	require.Contains(t, page, `<a href="/ports/acc-s1-1/1%2F49">acc-s1-1 1/49</a>`)
	_, page = get(t, server.URL+"/ports/acc-n2-1/1/21")
	require.Contains(t, page, "down, since 2026-01-02 09:00:00 FQT at the latest")
	require.Contains(t, page, `<th scope="row">Neighbours heard</th><td>not told</td>`, "lldpRemTable is broken")

	heard := gapped()
	heard.Switches[0].Tables = []port.Table{{Name: "lldpRemTable", State: port.TableEmpty}}
	_, page = get(t, serve(t, source(heard)).URL+"/ports/acc-n2-1/1/21")
	require.Contains(t, page, `<th scope="row">Neighbours heard</th><td>none</td>`)

	list := decode[[]SwitchNow](t, server.URL+"/api/switches")
	require.Equal(t, "1/18", list[0].Neighbours[0].At)
	require.Equal(t, []Unit{{Serial: "FQ-0451", Position: 1}}, list[0].Units)
	require.Equal(t, []string{"acc-b1-1"}, list[0].Twins)
	require.True(t, list[2].RefusesCredentials)
	require.Equal(t, "acc-b1-1", list[1].Behind)
}

func TestTheWallTellsWhyASwitchIsNotRead(t *testing.T) {
	server := serve(t, source(gapped()))
	_, page := get(t, server.URL+"/")
	for _, want := range []string{
		"<b>acc-b1-1</b>: it is there and refuses the credentials: ", "<b>acc-s1-1</b>: hidden behind acc-b1-1, which does not answer",
		"<b>acc-n2-1</b>: its serial number is another than before", `href="/coverage#identity"`, `href="/coverage"`,
	} {
		require.Contains(t, page, want)
	}
	require.Less(t, strings.Index(page, "<b>acc-b1-1</b>"), strings.Index(page, "<b>acc-s1-1</b>"), "what hides others comes first")
}

func TestSpans(t *testing.T) {
	for want, names := range map[string][]string{
		"":                         nil,
		"1/1":                      {"1/1"},
		"1/1, 1/2":                 {"1/1", "1/2"},
		"1/1 to 1/4, 2/1":          {"1/1", "1/2", "1/3", "1/4", "2/1"},
		"uplink, 9, 10, 1/9, 1/11": {"uplink", "9", "10", "1/9", "1/11"},
		"1/9 to 1/11":              {"1/9", "1/10", "1/11"},
		"99999999999999999999":     {"99999999999999999999"},
	} {
		require.Equal(t, want, spans(names))
	}
	require.Regexp(t, `^a1, a3(, a\d+)+, …$`, spans(strings.Fields("a1 a3 a5 a7 a9 a11 a13 a15 a17 a19 a21 a23 a25 a27")))
}

func TestClippedCountsRunes(t *testing.T) {
	require.Equal(t, "é", clippedAt("é", 1))
	require.Equal(t, "é…", clippedAt("éé", 1))
	require.Equal(t, "\xff…", clippedAt("\xff\xff", 1))
}

// A list that is folded has a line to open it by, one that is cut says by how
// much, and one without rows is not there.
func TestLongListsFold(t *testing.T) {
	rows := func(n int) []item { return make([]item, n) }
	var s section
	s.mend(block{})
	require.Empty(t, s.Blocks)
	for _, n := range []int{foldAbove, foldAbove + 1, mostRows + 5} {
		s.mend(block{Items: rows(n)})
	}
	require.False(t, s.Blocks[0].Fold)
	require.Equal(t, []string{"The list of 9", ""}, []string{s.Blocks[1].Title, s.Blocks[1].More})
	require.Equal(t, []string{"The list of 65", "and 5 more"}, []string{s.Blocks[2].Title, s.Blocks[2].More})
	require.Len(t, s.Blocks[2].Items, mostRows)
}

// What two switches announce to each other (IEEE 802.1AB) reaches the pages
// through a real tracker: neighbours, the port at the other end, the cable.
func TestSwitchesThatHearEachOther(t *testing.T) {
	names := []string{"acc-n2-1", "core-n1-1"}
	tracker := fault.NewTracker(plant.New(plant.Plant{}), fault.Settings{
		Switches:  []fault.SwitchSettings{{Name: names[0]}, {Name: names[1]}},
		PollEvery: time.Minute, FalseAlarmsPerWeek: 1,
	})
	id := func(s string) port.ID { return port.ID{Kind: port.IDName, Text: s} }
	for poll := range 3 {
		for i, name := range names {
			at, uplink := start.Add(time.Duration(poll)*time.Minute), up("1/49", "")
			tracker.Answered(name, port.Poll{
				At: at, Uptime: port.Some(uint32(6000 * (poll + 1))), Name: name, Ports: []port.Reading{uplink.reading(at, uint32(6000*(poll+1)), 49)},
				Tables: []port.Table{{Name: "lldpRemTable", State: port.TableGiven, Rows: 1}},
				Details: &port.Details{At: start, Chassis: id(name), Neighbours: []port.Neighbour{{
					Index: 49, Chassis: id(names[1-i]), Port: id("1/49"), System: names[1-i], Roles: port.Roles(0).With(port.Bridge),
				}}},
			})
		}
	}
	server := serve(t, source(tracker.Snapshot()))
	links := decode[Coverage](t, server.URL+"/api/coverage").Links
	require.Equal(t, LinkCoverage{1, 1, []Link{{Place{"acc-n2-1", "1/49"}, Place{"core-n1-1", "1/49"}, true}}}, links)
	_, page := get(t, server.URL+"/ports/acc-n2-1/1/49")
	require.Contains(t, page, "<td>core-n1-1 port 1/49 (bridge)</td>")
	require.Contains(t, page, `<td><a href="/ports/core-n1-1/1%2F49">core-n1-1 1/49</a></td>`)
	_, page = get(t, server.URL+"/coverage")
	require.Contains(t, in(t, page, "links"), "0 of 1 cables between switches have a run in the inventory; 1 cable is known by what the switches hear")
}

// A spare port needs no row, so it asks nobody for anything; one in use does,
// and of an unread switch it is not known which it is.
func TestOnlyAPortInUseAsksForARow(t *testing.T) {
	for _, row := range []struct {
		links  []string
		rank   int
		figure string
	}{
		{[]string{"down", "up", ""}, toMend, "7 of 10 ports have a run in the inventory; of the others 1 port is in use."},
		{[]string{"down", ""}, notKnown, "8 of 10 ports have a run in the inventory; whether the others have a link is not known of all."},
		{[]string{"down", "lowerLayerDown"}, inOrder, "8 of 10 ports have a run in the inventory; none of the others has a link."},
		{nil, inOrder, "All 10 ports have a run in the inventory."},
	} {
		c := PortCoverage{Shown: 10}
		for _, link := range row.links {
			c.Unjoined = append(c.Unjoined, UnjoinedPort{Switch: "acc-n2-1", Port: "1/1", Link: link})
		}
		s := unjoinedPortSection(&c, scene())
		require.Equal(t, row.figure, s.Figure)
		require.Equal(t, row.rank, s.Rank, row.figure)
		require.Equal(t, len(row.links) > 0, len(s.Blocks) == 1, "they are listed all the same")
	}
}
