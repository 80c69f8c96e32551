package fault

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

// planned is a scene of two runs in different pathways, panels and rooms.
func planned(t *testing.T) (s *scene, slow, errored *link) {
	slow, errored = gigabitLink("1/17"), gigabitLink("1/18")
	errored.index = 10102
	a, b := horizontal("A", "1/17"), horizontal("B", "1/18")
	a.Pathways, a.Panel, a.FarPanel = []string{"east"}, "P1", "P9"
	b.Segments = []plant.Segment{{Pathways: []string{"west"}}}
	s = newScene(t, nil, slow, errored)
	s.tracker = NewTracker(plant.New(plant.Plant{
		Site: "Ferrow Quay College", Runs: []*plant.Run{a, b}, Spaces: []*plant.Space{{ID: "TR-1"}, {ID: "hall"}},
		Panels:   []*plant.Panel{{ID: "P1", Space: "TR-1"}, {ID: "P9", Space: "hall"}},
		Pathways: []*plant.Pathway{{ID: "east", Name: "East tray"}, {ID: "west"}},
	}), s.tracker.settings)
	s.polls(5)
	return s, slow, errored
}

func work(on Attribute, value string, from, to time.Time) PlannedWork {
	return PlannedWork{ID: "w1", On: SharedName{on, value}, From: from, To: to, By: "ada", Why: "new tray"}
}

// A fault where work is in force is shown and told to nobody, whichever way it is
// where the work is.
func TestFaultsWhereWorkIsPlanned(t *testing.T) {
	for name, row := range map[string]struct {
		on       SharedName
		a, other bool
	}{
		"run":           {SharedName{ByRun, "A"}, true, false},
		"near panel":    {SharedName{ByPanel, "P1"}, true, false},
		"far panel":     {SharedName{ByPanel, "P9"}, true, false},
		"pathway":       {SharedName{ByPathway, "east"}, true, false},
		"of a segment":  {SharedName{ByPathway, "west"}, false, true},
		"far room":      {SharedName{BySpace, "hall"}, true, false},
		"switch's room": {SharedName{BySpace, "TR-1"}, true, true},
		"switch":        {SharedName{BySwitch, "sw-1"}, true, true},
		"whole plant":   {SharedName{ByPlant, "all"}, true, true},
		"elsewhere":     {SharedName{BySwitch, "sw-2"}, false, false},
	} {
		t.Run(name, func(t *testing.T) {
			s, slow, errored := planned(t)
			s.tracker.Plan([]PlannedWork{work(row.on.Attribute, row.on.Value, s.now, s.now.Add(time.Hour))}, s.now)
			slow.fellBack()
			errored.errored = 200
			snap := s.polls(20)
			require.Len(t, snap.Faults, 2)
			for run, covered := range map[string]bool{"A": row.a, "B": row.other} {
				f := snap.FaultsOf(run)[0]
				require.Equal(t, covered, f.Planned, run)
				require.Equal(t, !covered, f.Alarm, run)
				if covered {
					require.Equal(t, Planned, s.state(run))
					require.Equal(t, AtWork, f.Guards[len(f.Guards)-1].Name)
					require.Contains(t, f.Guards[len(f.Guards)-1].Says, "new tray (ada)")
				} else {
					require.Equal(t, Faulty, s.state(run))
				}
			}
		})
	}
}

// At its end is told what is worse than before it began: what was open then and is
// no worse is not, and what is over is not.
func TestWhatIsWorseAfterWork(t *testing.T) {
	s, slow, errored := planned(t)
	slow.fellBack()
	require.True(t, only(t, s.polls(5)).Alarm, "before the work")
	from, to := s.now.Add(10*time.Minute), s.now.Add(40*time.Minute)
	s.tracker.Plan([]PlannedWork{work(ByPlant, "all", from, to)}, s.now)
	var events []Event
	var ended []WorkEnded
	until := func(moment time.Time) (snap *Snapshot) {
		for s.now.Before(moment) {
			snap = s.polls(1)
			events, ended = append(events, snap.Events...), append(ended, snap.Ended...)
		}
		return snap
	}
	require.True(t, only(t, until(from.Add(-every))).Alarm)
	require.False(t, only(t, until(from)).Alarm, "what was open before is hushed too")
	require.Equal(t, Hushed, events[len(events)-1].What)
	events, errored.errored = nil, 200
	require.Len(t, until(to.Add(-time.Minute)).Faults, 2)
	require.Empty(t, ended)
	for _, e := range events {
		require.False(t, e.Fault.Alarm)
	}
	events = nil
	snap := until(to)
	for _, f := range snap.Faults {
		require.True(t, f.Alarm)
		require.False(t, f.Planned)
	}
	require.Len(t, events, 2)
	require.Equal(t, []EventKind{Alarmed, Alarmed}, []EventKind{events[0].What, events[1].What})
	require.Len(t, ended, 1)
	require.Len(t, ended[0].Worse, 1)
	require.Equal(t, "B", ended[0].Worse[0].Run)
	require.Empty(t, until(to.Add(10*time.Minute)).Ended)
	require.Len(t, ended, 1, "told once")
}

// The same where the daemon was started anew meanwhile, and where the work ended
// while it did not run.
func TestPlannedWorkOutlastsARestart(t *testing.T) {
	for name, away := range map[string]time.Duration{"soon": time.Minute, "after its end": 2 * time.Hour} {
		t.Run(name, func(t *testing.T) {
			s, slow, errored := planned(t)
			slow.fellBack()
			s.polls(5)
			to := s.now.Add(time.Hour)
			s.tracker.Plan([]PlannedWork{work(ByPathway, "west", s.now, to), {ID: "later", On: SharedName{ByPlant, "all"}, From: to.Add(20 * time.Hour), To: to.Add(29 * time.Hour)}}, s.now)
			s.polls(2)
			errored.errored = 200
			snap := s.polls(15)
			require.True(t, snap.FaultsOf("B")[0].Planned)
			s.now = s.now.Add(away)
			s.restart()
			var ended []WorkEnded
			planned := false
			for !s.now.After(to.Add(10*time.Minute)) || len(ended) == 0 {
				snap = s.polls(1)
				planned = planned || len(snap.FaultsOf("B")) > 0 && snap.FaultsOf("B")[0].Planned
				ended = append(ended, snap.Ended...)
				require.True(t, s.now.Before(to.Add(3*time.Hour)), "its end is told")
			}
			require.Equal(t, away < time.Hour, planned)
			require.Len(t, ended, 1)
			require.Equal(t, "w1", ended[0].Work.ID)
			require.Len(t, ended[0].Worse, 1)
			require.Equal(t, "B", ended[0].Worse[0].Run)
		})
	}
}

// A switch that is silent while work on it is in force is told to nobody, and at
// its end it is.
func TestASwitchThatIsWorkedOn(t *testing.T) {
	s, _, _ := planned(t)
	s.tracker.Plan([]PlannedWork{work(BySwitch, "sw-1", s.now, s.now.Add(20*time.Minute))}, s.now)
	var ended []WorkEnded
	told := func() bool {
		s.now = s.now.Add(every)
		snap := s.tracker.Failed("sw-1", s.now, "no-answer", errors.New("no answer"))
		ended = append(ended, snap.Ended...)
		sw, _ := snap.Switch("sw-1")
		return sw.Told()
	}
	for range 19 {
		require.False(t, told())
	}
	for range 3 {
		told()
	}
	require.True(t, told())
	require.Len(t, ended, 1)
	require.Equal(t, []string{"sw-1"}, ended[0].Silent)
}

func TestPlannedWorkThatMakesNoSense(t *testing.T) {
	p := plant.New(plant.Plant{Site: "Ferrow Quay College", Pathways: []*plant.Pathway{{ID: "tray-n2-east"}}, Runs: []*plant.Run{{ID: "N2-P1-17"}}})
	hour := func(n int) time.Time { return start.Add(time.Duration(n) * time.Hour) }
	for name, row := range map[string]struct {
		work PlannedWork
		says string
	}{
		"backwards":         {work(ByPathway, "tray-n2-east", hour(2), hour(1)), "ends at 2026-03-02T09:00:00Z, which is not after it begins at 2026-03-02T10:00:00Z"},
		"no time at all":    {work(ByPathway, "tray-n2-east", hour(1), hour(1)), "is not after it begins"},
		"no times":          {work(ByPathway, "tray-n2-east", time.Time{}, hour(1)), "wants the times from and to"},
		"no such attribute": {work("pathwy", "tray-n2-east", hour(1), hour(2)), `cannot be on "pathwy"; did you mean "pathway"?`},
		"installer":         {work(ByInstaller, "x", hour(1), hour(2)), "it is on one of run, panel, pathway, space, switch, plant"},
		"no such pathway":   {work(ByPathway, "tray-n2-eats", hour(1), hour(2)), `no pathway is named "tray-n2-eats"; did you mean "tray-n2-east"?`},
		"no such switch":    {work(BySwitch, "acc-n2-2", hour(1), hour(2)), `no switch is named "acc-n2-2"; did you mean "acc-n2-1"?`},
		"another plant":     {work(ByPlant, "elsewhere", hour(1), hour(2)), `no plant is named "elsewhere"`},
		"nothing":           {work(ByRun, "", hour(1), hour(2)), `no run is named ""`},
		"well":              {work(ByRun, "N2-P1-17", hour(1), hour(2)), ""},
		"well, by its name": {work(ByPlant, "Ferrow Quay College", hour(1), hour(2)), ""},
	} {
		t.Run(name, func(t *testing.T) {
			err := row.work.Check(p, []string{"acc-n2-1"})
			if row.says == "" {
				require.NoError(t, err)
			} else {
				require.ErrorContains(t, err, row.says)
			}
		})
	}
}

// Work on the only run to a switch may cut it off, which is no news then; one with
// another link is another matter.
func TestASwitchThatIsCutOffByWork(t *testing.T) {
	for name, ringed := range map[string]bool{"its only run": false, "one of two": true} {
		t.Run(name, func(t *testing.T) {
			a, b, c := boxed("a", 3), boxed("b", 3), boxed("c", 3)
			cable(a, "1/1", b, "1/1")
			cable(a, "1/2", c, "1/1")
			runs := []*plant.Run{
				{ID: "AB", Switch: "a", Port: "1/1", FarSwitch: "b", FarPort: "1/1"},
				{ID: "AC", Switch: "a", Port: "1/2", FarSwitch: "c", FarPort: "1/1"},
			}
			if ringed {
				cable(b, "1/2", c, "1/2")
				runs = append(runs, &plant.Run{ID: "BC", Switch: "b", Port: "1/2", FarSwitch: "c", FarPort: "1/2"})
			}
			w := newWorld(t, runs, a, b, c)
			w.polls(6)
			w.tracker.Plan([]PlannedWork{work(ByRun, "AB", w.now, w.now.Add(20*time.Minute))}, w.now)
			require.Equal(t, !ringed, w.view("b").Planned)
			require.False(t, w.view("a").Planned)
			b.class = "no-answer"
			w.polls(10)
			require.True(t, w.view("b").Unread())
			require.Equal(t, ringed, w.view("b").Told())
			w.polls(12)
			require.True(t, w.view("b").Told(), "it is told at the end")
		})
	}
}

// Work that is announced to be elsewhere, while it lasts, ends there: what stood there
// when that was told is no worse than before.
func TestWorkThatIsMoved(t *testing.T) {
	s, slow, errored := planned(t)
	errored.errored = 200
	require.True(t, only(t, s.polls(20)).Alarm, "run B, before the work")
	from, to := s.now, s.now.Add(30*time.Minute)
	s.tracker.Plan([]PlannedWork{work(ByRun, "A", from, to)}, s.now)
	s.polls(5)
	s.tracker.Plan([]PlannedWork{work(ByRun, "B", from, to)}, s.now)
	s.polls(5)
	slow.fellBack()
	var ended []WorkEnded
	for s.now.Before(to) {
		ended = append(ended, s.polls(1).Ended...)
	}
	require.Len(t, ended, 1)
	require.Equal(t, "run B", ended[0].Where)
	require.Empty(t, ended[0].Worse, "B is as it was, and A is not where the work is")
}

// Work that is ended early and then goes on as it was planned first ends twice, each time
// at the time by which it does: so the two are told apart.
func TestWorkThatEndsEarlyAndGoesOn(t *testing.T) {
	s, slow, _ := planned(t)
	w := work(ByRun, "A", s.now, s.now.Add(40*time.Minute))
	s.tracker.Plan([]PlannedWork{w}, s.now)
	s.polls(5)
	slow.fellBack()
	s.polls(5)
	early := w
	early.To = s.now
	ended := s.tracker.Plan([]PlannedWork{early}, s.now).Ended
	require.Len(t, ended, 1)
	require.Equal(t, early.To, ended[0].Work.To)
	require.Len(t, ended[0].Worse, 1)

	s.tracker.Plan([]PlannedWork{w}, s.now)
	later := w
	later.From, later.To = s.now.Add(20*time.Minute), w.To
	ended = append(ended, s.tracker.Plan([]PlannedWork{later}, s.now).Ended...)
	for s.now.Before(w.To) {
		ended = append(ended, s.polls(1).Ended...)
	}
	require.Len(t, ended, 3, "put off, and at its end")
	require.True(t, ended[1].Work.To.Before(ended[2].Work.To))
	require.Equal(t, w.To, ended[2].Work.To)
}
