package daemon

import (
	"context"
	"encoding/json"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"
)

// Of all datagrams, requests and answers, 30 % get lost for ten minutes. No
// fault is made up, no counter jumps, and readings keep coming.
func TestLostDatagramsRaiseNothing(t *testing.T) {
	t.Parallel() // most of its time is waiting
	const lost, minutes = 0.3, 10
	watched := []string{"core-n1-1", "acc-n3-1"}
	clock := newStepped(begin, (minutes+1)*time.Minute, len(watched))
	campus := sim.FerrowQuay(1, begin)
	served := agents(t, campus, clock.now, sim.Security{Communities: []string{community}})
	o := ferrowQuay(t, campus, served)
	o.Switches = o.only(watched...)
	for i := range o.Switches {
		o.Switches[i].Timeout = 60 * time.Millisecond
		served[o.Switches[i].Name].Mangle = sim.Compose(sim.Lossy(lost, uint64(2*i)), sim.Lossy(lost, uint64(2*i+1))) // on the way there and back
	}
	before := framesIn(campus, begin)
	polled := &outcomes{count: map[string]int{}}
	o.PollEvery, o.Clock = time.Minute, clock.clock()
	o.Open = func(target snmp.Target) (Poller, error) {
		sw, err := clock.open(target)
		return counted{sw, target.Name, campus, clock, polled}, err
	}
	r := start(t, o)
	clock.wait(t, 4*time.Minute)

	for _, name := range watched {
		require.GreaterOrEqual(t, polled.answered(name), minutes-2, "polls of %s that succeeded, of %d", name, minutes)
	}
	for _, f := range r.faults() {
		planted := false
		for _, p := range campus.Faults() {
			planted = planted || isAt(campus, f, p)
		}
		require.True(t, planted, "a fault that nobody planted: %+v", f)
	}
	after := framesIn(campus, clock.now())
	for place, frames := range r.metric("toneout_port_received_frames_total") {
		require.LessOrEqual(t, frames, after[place]-before[place], "%v counts more than came", place)
	}
}

// place is a port in the metrics.
type place struct{ sw, port string }

// framesIn is what each port of the campus has received by a time.
func framesIn(campus *sim.Campus, at time.Time) map[place]float64 {
	frames := map[place]float64{}
	campus.Do(at, func() {
		for _, sw := range campus.Switches() {
			for _, p := range sw.Ports() {
				in := p.Counters().In
				frames[place{sw.Name, p.Name}] = float64(in[0] + in[1] + in[2])
			}
		}
	})
	return frames
}

// metric gives a metric's value by port.
func (r *running) metric(name string) map[place]float64 {
	label := regexp.MustCompile(`(port|switch)="([^"]*)"`)
	values := map[place]float64{}
	for _, line := range r.lines(name + "{") {
		var at place
		for _, l := range label.FindAllStringSubmatch(line, -1) {
			if l[1] == "port" {
				at.port = l[2]
			} else {
				at.sw = l[2]
			}
		}
		var value float64
		require.NoError(r.t, json.Unmarshal([]byte(line[strings.LastIndexByte(line, ' ')+1:]), &value), line)
		values[at] = value
	}
	require.NotEmpty(r.t, values, name)
	return values
}

// lines are those of the metrics that begin so.
func (r *running) lines(beginning string) (found []string) {
	_, body := r.get("/metrics")
	for line := range strings.Lines(body) {
		if strings.HasPrefix(line, beginning) {
			found = append(found, line)
		}
	}
	return found
}

// only are the switches of these names.
func (o Options) only(names ...string) (chosen []Switch) {
	for _, name := range names {
		for _, sw := range o.Switches {
			if sw.Name == name {
				chosen = append(chosen, sw)
			}
		}
	}
	return chosen
}

// outcomes counts the polls that succeeded, by switch.
type outcomes struct {
	mutex sync.Mutex
	count map[string]int
}

func (o *outcomes) answered(name string) int {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	return o.count[name]
}

// counted is a switch that does its work of the time since the last poll
// before it is asked, so that only datagrams take time.
type counted struct {
	Poller
	name   string
	campus *sim.Campus
	clock  *stepped
	in     *outcomes
}

func (c counted) Poll(ctx context.Context) (port.Poll, error) {
	c.campus.Do(c.clock.now(), func() {})
	poll, err := c.Poller.Poll(ctx)
	if err == nil {
		c.in.mutex.Lock()
		c.in.count[c.name]++
		c.in.mutex.Unlock()
	}
	return poll, err
}
