package snmp

import (
	"encoding/binary"
	"fmt"
	"testing"

	"toneout/internal/port"

	"github.com/stretchr/testify/require"
)

// called gives a part a name.
func called(e *record, name string) *record {
	e.values[5].text = name
	return e
}

const (
	container   = 5 // IANAPhysicalClass (RFC 6933)
	sensorClass = 8
)

// sfpPorts are two ports with an optic each may be in.
func sfpPorts() []port.Reading {
	return []port.Reading{
		{Index: 11, Type: 6, Name: "1/49", Description: "Ethernet 1/49", Unit: "FQ48-1", Oper: port.Up},
		{Index: 12, Type: 6, Name: "1/50", Description: "Ethernet 1/50", Unit: "FQ48-1", Oper: port.Up},
		{Index: 20, Type: 135, Name: "vlan 1"},
	}
}

// probed are the sensors of an optic, of parts from one on: sent -2.5 dBm,
// received -3.01 dBm, bias 6.5 mA, 34.5 degrees.
func probed(from, in uint32, prefix string) (parts, values []*record) {
	for i, name := range []string{"Tx power", "Rx power", "Tx bias current", "Temperature"} {
		parts = append(parts, called(part(from+uint32(i), in, sensorClass, uint64(i+1), ""), prefix+name))
	}
	return parts, []*record{
		sensing(from, otherSensor, units, 2, -250, "dBm"), sensing(from+1, wattSensor, milli, 4, 5000, ""),
		sensing(from+2, ampereSensor, milli, 1, 65, ""), sensing(from+3, celsiusSensor, units, 1, 345, ""),
	}
}

// read gives what the optics of parts tell of the two ports.
func opticsOf(parts, mapping, values []*record) (map[int]*port.Optic, string) {
	return optics(newTree(built(parts), mapping, sfpPorts()), values, port.Some(uint32(360_000)))
}

// shown writes an optic in short: serial, temperature, then each lane's light
// received and sent and current; - for what is absent.
func shown(o *port.Optic) string {
	if o == nil {
		return ""
	}
	text := o.Serial + " " + short(o.Celsius)
	for _, l := range o.Lanes {
		text += "; " + short(l.Received) + " " + short(l.Sent) + " " + short(l.BiasMA)
	}
	return text
}

func short[T port.Light | float64](v port.Value[T]) string {
	n, ok := v.Get()
	if !ok {
		return "-"
	}
	return fmt.Sprintf("%.1f", float64(n))
}

const allOfIt = "34.5; -3.0 -2.5 6.5"

// Where a module and its sensors hang below their port, or beside it, or above it,
// by RFC 6933: entPhysicalContainedIn leads up, entAliasMappingIdentifier to the ifIndex.
func TestWhereSensorsHang(t *testing.T) {
	box := part(1, 0, chassisClass, 1, "FQ48-1")
	board := part(2, 1, module, 1, "B-1")
	optic := func(in uint32) *record { return part(40, in, module, 1, "OP-7") }
	of := func(in uint32, prefix string, parts ...*record) func() ([]*record, []*record) {
		return func() ([]*record, []*record) {
			more, values := probed(100, in, prefix)
			return append(append([]*record{box, board}, parts...), more...), values
		}
	}
	mapped := []*record{alias(30, ifIndex+"11"), alias(31, ifIndex+"12")}
	two := []*record{part(30, 2, portPart, 49, ""), part(31, 2, portPart, 50, "")}
	for name, row := range map[string]struct {
		make    func() ([]*record, []*record)
		mapping []*record
		want    string
	}{
		"on the port":                      {of(30, "", two...), mapped, " " + allOfIt},
		"on the module in the port":        {of(40, "", append(two, optic(30))...), mapped, "OP-7 " + allOfIt},
		"on the port, beside the module":   {of(30, "", append(two, optic(30))...), mapped, "OP-7 " + allOfIt},
		"two levels below":                 {of(40, "", append(two, part(35, 30, container, 1, ""), optic(35))...), mapped, "OP-7 " + allOfIt},
		"three levels below":               {of(41, "", append(two, part(35, 30, container, 1, ""), optic(35), part(41, 40, 1, 1, ""))...), mapped, "OP-7 " + allOfIt},
		"below a module of a part":         {of(41, "", append(two, optic(30), part(41, 40, module, 1, ""))...), mapped, "OP-7 " + allOfIt},
		"the port is in the module":        {of(40, "", part(35, 2, container, 49, ""), optic(35), part(30, 40, portPart, 1, "")), mapped, "OP-7 " + allOfIt},
		"on a port that is in the module":  {of(30, "", part(35, 2, container, 49, ""), optic(35), part(30, 40, portPart, 1, "")), mapped, "OP-7 " + allOfIt},
		"the module is the port":           {of(40, "", optic(2)), []*record{alias(40, ifIndex+"11")}, "OP-7 " + allOfIt},
		"by the port's name":               {of(40, "", called(part(30, 2, portPart, 49, ""), "1/49"), optic(30)), nil, "OP-7 " + allOfIt},
		"by its description":               {of(40, "", called(part(30, 2, portPart, 49, ""), "Ethernet 1/49"), optic(30)), nil, "OP-7 " + allOfIt},
		"by the cage's name":               {of(40, "", called(part(35, 2, container, 49, ""), "1/49"), optic(35)), nil, "OP-7 " + allOfIt},
		"by the sensors' names":            {of(1, "1/49 "), nil, " " + allOfIt},
		"by the sensors' long names":       {of(1, "Ethernet 1/49: "), nil, " " + allOfIt},
		"by the sensors' longest names":    {of(1, "Ethernet 1/49 "), nil, " " + allOfIt},
		"on a board, by their names":       {of(2, "1/49 ", two...), mapped, " " + allOfIt},
		"the chassis itself is the serial": {of(40, "", append(two, part(40, 30, module, 1, "FQ48-1"))...), mapped, " " + allOfIt},

		"on a board of several ports":    {of(2, "", two...), mapped, ""},
		"on the chassis":                 {of(1, "", two...), mapped, ""},
		"on a module that is gone":       {of(40, "1/49 ", two...), mapped, ""},
		"in nothing":                     {of(0, ""), mapped, ""},
		"in itself":                      {of(50, "", part(50, 51, module, 1, ""), part(51, 50, module, 1, "")), mapped, ""},
		"a part of two ports":            {of(40, "1/49 ", optic(2)), []*record{alias(40, ifIndex+"11"), alias(40, ifIndex+"12")}, ""},
		"a part of a port and its VLAN":  {of(40, "", optic(2)), []*record{alias(40, ifIndex+"20"), alias(40, ifIndex+"11")}, "OP-7 " + allOfIt},
		"two parts of one name":          {of(40, "", called(part(30, 2, portPart, 49, ""), "1/49"), called(part(31, 2, portPart, 49, ""), "1/49"), optic(30)), nil, ""},
		"a name that no port has":        {of(40, "", called(part(30, 2, portPart, 49, ""), "1/5"), optic(30)), nil, ""},
		"sensors of a port that is none": {of(1, "vlan 1 "), nil, ""},
	} {
		parts, values := row.make()
		got, why := opticsOf(parts, row.mapping, values)
		require.Equal(t, row.want, shown(got[11]), name)
		require.Nil(t, got[12], name)
		require.Equal(t, row.want == "", why != "", "%s: %s", name, why)
	}
}

// Lanes by their names, by their parts' names, or by their positions in the module.
func TestLanes(t *testing.T) {
	base := []*record{part(1, 0, chassisClass, 1, ""), part(30, 1, portPart, 49, ""), part(40, 30, module, 1, "OP-7")}
	mapping := []*record{alias(30, ifIndex+"11")}
	type light struct {
		name     string
		in       uint32
		position uint64
		dBm      int
	}
	for name, row := range map[string]struct {
		lights []light
		parts  []*record
		want   string
	}{
		"one":                     {[]light{{"Rx power", 40, 1, -3}}, nil, "; -3.0 - -"},
		"four by name":            {[]light{{"Rx power lane 4", 40, 1, -4}, {"Rx power lane 2", 40, 2, -2}, {"Rx power lane 1", 40, 3, -1}, {"Rx power lane 3", 40, 4, -3}}, nil, "; -1.0 - -; -2.0 - -; -3.0 - -; -4.0 - -"},
		"from 0":                  {[]light{{"Channel 0 rx power", 40, 1, -1}, {"Channel 1 rx power", 40, 2, -2}, {"Channel 1 tx power", 40, 2, -9}}, nil, "; -1.0 - -; -2.0 -9.0 -"},
		"one that is lane 0":      {[]light{{"Lane 0 rx power", 40, 1, -1}}, nil, "; -1.0 - -"},
		"one lacks":               {[]light{{"rx1 power", 40, 1, -1}, {"rx3 power", 40, 2, -3}}, nil, "; -1.0 - -; - - -; -3.0 - -"},
		"by their parts":          {[]light{{"Rx power", 52, 1, -2}, {"Rx power", 51, 1, -1}}, []*record{called(part(51, 40, 1, 1, ""), "Lane 1"), called(part(52, 40, 1, 2, ""), "Lane 2")}, "; -1.0 - -; -2.0 - -"},
		"by their positions":      {[]light{{"Rx power", 40, 9, -9}, {"Tx power", 40, 5, -5}, {"Rx power", 40, 7, -7}, {"Tx power", 40, 3, -3}}, nil, "; -7.0 -3.0 -; -9.0 -5.0 -"},
		"a sum beside lanes":      {[]light{{"Rx power", 40, 1, 3}, {"Rx power lane 1", 40, 1, -1}, {"Rx power lane 2", 40, 2, -2}}, nil, "; -1.0 - -; -2.0 - -"},
		"one laser for two lanes": {[]light{{"Tx power", 40, 1, 3}, {"Rx power lane 1", 40, 1, -1}, {"Rx power lane 2", 40, 2, -2}}, nil, "; -1.0 - -; -2.0 - -"},
		"twice, alike":            {[]light{{"Rx power lane 1", 40, 1, -1}, {"Rx power channel 1", 40, 2, -1}}, nil, "; -1.0 - -"},
		"twice, at odds":          {[]light{{"Rx power lane 1", 40, 1, -1}, {"Rx power channel 1", 40, 2, -5}, {"Rx power lane 2", 40, 2, -6}}, nil, "; - - -; -6.0 - -"},
		"two of one position":     {[]light{{"Rx power", 40, 1, -1}, {"Rx power", 40, 1, -5}}, nil, ""},
		"two lanes in one name":   {[]light{{"Rx power lane 1 channel 2", 40, 1, -1}}, nil, ""},
		"a lane beyond all":       {[]light{{"Rx power lane 99", 40, 1, -1}}, nil, ""},
	} {
		parts := append(append([]*record{}, base...), row.parts...)
		var values []*record
		for i, l := range row.lights {
			parts = append(parts, called(part(100+uint32(i), l.in, sensorClass, l.position, ""), l.name))
			values = append(values, sensing(100+uint32(i), dBmSensor, units, 0, l.dBm, ""))
		}
		got, _ := opticsOf(parts, mapping, values)
		require.Equal(t, "OP-7 -"+row.want, shown(got[11]), name)
	}
}

// What a module is said to tell that tells nothing, or not all.
func TestWhatOpticsTell(t *testing.T) {
	base := []*record{part(1, 0, chassisClass, 1, ""), part(30, 1, portPart, 49, ""), part(31, 1, portPart, 50, ""), part(40, 30, module, 1, "OP-7")}
	mapping := []*record{alias(30, ifIndex+"11"), alias(31, ifIndex+"12")}
	status := func(e *record, n int) { e.values[4] = num(n) }
	for name, row := range map[string]struct {
		change func(parts, values []*record) ([]*record, []*record)
		want   string
	}{
		"all":                    {func(p, v []*record) ([]*record, []*record) { return p, v }, "OP-7 " + allOfIt},
		"a receiver in the dark": {func(p, v []*record) ([]*record, []*record) { v[1].values[3] = num(0); return p, v }, "OP-7 34.5; -Inf -2.5 6.5"},
		"a laser that is off": {func(p, v []*record) ([]*record, []*record) {
			v[0].values[3], v[2].values[3] = num(-4000), num(0)
			return p, v
		}, "OP-7 34.5; -3.0 -Inf 0.0"},
		"a sensor that is not in order is no darkness": {func(p, v []*record) ([]*record, []*record) {
			v[1].values[3] = num(0)
			status(v[1], 2)
			return p, v
		}, "OP-7 34.5; - -2.5 6.5"},
		"none is in order": {func(p, v []*record) ([]*record, []*record) {
			for _, e := range v {
				status(e, 2)
			}
			return p, v
		}, "OP-7 -"},
		"zeros all over, of a module that tells nothing": {func(p, v []*record) ([]*record, []*record) {
			for _, e := range v {
				e.values[3] = num(0)
			}
			return p, v
		}, "OP-7 -"},
		"a temperature alone is of the port": {func(p, v []*record) ([]*record, []*record) { return p[3:], v[3:] }, ""},
		"two temperatures": {func(p, v []*record) ([]*record, []*record) {
			return append(p, called(part(200, 40, sensorClass, 9, ""), "Temperature 2")), append(v, sensing(200, celsiusSensor, units, 0, 40, ""))
		}, "OP-7 -; -3.0 -2.5 6.5"},
		"a threshold beside": {func(p, v []*record) ([]*record, []*record) {
			return append(p, called(part(200, 40, sensorClass, 9, ""), "Rx power low alarm threshold")), append(v, sensing(200, dBmSensor, units, 0, -18, ""))
		}, "OP-7 " + allOfIt},
		"one value in two units": {func(p, v []*record) ([]*record, []*record) {
			return append(p, called(part(200, 40, sensorClass, 9, ""), "Rx power")), append(v, sensing(200, dBmSensor, units, 2, -301, ""))
		}, "OP-7 " + allOfIt},
		"one value in two units, at odds": {func(p, v []*record) ([]*record, []*record) {
			return append(p, called(part(200, 40, sensorClass, 9, ""), "Rx power")), append(v, sensing(200, dBmSensor, units, 2, -901, ""))
		}, "OP-7 34.5; - -2.5 6.5"},
		"a second module in the port": {func(p, v []*record) ([]*record, []*record) {
			more, values := probed(200, 41, "")
			return append(append(p, part(41, 30, module, 2, "OP-8")), more...), append(v, values...)
		}, ""},
		"sensors without parts": {func(p, v []*record) ([]*record, []*record) { return nil, v }, ""},
		"a row that was cut": {func(p, v []*record) ([]*record, []*record) {
			v[1].given &^= 1 << 2
			return p, v
		}, "OP-7 34.5; - -2.5 6.5"},
	} {
		parts, values := probed(100, 40, "")
		parts, values = row.change(parts, values)
		got, _ := opticsOf(append(append([]*record{}, base...), parts...), mapping, values)
		require.Equal(t, row.want, shown(got[11]), name)
		require.Nil(t, got[12], name)
	}
}

// Agents keep values for a while, so a module that has just come in may be told
// with those of the one before.
func TestAModuleThatWasExchanged(t *testing.T) {
	tells := func(serial string, dBm port.Light) map[int]*port.Optic {
		return map[int]*port.Optic{11: {Serial: serial, Celsius: port.Some(35.0), Lanes: []port.Lane{{Received: port.Some(dBm)}}}}
	}
	for name, row := range map[string]struct {
		before, now map[int]*port.Optic
		want        string
	}{
		"the same":              {tells("A", -3), tells("A", -3), "A 35.0; -3.0 - -"},
		"another, old values":   {tells("A", -3), tells("B", -3), "B -"},
		"another, values too":   {tells("A", -3), tells("B", -4), "B 35.0; -4.0 - -"},
		"none before":           {nil, tells("B", -3), "B 35.0; -3.0 - -"},
		"without serial number": {tells("", -3), tells("", -3), " 35.0; -3.0 - -"},
	} {
		keptValues(row.before, row.now)
		require.Equal(t, row.want, shown(row.now[11]), name)
	}
}

// However parts and sensors are told, it comes to an end and stays in bounds.
func FuzzOptics(f *testing.F) {
	f.Add([]byte("\x00\x01\x00\x00\x03\x00\x02\x00\x01\x0a\x00\x03\x00\x02\x08"), "Rx power lane 2", "1/49", uint8(14), int32(-300))
	f.Add([]byte("\x00\x01\x00\x02\x09\x00\x02\x00\x01\x0a\x00\x03\x00\x02\x08"), "1/49 Rx power", "OP-7", uint8(6), int32(0))
	f.Fuzz(func(t *testing.T, rows []byte, name, other string, kind uint8, value int32) {
		var parts, mapping, values []*record
		for ; len(rows) >= 5; rows = rows[5:] {
			at := uint32(binary.BigEndian.Uint16(rows))
			e := called(part(at, uint32(binary.BigEndian.Uint16(rows[2:])), uint64(rows[4]), uint64(rows[4]), other), other)
			if rows[4] == sensorClass {
				called(e, name)
			}
			parts = append(parts, e)
			if rows[4]%3 == 0 {
				mapping = append(mapping, alias(at, ifIndex+"11"))
			}
			values = append(values, sensing(at, int(kind), milli, 2, int(value), ""))
		}
		got, _ := opticsOf(parts, mapping, values)
		for i, o := range got {
			require.True(t, i == 11 || i == 12)
			require.LessOrEqual(t, len(o.Lanes), mostLanes)
			for _, l := range o.Lanes {
				if dBm, ok := l.Received.Get(); ok {
					require.True(t, dBm.Dark() || dBm > floorLight && dBm <= mostLight+1)
				}
			}
		}
	})
}
