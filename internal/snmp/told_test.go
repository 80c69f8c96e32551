package snmp_test

import (
	"fmt"
	"math"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

const sensorTable, powerTable = "1.3.6.1.2.1.99.1.1", "1.3.6.1.2.1.105.1.1" // RFC 3433, RFC 3621

// riser is two switches with two fibres between them, of one lane and of four,
// polled by a clock that the test moves.
type riser struct {
	*testing.T
	*sim.Campus
	near, far *sim.Switch
	cables    [2]*sim.Cable
	s         *snmp.Switch
	now       atomic.Pointer[time.Time]
	asked     atomic.Int64 // requests for sensors
}

func startRiser(t *testing.T, quirks sim.OpticQuirks) *riser {
	r := &riser{T: t, Campus: sim.NewCampus(11, noon)}
	plan := sim.SwitchPlan{Name: "near", Copper: 4, Fibre: 2, Optic: "10GBASE-SR", First: 101, Up: time.Hour, Quirks: sim.Quirks{Optics: quirks}}
	r.near = r.AddSwitch(plan)
	plan.Name = "far"
	r.far = r.AddSwitch(plan)
	for i, name := range []string{"1/5", "1/6"} {
		a, b := r.near.Port(name), r.far.Port(name)
		if name == "1/6" {
			a.Insert(noon, "40GBASE-SR4")
			b.Insert(noon, "40GBASE-SR4")
		}
		r.cables[i] = r.Connect(sim.Cable{ID: "riser-" + name, Media: sim.Fibre, Kind: "OM4", LengthM: 100, A: a, B: b, Path: sim.Path{Connectors: 2}})
	}
	r.to(time.Minute)
	address := serve(t, r.near, func(a *sim.Agent) {
		a.Now = func() time.Time { return *r.now.Load() }
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			if asks(e, sensorTable) || asks(e, powerTable) {
				r.asked.Add(1)
			}
			return e.Send()
		}
	})
	r.s = open(t, address, v2c, func(target *snmp.Target) {
		target.Now, target.SlowEvery = func() time.Time { return *r.now.Load() }, 5*time.Minute
	})
	return r
}

func (r *riser) to(after time.Duration) {
	now := noon.Add(after)
	r.Do(now, func() {})
	r.now.Store(&now)
}

// optic gives what is told of a port's optic; nil for none.
func (r *riser) optic(p port.Poll, name string) *port.Optic {
	require.NotNil(r, p.Details)
	return p.Details.Optics[named(r, p, name).Index]
}

func is[T ~float64](t *testing.T, want, within float64, v port.Value[T], what string) float64 {
	t.Helper()
	got, ok := v.Get()
	require.True(t, ok, what)
	require.InDelta(t, want, float64(got), within, what)
	return float64(got)
}

// The light that arrives is what the other end sends less the loss of the way:
// 100 m of OM4 at 850 nm and two connectors, 2.5 dB/km and 0.3 dB each (common
// practice). Sensors err by 0.4 dB and jitter by 0.3 each; lanes differ by 0.3.
func TestOpticsAreReadAlikeHoweverTheyAreShown(t *testing.T) {
	const lost, errs = 0.25 + 0.6, 1.3
	var first map[string]string
	for levels := range 3 {
		for bits := range 16 {
			q := sim.OpticQuirks{Levels: levels + 1, DBm: bits&1 != 0, OddScale: bits&2 != 0, NoAlias: bits&4 != 0, ShortNames: bits&8 != 0}
			r := startRiser(t, q)
			p := poll(t, r.s)
			require.Len(t, p.Details.Optics, 2, "%+v", q)
			shown := map[string]string{}
			for i, name := range []string{"1/5", "1/6"} {
				what := fmt.Sprintf("%s %+v", name, q)
				own, other := r.cables[i].A.Module(), r.cables[i].B.Module()
				o := r.optic(p, name)
				require.Equal(t, own.Serial, o.Serial, what)
				require.Equal(t, own.Model, o.Model, what)
				require.Len(t, o.Lanes, map[string]int{"10GBASE-SR": 1, "40GBASE-SR4": 4}[own.PHY], what)
				shown[name] = fmt.Sprintf("%.1f", is(t, 38, 8, o.Celsius, what))
				for _, l := range o.Lanes {
					shown[name] += fmt.Sprintf("; %.1f", is(t, other.SentDBm-lost, errs, l.Received, what))
					shown[name] += fmt.Sprintf(" %.1f", is(t, own.SentDBm, errs, l.Sent, what))
					shown[name] += fmt.Sprintf(" %.2f", is(t, own.BiasMA, 0.05*own.BiasMA, l.BiasMA, what))
				}
			}
			if first == nil {
				first = shown
			}
			require.Equal(t, first, shown, "%+v", q)
			require.Equal(t, port.TableGiven, tableOf(p, "entPhySensorTable").State)
			require.Empty(t, tableOf(p, "entPhySensorTable").Why)
			require.Empty(t, tableOf(p, "entPhySensorTable").Missing)
		}
	}
}

// A fibre that hangs in the air gives no light; where the switch then calls the sensor
// unavailable(2), nothing is told (RFC 3433).
func TestADarkReceiver(t *testing.T) {
	for _, unavailable := range []bool{false, true} {
		for _, dBm := range []bool{false, true} {
			r := startRiser(t, sim.OpticQuirks{DBm: dBm, DarkUnavailable: unavailable})
			r.Do(*r.now.Load(), r.cables[1].Unplug)
			r.to(2 * time.Minute)
			p := poll(t, r.s)
			for _, l := range r.optic(p, "1/6").Lanes {
				light, told := l.Received.Get()
				require.Equal(t, !unavailable, told)
				require.Equal(t, !unavailable, light.Dark())
				is(t, r.cables[1].A.Module().SentDBm, 1.3, l.Sent, "its own light")
			}
			is(t, -3.35, 1.3, r.optic(p, "1/5").Lanes[0].Received, "the other fibre")
		}
	}
}

// Sensors are asked for on the slow clock alone, and details stay the same in
// between. What a module told goes with it, also where the agent keeps its rows with
// their old stamps.
func TestAnOpticIsPulledAndAnotherComes(t *testing.T) {
	for _, kept := range []bool{false, true} {
		r := startRiser(t, sim.OpticQuirks{Kept: kept})
		last := poll(t, r.s)
		require.Positive(t, r.asked.Load())
		for minute := 2; minute < 6; minute++ {
			r.asked.Store(0)
			r.to(time.Duration(minute) * time.Minute)
			require.Same(t, last.Details, poll(t, r.s).Details)
			require.Zero(t, r.asked.Load())
		}
		old := r.cables[0].A.Module()
		r.cables[0].A.Pull(noon.Add(6 * time.Minute))
		r.to(12 * time.Minute)
		p := poll(t, r.s)
		require.NotSame(t, last.Details, p.Details)
		require.NotNil(t, r.optic(p, "1/6"))
		if o := r.optic(p, "1/5"); kept {
			require.Equal(t, &port.Optic{Serial: old.Serial, Model: old.Model}, o)
			require.Contains(t, tableOf(p, "entPhySensorTable").Why, "far older")
		} else {
			require.Nil(t, o)
		}
		r.cables[0].A.Insert(noon.Add(13*time.Minute), "10GBASE-SR")
		r.to(20 * time.Minute)
		o := r.optic(poll(t, r.s), "1/5")
		require.NotEqual(t, old.Serial, o.Serial)
		is(t, r.cables[0].A.Module().SentDBm, 1.3, o.Lanes[0].Sent, "the new one")
	}
}

// Sensors without the parts that they belong to tell nothing, and their table
// says so.
func TestSensorsOfAnUnknownTree(t *testing.T) {
	r := startRiser(t, sim.OpticQuirks{})
	r.near.Hide("1.3.6.1.2.1.47")
	p := poll(t, r.s)
	require.Empty(t, p.Details.Optics)
	table := tableOf(p, "entPhySensorTable")
	require.Equal(t, port.TableGiven, table.State)
	require.Contains(t, table.Why, "entPhysicalTable")
}

// What the campus knows of each port's power is what is read of it, whether
// groups are the boxes of a stack or numbers run through it.
func TestPowerIsReadOfTheRightPorts(t *testing.T) {
	for _, running := range []bool{false, true} {
		for _, members := range []int{1, 3} {
			c := sim.NewCampus(5, noon)
			s := c.AddSwitch(sim.SwitchPlan{
				Name: "feeder", Members: members, Copper: 8, Fibre: 2, Optic: "10GBASE-SR", First: 1001, Stride: 3, Up: time.Hour, Watts: 40,
				Quirks: sim.Quirks{RunningPower: running},
			})
			kinds := []string{"camera", "pc", "", "phone", "access point", "access point", "ip clock"}
			for i, at := range s.Ports() {
				if at.Media == sim.Copper {
					cable := c.Connect(sim.Plug("R-"+at.Name, at, kinds[i%len(kinds)]))
					if i == 10 {
						c.Do(noon, func() { cable.Leak = &sim.Leak{} })
					}
				}
			}
			now := noon.Add(3 * time.Minute)
			c.Do(now, func() {})
			p := poll(t, open(t, serve(t, s, func(a *sim.Agent) { a.Now = func() time.Time { return now } }), v2c))
			require.Len(t, p.Details.Power, 8*members, tableOf(p, "pethPsePortTable").Why)
			require.Empty(t, tableOf(p, "pethPsePortTable").Why)
			require.Empty(t, tableOf(p, "pethPsePortTable").Missing)
			states := map[port.PowerStatus]bool{}
			for _, at := range s.Ports() {
				got, told := p.Details.Power[s.IfIndex(at)]
				require.Equal(t, at.Media == sim.Copper, told, at.Name)
				if !told {
					continue
				}
				var want sim.Feed
				c.Do(now, func() { want = at.Feed() })
				power := port.Power{
					Enabled: port.Yes, Status: port.PowerStatus(want.Status), Absent: count(want.Absent), Invalid: count(want.Invalid),
					Denied: count(want.Denied), Overloads: count(want.Overload), Shorts: count(want.Short),
				}
				if want.Status == sim.FeedDelivering {
					power.Class = port.Some(want.Class)
				}
				require.Equal(t, power, got, at.Name)
				states[got.Status] = true
			}
			require.True(t, states[port.PowerDelivering] && states[port.PowerSearching])
			require.Equal(t, members > 1, states[port.PowerFault])
		}
	}
}

func count(n uint64) port.Value[uint32] { return port.Some(uint32(n)) }

// States of both tables, as of the others (RFC 3416 4.2.1), and what of a given
// one could not be used.
func TestStatesOfSensorsAndPower(t *testing.T) {
	for _, table := range []struct{ name, object, grant string }{
		{"entPhySensorTable", sensorTable, "1.3.6.1.2.1.99"}, {"pethPsePortTable", powerTable, "1.3.6.1.2.1.105"},
	} {
		for name, row := range map[string]struct {
			change func(sim.Static)
			mangle func(sim.Exchange) []sim.Datagram
			want   port.Table
		}{
			"hidden": {func(sim.Static) {}, nil, port.Table{State: port.TableHidden}},
			"empty": {func(m sim.Static) {
				m[table.object+".1.1"] = map[string]sim.Value{}
				m[table.object+".1.3"] = map[string]sim.Value{}
			}, nil, port.Table{State: port.TableEmpty}},
			"refused": {func(sim.Static) {}, refusing(table.object, sim.AuthorizationError, false), port.Table{State: port.TableHidden}},
			"silent": {func(sim.Static) {}, func(e sim.Exchange) []sim.Datagram {
				if asks(e, table.object) {
					return nil
				}
				return e.Send()
			}, port.Table{State: port.TableBroken}},
		} {
			m := ports(3)
			row.change(m)
			s := open(t, serve(t, m, func(a *sim.Agent) { a.Mangle = row.mangle }), v2c, func(target *snmp.Target) { target.Timeout, target.Retries = time.Second, 0 })
			p := poll(t, s)
			got := tableOf(p, table.name)
			require.Equal(t, row.want.State, got.State, "%s %s", table.name, name)
			require.Equal(t, table.grant, got.Grant)
			require.Equal(t, row.want.State == port.TableBroken, got.Why != "")
			require.Empty(t, p.Details.Optics)
			require.Empty(t, p.Details.Power)
		}
	}
}

// Rows of power that no port can be told for are put to none, and the table says
// how many.
func TestPowerThatCannotBeMatched(t *testing.T) {
	m := ports(3)
	for row, n := range []string{"7.41", "7.42"} {
		set(m, powerTable+".1.3", n, sim.Integer(1))
		set(m, powerTable+".1.6", n, sim.Integer(3))
		set(m, powerTable+".1.14", n, sim.Counter32(uint64(row)))
	}
	p := poll(t, open(t, serve(t, m), v2c))
	require.Empty(t, p.Details.Power)
	table := tableOf(p, "pethPsePortTable")
	require.Equal(t, port.TableGiven, table.State)
	require.Contains(t, table.Why, "2 of 2 rows could not be matched to ports")
	require.Equal(t, []string{
		"pethPsePortPowerClassifications", "pethPsePortMPSAbsentCounter", "pethPsePortInvalidSignatureCounter",
		"pethPsePortPowerDeniedCounter", "pethPsePortOverLoadCounter",
	}, table.Missing)
}

// Values of other types than the MIB's are absent, and rows without end end.
func TestHostileSensors(t *testing.T) {
	for _, tag := range []byte{sim.TagOctetString, sim.TagCounter64, sim.TagObjectID} {
		for column := 1; column <= 8; column++ {
			r := startRiser(t, sim.OpticQuirks{})
			object := fmt.Sprintf("%s.1.%d", sensorTable, column)
			address := serve(t, r.near, func(a *sim.Agent) {
				a.Now = func() time.Time { return *r.now.Load() }
				a.Mangle = sim.WrongType(object, tag)
			})
			p := poll(t, open(t, address, v2c))
			for _, o := range p.Details.Optics {
				for _, l := range o.Lanes {
					light, told := l.Received.Get()
					require.True(t, !told || math.Abs(float64(light)) < 10, "%s as %x", object, tag)
				}
			}
		}
	}
	r := startRiser(t, sim.OpticQuirks{})
	address := serve(t, r.near, func(a *sim.Agent) {
		a.Now, a.Mangle = func() time.Time { return *r.now.Load() }, sim.Cyclic(sensorTable+".1.4")
	})
	p := poll(t, open(t, address, v2c))
	require.Equal(t, port.TableBroken, tableOf(p, "entPhySensorTable").State)
	require.Empty(t, p.Details.Optics)
}
