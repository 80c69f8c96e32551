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
		b.Run(size.name+"/relate", func(b *testing.B) {
			for b.Loop() {
				t.shared.built = nil
				t.relate()
			}
		})
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
