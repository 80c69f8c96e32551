package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

const bigSwitches, bigPorts = 2000, 48

// bigScene is a plant of 96,000 ports of which a third have no run, where one
// switch in seven is silent, one in three hides tables, and people wrote long
// lines on the ports.
var bigScene = sync.OnceValue(func() *fault.Snapshot {
	rows := plant.Plant{Site: "Ferrow Quay College", Cables: []*plant.Cable{{ID: "horizontal-6a", Media: standards.Copper}}}
	settings := fault.Settings{PollEvery: time.Minute, FalseAlarmsPerWeek: 1}
	for s := range bigSwitches {
		name := fmt.Sprintf("acc-%04d", s)
		settings.Switches = append(settings.Switches, fault.SwitchSettings{Name: name, Address: "192.0.2.1:161"})
		for p := range bigPorts {
			if p%3 != 0 {
				rows.Runs = append(rows.Runs, &plant.Run{ID: fmt.Sprintf("R-%04d-%02d", s, p), Switch: name, Port: fmt.Sprintf("1/%d", p), DesignSpeed: standards.Gbps})
			}
		}
	}
	tracker := fault.NewTracker(plant.New(rows), settings)
	for s, sw := range settings.Switches {
		if s%7 == 0 {
			for range 3 {
				tracker.Failed(sw.Name, start, "no-answer", errors.New("ask 192.0.2.1:161: "+strings.Repeat("no answer ", 40)))
			}
			continue
		}
		tracker.Answered(sw.Name, bigPoll(s))
	}
	return tracker.Failed(settings.Switches[0].Name, start.Add(time.Hour), "no-answer", errors.New("no answer"))
})

func bigPoll(s int) port.Poll {
	poll := port.Poll{At: start, Tables: []port.Table{
		{Name: "ifTable", State: port.TableGiven, Rows: bigPorts, Missing: []string{"ifLastChange"}},
		{Name: "dot3StatsTable", State: port.TableGiven, Rows: bigPorts, Grant: "1.3.6.1.2.1.10.7"},
	}}
	if s%3 == 0 {
		poll.Tables[1].State = port.TableHidden
	}
	for p := range bigPorts {
		r := port.Reading{At: start, Index: p + 1, Name: fmt.Sprintf("1/%d", p), Alias: strings.Repeat("<Raum & Gang> ", 18),
			Type: 6, Admin: port.Up, Oper: port.Up, HighSpeed: port.Some(uint32(1000)), MAU: 30}
		r.Counters.Set64(port.InUnicast, 1)
		if s%3 != 0 {
			r.Counters.Set32(port.FCS, 0)
		}
		poll.Ports = append(poll.Ports, r)
	}
	return poll
}

// A page that a phone can load however big the plant is, with figures of all
// of it and what was left out told.
func TestCoverageOfABigPlantStaysSmall(t *testing.T) {
	s := bigScene()
	server := serve(t, source(s))
	_, page := get(t, server.URL+"/coverage")
	require.Less(t, len(page), 300_000)
	for _, want := range []string{
		"1,714 of 2,000 switches answer.", "286 of 2,000 switches", "and 226 more",
		"on 1,6", "64,000 runs", `<a href="/api/coverage">/api/coverage</a> gives all`,
	} {
		require.Contains(t, page, want)
	}
	c := decode[Coverage](t, server.URL+"/api/coverage")
	require.Len(t, c.Switches.Silent, 286)
	require.Equal(t, 1714*bigPorts, c.Ports.Shown)
	require.Len(t, c.Ports.Unjoined, 1714*bigPorts/3)
	h := c.Ports.Health
	require.Equal(t, c.Ports.Shown, h.Judged+h.Weaker+h.Unjudged+h.NoLink+h.NotRead)
	_, wall := get(t, server.URL+"/")
	require.Less(t, len(wall), 300_000)
	require.Contains(t, wall, "and 274 more")
}

func BenchmarkPages(b *testing.B) {
	handler := Handler(source(bigScene()))
	for _, path := range []string{"/", "/coverage", "/api/coverage", "/api/switches"} {
		b.Run(strings.TrimLeft(strings.ReplaceAll(path, "/", "-"), "-"), func(b *testing.B) {
			for b.Loop() {
				answer := httptest.NewRecorder()
				handler.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, path, nil))
				b.ReportMetric(float64(answer.Body.Len()), "B/page")
			}
		})
	}
}
