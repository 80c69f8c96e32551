package plant

import (
	"fmt"
	"io/fs"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// up is a port with a link; the options set the rest.
func up(sw string, n int, alias string, set ...func(*DraftPort)) DraftPort {
	p := DraftPort{SeenPort: at(sw, 100+n, fmt.Sprintf("1/%d", n), "", alias), Up: true}
	for _, f := range set {
		f(&p)
	}
	return p
}

func down(p *DraftPort)                        { p.Up = false }
func peer(sw string, n int) func(p *DraftPort) { return peerNamed(sw, fmt.Sprintf("1/%d", n)) }
func peerNamed(sw, name string) func(p *DraftPort) {
	return func(p *DraftPort) { p.Peer = PortRef{sw, name} }
}
func offers(s standards.Speed) func(p *DraftPort) { return func(p *DraftPort) { p.Offers = s } }
func fibre(phy string) func(p *DraftPort) {
	return func(p *DraftPort) { p.PHY, p.Medium = phy, standards.Fibre }
}

// neighbour adds a device that offers 1000BASE-T full duplex (bit 15 of
// IANAifMauAutoNegCapBits, RFC 4836).
func neighbour(name string, roles ...port.Role) func(p *DraftPort) {
	return func(p *DraftPort) {
		n := port.Neighbour{System: name, Offered: port.Some(standards.Abilities(1 << 15))}
		for _, role := range roles {
			n.Roles = n.Roles.With(role)
		}
		p.Neighbours = append(p.Neighbours, n)
		p.Device = name
		if len(p.Neighbours) > 1 {
			p.Device = ""
		}
	}
}

func draftOf(t *testing.T, file string, found []DraftPort, rest *Plant) *Drafted {
	t.Helper()
	d, err := Draft([]byte(file), found, draftLabels, rest)
	require.NoError(t, err)
	again, err := Draft(d.CSV, found, draftLabels, rest)
	require.NoError(t, err)
	require.Equal(t, string(d.CSV), string(again.CSV), "drafting again changes nothing")
	require.Zero(t, again.Added+again.Filled)
	return d
}

var draftLabels = regexp.MustCompile(`^(?P<run>N[0-9]-[A-Z0-9-]+)(?: outlet (?P<outlet>\S+))?(?: panel (?P<panel>\S+)/(?P<position>\S+))?`)

const head = "id,switch,port,far_switch,far_port,cable,length_m,panel,position,outlet,pathways,design_speed,device,passes_through,optic,far_optic,importance,status,draft_differs,drafted_from\n"

// drafted is a row of a new file.
func drafted(cells ...string) string {
	row := make([]string, strings.Count(head, ",")+1)
	keys := strings.Split(strings.TrimSpace(head), ",")
	for _, cell := range cells {
		key, text, _ := strings.Cut(cell, "=")
		row[slices.Index(keys, key)] = text
	}
	return strings.Join(row, ",") + "\n"
}

const g1, g10 = standards.Gbps, 10 * standards.Gbps

func TestDraftOfANewFile(t *testing.T) {
	named := "switch=asked;port=ifName"
	known := New(Plant{Panels: []*Panel{{ID: "P1"}}})
	rows := []struct {
		name  string
		found []DraftPort
		rest  *Plant
		want  []string
	}{
		{"a description", []DraftPort{up("s", 1, "N2-P1-17 outlet 214-A", down)}, nil,
			[]string{drafted("id=N2-P1-17", "switch=s", "port=1/1", "outlet=214-A", "status=live",
				"drafted_from=id=description;"+named+";outlet=description;status=seen")}},
		{"a panel that the inventory has", []DraftPort{up("s", 1, "N2-1 panel P1/17"), up("s", 2, "N2-2 panel P2/1")}, known, []string{
			drafted("id=N2-1", "switch=s", "port=1/1", "panel=P1", "position=17", "status=live",
				"drafted_from=id=description;"+named+";panel=description;position=description;status=seen"),
			drafted("id=N2-2", "switch=s", "port=1/2", "status=live", "drafted_from=id=description;"+named+";status=seen")}},
		{"only a link: its speed is not what is meant", []DraftPort{up("s", 1, "to the printer", offers(g1))}, nil,
			[]string{drafted("id=s-1-1", "switch=s", "port=1/1", "status=live", "drafted_from=id=switch and port;"+named+";status=seen")}},
		{"a device", []DraftPort{up("s", 1, "", offers(g10), neighbour("ap-1", port.AccessPoint))}, nil,
			[]string{drafted("id=s-1-1", "switch=s", "port=1/1", "design_speed=1G", "device=ap-1", "status=live",
				"drafted_from=id=switch and port;"+named+";design_speed=both ends offer it;device=neighbour;status=seen")}},
		{"a computer behind a telephone", []DraftPort{up("s", 1, "", neighbour("tel-1", port.Telephone), neighbour("pc-1", port.Station))}, nil,
			[]string{drafted("id=s-1-1", "switch=s", "port=1/1", "device=pc-1", "passes_through=phone", "status=live",
				"drafted_from=id=switch and port;"+named+";device=neighbour;passes_through=neighbour;status=seen")}},
		{"what a spreadsheet would take for a formula", []DraftPort{up("s", 1, "", neighbour("=HYPERLINK(1)"))}, nil,
			[]string{drafted("id=s-1-1", "switch=s", "port=1/1", "status=live", "drafted_from=id=switch and port;"+named+";status=seen")}},
		{"one row for a link, near where there are fewer", []DraftPort{
			up("a", 1, "", peer("b", 1)), up("a", 2, "", peer("c", 1), fibre("10GBASE-SR")),
			up("b", 1, ""), up("c", 1, "", fibre("10GBASE-SR"))}, nil, []string{
			drafted("id=b-1-1", "switch=b", "port=1/1", "far_switch=a", "far_port=1/1", "status=live",
				"drafted_from=id=switch and port;"+named+";far_switch=neighbour;far_port=neighbour;status=seen"),
			drafted("id=c-1-1", "switch=c", "port=1/1", "far_switch=a", "far_port=1/2", "design_speed=10G", "optic=10GBASE-SR", "far_optic=10GBASE-SR", "status=live",
				"drafted_from=id=switch and port;"+named+";far_switch=neighbour;far_port=neighbour;design_speed=the optic's speed;optic=PHY;far_optic=PHY;status=seen")}},
		{"a link to a switch that did not answer", []DraftPort{up("s", 1, "", peer("t", 9))}, nil,
			[]string{drafted("id=s-1-1", "switch=s", "port=1/1", "far_switch=t", "far_port=1/9", "status=live",
				"drafted_from=id=switch and port;"+named+";far_switch=neighbour;far_port=neighbour;status=seen")}},
		{"a text on several ports is no id", []DraftPort{up("s", 1, "N2-AP"), up("s", 2, "N2-AP")}, nil, []string{
			drafted("id=s-1-1", "switch=s", "port=1/1", "status=live", "drafted_from=id=switch and port;"+named+";status=seen"),
			drafted("id=s-1-2", "switch=s", "port=1/2", "status=live", "drafted_from=id=switch and port;"+named+";status=seen")}},
		{"ids made are unique", []DraftPort{up("N1-a", 1, ""), up("N1", 1, "", func(p *DraftPort) { p.Name = "a/1/1" })}, nil, []string{
			drafted("id=N1-a-1-1", "switch=N1-a", "port=1/1", "status=live", "drafted_from=id=switch and port;"+named+";status=seen"),
			drafted("id=N1-a-1-1-2", "switch=N1", "port=a/1/1", "status=live", "drafted_from=id=switch and port;"+named+";status=seen")}},
		{"both ends of a link have its id", []DraftPort{up("s", 1, "N2-BB-1", peer("t", 1)), up("t", 1, "N2-BB-1")}, nil,
			[]string{drafted("id=N2-BB-1", "switch=s", "port=1/1", "far_switch=t", "far_port=1/1", "status=live",
				"drafted_from=id=description;"+named+";far_switch=neighbour;far_port=neighbour;status=seen")}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			d := draftOf(t, "", row.found, row.rest)
			require.Equal(t, head+strings.Join(row.want, ""), string(d.CSV))
			require.Equal(t, len(row.want), d.Added)
			require.Empty(t, d.Untold)
		})
	}
}

func TestWhatGetsNoRow(t *testing.T) {
	vlan := up("s", 9, "N2-9")
	vlan.Physical = false
	rest := New(Plant{Runs: []*Run{{ID: "N2-1", Switch: "s", Port: "101"}, {ID: "N2-2", Switch: "t", Port: "1"}, {ID: "D", Device: "cam"}}})
	d := draftOf(t, "", []DraftPort{
		vlan, up("s", 1, ""), up("s", 2, "N2-2"), up("s", 3, "", down), up("s", 4, "", neighbour("CAM")),
		up("s", 5, ""), up("s", 5, ""),
	}, rest)
	require.Nil(t, d.CSV)
	require.Equal(t, []int{0, 1, 1}, []int{d.Added, d.Recorded, d.Signless})
	require.Equal(t, []UnjoinedPort{
		{PortRef{"s", "1/5"}, `switch "s" shows several ports of this name`},
		{PortRef{"s", "1/5"}, `switch "s" shows several ports of this name`},
		{PortRef{"s", "1/2"}, "its description names run N2-2, which is recorded elsewhere"},
		{PortRef{"s", "1/4"}, `it hears "CAM", which the record of another run names as its device`},
	}, d.Untold)
}

func TestDraftOverAPersonsFile(t *testing.T) {
	rows := []struct {
		name, file string
		found      []DraftPort
		want       string
		counts     [3]int // added, filled, differs
	}{
		{"what agrees stays byte for byte", "\xef\xbb\xbfid , colour,switch,port\r\n\r\n A ,\"x, y\",s,101\r\n", []DraftPort{up("s", 1, "")}, "", [3]int{}},
		{"an empty cell is filled, in columns added at the end", "id,notes,switch,port\nA,\"two\nlines, \"\"quoted\"\"\",s,101\n",
			[]DraftPort{up("s", 1, "", peer("t", 1)), up("t", 1, "")},
			"id,notes,switch,port,far_switch,far_port,drafted_from\nA,\"two\nlines, \"\"quoted\"\"\",s,101,t,1/1,far_switch=neighbour;far_port=neighbour\n", [3]int{0, 2, 0}},
		{"a cleared cell stays empty", "id,switch,port,device,drafted_from\nA,s,1/1,,device=neighbour\n",
			[]DraftPort{up("s", 1, "", neighbour("ap-1"))}, "id,switch,port,device,drafted_from\nA,s,1/1,,device=neighbour\n", [3]int{}},
		{"a person's device is only words", "id,switch,port,device\nA,s,1/1,lecture capture\n",
			[]DraftPort{up("s", 1, "", neighbour("lc-214"))}, "id,switch,port,device\nA,s,1/1,lecture capture\n", [3]int{}},
		{"a drafted device is another now", "id,switch,port,device,drafted_from\nA,s,1/1,ap-1,device=neighbour\n",
			[]DraftPort{up("s", 1, "", neighbour("ap-2"))},
			"id,switch,port,device,drafted_from,draft_differs\nA,s,1/1,ap-1,device=neighbour,device: now ap-2 by neighbour\n", [3]int{0, 0, 1}},
		{"and the same again", "id,switch,port,device,drafted_from,draft_differs\nA,s,1/1,ap-1,device=neighbour,device: now ap-2 by neighbour\n",
			[]DraftPort{up("s", 1, "", neighbour("ap-1"))}, "id,switch,port,device,drafted_from,draft_differs\nA,s,1/1,ap-1,device=neighbour,\n", [3]int{}},
		{"not heard is not another", "id,switch,port,device,drafted_from,draft_differs\nA,s,1/1,ap-1,device=neighbour,device: now ap-2 by neighbour\n",
			[]DraftPort{up("s", 1, "")}, "id,switch,port,device,drafted_from,draft_differs\nA,s,1/1,ap-1,device=neighbour,device: now ap-2 by neighbour\n", [3]int{0, 0, 1}},
		{"the far port is another", "id,switch,port,far_switch,far_port\nA,s,1/1,t,1/1\n",
			[]DraftPort{up("s", 1, "", peer("t", 7)), up("t", 1, "", down), up("t", 7, "")},
			"id,switch,port,far_switch,far_port,draft_differs\nA,s,1/1,t,1/1,far_port: now 1/7 by neighbour\n", [3]int{0, 0, 1}},
		{"recorded the other way round", "id,switch,port,far_switch,far_port\nA,t,1/1,s,\n",
			[]DraftPort{up("s", 1, "", peer("t", 1)), up("t", 1, "")},
			"id,switch,port,far_switch,far_port,drafted_from\nA,t,1/1,s,1/1,far_port=neighbour\n", [3]int{0, 1, 0}},
		{"seen from the far end only", "id,switch,port,far_switch,far_port\nA,t,1/1,s,1/1\n",
			[]DraftPort{up("s", 1, "", neighbour("ap-1"))}, "id,switch,port,far_switch,far_port\nA,t,1/1,s,1/1\n", [3]int{}},
		{"a device where a switch is", "id,switch,port,device\nA,s,1/1,printer\n",
			[]DraftPort{up("s", 1, "", peer("t", 1)), up("t", 1, "")},
			"id,switch,port,device,draft_differs\nA,s,1/1,printer,far_switch: now t by neighbour\n", [3]int{0, 0, 1}},
		{"found by its id", "id,switch,port\nN2-1,,\n", []DraftPort{up("s", 1, "N2-1 x")},
			"id,switch,port,drafted_from\nN2-1,s,1/1,switch=asked;port=ifName\n", [3]int{0, 2, 0}},
		{"found by its device", "id,switch,port,device\nA,,,AP-1\n", []DraftPort{up("s", 1, "", neighbour("ap-1"))},
			"id,switch,port,device,drafted_from\nA,s,1/1,AP-1,switch=asked;port=ifName\n", [3]int{0, 2, 0}},
		{"its id, and a port that is not there", "id,switch,port\nN2-1,s,9\n", []DraftPort{up("s", 1, "N2-1 x")},
			"id,switch,port,draft_differs\nN2-1,s,9,port: now 1/1 by ifName\n", [3]int{0, 0, 1}},
		{"nothing is filled into a row of another port", "id,switch,port,far_switch,far_port\nN2-1,s,9,,\n",
			[]DraftPort{up("s", 1, "N2-1", peer("t", 1)), up("t", 1, "")},
			"id,switch,port,far_switch,far_port,draft_differs\nN2-1,s,9,,,port: now 1/1 by ifName; far_switch: now t by neighbour\n", [3]int{0, 0, 1}},
		{"a new row keeps the file's columns", "port,id,switch\r\n101,A,s\r\n\r\n", []DraftPort{up("s", 1, ""), up("s", 2, "N2-2")},
			"port,id,switch,status,drafted_from\r\n101,A,s,,\r\n1/2,N2-2,s,live,id=description;switch=asked;port=ifName;status=seen\r\n\r\n", [3]int{1, 0, 0}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			if row.want == "" {
				row.want = row.file
			}
			d := draftOf(t, row.file, row.found, nil)
			require.Equal(t, row.want, string(d.CSV))
			require.Equal(t, row.counts, [3]int{d.Added, d.Filled, d.Differs})
		})
	}
}

func TestFilesThatAreNotDraftedOver(t *testing.T) {
	for file, want := range map[string]string{
		"switch,port\ns,1\n":             `line 1: no column "id": is the first line missing?`,
		"id;switch\nA;s\n":               "line 1: the columns are not separated by commas: save it as comma-separated CSV",
		"id,port,port\nA,1,1\n":          `line 1: column "port" is there 2 times: leave one`,
		"id,port\nA,1,2\n":               "line 2: has 3 cells where the header has 2: put that right first",
		"id,port\nA\n":                   "line 2: has 1 cells where the header has 2: put that right first",
		"id,notes\nA,3\" tray\n":         `line 2: cannot be read: bare " in non-quoted-field; a cell with a quote in it is written "like ""this"""`,
		"\xff\xfei\x00d\x00":             "line 1: is UTF-16: save it as CSV in UTF-8",
		"id,notes\nA,\"left open\nB,x\n": `line 2: cannot be read: extraneous or missing " in quoted-field; a cell with a quote in it is written "like ""this"""`,
	} {
		_, err := Draft([]byte(file), []DraftPort{up("s", 1, "")}, nil, nil)
		require.EqualError(t, err, want)
	}
}

// somePorts makes up switches with links, descriptions and devices that need
// not agree with each other.
func somePorts(r *rand.Rand) (found []DraftPort, seen []SeenPort, switches []string) {
	pick := func(texts ...string) string { return texts[r.IntN(len(texts))] }
	switches = []string{"a", "b", "c"}
	for _, sw := range switches {
		for n := range 1 + r.IntN(5) {
			p := up(sw, n, pick("", "", "N1-1", "N1-2 outlet 7", "N1-3", "N2-1 panel P/2", "spare", "a-1-1"))
			p.Up = r.IntN(3) > 0
			p.Name = pick(p.Name, p.Name, p.Name, "", "1/1", "x\x00", " 103 ")
			p.Description = pick("", "N1-2", fmt.Sprintf("slot %d", n), "1/1")
			p.Physical = r.IntN(8) > 0
			if r.IntN(3) == 0 {
				peerNamed(pick("a", "b", "c", "d"), fmt.Sprintf("1/%d", r.IntN(6)))(&p)
			} else {
				for range r.IntN(3) {
					neighbour(pick("ap", "cam", "tel", "-x", "\xff", "N1-1"), port.Role(r.IntN(8)))(&p)
				}
			}
			p.Offers, p.PHY = []standards.Speed{0, g1, g10, 7}[r.IntN(4)], pick("", "1000BASE-SX", "nonsense")
			p.Medium = []standards.Medium{"", standards.Fibre, standards.Copper}[r.IntN(3)]
			found = append(found, p)
		}
	}
	for i := range found {
		seen = append(seen, found[i].SeenPort)
	}
	return found, seen, switches
}

// A drafted file loads without a problem, joins every row to its port, and
// stays as it is when drafted again; so it does beside rows of a person.
func TestADraftJoins(t *testing.T) {
	persons := []string{
		"", "", "id,switch,port\nN1-1,a,1/1\n", "id,device,switch,port,far_switch,far_port\nX,ap,b,1/0,,\nY,cam,,,,\nN1-2,,,,,\nZ,,a,1/2,c,1/1\n",
		"id,far_switch,far_port\nN1-1,a,\nW,b,1/1\n",
	}
	drafted := 0
	for seed := range uint64(1500) {
		r := rand.New(rand.NewPCG(seed, 1))
		found, seen, switches := somePorts(r)
		file := persons[r.IntN(len(persons))]
		var rest *Plant
		if r.IntN(3) == 0 {
			rest = New(Plant{Runs: []*Run{{ID: "N1-3", Switch: "c", Port: "1/0"}, {ID: "R", Device: "tel", Switch: "a", Port: "1/3"}}})
		}
		d := draftOf(t, file, found, rest)
		if d.CSV == nil {
			continue
		}
		p, problems, err := parse("plant.yml", []byte("runs_files: [r.csv]"), func(string) ([]byte, error) { return d.CSV, nil })
		require.NoError(t, err)
		require.Empty(t, problems, "seed %d\n%s", seed, d.CSV)
		all := slices.Clone(p.Runs)
		if rest != nil {
			all = append(all, rest.Runs...)
		}
		j := New(Plant{Runs: all}).Join(seen, append(switches, "d"), draftLabels)
		for _, run := range p.Runs {
			if !slices.Contains(run.DraftedFrom, "status=seen") {
				continue
			}
			drafted++
			near, far := j.PortsOf(run.ID)
			context := func() string {
				return fmt.Sprintf("seed %d, run %s\n%s\n%+v\n%+v\n%+v", seed, run.ID, d.CSV, seen, j.Conflicts, j.UnjoinedRuns)
			}
			require.NotZero(t, near, context())
			if run.FarSwitch != "" && run.FarSwitch != "d" && slices.ContainsFunc(seen, func(s SeenPort) bool { return s.Physical && s.Ref() == run.Far() }) {
				require.NotZero(t, far, context())
			}
		}
	}
	require.Greater(t, drafted, 2000)
}

func FuzzDraft(f *testing.F) {
	f.Add([]byte("id,switch,port,device,drafted_from,draft_differs\nA,s,1/1,ap-1,device=neighbour,\n"))
	f.Add([]byte("id,switch,port,,drafte,\n???,s,101,,0,d_from,\n,s,101,,0,")) // two rows of one port, of which one has no id yet
	f.Add([]byte("\xef\xbb\xbfid , notes\r\n\r\n\"N2-1\",\"a\r\nb \"\" c\"\r\n,,\r\n"))
	found := []DraftPort{up("s", 1, "N2-1", peer("t", 1)), up("t", 1, ""), up("s", 2, "N2-2 outlet 7", neighbour("ap-1"))}
	f.Fuzz(func(t *testing.T, data []byte) {
		before, err := readSheet(data)
		if err != nil {
			_, err := Draft(data, found, draftLabels, nil)
			require.Error(t, err)
			return
		}
		d := draftOf(t, string(data), found, nil)
		after, err := readSheet(d.CSV)
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(after.rows), len(before.rows))
		for i, r := range before.rows {
			for n, text := range r.cells {
				if text != "" && n < len(before.columns) && !strings.HasPrefix(before.columns[n], "draft") {
					require.Equal(t, text, after.rows[i].cells[n])
				}
			}
		}
		_, _, err = parse("plant.yml", []byte("runs_files: a\n"), func(string) ([]byte, error) { return d.CSV, fs.ErrNotExist })
		require.NoError(t, err)
	})
}
