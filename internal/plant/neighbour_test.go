package plant

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// hears is a port that hears a watched switch's port.
func hears(p SeenPort, sw, port string) SeenPort {
	p.Peer = PortRef{sw, port}
	return p
}

// hearsDevice is a port that hears one other device.
func hearsDevice(p SeenPort, name string) SeenPort {
	p.Device = name
	return p
}

func doubted(p SeenPort) SeenPort {
	p.Doubt = "the switch was replaced"
	return p
}

// bare is a port without a description.
func bare(sw string, n int) SeenPort { return at(sw, 100+n, fmt.Sprint(n), "", "") }

func TestNeighboursContradictTheRecord(t *testing.T) {
	a := Run{ID: "A", Switch: "s", Port: "1", FarSwitch: "t", FarPort: "1"}
	b := Run{ID: "B", Switch: "s", Port: "2", FarSwitch: "t", FarPort: "2"}
	printer := Run{ID: "P", Switch: "s", Port: "1", Device: "printer"}
	outlet := Run{ID: "O", Switch: "s", Port: "1", Outlet: "214-A"}
	s1, s2, s3, t1, t2 := bare("s", 1), bare("s", 2), bare("s", 3), bare("t", 1), bare("t", 2)

	swapped := "s port 1 hears t port 2 and s port 2 hears t port 1, but run A (runs.csv:2) goes from s port 1 to t port 1 and run B (runs.csv:3) goes from s port 2 to t port 2; not joined until one is put right"
	elsewhere := "s port 1 hears t port 2, but run A (runs.csv:2) goes from s port 1 to t port 1; not joined until one is put right"
	moved := "t port 1 hears s port 3, but run A (runs.csv:2) goes from s port 1 to t port 1; not joined until one is put right"
	claimed := "s port 1 hears t port 2, but run O (runs.csv:2) is at s port 1 and run B (runs.csv:3) is at t port 2; not joined until one is put right"
	device := `s port 1 hears t port 2, but run P (runs.csv:2) goes from s port 1 to "printer"; not joined until one is put right`
	gone := "s port 1 hears t port 9, but run A (runs.csv:2) goes from s port 1 to t port 1; not joined until one is put right"
	away := "s port 1 hears t port 2, but run A (runs.csv:2) goes from s port 1 to u port 7; not joined until one is put right"
	described := "t port 2 hears t port 1, but run D (runs.csv:2) goes from s port 1 to t port 2; not joined until one is put right"
	threeWay := "s port 1 hears t port 2, but run A (runs.csv:2) goes from s port 1 to t port 1 and at s port 1 the port's description says run B; not joined until one is put right"
	labelled := "s port 1 hears t port 2, but run A (runs.csv:2) goes from s port 1 to t port 1 and run C (runs.csv:3) is at t port 2; not joined until one is put right"
	check(t, []joinRow{
		{name: "far ports swapped in the record", runs: []Run{a, b},
			seen:      []SeenPort{hears(s1, "t", "2"), hears(s2, "t", "1"), t1, t2},
			conflicts: []string{"[s port 1 t port 2 s port 2 t port 1] [A B]: " + swapped},
			ports:     []string{"s port 1: " + swapped, "s port 2: " + swapped, "t port 1: " + swapped, "t port 2: " + swapped},
			unjoined:  []string{"A near: " + swapped, "A far: " + swapped, "B near: " + swapped, "B far: " + swapped},
			links:     []string{"s port 1 - t port 2", "s port 2 - t port 1"}},
		{name: "another port", runs: []Run{a}, seen: []SeenPort{hears(s1, "t", "2"), t1, t2},
			conflicts: []string{"[s port 1 t port 2 t port 1] [A]: " + elsewhere},
			ports:     []string{"s port 1: " + elsewhere, "t port 1: " + elsewhere, "t port 2: " + elsewhere},
			unjoined:  []string{"A near: " + elsewhere, "A far: " + elsewhere},
			links:     []string{"s port 1 - t port 2"}},
		{name: "a description does not outvote what is heard", runs: []Run{a},
			seen:      []SeenPort{hears(at("s", 101, "1", "", "A"), "t", "2"), t1, t2},
			conflicts: []string{"[s port 1 t port 2 t port 1] [A]: " + elsewhere},
			ports:     []string{"s port 1: " + elsewhere, "t port 1: " + elsewhere, "t port 2: " + elsewhere},
			unjoined:  []string{"A near: " + elsewhere, "A far: " + elsewhere},
			links:     []string{"s port 1 - t port 2"}},
		{name: "the far end hears another", runs: []Run{a}, seen: []SeenPort{s1, s3, hears(t1, "s", "3")},
			conflicts: []string{"[s port 3 t port 1 s port 1] [A]: " + moved},
			ports:     []string{"s port 1: " + moved, "s port 3: " + moved, "t port 1: " + moved},
			unjoined:  []string{"A near: " + moved, "A far: " + moved},
			links:     []string{"s port 3 - t port 1"}},
		{name: "the port heard is another run's", runs: []Run{outlet, {ID: "B", Switch: "t", Port: "2"}},
			seen:      []SeenPort{hears(s1, "t", "2"), t2},
			conflicts: []string{"[s port 1 t port 2] [O B]: " + claimed},
			ports:     []string{"s port 1: " + claimed, "t port 2: " + claimed},
			unjoined:  []string{"O near: " + claimed, "B near: " + claimed},
			links:     []string{"s port 1 - t port 2"}},
		{name: "the port heard is another run's by its description", runs: []Run{a, {ID: "C"}},
			seen:      []SeenPort{hears(s1, "t", "2"), t1, at("t", 102, "2", "", "C")},
			conflicts: []string{"[s port 1 t port 2 t port 1] [A C]: " + labelled},
			ports:     []string{"s port 1: " + labelled, "t port 1: " + labelled, "t port 2: " + labelled},
			unjoined:  []string{"A near: " + labelled, "A far: " + labelled, "C near: " + labelled},
			links:     []string{"s port 1 - t port 2"}},
		{name: "the record has a device at the far end", runs: []Run{printer}, seen: []SeenPort{hears(s1, "t", "2"), t2},
			conflicts: []string{"[s port 1 t port 2] [P]: " + device},
			ports:     []string{"s port 1: " + device, "t port 2: " + device}, unjoined: []string{"P near: " + device},
			links: []string{"s port 1 - t port 2"}},
		{name: "the other end is by its description", runs: []Run{{ID: "D", FarSwitch: "t", FarPort: "2"}},
			seen:      []SeenPort{at("s", 101, "1", "", "D"), t1, hears(t2, "t", "1")},
			conflicts: []string{"[t port 1 t port 2 s port 1] [D]: " + described},
			ports:     []string{"s port 1: " + described, "t port 1: " + described, "t port 2: " + described},
			unjoined:  []string{"D near: " + described, "D far: " + described}, links: []string{"t port 1 - t port 2"}},
		{name: "a port that is not seen", runs: []Run{a}, seen: []SeenPort{hears(s1, "t", "9"), t1},
			conflicts: []string{"[s port 1 t port 1] [A]: " + gone},
			ports:     []string{"s port 1: " + gone, "t port 1: " + gone}, unjoined: []string{"A near: " + gone, "A far: " + gone}},
		{name: "the far switch is another", runs: []Run{{ID: "A", Switch: "s", Port: "1", FarSwitch: "u", FarPort: "7"}},
			seen:      []SeenPort{hears(s1, "t", "2"), t2},
			conflicts: []string{"[s port 1 t port 2] [A]: " + away},
			ports:     []string{"s port 1: " + away, "t port 2: " + away}, unjoined: []string{"A near: " + away, "A far: " + away},
			links: []string{"s port 1 - t port 2"}},
		{name: "record, description and neighbour say three things", runs: []Run{a, {ID: "B"}},
			seen:      []SeenPort{hears(at("s", 101, "1", "", "B"), "t", "2"), t1, t2},
			conflicts: []string{"[s port 1 t port 2 t port 1] [A]: " + threeWay},
			ports:     []string{"s port 1: " + threeWay, "t port 1: " + threeWay, "t port 2: " + threeWay},
			unjoined:  []string{"A near: " + threeWay, "A far: " + threeWay, "B near: " + threeWay},
			links:     []string{"s port 1 - t port 2"}},
	})
}

func TestNeighboursConfirmTheRecord(t *testing.T) {
	a := Run{ID: "A", Switch: "s", Port: "1", FarSwitch: "t", FarPort: "1"}
	also := Run{ID: "B", Switch: "s", Port: "101", FarSwitch: "t", FarPort: "2"}
	picked := "s port 1: claimed by runs A (runs.csv:2, near end) and B (runs.csv:3, near end); the ports of both ends of A hear each other, which is joined"
	against := "s port 1: the record says run A (runs.csv:2), the port's description says run B; not joined until one is put right"
	s1, t1, t2 := bare("s", 1), bare("t", 1), bare("t", 2)
	both := []string{"s port 1 = A near by ifName", "t port 1 = A far by ifName"}
	check(t, []joinRow{
		{name: "one side speaks", runs: []Run{a}, seen: []SeenPort{hears(s1, "t", "1"), t1}, joins: both, heard: both},
		{name: "the other side speaks", runs: []Run{a}, seen: []SeenPort{s1, hears(t1, "s", "1")}, joins: both, heard: both},
		{name: "by another of its names", runs: []Run{a}, seen: []SeenPort{hears(s1, "t", "101"), t1}, joins: both, heard: both},
		{name: "both sides", runs: []Run{a}, seen: []SeenPort{hears(s1, "t", "1"), hears(t1, "s", "1")}, joins: both, heard: both},
		{name: "nobody speaks", runs: []Run{a}, seen: []SeenPort{s1, t1}, joins: both},
		{name: "among two claims, and the loser's other end is not its", runs: []Run{a, also},
			seen: []SeenPort{hears(s1, "t", "1"), t1, t2}, joins: both, heard: both,
			conflicts: []string{"[s port 1] [A B]: " + picked}, ports: []string{"t port 2: " + picked},
			unjoined: []string{"B near: " + picked, "B far: " + picked}},
		{name: "not against the description", runs: []Run{a, {ID: "B"}},
			seen:  []SeenPort{hears(at("s", 101, "1", "", "B"), "t", "1"), t1},
			joins: []string{"t port 1 = A far by ifName"}, conflicts: []string{"[s port 1] [A B]: " + against},
			ports: []string{"s port 1: " + against}, unjoined: []string{"A near: " + against, "B near: " + against},
			links: []string{"s port 1 - t port 1"}},
	})
}

func TestNeighboursCompleteTheRecord(t *testing.T) {
	s1, t2 := bare("s", 1), bare("t", 2)
	joined := []string{"s port 1 = A near by ifName", "t port 2 = A far by neighbour"}
	near := []string{"s port 1 = A near by neighbour", "t port 2 = A far by ifName"}
	check(t, []joinRow{
		{name: "far port missing", runs: []Run{{ID: "A", Switch: "s", Port: "1", FarSwitch: "t"}},
			seen: []SeenPort{hears(s1, "t", "2"), t2}, joins: joined, heard: joined},
		{name: "far end missing", runs: []Run{{ID: "A", Switch: "s", Port: "1", Outlet: "214-A"}},
			seen: []SeenPort{s1, hears(t2, "s", "1")}, joins: joined, heard: joined},
		{name: "far port not there", runs: []Run{{ID: "A", Switch: "s", Port: "1", FarSwitch: "t", FarPort: "9"}},
			seen: []SeenPort{hears(s1, "t", "2"), t2}, joins: joined, heard: joined},
		{name: "the device is that switch", runs: []Run{{ID: "A", Switch: "s", Port: "1", Device: "T"}},
			seen: []SeenPort{hears(s1, "t", "2"), t2}, joins: joined, heard: joined},
		{name: "near port missing", runs: []Run{{ID: "A", Switch: "s", FarSwitch: "t", FarPort: "2"}},
			seen: []SeenPort{hears(s1, "t", "2"), t2}, joins: near, heard: near},
		{name: "near end missing", runs: []Run{{ID: "A", FarSwitch: "t", FarPort: "2"}},
			seen: []SeenPort{hears(s1, "t", "2"), t2}, joins: near, heard: near},
		{name: "joined by description", runs: []Run{{ID: "A"}},
			seen:  []SeenPort{hears(at("s", 101, "1", "", "A"), "t", "2"), t2},
			joins: []string{"s port 1 = A near by description", "t port 2 = A far by neighbour"},
			heard: []string{"s port 1 = A near by description", "t port 2 = A far by neighbour"}},
		{name: "a cable of no run", seen: []SeenPort{s1, hears(t2, "s", "1")},
			ports: []string{"s port 1: " + noRun, "t port 2: " + noRun}, links: []string{"s port 1 - t port 2"}},
	})
}

func TestNeighboursWhoDisagreeTellNothing(t *testing.T) {
	a := Run{ID: "A", Switch: "s", Port: "1", FarSwitch: "t", FarPort: "1"}
	both := []string{"s port 1 = A near by ifName", "t port 1 = A far by ifName"}
	s1, s2, t1, t2 := bare("s", 1), bare("s", 2), bare("t", 1), bare("t", 2)
	free := func(p string) string { return p + ": " + noRun }
	check(t, []joinRow{
		{name: "the other hears somebody else", runs: []Run{a}, seen: []SeenPort{hears(s1, "t", "2"), s2, t1, hears(t2, "s", "2")},
			joins: both, ports: []string{free("s port 2"), free("t port 2")},
			conflicts: []string{"[t port 2 s port 1] []: s port 1 hears t port 2, which hears s port 2; what these ports hear tells nothing of their runs until they agree: is another device between them?"}},
		{name: "two hear one", runs: []Run{a}, seen: []SeenPort{hears(s1, "t", "2"), hears(s2, "t", "2"), t1, t2},
			joins: both, ports: []string{free("s port 2"), free("t port 2")},
			conflicts: []string{"[t port 2 s port 1 s port 2] []: s port 1 and s port 2 hear t port 2; what these ports hear tells nothing of their runs until they agree: is another device between them?"}},
		{name: "itself", runs: []Run{a}, seen: []SeenPort{hears(s1, "s", "1"), t1}, joins: both},
	})
}

func TestDevices(t *testing.T) {
	x := Run{ID: "X", Switch: "s", Port: "5", Device: "ap-x"}
	y := Run{ID: "Y", Switch: "s", Port: "6", Device: "AP-Y"}
	plain := Run{ID: "X", Switch: "s", Port: "5"}
	s5, s6, s7 := bare("s", 5), bare("s", 6), bare("s", 7)
	both := []string{"s port 5 = X near by ifName", "s port 6 = Y near by ifName"}

	against := `s port 5: the record says run X (runs.csv:2), the port hears "ap-y", which the record of run Y (runs.csv:3) names as its device, whose record says s port 6; not joined until one is put right`
	swapped := "s port 5 and s port 6: the records (runs.csv:2, runs.csv:3) say runs X and Y, the devices heard there say the opposite; not joined until one is put right"
	stray := `s port 7: the port hears "ap-y", which the record of run Y (runs.csv:3) names as its device, whose record says s port 6; not joined there until one is put right`
	split := `s port 7: the port's description says run X, the port hears "ap-y", which the record of run Y (runs.csv:3) names as its device; not joined until one is put right`
	three := `s port 5: the record says run X (runs.csv:2), the port's description says run Z, the port hears "ap-y", which the record of run Y (runs.csv:3) names as its device, whose record says s port 6; not joined until one is put right`
	check(t, []joinRow{
		{name: "confirms", runs: []Run{x, y}, seen: []SeenPort{hearsDevice(s5, "AP-X"), s6}, joins: both, heard: both[:1]},
		{name: "contradicts", runs: []Run{plain, y}, seen: []SeenPort{hearsDevice(s5, "ap-y"), s6},
			conflicts: []string{"[s port 5] [X Y]: " + against},
			ports:     []string{"s port 5: " + against, "s port 6: " + against},
			unjoined:  []string{"X near: " + against, "Y near: " + against}},
		{name: "swapped", runs: []Run{x, y}, seen: []SeenPort{hearsDevice(s5, "ap-y"), hearsDevice(s6, "ap-x")},
			conflicts: []string{"[s port 5 s port 6] [X Y]: " + swapped},
			ports:     []string{"s port 5: " + swapped, "s port 6: " + swapped},
			unjoined:  []string{"X near: " + swapped, "Y near: " + swapped}},
		{name: "finds", runs: []Run{{ID: "F", Device: "ap-f"}}, seen: []SeenPort{hearsDevice(s5, "ap-f")},
			joins: []string{"s port 5 = F near by neighbour"}, heard: []string{"s port 5 = F near by neighbour"}},
		{name: "elsewhere than recorded", runs: []Run{plain, y}, seen: []SeenPort{s5, s6, hearsDevice(s7, "ap-y")},
			joins: both[:1], conflicts: []string{"[s port 7] [Y]: " + stray},
			ports: []string{"s port 6: " + stray, "s port 7: " + stray}, unjoined: []string{"Y near: " + stray}},
		{name: "against the description", runs: []Run{{ID: "X"}, {ID: "Y", Device: "ap-y"}},
			seen:      []SeenPort{hearsDevice(at("s", 107, "7", "", "X"), "ap-y")},
			conflicts: []string{"[s port 7] [X Y]: " + split}, ports: []string{"s port 7: " + split},
			unjoined: []string{"X near: " + split, "Y near: " + split}},
		{name: "record, description and device name three", runs: []Run{plain, y, {ID: "Z"}},
			seen:      []SeenPort{hearsDevice(at("s", 105, "5", "", "Z"), "ap-y"), s6},
			conflicts: []string{"[s port 5] [X Z Y]: " + three}, ports: []string{"s port 5: " + three, "s port 6: " + three},
			unjoined: []string{"X near: " + three, "Y near: " + three, "Z near: " + three}},
		{name: "a name of several records", runs: []Run{plain, y, {ID: "Z", Switch: "s", Port: "7", Device: "ap-y"}},
			seen: []SeenPort{hearsDevice(s5, "ap-y"), s6, s7}, joins: append(both[:2:2], "s port 7 = Z near by ifName")},
		{name: "a name that two ports hear", runs: []Run{plain, y},
			seen: []SeenPort{hearsDevice(s5, "ap-y"), hearsDevice(s6, "ap-y")}, joins: both},
	})
}

func TestPortsInDoubt(t *testing.T) {
	a := Run{ID: "A", Switch: "s", Port: "1"}
	b := Run{ID: "B", Switch: "s", Port: "2"}
	up := Run{ID: "U", Switch: "s", Port: "3", FarSwitch: "t", FarPort: "1"}
	s1, s2, s3, t1 := doubted(bare("s", 1)), doubted(bare("s", 2)), doubted(bare("s", 3)), bare("t", 1)
	const why = "the switch was replaced"
	one := "s: " + why + "; the runs recorded there are not joined until the ports' descriptions or neighbours confirm them, or a person does"
	check(t, []joinRow{
		{name: "one conflict for all", runs: []Run{a, b, up}, seen: []SeenPort{s1, s2, s3, t1},
			joins:     []string{"t port 1 = U far by ifName"},
			conflicts: []string{"[s port 1 s port 2 s port 3] [A B U]: " + one},
			ports:     []string{"s port 1: " + why, "s port 2: " + why, "s port 3: " + why},
			unjoined:  []string{"A near: " + why, "B near: " + why, "U near: " + why}},
		{name: "confirmed by description, neighbour and device", runs: []Run{a, {ID: "B", Switch: "s", Port: "2", Device: "ap-b"}, up},
			seen: []SeenPort{doubted(at("s", 101, "1", "", "A")), hearsDevice(s2, "ap-b"), hears(s3, "t", "1"), t1},
			joins: []string{"s port 1 = A near by ifName", "s port 2 = B near by ifName", "s port 3 = U near by ifName",
				"t port 1 = U far by ifName"},
			heard: []string{"s port 2 = B near by ifName", "s port 3 = U near by ifName", "t port 1 = U far by ifName"}},
		{name: "the neighbour is another: the doubt says why", runs: []Run{up}, seen: []SeenPort{hears(s2, "t", "1"), s3, t1},
			joins: []string{"t port 1 = U far by ifName"}, conflicts: []string{"[s port 3] [U]: " + one},
			ports: []string{"s port 2: " + noRun, "s port 3: " + why}, unjoined: []string{"U near: " + why},
			links: []string{"s port 2 - t port 1"}},
		{name: "the description says another: told once", runs: []Run{a, b},
			seen:      []SeenPort{doubted(at("s", 101, "1", "", "B")), doubted(at("s", 102, "2", "", "A"))},
			conflicts: []string{"[s port 1 s port 2] [A B]: " + one},
			ports:     []string{"s port 1: " + why, "s port 2: " + why}, unjoined: []string{"A near: " + why, "B near: " + why}},
		{name: "a description alone joins", runs: []Run{{ID: "C"}}, seen: []SeenPort{doubted(at("s", 101, "1", "", "C"))},
			joins: []string{"s port 1 = C near by description"}},
	})
}

func TestMarksOfConfirmation(t *testing.T) {
	p := plantOf(Run{ID: "A", Switch: "s", Port: "1"}, Run{ID: "B", Switch: "s", Port: "2"})
	j := p.Join([]SeenPort{at("s", 1, "1", "", "A"), at("s", 2, "2", "", "")}, []string{"s"}, labels)
	require.True(t, j.Joins[0].Described && j.Joins[0].Confirmed())
	require.False(t, j.Joins[1].Confirmed())
}

// Whatever records, descriptions and neighbours say, every port is joined or
// listed, no join stands against its description or against what its port
// hears, and the same ports give the same joins.
func TestNoJoinStandsAgainstWhatIsSeen(t *testing.T) {
	for seed := range uint64(6000) {
		r := rand.New(rand.NewPCG(seed, 3))
		var seen []SeenPort
		var physical int
		pick := func(texts ...string) string { return texts[r.IntN(len(texts))] }
		for _, sw := range []string{"s", "t"} {
			for n := range 4 {
				p := at(sw, 100+n, fmt.Sprint(n), "", pick("", "", "A", "B", "C"))
				switch r.IntN(4) {
				case 0:
					p.Peer = PortRef{pick("s", "t", "u"), fmt.Sprint(r.IntN(5))}
				case 1:
					p.Device = pick("x", "y", "z")
				}
				p.Doubt = pick("", "", "", "", "the switch was replaced")
				p.Physical = r.IntN(10) > 0
				if p.Physical {
					physical++
				}
				seen = append(seen, p)
			}
		}
		var runs []Run
		for _, id := range []string{"A", "B", "C", "D", "E"} {
			run := Run{ID: id, Switch: pick("", "s", "t"), FarSwitch: pick("", "", "s", "t", "u"), Device: pick("", "", "x", "y", "s")}
			if run.Switch != "" {
				run.Port = pick("", "0", "1", "2", "103", "9")
			}
			if run.FarSwitch != "" {
				run.FarPort = pick("", "0", "1", "102")
			}
			runs = append(runs, run)
		}
		p := plantOf(runs...)
		j := p.Join(seen, []string{"s", "t"}, labels)
		require.Equal(t, j, p.Join(seen, []string{"s", "t"}, labels))
		require.Equal(t, physical, len(j.Joins)+len(j.UnjoinedPorts), "seed %d", seed)
		for _, join := range j.Joins {
			i := int(join.Port.Port[0]-'0') + map[string]int{"s": 0, "t": 4}[join.Port.Switch]
			s := seen[i]
			require.Contains(t, []string{"", join.Run.ID}, s.Alias, "seed %d", seed)
			if s.Doubt != "" && (join.How == ByName || join.How == ByIndex) {
				require.True(t, join.Confirmed() || j.meetsRecord(seen, join), "seed %d: %v", seed, join.Port)
			}
			near, far := j.PortsOf(join.Run.ID)
			require.NotEqual(t, near, far)
		}
		for _, l := range j.Links {
			a, aJoined := j.At(l[0])
			b, bJoined := j.At(l[1])
			require.False(t, aJoined && bJoined, "seed %d: one cable is runs %v and %v", seed, a.Run, b.Run)
			for _, join := range []Join{a, b} {
				if join.Run == nil {
					continue
				}
				near, far := j.PortsOf(join.Run.ID)
				require.True(t, near == PortRef{} || far == PortRef{}, "seed %d: run %s is joined at %s and %s, and %v is heard", seed, join.Run.ID, near, far, l)
			}
		}
	}
}

// meetsRecord tells whether the port and the one that its run's record has at
// the other end hear each other, though that one may be joined to none.
func (j *Joined) meetsRecord(seen []SeenPort, join Join) bool {
	other := join.Run.At(NearEnd + FarEnd - join.End)
	for _, l := range j.Links {
		for n, at := range l {
			if at != join.Port {
				continue
			}
			for _, s := range seen {
				if s.Ref() == l[1-n] && s.Switch == other.Switch && (s.Name == other.Port || fmt.Sprint(s.Index) == other.Port) {
					return true
				}
			}
		}
	}
	return false
}
