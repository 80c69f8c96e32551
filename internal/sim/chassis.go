package sim

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"slices"
	"time"
)

// chassis is a box with a serial number: the switch, or a member of its stack.
type chassis struct {
	serial string
	supply string // its power supply's own serial number
	place  int    // in the stack, from 1
	lost   bool   // gone from the stack, without power
	base   [3]byte
}

// model is the name of the hardware, and of nothing that anybody sells.
func model(plan SwitchPlan) string {
	if plan.Copper > 0 {
		return fmt.Sprintf("FQ%d", plan.Copper)
	}
	return fmt.Sprintf("FX%d", plan.Fibre)
}

// serial gives the next serial number of a model.
func (c *Campus) serial(model string) string {
	c.serials++
	return fmt.Sprintf("%s-%04d", model, c.serials)
}

// macBase are three octets of the addresses of what has a name.
func macBase(name string) [3]byte {
	h := fnv.New32a()
	h.Write([]byte(name))
	sum := h.Sum32()
	return [3]byte{byte(sum >> 16), byte(sum >> 8), byte(sum)}
}

// mac makes a locally administered address.
func (ch *chassis) mac(i int) [6]byte {
	return [6]byte{0x02, ch.base[0], ch.base[1], ch.base[2], byte(i >> 8), byte(i)}
}

func (p *Port) mac() [6]byte { return p.chassis.mac(p.number - 1) }

// rename names a port by its place.
func (p *Port) rename() {
	p.Name = fmt.Sprintf("%d/%d", p.chassis.place, p.number)
	p.descr = fmt.Sprintf("Unit %d port %d", p.chassis.place, p.number)
}

// Serial gives the serial number of the chassis at a place, from 1.
func (s *Switch) Serial(place int) string { return s.member(place).serial }

func (s *Switch) member(place int) *chassis {
	i := slices.IndexFunc(s.chassis, func(ch *chassis) bool { return ch.place == place })
	if i < 0 {
		panic(fmt.Sprintf("switch %s has no member %d", s.Name, place))
	}
	return s.chassis[i]
}

// on gives the ports of some chassis.
func (s *Switch) on(which ...*chassis) (out []*Port) {
	for _, p := range s.ports {
		if slices.Contains(which, p.chassis) {
			out = append(out, p)
		}
	}
	return out
}

// Replace puts other hardware of the same model and configuration in the
// switch's place, cabled as before: other serial numbers, addresses and engine,
// booted once, counters from 0. first is the new first ifIndex, 0 for the old.
func (s *Switch) Replace(now time.Time, first int) {
	s.campus.Do(now, func() {
		s.reload(s.ports)
		for _, ch := range s.chassis {
			ch.serial, ch.supply = s.campus.serial(s.model), s.campus.serial("FQP")
			ch.base = macBase(ch.serial)
		}
		s.engineID = engineID(s.chassis[0].serial)
		if first > 0 {
			s.first = first
		}
		s.boot(now, 1)
		s.changed = s.booted
	})
}

// SwapMembers gives two members of a stack each other's place and reloads
// them: their ports are renamed and renumbered, the cables stay in them.
func (s *Switch) SwapMembers(now time.Time, one, other int) {
	s.campus.Do(now, func() {
		a, b := s.member(one), s.member(other)
		moved := s.on(a, b)
		s.reload(moved)
		a.place, b.place = other, one
		for _, p := range moved {
			p.rename()
		}
		slices.SortStableFunc(s.ports, func(a, b *Port) int { return cmp.Compare(a.position(), b.position()) })
		s.relaid()
	})
}

// LoseMember takes a stack's member out, without power: its ports leave the
// tables and their links fall.
func (s *Switch) LoseMember(now time.Time, place int) { s.take(now, place, true) }

// ReturnMember brings a lost member back, booted anew.
func (s *Switch) ReturnMember(now time.Time, place int) { s.take(now, place, false) }

func (s *Switch) take(now time.Time, place int, lost bool) {
	s.campus.Do(now, func() {
		ch := s.member(place)
		ch.lost = lost
		s.reload(s.on(ch))
		s.relaid()
	})
}

// Power takes the switch's power away or gives it back, with a boot. Without
// power there is no link and its agents say nothing.
func (s *Switch) Power(now time.Time, on bool) {
	s.campus.Do(now, func() { s.power(on) })
}

func (s *Switch) power(on bool) {
	if s.off == !on {
		return
	}
	s.off = !on
	boots := s.boots
	if on {
		boots++
	}
	s.boot(s.campus.start.Add(s.campus.elapsed), boots)
	s.changed = s.booted
}

// Answering says whether an agent of the switch has power to answer with.
func (s *Switch) Answering() bool {
	s.campus.mu.Lock()
	defer s.campus.mu.Unlock()
	return !s.off
}

// relaid notes that the interfaces' rows have changed.
func (s *Switch) relaid() { s.columns, s.changed = nil, s.campus.elapsed }

// present gives the ports that the tables show.
func (s *Switch) present() []*Port {
	if !slices.ContainsFunc(s.chassis, func(ch *chassis) bool { return ch.lost }) {
		return s.ports
	}
	return slices.DeleteFunc(slices.Clone(s.ports), func(p *Port) bool { return p.chassis.lost })
}
