package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/standards"
	"toneout/internal/web"
)

func some(v float64) *float64 { return &v }

func TestExplainTellsWhatIsJudged(t *testing.T) {
	v := web.RunDetail{
		RunVerdict: web.RunVerdict{Record: web.Record{ID: "A"}, State: "unknown", Verdict: "Not known.", Near: "panel P1", Far: "outlet 1"},
		Findings: []plant.Finding{{Run: "A", Endangers: plant.Link, Verdict: standards.NotAllowed, Rule: "channel-too-long", Text: "the channel is 103 m long",
			By: "3 m over 100 m", Source: "ISO/IEC 11801-1", Sure: plant.Certain, Mend: "shorten the cords", File: "runs.csv", Line: 7}},
		Expected: &web.Expectation{Speeds: []web.SpeedVerdict{
			{Speed: "1G", Verdict: "allowed", PHY: "1000BASE-T", Have: some(62), Limit: some(100), Unit: "m", Source: "IEEE 802.3 40.7", FromMemory: true},
			{Speed: "25G", Verdict: "not allowed", PHY: "25GBASE-T", Why: "25GBASE-T needs category 8"},
			{Speed: "100G", Verdict: "not judged"},
		}, LimitedBy: []string{"the port at the near end does 1G at most"}, Missing: []string{"connectors"}},
		Readiness: &web.Readiness{Speed: "2.5G", Answer: "no", Because: []string{"its test failed"}},
		Acceptance: &web.Acceptance{Summary: "The test fails.",
			ByParameter: []web.Measured{{Parameter: "NEXT", Pairs: "12-36", FrequencyMHz: some(100), Value: some(30), Limit: some(41.84), Margin: some(-11.84), Unit: "dB", Result: "fail"}},
			WireMap:     &web.WireMap{Conductors: []web.Conductor{{Pin: "1", Expected: "1", Found: "1"}, {Pin: "4", Expected: "4", Found: "4", Shorted: "5"}, {Pin: "7", Expected: "7"}}}},
	}
	require.Equal(t, `A is unknown. Not known.

near end  panel P1
far end   outlet 1

What the record breaks
    - link: the channel is 103 m long; 3 m over 100 m  (runs.csv:7)
      certain, by ISO/IEC 11801-1; not allowed, channel-too-long
      to mend: shorten the cords

What it may carry
    1G    allowed (1000BASE-T): 62 m of at most 100 m; IEEE 802.3 40.7 (from memory)
    25G   not allowed: 25GBASE-T needs category 8
    100G  not judged
    - the port at the near end does 1G at most
    - more could be said if the record held connectors

Ready for 2.5G: no
    - its test failed

Acceptance test
    The test fails.
    - fail: NEXT of 12-36 at 100 MHz: 30 dB, limit 41.84 dB, margin -11.84 dB
    pin 1, expected 1, found 1
    pin 4, expected 4, found 4, shorted to 5
    pin 7, expected 7, found open
`, explained(v))
}

func TestExplainTellsLightAndPower(t *testing.T) {
	near := &web.PortNow{Switch: "a", Port: "1/49", Optic: &web.OpticNow{
		PHY: "10GBASE-SR", TakesLeastDBm: some(-9.9), TakesMostDBm: some(-1), ExpectedLeastDBm: some(-8.9), ExpectedMostDBm: some(-1.4), LossLeastDB: some(0.4), LossMostDB: some(1.59),
		Lanes: []web.LaneNow{{Lane: 1, ReceivedDBm: some(-6.1), UsualReceivedDBm: some(-6), Standing: "inside", SentDBm: some(-2.5), LossDB: some(3.6), UsualLossDB: some(3.5)}},
	}}
	far := &web.PortNow{Switch: "b", Port: "1/1", Optic: &web.OpticNow{Lanes: []web.LaneNow{{Lane: 1, ReceivedDark: true, Standing: "not judged"}, {Lane: 2, Standing: "not judged"}}},
		Power: &web.PowerNow{Status: "delivering", Events: map[string]uint32{"short": 1, "denied": 0}}}
	v := web.RunDetail{RunVerdict: web.RunVerdict{Record: web.Record{ID: "A"}, State: "healthy", Ports: web.Ends{Near: near, Far: far}}}
	require.Contains(t, explained(v), `
a port 1/49 now
    - receives -6.1 dBm, inside the window, usual -6 dBm; ought to receive -8.9 to -1.4 dBm; the receiver takes -9.9 to -1 dBm; sends -2.5 dBm; lost on the way to it: 3.6 dB, usual 3.5 dB, ought to be 0.4 to 1.59 dB

b port 1/1 now
    - lane 1: receives no light, not judged; sends: not told
    - lane 2: receives: not told, not judged; sends: not told
    - power over the pairs: delivering; 1 short circuit; no refusals
`)
}

func TestExplainTellsWhyNobodyIsTold(t *testing.T) {
	f := &fault.Fault{Kind: fault.NoLink, Severity: fault.Warning, Quiet: true, Evidence: []string{"It is down."},
		Causes: []fault.CauseProbability{{Cause: fault.LoosePlug, Probability: 1}}, Checks: []string{"Look."},
		Guards: []fault.Guard{{Name: fault.GroupEvent, Says: "acc-1 restarted."}}}
	near := &web.PortNow{Switch: "acc-1", Port: "1/1", Guards: []fault.Guard{{Name: fault.GroupEvent, Says: "The switch restarted."}}}
	told := explained(web.RunDetail{RunVerdict: web.RunVerdict{Record: web.Record{ID: "A"}, State: "quiet", Faults: []*fault.Fault{f}, Ports: web.Ends{Near: near}}})
	require.Contains(t, told, "No link (listed, nobody is told), since ")
	require.Contains(t, told, "  Why nobody is told\n    - acc-1 restarted. (group-event)\n  Evidence\n    - It is down.\n")
	require.Contains(t, told, "acc-1 port 1/1 now\n    - The switch restarted.\n")
	f.Alarm = true
	require.Contains(t, explained(web.RunDetail{RunVerdict: web.RunVerdict{Faults: []*fault.Fault{f}}}), "  Taken into account\n")
}

// A fault that another one of the run tells of is told in short, and warns of what
// that did not.
func TestExplainTellsAPartInShort(t *testing.T) {
	lead := &fault.Fault{Kind: fault.FrameErrors, Severity: fault.Critical, Alarm: true, Causes: []fault.CauseProbability{{Cause: fault.DirtyConnector, Probability: 1}},
		Cautions: []string{"Never look."}}
	part := &fault.Fault{Kind: fault.LowLight, Severity: fault.Critical, Causes: []fault.CauseProbability{{Cause: fault.DirtyConnector, Probability: 1}},
		NextChecks: []fault.NextCheck{{Check: "Clean it.", Minutes: 10}}, Cautions: []string{"Never look.", "Mind ladders."},
		Guards: []fault.Guard{{Name: fault.SameTrouble, Says: "It is told as part of another fault of this run: Damaged frames."}}}
	told := explained(web.RunDetail{RunVerdict: web.RunVerdict{Faults: []*fault.Fault{lead, part}}})
	require.Contains(t, told, "Too little light (part of the other fault), since ")
	require.Contains(t, told, "\n  Why it is not told by itself\n    - It is told as part of another fault of this run: Damaged frames. (same-trouble)\n")
	require.Contains(t, told, `
  If the other fault is not why
        100 %  a dirty connector (dirty-connector)
    1. Clean it.
  Take care then
    - Mind ladders.
`)
}

func TestExplainTellsWhatRunsShare(t *testing.T) {
	v := web.RunDetail{
		RunVerdict: web.RunVerdict{Record: web.Record{ID: "A"}, State: "faulty", Verdict: "Up at 100M.", Near: "panel P1", Far: "outlet 1"},
		Shared: []*fault.SharedCause{{
			SharedName: fault.SharedName{Attribute: fault.ByPathway, Value: "tray-n2-east"}, Title: "pathway North 2 east tray (tray-n2-east)",
			Severity: fault.Warning, Since: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC), Probability: 0.9, Faulty: []string{"A", "B", "C"},
			Rivals:  []fault.SharedRival{{SharedName: fault.SharedName{Attribute: fault.ByPanel, Value: "N2-P1"}, Probability: 0.08}},
			Summary: "3 of the 12 runs that have it in common are at fault together.", Evidence: []string{"Beside it: lift motor."},
			Checks: []string{"Walk the pathway."}, Cautions: []string{"Mind ladders."},
			NextChecks: []fault.NextCheck{{Check: "Walk the pathway.", Minutes: 45, Tools: []string{"a thermometer"}, Interrupts: fault.InterruptsNothing,
				Probability: 0.7, Finds: []fault.Find{{Cause: fault.Interference, Surely: 0.8}}}},
		}},
	}
	v.Faults = []*fault.Fault{{Kind: fault.FrameErrors, Severity: fault.Critical, Since: v.Shared[0].Since, SharedCause: "pathway tray-n2-east", Evidence: []string{"Counted here."},
		Causes:     []fault.CauseProbability{{Cause: fault.Interference, Probability: 0.8}, {Cause: fault.BadCord, Probability: 0.2}},
		NextChecks: []fault.NextCheck{{Check: "Swap the cord.", Minutes: 4}}, Cautions: []string{"Power may be on.", "Mind ladders."}}}
	since := v.Shared[0].Since.Local().Format(time.RFC3339)
	require.Contains(t, explained(v), `
Damaged frames (part of pathway tray-n2-east), since `+since+`
  Evidence
    - Counted here.
  If pathway North 2 east tray (tray-n2-east) is not why
         80 %  interference from outside (interference)
         20 %  a bad cord (bad-cord)
    1. Swap the cord.
  Take care then
    - Power may be on.
`, "in short, after what is shared")
	require.Contains(t, explained(v), `
In common with other runs at fault (warning), since `+since+`
         90 %  pathway North 2 east tray (tray-n2-east)
          8 %  panel N2-P1
  Evidence
    - 3 of the 12 runs that have it in common are at fault together.
    - Beside it: lift motor.
  Runs at fault
    - A, B, C
  Check, in this order
    1. Walk the pathway.
       About 45 minutes; interrupts nothing. Needs a thermometer.
       70 %: interference from outside (it can miss that).
    Each percentage is the probability that this check finds the cause, if the checks are done in this order.
  Take care
    - Mind ladders.
`)
}

func TestExplainTellsWhatChecksTakeAndRepairsConfirm(t *testing.T) {
	f := &fault.Fault{Kind: fault.NoLink, Severity: fault.Warning, Alarm: true, Causes: []fault.CauseProbability{{Cause: fault.OpenPair, Probability: 0.6}},
		NextChecks: []fault.NextCheck{
			{Check: "Wire-map it.", Minutes: 12, Tools: []string{"a wire mapper", "a jack"}, Interrupts: fault.InterruptsDevice, Probability: 0.57,
				Finds: []fault.Find{{Cause: fault.OpenPair, Surely: 0.95}, {Cause: fault.SplitPair, Surely: 0.8}}},
			{Check: "Read the jacket.", Minutes: 6, Interrupts: fault.InterruptsNothing, Probability: 0.1, Finds: []fault.Find{{Cause: fault.WrongCategory, Surely: 0.95}}}},
		Experience: &fault.Experience{Medium: "copper", Repairs: 14, Causes: []fault.CauseExperience{{Cause: fault.OpenPair, Usual: 0.1, Repaired: 9}}},
	}
	told := explained(web.RunDetail{RunVerdict: web.RunVerdict{Faults: []*fault.Fault{f}}})
	require.Contains(t, told, `
         60 %  a pair is open (open-pair); repaired 9, usual 10 %
    Of 14 repairs confirmed here on copper, so many were each cause's; usual is its share by the table, before anything is seen.
  Check, in this order
    1. Wire-map it.
       About 12 minutes; interrupts the link, and the power of a device fed over it. Needs a wire mapper, a jack.
       57 %: a pair is open; split pairs (it can miss that).
    2. Read the jacket.
       About 6 minutes; interrupts nothing.
       10 %: cable or cord of too low a category.
    Each percentage is the probability that this check finds the cause, if the checks are done in this order.
`)
	f.Experience = nil
	require.NotContains(t, explained(web.RunDetail{RunVerdict: web.RunVerdict{Faults: []*fault.Fault{f}}}), "repairs confirmed")
}

// Who is at a fault stands with it, and what else was told below.
func TestExplainTellsWhatPeopleTold(t *testing.T) {
	at := time.Date(2026, 3, 2, 8, 0, 0, 0, time.Local)
	f := &fault.Fault{Kind: fault.NoLink, Severity: fault.Warning, Alarm: true, Since: at, Causes: []fault.CauseProbability{{Cause: fault.OpenPair, Probability: 0.999}}}
	told := web.WasTold{
		Taken: []web.Taken{{Kind: "no-link", By: "ada", At: at.Add(time.Hour), Note: "with a ladder"}},
		Told: []web.Told{
			{At: at.Add(time.Hour), By: "ada", What: "is at it: No link", Notes: []string{"with a ladder"}},
			{At: at.Add(-time.Hour), By: "bo", What: "repaired: a bad cord", State: "its fault returned"},
		},
	}
	text := explained(web.RunDetail{RunVerdict: web.RunVerdict{Record: web.Record{ID: "A"}, State: "faulty", Faults: []*fault.Fault{f}}, WasTold: told})
	require.Contains(t, text, "\n  ada is at it, since "+at.Add(time.Hour).Format("2006-01-02 15:04:05 MST")+": with a ladder\n")
	require.Contains(t, text, "    over 99 %  a pair is open (open-pair)\n")
	require.Contains(t, text, "\nWork at it, the latest first\n    - "+at.Add(time.Hour).Format(time.RFC3339)+" ada: is at it: No link; with a ladder\n    - "+
		at.Add(-time.Hour).Format(time.RFC3339)+" bo: repaired: a bad cord; its fault returned\n")
	told.Told = make([]web.Told, mostTold+3)
	require.Contains(t, explained(web.RunDetail{WasTold: told}), "    and 3 older: -json lists them all\n")
	require.Contains(t, explained(web.RunDetail{WasTold: web.WasTold{Unread: "the disk is full"}}), "\nWhat people told cannot be read now: the disk is full\n")
}

func TestExplainTellsAPort(t *testing.T) {
	now := web.PortNow{Switch: "acc-n3-2", Port: "1/22", Description: "room 310", Guards: []fault.Guard{{Says: "The switch restarted."}}}
	text := explainedPort(web.PortDetail{PortNow: now, Verdict: "Up at 100M instead of 1G.", WhyNot: "no run names it",
		Faults: []*fault.Fault{{Kind: fault.BelowDesignSpeed, Severity: fault.Warning, Alarm: true, Causes: []fault.CauseProbability{{Cause: fault.OpenPair, Probability: 0.6}}}}})
	for _, want := range []string{
		"acc-n3-2 port 1/22. Up at 100M instead of 1G.\n", "run       none is joined to it: no run names it\n", "written   room 310\n",
		"\nBelow design speed (warning), since ", "         60 %  a pair is open (open-pair)\n", "acc-n3-2 port 1/22 now\n    - The switch restarted.\n",
	} {
		require.Contains(t, text, want)
	}
	now.Run, now.End = "A", "near"
	require.Contains(t, explainedPort(web.PortDetail{PortNow: now}), "run       A, its near end: toneout explain A tells more\n")
}
