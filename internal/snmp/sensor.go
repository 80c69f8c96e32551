package snmp

import (
	"math"
	"strings"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// sensors is indexed as entPhysicalTable is (RFC 3433).
var sensors = &list{table: entPhySensorTable, arcs: 1, columns: []*column{
	plain(entPhySensorTable, "1 entPhySensorType", gosnmp.Integer, nil),
	plain(entPhySensorTable, "2 entPhySensorScale", gosnmp.Integer, nil),
	plain(entPhySensorTable, "3 entPhySensorPrecision", gosnmp.Integer, nil),
	plain(entPhySensorTable, "4 entPhySensorValue", gosnmp.Integer, nil),
	plain(entPhySensorTable, "5 entPhySensorOperStatus", gosnmp.Integer, nil),
	plain(entPhySensorTable, "6 entPhySensorUnitsDisplay", gosnmp.OctetString, nil),
	plain(entPhySensorTable, "7 entPhySensorValueTimeStamp", gosnmp.TimeTicks, nil),
	plain(entPhySensorTable, "8 entPhySensorValueUpdateRate", gosnmp.Gauge32, nil),
}}

// sensor is a row of entPhySensorTable.
type sensor struct {
	kind    int    // EntitySensorDataType
	units   string // in small letters
	tells   bool   // it is in order, and its value and what that means are given
	scale   int    // power of ten of the unit
	places  int    // decimal places of the value
	value   int64
	expired bool // it should have been read again long ago
}

// What a sensor measures (RFC 3433, EntitySensorDataType). The standard has no
// type for dBm: agents use other, or 14 as in their own copies of the table
// (common practice, no source).
const (
	otherSensor   = 1
	unknownSensor = 2
	ampereSensor  = 5
	wattSensor    = 6
	celsiusSensor = 8
	dBmSensor     = 14
)

// EntitySensorDataScale goes in steps of a thousand from yocto(1) over units(9)
// to tera(13); above that the standard's names and powers of ten disagree.
const (
	unitScale    = 9
	highestScale = 13
)

const (
	sensorInOrder = 1      // EntitySensorStatus
	outOfReach    = 1e9    // EntitySensorValue: beyond what the sensor or its number can tell
	mostPlaces    = 9      // EntitySensorPrecision; below 0 it counts digits that are right
	leastPlaces   = -8     //
	periods       = 10     // of entPhySensorValueUpdateRate, after which a value has expired
	soonestExpiry = 5 * 60 // seconds: no value expires before
)

// sensorOf reads a row at a moment of sysUpTime.
func sensorOf(e *record, uptime port.Value[uint32]) sensor {
	scale, precision := whole32(e.values[1]), whole32(e.values[2])
	s := sensor{
		kind: int(whole32(e.values[0])), units: strings.ToLower(clean(e.values[5].text)),
		scale: 3 * int(scale-unitScale), places: max(0, int(precision)), value: whole32(e.values[3]),
	}
	s.expired = e.has(6) && e.has(7) && expired(uint32(e.values[6].number), uint32(e.values[7].number), uptime)
	s.tells = e.has(0) && e.has(1) && e.has(2) && e.has(3) && !s.expired &&
		(!e.has(4) || e.values[4].number == sensorInOrder) &&
		scale >= 1 && scale <= highestScale && precision >= leastPlaces && precision <= mostPlaces &&
		s.value > -outOfReach && s.value < outOfReach
	return s
}

// whole32 gives an INTEGER of 32 bits; what has more is beyond every range.
func whole32(v value) int64 {
	n := int64(v.number)
	if n < math.MinInt32 || n > math.MaxInt32 {
		return math.MaxInt32
	}
	return n
}

// expired tells whether a value is by far older than its period allows. Without
// a period (0) RFC 3433 lets a value stand until it changes, so its age tells
// nothing then; nor does a stamp of 0 or one to come.
func expired(stamp, period uint32, uptime port.Value[uint32]) bool {
	now, known := uptime.Get()
	age := now - stamp // across a wrap too
	if !known || stamp == 0 || period == 0 || age > math.MaxInt32 {
		return false
	}
	return float64(age)/100 > max(soonestExpiry, periods*float64(period)/1000)
}

// in gives the value in units times a power of ten.
func (s *sensor) in(power int) float64 {
	return float64(s.value) * math.Pow10(power-s.places)
}

// prefixes are the powers of ten that the text of a unit may name.
var prefixes = map[string]int{
	"m": -3, "milli": -3, "u": -6, "µ": -6, "μ": -6, "micro": -6, "n": -9, "nano": -9,
}

// named gives the power of ten that the text of the sensor's units names, where
// it is one of these units.
func (s *sensor) named(units ...string) (power int, ok bool) {
	for _, unit := range units {
		prefix, is := strings.CutSuffix(s.units, unit)
		if !is {
			continue
		}
		if prefix = strings.TrimSpace(prefix); prefix == "" {
			return 0, true
		}
		if power, ok = prefixes[prefix]; ok {
			return power, true
		}
	}
	return 0, false
}

// readAs gives what a function makes of the value by its scale. Where the text of
// its units names another power of ten, that is the one where only it makes
// sense; where both do and differ, nothing is told.
func readAs[T comparable](s *sensor, kind int, units []string, read func(float64) port.Value[T]) port.Value[T] {
	power, named := s.named(units...)
	open := s.kind == otherSensor || s.kind == unknownSensor
	switch {
	case s.kind != kind && !(open && named), open && s.scale != 0 && s.scale != power:
		return port.Value[T]{}
	case open:
		return read(s.in(power))
	}
	byScale := read(s.in(s.scale))
	if !named || power == 0 || power == s.scale {
		return byScale
	}
	byName := read(s.in(power))
	_, fits := byScale.Get()
	switch _, fitsToo := byName.Get(); {
	case !fitsToo:
		return byScale
	case !fits, byName == byScale:
		return byName
	}
	return port.Value[T]{}
}

// Light beyond these is a number of another meaning; a module's diagnostics tell
// none below -40 dBm, which is 0.1 µW, the step in which they count (SFF-8472,
// from memory), so agents show that for 0.
const (
	mostLight  = 10 // dBm
	floorLight = -40
	leastLight = -45
	floorPower = 1e-4 // mW, as floorLight
	rounding   = 1e-6
)

// light reads an optical power in watts or dBm.
func (s *sensor) light() port.Value[port.Light] {
	if !s.tells {
		return port.Value[port.Light]{}
	}
	stated := s.units == "dbm"
	switch s.kind {
	case dBmSensor:
		if _, watts := s.named(wattNames...); watts && s.units != "" {
			return port.Value[port.Light]{}
		}
		return inDBm(s.in(s.scale))
	case otherSensor, unknownSensor, wattSensor:
		if stated {
			return inDBm(s.in(s.scale))
		}
	}
	return readAs(s, wattSensor, wattNames, func(watts float64) port.Value[port.Light] {
		switch milliwatts := watts * 1000; {
		case watts < 0: // then they are none
			return inDBm(watts)
		case milliwatts < floorPower:
			return port.Some(port.NoLight)
		default:
			return inDBm(float64(port.LightOf(milliwatts)))
		}
	})
}

var (
	wattNames    = []string{"watts", "watt", "w"}
	ampereNames  = []string{"amperes", "ampere", "amps", "amp", "a"}
	celsiusNames = []string{"celsius", "degrees c", "deg c", "°c", "c"}
)

func inDBm(dBm float64) port.Value[port.Light] {
	switch {
	case dBm < leastLight-rounding, dBm > mostLight+rounding:
		return port.Value[port.Light]{}
	case dBm <= floorLight+rounding:
		return port.Some(port.NoLight)
	}
	return port.Some(port.Light(dBm))
}

// mostBias is above what lasers of modules take, in mA; SFF-8472 can tell 131
// (from memory), and modules of several lanes four times that.
const mostBias = 525

// milliamperes reads the current of a laser.
func (s *sensor) milliamperes() port.Value[float64] {
	if !s.tells {
		return port.Value[float64]{}
	}
	return readAs(s, ampereSensor, ampereNames, func(amperes float64) port.Value[float64] {
		return within(amperes*1000, 0, mostBias)
	})
}

// celsius reads a temperature; modules tell -128 to 128 (SFF-8472, from memory)
// and none works at either.
func (s *sensor) celsius() port.Value[float64] {
	if !s.tells {
		return port.Value[float64]{}
	}
	return readAs(s, celsiusSensor, celsiusNames, func(celsius float64) port.Value[float64] { return within(celsius, -60, 127) })
}

func within(n, least, most float64) port.Value[float64] {
	if n < least || n > most {
		return port.Value[float64]{}
	}
	return port.Some(n)
}
