package snmp_test

import (
	"maps"
	"strconv"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"
	"toneout/internal/standards"

	"github.com/stretchr/testify/require"
)

const ifAlias, mauTypeObject, receivedBits, supported = ifXEntry + "18", mauEntry + "3", autoNegEntry + "11", mauEntry + "12"

// withMAUs is a switch whose ports have a MAU each, at 1000BASE-T full duplex
// (type 30, IANA-MAU-MIB).
func withMAUs(n int) sim.Static {
	mib := ports(n)
	for i := 1; i <= n; i++ {
		linked(mib, i, 30, "\x6c\x01")
	}
	return mib
}

// linked gives a port a link of a MAU type and what the far end offers.
func linked(mib sim.Static, i int, mau uint32, abilities string) {
	row := strconv.Itoa(i) + ".1"
	set(mib, mauTypeObject, row, sim.ObjectID(sim.OID{1, 3, 6, 1, 2, 1, 26, 4, mau}))
	set(mib, mauEntry+"4", row, sim.Integer(3))
	set(mib, mauEntry+"6", row, sim.Counter32(1))
	set(mib, supported, row, sim.Integer(1))
	set(mib, receivedBits, row, sim.Octets(abilities))
}

// paced is a switch that is polled by a clock of its own; it counts the
// requests for some objects.
type paced struct {
	*testing.T
	*snmp.Switch
	mib   shifting
	now   atomic.Pointer[time.Time]
	asked map[string]*atomic.Int64
}

func pace(t *testing.T, objects ...string) *paced {
	p := &paced{T: t, asked: map[string]*atomic.Int64{}}
	for _, object := range objects {
		p.asked[object] = &atomic.Int64{}
	}
	address := serve(t, &p.mib, func(a *sim.Agent) {
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			for object, n := range p.asked {
				if asks(e, object) {
					n.Add(1)
				}
			}
			return e.Send()
		}
	})
	p.Switch = open(t, address, v2c, func(target *snmp.Target) {
		target.SlowEvery = 5 * time.Minute
		target.Now = func() time.Time { return *p.now.Load() }
	})
	return p
}

// at polls a MIB, whose uptime goes with the clock, at some time.
func (p *paced) at(after time.Duration, mib sim.Static) port.Poll {
	p.Helper()
	mib = maps.Clone(mib)
	mib[uptimeObject] = map[string]sim.Value{"0": sim.Ticks(100*time.Hour + after)}
	p.mib.set(mib)
	now := noon.Add(after)
	p.now.Store(&now)
	for _, n := range p.asked {
		n.Store(0)
	}
	return poll(p.T, p.Switch)
}

// What people write on a port is read on the slow clock, and at once where a
// port is new or has another name.
func TestDescriptionsAreReadSeldom(t *testing.T) {
	p := pace(t, ifAlias)
	rewritten := func(n int) sim.Static {
		mib := withMAUs(n)
		set(mib, ifAlias, "3", sim.Octets("another"))
		return mib
	}
	renamed := withMAUs(8)
	set(renamed, ifXEntry+"1", "3", sim.Octets("2/3"))
	p.at(0, withMAUs(8))
	for i, row := range []struct {
		minutes time.Duration
		mib     sim.Static
		alias   string
		asked   bool
	}{
		{1, rewritten(8), "N2-P1-3", false},
		{4, rewritten(8), "N2-P1-3", false},
		{5, rewritten(8), "another", true}, // its time
		{6, withMAUs(8), "another", false},
		{7, withMAUs(9), "N2-P1-3", true},  // a port more
		{8, rewritten(9), "another", true}, // so the columns are looked for
		{9, withMAUs(9), "another", false},
		{10, renamed, "N2-P1-3", true}, // a port less, another name
	} {
		got := p.at(row.minutes*time.Minute, row.mib)
		require.Equal(t, row.alias, got.Ports[2].Alias, "row %d", i)
		require.Equal(t, row.asked, p.asked[ifAlias].Load() > 0, "row %d", i)
		for _, r := range got.Ports {
			require.Equal(t, 6, r.Type)
			require.Equal(t, port.Yes, r.Connector)
			require.NotEmpty(t, r.Description)
			require.Equal(t, port.Yes, r.AutoNeg.Supported)
			require.Equal(t, 30, r.MAU)
		}
	}
}

// A port's MAU type and what the far end offers are read again where anything
// shows that its link changed, of that port only, and on the slow clock.
func TestMAUTypesAreReadWhereALinkChanged(t *testing.T) {
	slower := func(change func(mib sim.Static)) sim.Static {
		mib := withMAUs(8)
		linked(mib, 3, 16, "\x0c") // 100BASE-TX full duplex
		change(mib)
		return mib
	}
	for name, row := range map[string]struct {
		change func(sim.Static)
		seen   bool
	}{
		"nothing else":         {func(sim.Static) {}, false},
		"ifLastChange":         {func(m sim.Static) { set(m, ifEntry+"9", "3", sim.Ticks(2*time.Minute)) }, true},
		"ifOperStatus":         {func(m sim.Static) { set(m, ifEntry+"8", "3", sim.Integer(2)) }, true},
		"ifAdminStatus":        {func(m sim.Static) { set(m, ifEntry+"7", "3", sim.Integer(2)) }, true},
		"ifHighSpeed":          {func(m sim.Static) { set(m, ifXEntry+"15", "3", sim.Gauge32(100)) }, true},
		"ifSpeed":              {func(m sim.Static) { set(m, ifEntry+"5", "3", sim.Gauge32(100_000_000)) }, true},
		"the duplex":           {func(m sim.Static) { set(m, dot3Entry+"19", "3", sim.Integer(2)) }, true},
		"losses of the medium": {func(m sim.Static) { set(m, mauEntry+"6", "3.1", sim.Counter32(2)) }, true},
	} {
		t.Run(name, func(t *testing.T) {
			p := pace(t, mauTypeObject)
			p.at(0, withMAUs(8))
			require.Equal(t, 30, p.at(time.Minute, withMAUs(8)).Ports[2].MAU)
			require.Zero(t, p.asked[mauTypeObject].Load())
			steady := p.Traffic().Requests
			changed := p.at(2*time.Minute, slower(row.change))
			require.Equal(t, row.seen, changed.Ports[2].MAU == 16)
			require.LessOrEqual(t, p.Traffic().Requests, steady+1)
			received, _ := changed.Ports[2].AutoNeg.Received.Get()
			require.Equal(t, row.seen, !received.Offers(standards.Gbps))
			require.Equal(t, 30, changed.Ports[3].MAU)
			require.Equal(t, row.seen, p.at(3*time.Minute, slower(row.change)).Ports[2].MAU == 16)
			require.Equal(t, 16, p.at(7*time.Minute, slower(row.change)).Ports[2].MAU)
		})
	}
}

// Agents keep tables of their own for some seconds, each its own (common practice,
// no source): what is read beside a change of the link may be from before it.
func TestAMAUTypeThatComesLateIsRead(t *testing.T) {
	p := pace(t, mauTypeObject)
	p.at(0, withMAUs(8))
	changed := withMAUs(8)
	set(changed, ifXEntry+"15", "3", sim.Gauge32(100))
	require.Equal(t, 30, p.at(time.Minute, changed).Ports[2].MAU)
	linked(changed, 3, 16, "\x0c") // 100BASE-TX full duplex
	require.Equal(t, 16, p.at(2*time.Minute, changed).Ports[2].MAU)
	p.at(3*time.Minute, changed)
	require.Zero(t, p.asked[mauTypeObject].Load())
}

// A steady poll of a switch with 48 copper ports, 2 optics and 3 virtual rows.
func TestAPollTakesAboutThirtyDatagrams(t *testing.T) {
	f := startFerrow(t, sim.FerrowQuay(1, noon), "acc-n1-1")
	s := open(t, f.address, v2c, f.clock)
	for range 3 {
		poll(t, s)
	}
	require.LessOrEqual(t, s.Traffic().Requests, 32)
}
