package daemon

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/history"
)

// stamped is a point of an answer: seconds, and the value as a text.
type stamped struct {
	at    time.Time
	value float64
}

func (n *stamped) UnmarshalJSON(data []byte) (err error) {
	var seconds float64
	var text string
	if err = json.Unmarshal(data, &[]any{&seconds, &text}); err == nil {
		n.at = time.UnixMilli(int64(math.Round(1000 * seconds))).UTC()
		n.value, err = strconv.ParseFloat(text, 64)
	}
	return err
}

// toldNumbers are those of a run's one port.
type toldNumbers struct {
	Up, Polls []stamped
	Slowest   []stamped                               `json:"slowest_bits_per_second"`
	Fastest   []stamped                               `json:"fastest_bits_per_second"`
	Design    []stamped                               `json:"design_bits_per_second"`
	Changes   []stamped                               `json:"link_changes"`
	Received  []stamped                               `json:"received_bits_per_second"`
	Sent      []stamped                               `json:"sent_bits_per_second"`
	Errors    struct{ Low, Estimate, High []stamped } `json:"frame_error_ratio"`
	Lanes     []struct {
		ReceivedLeast []stamped `json:"received_least_dbm"`
		ReceivedMost  []stamped `json:"received_most_dbm"`
		SentLeast     []stamped `json:"sent_least_dbm"`
	}
	Gaps []history.Gap
}

func (q *quarter) numbers(run string, from, to time.Time, step time.Duration) toldNumbers {
	var got struct{ Ports []toldNumbers }
	q.get(fmt.Sprintf("/api/runs/%s/timeline?step=%v&from=%s&to=%s", run, step, from.Format(time.RFC3339), to.Format(time.RFC3339)), &got)
	require.NotEmpty(q.t, got.Ports)
	return got.Ports[0]
}

// stepped gathers what the simulator had of a run, by the end of the step.
func (q *quarter) stepped(run string, from, to time.Time, step time.Duration) map[time.Time][]seen {
	out := map[time.Time][]seen{}
	for _, s := range q.truth[run] {
		if end := s.at.Add(-time.Nanosecond).Truncate(step).Add(step); s.told && s.at.After(from) && !end.After(to) {
			out[end] = append(out[end], s)
		}
	}
	return out
}

// numbersAgree: a timeline's speeds, traffic, errors, changes of the link, light and gaps,
// step by step.
func numbersAgree(t *testing.T, q *quarter) {
	for _, step := range []time.Duration{quarterEvery, 3 * time.Hour} {
		speedsAgree(t, q, "A1", on(3, 4, 0), on(3, 9, 0), step)
		errorsAgree(t, q, "A2", on(3, 1, 0), on(3, 6, 0), step)
		lightAgrees(t, q, "F1", on(3, 13, 0), on(3, 19, 0), step)
	}
	trafficAgrees(t, q, "A4", on(4, 6, 0), on(4, 9, 0), 3*time.Hour)
	held := silentFrom.Add(2 * quarterEvery) // what was known before counts until the third poll in vain
	require.Equal(t, []history.Gap{{From: held, To: silentTo, Silent: true}, {From: restartFrom, To: restartTo}},
		q.numbers("B1", on(3, 12, 0), on(3, 17, 0), quarterEvery).Gaps)
}

func byStep(points []stamped) map[time.Time]float64 {
	out := map[time.Time]float64{}
	for _, p := range points {
		out[p.at] = p.value
	}
	return out
}

// speedsAgree over a link that falls back and recovers.
func speedsAgree(t *testing.T, q *quarter, run string, from, to time.Time, step time.Duration) {
	got, want, speeds := q.numbers(run, from, to, step), q.stepped(run, from, to, step), map[float64]bool{}
	least, most := map[time.Time]float64{}, map[time.Time]float64{}
	for end, polls := range want {
		for _, s := range polls { // a link that is away has no speed
			if speed := 1e6 * float64(s.mbps); speed > 0 && (least[end] == 0 || speed < least[end]) {
				least[end] = speed
			}
			if speed := 1e6 * float64(s.mbps); speed > most[end] {
				most[end] = speed
			}
			speeds[1e6*float64(s.mbps)] = true
		}
	}
	require.Equal(t, least, byStep(got.Slowest))
	require.Equal(t, most, byStep(got.Fastest))
	require.Subset(t, slices.Collect(maps.Keys(speeds)), []float64{1e8, 1e9})
	for _, p := range got.Design {
		require.Equal(t, 1e9, p.value)
	}
	changed := map[time.Time]bool{}
	last := 1000
	for at := from.Add(step); !at.After(to); at = at.Add(step) {
		for _, s := range want[at] {
			changed[at] = changed[at] || s.mbps != last
			last = s.mbps
		}
	}
	for _, p := range got.Changes {
		require.Equal(t, changed[p.at], p.value > 0, "%v: %v", p.at, p.value)
	}
}

// trafficAgrees: what crossed the link both ways, the mean between a step's first poll and
// its last; of a step with one poll that is not known (rate of PromQL).
func trafficAgrees(t *testing.T, q *quarter, run string, from, to time.Time, step time.Duration) {
	got, want := q.numbers(run, from, to, step), q.stepped(run, from, to, step)
	sent := byStep(got.Sent)
	require.Len(t, got.Received, len(want))
	for _, p := range got.Received {
		first, last := want[p.at][0], want[p.at][len(want[p.at])-1]
		bits := 8 * float64(last.octets-first.octets) / last.at.Sub(first.at).Seconds()
		require.InEpsilon(t, bits, p.value+sent[p.at], 1e-6, "%v", p.at)
	}
}

// errorsAgree: of the hours that ended within a step the worst one.
func errorsAgree(t *testing.T, q *quarter, run string, from, to time.Time, step time.Duration) {
	got, want := q.numbers(run, from, to, step), q.stepped(run, from, to, step)
	require.Len(t, got.Errors.Estimate, len(want))
	var noisy int
	for i, p := range got.Errors.Estimate {
		worst := 0.0
		for _, s := range want[p.at] {
			worst = max(worst, q.hourBefore(run, s))
		}
		require.InDelta(t, worst, p.value, 1e-12, p.at)
		require.LessOrEqual(t, got.Errors.Low[i].value, p.value)
		require.Less(t, p.value, got.Errors.High[i].value)
		if worst > 0 {
			noisy++
		}
	}
	require.Greater(t, noisy, len(want)/2)
	require.Less(t, noisy, len(want))
}

// hourBefore is the part of the frames of the hour before a poll that was damaged.
func (q *quarter) hourBefore(run string, s seen) float64 {
	first := s
	for _, earlier := range q.truth[run] {
		if !earlier.at.Before(s.at.Add(-time.Hour)) {
			first = earlier
			break
		}
	}
	return float64(s.damaged-first.damaged) / float64(s.frames-first.frames)
}

// lightAgrees over a connector that got dirty and was cleaned: the least and the most of
// what the optic told, in dBm.
func lightAgrees(t *testing.T, q *quarter, run string, from, to time.Time, step time.Duration) {
	got, want := q.numbers(run, from, to, step), q.stepped(run, from, to, step)
	require.Len(t, got.Lanes, 1)
	lane := got.Lanes[0]
	require.Len(t, lane.ReceivedLeast, len(want))
	lowest, highest := math.Inf(1), math.Inf(-1)
	for i, p := range lane.ReceivedLeast {
		least, most, sent := math.Inf(1), math.Inf(-1), math.Inf(1)
		for _, s := range want[p.at] {
			least, most, sent = min(least, s.light[0]), max(most, s.light[0]), min(sent, s.light[1])
		}
		require.InDelta(t, least, p.value, 1e-6, p.at)
		require.InDelta(t, most, lane.ReceivedMost[i].value, 1e-6, p.at)
		require.InDelta(t, sent, lane.SentLeast[i].value, 1e-6, p.at)
		lowest, highest = min(lowest, p.value), max(highest, p.value)
	}
	require.Greater(t, highest-lowest, 0.7, "the dirt shows")
}
