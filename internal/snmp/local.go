package snmp

import (
	"slices"

	"toneout/internal/port"
)

// localPort is a port as the switch tells its neighbours of it.
type localPort struct {
	id   port.ID
	text string
}

// matcher is all by which a local port number may be known for an interface.
type matcher struct {
	ports     []port.Reading
	locals    map[uint32]localPort // by lldpLocPortNum
	bridge    map[uint32]int       // dot1dBasePortIfIndex
	addresses map[int]string       // ifPhysAddress
	claimed   map[int]bool         // by a bridge port
	mixed     bool                 // some number is no bridge port but an ifIndex
}

// resolve gives the ifIndexes of local port numbers, as far as they are sure. A
// number is dot1dBasePort on bridges and ifIndex elsewhere (IEEE 802.1AB-2005,
// LldpPortNumber), but switches differ, so what the port calls itself counts
// more, and no interface has two numbers.
func (m *matcher) resolve(numbers []uint32) map[uint32]int {
	m.claimed = map[int]bool{}
	for _, i := range m.bridge {
		m.claimed[i] = true
	}
	m.mixed = slices.ContainsFunc(numbers, func(n uint32) bool { return m.bridge[n] == 0 && m.byIndex(int(n)) != 0 })
	found, sure := map[uint32]int{}, map[uint32]bool{}
	holders := map[int][]uint32{}
	for _, n := range numbers {
		if _, done := found[n]; done {
			continue
		}
		found[n], sure[n] = m.index(n)
		holders[found[n]] = append(holders[found[n]], n)
	}
	for _, rivals := range holders {
		if len(rivals) < 2 {
			continue
		}
		certain := 0
		for _, n := range rivals {
			if sure[n] {
				certain++
			}
		}
		for _, n := range rivals {
			if !sure[n] || certain > 1 {
				found[n] = 0
			}
		}
	}
	return found
}

// index gives the ifIndex of a local port number, 0 where it is open or the
// ways to it disagree; and whether it is certain.
func (m *matcher) index(number uint32) (int, bool) {
	local := m.locals[number]
	if i := m.byID(local.id); i != 0 {
		return i, true
	}
	found := 0
	for _, i := range []int{m.byText(local.id.Text), m.byText(local.text), m.byNumber(number)} {
		switch {
		case i == 0:
		case found != 0 && found != i:
			return 0, false
		default:
			found = i
		}
	}
	return found, false
}

// byID goes by what a port's identifier is by its kind.
func (m *matcher) byID(id port.ID) int {
	switch id.Kind {
	case port.IDName:
		return m.only(func(r *port.Reading) bool { return r.Name == id.Text })
	case port.IDAlias:
		return m.only(func(r *port.Reading) bool { return r.Alias == id.Text })
	case port.IDMAC:
		return m.only(func(r *port.Reading) bool { return r.Physical() && m.addresses[r.Index] == id.Text })
	}
	return 0
}

// byText goes by any name that a port has.
func (m *matcher) byText(text string) int {
	if text == "" {
		return 0
	}
	for _, name := range []func(*port.Reading) string{
		func(r *port.Reading) string { return r.Name },
		func(r *port.Reading) string { return r.Description },
		func(r *port.Reading) string { return r.Alias },
	} {
		if i := m.only(func(r *port.Reading) bool { return name(r) == text }); i != 0 {
			return i
		}
	}
	return 0
}

// byNumber goes by the bridge port, else by the ifIndex, unless that is
// another bridge port's. Where not all numbers are bridge ports, they may all be
// ifIndexes.
func (m *matcher) byNumber(number uint32) int {
	direct := m.byIndex(int(number))
	i, bridged := m.bridge[number]
	switch {
	case !bridged && m.claimed[direct], bridged && m.mixed && direct != 0 && direct != i:
		return 0
	case bridged:
		return m.only(func(r *port.Reading) bool { return r.Index == i })
	}
	return direct
}

// byIndex gives an ifIndex that is a port's.
func (m *matcher) byIndex(index int) int {
	return m.only(func(r *port.Reading) bool { return r.Index == index && r.Physical() })
}

// only gives the ifIndex of the one port that fits.
func (m *matcher) only(fits func(*port.Reading) bool) int {
	found := 0
	for i := range m.ports {
		if r := &m.ports[i]; fits(r) {
			if found != 0 {
				return 0
			}
			found = r.Index
		}
	}
	return found
}

// newMatcher takes what the switch says of its ports.
func newMatcher(ports []port.Reading, own, bridge, macs []*record) *matcher {
	m := &matcher{ports: ports, locals: map[uint32]localPort{}, bridge: map[uint32]int{}, addresses: map[int]string{}}
	for _, e := range own {
		m.locals[e.at[0]] = localPort{identifier(portKinds[:], e.values[0].number, e.values[1].text), clean(e.values[2].text)}
	}
	for _, e := range bridge {
		if e.has(0) && e.values[0].number < 1<<31 {
			m.bridge[e.at[0]] = int(e.values[0].number)
		}
	}
	for _, e := range macs {
		if len(e.values[0].text) == 6 {
			m.addresses[int(e.at[0])] = mac(e.values[0].text)
		}
	}
	return m
}
