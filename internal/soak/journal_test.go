package soak

import (
	"fmt"
	"slices"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/journal"
)

// checkJournal holds the journal against what was planted: each fault opened
// once, closed once where it was mended, and of one age at all times.
func (p *play) checkJournal() {
	j, err := journal.Open(p.t.Context(), journal.Place{File: p.file})
	require.NoError(p.t, err)
	defer j.Close()
	events, err := j.Events(p.t.Context(), journal.Query{})
	require.NoError(p.t, err)
	opened, closed := map[string][]journal.Event{}, map[string][]journal.Event{}
	for _, e := range events {
		key := e.Run + " " + string(e.FaultKind)
		switch e.Kind {
		case journal.FaultOpened:
			opened[key] = append(opened[key], e)
		case journal.FaultClosed:
			closed[key] = append(closed[key], e)
		}
	}
	healed, late := 0, time.Duration(0)
	for _, e := range p.story.episodes {
		key := e.key()
		if !e.listed.IsZero() {
			late = max(late, e.written.Sub(e.listed))
		}
		require.Equal(p.t, 1, len(opened[key]), "%s was planted at %v: opened %v; closed %v", key, e.planted, sinces(opened[key]), sinces(closed[key]))
		p.checkEpisode(e, opened[key][0], closed[key])
		if !e.open() {
			healed++
		}
		delete(opened, key)
		delete(closed, key)
	}
	require.Empty(p.t, opened, "nobody planted these")
	require.Empty(p.t, closed, "nobody planted these")
	p.t.Logf("journal: %d events; %d faults planted, each opened once; %d mended, each closed once; seen in it %v after it was listed at the latest", len(events), len(p.story.episodes), healed, late.Round(time.Millisecond))
}

// written is what the journal has open, by run and kind; nil where it cannot be
// read now. It is not kept open, so that the next daemon has to recover it.
func (p *play) written() map[string]bool {
	j, err := journal.Open(p.t.Context(), journal.Place{File: p.file})
	if err != nil {
		return nil
	}
	defer j.Close()
	events, err := j.Open(p.t.Context())
	if err != nil {
		return nil
	}
	open := map[string]bool{}
	for _, e := range events {
		open[e.Run+" "+string(e.FaultKind)] = true
	}
	return open
}

func sinces(events []journal.Event) (out []string) {
	for _, e := range events {
		out = append(out, fmt.Sprintf("at %v since %v", e.At, e.Since))
	}
	return out
}

func (p *play) checkEpisode(e *episode, opened journal.Event, closed []journal.Event) {
	what := fmt.Sprintf("%s of %s, planted at %v", e.kind, e.port.run, e.planted)
	if e.open() {
		require.Empty(p.t, sinces(closed), what)
	} else {
		require.Len(p.t, sinces(closed), 1, what)
		require.Equal(p.t, opened.Since, closed[0].Since, what)
		require.Equal(p.t, opened.Fault, closed[0].Fault, what)
		require.True(p.t, closed[0].At.After(e.healed), "%s: mended at %v, closed at %v", what, e.healed, closed[0].At)
	}
	p.checkSince(e, what, opened.Since)
	p.checkAge(e, what, opened)
}

// checkAge holds every look of a later daemon against what is written: the fault
// is as old there. Of a fibre's two ends the one that lost its link first tells the
// age, once both were read.
func (p *play) checkAge(e *episode, what string, opened journal.Event) {
	born, apart := p.lifeAt(opened.At), time.Microsecond
	if e.cable.B != nil {
		apart = underWay
	}
	for _, s := range e.told {
		if s.life > born {
			require.WithinDuration(p.t, opened.Since, s.since, apart, "%s: life %d tells of it with another age", what, s.life)
		}
	}
}

// lifeAt is the number of the daemon that lived then.
func (p *play) lifeAt(at time.Time) (number int) {
	for _, l := range p.lives {
		if !l.began.After(at) {
			number = l.number
		}
	}
	return number
}

// How exactly a switch's stamp of a change is read: the simulator moves by
// steps, stamps are of 10 ms, and their age is counted from the answer's arrival.
const (
	stepAndTick = 120 * time.Millisecond
	underWay    = pollEvery
)

// checkSince holds a fault's age against the switch's own record.
func (p *play) checkSince(e *episode, what string, since time.Time) {
	if e.kind == noLink {
		require.WithinRange(p.t, since, e.fell.Add(-stepAndTick), e.fell.Add(underWay), what)
		return
	}
	polls := p.polls[e.at]
	at := slices.IndexFunc(polls, func(q *poll) bool { return q.first.After(since) })
	if at < 0 {
		at = len(polls)
	}
	require.Positive(p.t, at, what)
	q := polls[at-1]
	require.True(p.t, p.shows(e, polls, at-1), "%s: since %v, and the poll at %v does not show it", what, since, q.first)
	earlier := 0
	for i := at - 2; i >= 0 && p.lifeAt(polls[i].first) == p.lifeAt(q.first); i-- {
		if polls[i].read && polls[i].last.After(e.planted) && p.shows(e, polls, i) {
			earlier++
		}
	}
	most := 0
	if e.kind == frameErrors {
		most = 1 // a poll that saw a moment of them is not enough for an episode to begin
	}
	require.LessOrEqual(p.t, earlier, most, "%s: since %v, and polls of the same life showed it before", what, since)
}

// shows tells whether a poll shows the fault.
func (p *play) shows(e *episode, polls []*poll, i int) bool {
	q := polls[i]
	if e.kind == slow {
		return q.is(operStatus, e.port.ifIndex, 1) && q.is(highSpeed, e.port.ifIndex, 100)
	}
	bad := q.values[cell{fcs, e.port.ifIndex}]
	for i--; i >= 0 && p.lifeAt(polls[i].first) == p.lifeAt(q.first); i-- {
		if before := polls[i].values[cell{fcs, e.port.ifIndex}]; len(before) > 0 {
			return len(bad) > 0 && slices.Max(bad) > slices.Min(before)
		}
	}
	return false
}
