package snmp

import (
	"math"
	"testing"

	"toneout/internal/port"

	"github.com/stretchr/testify/require"
)

// sensing makes a row of entPhySensorTable that is in order.
func sensing(at uint32, kind, scale, precision, n int, units string) *record {
	return &record{
		at:     [mostArcs]uint32{at},
		values: []value{num(kind), num(scale), num(precision), num(n), num(sensorInOrder), {text: units}, {}, {}},
		given:  1<<6 - 1,
	}
}

// num is an INTEGER as decode gives it.
func num(n int) value { return value{number: uint64(int64(n))} }

// told reads a row long after the agent's start.
func told(e *record) *sensor {
	s := sensorOf(e, port.Some(uint32(360_000_00)))
	return &s
}

const (
	pico, nano, micro, milli, units, kilo = 5, 6, 7, 8, 9, 10 // EntitySensorDataScale (RFC 3433)
	volts, truth                          = 4, 12
)

// RFC 3433, EntitySensorPrecision: a sensor of 0 to 100 degrees in steps of 0.1
// has precision 1, scale units(9), and values from 0 to 1000. A precision of -8
// to -1 counts digits that are right, and shifts nothing.
func TestTemperatures(t *testing.T) {
	absent := port.Value[float64]{}
	for _, row := range []struct {
		e    *record
		want port.Value[float64]
	}{
		{sensing(1, celsiusSensor, units, 1, 0, ""), port.Some(0.0)},
		{sensing(1, celsiusSensor, units, 1, 1000, ""), port.Some(100.0)},
		{sensing(1, celsiusSensor, units, 1, 345, "Celsius"), port.Some(34.5)},
		{sensing(1, celsiusSensor, units, 0, 35, ""), port.Some(35.0)},
		{sensing(1, celsiusSensor, units, -2, 35, ""), port.Some(35.0)},
		{sensing(1, celsiusSensor, milli, 0, 34500, ""), port.Some(34.5)},
		{sensing(1, celsiusSensor, milli, 3, -12500000, ""), port.Some(-12.5)},
		{sensing(1, celsiusSensor, units, 9, 999999999, ""), port.Some(0.999999999)},
		{sensing(1, otherSensor, units, 1, 345, "degrees C"), port.Some(34.5)},
		{sensing(1, otherSensor, units, 1, 345, ""), absent},
		{sensing(1, volts, units, 1, 345, ""), absent},
		{sensing(1, celsiusSensor, units, 0, 1000, ""), absent},
		{sensing(1, celsiusSensor, kilo, 0, 35, ""), absent},
		{sensing(1, celsiusSensor, 0, 0, 35, ""), absent},
		{sensing(1, celsiusSensor, 18, 0, 0, ""), absent},
		{sensing(1, celsiusSensor, units, 10, 35, ""), absent},
		{sensing(1, celsiusSensor, units, -9, 35, ""), absent},
		// EntitySensorValue: -1000000000 is an underflow, 1000000000 an overflow.
		{sensing(1, celsiusSensor, 4, 0, -1000000000, ""), absent},
		{sensing(1, celsiusSensor, 4, 0, 1000000000, ""), absent},
		{sensing(1, celsiusSensor, pico, 0, math.MaxInt64, ""), absent},
	} {
		require.Equal(t, row.want, told(row.e).celsius(), "%+v", row.e)
	}
}

// 1 mW is 0 dBm, 0.5 mW is -3.01 and 0.1 µW is -40 (dBm: IEC 60027-3). The
// private spelling of dBm is common practice, no source.
func TestLight(t *testing.T) {
	some := func(dBm float64) port.Value[port.Light] { return port.Some(port.Light(dBm)) }
	absent, dark := port.Value[port.Light]{}, port.Some(port.NoLight)
	for _, row := range []struct {
		e    *record
		want port.Value[port.Light]
	}{
		{sensing(1, wattSensor, milli, 0, 1, ""), some(0)},
		{sensing(1, wattSensor, milli, 4, 5000, ""), some(-3.0103)},
		{sensing(1, wattSensor, micro, 0, 500, "uW"), some(-3.0103)},
		{sensing(1, wattSensor, micro, 1, 1000, ""), some(-10)},
		{sensing(1, wattSensor, nano, 0, 100000, ""), some(-10)},
		{sensing(1, wattSensor, units, 7, 5000, ""), some(-3.0103)},
		{sensing(1, wattSensor, units, 9, 1000, ""), some(-30)},
		{sensing(1, wattSensor, milli, 0, 10, ""), some(10)},
		{sensing(1, wattSensor, milli, 0, 11, ""), absent},
		{sensing(1, wattSensor, milli, 4, 0, ""), dark},
		{sensing(1, wattSensor, nano, 0, 100, ""), dark},
		{sensing(1, wattSensor, pico, 0, 5, ""), dark},
		{sensing(1, wattSensor, nano, 0, 101, ""), some(-39.9568)},
		{sensing(1, wattSensor, units, 0, 3, "W"), absent},
		{sensing(1, wattSensor, units, 3, 500, "mW"), some(-3.0103)}, // 0.5 W is no light
		{sensing(1, wattSensor, units, 6, 500, "mW"), absent},        // 0.5 or 0.0005 mW
		{sensing(1, wattSensor, units, 6, 0, "mW"), dark},            // either way
		{sensing(1, wattSensor, milli, 3, 500, "milliwatts"), some(-3.0103)},
		{sensing(1, wattSensor, units, 2, -301, ""), some(-3.01)}, // a power below 0 is none in watts
		{sensing(1, wattSensor, units, 2, -301, "dBm"), some(-3.01)},
		{sensing(1, wattSensor, units, 2, 120, "dBm"), some(1.2)},
		{sensing(1, otherSensor, units, 2, -301, "dBm"), some(-3.01)},
		{sensing(1, otherSensor, milli, 0, -3010, " DBM "), some(-3.01)},
		{sensing(1, unknownSensor, units, 1, -235, "dBm"), some(-23.5)},
		{sensing(1, otherSensor, units, 3, 500, "mW"), some(-3.0103)},
		{sensing(1, otherSensor, milli, 0, 500, "uW"), absent},
		{sensing(1, otherSensor, units, 2, -301, ""), absent},
		{sensing(1, otherSensor, units, 2, -301, "0.01 dBm"), absent},
		{sensing(1, dBmSensor, units, 2, -301, ""), some(-3.01)},
		{sensing(1, dBmSensor, units, 2, 301, "mW"), absent},
		{sensing(1, dBmSensor, units, 0, 0, "dBm"), some(0)},
		{sensing(1, dBmSensor, units, 0, 10, "dBm"), some(10)},
		{sensing(1, dBmSensor, units, 1, 101, "dBm"), absent},
		{sensing(1, dBmSensor, units, 1, -399, "dBm"), some(-39.9)},
		{sensing(1, dBmSensor, units, 1, -400, "dBm"), dark},
		{sensing(1, dBmSensor, units, 0, -45, "dBm"), dark},
		{sensing(1, dBmSensor, units, 0, -46, "dBm"), absent},
		{sensing(1, dBmSensor, units, 0, -301, "dBm"), absent},
		{sensing(1, volts, units, 2, -301, "dBm"), absent},
		{sensing(1, truth, units, 0, 1, "dBm"), absent},
	} {
		got := told(row.e).light()
		want, given := row.want.Get()
		value, ok := got.Get()
		require.Equal(t, given, ok, "%+v gives %v", row.e.values, got)
		if want.Dark() {
			require.True(t, value.Dark(), "%+v gives %v", row.e.values, got)
		} else {
			require.InDelta(t, float64(want), float64(value), 0.0001, "%+v", row.e.values)
		}
	}
}

func TestLaserCurrents(t *testing.T) {
	absent := port.Value[float64]{}
	for _, row := range []struct {
		e    *record
		want port.Value[float64]
	}{
		{sensing(1, ampereSensor, milli, 2, 655, ""), port.Some(6.55)},
		{sensing(1, ampereSensor, micro, 0, 6550, ""), port.Some(6.55)},
		{sensing(1, ampereSensor, units, 6, 6550, "A"), port.Some(6.55)},
		{sensing(1, ampereSensor, units, 0, 0, ""), port.Some(0.0)},
		{sensing(1, ampereSensor, units, 2, 655, "mA"), port.Some(6.55)}, // 6.55 A is no laser's
		{sensing(1, ampereSensor, units, 3, 40, "mA"), absent},           // 40 mA or 0.04
		{sensing(1, otherSensor, units, 2, 655, "mA"), port.Some(6.55)},
		{sensing(1, ampereSensor, units, 0, 3, ""), absent},
		{sensing(1, ampereSensor, milli, 0, -1, ""), absent},
		{sensing(1, otherSensor, units, 2, 655, ""), absent},
		{sensing(1, wattSensor, milli, 2, 655, ""), absent},
	} {
		got := told(row.e).milliamperes()
		want, given := row.want.Get()
		value, ok := got.Get()
		require.Equal(t, given, ok, "%+v", row.e.values)
		require.InDelta(t, want, value, 1e-9, "%+v", row.e.values)
	}
}

// RFC 3433: unavailable(2) and nonoperational(3) tell no value, whatever stands
// there; what isn't given tells none either. An agent without the column of the
// status is believed.
func TestSensorsOutOfOrder(t *testing.T) {
	for status, works := range map[int]bool{0: false, 1: true, 2: false, 3: false, 4: false} {
		e := sensing(1, celsiusSensor, units, 0, 35, "")
		e.values[4] = num(status)
		require.Equal(t, works, told(e).tells, status)
	}
	for column := range 6 {
		e := sensing(1, celsiusSensor, units, 0, 35, "")
		e.values[column], e.given = value{}, e.given&^(1<<column)
		require.Equal(t, column > 3, told(e).tells, column)
	}
}

// RFC 3433: entPhySensorValueTimeStamp is of sysUpTime, in 1/100 s, and
// entPhySensorValueUpdateRate in ms; 0 is a value that may stand until it changes.
func TestValuesThatAreOld(t *testing.T) {
	const hour = 360_000
	for _, row := range []struct {
		name          string
		stamp, period uint32
		uptime        port.Value[uint32]
		want          bool
	}{
		{"just read", 10*hour - 500, 5_000, port.Some(uint32(10 * hour)), false},
		{"a few periods ago", 10*hour - 59_000, 60_000, port.Some(uint32(10 * hour)), false},
		{"many periods ago", 10*hour - 60_100, 60_000, port.Some(uint32(10 * hour)), true},
		{"many short periods ago", 10*hour - 29_000, 1_000, port.Some(uint32(10 * hour)), false},
		{"minutes ago, every second", 10*hour - 31_000, 1_000, port.Some(uint32(10 * hour)), true},
		{"many long periods ago", 10*hour - hour, 600_000, port.Some(uint32(10 * hour)), false},
		{"no period", 1, 0, port.Some(uint32(10 * hour)), false},
		{"no stamp", 0, 1_000, port.Some(uint32(10 * hour)), false},
		{"no uptime", 10, 1_000, port.Value[uint32]{}, false},
		{"a stamp to come", 10*hour + 100, 1_000, port.Some(uint32(10 * hour)), false},
		{"before sysUpTime wrapped", math.MaxUint32 - 100, 1_000, port.Some(uint32(100)), false},
		{"long before it wrapped", math.MaxUint32 - hour, 1_000, port.Some(uint32(100)), true},
	} {
		e := sensing(1, celsiusSensor, units, 0, 35, "")
		e.values[6].number, e.values[7].number, e.given = uint64(row.stamp), uint64(row.period), 1<<8-1
		s := sensorOf(e, row.uptime)
		require.Equal(t, row.want, s.expired, row.name)
		require.Equal(t, !row.want, s.tells, row.name)
	}
}

// Whatever an agent says, a value is in its range or absent.
func FuzzSensor(f *testing.F) {
	f.Add(int64(6), int64(8), int64(4), int64(5000), int64(1), "mW", uint64(100), uint64(1000), uint32(5000))
	f.Add(int64(14), int64(9), int64(-8), int64(-1000000000), int64(1), "dBm", uint64(0), uint64(0), uint32(0))
	f.Add(int64(1), int64(math.MinInt64), int64(math.MaxInt64), int64(math.MinInt64), int64(1), "\xb5A\x00", uint64(1), uint64(1), uint32(1))
	f.Fuzz(func(t *testing.T, kind, scale, precision, number, status int64, units string, stamp, rate uint64, uptime uint32) {
		e := &record{values: []value{
			{number: uint64(kind)}, {number: uint64(scale)}, {number: uint64(precision)}, {number: uint64(number)},
			{number: uint64(status)}, {text: units}, {number: stamp}, {number: rate},
		}, given: 1<<8 - 1}
		s := sensorOf(e, port.Some(uptime))
		if dBm, ok := s.light().Get(); ok && !dBm.Dark() {
			require.Greater(t, float64(dBm), float64(floorLight))
			require.LessOrEqual(t, float64(dBm), float64(mostLight))
		}
		if mA, ok := s.milliamperes().Get(); ok {
			require.True(t, mA >= 0 && mA <= mostBias)
		}
		if celsius, ok := s.celsius().Get(); ok {
			require.True(t, celsius >= -60 && celsius <= 127)
		}
	})
}
