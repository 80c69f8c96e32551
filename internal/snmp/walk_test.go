package snmp_test

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

// moving is a MIB in which everything that counts shows how many PDUs were
// answered, and sysUpTime too: values of two PDUs never agree.
type moving struct {
	still *sim.View
	pdus  atomic.Int64
}

const movingStart = 360_000 // sysUpTime of the first PDU, 1/100 s

func (m *moving) At(time.Time) *sim.View {
	n := uint64(m.pdus.Add(1))
	view := &sim.View{Columns: slices.Clone(m.still.Columns)}
	for i := range view.Columns {
		still := view.Columns[i].Value
		view.Columns[i].Value = func(moment any, row int) sim.Value {
			v := still(moment, row)
			switch v.Tag {
			case sim.TagCounter32, sim.TagCounter64:
				v.Number = n
			case sim.TagTimeTicks:
				v.Number = movingStart + n
			}
			return v
		}
	}
	return view
}

// ofOneMoment checks that all of a row's error arithmetic came in the PDU that
// gave it its uptime.
func ofOneMoment(t *testing.T, r *port.Reading) {
	t.Helper()
	uptime, ok := r.Uptime.Get()
	require.True(t, ok)
	require.Equal(t, port.Some(uptime), r.LastChange)
	for _, k := range []port.Counter{port.FCS, port.Alignment, port.InUnicast, port.InMulticast, port.InBroadcast, port.InOctets, port.InErrors} {
		if n, ok := r.Counters.Get(k); ok {
			require.Equal(t, uint64(uptime-movingStart), n, "%v of %s", k, r.Name)
		}
	}
}

// RFC 3416 4.2.3 lets an agent end a response anywhere, so columns come in
// pieces of uneven length; and a table may lack rows that its neighbours have.
func TestRowsAreNeverTorn(t *testing.T) {
	const rows = 40
	holes := ports(rows)
	for i := 1; i <= rows; i++ {
		row := strconv.Itoa(i)
		if i%3 != 0 { // no 64-bit counters at low speed (RFC 2863 3.1.6)
			for column := 6; column <= 13; column++ {
				delete(holes[ifXEntry+strconv.Itoa(column)], row)
			}
		}
		for object := range holes {
			dot3HC := len(object) > len(dot3HCEntry) && object[:len(dot3HCEntry)] == dot3HCEntry
			dot3 := len(object) > len(dot3Entry) && object[:len(dot3Entry)] == dot3Entry
			if dot3HC && i%5 != 0 || dot3 && i <= 4 || dot3 && i >= 36 {
				delete(holes[object], row)
			}
		}
	}
	for _, most := range []int{0, 100, 23, 19, 5} {
		for name, mib := range map[string]sim.Static{"all rows": ports(rows), "with holes": holes} {
			t.Run(fmt.Sprintf("%s, at most %d varbinds", name, most), func(t *testing.T) {
				address := serve(t, &moving{still: mib.At(noon)}, func(a *sim.Agent) { a.MaxVarbinds = most })
				s := open(t, address, v2c)
				for range 3 {
					p := poll(t, s)
					require.Len(t, p.Ports, rows)
					for i := range p.Ports {
						r := &p.Ports[i]
						require.Equal(t, i+1, r.Index)
						require.Equal(t, "1/"+strconv.Itoa(i+1), r.Name)
						if most == 0 || most > 22 { // else not even one row of the group fits
							ofOneMoment(t, r)
						}
						for _, k := range []port.Counter{port.InOctets, port.InUnicast, port.OutBroadcast} {
							require.True(t, r.Counters.Has(k))
							require.Equal(t, mib[ifXEntry+"6"][strconv.Itoa(i+1)].Tag != 0, r.Counters.Wide(k), "%v of %s", k, r.Name)
						}
						wide, narrow := mib[dot3HCEntry+"2"][strconv.Itoa(i+1)].Tag != 0, mib[dot3Entry+"3"][strconv.Itoa(i+1)].Tag != 0
						require.Equal(t, wide || narrow, r.Counters.Has(port.FCS), "FCS of %s", r.Name)
						require.Equal(t, wide, r.Counters.Wide(port.FCS), "FCS of %s", r.Name)
					}
				}
			})
		}
	}
}

func TestSmallMessages(t *testing.T) {
	for _, size := range []int{484, 700, 1472} { // 484: the least that RFC 3417 3.2.1 allows
		for name, credentials := range map[string]snmp.Credentials{"v2c": v2c, "v3": snmpdUser} {
			t.Run(fmt.Sprint(size, name), func(t *testing.T) {
				want := poll(t, open(t, serve(t, ports(24)), v2c))
				address := serveTo(t, ports(24), everyUser, func(a *sim.Agent) { a.MaxMessage = size })
				got := poll(t, open(t, address, credentials))
				require.Len(t, got.Ports, 24)
				for i := range got.Ports {
					want.Ports[i].At, got.Ports[i].At = time.Time{}, time.Time{}
					require.Equal(t, want.Ports[i], got.Ports[i])
				}
			})
		}
	}
}

// shifting serves one MIB after another.
type shifting struct{ now atomic.Pointer[sim.View] }

func (s *shifting) At(time.Time) *sim.View { return s.now.Load() }

func (s *shifting) set(mib sim.Static) { s.now.Store(mib.At(noon)) }

func TestAPortThatLosesItsWideCountersKeepsCounting(t *testing.T) {
	mib := &shifting{}
	mib.set(ports(8))
	s := open(t, serve(t, mib), v2c)
	require.True(t, poll(t, s).Ports[4].Counters.Wide(port.InOctets))

	slow := ports(8)
	for column := 6; column <= 13; column++ {
		delete(slow[ifXEntry+strconv.Itoa(column)], "5")
	}
	mib.set(slow)
	p := poll(t, s)
	for i, r := range p.Ports {
		for _, k := range []port.Counter{port.InOctets, port.InUnicast, port.OutMulticast} {
			require.True(t, r.Counters.Has(k))
			require.Equal(t, i != 4, r.Counters.Wide(k))
		}
	}
	octets, _ := p.Ports[4].Counters.Get(port.InOctets)
	require.Equal(t, slow[ifEntry+"10"]["5"].Number, octets)

	mib.set(ports(8))
	require.True(t, poll(t, s).Ports[4].Counters.Wide(port.InOctets))
}

// What isn't there isn't asked for again, until there is a reason to.
func TestDiscovery(t *testing.T) {
	mib := &shifting{}
	young := ports(6)
	for column := 1; column <= 6; column++ {
		delete(young, dot3HCEntry+strconv.Itoa(column))
	}
	mib.set(young)
	var asked atomic.Int64 // names below dot3HCStatsTable in requests
	s := open(t, serve(t, mib, func(a *sim.Agent) {
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			for _, v := range e.Request.Varbinds {
				if slices.Equal(v.Name[:min(9, len(v.Name))], sim.ParseOID("1.3.6.1.2.1.10.7.11")) {
					asked.Add(1)
				}
			}
			return e.Send()
		}
	}), v2c)
	given := func(p port.Poll, table string) port.Table {
		i := slices.IndexFunc(p.Tables, func(t port.Table) bool { return t.Name == table })
		return p.Tables[i]
	}
	p := poll(t, s)
	require.Equal(t, port.Table{Name: "dot3HCStatsTable", State: port.TableHidden, Grant: "1.3.6.1.2.1.10.7"}, given(p, "dot3HCStatsTable"))
	require.Equal(t, port.Table{Name: "dot3StatsTable", State: port.TableGiven, Rows: 6, Grant: "1.3.6.1.2.1.10.7"}, given(p, "dot3StatsTable"))
	require.Positive(t, asked.Swap(0))
	poll(t, s)
	require.Zero(t, asked.Load(), "asked again for a table that isn't there")

	restarted := ports(6)
	set(restarted, uptimeObject, "0", sim.Ticks(time.Second))
	mib.set(restarted)
	p = poll(t, s)
	require.True(t, given(p, "dot3HCStatsTable").Given(), "after a restart")
	require.True(t, p.Ports[0].Counters.Wide(port.FCS))

	mib.set(young)
	poll(t, s) // the uptime doesn't fit
	grown := ports(7)
	mib.set(grown)
	poll(t, s) // with one more name
	p = poll(t, s)
	require.Equal(t, port.Table{Name: "dot3HCStatsTable", State: port.TableGiven, Rows: 7, Grant: "1.3.6.1.2.1.10.7"}, given(p, "dot3HCStatsTable"))
}

// endless is an ifXTable of more rows than any switch has.
type endless struct{ view sim.View }

func (e *endless) At(time.Time) *sim.View { return &e.view }

// A table without end harms its own poll only.
func TestAnEndlessTable(t *testing.T) {
	mib := &endless{}
	rows := make([]sim.OID, 10_050)
	for i := range rows {
		rows[i] = sim.OID{uint32(i + 1)}
	}
	for column := uint32(1); column < 20; column++ {
		mib.view.Columns = append(mib.view.Columns, sim.Column{
			Object: sim.OID{1, 3, 6, 1, 2, 1, 31, 1, 1, 1, column}, Rows: rows,
			Value: func(any, int) sim.Value { return sim.Counter64(1) },
		})
	}
	s := open(t, serve(t, mib), v2c)
	began := time.Now()
	_, err := s.Poll(context.Background())
	require.Equal(t, snmp.Malformed, snmp.ClassOf(err), "%v", err)
	require.Contains(t, err.Error(), "10000 rows")
	require.Less(t, time.Since(began), time.Minute)
}

func TestThePollEndsWithItsContext(t *testing.T) {
	silent := make(chan struct{}, 100)
	address := serve(t, ports(3), func(a *sim.Agent) {
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			if len(e.Request.Varbinds) > 2 { // answers the first contact only
				silent <- struct{}{}
				return nil
			}
			return e.Send()
		}
	})
	slow := func(target *snmp.Target) { target.Timeout = time.Hour }
	t.Run("canceled", func(t *testing.T) {
		ctx, cancel := context.WithCancel(context.Background())
		go func() { <-silent; cancel() }()
		_, err := open(t, address, v2c, slow).Poll(ctx)
		require.Equal(t, snmp.Canceled, snmp.ClassOf(err), "%v", err)
		require.ErrorIs(t, err, context.Canceled)
	})
	t.Run("deadline", func(t *testing.T) {
		ctx, cancel := context.WithTimeout(context.Background(), 200*time.Millisecond)
		defer cancel()
		_, err := open(t, address, v2c, slow).Poll(ctx)
		require.Equal(t, snmp.Deadline, snmp.ClassOf(err), "%v", err)
		require.ErrorIs(t, err, context.DeadlineExceeded)
	})
	t.Run("deadline without any answer", func(t *testing.T) {
		ctx, cancel := context.WithTimeout(context.Background(), 200*time.Millisecond)
		defer cancel()
		_, err := open(t, address, v2cOf("stranger"), slow).Poll(ctx)
		require.Equal(t, snmp.NoAnswer, snmp.ClassOf(err), "%v", err)
	})
}

func TestValuesOfTheWrongTypeOrOutOfRangeAreAbsent(t *testing.T) {
	mib := ports(2)
	set(mib, dot3Entry+"3", "1", sim.Gauge32(5))
	delete(mib, dot3HCEntry+"2")
	set(mib, ifEntry+"14", "1", sim.Counter64(5))
	set(mib, ifEntry+"8", "1", sim.Integer(8)) // ifOperStatus ends at 7 (RFC 2863)
	set(mib, ifEntry+"7", "1", sim.Octets("up"))
	set(mib, dot3Entry+"19", "1", sim.Integer(0))
	set(mib, ifXEntry+"15", "1", sim.Integer(1000))
	set(mib, ifXEntry+"17", "1", sim.Integer(-1))
	set(mib, ifXEntry+"19", "1", sim.Value{Tag: sim.TagNoSuchInstance})
	set(mib, ifXEntry+"1", "1", sim.Octets(" 1/1\x00\x07\xff\x00\x00"))
	p := poll(t, open(t, serve(t, mib), v2c))
	r := p.Ports[0]
	require.False(t, r.Counters.Has(port.FCS))
	require.False(t, r.Counters.Has(port.InErrors))
	require.Equal(t, port.StatusAbsent, r.Oper)
	require.Equal(t, port.StatusAbsent, r.Admin)
	require.Zero(t, r.DuplexStatus)
	require.Equal(t, port.Value[uint32]{}, r.HighSpeed)
	require.Equal(t, port.NotTold, r.Connector)
	require.Equal(t, port.Value[uint32]{}, r.Discontinuity)
	require.Equal(t, "1/1\uFFFD", r.Name)
	require.True(t, p.Ports[1].Counters.Has(port.FCS))
	require.True(t, p.Ports[1].Counters.Has(port.InErrors))
}

func TestTheOperationalMAUOfAPort(t *testing.T) {
	mib := ports(3)
	mau := func(row string, kind uint32, status int64, exits uint64) {
		set(mib, mauEntry+"3", row, sim.ObjectID(sim.OID{1, 3, 6, 1, 2, 1, 26, 4, kind}))
		set(mib, mauEntry+"4", row, sim.Integer(status))
		set(mib, mauEntry+"6", row, sim.Counter32(exits))
		set(mib, mauEntry+"12", row, sim.Integer(1))
		set(mib, autoNegEntry+"1", row, sim.Integer(2))
		set(mib, autoNegEntry+"11", row, sim.Octets("\x6c\x01"))
	}
	mau("1.1", 30, 4, 1) // standby (RFC 4836)
	mau("1.2", 16, 3, 2) // operational
	mau("2.4", 30, 5, 3) // shutdown
	mau("2.7", 16, 4, 4)
	p := poll(t, open(t, serve(t, mib), v2c))
	for i, want := range []struct {
		mau   int
		exits uint64
	}{{16, 2}, {30, 3}} {
		r := p.Ports[i]
		exits, ok := r.Counters.Get(port.MediaExits)
		require.True(t, ok)
		require.Equal(t, want.exits, exits)
		require.Equal(t, want.mau, r.MAU)
		require.Equal(t, port.Yes, r.AutoNeg.Supported)
		require.Equal(t, port.No, r.AutoNeg.Enabled)
		received, ok := r.AutoNeg.Received.Get()
		require.True(t, ok)
		require.True(t, received.Offers(1_000_000_000))
		_, ok = r.AutoNeg.Capable.Get()
		require.False(t, ok)
	}
	require.Zero(t, p.Ports[2].MAU)
	require.False(t, p.Ports[2].Counters.Has(port.MediaExits))
}
