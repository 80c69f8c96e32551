package plant

import (
	"fmt"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestRecordAgainstDescription(t *testing.T) {
	x, y := Run{ID: "X", Switch: "s", Port: "5"}, Run{ID: "Y", Switch: "s", Port: "6"}
	five := func(alias string) SeenPort { return at("s", 105, "5", "", alias) }
	six := func(alias string) SeenPort { return at("s", 106, "6", "", alias) }
	seven := at("s", 107, "7", "", "Y")

	swapped := "s port 5 and s port 6: the records (runs.csv:2, runs.csv:3) say runs X and Y, the ports' descriptions say the opposite; not joined until one is put right"
	against := "s port 5: the record says run X (runs.csv:2), the port's description says run Y, whose record says s port 6; not joined until one is put right"
	strayed := "s port 7: the port's description says run Y, whose record says s port 6 (runs.csv:3); not joined there until one is put right"
	homeless := "s port 5: the record says run X (runs.csv:2), the port's description says run Y; not joined until one is put right"
	check(t, []joinRow{
		{name: "swapped", runs: []Run{x, y}, seen: []SeenPort{five("Y"), six("X")},
			conflicts: []string{"[s port 5 s port 6] [X Y]: " + swapped},
			ports:     []string{"s port 5: " + swapped, "s port 6: " + swapped},
			unjoined:  []string{"X near: " + swapped, "Y near: " + swapped}},
		{name: "both records are in doubt", runs: []Run{x, y}, seen: []SeenPort{five("Y"), six("")},
			conflicts: []string{"[s port 5] [X Y]: " + against},
			ports:     []string{"s port 5: " + against, "s port 6: " + against},
			unjoined:  []string{"X near: " + against, "Y near: " + against}},
		{name: "a later port puts an earlier one in doubt", runs: []Run{x, y}, seen: []SeenPort{six(""), five("Y")},
			conflicts: []string{"[s port 5] [X Y]: " + against},
			ports:     []string{"s port 6: " + against, "s port 5: " + against},
			unjoined:  []string{"X near: " + against, "Y near: " + against}},
		{name: "its own port's description confirms Y", runs: []Run{x, y}, seen: []SeenPort{five("Y"), six("Y")},
			joins:     []string{"s port 6 = Y near by ifName"},
			conflicts: []string{"[s port 5] [X Y]: " + against}, ports: []string{"s port 5: " + against},
			unjoined: []string{"X near: " + against}},
		{name: "Y has no port", runs: []Run{x, {ID: "Y"}}, seen: []SeenPort{five("Y")},
			conflicts: []string{"[s port 5] [X Y]: " + homeless}, ports: []string{"s port 5: " + homeless},
			unjoined: []string{"X near: " + homeless, "Y near: " + homeless}},
		{name: "Y has no port and is named elsewhere too", runs: []Run{x, {ID: "Y"}}, seen: []SeenPort{five("Y"), six("Y")},
			conflicts: []string{"[s port 5] [X Y]: " + homeless}, ports: []string{"s port 5: " + homeless, "s port 6: " + homeless},
			unjoined: []string{"X near: " + homeless, "Y near: " + homeless}},
		{name: "named at a port of nobody", runs: []Run{x, y}, seen: []SeenPort{five(""), six(""), seven},
			joins:     []string{"s port 5 = X near by ifName"},
			conflicts: []string{"[s port 7] [Y]: " + strayed},
			ports:     []string{"s port 6: " + strayed, "s port 7: " + strayed}, unjoined: []string{"Y near: " + strayed}},
		{name: "named at a port of nobody, and confirmed", runs: []Run{x, y}, seen: []SeenPort{five("X"), six("Y"), seven},
			joins:     []string{"s port 5 = X near by ifName", "s port 6 = Y near by ifName"},
			conflicts: []string{"[s port 7] [Y]: " + strayed}, ports: []string{"s port 7: " + strayed}},
	})
}

func TestOnlyTheEndOnThatSwitchIsInDoubt(t *testing.T) {
	stray := "s port 3: the port's description says run A, whose record says s port 1 and t port 2 (runs.csv:2); not joined there until one is put right"
	elsewhere := "u port 3: the port's description says run A, whose record says s port 1 and t port 2 (runs.csv:2); not joined there until one is put right"
	a := Run{ID: "A", Switch: "s", Port: "1", FarSwitch: "t", FarPort: "2"}
	near, far := at("s", 1, "1", "", ""), at("t", 2, "2", "", "")
	check(t, []joinRow{
		{name: "near", runs: []Run{a}, seen: []SeenPort{near, far, at("s", 3, "3", "", "A")},
			joins:     []string{"t port 2 = A far by ifName"},
			conflicts: []string{"[s port 3] [A]: " + stray},
			ports:     []string{"s port 1: " + stray, "s port 3: " + stray}, unjoined: []string{"A near: " + stray}},
		{name: "on neither switch, both", runs: []Run{a}, switches: []string{"u"}, seen: []SeenPort{near, far, at("u", 3, "3", "", "A")},
			conflicts: []string{"[u port 3] [A]: " + elsewhere},
			ports:     []string{"s port 1: " + elsewhere, "t port 2: " + elsewhere, "u port 3: " + elsewhere},
			unjoined:  []string{"A near: " + elsewhere, "A far: " + elsewhere}},
	})
}

func TestTwoRunsClaimOnePort(t *testing.T) {
	a, b := Run{ID: "A", Switch: "s", Port: "1"}, Run{ID: "B", Switch: "s", Port: "101"}
	who := "s port 1: claimed by runs A (runs.csv:2, near end) and B (runs.csv:3, near end); "
	none := who + "none is joined until one is put right"
	picked := who + "the port's description names B, which is joined"
	third := who + "the port's description says run C; none is joined until one is put right"
	twice := "s port 1: claimed by runs A (runs.csv:2, near end) and A (runs.csv:2, far end); none is joined until one is put right"
	check(t, []joinRow{
		{name: "by two of its names", runs: []Run{a, b}, seen: []SeenPort{at("s", 101, "1", "", "")},
			conflicts: []string{"[s port 1] [A B]: " + none}, ports: []string{"s port 1: " + none},
			unjoined: []string{"A near: " + none, "B near: " + none}},
		{name: "the description names one", runs: []Run{a, b}, seen: []SeenPort{at("s", 101, "1", "", "B")},
			joins:     []string{"s port 1 = B near by ifIndex"},
			conflicts: []string{"[s port 1] [A B]: " + picked}, unjoined: []string{"A near: " + picked}},
		{name: "the description names a third", runs: []Run{a, b, {ID: "C", Switch: "s", Port: "2"}},
			seen:      []SeenPort{at("s", 101, "1", "", "C"), at("s", 102, "2", "", "")},
			conflicts: []string{"[s port 1] [A B C]: " + third}, ports: []string{"s port 1: " + third, "s port 2: " + third},
			unjoined: []string{"A near: " + third, "B near: " + third, "C near: " + third}},
		{name: "both ends of one run", runs: []Run{{ID: "A", Switch: "s", Port: "1", FarSwitch: "s", FarPort: "101"}},
			seen: []SeenPort{at("s", 101, "1", "", "A")},
			conflicts: []string{"[s port 1] [A]: s port 1: claimed by runs A (runs.csv:2, near end) and A (runs.csv:2, far end); " +
				"the port's description says run A; none is joined until one is put right"},
			ports: []string{"s port 1: s port 1: claimed by runs A (runs.csv:2, near end) and A (runs.csv:2, far end); " +
				"the port's description says run A; none is joined until one is put right"},
			unjoined: []string{
				"A near: s port 1: claimed by runs A (runs.csv:2, near end) and A (runs.csv:2, far end); the port's description says run A; none is joined until one is put right",
				"A far: s port 1: claimed by runs A (runs.csv:2, near end) and A (runs.csv:2, far end); the port's description says run A; none is joined until one is put right"}},
		{name: "both ends of one run, no description", runs: []Run{{ID: "A", Switch: "s", Port: "1", FarSwitch: "s", FarPort: "101"}},
			seen:      []SeenPort{at("s", 101, "1", "", "")},
			conflicts: []string{"[s port 1] [A]: " + twice}, ports: []string{"s port 1: " + twice},
			unjoined: []string{"A near: " + twice, "A far: " + twice}},
	})
}

func TestPortLabelsWithoutTheGroupJoinNothing(t *testing.T) {
	p := plantOf(Run{ID: "A"})
	seen := []SeenPort{at("s", 1, "1", "", "A")}
	require.Empty(t, p.Join(seen, []string{"s"}, nil).Joins)
	require.Empty(t, p.Join(seen, []string{"s"}, regexpWithout).Joins)
}

// Every port is joined or listed, and so is every end that expects a port,
// however records and descriptions are mixed.
func TestNothingIsLost(t *testing.T) {
	const ports = 3
	for mix := range 4 * 4 * 4 * 4 * 4 * 4 { // record and label of three ports: A, B, C or none
		ids := []string{"A", "B", "C", ""}
		runs := []Run{{ID: "A"}, {ID: "B"}, {ID: "C"}}
		var seen []SeenPort
		for i, n := 0, mix; i < ports; i, n = i+1, n/16 {
			name := fmt.Sprint(i)
			seen = append(seen, at("s", 100+i, name, "", ids[n/4%4]))
			if r := n % 4; r < 3 {
				runs[r].Switch, runs[r].Port = "s", name
			}
		}
		p := plantOf(runs...)
		j := p.Join(seen, []string{"s"}, labels)
		require.Len(t, seen, len(j.Joins)+len(j.UnjoinedPorts))
		require.Len(t, runs, len(j.Joins)+len(j.UnjoinedRuns))
		for _, join := range j.Joins {
			port := seen[join.Port.Port[0]-'0']
			require.True(t, port.Alias == "" || port.Alias == join.Run.ID, "mix %d: %v joined against its description", mix, join)
			require.True(t, join.Run.Port == "" || join.Run.Port == join.Port.Port, "mix %d: %v joined against its record", mix, join)
		}
		for _, u := range append(j.UnjoinedPorts, UnjoinedPort{Why: "x"}) {
			require.NotEmpty(t, u.Why)
		}
	}
}

// A description that gives an id of the form of the run's, of which there is no row, is
// told; whatever else stands there is only text. A port's conflict is found by it, and by
// the run that it names.
func TestADescriptionThatNamesNoRow(t *testing.T) {
	p := New(Plant{Runs: []*Run{{ID: "N2-17", Switch: "sw-1", Port: "1/17"}, {ID: "N2-18", Switch: "sw-1", Port: "1/17"}, {ID: "N2-19", Switch: "sw-1", Port: "1/19"}}})
	labels := regexp.MustCompile(`^(?P<run>[A-Z0-9-]+)`)
	for alias, want := range map[string]string{"N2-04 room 208": "N2-04", "A1-4": "A1-4", "PRINTER": "", "N2-19": "", "": "", "2-N4": ""} {
		j := p.Join([]SeenPort{{Switch: "sw-1", Name: "1/19", Alias: alias, Physical: true}, {Switch: "sw-1", Name: "1/17", Physical: true}}, []string{"sw-1"}, labels)
		join, is := j.At(PortRef{"sw-1", "1/19"})
		require.True(t, is, alias)
		require.Equal(t, want, join.Named, alias)
		_, disputed := j.Disputed(&join, join.Port)
		require.False(t, disputed)
		c, disputed := j.Disputed(&Join{}, PortRef{"sw-1", "1/17"})
		require.True(t, disputed)
		require.Contains(t, c.Text, "claimed by runs N2-17")
		_, disputed = j.Disputed(&Join{Run: p.Run("N2-18")}, PortRef{"sw-1", "1/1"})
		require.True(t, disputed)
	}
}
