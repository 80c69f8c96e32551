package fault

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// recordOf is a plant with one run and the rows of its acceptance test.
func recordOf(run plant.Run, tests ...*plant.TestRow) *plant.Plant {
	return plant.New(plant.Plant{
		Cables: []*plant.Cable{
			{ID: "6a", Media: standards.Copper, Category: "6A", Shield: "U/UTP"},
			{ID: "5e", Media: standards.Copper, Category: "5e", Shield: "U/UTP"},
			{ID: "om1", Media: standards.Fibre, Fibre: "OM1"}, {ID: "om4", Media: standards.Fibre, Fibre: "OM4"},
			{ID: "os2", Media: standards.Fibre, Fibre: "OS2"},
		},
		Runs: []*plant.Run{&run}, Tests: tests,
	})
}

func wireMapRow(text string) *plant.TestRow {
	return &plant.TestRow{Run: "R", Parameter: "wire map", Value: text}
}

// What the record breaks makes the cause that it points to the likelier, and
// stands among the evidence. The limits are those of ISO/IEC 11801-1 (90 m,
// 100 m) and IEEE 802.3 clause 52 (33 m of OM1, -1.0 dBm at most); how much it
// weighs is common practice, no source.
func TestTheRecordSpeaksForCauses(t *testing.T) {
	rows := []struct {
		name  string
		run   plant.Run
		tests []*plant.TestRow
		prior prior
		cause Cause
		says  string
	}{
		{"too long", plant.Run{Cable: "6a", LengthM: port.Some(97.0), NearCordM: port.Some(3.0), FarCordM: port.Some(4.0), DesignSpeed: standards.Gbps},
			nil, copperErrors, OverLength, "4 m over 100 m"},
		{"category", plant.Run{Cable: "5e", LengthM: port.Some(30.0), DesignSpeed: 10 * standards.Gbps}, nil, copperTrained, WrongCategory, "category 5e"},
		{"split pairs", plant.Run{Cable: "6a", LengthM: port.Some(30.0), DesignSpeed: standards.Gbps},
			[]*plant.TestRow{wireMapRow("split 3-6/4-5")}, copperErrors, SplitPair, "split"},
		{"open pair", plant.Run{Cable: "6a", LengthM: port.Some(30.0), DesignSpeed: standards.Gbps},
			[]*plant.TestRow{wireMapRow("1-1 2-2 3-3 4-x 5-5 6-6 7-7 8-8")}, copperFellBack, OpenPair, "4"},
		{"fibre too long", plant.Run{Cable: "om1", LengthM: port.Some(120.0), Optic: "10GBASE-SR", FarOptic: "10GBASE-SR"}, nil, fibreErrors, LossOverBudget, "33 m"},
		{"overload", plant.Run{Cable: "os2", LengthM: port.Some(300.0), Optic: "10GBASE-ER", FarOptic: "10GBASE-ER"}, nil, fibreErrors, ReceiverOverload, "-1 dBm"},
		{"optics", plant.Run{Cable: "om4", LengthM: port.Some(30.0), Optic: "10GBASE-SR", FarOptic: "10GBASE-LR"}, nil, fibreErrors, OpticMismatch, "10GBASE-LR"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			row.run.ID = "R"
			p := recordOf(row.run, row.tests...)
			s := standingOf(p, p.Run("R"), plant.NearEnd)
			share := func(w weights) float64 {
				for _, c := range w.ranked() {
					if c.Cause == row.cause {
						return c.Probability
					}
				}
				return 0
			}
			before, after := share(row.prior.weights()), share(row.prior.weights().recorded(madeOf(p.Cable(row.run.Cable).Media), factors(s.items)))
			require.Greater(t, after, before+0.1, "%v: %v", row.cause, factors(s.items))
			require.Contains(t, strings.Join(s.sentences, " "), row.says)
			require.Contains(t, words, row.cause)
		})
	}
}

func TestACleanRecordMovesNothing(t *testing.T) {
	p := recordOf(plant.Run{ID: "R", Cable: "6a", LengthM: port.Some(40.0), DesignSpeed: standards.Gbps})
	s := standingOf(p, p.Run("R"), plant.NearEnd)
	require.Empty(t, factors(s.items))
	require.Empty(t, s.sentences)
	require.Equal(t, copperErrors.weights(), copperErrors.weights().recorded(ofCopper, factors(s.items)))
}

// An optic sends -7.3 to -1.0 dBm and takes -9.9 to -1.0 dBm (IEEE 802.3 clause 52).
func TestTheLightToExpectStandsAmongTheEvidence(t *testing.T) {
	p := recordOf(plant.Run{ID: "R", Cable: "om4", LengthM: port.Some(80.0), Connectors: port.Some(2),
		Optic: "10GBASE-SR", FarOptic: "10GBASE-SR", DesignSpeed: 10 * standards.Gbps})
	said := strings.Join(standingOf(p, p.Run("R"), plant.FarEnd).sentences, " ")
	require.Contains(t, said, "the far end should receive")
	require.Contains(t, said, "its optic takes -9.9 to -1.0 dBm")
}

// However much a record breaks, it may be wrong itself.
func TestTheRecordsWordIsBounded(t *testing.T) {
	seen := items{ruleBroken(plant.ChannelTooLong), ruleBroken(plant.CordsTooLong)} // 15 and 4 times
	require.EqualValues(t, mostFactor, factors(seen)[OverLength])
}

func TestEveryCauseOfTheTableHasItsWords(t *testing.T) {
	for _, table := range []map[item]telling{copperRecord, fibreRecord, copperTells, fibreTells} {
		for _, w := range table {
			for cause := range w.ratio {
				require.Contains(t, words, cause)
			}
		}
	}
}
