package snmp_test

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"
	"toneout/internal/standards"

	"github.com/stretchr/testify/require"
)

// asks tells whether a request asks for something below an object.
func asks(e sim.Exchange, object string) bool {
	return e.Request != nil && slices.ContainsFunc(e.Request.Varbinds, func(v sim.Varbind) bool { return asksFor(v, object) })
}

func asksFor(v sim.Varbind, object string) bool {
	o := sim.ParseOID(object)
	return len(v.Name) >= len(o) && slices.Equal(v.Name[:len(o)], o)
}

// The speed that goes with a status is the one of the same PDU, whenever the
// link comes up. ifSpeed of a link that is down is some leftover.
func TestSpeedDuplexAndStatusAreOfOneMoment(t *testing.T) {
	down := ports(2)
	for _, row := range []string{"1", "2"} {
		set(down, ifXEntry+"15", row, sim.Gauge32(0))
		set(down, ifEntry+"5", row, sim.Gauge32(10_000_000))
		set(down, ifEntry+"7", row, sim.Integer(2))
		set(down, ifEntry+"8", row, sim.Integer(2))
		set(down, dot3Entry+"19", row, sim.Integer(1))
	}
	for change := 1; change < 6; change++ { // after so many PDUs
		mib := &shifting{}
		mib.set(down)
		left := atomic.Int64{}
		s := open(t, serve(t, mib, func(a *sim.Agent) {
			a.Mangle = func(e sim.Exchange) []sim.Datagram {
				if left.Add(-1) == 0 {
					mib.set(ports(2))
				}
				return e.Send()
			}
		}), v2c)
		poll(t, s)
		left.Store(int64(change))
		for _, r := range poll(t, s).Ports {
			up := r.Oper == port.Up
			require.Equal(t, up, r.Admin == port.Up)
			require.Equal(t, up, r.HighSpeed == port.Some[uint32](1000))
			require.Equal(t, up, r.LowSpeed == port.Some[uint32](1_000_000_000))
			require.Equal(t, up, r.DuplexStatus == standards.FullDuplex)
		}
	}
}

// renumbering is a switch whose four ports show by every value which port they
// are, with ifIndexes moved by a shift.
func renumbering(shift int, told bool) sim.Static {
	mib := sim.Static{uptimeObject: {"0": sim.Ticks(time.Hour)}, sysNameObject: {"0": sim.Octets("acc-1")}}
	for i := 1; i <= 4; i++ {
		row := strconv.Itoa(i + shift)
		set(mib, ifEntry+"3", row, sim.Integer(6))
		set(mib, ifEntry+"8", row, sim.Integer(1))
		set(mib, ifEntry+"20", row, sim.Counter32(uint64(i)))
		set(mib, ifXEntry+"1", row, sim.Octets("1/"+strconv.Itoa(i)))
		set(mib, ifXEntry+"15", row, sim.Gauge32(uint64(i)))
		set(mib, ifXEntry+"18", row, sim.Octets("run "+strconv.Itoa(i)))
		set(mib, dot3Entry+"3", row, sim.Counter32(uint64(i)))
	}
	if told {
		set(mib, "1.3.6.1.2.1.31.1.5", "0", sim.Ticks(time.Duration(shift)*time.Second)) // ifTableLastChange
	}
	return mib
}

// RFC 2863: ifTableLastChange is the sysUpTime of the last creation or deletion
// of a row. Groups joined by ifIndex must not mix two ports.
func TestIfIndexesThatMoveWithinAPoll(t *testing.T) {
	for _, row := range []struct {
		name   string
		every  int64 // PDUs from the first move to the next; 0: one move
		joined bool  // what other groups hold is there
		most   int   // varbinds of an answer
		fails  bool
	}{
		{"once", 0, true, 0, false},
		{"again in the second round", 4, false, 0, false},
		{"all the time", 1, false, 0, false}, // the first group comes in one PDU
		{"all the time, several PDUs", 1, false, 12, true},
	} {
		for after := int64(2); after < 5; after++ {
			if row.fails && after > 3 {
				continue // the first group has come by then
			}
			t.Run(fmt.Sprintf("%s, after %d PDUs", row.name, after), func(t *testing.T) {
				mib := &shifting{}
				mib.set(renumbering(0, true))
				pdus, armed := int64(0), atomic.Bool{}
				s := open(t, serve(t, mib, func(a *sim.Agent) {
					a.MaxVarbinds = row.most
					a.Mangle = func(e sim.Exchange) []sim.Datagram {
						if !armed.Load() {
							return e.Send()
						}
						pdus++
						if past := pdus - after; past == 0 || past > 0 && row.every > 0 && past%row.every == 0 {
							mib.set(renumbering(1+int(past), true))
						}
						return e.Send()
					}
				}), v2c)
				poll(t, s)
				armed.Store(true)
				p, err := s.Poll(context.Background())
				if row.fails {
					require.Equal(t, snmp.AgentError, snmp.ClassOf(err), "%v", err)
					require.ErrorContains(t, err, "ifTableLastChange")
					return
				}
				require.NoError(t, err)
				require.Len(t, p.Ports, 4)
				for i := range p.Ports {
					sameInAll(t, &p.Ports[i], row.joined)
				}
			})
		}
	}
}

// On some agents ifTableLastChange tells nothing, as it moves from answer to
// answer (common practice, no source): the switch is read all the same.
func TestAnIfTableLastChangeThatNeverRests(t *testing.T) {
	mib, pdus := &shifting{}, 0
	mib.set(renumbering(0, true))
	s := open(t, serve(t, mib, func(a *sim.Agent) {
		a.MaxVarbinds = 12
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			now := renumbering(0, true)
			pdus++
			set(now, "1.3.6.1.2.1.31.1.5", "0", sim.Ticks(time.Duration(pdus)*time.Second))
			mib.set(now)
			return e.Send()
		}
	}), v2c)
	for range 3 {
		_, err := s.Poll(context.Background())
		require.ErrorContains(t, err, "ifTableLastChange")
	}
	for range 3 {
		p := poll(t, s)
		require.Len(t, p.Ports, 4)
		for i := range p.Ports {
			sameInAll(t, &p.Ports[i], true)
		}
	}
}

// sameInAll checks that all that a reading holds is of the port it names.
func sameInAll(t *testing.T, r *port.Reading, joined bool) {
	t.Helper()
	n, err := strconv.ParseUint(strings.TrimPrefix(r.Name, "1/"), 10, 64)
	require.NoError(t, err)
	require.Equal(t, port.Some(uint32(n)), r.HighSpeed)
	fcs, ok := r.Counters.Get(port.FCS)
	require.True(t, ok)
	require.Equal(t, n, fcs)
	if out, ok := r.Counters.Get(port.OutErrors); ok {
		require.Equal(t, n, out)
	} else {
		require.False(t, joined)
	}
	if r.Alias != "" {
		require.Equal(t, "run "+strconv.FormatUint(n, 10), r.Alias)
	} else {
		require.False(t, joined)
	}
}

// What a switch doesn't have isn't asked for again.
func TestIfTableLastChangeIsAskedForWhereItIsGiven(t *testing.T) {
	for _, told := range []bool{true, false} {
		asked := atomic.Int64{}
		s := open(t, serve(t, renumbering(0, told), func(a *sim.Agent) {
			a.Mangle = func(e sim.Exchange) []sim.Datagram {
				if asks(e, "1.3.6.1.2.1.31.1.5") {
					asked.Add(1)
				}
				return e.Send()
			}
		}), v2c)
		poll(t, s)
		require.Positive(t, asked.Swap(0))
		poll(t, s)
		require.Equal(t, told, asked.Load() > 0)
	}
}

// Fewer columns are asked for once it is known which there are, so more of
// them fit into an answer. With less room still, the counters stay together.
func TestRowsThatFitOnceColumnsAreKnown(t *testing.T) {
	for _, most := range []int{10, 12, 14, 15, 16, 17, 20} {
		t.Run(fmt.Sprintf("at most %d varbinds", most), func(t *testing.T) {
			address := serve(t, &moving{still: ports(10).At(noon)}, func(a *sim.Agent) { a.MaxVarbinds = most })
			s := open(t, address, v2c)
			poll(t, s)
			for range 2 {
				for _, r := range poll(t, s).Ports {
					if most > 15 {
						ofOneMoment(t, &r)
						continue
					}
					fcs, _ := r.Counters.Get(port.FCS)
					for _, k := range []port.Counter{port.InUnicast, port.InMulticast, port.InBroadcast, port.InErrors} {
						n, ok := r.Counters.Get(k)
						require.True(t, ok)
						require.Equal(t, fcs, n, "%v of %s", k, r.Name)
					}
				}
			}
		})
	}
}
