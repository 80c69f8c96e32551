package snmp_test

import (
	"context"
	"maps"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

const (
	dot3 = "1.3.6.1.2.1.10.7" // what a view must hold for EtherLike-MIB (RFC 3635)
	lldp = "1.0.8802.1.1.2"   // IEEE 802.1AB-2005 clause 12
)

// refusing answers with an error status to whatever asks below an object
// (RFC 3413 3.2: authorizationError; noAccess as some agents have it).
func refusing(object string, status int64, position bool) func(e sim.Exchange) []sim.Datagram {
	return func(e sim.Exchange) []sim.Datagram {
		if asks(e, object) {
			genErr(e, object)
			e.Response.ErrorStatus = status
			if !position {
				e.Response.ErrorIndex = 0
			}
		}
		return e.Send()
	}
}

const noAccess = 6 // RFC 3416 3

// A table that a switch has without rows is empty; one that isn't there, or
// outside the view, is hidden. RFC 3416 4.2.1: noSuchInstance, noSuchObject.
func TestStatesOfTables(t *testing.T) {
	for name, row := range map[string]struct {
		mib    func() sim.Static
		mangle func(sim.Exchange) []sim.Datagram
		table  string
		want   port.Table
	}{
		"given": {func() sim.Static { return ports(3) }, nil, "dot3StatsTable", port.Table{State: port.TableGiven, Rows: 3, Grant: dot3}},
		"a column lacks that nothing stands for": {func() sim.Static {
			m := without(ports(3), dot3HCEntry)
			delete(m, dot3Entry+"3")
			return m
		}, nil, "dot3StatsTable", port.Table{State: port.TableGiven, Rows: 3, Missing: []string{"dot3StatsFCSErrors"}, Grant: dot3}},
		"a column lacks that a wider one stands for": {func() sim.Static {
			m := ports(3)
			delete(m, dot3Entry+"3")
			return m
		}, nil, "dot3StatsTable", port.Table{State: port.TableGiven, Rows: 3, Grant: dot3}},
		"64-bit columns lack": {func() sim.Static {
			m := ports(3)
			delete(m, ifXEntry+"6")
			delete(m, ifXEntry+"10")
			return m
		}, nil, "ifXTable", port.Table{State: port.TableGiven, Rows: 3, Missing: []string{"ifHCInOctets", "ifHCOutOctets"}, Grant: "1.3.6.1.2.1.31"}},
		"empty": {func() sim.Static {
			m := without(ports(3), dot3HCEntry)
			m[dot3HCEntry+"2"] = map[string]sim.Value{}
			return m
		}, nil, "dot3HCStatsTable", port.Table{State: port.TableEmpty, Grant: dot3}},
		"hidden":            {func() sim.Static { return without(ports(3), dot3HCEntry) }, nil, "dot3HCStatsTable", port.Table{State: port.TableHidden, Grant: dot3}},
		"a slow one hidden": {func() sim.Static { return ports(3) }, nil, "lldpRemTable", port.Table{State: port.TableHidden, Grant: lldp}},
		"a slow one empty": {func() sim.Static {
			m := ports(3)
			m["1.0.8802.1.1.2.1.4.1.1.4"] = map[string]sim.Value{}
			return m
		}, nil, "lldpRemTable", port.Table{State: port.TableEmpty, Grant: lldp}},
		"refused in the middle of the counters": {
			func() sim.Static { return ports(3) }, refusing("1.3.6.1.2.1.10.7.11", sim.AuthorizationError, false),
			"dot3HCStatsTable", port.Table{State: port.TableHidden, Grant: dot3},
		},
		"refused with its position": {
			func() sim.Static { return ports(3) }, refusing("1.3.6.1.2.1.10.7.11", noAccess, true),
			"dot3HCStatsTable", port.Table{State: port.TableHidden, Grant: dot3},
		},
		"refused as a whole": {
			func() sim.Static { return ports(3) }, refusing("1.3.6.1.2.1.26", sim.AuthorizationError, false),
			"ifMauTable", port.Table{State: port.TableHidden, Grant: "1.3.6.1.2.1.26"},
		},
		"a slow one refused": {
			func() sim.Static { return ports(3) }, refusing("1.0.8802.1.1.2.1.4", sim.AuthorizationError, false),
			"lldpRemTable", port.Table{State: port.TableHidden, Grant: lldp},
		},
	} {
		for version, credentials := range map[string]snmp.Credentials{"v2c": v2c, "v3": snmpdUser} {
			t.Run(name+"/"+version, func(t *testing.T) {
				s := open(t, serveTo(t, row.mib(), everyUser, func(a *sim.Agent) { a.Mangle = row.mangle }), credentials)
				row.want.Name = row.table
				for range 3 {
					p := poll(t, s)
					require.Len(t, p.Ports, 3)
					require.Equal(t, row.want, tableOf(p, row.table))
				}
			})
		}
	}
}

// A table that fails says why, for as long as it isn't asked again, and no
// other says anything of it. Silence of slow tables is none of the switch.
func TestBrokenTables(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct {
		object string
		bad    func(sim.Exchange) []sim.Datagram
		why    string
	}{
		"entPhysicalTable/silent": {"1.3.6.1.2.1.47.1.1", func(sim.Exchange) []sim.Datagram { return nil }, "no answer"},
		"entPhysicalTable/a status": {"1.3.6.1.2.1.47.1.1", func(e sim.Exchange) []sim.Datagram {
			genErr(e, "1.3.6.1.2.1.47")
			e.Response.ErrorIndex = 0
			return e.Send()
		}, "GenErr"},
		"ifStackTable/going round":     {"1.3.6.1.2.1.31.1.2", sim.Cyclic("1.3.6.1.2.1.31.1.2.1.3"), "no rising order"},
		"ifStackTable/one row forever": {"1.3.6.1.2.1.31.1.2", sim.Repeating("1.3.6.1.2.1.31.1.2.1.3"), "no rising order"},
		"lldpRemTable/going round":     {"1.0.8802.1.1.2.1.4.1", sim.Cyclic("1.0.8802.1.1.2.1.4.1.1"), "no rising order"},
		"lldpRemTable/too big always": {"1.0.8802.1.1.2.1.4.1", func(e sim.Exchange) []sim.Datagram {
			e.Response.ErrorStatus, e.Response.Varbinds = sim.TooBig, nil
			return e.Send()
		}, "too big"},
		"lldpRemTable/wrong instances": {"1.0.8802.1.1.2.1.4.1", func(e sim.Exchange) []sim.Datagram {
			for i := range e.Response.Varbinds {
				if v := &e.Response.Varbinds[i]; len(v.Name) > 12 {
					v.Name = append(slices.Clone(v.Name), 7)
				}
			}
			return e.Send()
		}, "no instance"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			table := name[:slices.Index([]byte(name), '/')]
			campus := sim.Quayside(1, noon)
			campus.Step = time.Second // minutes pass
			bad := atomic.Bool{}
			at := atomic.Pointer[time.Time]{}
			to := func(after time.Duration) {
				now := noon.Add(after)
				campus.Switch("acc-q2-1").At(now) // works, so that the agent needn't
				at.Store(&now)
			}
			to(time.Minute)
			address := serve(t, campus.Switch("acc-q2-1"), func(a *sim.Agent) {
				a.Now = func() time.Time { return *at.Load() }
				a.Mangle = func(e sim.Exchange) []sim.Datagram {
					if bad.Load() && asks(e, row.object) {
						return row.bad(e)
					}
					return e.Send()
				}
			})
			s := open(t, address, v2c, func(target *snmp.Target) {
				target.Timeout, target.Retries, target.SlowEvery = 2*time.Second, 0, 5*time.Minute
				target.Now = func() time.Time { return *at.Load() }
			})
			want := poll(t, s)
			require.True(t, tableOf(want, table).Given())
			bad.Store(true)
			to(6 * time.Minute)
			for range 2 {
				p := poll(t, s)
				broken := tableOf(p, table)
				require.Equal(t, port.TableBroken, broken.State)
				require.Contains(t, broken.Why, row.why)
				require.Len(t, p.Ports, 29)
				require.True(t, p.Ports[0].Counters.Has(port.FCS))
				require.Equal(t, want.Ports[0].Unit, p.Ports[0].Unit, "what was known of it counts on")
				require.NotSame(t, want.Details, p.Details)
				for _, other := range p.Tables {
					require.True(t, other.Name == table || other.State != port.TableBroken, "%+v", other)
				}
			}
			bad.Store(false)
			to(12 * time.Minute)
			p := poll(t, s)
			require.True(t, tableOf(p, table).Given())
			require.Equal(t, want.Details.Neighbours, p.Details.Neighbours)
			require.Equal(t, want.Details.Units, p.Details.Units)
		})
	}
}

// A person who grants what was hidden sees it soon, not only the day after.
func TestATableThatIsGrantedIsFoundSoon(t *testing.T) {
	campus := sim.Quayside(1, noon)
	campus.Step = time.Second
	sw := campus.Switch("acc-q2-1")
	sw.Hide("lldp", "dot3")
	minutes := atomic.Int64{}
	clock := func() time.Time { return noon.Add(time.Duration(minutes.Load()) * time.Minute) }
	s := open(t, serve(t, sw, func(a *sim.Agent) { a.Now = clock }), v2c, func(target *snmp.Target) {
		target.SlowEvery, target.Now = 5*time.Minute, clock
	})
	for _, table := range []string{"lldpRemTable", "dot3StatsTable"} {
		require.Equal(t, port.TableHidden, tableOf(poll(t, s), table).State)
	}
	sw.Hide()
	for range 7 {
		minutes.Add(1)
		sw.At(clock())
		poll(t, s)
	}
	p := poll(t, s)
	for _, table := range []string{"lldpRemTable", "dot3StatsTable"} {
		require.Equal(t, port.TableGiven, tableOf(p, table).State, table)
	}
	require.NotEmpty(t, p.Details.Neighbours)
}

// Where the question whether a table is there meets silence, nobody knows: it is
// not called hidden, and it is asked again.
func TestATableOfWhichNothingIsHeardIsNotHidden(t *testing.T) {
	t.Parallel()
	for table, object := range map[string]string{"dot3HCStatsTable": "1.3.6.1.2.1.10.7.11", "lldpRemTable": "1.0.8802.1.1.2.1.4"} {
		t.Run(table, func(t *testing.T) {
			t.Parallel()
			mib := without(ports(3), dot3HCEntry)
			mib["1.0.8802.1.1.2.1.4.1.1.4"] = map[string]sim.Value{}
			mib[dot3HCEntry+"2"] = map[string]sim.Value{}
			silent, served := atomic.Bool{}, &shifting{}
			silent.Store(true)
			served.set(mib)
			minutes := atomic.Int64{}
			s := open(t, serve(t, served, func(a *sim.Agent) {
				a.Mangle = func(e sim.Exchange) []sim.Datagram {
					if silent.Load() && e.Request.Type == sim.GetRequest && asks(e, object) {
						return nil
					}
					return e.Send()
				}
			}), v2c, func(target *snmp.Target) {
				target.Timeout, target.Retries, target.SlowEvery = 500*time.Millisecond, 0, 5*time.Minute
				target.Now = func() time.Time { return noon.Add(time.Duration(minutes.Load()) * time.Minute) }
			})
			got := tableOf(poll(t, s), table)
			require.Equal(t, port.TableBroken, got.State)
			require.Contains(t, got.Why, "no answer")
			silent.Store(false)
			minutes.Store(6)
			mib = maps.Clone(mib)
			mib[uptimeObject] = map[string]sim.Value{"0": sim.Ticks(time.Hour + 6*time.Minute)}
			served.set(mib)
			require.Equal(t, port.TableEmpty, tableOf(poll(t, s), table).State)
		})
	}
}

// Of tables that meet silence two are asked for and then no more, and the
// poll's readings are there all the same.
func TestSilenceOfAllThatIsSlow(t *testing.T) {
	t.Parallel()
	f := sim.Quayside(1, noon).Switch("acc-q2-1")
	f.At(noon.Add(time.Minute))
	asked := atomic.Int64{}
	address := serve(t, f, func(a *sim.Agent) {
		a.Now = func() time.Time { return noon.Add(time.Minute) }
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			if asks(e, "1.3.6.1.2.1.47") || asks(e, "1.0.8802.1.1.2.1.4") || asks(e, "1.3.6.1.2.1.31.1.2") {
				asked.Add(1)
				return nil
			}
			return e.Send()
		}
	})
	s := open(t, address, v2c, func(target *snmp.Target) { target.Timeout, target.Retries = time.Second, 0 })
	p := poll(t, s)
	require.Len(t, p.Ports, 29)
	require.EqualValues(t, 2, asked.Load())
	require.NotNil(t, p.Details)
	require.Equal(t, port.TableBroken, tableOf(p, "lldpRemTable").State)
}

// A table that was lost once is asked for soon, so that a part of a port isn't
// taken for a port until the slow clock's next turn; one that never answers is
// asked for ever more seldom.
func TestATableThatWasLostIsAskedForSoon(t *testing.T) {
	t.Parallel()
	f := sim.FerrowQuay(1, noon).Switch("acc-n3-1")
	seconds, asked, silent := atomic.Int64{}, atomic.Int64{}, atomic.Bool{}
	clock := func() time.Time { return noon.Add(time.Duration(seconds.Load()) * time.Second) }
	address := serve(t, f, func(a *sim.Agent) {
		a.Now = clock
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			if asks(e, "1.3.6.1.2.1.31.1.2") {
				asked.Add(1)
				if silent.Load() {
					return nil
				}
			}
			return e.Send()
		}
	})
	s := open(t, address, v2c, func(target *snmp.Target) {
		target.Timeout, target.Retries, target.SlowEvery, target.Now = 400*time.Millisecond, 0, 320*time.Second, clock
	})
	at := func(second int64) port.Poll {
		t.Helper()
		seconds.Store(second)
		f.At(clock())
		return poll(t, s)
	}
	silent.Store(true)
	p := at(1)
	require.Equal(t, port.TableBroken, tableOf(p, "ifStackTable").State)
	part := named(t, p, "1/49.20")
	require.True(t, part.Physical(), "nothing told that it lies over a port")
	silent.Store(false)
	part = named(t, at(11), "1/49.20")
	require.False(t, part.Physical())

	silent.Store(true)
	asked.Store(0)
	for _, second := range []int64{331, 341, 351, 361, 371, 401, 441, 521, 641, 801, 1001, 1101} {
		at(second)
	}
	require.EqualValues(t, 6, asked.Load(), "at once, after 10 s, 20, 40, 80 and 160 or as soon as a poll is made")
}

// A poll that runs out of time over its details still gives its readings.
func TestDetailsThatTakeTooLong(t *testing.T) {
	t.Parallel()
	address := serve(t, sim.Quayside(1, noon).Switch("acc-q2-1"), func(a *sim.Agent) {
		a.Now = func() time.Time { return noon.Add(time.Minute) }
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			if asks(e, "1.3.6.1.2.1.47") {
				return nil
			}
			return e.Send()
		}
	})
	s := open(t, address, v2c, func(target *snmp.Target) { target.Timeout = time.Hour })
	ctx, cancel := context.WithTimeout(context.Background(), 8*time.Second)
	defer cancel()
	p, err := s.Poll(ctx)
	require.NoError(t, err)
	require.Len(t, p.Ports, 29)
	require.Contains(t, tableOf(p, "entPhysicalTable").Why, "ran out of time")
}
