package snmp_test

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

// without takes objects out of a MIB.
func without(mib sim.Static, prefixes ...string) sim.Static {
	for object := range mib {
		for _, prefix := range prefixes {
			if strings.HasPrefix(object, prefix) {
				delete(mib, object)
			}
		}
	}
	return mib
}

// genErr answers with an error status for the varbind that asks below an
// object; false where none does.
func genErr(e sim.Exchange, object string) bool {
	o := sim.ParseOID(object)
	i := slices.IndexFunc(e.Request.Varbinds, func(v sim.Varbind) bool { return slices.Equal(v.Name[:min(len(o), len(v.Name))], o) })
	if i < 0 {
		return false
	}
	e.Response.ErrorStatus, e.Response.ErrorIndex, e.Response.Varbinds = sim.GenErr, int64(i+1), e.Request.Varbinds
	return true
}

// noSuch answers below an object with noSuchObject under the name asked for,
// as some agents do in GETBULK too, where RFC 3416 4.2.3 knows endOfMibView only.
func noSuch(e sim.Exchange, object string) {
	o := sim.ParseOID(object)
	if e.Request.Type != sim.GetBulkRequest {
		return
	}
	scalars := int(e.Request.ErrorStatus) // non-repeaters
	columns := e.Request.Varbinds[scalars:]
	for i := scalars; i < len(e.Response.Varbinds); i++ {
		asked := columns[(i-scalars)%len(columns)].Name
		if slices.Equal(asked[:min(len(o), len(asked))], o) {
			e.Response.Varbinds[i] = sim.Varbind{Name: asked, Value: sim.Value{Tag: sim.TagNoSuchObject}}
		}
	}
}

// What agents do that no RFC foresees (common practice, no source) must not
// cost a poll: all ports are there, with their error counters.
func TestOddAgentsArePolled(t *testing.T) {
	odd := ports(4)
	set(odd, ifEntry+"2", "3000000000", sim.Octets("odd")) // InterfaceIndex ends at 2147483647 (RFC 2863)
	set(odd, ifEntry+"8", "3000000000", sim.Integer(1))
	for name, row := range map[string]struct {
		mib    sim.Static
		mangle func(nth int, e sim.Exchange)
	}{
		"noSuchObject in GETBULK": {without(ports(4), dot3HCEntry), func(_ int, e sim.Exchange) { noSuch(e, "1.3.6.1.2.1.10.7.11") }},
		"the MIB starts over at its end": {ports(4), func(_ int, e sim.Exchange) {
			for i, v := range e.Response.Varbinds {
				if v.Value.Tag == sim.TagEndOfMibView {
					e.Response.Varbinds[i] = sim.Varbind{Name: sim.ParseOID("1.3.6.1.2.1.1.1.0"), Value: sim.Octets("switch")}
				}
			}
		}},
		"sysUpTime steps back by a tick": {ports(4), func(nth int, e sim.Exchange) {
			e.Response.Varbinds[0].Value = sim.Ticks(time.Hour + time.Duration(nth%2)*10*time.Millisecond)
		}},
		"an ifIndex out of range":          {odd, func(int, sim.Exchange) {}},
		"ifXTable alone":                   {without(ports(4), ifEntry), func(int, sim.Exchange) {}},
		"a status for FCS, once":           {without(ports(4), dot3HCEntry), func(nth int, e sim.Exchange) { _ = nth == 2 && genErr(e, dot3Entry+"3") }},
		"a status for the name, once":      {ports(4), func(nth int, e sim.Exchange) { _ = nth == 2 && genErr(e, ifXEntry+"1") }},
		"a status for alignment, always":   {ports(4), func(_ int, e sim.Exchange) { genErr(e, dot3HCEntry+"1") }},
		"a status for a change, always":    {ports(4), func(_ int, e sim.Exchange) { genErr(e, "1.3.6.1.2.1.31.1.5") }},
		"a status for descriptions, twice": {ports(4), func(nth int, e sim.Exchange) { _ = nth < 9 && genErr(e, ifEntry+"2") }},
	} {
		t.Run(name, func(t *testing.T) {
			nth := 0
			s := open(t, serve(t, row.mib, func(a *sim.Agent) {
				a.Mangle = func(e sim.Exchange) []sim.Datagram {
					nth++
					row.mangle(nth, e)
					return e.Send()
				}
			}), v2c)
			for range 3 {
				p := poll(t, s)
				require.Len(t, p.Ports, 4)
				for i, r := range p.Ports {
					require.Equal(t, "1/"+strconv.Itoa(i+1), r.Name)
					require.True(t, r.Counters.Has(port.FCS))
				}
			}
		})
	}
}

// A reading without its name, status or error counters would be worse than none.
func TestAColumnOfTheMomentThatFailsFailsThePoll(t *testing.T) {
	for name, object := range map[string]string{"ifName": ifXEntry + "1", "FCS": dot3HCEntry + "2", "status": ifEntry + "8"} {
		t.Run(name, func(t *testing.T) {
			armed := atomic.Bool{}
			s := open(t, serve(t, ports(20), func(a *sim.Agent) {
				a.Mangle = func(e sim.Exchange) []sim.Datagram {
					if armed.Load() {
						genErr(e, object)
					}
					return e.Send()
				}
			}), v2c)
			poll(t, s)
			armed.Store(true)
			_, err := s.Poll(context.Background())
			require.Equal(t, snmp.AgentError, snmp.ClassOf(err), "%v", err)
			armed.Store(false)
			require.Len(t, poll(t, s).Ports, 20)
		})
	}
}

// tableOf gives a table of a poll.
func tableOf(p port.Poll, name string) port.Table {
	return p.Tables[slices.IndexFunc(p.Tables, func(t port.Table) bool { return t.Name == name })]
}

const maus, outErrors = "1.3.6.1.2.1.26", ifEntry + "20"

// badTables are agents that answer badly for what lies below an object.
var badTables = map[string]struct {
	object string
	bad    func(e sim.Exchange) []sim.Datagram
	class  snmp.Class
}{
	"MAUs are silent": {maus, func(sim.Exchange) []sim.Datagram { return nil }, ""},
	"MAUs in disorder": {maus, func(e sim.Exchange) []sim.Datagram {
		slices.Reverse(e.Response.Varbinds[1:])
		return e.Send()
	}, ""},
	"MAUs of the wrong length": {maus, func(e sim.Exchange) []sim.Datagram {
		for i := range e.Response.Varbinds[1:] {
			v := &e.Response.Varbinds[1+i]
			v.Name = append(slices.Clone(v.Name), 7)
		}
		return e.Send()
	}, ""},
	"MAUs with a status": {maus, func(e sim.Exchange) []sim.Datagram { genErr(e, maus); return e.Send() }, ""},
	"other counters too big": {outErrors, func(e sim.Exchange) []sim.Datagram {
		e.Response.ErrorStatus, e.Response.Varbinds = sim.TooBig, nil
		return e.Send()
	}, ""},
	"other counters are silent": {outErrors, func(sim.Exchange) []sim.Datagram { return nil }, ""},
	"silence after one group":   {ifEntry + "13", func(sim.Exchange) []sim.Datagram { return nil }, snmp.NoAnswer},
	"silence from the start":    {uptimeObject, func(sim.Exchange) []sim.Datagram { return nil }, snmp.NoAnswer},
}

// A table beyond status and error counters that fails is absent, no more.
func TestOneBadTableDoesNotHideTheOthers(t *testing.T) {
	with := func(lastChange time.Duration) sim.Static {
		mib := ports(4)
		for i := 1; i <= 4; i++ {
			set(mib, mauEntry+"3", strconv.Itoa(i)+".1", sim.ObjectID(sim.OID{1, 3, 6, 1, 2, 1, 26, 4, 30}))
			set(mib, mauEntry+"6", strconv.Itoa(i)+".1", sim.Counter32(1))
		}
		set(mib, ifEntry+"9", "4", sim.Ticks(lastChange))
		return mib
	}
	for name, row := range badTables {
		t.Run(name, func(t *testing.T) {
			bad, dead := atomic.Bool{}, atomic.Bool{}
			mib := &shifting{}
			mib.set(with(time.Minute))
			s := open(t, serve(t, mib, func(a *sim.Agent) {
				a.Mangle = func(e sim.Exchange) []sim.Datagram {
					if bad.Load() && (dead.Load() || asks(e, row.object)) {
						dead.Store(row.class != "")
						return row.bad(e)
					}
					return e.Send()
				}
			}), v2c, func(target *snmp.Target) { target.Timeout, target.Retries = 100*time.Millisecond, 0 })
			require.True(t, tableOf(poll(t, s), "ifMauTable").Given())
			bad.Store(true)
			mib.set(with(2 * time.Minute)) // the link of the fourth port changes
			for range 2 {
				p, err := s.Poll(context.Background())
				require.Equal(t, row.class, snmp.ClassOf(err), "%v", err)
				if row.class != "" {
					continue
				}
				require.Len(t, p.Ports, 4)
				require.True(t, p.Ports[3].Counters.Has(port.FCS))
				require.Equal(t, row.object != maus, tableOf(p, "ifMauTable").Given())
				if name != "MAUs in disorder" { // a single value has no order
					require.Equal(t, row.object != maus, p.Ports[3].MAU == 30)
				}
				require.Equal(t, 30, p.Ports[0].MAU, "kept, as its link did not change")
				require.Equal(t, row.object != outErrors, p.Ports[3].Counters.Has(port.OutErrors))
			}
		})
	}
}

func TestATableThatWentAwayIsNotGiven(t *testing.T) {
	mib := &shifting{}
	mib.set(ports(4))
	s := open(t, serve(t, mib), v2c)
	for range 2 {
		require.Equal(t, port.Table{Name: "dot3StatsTable", State: port.TableGiven, Rows: 4, Grant: "1.3.6.1.2.1.10.7"}, tableOf(poll(t, s), "dot3StatsTable"))
	}
	mib.set(without(ports(4), dot3Entry))
	require.Equal(t, port.Table{Name: "dot3StatsTable", State: port.TableHidden, Grant: "1.3.6.1.2.1.10.7"}, tableOf(poll(t, s), "dot3StatsTable"))
}

// A tunnel that comes and goes is no reason to look for all columns again.
func TestVirtualRowsThatComeAndGoCostLittle(t *testing.T) {
	mib := &shifting{}
	with := func(n int) sim.Static {
		m := ports(24)
		set(m, ifEntry+"3", "900", sim.Integer(131)) // tunnel, IANAifType-MIB
		set(m, ifEntry+"8", "900", sim.Integer(1))
		set(m, ifXEntry+"1", "900", sim.Octets("tunnel"+strconv.Itoa(n)))
		return m
	}
	mib.set(with(0))
	s := open(t, serve(t, mib), v2c)
	for range 3 {
		poll(t, s)
	}
	steady := s.Traffic().Requests
	for n := range 5 {
		mib.set(with(n + 1))
		poll(t, s)
		require.LessOrEqual(t, s.Traffic().Requests, steady+1)
	}
}

// A late copy of an earlier answer says nothing about the silence after it.
func TestSilenceAfterADoubledAnswer(t *testing.T) {
	n := 0
	s := open(t, serve(t, ports(12), func(a *sim.Agent) {
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			if n++; n >= 3 {
				return nil
			}
			return append(e.Send(), e.Send()...)
		}
	}), v2c, func(target *snmp.Target) { target.Timeout = 100 * time.Millisecond })
	_, err := s.Poll(context.Background())
	require.Equal(t, snmp.NoAnswer, snmp.ClassOf(err), "%v", err)
}

func TestLongNamesAreCut(t *testing.T) { // DisplayString has 255 octets at most (RFC 2579)
	mib := ports(2)
	set(mib, ifXEntry+"18", "1", sim.Octets(strings.Repeat("ü", 15_000)))
	p := poll(t, open(t, serve(t, mib), v2c))
	require.Equal(t, strings.Repeat("ü", 127), p.Ports[0].Alias)
}

func TestSparseIfIndexesAndEmptyNames(t *testing.T) {
	empty := sim.Static{uptimeObject: {"0": sim.Ticks(time.Hour)}, sysNameObject: {"0": sim.Octets("acc-1")}}
	require.Empty(t, poll(t, open(t, serve(t, empty), v2c)).Ports)
	mib := sim.Static{uptimeObject: {"0": sim.Ticks(time.Hour)}, sysNameObject: {"0": sim.Octets("acc-1")}}
	for _, i := range []int{1, 49, 10101, 1073741824, 2147483647} {
		row := strconv.Itoa(i)
		set(mib, ifEntry+"8", row, sim.Integer(1))
		set(mib, ifXEntry+"1", row, sim.Octets(""))
		set(mib, dot3Entry+"3", row, sim.Counter32(uint64(i)))
		set(mib, dot3HCEntry+"2", row, sim.Counter32(uint64(i))) // of the wrong type
	}
	s := open(t, serve(t, mib), v2c)
	for range 2 {
		p := poll(t, s)
		require.Len(t, p.Ports, 5)
		for _, r := range p.Ports {
			n, ok := r.Counters.Get(port.FCS)
			require.True(t, ok)
			require.EqualValues(t, r.Index, n)
			require.False(t, r.Counters.Wide(port.FCS))
		}
	}
}
