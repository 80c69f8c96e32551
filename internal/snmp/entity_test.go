package snmp

import (
	"encoding/binary"
	"testing"

	"toneout/internal/port"

	"github.com/stretchr/testify/require"
)

// part makes a row of entPhysicalTable.
func part(at, in uint32, class uint64, position uint64, serial string) *record {
	return &record{
		at:     [mostArcs]uint32{at},
		values: []value{{number: uint64(in)}, {number: class}, {number: position}, {text: serial}, {text: "FQ48"}, {}, {}},
	}
}

// alias makes a row of entAliasMappingTable.
func alias(at uint32, name string) *record {
	return &record{at: [mostArcs]uint32{at}, values: []value{{text: name}}}
}

const (
	module   = 9  // IANAPhysicalClass (RFC 6933)
	portPart = 10 // likewise
	ifIndex  = ".1.3.6.1.2.1.2.2.1.1."
)

// RFC 6933: entPhysicalContainedIn leads up to the chassis, 0 is nothing, and a
// stack is an entity of its own class that holds chassis.
func TestUnits(t *testing.T) {
	stacked := []*record{
		part(1, 0, stackClass, 0, ""), part(2000, 1, chassisClass, 2, "FQ48-2"), part(1000, 1, chassisClass, 1, "FQ48-1"),
		part(1001, 1000, portPart, 1, ""), part(2001, 2000, module, 1, "M-7"), part(2002, 2001, portPart, 1, ""), part(2003, 2002, portPart, 1, "optic"),
	}
	for name, row := range map[string]struct {
		rows, mapping []*record
		units         []port.Unit
		of            map[int]string
	}{
		"a stack with a module in a member": {
			stacked, []*record{alias(1001, ifIndex+"11"), alias(2003, ifIndex+"21")},
			[]port.Unit{{Serial: "FQ48-1", Model: "FQ48", Position: 1}, {Serial: "FQ48-2", Model: "FQ48", Position: 2}},
			map[int]string{11: "FQ48-1", 21: "FQ48-2", 12: ""},
		},
		"one chassis and no mapping": {
			[]*record{part(1, 0, chassisClass, 0, " FQ48-1\x00\x00")}, nil,
			[]port.Unit{{Serial: "FQ48-1", Model: "FQ48"}}, map[int]string{11: "FQ48-1", 20: ""},
		},
		"what is left of a stack, and no mapping": {
			[]*record{part(1, 0, stackClass, 0, ""), part(2, 1, chassisClass, 1, "FQ48-1")}, nil,
			[]port.Unit{{Serial: "FQ48-1", Model: "FQ48", Position: 1}}, map[int]string{11: ""},
		},
		"two chassis and no mapping": {
			[]*record{part(1, 0, chassisClass, 1, "A"), part(2, 0, chassisClass, 2, "B")}, nil,
			[]port.Unit{{Serial: "A", Model: "FQ48", Position: 1}, {Serial: "B", Model: "FQ48", Position: 2}}, map[int]string{11: ""},
		},
		"a chassis that only holds chassis": {
			[]*record{part(1, 0, chassisClass, 0, "A"), part(2, 1, chassisClass, 1, "A"), part(3, 1, chassisClass, 2, "B"), part(4, 3, portPart, 1, "")},
			[]*record{alias(4, ifIndex+"11")},
			[]port.Unit{{Serial: "A", Model: "FQ48", Position: 1}, {Serial: "B", Model: "FQ48", Position: 2}}, map[int]string{11: "B"},
		},
		"parts that hold each other": {
			[]*record{part(1, 2, portPart, 1, ""), part(2, 1, module, 1, ""), part(3, 3, portPart, 1, "")},
			[]*record{alias(1, ifIndex+"11"), alias(3, ifIndex+"12")}, nil, map[int]string{11: "", 12: ""},
		},
		"a part in nothing, names of other objects": {
			[]*record{part(1, 0, chassisClass, 0, "A"), part(5, 77, portPart, 1, "")},
			[]*record{alias(5, ifIndex+"11"), alias(1, ".1.3.6.1.2.1.17.1.4.1.1.12"), alias(1, ifIndex+"4294967295"), alias(1, "")},
			[]port.Unit{{Serial: "A", Model: "FQ48"}}, map[int]string{11: "", 12: ""},
		},
		"a chassis without a serial number": {
			[]*record{part(1, 0, chassisClass, 0, "")}, nil, []port.Unit{{Model: "FQ48"}}, map[int]string{11: ""},
		},
	} {
		units, parts := chassis(built(row.rows), row.mapping)
		require.Equal(t, row.units, units, name)
		for i, serial := range row.of {
			r := port.Reading{Index: i, Type: 6}
			if i == 20 {
				r.Type = 135
			}
			parts.apply(&r)
			require.Equal(t, serial, r.Unit, "%s: %d", name, i)
		}
	}
}

// RFC 2863, ifStackTable: (higher, lower), 0 for nothing, active(1). Switches with
// the two columns exchanged: common practice, no source.
func TestWhatLiesOverOthers(t *testing.T) {
	row := func(higher, lower uint32, status uint64) *record {
		return &record{at: [mostArcs]uint32{higher, lower}, values: []value{{number: status}}}
	}
	ports := []port.Reading{
		{Index: 11, Type: 6}, {Index: 12, Type: 6}, {Index: 13, Type: 6, Connector: port.Yes}, {Index: 14, Type: 6, Connector: port.Yes},
		{Index: 20, Type: 6}, {Index: 22, Type: 6, Connector: port.No}, {Index: 21, Type: 6}, {Index: 161, Type: 161}, {Index: 135, Type: 135}, {Index: 195, Type: 195}, {Index: 30, Type: 6},
	}
	for name, c := range map[string]struct {
		rows []*record
		want map[int]bool
	}{
		"an aggregate of type 6":                                 {[]*record{row(0, 20, 1), row(20, 11, 1), row(20, 12, 1), row(11, 0, 1), row(30, 11, 2), row(0, 0, 1)}, map[int]bool{20: true}},
		"an aggregate that is said to be plugged":                {[]*record{row(13, 11, 1)}, map[int]bool{13: true}},
		"a part of a part":                                       {[]*record{row(20, 11, 1), row(21, 20, 1)}, map[int]bool{20: true, 21: true}},
		"a part of an aggregate":                                 {[]*record{row(161, 11, 1), row(21, 161, 1)}, map[int]bool{161: true, 21: true}},
		"over an interface that isn't listed":                    {[]*record{row(20, 99, 1)}, map[int]bool{20: true}},
		"upside down: ports over their VLAN and their aggregate": {[]*record{row(11, 135, 1), row(13, 135, 1), row(13, 161, 1), row(14, 161, 1), row(14, 22, 1)}, map[int]bool{}},
		"a port over its optical channel":                        {[]*record{row(11, 195, 1)}, map[int]bool{}},
	} {
		require.Equal(t, c.want, overs(c.rows, ports), name)
	}
}

// However the parts of a switch hold each other, it comes to an end.
func FuzzUnits(f *testing.F) {
	f.Add([]byte("\x00\x01\x00\x02\x03\x00\x02\x00\x01\x0a"), "FQ48-1\x00", ifIndex+"7")
	f.Fuzz(func(t *testing.T, rows []byte, serial, name string) {
		var parts, mapping []*record
		for ; len(rows) >= 5; rows = rows[5:] {
			at := uint32(binary.BigEndian.Uint16(rows))
			parts = append(parts, part(at, uint32(binary.BigEndian.Uint16(rows[2:])), uint64(rows[4]), uint64(rows[4]), serial))
			mapping = append(mapping, alias(at, name))
		}
		units, _ := chassis(built(parts), mapping)
		require.LessOrEqual(t, len(units), mostUnits)
		for _, u := range units {
			require.Equal(t, clean(u.Serial), u.Serial)
		}
	})
}
