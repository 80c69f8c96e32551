package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// Bayes by hand: 20 to 80 with an item 4 times likelier is 80 to 80; what depends on
// it adds nothing, what does not multiplies.
func TestDependentItemsCountOnce(t *testing.T) {
	prior := weights{BadCord: 20, LoosePlug: 80}
	strong, weak := telling{"a", weights{BadCord: 4}}, telling{"a", weights{BadCord: 2}}
	require.Equal(t, weights{BadCord: 4}, pooled([]telling{weak, strong}))
	require.Equal(t, weights{BadCord: 8}, pooled([]telling{strong, {"b", weights{BadCord: 2}}}))
	require.Equal(t, weights{BadCord: 80, LoosePlug: 80}, prior.recorded(ofCopper, pooled([]telling{strong, weak})))
	require.Equal(t, prior, prior.given(ofCopper), "what is not known changes nothing")
}

func TestNoCauseOfAnotherMaterialIsBroughtIn(t *testing.T) {
	says := weights{WrongFibre: 15, OverLength: 15}
	require.NotContains(t, weights{BadCord: 1}.recorded(ofCopper, says), WrongFibre)
	require.NotContains(t, weights{DirtyConnector: 1}.recorded(ofFibre, says), OverLength)
}

// Times are common practice, no source.
func TestWhenATroubleBegan(t *testing.T) {
	begun := time.Date(2026, time.March, 2, 8, 0, 0, 0, time.UTC)
	at := begun.Add(10 * 24 * time.Hour)
	rows := []struct {
		name  string
		onset onset
		item  item
	}{
		{"not watched", onset{}, ""},
		{"a cord was exchanged", onset{Watched: begun, Had: true, Made: at.Add(-time.Minute), Away: 2 * time.Minute}, sincePatched},
		{"somebody worked on the run", onset{Watched: begun, Had: true, Made: at.Add(-time.Minute), Away: 30 * time.Minute}, sinceRewired},
		{"the first link", onset{Watched: begun, Had: true, Made: at.Add(-time.Hour)}, sinceNew},
		{"there before", onset{Watched: at.Add(-time.Minute), Had: true}, sinceBefore},
		{"by itself", onset{Watched: begun, Had: true}, afterGood},
		{"hours after a cord was exchanged", onset{Watched: begun, Had: true, Made: at.Add(-9 * time.Hour), Away: time.Minute}, sinceToday},
	}
	for _, row := range rows {
		require.Equal(t, row.item, row.onset.item(at), row.name)
	}
}

// Losses of a Poisson mean at most 2.4 an hour: the exact one-sided 95 % bound of 5
// seen is 1.970, of 6 it is 2.613 (tables of exact Poisson limits; memory).
func TestLostOften(t *testing.T) {
	require.False(t, lostOften(0, 1))
	require.False(t, lostOften(5, 3600))
	require.True(t, lostOften(6, 3600))
	require.True(t, lostOften(1, 56), "one within the first minute")
	require.False(t, lostOften(1, 120))
}

// Of 3.4 to 53 a reversed pair of fibres in a run that was just laid has 3 times as much;
// that it was never up says 180 times, and counts alone. That glass is old says nothing.
func TestTheAgeOfFibre(t *testing.T) {
	prior := weights{ReversedPolarity: 3.4, BrokenStrand: 53}
	require.InDelta(t, 10.2, prior.given(ofFibre, laidLately)[ReversedPolarity], 1e-9)
	require.InDelta(t, 3.4*180, prior.given(ofFibre, laidLately, neverUp)[ReversedPolarity], 1e-9)
	require.Equal(t, prior, prior.given(ofFibre, laidLongAgo))
}

// The record's date is of fibre too; without one nothing is told.
func TestTheAgeOfARun(t *testing.T) {
	at := time.Date(2026, time.March, 2, 8, 0, 0, 0, time.UTC)
	for laid, want := range map[time.Duration]items{time.Hour: {laidLately}, 100 * 24 * time.Hour: nil, 400 * 24 * time.Hour: {laidLongAgo}} {
		p := &portState{reading: &port.Reading{At: at}, medium: standards.Fibre, join: plant.Join{Run: &plant.Run{InstalledOn: at.Add(-laid)}}}
		require.Equal(t, want, p.ageItems(), laid)
		p.join.Run = &plant.Run{}
		require.Empty(t, p.ageItems())
	}
}
