package fault

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
)

// BenchmarkShared is what looking for shared causes costs the owner, for a
// plant of 5,000 runs with five causes at once, and for 32,000 runs as 48,000
// ports have: working out who shares what, after each join; and a search.
func BenchmarkShared(b *testing.B) {
	for _, size := range []struct {
		name string
		runs int
	}{{"runs=5000", 5000}, {"runs=32000", 32000}} {
		p := newPlantedPlant(b, 9, size.runs, 0)
		faulty, _ := p.plant(5)
		p.play(faulty)
		t := p.tracker
		for name, forget := range map[string]func(){
			"/join":            func() { t.shared.built = nil },
			"/join/run moved":  func() { t.shared.built, t.shared.entered[len(t.shared.entered)/2].run = nil, nil },
			"/other inventory": func() { t.shared.built, t.shared.lexicon = nil, nil },
		} {
			b.Run(size.name+name, func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					forget()
					t.relate()
				}
			})
		}
		b.Run(size.name+"/search", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				t.lookForCauses()
				t.showCauses()
				t.refold()
			}
		})
	}
}

// BenchmarkSharedOfAPoll is what shared causes take of each poll of a port, one
// in 500 of which had damaged frames, beside all that the tracker does with it: a
// tenth of that at most.
func BenchmarkSharedOfAPoll(b *testing.B) {
	p := newPlantedPlant(b, 9, plantRuns, 0)
	t := p.tracker
	ports := 0
	for _, s := range t.order {
		ports += len(s.order)
	}
	took := map[string]float64{} // ns
	perPort := func(b *testing.B, round func(n int)) {
		began := processorTime()
		n := 0
		for b.Loop() {
			n++
			round(n)
		}
		took[b.Name()] = float64((processorTime() - began).Nanoseconds()) / float64(n*ports)
		b.ReportMetric(took[b.Name()], "ns/port")
	}
	b.Run("shared", func(b *testing.B) {
		var poll compared
		poll.inc.Counters.Set64(port.InUnicast, 60_000)
		perPort(b, func(n int) {
			for _, s := range t.order {
				at := start.Add(time.Duration(n+10) * time.Minute)
				for _, on := range s.order {
					on.reading.At = at
					poll.event = &s.event
					bad := uint64(0)
					if p.random.IntN(500) == 0 {
						bad = 1
					}
					poll.inc.Counters.Set64(port.FCS, bad)
					t.doubtful(on, &s.event, 1e8)
					t.hit(on, &poll)
				}
				t.coincide(s, at)
			}
		})
	})
	b.Run("all", func(b *testing.B) {
		perPort(b, func(n int) { p.poll(t.settings, p.used, n+100_000) })
		if shared, played := took[strings.TrimSuffix(b.Name(), "all")+"shared"]; played {
			share := shared / took[b.Name()]
			require.LessOrEqual(b, share, 0.1, "of all that a poll takes")
			b.ReportMetric(share, "shared/all")
		}
	})
}
