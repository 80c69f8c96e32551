package notify

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
)

// BenchmarkTell is what a poll costs the one that takes it, among 1,000
// switches: with nothing changed, and with one fault that was composed anew.
func BenchmarkTell(b *testing.B) {
	for _, faults := range []int{100, 10_000} {
		s := showing()
		for i := range faults {
			s.Faults = append(s.Faults, with(slow(), func(f *fault.Fault) { f.Run = fmt.Sprint(i) }))
		}
		for i := range 1000 {
			s.Switches = append(s.Switches, &fault.Switch{Name: fmt.Sprint(i), Tried: true, LastAnswer: time.Now()})
		}
		anew := *s
		anew.Faults = slices.Clone(s.Faults)
		anew.Faults[0] = with(s.Faults[0], func(*fault.Fault) {})
		for name, next := range map[string]*fault.Snapshot{"unchanged": s, "one anew": &anew} {
			b.Run(fmt.Sprintf("faults=%d/%s", faults, name), func(b *testing.B) {
				n, err := New(Options{URLs: []string{"http://am.invalid"}})
				require.NoError(b, err)
				b.ReportAllocs()
				for b.Loop() {
					n.Tell(s)
					n.Tell(next)
				}
			})
		}
	}
}
