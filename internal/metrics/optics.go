package metrics

import (
	"strconv"

	"toneout/internal/fault"
	"toneout/internal/port"
)

// mostLanes is how many lanes are told of one optic: the most that a PHY of
// IEEE 802.3 has (400GBASE-SR16; memory).
const mostLanes = 16

// opticFamilies are told of ports whose optic tells of itself. Light is in dBm,
// and no light at all is -Inf.
var opticFamilies = []portFamily{
	{"toneout_port_received_light_dbm", gauge, "Light that the optic receives, by its lane; -Inf is none at all.",
		byLane(func(l *port.Lane) port.Value[port.Light] { return l.Received }, 1)},
	{"toneout_port_sent_light_dbm", gauge, "Light that the optic sends, by its lane; -Inf is none at all.",
		byLane(func(l *port.Lane) port.Value[port.Light] { return l.Sent }, 1)},
	{"toneout_port_laser_bias_amperes", gauge, "Current of the optic's laser, by its lane.",
		byLane(func(l *port.Lane) port.Value[float64] { return l.BiasMA }, 1000)},
	{"toneout_port_optic_temperature_celsius", gauge, "Temperature of the optic.",
		plain(func(r *reading) (float64, bool) { return r.Optic.Celsius.Get() })},
}

// byLane is a column for each lane, of a value in parts of the metric's unit.
func byLane[T ~float64](of func(*port.Lane) port.Value[T], parts float64) (columns []column) {
	for i := range mostLanes {
		columns = append(columns, column{before("lane", strconv.Itoa(i+1)), func(r *reading) (float64, bool) {
			if i >= len(r.Optic.Lanes) {
				return 0, false
			}
			v, told := of(&r.Optic.Lanes[i]).Get()
			return float64(v) / parts, told
		}})
	}
	return columns
}

// powerFamilies are told of ports that feed their far end. The counters are
// the switch's own (RFC 3621), so that they may start anywhere.
var powerFamilies = []portFamily{
	{"toneout_port_power_events_total", counter, "What became of power over the pairs: short and overload cut it, denied is a switch that had none left, absent a device that stopped drawing, invalid one that wants none.", []column{
		{before("event", "absent"), powerEvent(func(p *port.Power) port.Value[uint32] { return p.Absent })},
		{before("event", "denied"), powerEvent(func(p *port.Power) port.Value[uint32] { return p.Denied })},
		{before("event", "invalid"), powerEvent(func(p *port.Power) port.Value[uint32] { return p.Invalid })},
		{before("event", "overload"), powerEvent(func(p *port.Power) port.Value[uint32] { return p.Overloads })},
		{before("event", "short"), powerEvent(func(p *port.Power) port.Value[uint32] { return p.Shorts })},
	}},
}

func powerEvent(of func(*port.Power) port.Value[uint32]) func(*reading) (float64, bool) {
	return func(r *reading) (float64, bool) {
		v, told := of(r.Power).Get()
		return float64(v), told
	}
}

// portGroups are the families that a port has all together or not at all.
var portGroups = []struct {
	has      func(*fault.Port) bool
	families []portFamily
}{
	{func(*fault.Port) bool { return true }, portFamilies},
	{func(p *fault.Port) bool { return p.Optic != nil }, opticFamilies},
	{func(p *fault.Port) bool { return p.Power != nil }, powerFamilies},
}
