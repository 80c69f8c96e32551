package fault

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

func TestAnOpenPairIsBelowDesignSpeedOnItsRun(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17")}, l)
	require.Empty(t, s.polls(5).Faults)
	require.Equal(t, Healthy, s.state("N2-P1-17"))

	l.fellBack()
	require.Empty(t, s.polls(2).Faults, "takes hold at the third poll")
	f := only(t, s.polls(1))
	require.Equal(t, "N2-P1-17", f.Run)
	require.Equal(t, "sw-1", f.Switch)
	require.Equal(t, "1/17", f.Port)
	require.Equal(t, BelowDesignSpeed, f.Kind)
	require.Equal(t, start.Add(6*every), f.Since, "the first poll at the lower speed")
	require.Equal(t, OpenPair, f.Cause())
	require.Equal(t, AboutRun, f.About)
	require.True(t, f.Alarm)
	require.Equal(t, Warning, f.Severity)
	require.Equal(t, "sw-1 port 1/17", f.Near)
	require.Equal(t, "outlet 214-A", f.Far)
	require.Contains(t, f.Summary, "Up at 100M instead of 1G while in use")
	require.Contains(t, f.Evidence, "The port offers up to 1G, the far end up to 1G.")
	require.Contains(t, f.FirstCheck(), "4-5 and 7-8")
	require.Subset(t, f.Cautions, []string{local, apart, firestop})
	require.Equal(t, Faulty, s.state("N2-P1-17"))

	l.gigabitAgain()
	require.Len(t, s.polls(9).Faults, 1, "lets go at the tenth poll at speed")
	require.Empty(t, s.polls(1).Faults)
	require.Equal(t, Healthy, s.state("N2-P1-17"))
}

func TestLookAlikesOfALowSpeedAreNotBlamedOnTheCable(t *testing.T) {
	rows := []struct {
		name   string
		change func(*link)
		first  bool // so from the first poll
		cause  Cause
		about  About
		quiet  bool
	}{
		{"asleep: low speed, nothing received", func(l *link) { l.fellBack(); l.frames = 0 }, false, FarEndAsleep, AboutFarEnd, true},
		{"asleep: an answer now and then", func(l *link) { l.fellBack(); l.frames = 5 }, false, FarEndAsleep, AboutFarEnd, true},
		{"asleep, and offering little", func(l *link) { l.fellBack(); l.far, l.frames = legacy, 0 }, true, FarEndAsleep, AboutFarEnd, true},
		{"a device of 100M", func(l *link) { l.fellBack(); l.far = legacy }, true, FarEndLimit, AboutFarEnd, true},
		{"the port is set to offer 100M", func(l *link) { l.fellBack(); l.own = legacy }, false, SpeedSetting, AboutPort, false},
		{"auto-negotiation is off", func(l *link) { l.fellBack(); l.auto = port.No; l.far = 0 }, false, SpeedSetting, AboutPort, false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17")}, l)
			if !row.first {
				s.polls(5)
			}
			row.change(l)
			f := only(t, s.polls(4))
			require.Equal(t, row.cause, f.Cause())
			require.Equal(t, row.about, f.About)
			require.Equal(t, row.quiet, f.Quiet)
			require.Equal(t, !row.quiet, f.Alarm)
			if row.quiet {
				require.Equal(t, Quiet, s.state("N2-P1-17"))
			}
		})
	}
}

// A port that offers bits up to 1G may be of an agent that knows no more; but
// where it never held more, the record is likelier to be wrong than the cable.
func TestADesignSpeedThatWasNeverHeldIsTheRecords(t *testing.T) {
	run := horizontal("R", "1/17")
	run.DesignSpeed = 10 * standards.Gbps
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{run}, l)
	f := only(t, s.polls(10))
	require.Equal(t, RecordWrong, f.Cause())
	require.True(t, f.Quiet)

	l = gigabitLink("1/17")
	l.mbps, l.mau = 10000, 54
	s = newScene(t, []*plant.Run{run}, l)
	require.Empty(t, s.polls(10).Faults)
	l.mbps, l.mau = 1000, 30
	f = only(t, s.polls(5))
	require.False(t, f.Quiet)
	require.Equal(t, AboutRun, f.About)
}

func TestASleeperThatStaysSlowWhenItWakesIsAFault(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17")}, l)
	l.fellBack()
	l.frames = 0
	require.True(t, only(t, s.polls(6)).Quiet)
	l.frames = 60_000
	require.True(t, only(t, s.polls(2)).Quiet)
	require.Equal(t, OpenPair, only(t, s.polls(1)).Cause())
	l.frames = 0
	require.False(t, only(t, s.polls(30)).Quiet, "once seen slow while in use, a night's sleep does not hush it")
}

func TestAFarEndThatStoppedOfferingMoreIsStillSuspect(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17")}, l)
	s.polls(5)
	l.fellBack()
	l.far = legacy // some devices withdraw the offer after falling back
	require.Equal(t, OpenPair, only(t, s.polls(3)).Cause())
}

func TestAfterALongPauseAnotherDeviceMayBeThere(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17")}, l)
	s.polls(5)
	l.oper = port.Down
	s.polls(2)
	l.oper, l.far = port.Up, legacy
	l.fellBack()
	require.Equal(t, FarEndLimit, only(t, s.polls(3)).Cause())
}

func TestTheSpeedMeant(t *testing.T) {
	rows := []struct {
		name string
		run  *plant.Run
		far  standards.Abilities
		want standards.Speed
	}{
		{"design speed", horizontal("R", "1/17"), gigabit, standards.Gbps},
		{"device speed where lower", &plant.Run{ID: "R", Switch: "sw-1", Port: "1/17", DesignSpeed: standards.Gbps, DeviceSpeed: 100 * standards.Mbps}, gigabit, 100 * standards.Mbps},
		{"no run: what both ends offer", nil, gigabit, standards.Gbps},
		{"no run: the lesser offer", nil, legacy, 100 * standards.Mbps},
		{"no run, no offer", nil, 0, 0},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			l.far = row.far
			var runs []*plant.Run
			if row.run != nil {
				runs = append(runs, row.run)
			}
			snap := newScene(t, runs, l).polls(2)
			p, ok := snap.Switches[0].Port("1/17")
			require.True(t, ok)
			require.Equal(t, row.want, p.Meant)
		})
	}
}

// Without a record too, a port that was set lower than both ends can and the link was
// is told; one that was never faster is as somebody meant it.
func TestASettingThatWasLoweredIsToldWithoutARecord(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, nil, l)
	s.polls(5)
	l.fellBack()
	l.own = legacy
	f := only(t, s.polls(4))
	require.Equal(t, SpeedSetting, f.Cause())
	require.True(t, f.Alarm)
	require.Contains(t, strings.Join(f.Evidence, " "), "should be 1G (it ran at that before the port was set lower, and both ends can)")

	l = gigabitLink("1/17")
	l.fellBack()
	l.own = legacy
	require.Empty(t, newScene(t, nil, l).polls(10).Faults)
}

func TestAPortWithoutARunRaisesTheSameFaults(t *testing.T) {
	slow, noisy := gigabitLink("1/3"), gigabitLink("1/4")
	slow.alias = "room 12 window"
	slow.fellBack()
	noisy.index, noisy.errored = 10102, 30
	snap := newScene(t, nil, slow, noisy).polls(10)
	require.Len(t, snap.Faults, 2)
	for _, f := range snap.Faults {
		require.Empty(t, f.Run)
		require.True(t, f.Alarm)
	}
	require.Equal(t, `sw-1 port 1/3 ("room 12 window")`, snap.FaultsAt("sw-1", "1/3")[0].Near)
	require.Equal(t, FrameErrors, snap.FaultsAt("sw-1", "1/4")[0].Kind)
}

// What a port told before its link went, or before one poll without its
// auto-negotiation, still holds.
func TestAVerdictOutlivesSilence(t *testing.T) {
	rows := []struct {
		name   string
		before func(*link)
		then   func(*link)
		cause  Cause
		quiet  bool
	}{
		{"a device of 100M is switched off", func(l *link) { l.far = legacy }, func(l *link) { l.oper = port.Down }, FarEndLimit, true},
		{"a setting is not told once", func(l *link) { l.auto = port.No }, func(l *link) { l.auto = port.NotTold; l.edit = noOffers }, SpeedSetting, false},
		{"an open pair is unplugged", func(*link) {}, func(l *link) { l.oper = port.Down }, OpenPair, false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			l.fellBack()
			row.before(l)
			s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
			require.Equal(t, row.cause, only(t, s.polls(5)).Cause())
			row.then(l)
			for range 5 {
				f := only(t, s.polls(1))
				require.Equal(t, row.cause, f.Cause())
				require.Equal(t, row.quiet, f.Quiet)
			}
		})
	}
}

func noOffers(r *port.Reading) {
	r.AutoNeg.Capable, r.AutoNeg.Advertised, r.AutoNeg.Received =
		port.Value[standards.Abilities]{}, port.Value[standards.Abilities]{}, port.Value[standards.Abilities]{}
}

func TestBusyMinutesFarApartDoNotWakeASleeper(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(5)
	l.fellBack()
	for range 5 {
		l.frames = 0
		s.polls(200)
		l.frames = 40 // somebody looks which devices answer
		require.True(t, only(t, s.polls(1)).Quiet)
	}
}

// A switch may show the configured speed while the link is down, and a row may
// be read just as the link comes up.
func TestAConfiguredSpeedIsNotTakenForOneThatWasHeld(t *testing.T) {
	l := gigabitLink("1/17")
	l.oper, l.far = port.Down, legacy
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(3)
	l.oper = port.Up
	s.polls(1)
	l.fellBack()
	require.Equal(t, FarEndLimit, only(t, s.polls(5)).Cause())
}

func TestAFaultWithoutARecordLetsGoAtSpeedOnly(t *testing.T) {
	rows := map[string]func(*link){
		"no offer is told":     func(l *link) { l.edit = noOffers },
		"the device is off":    func(l *link) { l.oper = port.Down },
		"and on again":         func(l *link) { l.oper = port.Up },
		"nothing has happened": func(*link) {},
	}
	for name, change := range rows {
		t.Run(name, func(t *testing.T) {
			l := gigabitLink("1/3")
			l.fellBack()
			s := newScene(t, nil, l)
			since := only(t, s.polls(5)).Since
			change(l)
			require.Equal(t, since, only(t, s.polls(3)).Since)
		})
	}
}

func TestARepairedRunThatSleepsIsQuiet(t *testing.T) {
	l := gigabitLink("1/17")
	l.fellBack()
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	require.False(t, only(t, s.polls(5)).Quiet)
	l.gigabitAgain()
	f := only(t, s.polls(8))
	require.Contains(t, f.Evidence, "It is at 1G now: the fault is over after 10 polls in a row.")
	l.fellBack()
	l.frames = 0
	require.True(t, only(t, s.polls(5)).Quiet)
}

func TestTheSummaryNamesThePortThatIsSet(t *testing.T) {
	a, b := gigabitLink("1/1"), gigabitLink("1/2")
	b.index = 10102
	a.fellBack()
	b.fellBack()
	b.own, a.far = legacy, legacy
	run := horizontal("UPLINK", "1/1")
	run.FarSwitch, run.FarPort, run.Outlet = "sw-1", "1/2", ""
	f := only(t, newScene(t, []*plant.Run{run}, a, b).polls(5))
	require.Equal(t, SpeedSetting, f.Cause())
	require.Equal(t, "Up at 100M instead of 1G: sw-1 port 1/2 is set to offer no more than 100M.", f.Summary)
	require.NotContains(t, strings.Join(f.Evidence, " "), "Against the likeliest cause", "the port's own word outweighs it")
}

// Whatever is to be checked on a fibre, its optics are looked at and plugged.
func TestALowSpeedOnAFibreTellsOfTheLight(t *testing.T) {
	s := newFibreScene(t, nil)
	for _, box := range []*box{s.a, s.b} {
		box.links[0].mbps, box.links[0].mau = 1000, 26 // dot3MauType1000BaseSXFD (RFC 4836)
	}
	f := only(t, s.polls(5))
	require.Equal(t, BelowDesignSpeed, f.Kind)
	require.Contains(t, f.Cautions, laser)
}

// A record that means more than any copper port of the switch ever had is another
// port's.
func TestADesignSpeedThatNoPortOfTheSwitchHas(t *testing.T) {
	for _, row := range []struct {
		fast  float64 // Mbit/s of one other port
		cause Cause
	}{{1000, RecordWrong}, {10_000, WrongCategory}} {
		run := horizontal("R", "1/1")
		run.DesignSpeed = 10 * standards.Gbps
		var links []*link
		for n := range leastSlower + 1 {
			links = append(links, gigabitLink(fmt.Sprintf("1/%d", n+1)))
			links[n].edit = func(r *port.Reading) { r.AutoNeg = port.AutoNegotiation{} } // not told
		}
		links[leastSlower].mbps = uint32(row.fast)
		s := newScene(t, []*plant.Run{run}, links...)
		require.Equal(t, row.cause, only(t, s.polls(10)).Cause(), "%v", row.fast)
	}
}
