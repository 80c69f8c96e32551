package history

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A timeline is asked for in one question, since every one takes a round trip:
// its strands, each marked with a label. Windows over a step are used
// throughout, so that nothing outlives its last poll.

const strandLabel = "strand"

// strand is one quantity: how it is asked for, and where it goes. What several
// servers or daemons tell of a port becomes one.
type strand struct {
	function string // with %[1]s for the series, %[2]s for the window
	metric   string
	by       string // label that tells its series apart, beside switch and port
	put      func(p *PortTimeline, labels map[string]string, points []Point)
}

// Changes of a link are counted since a daemon's start, so that what a step
// adds is the difference to the step before, for each daemon.
const linkCount = "count"

var strands = map[string]strand{
	"held":    {"count_over_time(%[1]s[%[2]s])", "toneout_port_up", "", plain(func(p *PortTimeline) *[]Point { return &p.held })},
	"up":      {"avg_over_time(%[1]s[%[2]s])", "toneout_port_up", "", plain(func(p *PortTimeline) *[]Point { return &p.Up })},
	"slowest": {"min_over_time(%[1]s[%[2]s])", "toneout_port_speed_bits_per_second", "", plain(func(p *PortTimeline) *[]Point { return &p.Slowest })},
	"fastest": {"max_over_time(%[1]s[%[2]s])", "toneout_port_speed_bits_per_second", "", plain(func(p *PortTimeline) *[]Point { return &p.Fastest })},
	"design":  {"%[1]s", "toneout_run_design_speed_bits_per_second", "", plain(func(p *PortTimeline) *[]Point { return &p.DesignSpeed })},
	"errors":  {"max_over_time(%[1]s[%[2]s])", "toneout_run_frame_error_ratio", "bound", putBound},

	"received": {"8 * rate(%[1]s[%[2]s])", "toneout_port_received_bytes_total", "", plain(func(p *PortTimeline) *[]Point { return &p.Received })},
	"sent":     {"8 * rate(%[1]s[%[2]s])", "toneout_port_sent_bytes_total", "", plain(func(p *PortTimeline) *[]Point { return &p.Sent })},

	"received light, least": {"min_over_time(%[1]s[%[2]s])", "toneout_port_received_light_dbm", "lane", light(func(l *LaneTimeline) *[]Point { return &l.ReceivedLeast })},
	"received light, most":  {"max_over_time(%[1]s[%[2]s])", "toneout_port_received_light_dbm", "lane", light(func(l *LaneTimeline) *[]Point { return &l.ReceivedMost })},
	"sent light, least":     {"min_over_time(%[1]s[%[2]s])", "toneout_port_sent_light_dbm", "lane", light(func(l *LaneTimeline) *[]Point { return &l.SentLeast })},
	"sent light, most":      {"max_over_time(%[1]s[%[2]s])", "toneout_port_sent_light_dbm", "lane", light(func(l *LaneTimeline) *[]Point { return &l.SentMost })},
}

func plain(at func(*PortTimeline) *[]Point) func(*PortTimeline, map[string]string, []Point) {
	return func(p *PortTimeline, _ map[string]string, points []Point) { *at(p) = points }
}

func putBound(p *PortTimeline, labels map[string]string, points []Point) {
	switch labels["bound"] {
	case "low":
		p.FrameErrors.Low = points
	case "estimate":
		p.FrameErrors.Estimate = points
	case "high":
		p.FrameErrors.High = points
	}
}

func light(at func(*LaneTimeline) *[]Point) func(*PortTimeline, map[string]string, []Point) {
	return func(p *PortTimeline, labels map[string]string, points []Point) {
		n, _ := strconv.Atoi(labels["lane"])
		i, found := slices.BinarySearchFunc(p.Lanes, n, func(l LaneTimeline, n int) int { return l.Lane - n })
		if !found {
			p.Lanes = slices.Insert(p.Lanes, i, LaneTimeline{Lane: n})
		}
		*at(&p.Lanes[i]) = points
	}
}

// question asks for all strands.
func question(of Place, step time.Duration) string {
	var parts []string
	add := func(name, metric, function, by string) {
		expression := fmt.Sprintf(function, metric+"{"+of.selector()+"}", window(step))
		if by != "" {
			expression = fmt.Sprintf("max by (%s) (%s)", by, expression)
		}
		parts = append(parts, marked(name, expression))
	}
	for _, name := range slices.Sorted(maps.Keys(strands)) {
		s := strands[name]
		add(name, s.metric, s.function, strings.TrimSuffix("switch, port, "+s.by, ", "))
	}
	add(linkCount, "toneout_port_link_changes_total", "last_over_time(%[1]s[%[2]s])", "")
	return strings.Join(parts, " or ")
}

// marked names a strand of an answer.
func marked(strand, expression string) string {
	return fmt.Sprintf(`label_replace(%s, %q, %q, "", "")`, expression, strandLabel, strand)
}

// window is a duration in PromQL.
func window(d time.Duration) string { return fmt.Sprintf("%dms", d.Milliseconds()) }
