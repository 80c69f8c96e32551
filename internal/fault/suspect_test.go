package fault

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

// Of each cause a verdict says what SNMP cannot tell.
func TestEveryCauseHasItsLimit(t *testing.T) {
	for cause := range words {
		require.NotEmpty(t, untold[cause], cause)
	}
	require.Len(t, untold, len(words))
}

func TestWhereItMayLie(t *testing.T) {
	here := &portState{ref: plant.PortRef{Switch: "a", Port: "1/1"}}
	there := plant.PortRef{Switch: "b", Port: "1/2"}
	for name, row := range map[string]struct {
		kind   Kind
		seen   items
		both   bool
		beyond plant.PortRef
		causes []CauseProbability
		want   string
	}{
		"one place leads": {FrameErrors, nil, false, there, []CauseProbability{{DirtyConnector, 0.995}, {BentFibre, 0.005}},
			"Where it may lie, on the way from b port 1/2 to a port 1/1: a connector (over 99 %). " + endToEnd + "which of the connectors it is."},
		"several": {BelowDesignSpeed, nil, false, there, []CauseProbability{{OpenPair, 0.7}, {BadCord, 0.2}, {CrossedPair, 0.1}},
			"Where it may lie: the permanent link (80 %), a cord or plug (20 %). " + endToEnd + "which of these it is, nor at which end or how far along."},
		"the other end is not watched": {FrameErrors, nil, false, plant.PortRef{Switch: "b"}, []CauseProbability{{BadCord, 1}},
			"Where it may lie, on the way to a port 1/1: a cord or plug (100 %). " + endToEnd + "whether it is the near or the far cord."},
		"both ends count": {FrameErrors, nil, true, there, []CauseProbability{{BadCord, 1}},
			"Where it may lie, in both directions: a cord or plug (100 %). " + endToEnd + "whether it is the near or the far cord."},
		"lost both ways": {ExcessLoss, items{lossBothWays}, false, there, []CauseProbability{{BentFibre, 1}},
			"Where it may lie, in both directions: the fibre (100 %). " + untold[BentFibre]},
		"nothing large": {NoLink, nil, false, there, []CauseProbability{{PortShut, 0.09}}, "Where it may lie: the port's setting (9 %). " + untold[PortShut]},
	} {
		t.Run(name, func(t *testing.T) {
			f := finding{port: here, kind: row.kind, seen: row.seen, causes: row.causes}
			require.Equal(t, row.want, f.suspects(row.both, row.beyond))
		})
	}
}

// What speaks for the leading cause is said once, and what speaks against the next one
// beside it.
func TestWhatSpeaksForAndAgainst(t *testing.T) {
	for name, row := range map[string]struct {
		weighed Weighed
		causes  []CauseProbability
		want    []string
	}{
		"by its kind, and against the next": {Weighed{Of: ofCopper, Before: before{Prior: copperFellBack}, Seen: items{farOffersMeant}}, []CauseProbability{{OpenPair, 0.7}, {FarEndLimit, 0.3}},
			[]string{"For the likeliest cause (a pair is open): " + twoPairsDo + ".", "Against the next one (the device at the other end can go no faster): the far end offers the speed meant."}},
		"the same against the next": {Weighed{Of: ofCopper, Before: before{Prior: copperErrors}, Seen: items{failedFar}}, []CauseProbability{{SplitPair, 0.7}, {PoorTermination, 0.3}},
			[]string{"For the likeliest cause (split pairs): by the record it failed its test by 5 dB or more.", "The same speaks against the next one (poor termination)."}},
		"by the record": {Weighed{Of: ofCopper, Before: before{Prior: copperErrors}, Record: items{ruleBroken(plant.ChannelTooLong)}}, []CauseProbability{{OverLength, 1}},
			[]string{"For the likeliest cause (the run is too long): by the record: channel too long."}},
		"named by the readings": {Weighed{Of: ofCopper, Before: before{Prior: copperFellBack}, Named: SpeedSetting}, []CauseProbability{{SpeedSetting, 0.9}, {OpenPair, 0.1}},
			[]string{"For the likeliest cause (the port is set to a lower speed): the switch itself says how the port is set."}},
	} {
		t.Run(name, func(t *testing.T) {
			f := finding{port: &portState{}, weighed: row.weighed, causes: row.causes, named: row.weighed.Named}
			out := f.pleas(false, plant.PortRef{})
			require.Equal(t, row.want, out[:len(out)-1])
			require.Contains(t, out[len(out)-1], "Where it may lie")
		})
	}
}
