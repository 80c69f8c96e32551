package snmp_test

import (
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"
	"toneout/internal/standards"

	"github.com/stretchr/testify/require"
)

// bench is one simulated switch with a computer at each of six copper ports
// and two optics, polled by the campus's clock.
type bench struct {
	*testing.T
	*sim.Campus
	*sim.Switch
	s       *snmp.Switch
	elapsed time.Duration
	now     atomic.Pointer[time.Time]
}

func startBench(t *testing.T, plan sim.SwitchPlan) *bench {
	b := &bench{T: t, Campus: sim.NewCampus(7, noon)}
	plan.Name, plan.Up = "acc-b1-1", 24*time.Hour
	if plan.Copper == 0 {
		plan.Copper, plan.Fibre, plan.Optic = 6, 2, "10GBASE-SR"
	}
	b.Switch = b.AddSwitch(plan)
	for i, p := range b.Ports() {
		if p.Media == sim.Copper {
			b.Connect(sim.Plug("run-"+p.Name, p, []string{"workstation", "pc"}[i%2]))
		}
	}
	b.wait(time.Minute)
	address := serve(t, b.Switch, func(a *sim.Agent) { a.Now = func() time.Time { return *b.now.Load() } })
	b.s = open(t, address, v2c, func(target *snmp.Target) { target.Now = func() time.Time { return *b.now.Load() } })
	return b
}

func (b *bench) wait(d time.Duration) {
	b.elapsed += d
	now := noon.Add(b.elapsed)
	b.Switch.At(now)
	b.now.Store(&now)
}

func (b *bench) poll() port.Poll { b.Helper(); return poll(b.T, b.s) }

// next polls a minute later and compares a port with an earlier poll.
func (b *bench) next(before port.Poll, name string) (port.Poll, port.Increments, port.Reason) {
	b.Helper()
	b.wait(time.Minute)
	p := b.poll()
	was, is := named(b.T, before, name), named(b.T, p, name)
	inc, reason := port.Between(&was, &is)
	return p, inc, reason
}

// offer changes what a port is set to offer, so that its link is negotiated anew.
func (b *bench) offer(name string, speeds ...int) {
	b.Do(noon.Add(b.elapsed), func() {
		b.Port(name).Advertised = speeds
	})
	b.shut(name, true)
	b.wait(10 * time.Second)
	b.shut(name, false)
	b.wait(30 * time.Second)
}

func (b *bench) shut(name string, shut bool) {
	b.Do(noon.Add(b.elapsed), func() { b.Port(name).Shut = shut })
}

// Switches whose counters and speeds differ from the letter of RFC 2863 and
// RFC 3635 (common practice, no source): counts are compared, or have a new
// baseline, and never jump.
func TestCountersOfOddSwitches(t *testing.T) {
	for name, row := range map[string]struct {
		plan sim.SwitchPlan
		play func(*bench)
	}{
		"32-bit counters only": {sim.SwitchPlan{Without: []string{"hc", "dot3hc"}}, func(b *bench) {
			p := b.poll()
			require.Contains(b, tableOf(p, "ifXTable").Missing, "ifHCInOctets")
			require.Equal(b, port.TableHidden, tableOf(p, "dot3HCStatsTable").State)
			r := named(b.T, p, "1/1")
			require.False(b, r.Counters.Wide(port.InOctets))
			_, inc, reason := b.next(p, "1/1")
			require.Equal(b, port.Comparable, reason)
			fcs, ok := inc.Counters.Get(port.FCS)
			require.True(b, ok)
			require.Zero(b, fcs)
		}},
		"64-bit counters lack at 10 Mbit/s and come back": {sim.SwitchPlan{Quirks: sim.Quirks{NarrowWhenSlow: true}}, func(b *bench) {
			fast := b.poll()
			b.offer("1/1", 10)
			slow, inc, reason := b.next(fast, "1/1")
			r := named(b.T, slow, "1/1")
			require.Equal(b, 10*standards.Mbps, r.Speed())
			require.False(b, r.Counters.Wide(port.InOctets))
			require.True(b, r.Counters.Has(port.InOctets))
			require.Equal(b, port.Comparable, reason)
			require.False(b, inc.Counters.Has(port.InOctets), "another width is a new baseline")
			require.True(b, inc.Counters.Has(port.FCS))
			other := named(b.T, slow, "1/2")
			require.True(b, other.Counters.Wide(port.InOctets))
			again, inc, _ := b.next(slow, "1/1")
			require.True(b, inc.Counters.Has(port.InOctets))
			b.offer("1/1", 10, 100, 1000)
			back, inc, _ := b.next(again, "1/1")
			require.False(b, inc.Counters.Has(port.InOctets))
			_, inc, _ = b.next(back, "1/1")
			require.True(b, inc.Counters.Has(port.InOctets))
		}},
		"counters begin anew with each link, without a stamp": {sim.SwitchPlan{Quirks: sim.Quirks{ClearsOnLinkUp: true}}, func(b *bench) {
			before := b.poll()
			b.offer("1/1", 10, 100, 1000)
			after, inc, reason := b.next(before, "1/1")
			require.Equal(b, port.CountersReset, reason)
			require.Positive(b, inc.LinkChanges)
			require.Zero(b, inc.Counters)
			_, inc, reason = b.next(after, "1/1")
			require.Equal(b, port.Comparable, reason)
			require.True(b, inc.Counters.Has(port.InOctets))
		}},
		"counters are cleared, with a stamp": {sim.SwitchPlan{Quirks: sim.Quirks{Stamps: true}}, func(b *bench) {
			before := b.poll()
			b.ClearCounters(noon.Add(b.elapsed))
			after, _, reason := b.next(before, "1/1")
			require.Equal(b, port.CountersReset, reason)
			_, _, reason = b.next(after, "1/1")
			require.Equal(b, port.Comparable, reason)
		}},
		"ifSpeed is saturated on every row": {sim.SwitchPlan{Quirks: sim.Quirks{SaturatedSpeed: true}}, func(b *bench) {
			r := named(b.T, b.poll(), "1/1")
			require.Equal(b, standards.Gbps, r.Speed())
		}},
		"the highest speed on ports that are down": {sim.SwitchPlan{Quirks: sim.Quirks{SpeedOfDown: true}}, func(b *bench) {
			b.shut("1/1", true)
			b.wait(time.Minute)
			r := named(b.T, b.poll(), "1/1")
			high, _ := r.HighSpeed.Get()
			require.EqualValues(b, 1000, high)
			require.Zero(b, r.Speed())
		}},
		"no speed on virtual rows": {sim.SwitchPlan{Quirks: sim.Quirks{NoVirtualSpeed: true}}, func(b *bench) {
			r := named(b.T, b.poll(), "lo0")
			require.False(b, r.Physical())
			require.Zero(b, r.Speed())
		}},
		"the duplex is unknown": {sim.SwitchPlan{Quirks: sim.Quirks{DuplexUnknown: true}}, func(b *bench) {
			r := named(b.T, b.poll(), "1/1")
			require.Equal(b, standards.DuplexUnknown, r.DuplexStatus)
			require.Equal(b, standards.FullDuplex, r.Duplex(), "by the MAU type")
		}},
		"names with padding and control characters": {sim.SwitchPlan{Quirks: sim.Quirks{PaddedNames: true}}, func(b *bench) {
			r := named(b.T, b.poll(), "1/1")
			require.Equal(b, "Unit 1 port 1", r.Description)
		}},
		"groups and sub-interfaces": {sim.SwitchPlan{Bundle: []string{"1/7", "1/8"}, Tagged: []string{"1/1.20", "1/7.30"}}, func(b *bench) {
			count := 0
			for _, r := range b.poll().Ports {
				if r.Physical() {
					require.NotContains(b, r.Name, ".")
					count++
				}
			}
			require.Equal(b, 8, count)
		}},
		"RMON alone counts damaged frames": {sim.SwitchPlan{Without: []string{"fcs"}}, func(b *bench) {
			p := b.poll()
			r := named(b.T, p, "1/1")
			_, source := r.Counters.Errored()
			require.Equal(b, port.RMON, source)
			require.Contains(b, tableOf(p, "dot3StatsTable").Missing, "dot3StatsFCSErrors")
			require.True(b, tableOf(p, "etherStatsTable").Given())
		}},
		"ifInErrors alone": {sim.SwitchPlan{Without: []string{"dot3", "dot3hc", "rmon"}}, func(b *bench) {
			p := b.poll()
			r := named(b.T, p, "1/1")
			_, source := r.Counters.Errored()
			require.Equal(b, port.InterfaceTable, source)
			require.Equal(b, port.TableHidden, tableOf(p, "etherStatsTable").State)
		}},
	} {
		t.Run(name, func(t *testing.T) { row.play(startBench(t, row.plan)) })
	}
}

// Of a stack a member is lost, comes back, and two change places: a port's
// unit is always the chassis that it is in.
func TestUnitsOfAStack(t *testing.T) {
	b := startBench(t, sim.SwitchPlan{Members: 2, Copper: 4})
	units := func() map[string]string {
		b.wait(time.Minute)
		units := map[string]string{}
		for _, r := range b.poll().Ports {
			if r.Physical() {
				units[r.Name] = r.Unit
			}
		}
		return units
	}
	one, two := b.Serial(1), b.Serial(2)
	both := map[string]string{"1/1": one, "1/2": one, "1/3": one, "1/4": one, "2/1": two, "2/2": two, "2/3": two, "2/4": two}
	require.Equal(t, both, units())
	b.LoseMember(noon.Add(b.elapsed), 2)
	require.Equal(t, map[string]string{"1/1": one, "1/2": one, "1/3": one, "1/4": one}, units())
	b.ReturnMember(noon.Add(b.elapsed), 2)
	require.Equal(t, both, units())
	b.SwapMembers(noon.Add(b.elapsed), 1, 2)
	require.Equal(t, map[string]string{"1/1": two, "1/2": two, "1/3": two, "1/4": two, "2/1": one, "2/2": one, "2/3": one, "2/4": one}, units())
}

// TimeTicks wrap after 497 days (RFC 2578 7.1.8), which is no restart.
func TestUptimeThatWraps(t *testing.T) {
	p := pace(t)
	mib := func(ticks uint64) sim.Static {
		m := ports(3)
		set(m, uptimeObject, "0", sim.Value{Tag: sim.TagTimeTicks, Number: ticks})
		return m
	}
	start := func(after time.Duration, m sim.Static) port.Poll {
		p.mib.set(m)
		now := noon.Add(after)
		p.now.Store(&now)
		return poll(t, p.Switch)
	}
	before := start(0, mib(1<<32-3000))
	after := start(time.Minute, mib(3000))
	require.Same(t, before.Details, after.Details, "no restart")
	_, reason := port.Between(&before.Ports[0], &after.Ports[0])
	require.Equal(t, port.Comparable, reason)
	restarted := start(2*time.Minute, mib(100))
	require.NotSame(t, before.Details, restarted.Details)
	_, reason = port.Between(&after.Ports[0], &restarted.Ports[0])
	require.Equal(t, port.Restarted, reason)
}
