package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// mended is a scene of a copper run whose frames were damaged for so many polls,
// with the repair that is about to be told.
func mended(t *testing.T, polls int) (s *scene, l *link, r Repair) {
	l = gigabitLink("1/17")
	s = newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	settings := s.tracker.settings
	settings.RepairProof = time.Hour
	s.tracker = NewTracker(s.tracker.plant, settings)
	s.polls(5)
	l.errored = 200 // of 60,000 frames
	require.True(t, only(t, s.polls(polls)).Alarm)
	return s, l, Repair{ID: "r1", At: s.now, Run: "R", Cause: BadCord, By: "ada"}
}

// A link of 60,000 frames of 500 octets a poll receives 2.4e8 bits in one. To be
// sure at 95 % that 1000BASE-T meets its objective of 1e-10 takes -ln(0.05)/1e-10
// = 2.9957e10 bits without an error (the rule of three; IEEE 802.3 40.1.1 for the
// objective): 125 polls. The fewer errors than before are shown long before, and
// the hour of the settings too.
func TestARepairIsProven(t *testing.T) {
	const wanted = 125
	for name, restart := range map[string]bool{"in one go": false, "over a restart": true} {
		t.Run(name, func(t *testing.T) {
			s, l, r := mended(t, 20)
			was := s.tracker.Snapshot().Faults[0]
			snap := s.tracker.Repair(r)
			require.Equal(t, []EventKind{Hushed}, events(snap))
			l.errored = 0
			f := only(t, s.polls(1))
			require.False(t, f.Alarm)
			require.False(t, f.Quiet)
			require.Equal(t, [...]any{was.Kind, was.Since, was.Run, was.Causes, was.Medium}, [...]any{f.Kind, f.Since, f.Run, f.Causes, f.Medium})
			require.Contains(t, f.Summary, "waits for its proof")
			require.Equal(t, AwaitsProof, f.Guards[0].Name)
			require.Equal(t, Faulty, s.state("R"))
			require.InDelta(t, 2.9957e10-2.4e8, *f.Proof.NeededBits, 1e7)
			require.InDelta(t, (2.9957e10-2.4e8)/(2.4e8*60), *f.Proof.NeededHours, 0.01)

			s.polls(60)
			gap := 0
			if restart {
				s.restart()
				gap = 1 // the first poll compares with nothing
			}
			snap = s.polls(wanted - 61 + gap - 1)
			require.Len(t, snap.Faults, 1, "a poll too soon")
			require.Empty(t, snap.Proofs)
			snap = s.polls(1)
			require.Empty(t, snap.Faults)
			require.Equal(t, []EventKind{Closed}, events(snap))
			require.Len(t, snap.Proofs, 1)
			require.Equal(t, [...]any{"r1", true, []Kind{FrameErrors}}, [...]any{snap.Proofs[0].Repair.ID, snap.Proofs[0].Proven, snap.Proofs[0].Kinds})
			require.Equal(t, 1, s.tracker.confirmed["copper"][BadCord])
			require.Empty(t, s.tracker.Repair(r).Events, "the same repair again is none")
			require.Equal(t, Healthy, s.state("R"))
		})
	}
}

// Errors that return reopen the fault: it is the one of before, and alarms.
func TestARepairThatDoesNotHold(t *testing.T) {
	s, l, r := mended(t, 20)
	since := s.tracker.Snapshot().Faults[0].Since
	s.tracker.Repair(r)
	l.errored = 0
	require.False(t, only(t, s.polls(30)).Alarm)
	l.errored = 200
	var snap *Snapshot
	for range 20 {
		if snap = s.polls(1); len(snap.Proofs) > 0 {
			break
		}
	}
	f := only(t, snap)
	require.True(t, f.Alarm)
	require.Nil(t, f.Proof)
	require.Equal(t, since, f.Since)
	require.Equal(t, []EventKind{Alarmed}, events(snap))
	require.False(t, snap.Proofs[0].Proven)
	require.Contains(t, f.Evidence, "It was repaired 2026-03-02 08:25 UTC by ada (a bad cord), and returned 32 minutes later.")
	require.Empty(t, s.tracker.confirmed)

	// Repaired again, and this time well. It stayed away for half an hour before, so that
	// 19 times as long shows that it came back once by no chance.
	l.errored = 0
	again := Repair{ID: "r2", At: s.now, Run: "R", Cause: LoosePlug, By: "ada"}
	s.tracker.Repair(again)
	f = only(t, s.polls(1))
	require.False(t, f.Alarm)
	require.Equal(t, since, f.Since)
	require.Len(t, s.polls(500).Faults, 1)
	s.polls(200)
	require.Empty(t, s.tracker.Snapshot().Faults)
	require.Equal(t, 1, s.tracker.confirmed["copper"][LoosePlug])
}

// A repair that changed nothing is told as soon as the test that began afresh says so.
func TestARepairThatChangedNothing(t *testing.T) {
	s, _, r := mended(t, 20)
	s.tracker.Repair(r)
	for polls := 1; ; polls++ {
		require.Less(t, polls, 15, "an error rate of 0.3 % is told within some polls")
		if only(t, s.polls(1)).Alarm {
			return
		}
	}
}

// No traffic is no evidence, and the sentence says so.
func TestNoTrafficProvesNothing(t *testing.T) {
	s, l, r := mended(t, 20)
	s.tracker.Repair(r)
	l.errored, l.frames = 0, 0
	f := only(t, s.polls(3000))
	require.Nil(t, f.Proof.NeededHours)
	require.Contains(t, f.Summary, "without traffic it cannot be proven")
}

// Errors that came every hour and a half: the proof lasts three hours at least.
func TestAProofOutlastsTheLongestGapTwice(t *testing.T) {
	s, l, r := mended(t, 5)
	for range 3 {
		l.errored = 0
		s.polls(89)
		l.errored = 400
		s.polls(1)
	}
	require.True(t, s.tracker.order[0].order[0].errors.detector.Open())
	r.At = s.now
	s.tracker.Repair(r)
	l.errored = 0
	f := only(t, s.polls(1))
	require.Contains(t, f.Summary, "of 3.0 hours watched")
	require.Len(t, s.polls(177).Faults, 1)
	require.Empty(t, s.polls(2000).Faults)
}

// What is no matter of errors is proven by being watched for long enough; a device
// that sleeps meanwhile is no failure.
func TestASpeedThatIsRepaired(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(5)
	l.fellBack()
	require.True(t, only(t, s.polls(5)).Alarm)
	s.tracker.Repair(Repair{ID: "r1", At: s.now, Run: "R", Cause: OpenPair, By: "ada"})
	l.gigabitAgain()
	f := only(t, s.polls(1))
	require.Equal(t, BelowDesignSpeed, f.Kind)
	require.False(t, f.Alarm)
	require.InDelta(t, 24, *f.Proof.NeededHours, 0.1)
	l.frames, l.mbps, l.mau, l.far = 0, 10, 10, legacy // it sleeps
	for range 60 {
		for _, f := range s.polls(1).Faults {
			require.False(t, f.Alarm, f.Summary)
		}
	}
	l.gigabitAgain()
	l.frames, l.far = 60_000, gigabit
	var ended []RepairEnded
	for range 24 * 60 {
		ended = append(ended, s.polls(1).Proofs...)
	}
	require.Len(t, ended, 1)
	require.True(t, ended[0].Proven)
	require.Empty(t, s.tracker.Snapshot().Faults)
}

// The speed falls back again.
func TestASpeedThatFallsBackAgain(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(5)
	l.fellBack()
	since := only(t, s.polls(5)).Since
	s.tracker.Repair(Repair{ID: "r1", At: s.now, Run: "R", Cause: OpenPair, By: "ada"})
	l.gigabitAgain()
	s.polls(30)
	l.fellBack()
	f := only(t, s.polls(5))
	require.True(t, f.Alarm)
	require.Equal(t, since, f.Since)
	l.gigabitAgain()
	require.Empty(t, s.polls(15).Faults, "it lets go as ever, without a proof")
	require.Empty(t, s.tracker.confirmed)
}

func TestARunWithoutAFaultHasNothingToProve(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(5)
	require.Empty(t, s.tracker.Repair(Repair{ID: "r1", At: s.now, Run: "R", Cause: BadCord}).Faults)
	require.Empty(t, s.polls(5).Faults)
}

// A repair that is taken late, as after a restart, is none of what came after it.
func TestARepairFromBeforeAFault(t *testing.T) {
	s, _, r := mended(t, 20)
	r.At = start
	s.tracker.Repair(r)
	require.True(t, only(t, s.polls(1)).Alarm)
}

// A port with next to no traffic would take longer to be proven than a Duration can
// tell, which is 292 years: a port of 10 Gbit/s wants -ln(0.05)/1e-12 = 3e12 bits
// (IEEE 802.3 table 52-12 for the objective), and gets 4,000 a poll.
func TestAProofThatTakesCenturies(t *testing.T) {
	s, l, r := mended(t, 20)
	s.tracker.Repair(r)
	l.errored, l.frames = 0, 1
	l.edit = func(r *port.Reading) { r.HighSpeed, r.MAU = port.Some(uint32(10_000)), 35 }
	p := only(t, s.polls(200)).Proof
	require.Contains(t, p.Says, "takes more than 100 years.")
	require.Contains(t, p.Needs(), "without a damaged frame, more than 100 years at the present traffic")
}

// A repair whose run leaves the inventory is proven once, and counts once, though its
// ports are two places then.
func TestARepairOfARunThatLeavesIsProvenOnce(t *testing.T) {
	a, b := boxed("a", 12), boxed("b", 12)
	cable(a, "1/1", b, "1/1")
	run := &plant.Run{ID: "T", Switch: "a", Port: "1/1", FarSwitch: "b", FarPort: "1/1", Cable: "horizontal-6a"}
	w := newWorld(t, []*plant.Run{run}, a, b)
	settings := w.settings()
	settings.RepairProof = time.Hour
	w.tracker.Replace(plant.New(w.plant()), settings, w.now)
	w.polls(5)
	near, far := a.link("1/1"), b.link("1/1")
	near.errored, far.errored = 200, 200
	w.polls(20)
	require.Len(t, w.tracker.board.sites[place{run: "T"}].ports, 2, "both ends have damaged frames")
	w.tracker.Repair(Repair{ID: "r1", At: w.now, Run: "T", Cause: BadCord})
	near.errored, far.errored = 0, 0
	w.polls(5)
	w.runs = nil
	w.tracker.Replace(plant.New(w.plant()), settings, w.now)
	proofs := 0
	for range 160 {
		for _, b := range w.boxes {
			w.now = w.now.Add(every / 2)
			b.deaf = true
			proofs += len(w.poll(b).Proofs)
		}
	}
	require.Empty(t, w.tracker.Snapshot().Faults)
	require.Equal(t, 1, proofs)
	require.Equal(t, 1, w.tracker.confirmed["copper"][BadCord])
}
