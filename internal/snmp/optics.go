package snmp

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"toneout/internal/port"
)

// gauge is a sensor of an optic.
type gauge struct {
	sensor
	quantity
	place
	parent   uint32
	position int
}

// optics gives what the modules in the ports tell of themselves, by ifIndex, and
// why some of it could not be used.
func optics(t *tree, rows []*record, uptime port.Value[uint32]) (map[int]*port.Optic, string) {
	gauges := map[int][]gauge{}
	nowhere, old := 0, 0
	for _, row := range rows {
		g, ok := gaugeOf(t, row, uptime)
		switch {
		case !ok:
			continue
		case g.expired:
			old++
		case g.port == 0 && g.quantity != temperature:
			nowhere++
		}
		if g.port != 0 {
			gauges[g.port] = append(gauges[g.port], g)
		}
	}
	found := map[int]*port.Optic{}
	for i, of := range gauges {
		if optic, ok := t.optic(t.readings[i], of); !ok {
			nowhere += len(of)
		} else if optic != nil {
			found[i] = optic
		}
	}
	var why []string
	if nowhere > 0 {
		why = append(why, fmt.Sprintf("%d sensors of light or laser current could not be matched to a port or told apart", nowhere))
	}
	if old > 0 {
		why = append(why, fmt.Sprintf("%d values are far older than their sensors' update rate", old))
	}
	return found, strings.Join(why, "; ")
}

// gaugeOf reads a row; false where it is no sensor of an optic.
func gaugeOf(t *tree, row *record, uptime port.Value[uint32]) (gauge, bool) {
	e, known := t.all[row.at[0]]
	if !known {
		return gauge{}, false
	}
	at := t.above(row.at[0])
	g := gauge{sensor: sensorOf(row, uptime), place: at, parent: e.in, position: e.position}
	g.quantity = purpose(g.kind, e.name, e.text, at.around)
	if g.quantity == noQuantity {
		return gauge{}, false
	}
	if g.port == 0 && !g.lost {
		g.port, g.module = t.named(e.name, e.text), 0 // a board is no optic
	}
	if n, told := ownLane(e); told {
		g.lane, g.told = n, true
	}
	return g, true
}

// ownLane gives the lane that a sensor's own texts name.
func ownLane(e entity) (int, bool) {
	if n, told := laneIn(e.name); told {
		return n, true
	}
	return laneIn(e.text)
}

// optic puts together what the sensors of a port tell; nil for nothing. It is
// false where they are of several modules.
func (t *tree) optic(r *port.Reading, gauges []gauge) (*port.Optic, bool) {
	if !slices.ContainsFunc(gauges, func(g gauge) bool { return g.quantity != temperature }) {
		return nil, true // many a port without an optic has a temperature
	}
	optic, module := &port.Optic{}, uint32(0)
	for _, g := range gauges {
		if g.module != 0 && module != 0 && g.module != module {
			return nil, false
		}
		module = cmp.Or(module, g.module)
	}
	if e := t.all[module]; e.serial != r.Unit || r.Unit == "" {
		optic.Serial, optic.Model = e.serial, e.model
	}
	if !blank(gauges) {
		optic.Celsius = alone(gauges)
		optic.Lanes = lanes(gauges)
	}
	if _, warm := optic.Celsius.Get(); !warm && optic.Serial == "" && len(optic.Lanes) == 0 {
		return nil, true
	}
	return optic, true
}

// blank tells whether all sensors of a module tell 0, which is what agents show of
// a module that has none (common practice, no source): light, current and a
// temperature of exactly 0 don't go together.
func blank(gauges []gauge) bool {
	kinds := map[quantity]bool{}
	for _, g := range gauges {
		if g.tells && g.value != 0 {
			return false
		}
		kinds[g.quantity] = kinds[g.quantity] || g.tells
	}
	return len(kinds) > 1
}

// alone gives the temperature where just one sensor tells it.
func alone(gauges []gauge) (celsius port.Value[float64]) {
	seen := 0
	for _, g := range gauges {
		if g.quantity == temperature {
			celsius = g.celsius()
			seen++
		}
	}
	if seen != 1 {
		return port.Value[float64]{}
	}
	return celsius
}

// mostLanes is above what a module has.
const mostLanes = 32

// lanes sorts light and currents by lane. Which sensors belong to one lane must
// be told, unless there is but one of them.
func lanes(gauges []gauge) []port.Lane {
	of := map[quantity]map[int][]gauge{}
	var numbers []int
	for _, q := range []quantity{receivedLight, sentLight, biasCurrent} {
		of[q] = byLane(gauges, q)
		for n := range of[q] {
			if n != alongside {
				numbers = append(numbers, n)
			}
		}
	}
	first, last := 1, 1
	if len(numbers) > 0 {
		first, last = min(1, slices.Min(numbers)), slices.Max(numbers) // some count from 0
	}
	all := make([]port.Lane, last-first+1)
	for q, by := range of {
		for n, which := range by {
			switch {
			case n != alongside:
				fill(&all[n-first], q, which)
			case len(all) == 1:
				fill(&all[0], q, which)
			}
		}
	}
	if !slices.ContainsFunc(all, func(l port.Lane) bool { return l != port.Lane{} }) {
		return nil
	}
	return all
}

// alongside is the lane of a sensor that is alone of its quantity and names none.
const alongside = math.MaxInt

// byLane sorts the sensors of a quantity by the lanes that they name. Those that
// name none are sums beside others that do; where none does, their positions
// tell, if they are of one part and alike in type and unit.
func byLane(gauges []gauge, q quantity) map[int][]gauge {
	gauges = slices.DeleteFunc(slices.Clone(gauges), func(g gauge) bool { return g.quantity != q })
	lanes := map[int][]gauge{}
	for _, g := range gauges {
		if g.told && g.lane >= 0 && g.lane < mostLanes {
			lanes[g.lane] = append(lanes[g.lane], g)
		}
	}
	bare := slices.DeleteFunc(gauges, func(g gauge) bool { return g.told })
	switch {
	case len(lanes) > 0:
	case len(bare) == 1:
		lanes[alongside] = bare
	case inRow(bare):
		for i, g := range bare {
			lanes[i+1] = []gauge{g}
		}
	case len(bare) > 1:
		lanes[alongside] = bare
	}
	return lanes
}

// inRow sorts sensors by their positions; false where these don't tell them apart,
// or they may tell one value twice, in two units.
func inRow(gauges []gauge) bool {
	slices.SortFunc(gauges, func(a, b gauge) int { return cmp.Compare(a.position, b.position) })
	for i := 1; i < len(gauges); i++ {
		a, b := gauges[i-1], gauges[i]
		if a.position == b.position || a.position < 0 || a.parent != b.parent || a.kind != b.kind || a.units != b.units {
			return false
		}
	}
	return len(gauges) > 1
}

// fill gives a lane a quantity, where all sensors of it that tell one agree.
func fill(lane *port.Lane, q quantity, gauges []gauge) {
	switch q {
	case receivedLight:
		lane.Received = common(gauges, (*sensor).light)
	case sentLight:
		lane.Sent = common(gauges, (*sensor).light)
	case biasCurrent:
		lane.BiasMA = common(gauges, (*sensor).milliamperes)
	}
}

// agreement is how near, in dB or mA, two values of the same thing are.
const agreement = 0.5

func common[T port.Light | float64](gauges []gauge, read func(*sensor) port.Value[T]) (all port.Value[T]) {
	for i := range gauges {
		now, ok := read(&gauges[i].sensor).Get()
		if !ok {
			continue
		}
		before, known := all.Get()
		if known && now != before && !(math.Abs(float64(now-before)) <= agreement) {
			return port.Value[T]{}
		}
		if !known {
			all = port.Some(now)
		}
	}
	return all
}

// keptValues takes values from modules that have just been exchanged where they are
// exactly those of the modules before: agents keep values for a while.
func keptValues(before, now map[int]*port.Optic) {
	for i, optic := range now {
		old := before[i]
		if old == nil || optic.Serial == old.Serial || optic.Serial == "" || old.Serial == "" {
			continue
		}
		if optic.Celsius == old.Celsius && slices.Equal(optic.Lanes, old.Lanes) {
			optic.Celsius, optic.Lanes = port.Value[float64]{}, nil
		}
	}
}
