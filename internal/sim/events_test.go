package sim

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestEventsHappenAtTheirTimeWhoeverAsks(t *testing.T) {
	play := func(every time.Duration) (n Counters) {
		c, s, _ := bench()
		cable := c.Connect(patched(s, "workstation"))
		c.At(noon.Add(40*time.Second), func() { cable.Open = []Pair{Pair45} })
		c.At(noon.Add(20*time.Second), cable.Unplug)
		c.At(noon.Add(25*time.Second), cable.Replug)
		for now := noon; now.Before(noon.Add(time.Minute)); now = now.Add(every) {
			c.Do(now, func() {})
		}
		n = counted(c, cable.A, noon.Add(time.Minute))
		speed, _ := cable.A.Link()
		require.Equal(t, 100, speed)
		return n
	}
	once := play(time.Hour)
	require.Equal(t, uint64(2), once.Exits)
	require.Equal(t, once, play(300*time.Millisecond))
}

func TestAFirmwareRound(t *testing.T) {
	c := Quayside(1, noon)
	access := c.Switches()[2:]
	c.FirmwareRound(noon.Add(time.Minute), 5*time.Minute, access...)
	for i, s := range access {
		from := noon.Add(time.Minute + time.Duration(i)*5*time.Minute)
		c.Do(from.Add(2*time.Minute), func() { require.True(t, s.off, s.Name) })
		before := s.Engine(from).Boots
		c.Do(from.Add(4*time.Minute), func() {
			require.False(t, s.off)
			speed, _ := s.Port("1/25").Link()
			require.Equal(t, 10000, speed)
		})
		require.Equal(t, before+1, s.Engine(from.Add(4*time.Minute)).Boots)
	}
}

func TestAPatchEvening(t *testing.T) {
	c := Quayside(1, noon)
	s := c.Switch("acc-q2-1")
	was := map[string]*Port{}
	for _, cable := range c.patchable(s) {
		was[cable.ID] = cable.A
	}
	c.PatchEvening(noon.Add(time.Minute), 12, s)
	moved, exits := 0, uint64(0)
	c.Do(noon.Add(65*time.Minute), func() {
		ports := map[*Port]bool{}
		for _, cable := range c.patchable(s) {
			require.False(t, ports[cable.A], "one plug in a port")
			ports[cable.A] = true
			require.Equal(t, cable.A, c.places[cable.ID])
			exits += cable.A.Counters().Exits
			if cable.A != was[cable.ID] {
				moved++
			}
		}
	})
	require.Greater(t, moved, 8)
	require.Greater(t, exits, uint64(8))
}

func TestAllSleepersSleepAlike(t *testing.T) {
	c := NewCampus(5, noon) // which is at 12:00
	s := c.Nightly(19, 7)
	for hour, asleep := range map[int]bool{12: false, 18: false, 19: true, 24: true, 30: true, 31: false, 43: true} {
		require.Equal(t, asleep, s.On(time.Duration(hour-12)*time.Hour), hour)
	}
}

func TestALoosePlugFlapsSoOftenAnHour(t *testing.T) {
	c, s, _ := bench()
	cable := patched(s, "pc")
	cable.Rattle = LoosePlug(20)
	c.Connect(cable)
	for n := range 6 { // in the model's own steps
		c.Do(noon.Add(time.Duration(n)*10*time.Minute), func() {})
	}
	after := counted(c, cable.A, noon.Add(time.Hour))
	require.InDelta(t, 20, float64(after.Exits), 12)
	require.Zero(t, after.FCS)
}

// A switch that sends frames on before it has seen their ends: the same
// errors are counted behind it, and not behind one that checks.
func TestCutThroughPassesDamagedFramesOn(t *testing.T) {
	for _, exit := range []string{"1/3", ""} {
		c := NewCampus(5, noon)
		dist := c.AddSwitch(SwitchPlan{Name: "dist", Fibre: 3, Optic: "10GBASE-SR", Up: time.Hour, CutThrough: exit})
		core := c.AddSwitch(SwitchPlan{Name: "core", Fibre: 1, Optic: "10GBASE-SR", Up: time.Hour})
		acc := c.AddSwitch(SwitchPlan{Name: "acc", Fibre: 1, Optic: "10GBASE-SR", Up: time.Hour})
		link := func(id string, from, to *Port) *Cable {
			return c.Connect(Cable{
				ID: id, Media: Fibre, Kind: "OM4", LengthM: 20, A: from, B: to, Path: Path{Connectors: 2},
				AtoB: Flow{Bits: 200e6, Mix: office}, BtoA: Flow{Bits: 200e6, Mix: office},
			})
		}
		up, down := link("up", dist.Port("1/3"), core.Port("1/1")), link("down", acc.Port("1/1"), dist.Port("1/1"))
		c.Do(noon, func() { down.LossToB = 8 }) // what dist receives
		counted(c, down.B, noon.Add(time.Minute))
		there, behind := counted(c, down.B, noon.Add(time.Minute)), counted(c, up.B, noon.Add(time.Minute))
		require.Greater(t, there.FCS, uint64(100))
		if exit == "" {
			require.Zero(t, behind.FCS)
			continue
		}
		require.InEpsilon(t, there.FCS, behind.FCS, 0.05, "but for those on their way")
		require.Zero(t, counted(c, up.A, noon.Add(time.Minute)).FCS)
	}
}

func TestBothEndsInHalfDuplexDamageNothing(t *testing.T) {
	c, s, _ := bench()
	cable := patched(s, "pc")
	cable.AtoB, cable.BtoA = Flow{Bits: 2e7, Mix: office}, Flow{Bits: 2e7, Mix: office}
	cable.A.Fixed, cable.A.Half = 100, true
	laid := c.Connect(cable)
	n := counted(c, laid.A, noon.Add(time.Minute))
	speed, half := laid.A.Link()
	require.Equal(t, 100, speed)
	require.True(t, half)
	require.True(t, laid.Device.line.half, "IEEE 802.3 28.2.3.1: no auto-negotiation heard, so half")
	require.Positive(t, n.SingleCollision)
	require.Positive(t, n.Deferred)
	require.Zero(t, n.Late+n.FCS+laid.Device.line.Late+laid.Device.line.FCS)
}
