package fault

import (
	"bufio"
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// toldPlant is what a line of the corpus's dump holds.
type toldPlant struct {
	Verdicts []struct {
		Causes    []Cause
		Kinds     []string
		LookAlike bool
		All       []struct {
			Kind   Kind
			Now    int
			States []struct{ Weighed }
		}
	}
}

// lessonsOf reads what plants were told; what readings or other ports name themselves
// teaches nothing. Half as much as how a fault was told last counts all else that it was
// weighed by.
func lessonsOf(t *testing.T, paths string) (lessons []*lesson) {
	plant := 0
	for path := range strings.SplitSeq(paths, ",") {
		file, err := os.Open(path)
		require.NoError(t, err)
		defer file.Close()
		lines := bufio.NewScanner(file)
		lines.Buffer(nil, 64<<20)
		for lines.Scan() {
			var p toldPlant
			require.NoError(t, json.Unmarshal(lines.Bytes(), &p))
			plant++
			for _, v := range p.Verdicts {
				if len(v.All) == 0 || len(v.Causes) == 0 || !slices.Contains(v.Kinds, string(v.All[0].Kind)) {
					continue
				}
				for i, s := range v.All[0].States {
					last := i == v.All[0].Now
					l := &lesson{s.Weighed, v.Causes, 0.5 / float64(len(v.All[0].States)), plant, last && !v.LookAlike}
					if last {
						l.weight++
					}
					if l.Named == "" && l.Blamed == "" {
						lessons = append(lessons, l)
					}
				}
			}
		}
		require.NoError(t, lines.Err())
	}
	return lessons
}

// practice is what common practice makes of evidence that plants show seldom, or by the
// mixture that they happen to have: no source. It counts as much as some faults.
func practice() (lessons []*lesson) {
	lit := items{belowFEC, neverOver, modelsAlike}
	for _, p := range []struct {
		of    material
		prior prior
		seen  items
		right []Cause
	}{
		{ofCopper, copperFellBack, items{sinceRewired, gigabitOrLess, atHundred, farCouldMore, bothNegotiate, cleanBeside}, []Cause{OpenPair}},
		{ofCopper, copperNoLink, items{fedNow, fedAlong}, []Cause{OpenPair}},
		{ofCopper, copperErrors, items{afterGood, shortByRecord, gigabitOrLess, aboveHundred, noShortBursts, unevenHours, warmHours, inBursts, keepHours, silentNow}, []Cause{Interference}},
		{ofCopper, copperErrors, items{sinceBefore, gigabitOrLess, aboveHundred, linkLost, linkLostOften, inBursts}, []Cause{LoosePlug}},
		{ofCopper, copperErrors, items{sinceBefore, linkLost, linkLostOften}, []Cause{LoosePlug}},
		{ofCopper, copperErrors, items{sinceBefore, longByRecord, unscreened, passedTest, wideMargin, gigabitOrLess, aboveHundred, noInternal, sourcesNear}, []Cause{Interference}},
		{ofCopper, copperErrors, items{sinceBefore, longByRecord, passedTest, wideMargin, gigabitOrLess, aboveHundred, sourcesNear}, []Cause{Interference}},
		{ofCopper, copperErrors, items{sinceBefore, gigabitOrLess, aboveHundred, someDamaged, sourcesNear, evenHours, struckAlone, inBursts}, []Cause{PoorTermination, SplitPair, OverLength, DamagedCable, BadCord}},
		{ofCopper, copperNoLink, items{passedTest, gigabitOrLess, neverUp, fedNow, fedAlong}, []Cause{OpenPair}},
		{ofCopper, copperNoLink, items{passedTest, gigabitOrLess, neverUp, fedNow}, []Cause{OpenPair}},
		{ofFibre, lightDark, append(items{receivesNone, farSends, bothSendDark}, lit...), []Cause{BrokenStrand}}, // it was up
		{ofFibre, fibreNoLink, append(items{receivesNone, farSends, bothSendDark}, lit...), []Cause{BrokenStrand}},
		{ofFibre, fibreNoLink, items{belowFEC}, []Cause{BrokenStrand}},
		{ofFibre, fibreErrors, items{sinceBefore, belowFEC, neverOver}, []Cause{DirtyConnector}},
		{ofFibre, lossHigh, append(items{sinceBefore, sentEnough, lightShort, lossOneWay}, lit...), []Cause{DirtyConnector}},
		{ofFibre, lossHigh, append(items{sinceBefore, sentEnough, lightShort, lossBothWays, lossPassed}, lit...), []Cause{BentFibre}},
		{ofFibre, lossHigh, append(items{sinceBefore, sentEnough, lightShort, lossBothWays}, lit...), []Cause{LossOverBudget}},
		{ofFibre, fibreErrors, append(items{sinceBefore, sentEnough, lightUnder, lossBothWays, lossPassed}, lit...), []Cause{BentFibre}},
		{ofFibre, fibreErrors, append(items{sinceBefore, sentEnough, lightUnder, lossBothWays, lossPassed}, lit...), []Cause{BentFibre}},
		{ofFibre, lightLow, append(items{sinceBefore, sentEnough, lightUnder, lossBothWays, lossPassed}, lit...), []Cause{BentFibre}},
		{ofFibre, fibreErrors, append(items{sinceBefore, linkLost}, lit...), []Cause{LooseOptic}},
	} {
		lessons = append(lessons, &lesson{Weighed: Weighed{Of: p.of, Before: before{Prior: p.prior}, Seen: p.seen}, right: p.right, weight: 15, plant: -1})
	}
	return lessons
}
