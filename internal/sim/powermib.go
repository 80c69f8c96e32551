package sim

import (
	"math"
	"slices"
)

// pethPsePort is POWER-ETHERNET-MIB's pethPsePortTable (RFC 3621), whose index
// is a group and a number of the agent's own.
var pethPsePort = map[uint32]func(*iface) Value{
	3: func(i *iface) Value { return truth(!i.port.unfed) },
	4: func(*iface) Value { return truth(false) },
	5: func(*iface) Value { return Integer(1) }, // signal: the pairs 1-2 and 3-6
	6: func(i *iface) Value { return Integer(int64(i.feed.Status)) },
	7: func(*iface) Value { return Integer(3) }, // low, as all others
	8: func(i *iface) Value { return Counter32(i.feed.Absent) },
	9: func(*iface) Value { return Octets("") },
	// pethPsePortPowerClassifications counts the classes from 1.
	10: func(i *iface) Value { return Integer(int64(i.feed.Class + 1)) },
	11: func(i *iface) Value { return Counter32(i.feed.Invalid) },
	12: func(i *iface) Value { return Counter32(i.feed.Denied) },
	13: func(i *iface) Value { return Counter32(i.feed.Overload) },
	14: func(i *iface) Value { return Counter32(i.feed.Short) },
}

// mains is a row of pethMainPseTable: what a chassis can give and gives, W.
type mains struct {
	group       uint32
	most, given float64
}

var pethMainPse = map[uint32]func(*mains) Value{
	2: func(m *mains) Value { return Gauge32(uint64(m.most)) },
	3: func(*mains) Value { return Integer(1) }, // on
	4: func(m *mains) Value { return Gauge32(uint64(math.Round(m.given))) },
	5: func(*mains) Value { return Integer(90) }, // % at which it would tell
}

// powerColumns lays both tables out: a group for each chassis, or one for all.
func (s *Switch) powerColumns() []Column {
	var ports rowset
	for i, p := range s.present() {
		switch {
		case p.Media != Copper:
		case s.quirks.RunningPower:
			ports.add(i, 1, uint32(p.position()+1))
		default:
			ports.add(i, uint32(p.chassis.place), uint32(p.number))
		}
	}
	out := table("1.3.6.1.2.1.105.1.1.1", ports.sorted(), pethPsePort)
	var groups []OID
	for _, m := range s.mains() {
		groups = append(groups, OID{m.group})
	}
	for number, cell := range pethMainPse {
		out = append(out, Column{
			Object: append(ParseOID("1.3.6.1.2.1.105.1.3.1.1"), number), Rows: groups,
			Value: func(m any, row int) Value { return cell(&m.(*moment).mains[row]) },
		})
	}
	return out
}

// mains gives the rows of pethMainPseTable.
func (s *Switch) mains() (out []mains) {
	if s.watts == 0 {
		return nil
	}
	for _, ch := range s.chassis {
		if ch.lost {
			continue
		}
		if s.quirks.RunningPower && len(out) > 0 {
			out[0].most, out[0].given = out[0].most+s.watts, out[0].given+s.fed(ch)
			continue
		}
		out = append(out, mains{uint32(ch.place), s.watts, s.fed(ch)})
	}
	if s.quirks.RunningPower && len(out) > 0 {
		out[0].group = 1
	}
	slices.SortFunc(out, func(a, b mains) int { return int(a.group) - int(b.group) })
	return out
}
