package fault

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// countedBy moves a reading's damaged frames to another object.
func countedBy(source port.ErrorSource) func(*port.Reading) {
	return func(r *port.Reading) {
		bad, _ := r.Counters.Get(port.FCS)
		without(port.FCS, port.Alignment)(r)
		switch source {
		case port.RMON:
			r.Counters.Set32(port.CRCAlign, uint32(bad))
			r.Counters.Set32(port.Fragments, 0)
		case port.InterfaceTable:
			r.Counters.Set32(port.InErrors, uint32(bad))
		}
	}
}

// RFC 2819 etherStatsCRCAlignErrors, RFC 2863 ifInErrors: both hold more than
// what a cable damaged.
func TestWeakerCountsAreMarked(t *testing.T) {
	rows := []struct {
		source   port.ErrorSource
		severity Severity
		summary  string
		evidence string
	}{
		{port.EtherLike, Warning, "were damaged: 1 in", "counted them, so they were damaged on the way to it"},
		{port.RMON, Info, "were counted as damaged: 1 in", "counted them as etherStatsCRCAlignErrors, which on some switches holds frames that it sent too"},
		{port.InterfaceTable, Info, "were counted as errors: 1 in", "counted them as ifInErrors, which also counts frames too long and overruns"},
	}
	var portFaulty []float64
	for _, row := range rows {
		t.Run(row.source.Object(), func(t *testing.T) {
			l := gigabitLink("1/17")
			l.errored = 12
			if row.source != port.EtherLike {
				l.edit = countedBy(row.source)
			}
			s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
			f := only(t, s.polls(20))
			require.Equal(t, FrameErrors, f.Kind)
			require.Equal(t, row.severity, f.Severity)
			require.Contains(t, f.Summary, row.summary)
			require.Contains(t, f.Evidence[0], row.evidence)
			if row.source == port.InterfaceTable {
				told := f.Summary + strings.Join(f.Evidence[:1], "")
				require.NotContains(t, told, "damaged")
			}
			p, _ := s.tracker.Snapshot().Switches[0].Port("1/17")
			require.Equal(t, row.source, p.ErrorsBy)
			require.Empty(t, p.Unjudged)
			sum := 0.0
			for _, c := range f.Causes {
				sum += c.Probability
				if c.Cause == PortFaulty {
					portFaulty = append(portFaulty, c.Probability)
				}
			}
			require.InDelta(t, 1, sum, 1e-9)
			require.False(t, f.Quiet)
		})
	}
	require.Greater(t, portFaulty[1], portFaulty[0])
	require.Greater(t, portFaulty[2], portFaulty[0])
}

func TestAChangeOfSourceIsNoJump(t *testing.T) {
	rows := map[string]func(*link){
		"to a weaker one that has counted much": func(l *link) {
			l.edit = func(r *port.Reading) {
				without(port.FCS, port.Alignment)(r)
				r.Counters.Set32(port.InErrors, 4_000_000)
			}
		},
		"to and fro in each poll": func(l *link) {
			poll := 0
			l.edit = func(r *port.Reading) {
				r.Counters.Set32(port.InErrors, 4_000_000)
				if poll++; poll%2 == 0 {
					without(port.FCS, port.Alignment)(r)
				}
			}
		},
		"to a better one": func(l *link) {
			before := l.edit
			l.edit = func(r *port.Reading) { before(r); r.Counters.Set32(port.FCS, 70_000) }
		},
	}
	for name, change := range rows {
		t.Run(name, func(t *testing.T) {
			l := gigabitLink("1/17")
			if name == "to a better one" {
				l.edit = func(r *port.Reading) { without(port.FCS, port.Alignment)(r); r.Counters.Set32(port.InErrors, 5) }
			}
			s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
			s.polls(10)
			change(l)
			for range 20 {
				require.Empty(t, s.polls(1).Faults)
				p, _ := s.tracker.Snapshot().Switches[0].Port("1/17")
				require.Zero(t, p.Hour.Errored)
			}
		})
	}
}

func TestASourceThatIsLostGoesOnByAWeakerOne(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(10)
	l.edit = countedBy(port.InterfaceTable)
	p, _ := s.polls(2).Switches[0].Port("1/17")
	require.NotEmpty(t, p.Unjudged, "for a poll or two nothing is judged")
	p, _ = s.polls(5).Switches[0].Port("1/17")
	require.Empty(t, p.Unjudged)
	require.Equal(t, port.InterfaceTable, p.ErrorsBy)
	l.errored = 60
	require.Equal(t, Info, only(t, s.polls(20)).Severity)
}

// What one source counted is no habit of another's count, also where the source
// changes while a fault is open.
func TestAHabitEndsWithItsSource(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(9 * 24 * 60)
	l.errored = 60
	only(t, s.polls(20))
	e := &s.tracker.switches["sw-1"].order[0].errors
	require.True(t, e.learned())
	l.edit = countedBy(port.InterfaceTable)
	only(t, s.polls(5))
	require.Equal(t, port.InterfaceTable, e.Source)
	l.errored = 0
	require.Empty(t, s.polls(120).Faults)
	require.False(t, e.learned())
}
