package snmp

import (
	"testing"

	"toneout/internal/port"

	"github.com/stretchr/testify/require"
)

// ports three, named 1/1 to 1/3, with ifIndexes 11 to 13, and a VLAN.
func threePorts() []port.Reading {
	return []port.Reading{
		{Index: 11, Name: "1/1", Description: "Unit 1 port 1", Alias: "N1-1", Type: 6},
		{Index: 12, Name: "1/2", Description: "Unit 1 port 2", Alias: "N1-2", Type: 6},
		{Index: 13, Name: "1/3", Description: "Unit 1 port 3", Alias: "", Type: 6},
		{Index: 20, Name: "vlan20", Description: "VLAN 20", Type: 135},
	}
}

// LldpPortNumber is dot1dBasePort on bridges, else ifIndex, and lldpLocPortDesc
// "should have the same value of ifDescr" (IEEE 802.1AB-2005 clause 12);
// switches do otherwise (common practice, no source).
func TestLocalPorts(t *testing.T) {
	named := func(text string) port.ID { return port.ID{Kind: port.IDName, Text: text} }
	local := func(text string) port.ID { return port.ID{Kind: port.IDLocal, Text: text} }
	for name, row := range map[string]struct {
		locals map[uint32]localPort
		bridge map[uint32]int
		macs   map[int]string
		want   map[uint32]int
	}{
		"by ifName":                           {map[uint32]localPort{1: {id: named("1/2")}}, nil, nil, map[uint32]int{1: 12}},
		"by ifName, whatever else is said":    {map[uint32]localPort{11: {named("1/2"), "Unit 1 port 3"}}, map[uint32]int{11: 13}, nil, map[uint32]int{11: 12}},
		"by ifAlias":                          {map[uint32]localPort{1: {id: port.ID{Kind: port.IDAlias, Text: "N1-2"}}}, nil, nil, map[uint32]int{1: 12}},
		"by address":                          {map[uint32]localPort{1: {id: port.ID{Kind: port.IDMAC, Text: "02:00:00:00:00:02"}}}, nil, map[int]string{11: "02:00:00:00:00:01", 12: "02:00:00:00:00:02", 20: "02:00:00:00:00:02"}, map[uint32]int{1: 12}},
		"an address of all ports":             {map[uint32]localPort{1: {id: port.ID{Kind: port.IDMAC, Text: "02:00:00:00:00:01"}}}, nil, map[int]string{11: "02:00:00:00:00:01", 12: "02:00:00:00:00:01"}, map[uint32]int{1: 0}},
		"by ifDescr":                          {map[uint32]localPort{1: {local("7"), "Unit 1 port 2"}}, nil, nil, map[uint32]int{1: 12}},
		"a local id that is an ifName":        {map[uint32]localPort{1: {id: local("1/3")}}, nil, nil, map[uint32]int{1: 13}},
		"a name that is an ifDescr":           {map[uint32]localPort{1: {id: named("Unit 1 port 2")}}, nil, nil, map[uint32]int{1: 12}},
		"by bridge port":                      {nil, map[uint32]int{1: 13}, nil, map[uint32]int{1: 13}},
		"by ifIndex":                          {nil, nil, nil, map[uint32]int{12: 12}},
		"by nothing":                          {map[uint32]localPort{1: {local("x"), "y"}}, nil, nil, map[uint32]int{1: 0}},
		"an ifIndex that no port has":         {nil, nil, nil, map[uint32]int{99: 0}},
		"an ifIndex of a VLAN":                {nil, nil, nil, map[uint32]int{20: 0}},
		"description against bridge port":     {map[uint32]localPort{1: {text: "Unit 1 port 2"}}, map[uint32]int{1: 13}, nil, map[uint32]int{1: 0}},
		"description with bridge port":        {map[uint32]localPort{1: {text: "Unit 1 port 2"}}, map[uint32]int{1: 12}, nil, map[uint32]int{1: 12}},
		"description against ifIndex":         {map[uint32]localPort{11: {text: "Unit 1 port 2"}}, nil, nil, map[uint32]int{11: 0}},
		"an ifIndex of another bridge port":   {nil, map[uint32]int{3: 12}, nil, map[uint32]int{12: 0}},
		"ifIndexes, as one is no bridge port": {nil, map[uint32]int{11: 12, 12: 13}, nil, map[uint32]int{11: 0, 12: 0, 13: 0}},
		"bridge ports, and a port that isn't bridged": {
			map[uint32]localPort{77: {text: "1/1"}}, map[uint32]int{1: 12, 2: 13}, nil, map[uint32]int{1: 12, 2: 13, 77: 11},
		},
		"two numbers for one port, one certain": {
			map[uint32]localPort{1: {id: named("1/2")}}, map[uint32]int{2: 12}, nil, map[uint32]int{1: 12, 2: 0},
		},
		"two numbers for one port, neither certain": {map[uint32]localPort{1: {text: "Unit 1 port 2"}, 2: {text: "1/2"}}, nil, nil, map[uint32]int{1: 0, 2: 0}},
		"two certain numbers for one port":          {map[uint32]localPort{1: {id: named("1/2")}, 2: {id: named("1/2")}}, nil, nil, map[uint32]int{1: 0, 2: 0}},
	} {
		m := &matcher{ports: threePorts(), locals: row.locals, bridge: row.bridge, addresses: row.macs}
		var numbers []uint32
		for n := range row.want {
			numbers = append(numbers, n, n)
		}
		require.Equal(t, row.want, m.resolve(numbers), name)
	}
	twins := threePorts()
	twins[2].Name = "1/2"
	m := &matcher{ports: twins, locals: map[uint32]localPort{1: {id: named("1/2")}}}
	require.Equal(t, map[uint32]int{1: 0}, m.resolve([]uint32{1}), "two ports of one name")
}
