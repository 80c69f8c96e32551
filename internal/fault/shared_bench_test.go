package fault

import "testing"

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
