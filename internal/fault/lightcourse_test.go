package fault

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// made gives optics another model's name.
func made(model string, o *port.Optic) *port.Optic {
	o.Model = model
	return o
}

// lost takes the link of a scene away as of now.
func (s *fibreScene) lost() {
	s.link(port.Down)
	for _, b := range []*box{s.a, s.b} {
		b.loses("1/1")
	}
}

// What the light did before the trouble and during it tells causes apart: the table of
// a fibre's evidence in the project's notes on field practice (common practice).
func TestCausesByTheCourseOfLight(t *testing.T) {
	rows := []struct {
		name string
		play func(s *fibreScene)
		kind Kind
		want Cause
	}{
		{"light that jumps is of a loose optic", func(s *fibreScene) {
			s.b.links[0].errored = 12
			for _, dbm := range []float64{-9, -5, -8.5, -4.2, -10, -6} {
				s.light(-2.5, -4, -2.5, dbm)
				s.slow(1)
			}
		}, FrameErrors, LooseOptic},
		{"light that falls over hours while nobody knows what is sent is of a laser at its end", func(s *fibreScene) {
			s.alone()
			for fallen := 0.0; fallen < 6.5; fallen += 0.05 {
				s.light(-2.5, -4, -2.5, -4-fallen)
				s.slow(1)
			}
		}, LowLight, FailingTransmitter},
		{"light that is 10 dB less both ways after a plug was out passes fibre of another kind", func(s *fibreScene) {
			s.lost()
			s.light(-2.5, noLight, -2.5, noLight)
			s.slow(1)
			s.light(-2.5, -14.2, -2.5, -14.1)
			s.slow(3)
		}, NoLink, WrongFibre},
		{"less light one way after a plug was out passes dirt", func(s *fibreScene) {
			s.lost()
			s.light(-2.5, noLight, -2.5, noLight)
			s.slow(1)
			s.light(-2.5, -4, -2.5, -11)
			s.slow(3)
		}, NoLink, DirtyConnector},
		{"the other strand alone is dark", func(s *fibreScene) {
			s.lost()
			s.light(-2.5, noLight, -2.5, -4)
			s.slow(3)
		}, NoLink, BrokenStrand},
		{"optics of two kinds", func(s *fibreScene) {
			s.lost()
			s.optics(made("X-10GBASE-LR", lit("C", -2, -9)), made("X-10GBASE-SR", lit("B", -2.5, -17.5)))
			s.slow(3)
		}, NoLink, OpticMismatch},
		// No optic of 25 Gbit/s finds a link where the ends correct errors differently
		// (IEEE 802.3 clause 108, memory).
		{"as much light as ever at both ends, at a speed that needs its errors corrected", func(s *fibreScene) {
			s.run.DesignSpeed = 25 * standards.Gbps
			s.lost()
			s.slow(3)
		}, NoLink, FECMismatch},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			s := settled(t, nil)
			row.play(s)
			f := lightFault(t, s.tracker.Snapshot(), row.kind)
			require.Equal(t, row.want, f.Cause(), "%v %+v", f.Causes, f.Weighed())
		})
	}
}

// alone lets b's other end be one that nobody asks.
func (s *fibreScene) alone() {
	s.run.FarSwitch, s.run.FarPort = "", ""
	s.run.Switch = "b"
	s.a.hearsNobody("1/1")
	s.b.hearsNobody("1/1")
	s.world.runs = []*plant.Run{s.run}
	s.tracker.Replace(plant.New(s.world.plant()), s.settings(), s.now)
}

// What one fault tells of another is not told again with that, and both ends tell of
// both directions.
func TestEachSentenceOfEvidenceOnce(t *testing.T) {
	s := settled(t, nil)
	s.b.links[0].errored = 12
	s.light(-2.5, -11.5, -2.5, -12)
	times := map[string]int{}
	for _, f := range s.slow(3).Faults {
		for _, sentence := range f.Evidence {
			times[sentence]++
		}
	}
	require.NotEmpty(t, times)
	for sentence, n := range times {
		require.Equal(t, 1, n, sentence)
	}
}
