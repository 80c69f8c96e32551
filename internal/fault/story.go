package fault

import (
	"fmt"
	"math"
	"slices"
	"time"

	"toneout/internal/sequential"
)

// story is what a fault of damaged frames shows of its kind: what the errors
// follow, whether they come in bursts, and the hours they keep to. It is begun by
// the alarm, and outlives it by some weeks, so that errors that come back each week
// are known for it.
type story struct {
	Nature  sequential.Nature
	Hours   keptHours
	Levels  levels
	Company company
	Alarmed time.Time // when it last was
	Hour    int64     // in which the hours were last looked at
	KeepsTo sequential.Concentration
	Keeps   bool // whether they keep to these
}

// keptHours are hours that, written down otherwise, are lost alone, and not all
// that is kept beside them.
type keptHours struct {
	sequential.Hours
	unread error // why they were lost
}

// UnmarshalBinary reads hours, or begins them anew.
func (h *keptHours) UnmarshalBinary(data []byte) error {
	h.unread = h.Hours.UnmarshalBinary(data)
	return nil
}

// storyKept is for how long a story is kept after its fault (common practice, no
// source).
const storyKept = 28 * 24 * time.Hour

// storySlack is by how much a clock may be set back and the story go on.
const storySlack = 24 * time.Hour

// tell takes a poll's sample, and has the alarm last through the hours without
// errors where these keep to others.
func (e *errorTest) tell(s sequential.Sample) {
	open := e.detector.Open()
	switch {
	case e.Story == nil && !open:
		return
	case e.Story == nil || open && e.Story.Alarmed.Sub(s.At) > storySlack: // or the clock was ahead
		e.Story = &story{}
	case !open && s.At.Sub(e.Story.Alarmed).Abs() > storyKept:
		e.Story = nil
		return
	}
	t := e.Story
	t.Nature.Update(s)
	t.Hours.Update(s)
	t.Levels.take(s)
	if !open {
		return
	}
	t.Alarmed = s.At
	if hour := s.At.Unix() / 3600; hour != t.Hour {
		t.Hour = hour
		t.KeepsTo, t.Keeps = t.Hours.Concentration()
	}
	e.detector.Await(t.KeepsTo.Every)
}

// leastTold is how many errored polls say anything of their kind.
const leastTold = 5

// items are what the kind of errors says of a copper link's causes: a joint or a
// cord loses by the traffic, at all hours; a machine by its own hours.
func (t *story) items(at *time.Location) (seen items) {
	if t == nil {
		return nil
	}
	seen = t.Levels.items(at)
	if t.Nature.Errored < leastTold {
		return seen
	}
	switch t.Nature.Follows() {
	case sequential.FollowTraffic:
		seen = append(seen, followTraffic)
	case sequential.FollowTime:
		seen = append(seen, followTime)
	case sequential.Undecided:
	}
	seen = append(seen, t.Company.items()...)
	seen.see(inBursts, t.Nature.Bursts())
	seen.see(keepHours, t.Keeps)
	return seen
}

// sentences tell what the errors follow.
func (t *story) sentences(now time.Time) (out []string) {
	if t == nil || t.Nature.Errored < leastTold {
		return nil
	}
	switch t.Nature.Follows() {
	case sequential.FollowTraffic:
		out = append(out, "They follow the traffic, as noise on the link does.")
	case sequential.FollowTime:
		out = append(out, "They come at any time and do not follow the traffic, as what comes from outside does.")
	case sequential.Undecided:
	}
	if c := &t.Company; slices.ContainsFunc(c.items(), func(i item) bool { return i == struckTogether || i == struckWithPorts }) {
		out = append(out, fmt.Sprintf("They come together with those of other %s: in %d of %d readings with damaged frames.", c.of(), c.Together, c.Errored))
	}
	if t.Nature.Bursts() {
		out = append(out, "They come in bursts.")
	}
	if t.Keeps {
		out = append(out, hoursSentence(t.KeepsTo, now))
	}
	return out
}

// hoursSentence tells hours as the clock on the wall shows them now, which changes
// with the season.
func hoursSentence(c sequential.Concentration, now time.Time) string {
	const week = 7 * 24 * time.Hour
	monday := now.UTC().Truncate(week) // Go counts weeks from one
	from, form := monday.Add(c.From).In(now.Location()), "15:04"
	day := "of the day"
	if c.Every > 24*time.Hour {
		form, day = "Monday 15:04", "of the week"
	}
	return fmt.Sprintf("They keep to certain hours %s: %.0f %% of the hours with errors lie between %s and %s. Ask what runs then.",
		day, math.Floor(100*c.Inside), from.Format(form), from.Add(c.Length).Format(form))
}
