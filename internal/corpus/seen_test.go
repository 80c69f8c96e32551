package corpus

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/sim"
	"toneout/internal/standards"
)

// What can be seen hangs on what the ends show and on what is recorded of them, each
// by itself too little for anybody to be called.
func TestWhatCanBeSeen(t *testing.T) {
	const place = "acc-1 1/7"
	lower := []string{"below-design-speed"}
	held := period{bits: 1e13}
	slow := period{slow: 60, bits: 1e11}
	gone := period{down: 60}
	row := func(more ...string) map[string]string {
		row := map[string]string{"id": "ACC-1-07", "switch": "acc-1", "port": "1/7"}
		for i := 0; i < len(more); i += 2 {
			row[more[i]] = more[i+1]
		}
		return row
	}
	for _, one := range []struct {
		name  string
		kinds []string
		end   end
		row   map[string]string
		why   string
	}{
		{"slow, speed recorded", lower, end{since: slow}, row("design_speed", "1G"), ""},
		{"slow, another speed recorded", lower, end{since: slow}, row("design_speed", "100M"), noSpeedMeant},
		{"slow, no speed recorded", lower, end{since: slow}, row(), noSpeedMeant},
		{"slow, no row", lower, end{since: slow}, nil, noSpeedMeant},
		{"slow, after a week at speed with a neighbour", lower, end{before: held, since: slow, fast: standards.Gbps, heard: true}, nil, ""},
		{"slow, after a week at speed, of nobody known", lower, end{before: held, since: slow, fast: standards.Gbps}, nil, noSpeedMeant},
		{"slow, both ends offer more", lower, end{since: period{slow: 60, offered: 60}}, nil, ""},
		{"slow for a moment", lower, end{since: period{slow: 3}}, row("design_speed", "1G"), tooLittle},
		{"no link, always on", dark, end{since: gone}, row("always_on", "true"), ""},
		{"no link, a switch at both ends", dark, end{since: gone}, row("far_switch", "dist-2"), ""},
		{"no link, a watched switch was heard", dark, end{since: gone, switched: true, polled: true}, nil, ""},
		{"no link, another switch was heard", dark, end{since: gone, switched: true}, nil, strangerGone},
		{"no link, still fed", dark, end{since: period{down: 60, fed: 60}}, nil, ""},
		{"no link, shut", dark, end{since: period{down: 60, shut: 60}}, nil, shutByHand},
		{"no link, shut, always on", dark, end{since: period{down: 60, shut: 60}}, row("always_on", "true"), ""},
		{"no link, of a row without a port", dark, end{since: gone}, map[string]string{"id": "OTHER", "always_on": "true"}, noLinkMeant},
		{"no link, of a row that the description names", dark, end{since: gone, port: &sim.Port{Alias: "OTHER desk"}}, map[string]string{"id": "OTHER", "always_on": "true"}, ""},
		{"damaged frames, over the objective", errors_, end{since: period{damaged: 500, allowed: 100}}, nil, ""},
		{"damaged frames, under it", errors_, end{since: period{damaged: 90, allowed: 100}}, nil, tooLittle},
		{"damaged frames, under it, and none before", errors_, end{label: &Label{From: firstHour}, before: held, since: period{damaged: 90, bits: 1e12, allowed: 100}}, nil, ""},
		{"damaged frames, under it, as ever", errors_, end{label: &Label{From: firstHour}, before: period{damaged: 900, bits: 1e13}, since: period{damaged: 90, bits: 1e12, allowed: 100}}, nil, tooLittle},
		{"damaged frames where those are not called for", lower, end{since: period{damaged: 500, allowed: 100}}, nil, tooLittle},
		{"light too low", dim, end{since: period{lit: 9, dim: 9}, port: &sim.Port{Media: sim.Fibre}}, nil, ""},
		{"light as before", dim, end{since: period{lit: 9}, port: &sim.Port{Media: sim.Fibre}}, nil, tooLittle},
		{"light not told", dim, end{port: &sim.Port{Media: sim.Fibre}}, nil, noLightTold},
	} {
		t.Run(one.name, func(t *testing.T) {
			e := one.end
			if e.label == nil {
				e.label = &Label{}
			}
			if e.port == nil {
				e.port = &sim.Port{Media: sim.Copper}
			}
			e.label.Kinds, e.place, e.meant = one.kinds, place, standards.Gbps
			l := &Labelled{}
			if one.row != nil {
				l.records = append(l.records, one.row)
			}
			w := &witness{l: l, all: map[*Label][]*end{e.label: {&e}}}
			require.Equal(t, one.why, w.unseen(e.label))
		})
	}
}

// A fault that can be seen counts whether it was told or not.
func TestUntoldFaultsCount(t *testing.T) {
	s := &Score{}
	s.Add([]*Verdict{
		{Label: &Label{Run: "A", Causes: []string{"bad-cord"}}, Seed: 1},
		{Label: &Label{Run: "B", Causes: []string{"bad-cord"}, Unseen: noSpeedMeant}, Seed: 1},
	}, nil)
	require.Equal(t, Tally{Faults: 2}, s.All)
	require.Equal(t, Tally{Faults: 1}, s.Visible)
	require.Equal(t, []string{"1 A bad-cord"}, s.Untold)
	require.Equal(t, map[string][]string{noSpeedMeant: {"1 B bad-cord"}}, s.Unseen)
	require.Contains(t, s.String(), "right cause first           0 of 1 (0.0 %); of all 0 of 2 (0.0 %)")
}
