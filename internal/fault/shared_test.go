package fault

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// tray is a world of two switches of 24 ports. The runs of ports 1 to 8 of
// both go through one tray, the others through one tray of each switch;
// installers and batches alternate.
type tray struct {
	*world
	a, b *box
}

func newTray(t *testing.T) *tray {
	a, b := boxed("acc-1", 24), boxed("acc-2", 24)
	var runs []*plant.Run
	for _, box := range []*box{a, b} {
		for i, l := range box.links {
			way := "tray-" + box.name
			if i < 8 {
				way = "tray-lift"
			}
			runs = append(runs, &plant.Run{
				ID: fmt.Sprintf("%s-%02d", box.name, i+1), Switch: box.name, Port: l.name, Cable: "horizontal-6a", DesignSpeed: standards.Gbps,
				Pathways: []string{way}, Panel: "P-" + box.name, Installer: []string{"Harrow", "Quayside", "Brill"}[i%3], Batch: fmt.Sprint("B", i%4),
			})
		}
	}
	w := newWorld(t, runs, a, b)
	p := w.plant()
	p.Pathways = []*plant.Pathway{{ID: "tray-lift", Name: "Tray beside the lift", Near: []string{"lift motor"}}}
	w.tracker = NewTracker(plant.New(p), w.settings())
	w.polls(6)
	return &tray{w, a, b}
}

func (w *tray) alarms() (runs []string) {
	for _, f := range w.tracker.Snapshot().Faults {
		if f.Alarm {
			runs = append(runs, f.Run)
		}
	}
	slices.Sort(runs)
	return runs
}

// until lets polls pass until something is so.
func (w *tray) until(most int, so func(*Snapshot) bool) *Snapshot {
	for range most {
		if snap := w.polls(1); so(snap) {
			return snap
		}
	}
	require.Fail(w.t, "it did not come about", "%v", w.tracker.Snapshot().Shared)
	return nil
}

func shares(snap *Snapshot) bool { return len(snap.Shared) > 0 }

// Runs of two switches that have nothing but one tray in common fail: they are
// told once, by the tray's name, and the run outside of it by itself.
func TestARunsTrayIsToldInTheirStead(t *testing.T) {
	w := newTray(t)
	w.a.link("1/20").errored = 200
	w.polls(10)
	require.Equal(t, []string{"acc-1-20"}, w.alarms())
	began := w.now
	for _, b := range []*box{w.a, w.b} {
		for _, name := range b.names(1, 5) {
			b.link(name).errored = 200
		}
	}
	snap := w.until(20, func(s *Snapshot) bool { return len(s.Faults) == 11 })
	c := snap.Shared[0]
	require.Len(t, snap.Shared, 1)
	require.Equal(t, SharedName{ByPathway, "tray-lift"}, c.SharedName)
	require.Len(t, c.Faulty, 10)
	require.Equal(t, 16, c.Members)
	require.Empty(t, c.Suspects)
	require.Greater(t, c.Probability, 0.9)
	require.WithinDuration(t, began, c.Since, 10*time.Minute)
	require.Equal(t, "pathway Tray beside the lift (tray-lift)", c.Title)
	require.Contains(t, c.Evidence, "By the record there is beside it: lift motor.")
	require.Equal(t, Telling{
		c.Title, "Probability that this is why: " + Percent(c.Probability) + ".", "By the record there is beside it: lift motor.", c.Checks[0], plantRooms,
	}, c.Telling())
	require.Equal(t, []string{"acc-1-20"}, w.alarms(), "the others are folded")
	w.until(30, func(s *Snapshot) bool {
		worst := Warning
		for _, f := range s.Faults {
			if f.SharedCause != "" && f.Severity == Critical {
				worst = Critical
			}
		}
		require.Equal(t, worst, s.Shared[0].Severity, "it is as severe as the worst of them")
		return worst == Critical
	})
	for _, f := range snap.Faults {
		if f.Run != "acc-1-20" {
			require.Equal(t, "pathway tray-lift", f.SharedCause)
			require.Equal(t, Faulty, w.state(f.Run))
		}
	}

	// It goes on while what it stands on wavers, and ends with the last of them.
	since := c.Since
	for _, name := range w.a.names(1, 5) {
		w.a.link(name).errored = 0
	}
	for range 400 {
		snap = w.polls(1)
		require.Len(t, snap.Shared, 1)
		require.Equal(t, since, snap.Shared[0].Since)
	}
	for _, name := range w.b.names(1, 5) {
		w.b.link(name).errored = 0
	}
	w.until(2000, func(s *Snapshot) bool { return !shares(s) })
	require.Equal(t, []string{"acc-1-20"}, w.alarms())
}

// A restart is no news: the cause stays what it was, and nobody is told of its
// runs one by one while switches answer again.
func TestASharedCauseOutlastsARestart(t *testing.T) {
	w := newTray(t)
	for _, b := range []*box{w.a, w.b} {
		for _, name := range b.names(1, 5) {
			b.link(name).errored = 200
		}
	}
	w.until(20, func(s *Snapshot) bool { return len(s.Faults) == 10 })
	was := w.polls(2).Shared[0]
	for range 3 {
		w.restart()
		for range 6 {
			for _, b := range w.boxes {
				w.now = w.now.Add(time.Second)
				snap := w.poll(b)
				require.Len(t, snap.Shared, 1)
				require.Equal(t, was.SharedName, snap.Shared[0].SharedName)
				require.Equal(t, was.Since, snap.Shared[0].Since)
				require.Equal(t, was.Faulty, snap.Shared[0].Faulty)
				require.Empty(t, w.alarms())
			}
			w.now = w.now.Add(w.every)
		}
	}
}

// What is open when the cause lets go is told by itself again.
func TestWhatIsLeftOfASharedCauseAlarms(t *testing.T) {
	w := newTray(t)
	for _, name := range w.a.names(1, 6) {
		w.a.link(name).fellBack()
	}
	w.until(20, func(s *Snapshot) bool { return len(s.Faults) == 6 && shares(s) })
	require.Empty(t, w.alarms())
	for _, name := range w.a.names(2, 6) {
		w.a.link(name).gigabitAgain()
	}
	w.until(slowLetsGo+2, func(s *Snapshot) bool { return len(s.Faults) == 1 })
	require.Empty(t, w.alarms(), "not at once: the cause may come back")
	snap := w.until(17, func(s *Snapshot) bool { return !shares(s) })
	require.Equal(t, []string{"acc-1-01"}, w.alarms())
	require.Equal(t, "", snap.Faults[0].SharedCause)
}

// Settings, sleepers and silence share nothing.
func TestWhatIsNobodysFaultIsNoSharedCause(t *testing.T) {
	w := newTray(t)
	for _, name := range w.a.names(1, 8) {
		l := w.a.link(name)
		l.fellBack()
		l.frames = 1 // asleep
	}
	require.Empty(t, w.polls(30).Shared)
	w.a.class = "no-answer"
	require.Empty(t, w.polls(10).Shared)
}

// While a switch is silent nothing has shown that its runs are well again.
func TestASilentSwitchLetsNoSharedCauseGo(t *testing.T) {
	w := newTray(t)
	for _, name := range w.a.names(1, 6) {
		w.a.link(name).errored = 200
	}
	w.until(20, func(s *Snapshot) bool { return len(s.Faults) == 6 && shares(s) })
	w.a.class = "no-answer"
	snap := w.polls(3 * sharedLetsGo)
	require.Len(t, snap.Shared, 1)
	require.Empty(t, w.alarms())
}

// The slot is told from the port's name.
func TestSlotOf(t *testing.T) {
	for name, want := range map[string]string{
		"1/17": "1", "2/0/13": "2/0", "ge-1/0/13": "1/0", "GigabitEthernet3/4": "3", "eth7": "", "17": "", "": "",
	} {
		require.Equal(t, want, slotOf(name), name)
	}
}

// Each check of what runs share tells what others do, of copper and of fibre, and finds
// what can befall such runs.
func TestEveryAttributeHasItsCheck(t *testing.T) {
	require.Len(t, sharedTitles, len(Attributes))
	for _, a := range Attributes {
		require.NotEmpty(t, a.Title(), a)
		for _, glass := range []bool{false, true} {
			h := &hold{Name: SharedName{a, "X"}, Glass: glass, Probability: 0.9}
			check := h.nextChecks()[0]
			require.NotEmpty(t, check.Code, a)
			require.NotEmpty(t, check.Check, a)
			require.Positive(t, check.Minutes, a)
			require.NotEmpty(t, check.Interrupts.Words(), a)
			require.NotEmpty(t, check.Cautions, a)
			require.NotEmpty(t, check.Finds, a)
			for _, find := range check.Finds {
				require.True(t, h.material().suffers(find.Cause), "%s: %s", a, find.Cause)
			}
			require.Less(t, check.Probability, 0.9, "none finds it for sure")
		}
	}
}

// What the very same runs have in common besides is as likely why, and a rival as likely
// as the fit has it.
func TestChecksOfWhatIsSharedShareItsProbability(t *testing.T) {
	h := &hold{Name: SharedName{ByPathway, "T1"}, Probability: 0.8, Also: []SharedName{{ByBundle, "B1"}}, Rivals: []SharedRival{{SharedName{ByLineCard, "a/1"}, 0.1}, {SharedName{ByPanel, "P1"}, 0.05}}}
	checks := h.nextChecks()
	require.Len(t, checks, 3)
	require.InDelta(t, 0.4*mostly, checks[0].Probability, 1e-9)
	require.InDelta(t, 0.4*mostly, checks[1].Probability, 1e-9)
	require.InDelta(t, 0.1*nearlySurely, checks[2].Probability, 1e-9)
	require.Contains(t, checks[1].Check, "bundle B1: Open the bundle")
}
