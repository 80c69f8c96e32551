package history

import (
	"math"
	"time"
)

// The college of these tests: a copper run and a fibre run over a night,
// polled every minute, 7 s after the full one. Times are of the 2nd of March.
//
//	12:00        the daemon starts
//	12:40-12:42  the switch is asked in vain twice, and nothing is forgotten for that
//	14:00-15:00  the copper run falls back to 100M, with two changes of its link
//	16:00-16:30  it loses frames
//	18:00-19:30  the daemon is down, and counts from 0 afterwards
//	20:00        lane 1 of the fibre run goes dark for ten minutes
//	21:00-22:00  the switch is silent
//	24:00        the end
const (
	pollEvery  = time.Minute
	pollOffset = 7 * time.Second
)

func at(hour, minute int) time.Time {
	return time.Date(2026, 3, 2, hour, minute, 0, 0, time.UTC)
}

func within(t, from, to time.Time) bool { return t.After(from) && !t.After(to) }

// told is one sample, or the end of a series.
type told struct {
	at     time.Time
	series *Series
	value  float64
	gone   bool
}

// night is all that is told, by time.
func night() (all []told) {
	n := newSeriesOfNight()
	present := map[*Series]bool{}
	began, answered := at(12, 0), 0.0
	for t := at(12, 0).Add(pollOffset); t.Before(at(24, 0)); t = t.Add(pollEvery) {
		if within(t, at(18, 0), at(19, 30)) {
			clear(present) // nobody is there to end them
			began, answered = at(19, 30), 0
			continue
		}
		values := n.values(t, began)
		switch {
		case within(t, at(12, 40), at(12, 42)): // asked in vain, and what was known before is told again
			values = n.values(at(12, 39).Add(pollOffset), began)
		case values[n.switchUp] == 1:
			answered++
		}
		values[n.answered] = answered
		for s, v := range values {
			all = append(all, told{t, s, v, false})
			present[s] = true
		}
		for s := range present {
			if _, still := values[s]; !still {
				all = append(all, told{t, s, staleness, true})
				delete(present, s)
			}
		}
	}
	return all
}

type seriesOfNight struct {
	switchUp, up, speed, design, changes, received, sent *Series
	low, estimate, high                                  *Series
	frames, fcs                                          *Series
	fibreUp, light1, light2, sentLight                   *Series
	other, answered                                      *Series
}

func newSeriesOfNight() seriesOfNight {
	copper := []string{"switch", "acc-n2-1", "port", "1/17", "run", "N2-P1-17"}
	fibre := []string{"switch", "acc-n2-1", "port", "1/49", "run", "N2-M-1"}
	of := func(port []string, name string, more ...string) *Series { return named(name, append(more, port...)...) }
	return seriesOfNight{
		switchUp: named("toneout_switch_up", "switch", "acc-n2-1"),
		up:       of(copper, "toneout_port_up"), speed: of(copper, "toneout_port_speed_bits_per_second"),
		design: of(copper, "toneout_run_design_speed_bits_per_second"), changes: of(copper, "toneout_port_link_changes_total"),
		received: of(copper, "toneout_port_received_bytes_total"), sent: of(copper, "toneout_port_sent_bytes_total"),
		frames: of(copper, "toneout_port_received_frames_total"), fcs: of(copper, "toneout_port_receive_errors_total", "error", "fcs"),
		low:      of(copper, "toneout_run_frame_error_ratio", "bound", "low"),
		estimate: of(copper, "toneout_run_frame_error_ratio", "bound", "estimate"),
		high:     of(copper, "toneout_run_frame_error_ratio", "bound", "high"),
		fibreUp:  of(fibre, "toneout_port_up"),
		light1:   of(fibre, "toneout_port_received_light_dbm", "lane", "1"), light2: of(fibre, "toneout_port_received_light_dbm", "lane", "2"),
		sentLight: of(fibre, "toneout_port_sent_light_dbm", "lane", "1"),
		other:     named("toneout_port_up", "switch", "acc-n2-1", "port", "1/2", "run", ""),
		answered:  named("toneout_switch_polls_total", "switch", "acc-n2-1", "outcome", "answered"),
	}
}

func (n *seriesOfNight) values(t, began time.Time) map[*Series]float64 {
	if within(t, at(21, 0), at(22, 0)) {
		return map[*Series]float64{n.switchUp: 0}
	}
	seconds := t.Sub(began).Seconds()
	v := map[*Series]float64{
		n.switchUp: 1, n.up: 1, n.speed: 1e9, n.design: 1e9, n.changes: 0, n.received: 1000 * seconds, n.sent: 250 * seconds,
		n.low: 0, n.estimate: 0, n.high: 1e-7,
		n.frames: 10 * seconds, n.fcs: 0,
		n.fibreUp: 1, n.light1: -3.25, n.light2: -4, n.sentLight: -1.5, n.other: 0,
	}
	if within(t, at(14, 0), at(15, 0)) {
		v[n.speed] = 1e8
	}
	if within(t, at(14, 0), at(18, 0)) {
		v[n.changes] = 2
	}
	if within(t, at(16, 0), at(16, 30)) {
		v[n.low], v[n.estimate], v[n.high] = 1e-4, 2e-4, 4e-4
	}
	if within(t, at(16, 0), at(18, 0)) { // 3 frames a poll for half an hour
		v[n.fcs] = 3 * min(30, math.Ceil(t.Sub(at(16, 0)).Minutes()))
	}
	if within(t, at(20, 0), at(20, 10)) {
		v[n.light1] = math.Inf(-1)
	}
	return v
}
