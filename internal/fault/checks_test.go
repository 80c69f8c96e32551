package fault

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

func minutesOf(c *check) float64 { return float64(c.minutes) }

func codesOf(steps []step) (codes []CheckCode) {
	for _, s := range steps {
		codes = append(codes, s.code)
	}
	return codes
}

// meantime is the expected minutes until checks in an order have found the cause, or
// all were done in vain, worked out from each suspicion's own chance to be found at
// each place: another way than the rule's.
func meantime(order []*check, of []suspicion) (minutes float64) {
	for i := range of {
		spent, unfound := 0.0, of[i].probability
		for _, c := range order {
			spent += minutesOf(c)
			minutes += unfound * of[i].foundBy(c) * spent
			unfound *= 1 - of[i].foundBy(c)
		}
		minutes += unfound * spent
	}
	return minutes
}

// each gives all orders of checks.
func each(of []*check, do func([]*check)) {
	var permute func(done, left []*check)
	permute = func(done, left []*check) {
		if len(left) == 0 {
			do(done)
		}
		for i := range left {
			permute(append(slices.Clone(done), left[i]), slices.Concat(left[:i], left[i+1:]))
		}
	}
	permute(nil, of)
}

// Three checks by hand. At first A has 0.5/10 = 0.05 a minute, B 0.3/5 = 0.06, and C,
// which finds both their causes and half of a third, 0.5*0.8 + 0.3*0.8 + 0.2*0.5 =
// 0.74/20 = 0.037: B. Then A still has 0.05, C 0.4 + 0 + 0.1 = 0.5/20 = 0.025: A.
// Then C finds 0.1. On average that is
// 0.3*5 + 0.5*15 + 0.2*35 = 16 minutes.
func TestChecksAreOrderedByProbabilityOverCost(t *testing.T) {
	a := &check{code: "a", minutes: 10, finds: weights{BadCord: 1}}
	b := &check{code: "b", minutes: 5, finds: weights{LoosePlug: 1}}
	c := &check{code: "c", minutes: 20, finds: weights{BadCord: 0.8, LoosePlug: 0.8, OpenPair: 0.5}}
	of := []suspicion{{BadCord, "", 0.5}, {LoosePlug, "", 0.3}, {OpenPair, "", 0.2}}
	steps := inOrder([]*check{c, a, b}, of, 0, minutesOf)
	require.Equal(t, []CheckCode{"b", "a", "c"}, codesOf(steps))
	require.InDelta(t, 0.3, steps[0].probability, 1e-9)
	require.InDelta(t, 0.5, steps[1].probability, 1e-9)
	require.InDelta(t, 0.1, steps[2].probability, 1e-9)
	require.InDelta(t, 16, meantime([]*check{b, a, c}, of), 1e-9)
	require.Equal(t, []Find{{OpenPair, 0.5}}, steps[2].tellFinds(), "of what is still suspected")
}

// What a check is likely to miss stays suspected. A finds half of 0.8 in 4 minutes,
// 0.1 a minute; B all of 0.2 in 4, 0.05; C all of 0.8 in 10, 0.08. After A, C finds
// 0.4 in 10, 0.04, which is less than B's.
func TestWhatACheckMissesStaysSuspected(t *testing.T) {
	a := &check{code: "a", minutes: 4, finds: weights{BadCord: 0.5}}
	b := &check{code: "b", minutes: 4, finds: weights{LoosePlug: 1}}
	c := &check{code: "c", minutes: 10, finds: weights{BadCord: 1}}
	steps := inOrder([]*check{a, b, c}, []suspicion{{BadCord, "", 0.8}, {LoosePlug, "", 0.2}}, 0, minutesOf)
	require.Equal(t, []CheckCode{"a", "b", "c"}, codesOf(steps))
	require.InDelta(t, 0.2, steps[1].probability, 1e-9)
	require.InDelta(t, 0.4, steps[2].probability, 1e-9)
}

// A cord at the near end is not found at the far one.
func TestACheckAtAnEndFindsWhatLiesThere(t *testing.T) {
	of := suspectedOf([]CauseProbability{{BadCord, 1}}, ofCopper)
	near, far := &check{finds: weights{BadCord: 1}, end: nearSide}, &check{finds: weights{BadCord: 1}, end: farSide}
	require.InDelta(t, 0.5, near.found(of), 1e-9)
	require.InDelta(t, 0.5, far.found(unfound(near, of)), 1e-9)
	require.Zero(t, near.found(unfound(near, of)))
}

// Of all orders of small sets of checks, by trying each: where no two checks find the
// same cause, none is sooner than the rule's; otherwise it takes 4 times as long as
// the soonest at the most (Feige, Lovász and Tetali, 'Approximating min sum set
// cover', 2004 (memory)), and hardly longer on average.
func TestNoOrderFindsSooner(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	causes := []Cause{BadCord, LoosePlug, OpenPair, OverLength, PoorTermination, Interference}
	for _, apart := range []bool{true, false} {
		worst, sum, rounds := 1.0, 0.0, 150
		for range rounds {
			var of []suspicion
			for _, cause := range causes {
				of = append(of, suspicion{cause, "", random.ExpFloat64()})
			}
			var some []*check
			for i := range 5 {
				c := &check{minutes: 1 + random.IntN(30), finds: weights{causes[i]: 0.2 + 0.8*random.Float64()}}
				for range 2 {
					if !apart {
						c.finds[causes[random.IntN(len(causes))]] = random.Float64()
					}
				}
				some = append(some, c)
			}
			var ours []*check
			for _, s := range inOrder(some, of, 0, minutesOf) {
				ours = append(ours, s.check)
			}
			require.Len(t, ours, len(some))
			soonest := meantime(ours, of)
			took := soonest
			each(some, func(order []*check) { soonest = min(soonest, meantime(order, of)) })
			worst, sum = max(worst, took/soonest), sum+took/soonest
		}
		t.Logf("apart %v: at worst %.3f times the soonest, on average %.4f", apart, worst, sum/float64(rounds))
		if apart {
			require.InDelta(t, 1, worst, 1e-9)
		} else {
			require.Less(t, worst, 4.0)
			require.Less(t, sum/float64(rounds), 1.03)
		}
	}
}

func TestTheTableOfChecksIsWhole(t *testing.T) {
	found := map[Cause][]material{}
	codes := map[CheckCode]bool{}
	for _, c := range checks {
		w := checkWords[c.code]
		require.NotEmpty(t, w.says, c.code)
		require.Positive(t, c.minutes, c.code)
		require.NotEmpty(t, c.interrupts.Words(), c.code)
		require.Contains(t, agreeing, c.interrupts, c.code)
		if c.mending != "" {
			require.NotEmpty(t, c.mending.Words(), c.code)
			require.Greater(t, agreeing[c.mending], agreeing[c.interrupts], "%s is told to interrupt more", c.code)
		}
		require.False(t, codes[c.code], c.code)
		codes[c.code] = true
		for cause, surely := range c.finds {
			require.Contains(t, words, cause, c.code)
			require.Greater(t, surely, 0.0, c.code)
			require.LessOrEqual(t, surely, 1.0, c.code)
			if surely >= mostly {
				for _, m := range []material{ofCopper, ofFibre, ofAssembly} {
					if c.of == nil || slices.Contains(c.of, m) {
						found[cause] = append(found[cause], m)
					}
				}
			}
		}
		for _, says := range w.of {
			require.NotEqual(t, w.says, says, c.code)
		}
	}
	require.Len(t, checkWords, len(checks), "no words without their check")
	for cause := range words {
		for _, m := range []material{ofCopper, ofFibre, ofAssembly} {
			if m.suffers(cause) {
				require.Contains(t, found[cause], m, "%s of %s is found by some check", cause, m)
			}
		}
	}
}

func codes(f *Fault) (out []CheckCode) {
	for _, c := range f.NextChecks {
		out = append(out, c.Code)
	}
	return out
}

// What is checked depends on the kind, on what the run is made of, and on who is at fault.
func TestChecksFitTheFault(t *testing.T) {
	cut := &Fault{Kind: NoLink, Medium: string(ofCopper), Causes: []CauseProbability{{DamagedCable, 0.8}, {LoosePlug, 0.2}}}
	cut.advise(&judged{})
	require.Contains(t, cut.FirstCheck(), "how far away the pairs end")
	require.Equal(t, cut.FirstCheck(), cut.NextChecks[0].Check)
	cable := &Fault{Kind: FrameErrors, Medium: string(ofAssembly), Causes: []CauseProbability{{BadCord, 1}}}
	cable.advise(&judged{})
	require.Equal(t, []CheckCode{SwapWholeCable}, codes(cable))
	asleep := &Fault{Kind: BelowDesignSpeed, Medium: string(ofCopper), Causes: []CauseProbability{{FarEndAsleep, 0.9}, {OpenPair, 0.1}}}
	asleep.advise(&judged{})
	require.Equal(t, []CheckCode{AwaitTraffic}, codes(asleep), "no one is sent to the cable")
}

// To read what a port is set to interrupts nothing; to set it anew makes both ends
// negotiate again, so that the link is down meanwhile (IEEE 802.3 clause 28: a restart
// breaks the link (memory)). Both are said. The cost stays that of reading.
func TestAChangeOfASettingInterruptsTheLink(t *testing.T) {
	f := &Fault{Kind: DuplexMismatch, Medium: string(ofCopper), Causes: []CauseProbability{{DuplexSetting, 1}}}
	f.advise(&judged{})
	first := f.NextChecks[0]
	require.Equal(t, CompareSettings, first.Code)
	require.Equal(t, InterruptsNothing, first.Interrupts)
	require.Equal(t, InterruptsLink, first.Mending)
	require.Equal(t, "About 5 minutes; to look interrupts nothing, to mend what it finds interrupts the link. Needs access to the switches' settings.", first.Takes())
	for _, made := range []material{ofCopper, ofFibre} {
		says := checkWords[CompareSettings]
		require.Contains(t, says.on(BelowDesignSpeed, made), "a change drops the link")
	}
}

// By hand: reseating finds 0.8 of a loose plug, so that a fifth of the verdict is left
// with nothing to do; the likeliest of the rest by its cost is then told, however little
// it has: a bad cord, 0.004/2 at either end in 4+2 minutes at the near one.
func TestWhereTheFirstCheckMayMissTheCauseANextOneIsTold(t *testing.T) {
	next := ChecksFor(LinkFlapping, string(ofCopper), []CauseProbability{{LoosePlug, 0.994}, {BadCord, 0.004}, {DamagedCable, 0.002}})
	require.Len(t, next, 2)
	require.Equal(t, []CheckCode{Reseat, SwapNearCord}, []CheckCode{next[0].Code, next[1].Code})
	require.InDelta(t, 0.994*mostly, next[0].Probability, 1e-9)
	require.InDelta(t, 0.002*surely, next[1].Probability, 1e-9)
	require.Equal(t, "under 1 %: a bad cord.", next[1].WouldFind())
	sure := ChecksFor(HighLight, string(ofFibre), []CauseProbability{{ReceiverOverload, 0.996}, {RecordWrong, 0.004}})
	require.Len(t, sure, 1, "a check that hardly misses needs no other")
	asleep := ChecksFor(BelowDesignSpeed, string(ofCopper), []CauseProbability{{FarEndAsleep, 0.9}, {OpenPair, 0.1}})
	require.Len(t, asleep, 1, "no one is sent to the cable")
}
