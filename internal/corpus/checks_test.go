package corpus

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
)

// byCode is which checks of field practice the tool's are: what these take and find
// is said here and not by the tool, which would judge itself.
var byCode = map[fault.CheckCode]Check{
	fault.CompareSettings: compareEnds, fault.OpenPort: compareEnds, fault.LookAtDevice: lookAtDevice, fault.AwaitTraffic: lookAtDevice,
	fault.ReadPowerBudget: readBudget, fault.FollowErrors: upstream, fault.TraceRecord: readRecord, fault.OtherPort: otherPort, fault.OtherDevice: otherDevice,
	fault.Reseat: reseat, fault.SwapNearCord: swapNearCord, fault.SwapFarCord: swapFarCord, fault.WireMap: wireMap, fault.MeasureLength: reflectometer,
	fault.TestLink: testLink, fault.ReadJacket: readJacket, fault.Reterminate: terminate, fault.MatchHours: walk, fault.OpenBundle: unbundle,
	fault.TestScreen: screens, fault.CleanConnectors: clean, fault.ReseatOptic: reseatOptic, fault.ReadOptics: readOptics,
	fault.SwapSender: swapSender, fault.SwapReceiver: swapReceiver, fault.FitAttenuator: attenuator, fault.FlipStrands: flipStrands,
	fault.SwapStrands: swapStrands, fault.TraceSlack: traceSlack, fault.TestLoss: lossTest, fault.FindBreak: faultLight,
}

// asTold gives the checks that were told, in their order.
func asTold(t *Told) (order []Check) {
	for _, c := range t.NextChecks {
		if check, known := byCode[c.Code]; known {
			order = append(order, check)
		}
	}
	return order
}

// Minutes by hand, of the table above: reseat 5, cords 4 and 6, wire map 12.
func TestMinutesToFind(t *testing.T) {
	order := []Check{reseat, swapNearCord, reseat, swapFarCord, wireMap}
	require.InDelta(t, 5, MinutesToFind(order, []string{"loose-plug"}), 1e-9)
	require.InDelta(t, 15, MinutesToFind(order, []string{"bad-cord"}), 1e-9, "a bad cord may be the second one")
	require.InDelta(t, 27, MinutesToFind(order, []string{"open-pair"}), 1e-9)
	require.InDelta(t, 27+neverFound, MinutesToFind(order, []string{"interference"}), 1e-9)
	for _, fibre := range []bool{false, true} {
		for _, kind := range fault.Kinds {
			require.Less(t, MinutesToFind(FieldOrder(string(kind), fibre), []string{"duplex-setting"}), 200.0, "field practice finds it in the end")
		}
	}
}
