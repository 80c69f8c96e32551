package snmp_test

import (
	"fmt"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"

	"toneout/internal/standards"

	"github.com/stretchr/testify/require"
)

// IEEE 802.1AB-2005 clause 12 and annex G.
const (
	lldpRemEntry   = "1.0.8802.1.1.2.1.4.1.1."
	lldpDot3Entry  = "1.0.8802.1.1.2.1.5.4623.1.3.1.1."
	lldpLocalEntry = "1.0.8802.1.1.2.1.3.7.1."
)

// announce puts a neighbour into a MIB: index is TimeMark.LocalPortNum.RemIndex.
func announce(mib sim.Static, index, system string) {
	set(mib, lldpRemEntry+"4", index, sim.Integer(4)) // macAddress
	set(mib, lldpRemEntry+"5", index, sim.Octets("\x02\x00\x5e"+fmt.Sprintf("%3.3s", system)))
	set(mib, lldpRemEntry+"6", index, sim.Integer(5)) // interfaceName
	set(mib, lldpRemEntry+"7", index, sim.Octets("eth0"))
	set(mib, lldpRemEntry+"9", index, sim.Octets(system))
}

func systems(p port.Poll) (names []string) {
	for _, n := range p.Details.Neighbours {
		names = append(names, n.System+" on "+strconv.Itoa(n.Index))
	}
	return names
}

// A remote table is indexed by the time of a row's last change, so a row moves
// when it changes, and agents show rows under several marks (common practice,
// no source).
func TestNeighboursAreToldOnce(t *testing.T) {
	for name, row := range map[string]struct {
		rows [][2]string // index, name
		want []string
	}{
		"one each":                          {[][2]string{{"100.1.1", "abc"}, {"200.2.2", "def"}}, []string{"abc on 1", "def on 2"}},
		"a telephone and a computer":        {[][2]string{{"100.1.1", "abc"}, {"200.1.2", "def"}}, []string{"abc on 1", "def on 1"}},
		"one row under two marks":           {[][2]string{{"100.1.1", "old"}, {"200.1.1", "new"}}, []string{"new on 1"}},
		"one neighbour under two indexes":   {[][2]string{{"100.1.1", "abc"}, {"300.1.7", "abc"}}, []string{"abc on 1"}},
		"a port number that no port has":    {[][2]string{{"100.77.1", "abc"}}, []string{"abc on 0"}},
		"a neighbour heard on two ports":    {[][2]string{{"100.1.1", "abc"}, {"100.2.1", "abc"}}, []string{"abc on 1", "abc on 2"}},
		"one that was replaced by another":  {[][2]string{{"900.3.1", "new"}, {"100.3.1", "old"}, {"0.4.1", "abc"}}, []string{"new on 3", "abc on 4"}},
		"the greatest index that there can": {[][2]string{{"4294967295.4294967295.4294967295", "abc"}}, []string{"abc on 0"}},
	} {
		t.Run(name, func(t *testing.T) {
			mib := ports(4)
			for _, r := range row.rows {
				announce(mib, r[0], r[1])
			}
			require.Equal(t, row.want, systems(poll(t, open(t, serve(t, mib), v2c))))
		})
	}
}

// Octets as a device may send them come out as IEEE 802.1AB and the 802.3 part
// mean them: 1000BASE-T full duplex is bit 15, MAU type 30 (RFC 4836,
// IANA-MAU-MIB).
func TestWhatANeighbourSays(t *testing.T) {
	mib := ports(2)
	announce(mib, "5.2.1", "abc")
	set(mib, lldpRemEntry+"8", "5.2.1", sim.Octets("uplink\x00\x00"))
	set(mib, lldpRemEntry+"10", "5.2.1", sim.Octets("a\x1b[31m phone\r\n\xff"))
	set(mib, lldpRemEntry+"12", "5.2.1", sim.Octets("\x24"))
	set(mib, lldpDot3Entry+"3", "5.2.1", sim.Octets("\x6c\x01"))
	set(mib, lldpDot3Entry+"4", "5.2.1", sim.Integer(30))
	announce(mib, "6.1.1", "def")
	set(mib, lldpDot3Entry+"3", "6.1.1", sim.Octets("\x00\x00"))
	set(mib, lldpDot3Entry+"4", "6.1.1", sim.Integer(-1))
	set(mib, "1.0.8802.1.1.2.1.3.1", "0", sim.Integer(5)) // networkAddress
	set(mib, "1.0.8802.1.1.2.1.3.2", "0", sim.Octets("\x01\xc0\x00\x02\x09"))
	d := poll(t, open(t, serve(t, mib), v2c)).Details
	require.Equal(t, port.ID{Kind: port.IDAddress, Text: "192.0.2.9"}, d.Chassis)
	require.Len(t, d.Neighbours, 2)
	require.Equal(t, port.Value[standards.Abilities]{}, d.Neighbours[0].Offered, "no bits are no offer of nothing")
	require.Zero(t, d.Neighbours[0].MAU)
	n := d.Neighbours[1]
	offered, ok := n.Offered.Get()
	require.True(t, ok)
	require.Equal(t, standards.Gbps, offered.Fastest())
	n.Offered = port.Value[standards.Abilities]{}
	require.Equal(t, port.Neighbour{
		Index: 2, Chassis: port.ID{Kind: port.IDMAC, Text: "02:00:5e:61:62:63"}, Port: port.ID{Kind: port.IDName, Text: "eth0"},
		PortText: "uplink", System: "abc", SystemText: "a[31m phone\uFFFD", Roles: port.Roles(0).With(port.Bridge).With(port.Telephone), MAU: 30,
	}, n)
}

// restless is a remote table of which every row changes with every answer, so
// that it comes again later on: it has no end for who reads it.
type restless struct {
	sim.Static
	pdus atomic.Int64
}

func (r *restless) At(now time.Time) *sim.View {
	mib := sim.Static{}
	for object, rows := range r.Static {
		mib[object] = rows
	}
	mark := r.pdus.Add(1) * 10
	for n := range 4 {
		announce(mib, fmt.Sprintf("%d.%d.1", mark+int64(n), n+1), "ab"+strconv.Itoa(n))
	}
	return mib.At(now)
}

// Tables of neighbours that have no end harm their own poll only, by so many
// rows, octets and datagrams; what came is told once.
func TestHostileNeighbours(t *testing.T) {
	many := ports(2)
	for n := range 1_500 {
		index := fmt.Sprintf("7.1.%d", n+1)
		announce(many, index, fmt.Sprintf("%03d", n%1000))
		set(many, lldpRemEntry+"7", index, sim.Octets("p"+strconv.Itoa(n)))
	}
	wide := ports(2)
	for n := range 900 {
		index := fmt.Sprintf("7.1.%d", n+1)
		announce(wide, index, strings.Repeat("ü", 20_000))
	}
	for name, row := range map[string]struct {
		mib      sim.MIB
		varbinds int // of an answer
		why      string
		most     int
	}{
		"marks that move while they are read":  {&restless{Static: ports(4)}, 15, "seems to have no end", 4},
		"more than four a port and a thousand": {many, 0, "more than 1008 rows", 1008},
		"names of tens of thousands of octets": {wide, 0, "", 900},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t, serve(t, row.mib, func(a *sim.Agent) { a.MaxVarbinds = row.varbinds }), v2c)
			p := poll(t, s)
			table := tableOf(p, "lldpRemTable")
			require.Contains(t, table.Why, row.why)
			require.NotEmpty(t, p.Details.Neighbours)
			require.LessOrEqual(t, len(p.Details.Neighbours), row.most)
			for _, n := range p.Details.Neighbours {
				require.LessOrEqual(t, len(n.System), 255)
				require.NotEqual(t, port.ID{}, n.Chassis)
			}
			require.True(t, p.Ports[0].Counters.Has(port.FCS))
			require.Less(t, s.Traffic().Requests, 3_000)
		})
	}
}

// A port's number is resolved by what the table of local ports says of it, also
// where that is an address (ifPhysAddress, RFC 2863).
func TestANeighbourByItsPortsAddress(t *testing.T) {
	mib := ports(3)
	for i := 1; i <= 3; i++ {
		address := sim.Octets("\x02\x00\x5e\x10\x00" + string(rune(i)))
		set(mib, ifEntry+"6", strconv.Itoa(i), address)
		number := strconv.Itoa(1000 + i)
		set(mib, lldpLocalEntry+"2", number, sim.Integer(3))
		set(mib, lldpLocalEntry+"3", number, address)
	}
	announce(mib, "5.1003.1", "abc")
	require.Equal(t, []string{"abc on 3"}, systems(poll(t, open(t, serve(t, mib), v2c))))
}

// Details that are read while the switch renumbers belong to the new numbers,
// whether the switch tells so or not, or has an ifTableLastChange that stays 0
// (common practice, no source).
func TestDetailsOfPortsThatMove(t *testing.T) {
	for _, told := range []string{"yes", "no", "always 0"} {
		for after := int64(3); after < 40; after += 3 {
			t.Run(fmt.Sprintf("told %s, after %d", told, after), func(t *testing.T) {
				at := func(shift int) sim.Static {
					mib := renumbering(shift, told == "yes")
					if told == "always 0" {
						set(mib, "1.3.6.1.2.1.31.1.5", "0", sim.Ticks(0))
					}
					for i := 1; i <= 4; i++ {
						number := strconv.Itoa(i + shift)
						announce(mib, fmt.Sprintf("%d.%s.1", 100+shift, number), "ab"+strconv.Itoa(i))
						set(mib, "1.3.6.1.2.1.31.1.2.1.3", fmt.Sprintf("%d.0", i+shift), sim.Integer(1))
						entity := strconv.Itoa(10 + i)
						set(mib, "1.3.6.1.2.1.47.1.1.1.1.5", entity, sim.Integer(3))
						set(mib, "1.3.6.1.2.1.47.1.1.1.1.11", entity, sim.Octets("serial "+strconv.Itoa(i)))
						set(mib, "1.3.6.1.2.1.47.1.3.2.1.2", entity+".0", sim.ObjectID(sim.ParseOID("1.3.6.1.2.1.2.2.1.1."+number)))
					}
					return mib
				}
				mib := &shifting{}
				mib.set(at(0))
				pdus := atomic.Int64{}
				s := open(t, serve(t, mib, func(a *sim.Agent) {
					a.Mangle = func(e sim.Exchange) []sim.Datagram {
						if pdus.Add(1) == after {
							mib.set(at(2))
						}
						return e.Send()
					}
				}), v2c)
				p := poll(t, s)
				require.Len(t, p.Details.Neighbours, 4)
				for _, n := range p.Details.Neighbours {
					for _, r := range p.Ports {
						if r.Index == n.Index {
							require.Equal(t, "1/"+n.System[2:], r.Name)
						}
					}
				}
				for _, r := range p.Ports {
					sameInAll(t, &r, true)
					require.Equal(t, "serial "+r.Name[2:], r.Unit)
				}
			})
		}
	}
}
