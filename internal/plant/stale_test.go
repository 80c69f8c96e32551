package plant

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/standards"
)

func TestStale(t *testing.T) {
	const days = 24 * time.Hour
	s1, t1 := at("s", 101, "1", "", ""), at("t", 101, "1", "", "")
	on := func(r Run) Run { r.ID, r.Switch, r.Port = "A", "s", "1"; return r }
	rows := []struct {
		name string
		run  Run
		seen []SeenPort
		now  Sighting // of every port
		want []string
	}{
		{"fits", on(Run{DesignSpeed: standards.Gbps, Device: "ap-1"}), []SeenPort{s1}, Sighting{Up: true, Fastest: standards.Gbps, Device: "AP-1.ferrow.example"}, nil},
		{"switch not configured", Run{ID: "A", Switch: "x", Port: "1"}, []SeenPort{s1}, Sighting{}, []string{`A near: switch "x" is not in the configuration`}},
		{"port not shown", Run{ID: "A", Switch: "s", Port: "9"}, []SeenPort{s1}, Sighting{}, []string{`A near: switch "s" shows no port "9"`}},
		{"not answered yet", Run{ID: "A", Switch: "s", Port: "9"}, nil, Sighting{}, nil},
		{"found by its description", Run{ID: "A", Switch: "s", Port: "9"}, []SeenPort{at("s", 101, "1", "", "A")}, Sighting{Up: true},
			[]string{"A near: recorded at s port 9, which the switch does not show; by its description it is at s port 1"}},
		{"29 days without a link", on(Run{}), []SeenPort{s1}, Sighting{DownFor: 30*days - 1}, nil},
		{"30 days without a link", on(Run{}), []SeenPort{s1}, Sighting{DownFor: 30 * days}, []string{"A near: recorded as live, and without a link for 30 days"}},
		{"both ends, told once", on(Run{FarSwitch: "t", FarPort: "1"}), []SeenPort{s1, t1}, Sighting{DownFor: 40 * days},
			[]string{"A near: recorded as live, and without a link for 40 days"}},
		{"a faulty run may be down", on(Run{Status: Faulty}), []SeenPort{s1}, Sighting{DownFor: 40 * days}, nil},
		{"spare and up", on(Run{Status: Spare}), []SeenPort{s1}, Sighting{Up: true}, []string{"A near: recorded as spare, and its port has a link"}},
		{"abandoned and down", on(Run{Status: Abandoned}), []SeenPort{s1}, Sighting{DownFor: 90 * days}, nil},
		{"more than the port can do", on(Run{DesignSpeed: 10 * standards.Gbps}), []SeenPort{s1}, Sighting{Up: true, Fastest: standards.Gbps},
			[]string{"A near: recorded with design speed 10G, and s port 1 can do no more than 1G"}},
		{"what the port can do is not known", on(Run{DesignSpeed: 10 * standards.Gbps}), []SeenPort{s1}, Sighting{Up: true}, nil},
		{"another device", on(Run{Device: "ap-n2-114"}), []SeenPort{s1}, Sighting{Up: true, Device: "ap-n2-115"},
			[]string{`A near: recorded with device "ap-n2-114", and "ap-n2-115" is heard`}},
		{"a device in words", on(Run{Device: "lecture capture"}), []SeenPort{s1}, Sighting{Up: true, Device: "lc-1"}, nil},
		{"a drafted device", on(Run{Device: "gate", DraftedFrom: []string{"device=neighbour"}}), []SeenPort{s1}, Sighting{Up: true, Device: "door"},
			[]string{`A near: recorded with device "gate", and "door" is heard`}},
		{"what a conflict lists", Run{ID: "A", Switch: "t", Port: "9"}, []SeenPort{at("s", 101, "1", "", "A"), t1}, Sighting{}, nil},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			p := plantOf(row.run)
			var got []string
			for _, stale := range p.Stale(p.Join(row.seen, []string{"s", "t"}, labels), func(PortRef) (Sighting, bool) { return row.now, true }) {
				got = append(got, fmt.Sprintf("%s %s: %s", stale.Run.ID, stale.End, stale.Why))
			}
			require.Equal(t, row.want, got)
		})
	}
}

func TestASilentSwitchMakesNothingStale(t *testing.T) {
	p := plantOf(Run{ID: "A", Switch: "s", Port: "1", Status: Spare})
	j := p.Join([]SeenPort{at("s", 1, "1", "", "")}, []string{"s"}, nil)
	require.Empty(t, p.Stale(j, func(PortRef) (Sighting, bool) { return Sighting{Up: true}, false }))
}
