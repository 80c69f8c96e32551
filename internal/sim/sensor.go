package sim

import (
	"fmt"
	"math"
	"time"
)

// OpticQuirks are the ways in which switches show the sensors of optics. The
// zero value: powers in watts, as RFC 3433 has it, sensors in the module and
// the module in the port.
type OpticQuirks struct {
	// DBm: powers have a type of the maker's own, 14, and units "dBm".
	DBm bool
	// OddScale: scales and precisions are legal, but not those one expects.
	OddScale bool
	// DarkUnavailable: a sensor of light that sees none is unavailable(2).
	DarkUnavailable bool
	// Kept: the rows of a module that was taken out stay, with its last values
	// and their time stamps.
	Kept bool
	// Levels from a port to its sensors: 1, beside the module; 2, the default,
	// in it; 3, in it, and it in a container.
	Levels int
	// NoAlias: entAliasMappingTable is empty.
	NoAlias bool
	// ShortNames: "Rx power" for "receive power", and so on.
	ShortNames bool
}

// sensorEvery is how often sensors measure.
const sensorEvery = 10 * time.Second

// quantity is what a sensor measures.
type quantity int

const (
	temperature quantity = iota
	biasCurrent
	sentLight
	receivedLight
)

// sensor is one of a module's.
type sensor struct {
	of   quantity
	lane int // from 0
}

// sensors of a module in the order of their rows.
func (m *Module) sensors() []sensor {
	out := []sensor{{temperature, 0}}
	for _, of := range []quantity{biasCurrent, sentLight, receivedLight} {
		for lane := range m.phy.lanes {
			out = append(out, sensor{of, lane})
		}
	}
	return out
}

// row is the sensor's place among the module's rows.
func (s sensor) row() int { return 10*int(s.of) + s.lane + 1 }

// sensorNames are what the sensors are called.
var sensorNames = map[bool][]string{
	false: {"module temperature", "bias current", "transmit power", "receive power"},
	true:  {"Temp", "Bias", "Tx power", "Rx power"},
}

func (s sensor) name(m *Module, short bool) string {
	name := sensorNames[short][s.of]
	if m.phy.lanes > 1 && s.of != temperature {
		return fmt.Sprintf("lane %d %s", s.lane+1, name)
	}
	return name
}

// said is what a sensor measured, in °C, A or W, and when.
type said struct {
	value float64
	at    time.Duration
}

// pulled is a module that was taken out, and what its sensors said last.
type pulled struct {
	module *Module
	said   []said
}

// readings gives what the sensors of a module in a port say at a time: the
// last of what they measure every 10 s.
func (c *Campus) readings(p *Port, m *Module, cable *Cable, at time.Duration) (out []said) {
	measured := at.Truncate(sensorEvery)
	for _, s := range m.sensors() {
		out = append(out, said{p.measure(m, cable, s, measured, c.start), measured})
	}
	return out
}

// Senses is what the sensors of an optic say: by lane in mA and dBm, which is
// below any number without light.
type Senses struct {
	Celsius                      float64
	BiasMA, SentDBm, ReceivedDBm []float64
}

// Senses gives what those of the optic in a port say, to be read inside
// Campus.Do; false where there is none.
func (p *Port) Senses() (out Senses, ok bool) {
	m, c := p.module, p.owner.campus
	if m == nil {
		return out, false
	}
	all := c.readings(p, m, c.Cable(p), c.elapsed)
	for i, s := range m.sensors() {
		switch value := all[i].value; s.of {
		case temperature:
			out.Celsius = value
		case biasCurrent:
			out.BiasMA = append(out.BiasMA, 1000*value)
		case sentLight:
			out.SentDBm = append(out.SentDBm, dBm(value))
		case receivedLight:
			out.ReceivedDBm = append(out.ReceivedDBm, dBm(value))
		}
	}
	return out, true
}

func (p *Port) measure(m *Module, cable *Cable, s sensor, at time.Duration, clock time.Time) float64 {
	n := int64(at / sensorEvery)
	switch s.of {
	case temperature:
		return m.celsius(at, clock)
	case biasCurrent:
		return m.bias(at, s.lane) / 1000
	case sentLight:
		if p.dead() {
			return 0
		}
		return watts(m.lights(at, s.lane) + m.SentSkew + m.jitter("sent", n))
	}
	if cable == nil {
		return 0
	}
	return watts(cable.received(at, s.lane, cable.A == p) + m.ReceivedSkew + m.jitter("received", n))
}

// sensorStep is the resolution of a sensor of light, W: 0.1 µW, below which it
// sees none (SFF-8472, from memory).
const sensorStep = 1e-7

// watts of a power in dBm, as a sensor resolves it.
func watts(dBm float64) float64 {
	return math.Round(math.Pow(10, dBm/10)/1000/sensorStep) * sensorStep
}

func dBm(watts float64) float64 { return 10 * math.Log10(1000*watts) }

// darkest is what a sensor in dBm says without light: 0.1 µW, common practice.
const darkest = -40

// sensorRow is a row of entPhySensorTable (RFC 3433).
type sensorRow struct {
	kind, scale, precision, value, status int64
	units                                 string
	stamp                                 time.Duration // sysUpTime then
}

// Scales of EntitySensorDataScale, and the types of EntitySensorDataType.
const (
	micro, milli, units         = 7, 8, 9
	amperes, wattsType, celsius = 5, 6, 8
	dBmType                     = 14 // of no standard
)

// show puts a sensor's value into the switch's types and scales.
func (q OpticQuirks) show(of quantity, now said) sensorRow {
	out := sensorRow{status: 1}
	fixedPoint := func(kind, scale, precision int64, value float64) {
		out.kind, out.scale, out.precision = kind, scale, precision
		out.value = int64(math.Round(value * math.Pow10(int(precision-3*(scale-units)))))
	}
	light := of == sentLight || of == receivedLight
	switch {
	case of == temperature && q.OddScale:
		fixedPoint(celsius, milli, 0, now.value)
	case of == temperature:
		fixedPoint(celsius, units, 1, now.value)
	case of == biasCurrent && q.OddScale:
		fixedPoint(amperes, units, 6, now.value)
	case of == biasCurrent:
		fixedPoint(amperes, milli, 3, now.value)
	case q.DBm && q.OddScale:
		fixedPoint(dBmType, milli, 0, max(dBm(now.value), darkest))
	case q.DBm:
		fixedPoint(dBmType, units, 2, max(dBm(now.value), darkest))
	case q.OddScale:
		fixedPoint(wattsType, units, 7, now.value)
	default:
		fixedPoint(wattsType, micro, 1, now.value)
	}
	if light && now.value == 0 && q.DarkUnavailable {
		out.value, out.status = 0, 2
	}
	out.units = map[int64]string{celsius: "celsius", amperes: "amperes", wattsType: "watts", dBmType: "dBm"}[out.kind]
	return out
}

// entPhySensor is ENTITY-SENSOR-MIB's entPhySensorTable.
var entPhySensor = map[uint32]func(*sensorRow) Value{
	1: func(s *sensorRow) Value { return Integer(s.kind) },
	2: func(s *sensorRow) Value { return Integer(s.scale) },
	3: func(s *sensorRow) Value { return Integer(s.precision) },
	4: func(s *sensorRow) Value { return Integer(s.value) },
	5: func(s *sensorRow) Value { return Integer(s.status) },
	6: func(s *sensorRow) Value { return Octets(s.units) },
	7: func(s *sensorRow) Value { return Ticks(s.stamp) },
	8: func(*sensorRow) Value { return Gauge32(uint64(sensorEvery / time.Millisecond)) },
}

// sensorColumns lays out the rows that inventory has for sensors, and notes
// the modules that they belong to.
func (s *Switch) sensorColumns() []Column {
	s.cages = nil
	for _, p := range s.present() {
		if m := s.optic(p); m != nil {
			s.cages = append(s.cages, cage{p, m})
		}
	}
	var rows []OID
	for _, e := range s.inventory() {
		if e.class == sensorClass {
			rows = append(rows, OID{uint32(e.index)})
		}
	}
	var out []Column
	for number, cell := range entPhySensor {
		out = append(out, Column{
			Object: append(ParseOID("1.3.6.1.2.1.99.1.1.1"), number), Rows: rows,
			Value: func(m any, row int) Value { return cell(&m.(*moment).sensors()[row]) },
		})
	}
	return out
}

// optic gives the module that the tables show in a port, nil for none.
func (s *Switch) optic(p *Port) *Module {
	if p.module == nil && p.pulled != nil && s.quirks.Optics.Kept {
		return p.pulled.module
	}
	return p.module
}

// cage is a port and what is in it.
type cage struct {
	port   *Port
	module *Module
}

// sense gives the rows of entPhySensorTable at a time, for modules in the order
// of their entities. One that is gone by now says what it said last.
func (s *Switch) sense(of []cage, at time.Duration) (out []sensorRow) {
	s.campus.mu.Lock()
	defer s.campus.mu.Unlock()
	cables := map[*Port]*Cable{}
	for _, c := range s.campus.cables {
		if c.Media == Fibre {
			cables[c.A] = c
			cables[c.B] = c
		}
	}
	for _, c := range of {
		all := s.campus.readings(c.port, c.module, cables[c.port], at)
		if gone := c.port.pulled; gone != nil && gone.module == c.module {
			all = gone.said
		}
		for i, sensor := range c.module.sensors() {
			row := s.quirks.Optics.show(sensor.of, all[i])
			row.stamp = max(all[i].at-s.booted, 0)
			out = append(out, row)
		}
	}
	return out
}
