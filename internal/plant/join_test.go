package plant

import (
	"fmt"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
)

var labels = regexp.MustCompile(`^(?P<run>[A-Z0-9-]+)`)

// at is a physical port as a switch shows it: ifIndex, ifName, ifDescr, ifAlias.
func at(sw string, index int, name, descr, alias string) SeenPort {
	return SeenPort{Switch: sw, Index: index, Name: name, Description: descr, Alias: alias, Physical: true}
}

// plantOf makes a plant of runs, giving each the line of its place.
func plantOf(runs ...Run) *Plant {
	p := Plant{}
	for i := range runs {
		r := runs[i]
		r.File, r.Line = "runs.csv", i+2
		if r.Status == "" {
			r.Status = Live
		}
		p.Runs = append(p.Runs, &r)
	}
	return New(p)
}

// lines writes what was joined and what was not as text, for comparison.
func lines(j *Joined) (joins, conflicts, ports, runs []string) {
	for _, join := range j.Joins {
		joins = append(joins, fmt.Sprintf("%s = %s %s by %s", join.Port, join.Run.ID, join.End, join.How))
	}
	for _, c := range j.Conflicts {
		conflicts = append(conflicts, fmt.Sprintf("%v %v: %s", c.Ports, c.Runs, c.Text))
	}
	for _, p := range j.UnjoinedPorts {
		ports = append(ports, fmt.Sprintf("%s: %s", p.Port, p.Why))
	}
	for _, r := range j.UnjoinedRuns {
		runs = append(runs, fmt.Sprintf("%s %s: %s", r.Run.ID, r.End, r.Why))
	}
	return joins, conflicts, ports, runs
}

func heardAndLinks(j *Joined) (heard, links []string) {
	for _, join := range j.Joins {
		if join.Heard {
			heard = append(heard, fmt.Sprintf("%s = %s %s by %s", join.Port, join.Run.ID, join.End, join.How))
		}
	}
	for _, l := range j.Links {
		links = append(links, fmt.Sprintf("%s - %s", l[0], l[1]))
	}
	return heard, links
}

const (
	noRun    = "no run of the inventory names it"
	noRecord = "the record names no switch port, and no port's description names the run"
)

type joinRow struct {
	name      string
	runs      []Run
	seen      []SeenPort
	switches  []string // besides s and t
	joins     []string
	conflicts []string
	ports     []string // unjoined
	unjoined  []string // runs
	heard     []string // of joins
	links     []string
}

func check(t *testing.T, rows []joinRow) {
	t.Helper()
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			j := plantOf(row.runs...).Join(row.seen, append(row.switches, "s", "t"), labels)
			joins, conflicts, ports, runs := lines(j)
			require.Equal(t, row.joins, joins)
			require.Equal(t, row.conflicts, conflicts)
			require.Equal(t, row.ports, ports)
			require.Equal(t, row.unjoined, runs)
			heard, links := heardAndLinks(j)
			require.Equal(t, row.heard, heard)
			require.Equal(t, row.links, links)
			for _, join := range j.Joins {
				got, ok := j.At(join.Port)
				require.True(t, ok)
				require.Equal(t, join, got)
				near, far := j.PortsOf(join.Run.ID)
				require.Equal(t, join.Port, map[End]PortRef{NearEnd: near, FarEnd: far}[join.End])
			}
			for _, p := range j.UnjoinedPorts {
				_, ok := j.At(p.Port)
				require.False(t, ok)
			}
		})
	}
}

func TestJoinByTheRecord(t *testing.T) {
	named := []SeenPort{at("s", 101, "1/17", "slot 1 port 17", ""), at("s", 17, "1/1", "slot 1 port 1", "")}
	other := "s port 1/1: " + noRun
	check(t, []joinRow{
		{name: "by ifName", runs: []Run{{ID: "A", Switch: "s", Port: "1/17"}}, seen: named,
			joins: []string{"s port 1/17 = A near by ifName"}, ports: []string{other}},
		{name: "by ifDescr", runs: []Run{{ID: "A", Switch: "s", Port: "slot 1 port 17"}}, seen: named,
			joins: []string{"s port 1/17 = A near by ifDescr"}, ports: []string{other}},
		{name: "by ifIndex", runs: []Run{{ID: "A", Switch: "s", Port: "101"}}, seen: named,
			joins: []string{"s port 1/17 = A near by ifIndex"}, ports: []string{other}},
		{name: "spaces and case", runs: []Run{{ID: "A", Switch: "s", Port: " SLOT 1 Port 17 "}}, seen: named,
			joins: []string{"s port 1/17 = A near by ifDescr"}, ports: []string{other}},
		{name: "ifName before ifIndex", runs: []Run{{ID: "A", Switch: "s", Port: "2"}},
			seen:  []SeenPort{at("s", 2, "1", "", ""), at("s", 1, "2", "", "")},
			joins: []string{"s port 2 = A near by ifName"}, ports: []string{"s port 1: " + noRun}},
		{name: "exact before another's case", runs: []Run{{ID: "A", Switch: "s", Port: "ge1"}},
			seen:  []SeenPort{at("s", 1, "Ge1", "x", ""), at("s", 2, "ge1", "y", "")},
			joins: []string{"s port ge1 = A near by ifName"}, ports: []string{"s port Ge1: " + noRun}},
		{name: "case only where unique", runs: []Run{{ID: "A", Switch: "s", Port: "GE1"}},
			seen:     []SeenPort{at("s", 1, "Ge1", "x", ""), at("s", 2, "ge1", "y", "")},
			ports:    []string{"s port Ge1: " + noRun, "s port ge1: " + noRun},
			unjoined: []string{`A near: switch "s" shows several ports named "GE1"`}},
		{name: "two ports of one name", runs: []Run{{ID: "A", Switch: "s", Port: "1"}, {ID: "B", Switch: "s", Port: "7"}},
			seen:     []SeenPort{at("s", 7, "1", "x", "A"), at("s", 8, "1", "y", "")},
			ports:    []string{`s port 1: switch "s" shows several ports of this name`, `s port 1: switch "s" shows several ports of this name`},
			unjoined: []string{`A near: switch "s" shows several ports named "1"`, `B near: switch "s" shows several ports named "7"`}},
		{name: "not physical", runs: []Run{{ID: "A", Switch: "s", Port: "vlan7"}, {ID: "B", Switch: "s", Port: "1"}},
			seen:  []SeenPort{{Switch: "s", Index: 7, Name: "Vlan7", Alias: "A"}, {Switch: "s", Index: 1, Name: "lo"}, at("s", 9, "1", "", "")},
			joins: []string{"s port 1 = B near by ifName"}, unjoined: []string{"A near: s port vlan7 is not a physical port"}},
		{name: "both ends", runs: []Run{{ID: "A", Switch: "s", Port: "1", FarSwitch: "t", FarPort: "2"}},
			seen:  []SeenPort{at("s", 1, "1", "", ""), at("t", 2, "2", "", "")},
			joins: []string{"s port 1 = A near by ifName", "t port 2 = A far by ifName"}},
		{name: "no ifName", runs: []Run{{ID: "A", Switch: "s", Port: "5"}},
			seen:  []SeenPort{at("s", 5, "", "", "")},
			joins: []string{"s port 5 = A near by ifIndex"}},
		{name: "what is not there", switches: []string{"acc-n2-1"},
			runs: []Run{{ID: "A", Switch: "acc-n21", Port: "1"}, {ID: "B", Switch: "t", Port: "1"}, {ID: "C", Switch: "s", Port: "9"},
				{ID: "D", Switch: "s"}, {ID: "E"}, {ID: "F", Switch: "s", Port: "1", FarSwitch: "t", FarPort: "1"}},
			seen: []SeenPort{at("s", 1, "1", "", "")}, joins: []string{"s port 1 = F near by ifName"},
			unjoined: []string{`A near: switch "acc-n21" is not in the configuration; did you mean "acc-n2-1"?`,
				`B near: switch "t" has not answered yet`, `C near: switch "s" shows no port "9"`,
				`D near: the record names no port of switch "s", and no port's description there names the run`,
				"E near: " + noRecord, `F far: switch "t" has not answered yet`}},
		{name: "nothing is expected of a run out of use",
			runs: []Run{{ID: "A", Status: Spare}, {ID: "B", Status: Abandoned}, {ID: "C", Switch: "s", Status: Spare}, {ID: "D", Switch: "s", Port: "9", Status: Spare}},
			seen: []SeenPort{at("s", 1, "1", "", "")}, ports: []string{"s port 1: " + noRun},
			unjoined: []string{`D near: switch "s" shows no port "9"`}},
	})
}

func TestJoinByDescription(t *testing.T) {
	check(t, []joinRow{
		{name: "no port in the record", runs: []Run{{ID: "N2-P1-17"}, {ID: "N2-P1-18", Switch: "s"}},
			seen:  []SeenPort{at("s", 1, "1", "x", "N2-P1-17 room 214"), at("s", 2, "2", "N2-P1-18", "")},
			joins: []string{"s port 1 = N2-P1-17 near by description", "s port 2 = N2-P1-18 near by description"}},
		{name: "the record's port is not there", runs: []Run{{ID: "A", Switch: "s", Port: "9"}},
			seen: []SeenPort{at("s", 1, "1", "x", "A")}, joins: []string{"s port 1 = A near by description"}},
		{name: "case, where unique", runs: []Run{{ID: "n2-a"}, {ID: "N3-b"}, {ID: "n3-B"}},
			seen:  []SeenPort{at("s", 1, "1", "", "N2-A"), at("s", 2, "2", "", "N3-B")},
			joins: []string{"s port 1 = n2-a near by description"}, ports: []string{"s port 2: " + noRun},
			unjoined: []string{"N3-b near: " + noRecord, "n3-B near: " + noRecord}},
		{name: "an id in no inventory is only text", runs: []Run{{ID: "A", Switch: "s", Port: "1"}},
			seen: []SeenPort{at("s", 1, "1", "", "B")}, joins: []string{"s port 1 = A near by ifName"}},
		{name: "ifAlias not a run's, ifDescr is", runs: []Run{{ID: "A"}},
			seen: []SeenPort{at("s", 1, "1", "A", "PRINTER")}, joins: []string{"s port 1 = A near by description"}},
		{name: "on another switch than the record's",
			runs: []Run{{ID: "A", Switch: "t", Port: "1"}, {ID: "B", Switch: "gone", Port: "1"}},
			seen: []SeenPort{at("s", 1, "1", "", "A"), at("s", 2, "2", "", "B")},
			conflicts: []string{
				"[s port 1] [A]: s port 1: the port's description says run A, whose record says t port 1 (runs.csv:2); not joined there until one is put right, or the record names it as the far end",
				"[s port 2] [B]: s port 2: the port's description says run B, whose record says gone port 1 (runs.csv:3); not joined there until one is put right, or the record names it as the far end"},
			ports: []string{
				"s port 1: s port 1: the port's description says run A, whose record says t port 1 (runs.csv:2); not joined there until one is put right, or the record names it as the far end",
				"s port 2: s port 2: the port's description says run B, whose record says gone port 1 (runs.csv:3); not joined there until one is put right, or the record names it as the far end"},
			unjoined: []string{
				"A near: s port 1: the port's description says run A, whose record says t port 1 (runs.csv:2); not joined there until one is put right, or the record names it as the far end",
				"B near: s port 2: the port's description says run B, whose record says gone port 1 (runs.csv:3); not joined there until one is put right, or the record names it as the far end"}},
		{name: "two ends, the far switch known", runs: []Run{{ID: "A", FarSwitch: "t"}},
			seen:  []SeenPort{at("s", 1, "1", "", "A"), at("t", 1, "1", "", "A")},
			joins: []string{"s port 1 = A near by description", "t port 1 = A far by description"}},
		{name: "near by record, far by description", runs: []Run{{ID: "A", Switch: "s", Port: "1", FarSwitch: "t"}},
			seen:  []SeenPort{at("s", 1, "1", "", "A"), at("t", 1, "1", "", "A")},
			joins: []string{"s port 1 = A near by ifName", "t port 1 = A far by description"}},
	})
}

func TestADescriptionThatIsUnclearJoinsNothing(t *testing.T) {
	twice := "the descriptions of s port 1 and t port 1 name run A (runs.csv:2), and the record does not tell which end that is; not joined"
	same := "the descriptions of s port 1 and s port 2 name run A (runs.csv:2), and the record does not tell which end that is; not joined"
	one := "the description of s port 1 names run A (runs.csv:2), and the record does not tell which end that is; not joined"
	stray := "t port 1: the port's description says run A, whose record says s (runs.csv:2); not joined there until one is put right, or the record names it as the far end"
	check(t, []joinRow{
		{name: "two switches, none in the record", runs: []Run{{ID: "A"}},
			seen:      []SeenPort{at("s", 1, "1", "", "A"), at("t", 1, "1", "", "A")},
			conflicts: []string{"[s port 1 t port 1] [A]: " + twice},
			ports:     []string{"s port 1: " + twice, "t port 1: " + twice}, unjoined: []string{"A near: " + twice}},
		{name: "two ports of one switch", runs: []Run{{ID: "A", Switch: "s"}},
			seen:      []SeenPort{at("s", 1, "1", "", "A"), at("s", 2, "2", "", "A")},
			conflicts: []string{"[s port 1 s port 2] [A]: " + same},
			ports:     []string{"s port 1: " + same, "s port 2: " + same}, unjoined: []string{"A near: " + same}},
		{name: "both ends on the switch", runs: []Run{{ID: "A", Switch: "s", FarSwitch: "s"}},
			seen:      []SeenPort{at("s", 1, "1", "", "A")},
			conflicts: []string{"[s port 1] [A]: " + one},
			ports:     []string{"s port 1: " + one}, unjoined: []string{"A near: " + one, "A far: " + one}},
		{name: "record's switch and description agree, another's does not", runs: []Run{{ID: "A", Switch: "s"}},
			seen:      []SeenPort{at("t", 1, "1", "", "A"), at("s", 1, "1", "", "A")},
			joins:     []string{"s port 1 = A near by description"},
			conflicts: []string{"[t port 1] [A]: " + stray}, ports: []string{"t port 1: " + stray}},
	})
}

// A record's bare number may be the number on the port or its ifIndex, and a
// port for management often takes the first ifIndex (common practice, no
// source).
func TestANumberThatMayMeanTwoPorts(t *testing.T) {
	shifted := []SeenPort{at("s", 1, "mgmt0", "", ""), at("s", 2, "1/1", "", ""), at("s", 3, "1/2", "", ""), at("s", 4, "1/3", "", "")}
	even := []SeenPort{at("s", 1, "1/1", "", ""), at("s", 2, "1/2", "", ""), at("s", 10102, "2/2", "", "")}
	rows := []struct {
		name   string
		seen   []SeenPort
		port   string
		joined string
	}{
		{"ifIndex 2 is port 1/1, and 1/2 is there", shifted, "2", ""},
		{"no port is numbered 4", shifted, "4", "1/3"},
		{"no port is numbered 10102", even, "10102", "2/2"},
		{"both mean the same", even, "2", "1/2"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			p := New(Plant{Runs: []*Run{{ID: "A", Switch: "s", Port: row.port}}})
			j := p.Join(row.seen, []string{"s"}, nil)
			near, _ := j.PortsOf("A")
			require.Equal(t, row.joined, near.Port)
			if row.joined == "" {
				require.Equal(t, `port "2" of switch "s" may be 1/1 by its ifIndex or 1/2 by its number: write its name`, j.UnjoinedRuns[0].Why)
			}
		})
	}
}
