package fault

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/sequential"
)

// machine lets days pass in which a link is disturbed from 9 to 17 o'clock, and
// counts who was told.
func (s *scene) machine(l *link, days int) (alarms int) {
	for range days * 24 {
		l.errored = 0
		if h := s.now.Hour(); h >= 9 && h < 17 {
			l.errored = 2
		}
		for range 60 {
			for _, e := range s.polls(1).Events {
				if e.Fault.Alarm && (e.What == Opened || e.What == Alarmed) {
					alarms++
				}
			}
		}
	}
	return alarms
}

// The pauses of a machine that runs for 8 hours a day are known after the first
// nights; that it keeps to hours, after some days more. Then it is held over two
// days without errors and let go after them.
func TestErrorsThatKeepToCertainHours(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	require.LessOrEqual(t, s.machine(l, 14), 2)
	f := only(t, s.tracker.Snapshot())
	require.Equal(t, Interference, f.Cause(), "beside nothing that the record says of it")
	said := strings.Join(f.Evidence, " ")
	require.Contains(t, said, "They keep to certain hours of the day: 100 % of the hours with errors lie between 09:00 and 17:00.")
	l.errored = 0
	s.polls(32 * 60) // 47 hours since 17 o'clock of the day before
	require.NotEmpty(t, s.tracker.Snapshot().Faults)
	s.polls(2 * 60)
	require.Empty(t, s.tracker.Snapshot().Faults)
	require.NotNil(t, s.tracker.switches["sw-1"].order[0].errors.Story)
	s.polls(29 * 24 * 60)
	require.Nil(t, s.tracker.switches["sw-1"].order[0].errors.Story)
}

func TestWhatErrorsFollowIsSaid(t *testing.T) {
	require.Empty(t, (*story)(nil).sentences(start))
	var s story
	for i := range 2000 {
		sample := sequential.Sample{At: start.Add(time.Duration(i) * time.Minute), Bits: 1e7, Seconds: 60}
		if i%10 == 0 {
			sample.Bits = 1e9
		}
		if i%50 == 0 {
			sample.Errored = 20
		}
		s.Nature.Update(sample)
	}
	require.Equal(t, []string{"They follow the traffic, as noise on the link does.", "They come in bursts."}, s.sentences(start))
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	winter, summer := start.AddDate(0, 1-int(start.Month()), 0), start.AddDate(0, 7-int(start.Month()), 0)
	c := sequential.Concentration{Every: 7 * 24 * time.Hour, From: (3*24 + 13) * time.Hour, Length: 3 * time.Hour, Inside: 0.947}
	require.Equal(t, "They keep to certain hours of the week: 94 % of the hours with errors lie between Thursday 14:00 and Thursday 17:00. Ask what runs then.", hoursSentence(c, winter.In(berlin)))
	require.Contains(t, hoursSentence(c, summer.In(berlin)), "Thursday 15:00 and Thursday 18:00", "by the clock on the wall now")
}

// A clock that was years ahead for a moment leaves no story that waits for
// those years, and no severity.
func TestAClockThatWasAheadIsForgotten(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	l.errored = 5000
	s.polls(20)
	was := s.now
	s.now = was.AddDate(10, 0, 0)
	s.polls(3)
	s.now = was
	e := &s.tracker.switches["sw-1"].order[0].errors
	require.True(t, e.Severe)
	l.errored = 5
	s.polls(3 * 60)
	require.True(t, e.detector.Open())
	require.False(t, e.Severe)
	require.False(t, e.Story.Alarmed.After(s.now))
}
