package snmp

import (
	"fmt"
	"testing"

	"toneout/internal/port"

	"github.com/stretchr/testify/require"
)

// feeding makes a row of pethPsePortTable.
func feeding(group, at uint32, status port.PowerStatus) *record {
	return &record{
		at: [mostArcs]uint32{group, at},
		values: []value{
			num(1), num(int(status)), num(4), {number: 10}, {number: 11}, {number: 12}, {number: 13}, {number: 14},
		},
		given: 1<<8 - 1,
	}
}

// RFC 3621: pethPsePortAdminEnable is a TruthValue, class0(1) to class4(5) are
// valid only while deliveringPower(3), and all counters are Counter32.
func TestARowOfPower(t *testing.T) {
	require.Equal(t, port.Power{
		Enabled: port.Yes, Status: port.PowerDelivering, Class: port.Some(3), Absent: port.Some(uint32(10)),
		Invalid: port.Some(uint32(11)), Denied: port.Some(uint32(12)), Overloads: port.Some(uint32(13)), Shorts: port.Some(uint32(14)),
	}, powerOf(feeding(1, 1, port.PowerDelivering)))
	_, known := powerOf(feeding(1, 1, port.PowerSearching)).Class.Get()
	require.False(t, known)

	odd := feeding(1, 1, 7)
	odd.values[0], odd.values[7].number, odd.given = num(3), 0, 0
	require.Equal(t, port.Power{}, powerOf(odd))
	worst := feeding(1, 1, port.PowerOtherFault)
	worst.values[7].number = 1<<32 - 1
	require.Equal(t, port.PowerOtherFault, powerOf(worst).Status)
	require.Equal(t, port.Some(uint32(1<<32-1)), powerOf(worst).Shorts)
	unclassed := feeding(1, 1, port.PowerDelivering)
	unclassed.values[2] = num(6)
	_, known = powerOf(unclassed).Class.Get()
	require.False(t, known)
}

// run makes ports that are numbered from..to with one prefix; ifIndex is base
// plus the number.
func run(prefix string, from, to, base int) (ports []port.Reading) {
	for n := from; n <= to; n++ {
		ports = append(ports, port.Reading{Index: base + n, Type: 6, Name: fmt.Sprint(prefix, n), Oper: port.Up})
	}
	return ports
}

func all(of ...[]port.Reading) (ports []port.Reading) {
	for _, one := range of {
		ports = append(ports, one...)
	}
	return ports
}

// fed makes the rows of a group.
func fed(group uint32, from, to uint32) (rows []*record) {
	for at := from; at <= to; at++ {
		rows = append(rows, feeding(group, at, port.PowerSearching))
	}
	return rows
}

// boxes makes the parts of a stack and what joins their ports to it: the ports of
// each box under it, in positions from 1 on; ifIndex is 100 times the box plus that.
func boxes(first, n, ports int) (parts, mapping []*record) {
	parts = append(parts, part(1, 0, stackClass, 0, ""))
	for b := range uint32(n) {
		parts = append(parts, part(1000*(b+1), 1, chassisClass, uint64(first)+uint64(b), fmt.Sprint("S", b)))
		for p := range uint32(ports) {
			at := 1000*(b+1) + p + 1
			parts = append(parts, part(at, 1000*(b+1), portPart, uint64(p+1), ""))
			mapping = append(mapping, alias(at, fmt.Sprint(ifIndex, 100*(b+1)+p+1)))
		}
	}
	return parts, mapping
}

// Groups and numbers are no ifIndexes (RFC 3621: a group is a box of a stack or a
// module in a rack, and 1 elsewhere). How ports are named: common practice, no source.
func TestWhichPortIsFed(t *testing.T) {
	for name, row := range map[string]struct {
		ports []port.Reading
		parts func() (parts, mapping []*record)
		rows  []*record
		want  map[[2]int]int // ifIndex by group and number
		count int
	}{
		"a box of its own":      {run("1/", 1, 24, 1000), nil, fed(1, 1, 24), map[[2]int]int{{1, 1}: 1001, {1, 24}: 1024}, 24},
		"plain numbers":         {run("", 1, 24, 1000), nil, fed(1, 1, 24), map[[2]int]int{{1, 17}: 1017}, 24},
		"some ports feed":       {run("Port", 1, 24, 0), nil, fed(1, 1, 8), map[[2]int]int{{1, 8}: 8}, 8},
		"from 0":                {run("ge-0/0/", 0, 47, 500), nil, fed(1, 1, 48), map[[2]int]int{{1, 1}: 500, {1, 48}: 547}, 48},
		"uplinks beside":        {all(run("Gi1/0/", 1, 24, 10100), run("Te1/1/", 1, 4, 10200)), nil, fed(1, 1, 24), map[[2]int]int{{1, 2}: 10102}, 24},
		"two speeds in one row": {all(run("Gi1/0/", 1, 36, 100), run("Te1/0/", 37, 48, 200)), nil, fed(1, 1, 48), map[[2]int]int{{1, 36}: 136, {1, 37}: 237}, 48},
		"a stack": {all(run("Gi1/0/", 1, 48, 100), run("Gi2/0/", 1, 48, 200)), nil, append(fed(1, 1, 48), fed(2, 1, 48)...),
			map[[2]int]int{{1, 17}: 117, {2, 17}: 217}, 96},
		"a stack from 0": {all(run("ge-0/0/", 0, 23, 100), run("ge-1/0/", 0, 23, 200)), nil, append(fed(1, 1, 24), fed(2, 1, 24)...),
			map[[2]int]int{{1, 1}: 100, {2, 24}: 223}, 48},
		"numbers that run on": {all(run("1/", 1, 24, 100), run("2/", 1, 24, 200)), nil, append(fed(1, 1, 24), fed(2, 25, 48)...),
			map[[2]int]int{{1, 1}: 101, {2, 25}: 201}, 48},
		"numbers that run on in one group": {all(run("1/", 1, 24, 100), run("2/", 1, 24, 200), run("3/", 1, 24, 300)), nil, fed(1, 1, 72),
			map[[2]int]int{{1, 1}: 101, {1, 25}: 201, {1, 72}: 324}, 72},
		"and may leave out uplinks": {all(run("1/", 1, 26, 100), run("2/", 1, 26, 200)), nil, fed(1, 1, 48), nil, 0},
		"and count uplinks along": {all(run("1/", 1, 26, 100), run("2/", 1, 26, 200)), nil, append(fed(1, 1, 24), fed(1, 27, 50)...),
			map[[2]int]int{{1, 24}: 124, {1, 27}: 201}, 48},
		"and count what isn't there": {all(run("1/", 1, 26, 100), run("2/", 1, 26, 200)), nil, append(fed(1, 1, 24), fed(1, 101, 124)...),
			map[[2]int]int{{1, 24}: 124, {1, 101}: 201}, 48},
		"and fall into other ports": {all(run("1/", 1, 26, 100), run("2/", 1, 26, 200)), nil, append(fed(1, 1, 24), fed(1, 26, 49)...), nil, 0},
		"and unlike boxes":          {all(run("1/", 1, 24, 100), run("2/", 1, 12, 200)), nil, fed(1, 1, 36), nil, 0},
		"modules by letter": {all(run("A", 1, 24, 0), run("B", 1, 24, 24)), nil, append(fed(1, 1, 24), fed(2, 1, 24)...),
			map[[2]int]int{{1, 3}: 3, {2, 3}: 27}, 48},
		"the second box only": {all(run("Gi1/0/", 1, 24, 100), run("Gi2/0/", 1, 24, 200)), nil, fed(2, 1, 24), map[[2]int]int{{2, 3}: 203}, 24},
		"ifIndexes after all": {run("port", 1, 24, 10100), nil, fed(1, 10101, 10124), map[[2]int]int{{1, 10101}: 10101}, 24},
		"by their places": {all(run("x", 101, 124, 0), run("x", 201, 224, 0)), func() ([]*record, []*record) { return boxes(1, 2, 24) },
			append(fed(1, 1, 24), fed(2, 1, 24)...), map[[2]int]int{{1, 3}: 103, {2, 3}: 203}, 48},
		"by places counted from 0": {all(run("x", 101, 124, 0), run("x", 201, 224, 0)), func() ([]*record, []*record) { return boxes(0, 2, 24) },
			append(fed(1, 1, 24), fed(2, 1, 24)...), map[[2]int]int{{1, 3}: 103, {2, 3}: 203}, 48},
		"names and places agree": {all(run("1/", 1, 24, 100), run("2/", 1, 24, 200)), func() ([]*record, []*record) { return boxes(1, 2, 24) },
			append(fed(1, 1, 24), fed(2, 1, 24)...), map[[2]int]int{{1, 3}: 103, {2, 3}: 203}, 48},
		"names leave two ways, places one": {all(run("0/", 1, 24, 0), run("1/", 1, 24, 100), run("2/", 1, 24, 200)), func() ([]*record, []*record) { return boxes(1, 2, 24) },
			fed(2, 1, 24), map[[2]int]int{{2, 3}: 203}, 24},

		"two speeds that count alike": {all(run("Gi1/0/", 1, 24, 100), run("Te1/0/", 1, 4, 200)), nil, fed(1, 1, 24), map[[2]int]int{{1, 2}: 102}, 24},

		"numbers that may be ifIndexes": {[]port.Reading{{Index: 1, Type: 6, Name: "uplink"}, {Index: 2, Type: 6, Name: "lan"}}, nil, fed(1, 1, 2), nil, 0},
		"numbers that run on in part":   {all(run("1/", 1, 24, 100), run("2/", 1, 24, 200)), nil, append(fed(1, 1, 24), fed(2, 25, 36)...), nil, 0},
		"names and places at odds": {all(run("2/", 1, 24, 100), run("1/", 1, 24, 200)), func() ([]*record, []*record) { return boxes(1, 2, 24) },
			append(fed(1, 1, 24), fed(2, 1, 24)...), nil, 0},
		"two boxes and one group":   {all(run("1/", 1, 24, 100), run("2/", 1, 24, 200)), nil, fed(3, 1, 24), nil, 0},
		"from 0 or not":             {run("0/", 0, 47, 100), nil, fed(1, 1, 24), nil, 0},
		"a number that no port has": {run("1/", 1, 24, 100), nil, fed(1, 1, 25), nil, 0},
		"one name twice":            {all(run("1/", 1, 24, 100), run("1/", 5, 5, 200)), nil, fed(1, 1, 24), nil, 0},
		"a group without a box":     {run("1/", 1, 24, 100), nil, append(fed(1, 1, 24), fed(2, 1, 24)...), nil, 0},
		"names without numbers":     {[]port.Reading{{Index: 7, Type: 6, Name: "uplink"}}, nil, fed(1, 1, 1), nil, 0},
		"no ports":                  {nil, nil, fed(1, 1, 24), nil, 0},
		"numbers beyond all":        {run("1/", 1, 24, 100), nil, fed(1<<31+1, 1<<31+1, 1<<31+3), nil, 0},
	} {
		var parts, mapping []*record
		if row.parts != nil {
			parts, mapping = row.parts()
		}
		for i, e := range row.rows {
			e.values[7].number = uint64(i)
		}
		got, why := feeds(row.rows, newTree(built(parts), mapping, row.ports))
		require.Len(t, got, row.count, "%s: %s", name, why)
		for i, e := range row.rows {
			if at, asked := row.want[[2]int{int(e.at[0]), int(e.at[1])}]; asked {
				require.Equal(t, port.Some(uint32(i)), got[at].Shorts, "%s: %v", name, e.at)
			}
		}
		require.Equal(t, row.count == 0 && name != "numbers beyond all", why != "", "%s: %s", name, why)
	}
}

// Ports that get power have a link, mostly (common practice, no source). That
// settles what names leave open, and takes away a way that can't be.
func TestLinksTellWhichPortIsFed(t *testing.T) {
	ports := func(linked ...int) []port.Reading {
		of := run("0/", 0, 47, 100) // 1 may be 0/0 or 0/1
		for i := range of {
			of[i].Oper = port.Down
		}
		for _, n := range linked {
			of[n].Oper = port.Up
		}
		return of
	}
	powered := func(numbers ...uint32) []*record {
		rows := fed(1, 1, 24)
		for _, n := range numbers {
			rows[n-1] = feeding(1, n, port.PowerDelivering)
		}
		return rows
	}
	for name, row := range map[string]struct {
		ports []port.Reading
		rows  []*record
		first int // ifIndex of number 1
		why   string
	}{
		"links of the ports one before":     {ports(0, 4, 9, 14, 19), powered(1, 5, 10, 15, 20), 100, ""},
		"links of the ports of that number": {ports(1, 5, 10, 15, 20, 30), powered(1, 5, 10, 15, 20), 101, ""},
		"links of both":                     {ports(0, 1, 4, 5, 9, 10, 14, 15, 19, 20), powered(1, 5, 10, 15, 20), 0, manyWays},
		"too few":                           {ports(0, 4, 9), powered(1, 5, 10), 0, manyWays},
		"links of neither":                  {ports(30), powered(1, 5, 10, 15, 20), 0, darkPorts},
		"the only way, and no links":        {run("1/", 1, 24, 100)[:0:0], powered(1, 5, 10, 15, 20), 0, noWay},
	} {
		got, why := feeds(row.rows, newTree(nil, nil, row.ports))
		if row.first == 0 {
			require.Empty(t, got, name)
			require.Contains(t, why, row.why, name)
			require.Contains(t, why, "24 of 24 rows", name)
			continue
		}
		require.Len(t, got, 24, name)
		require.Equal(t, port.PowerDelivering, got[row.first].Status, name)
		require.Empty(t, why)
	}
	stack := all(run("1/", 1, 26, 100), run("2/", 1, 26, 200))
	for i := range stack {
		stack[i].Oper = port.Down
	}
	rows := fed(1, 1, 48)
	for _, n := range []int{3, 9, 30, 40, 46} { // 46 is 2/22
		rows[n-1] = feeding(1, uint32(n), port.PowerDelivering)
		stack[n-1+n/25*2].Oper = port.Up
	}
	run24, why := feeds(rows, newTree(nil, nil, stack))
	require.Empty(t, why)
	require.Equal(t, port.PowerDelivering, run24[222].Status, "numbers that run on and leave out uplinks, as links bear out")

	sure := run("1/", 1, 24, 100)
	for i := range sure {
		sure[i].Oper = port.Down
	}
	got, why := feeds(powered(1, 5, 10, 15, 20), newTree(nil, nil, sure))
	require.Empty(t, got)
	require.Contains(t, why, darkPorts)

	parts, mapping := boxes(1, 1, 24)
	got, why = feeds(powered(1, 5, 10, 15, 20), newTree(built(parts), mapping, sure))
	require.Len(t, got, 24, "names and places agree, and all devices may be starting")
	require.Empty(t, why)
}

// Whatever the numbers and names are, no two rows are of one port, and each is
// of one that is there.
func FuzzFeeds(f *testing.F) {
	f.Add([]byte{1, 1, 1, 2, 2, 1}, "1/", "2/", uint8(4), uint8(0))
	f.Add([]byte{1, 10, 1, 11}, "ge-0/0/", "", uint8(12), uint8(3))
	f.Fuzz(func(t *testing.T, numbers []byte, one, other string, n, base uint8) {
		ports := all(run(one, 0, int(n), int(base)), run(other, 1, int(n), int(base)+300))
		var rows []*record
		for ; len(numbers) >= 2; numbers = numbers[2:] {
			rows = append(rows, feeding(uint32(numbers[0]), uint32(numbers[1]), port.PowerStatus(numbers[0]%8)))
		}
		of := newTree(nil, nil, ports)
		got, why := feeds(rows, of)
		require.True(t, len(got) == 0 || why == "" || len(got) < len(rows))
		for i := range got {
			require.NotNil(t, of.readings[i])
		}
	})
}
