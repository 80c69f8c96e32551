package fault

import (
	"bytes"
	"encoding"
	"encoding/gob"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// writtenDown is a tracker's checkpoint as a file.
func writtenDown(t testing.TB, tracker *Tracker, at time.Time) []byte {
	var file bytes.Buffer
	r, err := NewRecorder(&file, at)
	require.NoError(t, err)
	names, err := r.Begin(tracker)
	require.NoError(t, err)
	for _, name := range names {
		require.NoError(t, r.Switch(tracker, name))
		require.NoError(t, r.Flush())
	}
	require.NoError(t, r.Close())
	return file.Bytes()
}

// restarted is a tracker that starts from another one's checkpoint.
func restarted(t testing.TB, before *Tracker, p *plant.Plant, settings Settings, written, at time.Time) *Tracker {
	c, err := ReadCheckpoint(bytes.NewReader(writtenDown(t, before, written)))
	require.NoError(t, err)
	after := NewTracker(p, settings)
	anew, why := after.Restore(c, at)
	require.NoError(t, why)
	require.Zero(t, anew)
	return after
}

// restart lets the scene go on with a tracker that starts from the checkpoint
// of the one that it had.
func (s *scene) restart() {
	s.tracker = restarted(s.t, s.tracker, s.tracker.plant, s.tracker.settings, s.now, s.now)
}

// events are the kinds of what a snapshot says has happened.
func events(snap *Snapshot) (kinds []EventKind) {
	for _, e := range snap.Events {
		kinds = append(kinds, e.What)
	}
	return kinds
}

func TestOpenFaultsOutlastARestart(t *testing.T) {
	slow, errored, clean := gigabitLink("1/17"), gigabitLink("1/18"), gigabitLink("1/19")
	errored.index, clean.index = 10102, 10103
	s := newScene(t, []*plant.Run{horizontal("SLOW", "1/17"), horizontal("ERRORED", "1/18"), horizontal("CLEAN", "1/19")}, slow, errored, clean)
	s.polls(5)
	slow.fellBack()
	errored.errored = 200 // of 60,000 frames: critical
	before := s.polls(20).Faults
	require.Len(t, before, 2)

	s.restart()
	require.Empty(t, s.tracker.Snapshot().Faults, "nothing is said of a switch that was not heard yet")
	require.Equal(t, Unknown, s.state("SLOW"))
	snap := s.polls(1)
	require.Len(t, snap.Faults, 2)
	for i, f := range snap.Faults {
		was := before[i]
		require.Equal(t, [...]any{was.Run, was.Kind, was.Since, was.Severity, was.Alarm, was.Causes, was.Evidence},
			[...]any{f.Run, f.Kind, f.Since, f.Severity, f.Alarm, f.Causes, f.Evidence})
	}
	require.Equal(t, []EventKind{Resumed, Resumed}, events(snap))
	require.Empty(t, s.polls(1).Events)

	slow.gigabitAgain()
	require.Len(t, s.polls(slowLetsGo-1).Faults, 2)
	require.Equal(t, []EventKind{Closed}, events(s.polls(1)))
	slow.fellBack()
	require.Equal(t, []EventKind{Opened}, events(s.polls(slowTakesHold)), "another time is news")
	errored.errored = 0
	require.Len(t, s.polls(500).Faults, 1)
}

// A test goes on as if the poll after the restart were all that was lost: it
// alarms in the same poll as one whose counters were cleared there.
func TestATestGoesOnWhereItStood(t *testing.T) {
	cleared := func(since uint32) func(*scene, *link) {
		return func(_ *scene, l *link) {
			l.edit = func(r *port.Reading) { r.Discontinuity = port.Some(since) }
		}
	}
	alarm := func(at int, lose func(*scene, *link)) (polls int) {
		l := gigabitLink("1/17")
		cleared(1)(nil, l)
		s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
		s.polls(30)
		l.errored = 0.3
		for s.polls(1); len(s.tracker.Snapshot().Faults) == 0; s.polls(1) {
			if polls++; polls == at {
				lose(s, l)
			}
			require.Less(t, polls, 100)
		}
		return polls
	}
	unbroken := alarm(0, nil)
	require.Greater(t, unbroken, 5)
	for at := 1; at < unbroken; at++ {
		require.Equal(t, alarm(at, cleared(2)), alarm(at, func(s *scene, _ *link) { s.restart() }), "after %d of %d polls", at, unbroken)
	}
}

// TestEverythingOfAPortIsKeptOrNot fails where a field is neither written down
// nor known not to be. Whoever adds one decides here.
func TestEverythingOfAPortIsKeptOrNot(t *testing.T) {
	notKept := map[string]string{
		"reading": "a gap is a gap", "previous": "likewise", "fresh": "likewise", "apart": "likewise", "reason": "likewise",
		"missed": "likewise", "spread": "likewise", "frozen": "likewise",
		"unplaced": "of the restart itself", "resumes": "likewise",
		"doubted": "follows from the switch's suspensions", "doubt": "likewise",
		"neighbours": "told anew with the first answer", "peer": "likewise", "device": "likewise", "fitted": "likewise",
		"devices": "moves over a restart are not told", "label": "likewise",
		"exchanged": "a device that is exchanged over a restart is not told", "join": "joined anew", "medium": "likewise", "passes": "likewise", "inventory": "likewise", "standing": "likewise", "foretold": "likewise", "site": "likewise",
		"totals": "Prometheus knows restarts", "linkChanges": "likewise", "carried": "likewise", "rate": "learnt anew in minutes",
		"suspect": "follows from the detector with the first poll", "said": "put together anew with the first poll", "saidAt": "likewise",
	}
	keptAs := map[string]string{
		"ref": "Name", "run": "Run", "unit": "Unit", "index": "Index", "heard": "Heard", "downSince": "DownSince", "hits": "Hits", "hour": "Hour",
		"far": "Far", "slow": "Slow", "errors": "Errors", "proof": "Proof", "conditionSet": "Others",
	}
	state, memory := reflect.TypeFor[portState](), reflect.TypeFor[portMemory]()
	for i := range state.NumField() {
		name := state.Field(i).Name
		as, kept := keptAs[name]
		_, listed := notKept[name]
		require.True(t, kept != listed, "portState.%s: a checkpoint keeps it (portMemory), or it is listed here with the reason why not", name)
		if kept {
			_, has := memory.FieldByName(as)
			require.True(t, has, "portMemory.%s", as)
		}
	}
	closed := map[string]string{
		"errorTest.detector": "portMemory.Detector",
		"Refresh.jumped":     "a gap is a gap", "Refresh.still": "likewise", "Refresh.patient": "likewise", "Refresh.frozen": "likewise",
		"suspension.heardIn": "all that is heard is heard after it", "suspension.joins": "likewise",
		"lightKnown.beam": "as of the last reading",
		"lightKnown.at":   "when the first reading since the restart comes",
		"lossKnown.lanes": "as last compared", "lossKnown.most": "likewise", "lossKnown.at": "likewise", "lossKnown.paused": "likewise",
		"window.past": "follows from the parts", "window.pastOf": "likewise",
	}
	seen := map[reflect.Type]bool{}
	for _, kept := range []reflect.Type{memory, reflect.TypeFor[switchMemory](), reflect.TypeFor[networkMemory]()} {
		exported(t, kept, closed, seen)
	}
}

var (
	gobEncoder      = reflect.TypeFor[gob.GobEncoder]()
	binaryMarshaler = reflect.TypeFor[encoding.BinaryMarshaler]()
)

// exported fails where a field of a type that is kept would be lost.
func exported(t *testing.T, kept reflect.Type, closed map[string]string, seen map[reflect.Type]bool) {
	pointer := reflect.PointerTo(kept)
	if seen[kept] || pointer.Implements(gobEncoder) || pointer.Implements(binaryMarshaler) {
		return
	}
	seen[kept] = true
	switch kept.Kind() {
	case reflect.Map:
		exported(t, kept.Key(), closed, seen)
		exported(t, kept.Elem(), closed, seen)
	case reflect.Pointer, reflect.Slice, reflect.Array:
		exported(t, kept.Elem(), closed, seen)
	case reflect.Struct:
		for i := range kept.NumField() {
			f := kept.Field(i)
			if name := kept.Name() + "." + f.Name; !f.IsExported() && closed[name] == "" {
				require.Fail(t, "a field is lost over a restart", "%s: export it so that a checkpoint keeps it, or list it with the reason why not", name)
			}
			if f.IsExported() {
				exported(t, f.Type, closed, seen)
			}
		}
	}
}

func TestAReplacedSwitchInheritsNothing(t *testing.T) {
	b := boxed("sw-1", 2)
	b.units = []port.Unit{{Serial: "FQ1", Position: 1}}
	w := newWorld(t, []*plant.Run{horizontal("R", "1/1")}, b)
	b.links[0].fellBack()
	require.Len(t, w.polls(5).Faults, 1)
	w.restart()
	b.units = []port.Unit{{Serial: "FQ2", Position: 1}}
	w.ask = true
	snap := w.polls(1)
	require.Empty(t, snap.Faults)
	require.Contains(t, snap.Switches[0].Suspended, "serial FQ1 before, FQ2 now")
	require.Equal(t, Unknown, w.state("R"))
}

// A detector that was written down otherwise begins anew, alone.
func TestADetectorOfAnotherVersionBeginsAnew(t *testing.T) {
	slow, errored := gigabitLink("1/17"), gigabitLink("1/18")
	errored.index, errored.errored = 10102, 200
	s := newScene(t, []*plant.Run{horizontal("SLOW", "1/17"), horizontal("ERRORED", "1/18")}, slow, errored)
	slow.fellBack()
	require.Len(t, s.polls(20).Faults, 2)
	c, err := ReadCheckpoint(bytes.NewReader(writtenDown(t, s.tracker, s.now)))
	require.NoError(t, err)
	for i := range c.switches[0].Ports {
		c.switches[0].Ports[i].Detector[0] = 255
	}
	s.tracker = NewTracker(s.tracker.plant, s.tracker.settings)
	anew, why := s.tracker.Restore(c, s.now)
	require.Equal(t, 2, anew)
	require.ErrorContains(t, why, "version 255")
	require.Equal(t, BelowDesignSpeed, only(t, s.polls(1)).Kind)
	require.Len(t, s.polls(5).Faults, 2)
}

// Hours that were written down otherwise are lost alone: the fault goes on.
func TestHoursOfAnotherVersionBeginAnew(t *testing.T) {
	errored := gigabitLink("1/17")
	errored.errored = 200
	s := newScene(t, []*plant.Run{horizontal("ERRORED", "1/17")}, errored)
	was := only(t, s.polls(20))
	story := s.tracker.order[0].order[0].errors.Story
	data, err := story.Hours.MarshalBinary()
	require.NoError(t, err)
	data[0] = 255
	require.NoError(t, story.Hours.UnmarshalBinary(data))
	require.ErrorContains(t, story.Hours.unread, "version 255")

	file := bytes.Replace(unpacked(t, writtenDown(t, s.tracker, s.now)), append([]byte{1}, data[1:]...), data, 1)
	c, err := ReadCheckpoint(bytes.NewReader(packed(file)))
	require.NoError(t, err)
	s.tracker = NewTracker(s.tracker.plant, s.tracker.settings)
	anew, why := s.tracker.Restore(c, s.now)
	require.Equal(t, 1, anew)
	require.ErrorContains(t, why, "hours of errors: version 255")
	now := only(t, s.polls(1))
	require.Equal(t, was.Since, now.Since)
	require.Equal(t, was.Kind, now.Kind)
}

// However short a write is cut, nothing of it is taken. What was changed on the
// disk is noticed, or says the same: some bits of gzip mean nothing (RFC 1952 2.3).
func TestATornCheckpointIsNone(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	l.fellBack()
	s.polls(5)
	file := writtenDown(t, s.tracker, s.now)
	whole, err := ReadCheckpoint(bytes.NewReader(file))
	require.NoError(t, err)
	silent := 0
	for i := range file {
		_, err := ReadCheckpoint(bytes.NewReader(file[:i]))
		require.Error(t, err, "%d of %d bytes", i, len(file))
		file[i] ^= 1 << (i % 8)
		if c, err := ReadCheckpoint(bytes.NewReader(file)); err == nil {
			require.Equal(t, whole, c, "byte %d changed", i)
			silent++
		}
		file[i] ^= 1 << (i % 8)
	}
	require.Less(t, silent, len(file)/10, "most changes are noticed")
	_, err = ReadCheckpoint(bytes.NewReader(append(file, file...)))
	require.Error(t, err)
}
