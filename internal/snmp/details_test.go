package snmp_test

import (
	"encoding/hex"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

// ferrow is a switch of the demo campus on a clock that the test moves.
type ferrow struct {
	*sim.Campus
	*sim.Switch
	now     atomic.Pointer[time.Time]
	asked   atomic.Int64 // requests for lldpRemTable
	address string
}

func startFerrow(t testing.TB, campus *sim.Campus, name string) *ferrow {
	f := &ferrow{Campus: campus, Switch: campus.Switch(name)}
	f.to(time.Minute)
	f.address = serveTo(t, f.Switch, everyUser, func(a *sim.Agent) {
		a.Now = func() time.Time { return *f.now.Load() }
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			if asks(e, "1.0.8802.1.1.2.1.4.1.1") {
				f.asked.Add(1)
			}
			return e.Send()
		}
	})
	return f
}

func (f *ferrow) to(after time.Duration) {
	now := noon.Add(after)
	f.now.Store(&now)
}

// clock lets a switch be polled by the campus's clock.
func (f *ferrow) clock(target *snmp.Target) { target.Now = func() time.Time { return *f.now.Load() } }

// What the demo campus knows of its switches is what is read of them: serial
// numbers, sub-interfaces and groups, neighbours.
func TestDetailsOfTheDemoCampus(t *testing.T) {
	optics, feeding := 0, 0
	for _, campus := range []*sim.Campus{sim.FerrowQuay(1, noon), sim.Quayside(1, noon)} {
		for _, sw := range campus.Switches() {
			t.Run(sw.Name, func(t *testing.T) {
				f := startFerrow(t, campus, sw.Name)
				p := poll(t, open(t, f.address, v2c, f.clock))
				require.NotNil(t, p.Details)
				require.Equal(t, hex.EncodeToString(f.Engine(noon).ID), p.Engine)
				physical := map[string]*port.Reading{}
				for i := range p.Ports {
					if r := &p.Ports[i]; r.Physical() {
						physical[r.Name] = r
					}
				}
				require.Len(t, physical, len(f.Ports()), "neither sub-interfaces nor groups are ports")
				units := map[string]bool{}
				for _, u := range p.Details.Units {
					units[u.Serial] = true
				}
				for _, at := range f.Ports() {
					r := physical[at.Name]
					require.NotNil(t, r, at.Name)
					place := int(at.Name[0] - '0')
					require.Equal(t, f.Serial(place), r.Unit, at.Name)
					require.True(t, units[r.Unit])
					optic, power := p.Details.Optics[r.Index], p.Details.Power
					if m := at.Module(); m != nil {
						require.NotNil(t, optic, at.Name)
						require.Equal(t, m.Serial, optic.Serial, at.Name)
					} else {
						require.Nil(t, optic, at.Name)
					}
					_, feeds := power[r.Index]
					require.Equal(t, at.Media == sim.Copper && len(power) > 0, feeds, at.Name)
				}
				for _, table := range p.Tables {
					require.Empty(t, table.Why, table.Name)
				}
				optics, feeding = optics+len(p.Details.Optics), feeding+len(p.Details.Power)
				var want []sim.Neighbour
				for _, n := range f.Neighbours(*f.now.Load()) {
					want = append(want, sim.Neighbour{Port: n.Port, SystemName: n.SystemName})
				}
				var got []sim.Neighbour
				for _, n := range p.Details.Neighbours {
					i := slices.IndexFunc(p.Ports, func(r port.Reading) bool { return r.Index == n.Index })
					require.GreaterOrEqual(t, i, 0, "%+v", n)
					got = append(got, sim.Neighbour{Port: p.Ports[i].Name, SystemName: n.System})
				}
				require.ElementsMatch(t, want, got)
			})
		}
	}
	require.Greater(t, optics, 50)
	require.Greater(t, feeding, 400)
}

// The same details are handed out until their time, and are asked for at once
// where what they are about may have changed.
func TestWhenDetailsAreAskedFor(t *testing.T) {
	campus := sim.FerrowQuay(1, noon)
	campus.Step = time.Second // minutes pass
	f := startFerrow(t, campus, "acc-n1-1")
	s := open(t, f.address, snmpdUser, f.clock, func(target *snmp.Target) { target.SlowEvery = 5 * time.Minute })
	at := time.Minute
	next := func(after time.Duration) port.Poll {
		at += after
		f.to(at)
		f.asked.Store(0)
		return poll(t, s)
	}
	first := next(0)
	require.Positive(t, f.asked.Load())
	for range 4 {
		p := next(time.Minute)
		require.Same(t, first.Details, p.Details)
		require.Zero(t, f.asked.Load())
		require.Equal(t, first.Ports[7].Unit, p.Ports[7].Unit)
		require.Equal(t, first.Ports[7].Description, p.Ports[7].Description)
		require.NotEmpty(t, p.Ports[7].Unit)
	}
	due := next(time.Minute)
	require.NotSame(t, first.Details, due.Details)
	require.Equal(t, *f.now.Load(), due.Details.At)

	f.Renumber(100) // without a restart
	renumbered := next(time.Minute)
	require.NotSame(t, due.Details, renumbered.Details)
	for i, n := range renumbered.Details.Neighbours {
		require.Equal(t, due.Details.Neighbours[i].Index+100, n.Index)
	}
	require.Equal(t, due.Ports[7].Name, renumbered.Ports[7].Name)
	require.Equal(t, due.Ports[7].Unit, renumbered.Ports[7].Unit)
	require.Equal(t, due.Ports[7].Alias, renumbered.Ports[7].Alias)

	f.Restart(noon.Add(at + 30*time.Second))
	restarted := next(time.Minute)
	require.NotSame(t, renumbered.Details, restarted.Details)

	before := f.Serial(1)
	f.Replace(noon.Add(at+30*time.Second), 0)
	replaced := next(time.Minute)
	require.NotEqual(t, restarted.Engine, replaced.Engine)
	require.NotSame(t, restarted.Details, replaced.Details)
	require.NotEqual(t, before, replaced.Ports[7].Unit)
	require.Equal(t, f.Serial(1), replaced.Ports[7].Unit)
}

// RFC 2863: ifTableLastChange tells of rows made and taken away. Where it moves
// without end and no port with it, it tells nothing.
func TestASwitchWithoutRest(t *testing.T) {
	mib, tick := &shifting{}, time.Duration(0)
	move := func() sim.Static {
		tick += time.Second
		m := ports(4)
		set(m, "1.3.6.1.2.1.31.1.5", "0", sim.Ticks(tick))
		return m
	}
	mib.set(move())
	s := open(t, serve(t, mib), v2c)
	last := poll(t, s).Details
	changes := 0
	for range 12 {
		mib.set(move())
		if p := poll(t, s); p.Details != last {
			last = p.Details
			changes++
		}
	}
	require.Equal(t, 3, changes)
}

// An SNMPv2c switch tells its engine by snmpEngineID (RFC 3411 5); one that
// has none has none.
func TestEngineOfAPoll(t *testing.T) {
	const snmpEngineID = "1.3.6.1.6.3.10.2.1.1"
	mib := ports(2)
	require.Empty(t, poll(t, open(t, serve(t, mib), v2c)).Engine)
	set(mib, snmpEngineID, "0", sim.Octets("\x80\x00\x7e\xd9\x04quay"))
	require.Equal(t, "80007ed90471756179", poll(t, open(t, serve(t, mib), v2c)).Engine)
	set(mib, snmpEngineID, "0", sim.Integer(7))
	require.Empty(t, poll(t, open(t, serve(t, mib), v2c)).Engine)
}
