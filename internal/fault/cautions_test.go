package fault

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// Laser light, power over the pairs, stray voltage and work at height: whoever is sent
// to it is warned of it (field.md's standing cautions, common practice, no source).
func TestChecksThatCanHurtCarryTheirCautions(t *testing.T) {
	rows := map[string][]CheckCode{
		laser: {CleanConnectors, ReseatOptic, ReadOptics, SwapSender, SwapReceiver, FitAttenuator, FlipStrands, SwapStrands, TraceSlack, TestLoss, FindBreak,
			OtherPort, OtherDevice, SwapWholeCable},
		plugging: {Reseat, SwapNearCord, SwapFarCord, OpenBundle, TestScreen, OtherPort, OtherDevice},
		powered:  {WireMap, MeasureLength, TestLink, Reterminate},
		heights:  {MeasureLength, MatchHours, TraceSlack, FindBreak}, earthing: {TestScreen}, plantRooms: {MatchHours},
		static: {OtherPort, ReseatOptic, SwapSender, SwapReceiver, SwapWholeCable}, warm: {OpenBundle}, scope: {CleanConnectors},
	}
	for caution, codes := range rows {
		for _, code := range codes {
			require.Contains(t, checkWords[code].cautions, caution, code)
		}
	}
	for _, c := range checks {
		if c.interrupts == InterruptsNothing {
			continue
		}
		for _, made := range []material{ofCopper, ofFibre, ofAssembly} {
			if c.of == nil && c.code != OtherPort && c.code != OtherDevice || c.of != nil && !slices.Contains(c.of, made) {
				continue // of causes of one material alone
			}
			require.NotEmpty(t, made.fitting(checkWords[c.code].cautions), "%s of %s", c.code, made)
		}
	}
}

// A copper run has no light, and a fibre feeds nothing: nobody is warned of what cannot
// be there. Of what nobody knows, both are said.
func TestCautionsFitTheMedium(t *testing.T) {
	light, feeding := []string{laser, unseenLight, scope}, []string{plugging, powered, warm, earthing, fed}
	always := []string{local, apart, firestop}
	rows := map[string]struct {
		fault Fault
		says  []string
		first string
		not   []string
	}{
		"copper": {Fault{Kind: FrameErrors, Medium: string(ofCopper), Causes: []CauseProbability{{LoosePlug, 0.6}, {FarEndFaulty, 0.4}}},
			[]string{plugging, ladders}, plugging, append(light, fed)},
		"copper beside machines": {Fault{Kind: FrameErrors, Medium: string(ofCopper), Causes: []CauseProbability{{Interference, 1}}},
			[]string{plantRooms, heights, fed}, plantRooms, append(light, ladders)},
		"copper that nobody touches": {Fault{Kind: DuplexMismatch, Medium: string(ofCopper), Causes: []CauseProbability{{DuplexSetting, 1}}},
			[]string{fed, ladders}, local, append(light, plugging, powered)},
		"power": {Fault{Kind: PowerFailing, Medium: string(ofCopper), Causes: []CauseProbability{{FarEndFaulty, 1}}},
			[]string{plugging}, powered, light},
		"fibre": {Fault{Kind: FrameErrors, Medium: string(ofFibre), Causes: []CauseProbability{{DirtyConnector, 0.7}, {FarEndFaulty, 0.3}}},
			[]string{scope, unseenLight, ladders}, laser, feeding},
		"assembly": {Fault{Kind: FrameErrors, Medium: string(ofAssembly), Causes: []CauseProbability{{BadCord, 1}}},
			[]string{laser, unseenLight, ladders}, static, append(feeding, scope)},
		"not known": {Fault{Kind: NoLink, Medium: string(ofCopper), unmade: true, Causes: []CauseProbability{{LoosePlug, 0.6}, {FarEndFaulty, 0.4}}},
			[]string{plugging, laser, unseenLight}, plugging, []string{scope}},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			row.fault.advise(&judged{})
			said := row.fault.Cautions
			require.Subset(t, said, append(row.says, always...))
			require.Equal(t, row.first, said[0], "what the checks need comes first")
			for _, caution := range row.not {
				require.NotContains(t, said, caution)
			}
			for _, c := range row.fault.NextChecks {
				require.NotNil(t, c.Cautions)
				require.Subset(t, said, c.Cautions)
			}
		})
	}
}

// What several runs share warns by the same rule, of the checks of what rivals it too.
func TestCautionsOfWhatIsSharedFitTheMedium(t *testing.T) {
	panel := SharedName{ByPanel, "P1"}
	require.NotContains(t, (&hold{Name: panel}).cautions(), laser)
	require.Contains(t, (&hold{Name: panel}).cautions(), plugging)
	glass := (&hold{Name: panel, Glass: true, Rivals: []SharedRival{{SharedName{ByPathway, "T1"}, 0.4}}}).cautions()
	require.Contains(t, glass, laser)
	require.Contains(t, glass, heights)
	require.NotContains(t, glass, plugging)
}

// A port of which neither the record nor the link tells what it is on.
func TestWhatNobodyKnowsOf(t *testing.T) {
	require.True(t, (&portState{reading: &port.Reading{}}).unmade())
	require.False(t, (&portState{medium: standards.Copper, reading: &port.Reading{}}).unmade())
	require.False(t, (&portState{medium: standards.Fibre, reading: &port.Reading{}}).unmade())
}
