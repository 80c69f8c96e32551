package metrics

import (
	dto "github.com/prometheus/client_model/go"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

const (
	gauge   = dto.MetricType_GAUGE
	counter = dto.MetricType_COUNTER
)

// reading is a port with what is worked out once for several series.
type reading struct {
	*fault.Port
	speaks bool // whether the run's own metrics carry this port
	frames ratio
	bits   ratio
}

type ratio struct {
	fault.Ratio
	known bool
}

// portFamily is a metric of which each port has one series, or one for each
// value of a further label.
type portFamily struct {
	name    string
	kind    dto.MetricType
	help    string
	columns []column
}

// column is one series of a port: how its value is read, false where absent.
type column struct {
	label *label // nil where there is no further label
	read  func(*reading) (float64, bool)
}

// portFamilies is what is told of every port.
var portFamilies = []portFamily{
	{"toneout_port_up", gauge, "Whether the port's link is up.", plain(up)},
	{"toneout_port_full_duplex", gauge, "Whether the link is full duplex.", plain(fullDuplex)},
	{"toneout_port_speed_bits_per_second", gauge, "Speed of the link.",
		plain(func(r *reading) (float64, bool) { return known(r.Speed) })},
	{"toneout_run_design_speed_bits_per_second", gauge, "Speed that the run, or a port without one, is meant to carry.",
		plain(func(r *reading) (float64, bool) {
			speed, ok := known(r.Meant)
			return speed, ok && r.speaks
		})},
	{"toneout_port_received_frames_total", counter, "Good frames received.",
		plain(func(r *reading) (float64, bool) { return count(r.Totals.FramesIn()) })},
	{"toneout_port_received_bytes_total", counter, "Octets received.", plain(total(port.InOctets))},
	{"toneout_port_sent_bytes_total", counter, "Octets sent.", plain(total(port.OutOctets))},
	{"toneout_port_receive_errors_total", counter, "Errors received, by the counter that tells.", []column{
		{before("error", "fcs"), total(port.FCS)},
		{before("error", "alignment"), total(port.Alignment)},
		{before("error", "symbol"), total(port.Symbol)},
		{before("error", "too_long"), total(port.TooLong)},
		{before("error", "internal"), total(port.InternalReceive)},
		{before("error", "fragment"), total(port.Fragments)},
	}},
	{"toneout_port_collisions_total", counter, "Late and excessive collisions, which a sound link has none of.", []column{
		{before("collision", "late"), total(port.LateCollisions)},
		{before("collision", "excessive"), total(port.ExcessiveCollisions)},
	}},
	{"toneout_port_link_changes_total", counter, "How often the link came or went, at least.",
		plain(func(r *reading) (float64, bool) { return float64(r.LinkChanges), true })},
	{"toneout_run_frame_error_ratio", gauge, "Damaged frames among all received in the last hour, with its 95 % interval.",
		bounds(func(r *reading) *ratio { return &r.frames })},
	{"toneout_run_bit_error_ratio", gauge, "Errored bits, at least, among all received in the last hour, with its 95 % interval.",
		bounds(func(r *reading) *ratio { return &r.bits })},
}

func plain(read func(*reading) (float64, bool)) []column { return []column{{nil, read}} }

func bounds(of func(*reading) *ratio) []column {
	return []column{
		{before("bound", "low"), func(r *reading) (float64, bool) { return of(r).Low, of(r).known }},
		{before("bound", "estimate"), func(r *reading) (float64, bool) { return of(r).Estimate, of(r).known }},
		{before("bound", "high"), func(r *reading) (float64, bool) { return of(r).High, of(r).known }},
	}
}

func total(k port.Counter) func(*reading) (float64, bool) {
	return func(r *reading) (float64, bool) { return count(r.Totals.Get(k)) }
}

func count(v uint64, ok bool) (float64, bool) { return float64(v), ok }

func known(s standards.Speed) (float64, bool) { return float64(s), s > 0 }

// up is absent where the switch itself cannot tell (RFC 2863, unknown(4)).
func up(r *reading) (float64, bool) {
	if r.Oper == port.StatusAbsent || r.Oper == port.StatusUnknown {
		return 0, false
	}
	return number(r.Oper == port.Up), true
}

func fullDuplex(r *reading) (float64, bool) {
	return number(r.Duplex == standards.FullDuplex), r.Duplex != standards.DuplexUnknown
}

func number(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// boundColumn is a column with the family that its series go to.
type boundColumn struct {
	column
	family *family
}

// portSeries is all series of one port.
type portSeries struct {
	run     string
	labels  *labels     // port, run, switch; column's label comes before them
	columns [][]*series // by the places of Exposition.columns; nil where absent
	update  uint64      // the update that last saw the port
}

// updatePorts brings the ports' series of one switch up to date. A name met
// twice counts once, since a doubled series spoils the whole scrape.
func (e *Exposition) updatePorts(s *fault.Snapshot, sw *fault.Switch, own *switchSeries) {
	if sw.Answering() {
		var r reading // of the port in hand, so that they share one allocation
		for i := range sw.Ports {
			p := &sw.Ports[i]
			slot := own.port(p, e)
			if slot.update == e.updates {
				continue
			}
			slot.update = e.updates
			r = reading{Port: p, speaks: speaks(s, p)}
			r.frames.Ratio, r.frames.known = p.FrameErrorRatio()
			r.bits.Ratio, r.bits.known = p.BitErrorRatio()
			e.updatePort(slot, &r)
		}
	}
	for name, slot := range own.ports {
		if slot.update != e.updates {
			e.dropPort(slot)
			delete(own.ports, name)
		}
	}
}

func (e *Exposition) updatePort(slot *portSeries, r *reading) {
	for g, columns := range e.columns {
		if !portGroups[g].has(r.Port) {
			e.dropGroup(slot, g)
			continue
		}
		if slot.columns[g] == nil {
			slot.columns[g] = make([]*series, len(columns))
		}
		for i := range columns {
			c := &columns[i]
			value, present := c.read(r)
			c.family.keep(&slot.columns[g][i], value, present, func() (*label, *labels) { return c.label, slot.labels })
		}
	}
}

func (e *Exposition) dropPort(slot *portSeries) {
	for g := range slot.columns {
		e.dropGroup(slot, g)
	}
}

func (e *Exposition) dropGroup(slot *portSeries, group int) {
	for i, s := range slot.columns[group] {
		if s != nil {
			e.columns[group][i].family.drop(s)
		}
	}
	slot.columns[group] = nil
}

// port finds the series of a port; a port whose run changed starts anew.
func (own *switchSeries) port(p *fault.Port, e *Exposition) *portSeries {
	slot := own.ports[p.Name]
	if slot != nil && slot.run == p.Run {
		return slot
	}
	if slot != nil {
		e.dropPort(slot)
	}
	slot = &portSeries{
		run:     p.Run,
		labels:  labelled(pair("port", p.Name), pair("run", p.Run), own.label),
		columns: make([][]*series, len(e.columns)),
	}
	own.ports[p.Name] = slot
	return slot
}

// speaks tells whether what is told of the port's run goes by this port: it
// is the run's near end, or the only one joined, or there is no run.
func speaks(s *fault.Snapshot, p *fault.Port) bool {
	return p.Run == "" || p.End == plant.NearEnd || speaker(s, p.Run) == plant.PortRef{Switch: p.Switch, Port: p.Name}
}

// speaker is the port that the metrics of a run carry: its near end, else its
// far end, else none.
func speaker(s *fault.Snapshot, run string) plant.PortRef {
	near, far := s.Joined.PortsOf(run)
	if near.Switch != "" {
		return near
	}
	return far
}
