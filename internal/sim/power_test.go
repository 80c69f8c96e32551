package sim

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const pethPort = "1.3.6.1.2.1.105.1.1.1."

// feeder is a switch of four ports that can give so many watts.
func feeder(watts float64) (*Campus, *Switch) {
	c := NewCampus(5, noon)
	return c, c.AddSwitch(SwitchPlan{Name: "feeder", Copper: 4, Fibre: 1, Optic: "10GBASE-SR", Up: time.Hour, Watts: watts})
}

// plugged connects a device of a kind to a port of a switch.
func plugged(c *Campus, s *Switch, port, kind string) *Cable {
	return c.Connect(Plug("R-"+port, s.Port(port), kind))
}

// seen is what a port shows at a time.
func seen(c *Campus, p *Port, now time.Time) (f Feed, speed int) {
	c.Do(now, func() { f, speed = p.Feed(), p.line.speed })
	return f, speed
}

func TestAPhoneIsFedAndAPCIsNot(t *testing.T) {
	c, s := feeder(370)
	phone, pc := plugged(c, s, "1/1", "phone"), plugged(c, s, "1/2", "pc")
	f, speed := seen(c, phone.A, noon)
	require.Equal(t, Feed{Status: FeedDelivering, Class: 2}, f)
	require.Equal(t, 1000, speed)
	f, speed = seen(c, pc.A, noon.Add(time.Minute))
	require.Equal(t, Feed{Status: FeedSearching, Invalid: 1}, f, "a PC wants no power, which is no fault")
	require.Equal(t, 1000, speed)

	c.Do(noon.Add(time.Minute), func() { phone.Device, pc.Device = nil, nil })
	f, _ = seen(c, phone.A, noon.Add(2*time.Minute))
	require.Equal(t, Feed{Status: FeedSearching, Class: 2, Absent: 1}, f, "unplugged")
	c.Do(noon.Add(2*time.Minute), func() { phone.Device = Plug("", phone.A, "camera").Device })
	f, speed = seen(c, phone.A, noon.Add(2*time.Minute+10*time.Second))
	require.Equal(t, Feed{Status: FeedDelivering, Class: 3, Absent: 1}, f)
	require.Zero(t, speed, "it boots")
	_, speed = seen(c, phone.A, noon.Add(3*time.Minute))
	require.Equal(t, 1000, speed)
}

func TestAShortTakesThePowerAndTheDeviceReboots(t *testing.T) {
	for _, overload := range []bool{false, true} {
		c, s := feeder(370)
		camera := plugged(c, s, "1/1", "camera")
		c.Do(noon, func() { camera.Leak = &Leak{Mean: 5 * time.Minute, Overload: overload} })
		f, _ := seen(c, camera.A, noon.Add(time.Hour))
		trips := f.Short + f.Overload
		require.InDelta(t, 10, float64(trips), 8)
		require.Equal(t, overload, f.Short == 0)
		require.Zero(t, f.Denied+f.Absent+f.Invalid)
		require.InDelta(t, float64(trips), float64(counted(c, camera.A, noon.Add(time.Hour)).Exits), 2)
	}
	c, s := feeder(370)
	dead := plugged(c, s, "1/1", "camera")
	c.Do(noon, func() { dead.Leak = &Leak{} })
	f, speed := seen(c, dead.A, noon.Add(time.Minute))
	require.Equal(t, FeedFault, f.Status)
	require.InDelta(t, 6, float64(f.Short), 1, "a try every 10 s")
	require.Zero(t, speed)
}

// A budget that is used up is refused, and counted as that alone.
func TestTheBudgetIsRefused(t *testing.T) {
	c, s := feeder(20)
	first, second := plugged(c, s, "1/1", "access point"), plugged(c, s, "1/2", "access point")
	f, _ := seen(c, first.A, noon.Add(time.Minute))
	require.Equal(t, FeedDelivering, f.Status)
	f, speed := seen(c, second.A, noon.Add(5*time.Minute))
	require.Equal(t, FeedSearching, f.Status)
	require.Zero(t, f.Short+f.Overload)
	require.InDelta(t, 10, float64(f.Denied), 1, "a try every 30 s")
	require.Zero(t, speed)
	c.Do(noon.Add(5*time.Minute), func() { first.Device = nil })
	_, speed = seen(c, second.A, noon.Add(7*time.Minute))
	require.Equal(t, 1000, speed)
}

// A broken wire of pair 1-2 takes the link, while the power takes the others.
func TestPoweredWithoutALink(t *testing.T) {
	c, s := feeder(370)
	camera := plugged(c, s, "1/1", "camera")
	c.Do(noon, func() { camera.Open = []Pair{Pair12} })
	f, speed := seen(c, camera.A, noon.Add(time.Minute))
	require.Equal(t, FeedDelivering, f.Status)
	require.Zero(t, speed)
	c.Do(noon.Add(time.Minute), func() { camera.Open = []Pair{Pair12, Pair36, Pair45, Pair78} })
	f, _ = seen(c, camera.A, noon.Add(2*time.Minute))
	require.Equal(t, Feed{Status: FeedSearching, Class: 3, Absent: 1}, f, "cut through")
}

func TestALoosePlugRestartsWhatItFeeds(t *testing.T) {
	c, s := feeder(370)
	camera := Plug("R", s.Port("1/1"), "camera")
	camera.Rattle = &Rattle{Mean: 5 * time.Minute}
	laid := c.Connect(camera)
	f, _ := seen(c, laid.A, noon.Add(2*time.Hour))
	require.Greater(t, f.Absent, uint64(8))
	exits := counted(c, laid.A, noon.Add(2*time.Hour)).Exits
	require.LessOrEqual(t, exits, f.Absent, "contact may go while it boots")
	require.Greater(t, exits, f.Absent/2)
}

func TestPowerSwitchedOffAndASwitchThatRestarts(t *testing.T) {
	c, s := feeder(370)
	phone := plugged(c, s, "1/1", "phone")
	c.Do(noon, func() { phone.A.Unfed = true })
	f, speed := seen(c, phone.A, noon.Add(time.Minute))
	require.Equal(t, FeedDisabled, f.Status)
	require.Zero(t, speed)
	c.Do(noon.Add(time.Minute), func() { phone.A.Unfed = false })
	_, speed = seen(c, phone.A, noon.Add(2*time.Minute))
	require.Equal(t, 1000, speed)
	s.Restart(noon.Add(2 * time.Minute))
	f, speed = seen(c, phone.A, noon.Add(2*time.Minute+20*time.Second))
	require.Equal(t, Feed{Status: FeedDelivering, Class: 2}, f, "counters from 0")
	require.Zero(t, speed, "the phone boots too")
}

// RFC 3621 in net-snmp's reading: index group.port, with the groups of a stack
// in either way, and the power of each group.
func TestNetSNMPWalksThePower(t *testing.T) {
	for running, index := range map[bool]string{false: "2.1", true: "1.6"} {
		c := NewCampus(5, noon)
		s := c.AddSwitch(SwitchPlan{
			Name: "stack", Members: 2, Copper: 4, Fibre: 1, Optic: "10GBASE-SR", Watts: 370, Quirks: Quirks{RunningPower: running},
		})
		c.Connect(Plug("R-1", s.Port("2/1"), "access point"))
		c.Connect(Plug("R-2", s.Port("2/2"), "pc"))
		out, err := netsnmp(t, "snmpbulkwalk", serve(t, s, everyUser(), at(noon)), everyLevel["v2c"].args, []string{"1.3.6.1.2.1.105"})
		require.NoError(t, err)
		group, other := index[:1], map[string]string{"2.1": "2.2", "1.6": "1.7"}[index]
		for _, line := range []string{
			`.105.1.1.1.3.` + index + ` = INTEGER: 1`, `.105.1.1.1.6.` + index + ` = INTEGER: 3`,
			`.105.1.1.1.10.` + index + ` = INTEGER: 5`, // class4(5)
			`.105.1.1.1.6.` + other + ` = INTEGER: 2`, `.105.1.1.1.11.` + other + ` = Counter32: 1`,
			`.105.1.3.1.1.4.` + group + ` = Gauge32: 16`, `.105.1.3.1.1.3.` + group + ` = INTEGER: 1`,
		} {
			require.Contains(t, out, line+"\n")
		}
		require.Len(t, rows(s, noon, pethPort+"6"), 8, "of the copper ports")
	}
}
