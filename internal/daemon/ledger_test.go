package daemon

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/journal"
)

func aFault(since time.Time, change ...func(*fault.Fault)) *fault.Fault {
	f := &fault.Fault{Run: "R", Switch: "sw-1", Port: "1/1", Kind: fault.FrameErrors, Severity: fault.Warning, About: fault.AboutRun, Alarm: true, Since: since,
		Causes: []fault.CauseProbability{{Cause: fault.BadCord, Probability: 1}}}
	for _, c := range change {
		c(f)
	}
	return f
}

func TestWhatOfAFaultIsAnEvent(t *testing.T) {
	quiet := func(f *fault.Fault) { f.Quiet, f.Alarm = true, false }
	worse := func(f *fault.Fault) { f.Severity = fault.Critical }
	plug := func(f *fault.Fault) { f.Causes[0].Cause = fault.LoosePlug }
	type step struct {
		after time.Duration
		what  fault.EventKind
		fault *fault.Fault
	}
	o, c, x := journal.FaultOpened, journal.FaultChanged, journal.FaultClosed
	for name, row := range map[string]struct {
		steps []step
		want  []journal.Kind
	}{
		"opened, told again, closed":           {[]step{{0, fault.Opened, aFault(begin)}, {1, fault.Resumed, aFault(begin)}, {2, fault.Closed, aFault(begin)}}, []journal.Kind{o, x}},
		"nobody's":                             {[]step{{0, fault.Opened, aFault(begin, quiet)}, {1, fault.Closed, aFault(begin, quiet)}}, nil},
		"nobody's at first":                    {[]step{{0, fault.Opened, aFault(begin, quiet)}, {1, fault.Alarmed, aFault(begin)}, {2, fault.Hushed, aFault(begin, quiet)}, {3, fault.Closed, aFault(begin, quiet)}}, []journal.Kind{o, c, x}},
		"severer":                              {[]step{{0, fault.Opened, aFault(begin)}, {1, fault.Resumed, aFault(begin, worse)}}, []journal.Kind{o, c}},
		"another cause, soon":                  {[]step{{0, fault.Opened, aFault(begin)}, {time.Minute, fault.Resumed, aFault(begin, plug)}}, []journal.Kind{o}},
		"another cause that stays":             {[]step{{0, fault.Opened, aFault(begin)}, {causeHolds, fault.Resumed, aFault(begin, plug)}}, []journal.Kind{o, c}},
		"opened anew, its closing lost":        {[]step{{0, fault.Opened, aFault(begin)}, {time.Hour, fault.Opened, aFault(begin.Add(time.Hour))}}, []journal.Kind{o, x, o}},
		"opened again as the same one":         {[]step{{0, fault.Opened, aFault(begin)}, {1 * time.Minute, fault.Closed, aFault(begin)}, {2 * time.Minute, fault.Opened, aFault(begin)}, {3 * time.Minute, fault.Closed, aFault(begin)}, {4 * time.Minute, fault.Opened, aFault(begin)}}, []journal.Kind{o, x, o, x, o}},
		"its beginning is learned to be older": {[]step{{0, fault.Opened, aFault(begin)}, {1, fault.Hushed, aFault(begin.Add(-time.Hour))}}, []journal.Kind{o}},
	} {
		t.Run(name, func(t *testing.T) {
			l := newLedger("toneout", true)
			var got []journal.Event
			for _, s := range row.steps {
				snap := &fault.Snapshot{At: begin.Add(s.after), Plant: nothing, Events: []fault.Event{{What: s.what, Fault: s.fault}}}
				for _, h := range happeningsOf(snap) {
					got = append(got, l.take(h)...)
				}
			}
			require.Equal(t, row.want, kindsOf(got))
			seen := map[string]bool{}
			for _, e := range got {
				require.False(t, seen[e.ID], e.ID)
				seen[e.ID] = true
			}
		})
	}
}

// A fault that is closed by the journal and open by a checkpoint of before opens again,
// under an id that is not written yet.
func TestAFaultThatTheJournalClosedOpensAgain(t *testing.T) {
	f := aFault(begin)
	snap := func(after time.Duration, what fault.EventKind) happening {
		s := &fault.Snapshot{At: begin.Add(after), Plant: nothing, Events: []fault.Event{{What: what, Fault: f}}}
		return happeningsOf(s)[0]
	}
	before := newLedger("toneout", true)
	opened := before.take(snap(0, fault.Opened))
	closed := before.take(snap(time.Hour, fault.Closed))
	after := newLedger("toneout", true)
	after.load(closed, nil, begin.Add(time.Hour))
	again := after.take(snap(2*time.Hour, fault.Resumed))
	require.Equal(t, []journal.Kind{journal.FaultOpened}, kindsOf(again))
	require.NotEqual(t, opened[0].ID, again[0].ID)
	require.Equal(t, opened[0].Fault, again[0].Fault)
}

// A plant of one switch stands at the same moment until its next poll: what changes
// twice until then, as by a repair and by planned work, is two events.
func TestTwoChangesOfOneMoment(t *testing.T) {
	planned := func(f *fault.Fault) { f.Planned, f.Alarm = true, false }
	hushed := func(f *fault.Fault) { f.Alarm = false }
	l := newLedger("toneout", true)
	var got []journal.Event
	for _, s := range []struct {
		what  fault.EventKind
		fault *fault.Fault
	}{
		{fault.Opened, aFault(begin, hushed)}, {fault.Alarmed, aFault(begin)}, {fault.Hushed, aFault(begin, planned)}, {fault.Alarmed, aFault(begin)},
		{fault.Closed, aFault(begin)},
	} {
		snap := &fault.Snapshot{At: begin, Plant: nothing, Events: []fault.Event{{What: s.what, Fault: s.fault}}}
		got = append(got, l.take(happeningsOf(snap)[0])...)
	}
	seen := map[string]bool{}
	for _, e := range got {
		require.False(t, seen[e.ID], e.ID)
		seen[e.ID] = true
	}
	require.Len(t, got, 5)
}

// Of a run between switches of two daemons both tell a fault. After a restart each goes
// on with its own.
func TestEachOfTwoDaemonsClosesItsOwnFault(t *testing.T) {
	open := func(by string, since time.Time) journal.Event {
		l := newLedger(by, false)
		return l.take(happeningsOf(&fault.Snapshot{At: since, Plant: nothing, Events: []fault.Event{{What: fault.Opened, Fault: aFault(since)}}})[0])[0]
	}
	one, two := open("toneout@one", begin), open("toneout@two", begin.Add(time.Minute))
	for by, own := range map[string]journal.Event{"toneout@one": one, "toneout@two": two} {
		l := newLedger(by, false)
		l.load(nil, []journal.Event{one, two}, begin.Add(time.Hour))
		closed := l.take(happeningsOf(&fault.Snapshot{At: begin.Add(time.Hour), Plant: nothing, Events: []fault.Event{{What: fault.Closed, Fault: aFault(own.Since)}}})[0])
		require.Len(t, closed, 1)
		require.Equal(t, own.Fault, closed[0].Fault, by)
	}
}

// A fault that was written by a clock that was ahead is closed before the clock has
// caught up.
func TestAFaultOfAClockThatWasAhead(t *testing.T) {
	opened := newLedger("toneout", true).take(happeningsOf(&fault.Snapshot{At: begin.AddDate(1, 0, 0), Plant: nothing, Events: []fault.Event{{What: fault.Opened, Fault: aFault(begin.AddDate(1, 0, 0))}}})[0])
	l := newLedger("toneout", true)
	l.load(nil, opened, begin)
	closed := l.look(&fault.Snapshot{At: begin.Add(time.Minute), Plant: nothing})
	require.Equal(t, []journal.Kind{journal.FaultClosed}, kindsOf(closed))
}
