package fault

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

// Bayes by hand: of 38 to 40 a record that is confirmed has 19 to 40, one that is
// contradicted 152 to 40, and one that does not say what is meant 0.76 to 40; all others
// keep what they have to each other.
func TestRecordAndSwitchAgree(t *testing.T) {
	prior := weights{RecordWrong: 38, BadCord: 40}
	for i, want := range map[item]float64{rowConfirmed: 19, rowDisputed: 152, notByRecord: 0.76} {
		require.InDelta(t, want, prior.given(ofCopper, i)[RecordWrong], 1e-9, i)
		require.InDelta(t, want, prior.given(ofFibre, i)[RecordWrong], 1e-9, i)
		require.InDelta(t, 40, prior.given(ofCopper, i)[BadCord], 1e-9, i)
	}
}

// What the port's description says of the run is told, and weighs for the record against
// all other causes alike.
func TestADescriptionThatAgreesAndOneThatDoesNot(t *testing.T) {
	slow := func(alias string, runs ...*plant.Run) *Fault {
		l := gigabitLink("1/17")
		l.alias = alias
		s := newScene(t, runs, l)
		s.polls(3)
		l.fellBack()
		return only(t, s.polls(10))
	}
	run := horizontal("N2-17", "1/17")
	bare := slow("printer", run)
	odds := func(f *Fault) float64 { return probability(f, RecordWrong) / probability(f, OpenPair) }

	f := slow("N2-17 room 214", run)
	require.Contains(t, f.Evidence, "The port's description agrees with the record that this is run N2-17.")
	require.InDelta(t, 0.5*odds(bare), odds(f), 1e-9)

	f = slow("N2-04 room 208", run)
	require.Contains(t, f.Evidence, "The record says that this is run N2-17; the port's description says N2-04, which is in no row of the inventory.")
	require.InDelta(t, 4*odds(bare), odds(f), 1e-9)

	f = slow("N2-04 room 208", run, horizontal("N2-04", "1/4"))
	require.Empty(t, f.Run)
	require.Contains(t, strings.Join(f.Evidence, " "), "Which run this is, is not known: sw-1 port 1/17: the record says run N2-17")
	require.Contains(t, f.weighed.Seen, notByRecord, "what both ends offer is meant")
}
