package plant

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The colours at pins 1 to 8 of an outlet (ANSI/TIA-568.2-D pin assignments T568A
// and T568B; memory). A pair is a colour and its white mate.
var (
	t568a = []string{"white-green", "green", "white-orange", "blue", "white-blue", "orange", "white-brown", "brown"}
	t568b = []string{"white-orange", "orange", "white-green", "blue", "white-blue", "green", "white-brown", "brown"}
)

func TestPairsAreThoseOfT568AAndB(t *testing.T) {
	for _, colours := range [][]string{t568a, t568b} {
		var got []wirePair
		for pin, colour := range colours {
			for mate := range colours {
				if mate > pin && strings.TrimPrefix(colours[mate], "white-") == strings.TrimPrefix(colour, "white-") {
					got = append(got, wirePair{pins[pin : pin+1], pins[mate : mate+1]})
				}
			}
		}
		require.ElementsMatch(t, wirePairs, got)
	}
}

// A cable with T568A at one end and T568B at the other is a crossover (ANSI/TIA-568
// annex on crossover cables; memory).
func TestT568AToT568BIsACrossover(t *testing.T) {
	var words []string
	for pin, colour := range t568a {
		far := slices.Index(t568b, colour)
		words = append(words, pins[pin:pin+1]+"-"+pins[far:far+1])
	}
	w, err := ParseWireMap(strings.Join(words, " "))
	require.NoError(t, err)
	require.Len(t, w.Faults, 1)
	require.Equal(t, WireCrossed, w.Faults[0].Kind)
	require.Equal(t, "1-2 and 3-6", w.Faults[0].Pins)
	require.Equal(t, "crossover: 1-2 arrives at 3-6 and 3-6 at 1-2, as with T568A at one end and T568B at the other", w.Faults[0].Text)
	require.Equal(t, putsRight, w.Faults[0].Effect)
}

// Names of faults: ANSI/TIA-1152-A, IEC 61935-1 (memory). What they do to a link: the
// pairs that IEEE 802.3 clauses 25, 28 and 40 use.
func TestWireMapFaults(t *testing.T) {
	for _, row := range []struct {
		text string
		want []WireFault // without Text
	}{
		{"pass", nil},
		{"PASS", nil},
		{"1-1 2-2 3-3 4-4 5-5 6-6 7-7 8-8", nil},
		{"8-8,7-7;6-6, 5-5 4-4 3-3 2-2 1-1 s-s", nil},
		{"S-S", nil},
		{"fail", []WireFault{{Kind: WireUnnamed, Effect: anything}}},
		{"1-1 2-2 3-3 4-4 5-5 6-6 7-x 8-8", []WireFault{{Kind: WireOpen, Pins: "7", Effect: fallsBack}}},
		{"1-1 2-2 3-3 4-X 5-x 6-6 7-7 8-8", []WireFault{{Kind: WireOpen, Pins: "4-5", Effect: fallsBack}}},
		{"1-1 2-2 3-3 4-4 5-5 6-x 7-7 8-8", []WireFault{{Kind: WireOpen, Pins: "6", Effect: noLink}}},
		{"S-x", []WireFault{{Kind: WireOpen, Pins: "S", Effect: unscreened}}},
		{"4=5", []WireFault{{Kind: WireShort, Pins: "4-5", Effect: fallsBack}}},
		{"7=3", []WireFault{{Kind: WireShort, Pins: "3-7", Effect: noLink}}},
		{"8=S", []WireFault{{Kind: WireShort, Pins: "8-S", Effect: toScreen}}},
		{"1-2 2-1 3-3 4-4 5-5 6-6 7-7 8-8", []WireFault{{Kind: WireReversed, Pins: "1-2", Effect: polarity}}},
		{"1-1 2-2 3-3 4-7 5-8 6-6 7-4 8-5", []WireFault{{Kind: WireCrossed, Pins: "4-5 and 7-8", Effect: foursRight}}},
		{"1-4 2-5 3-3 4-1 5-2 6-6 7-7 8-8", []WireFault{{Kind: WireCrossed, Pins: "1-2 and 4-5", Effect: noLink}}},
		{"1-3 2-6 3-4 4-1 5-2 6-5 7-7 8-8", []WireFault{{Kind: WireCrossed, Pins: "1-2, 3-6 and 4-5", Effect: noLink}}},
		{"1-1 2-2 3-4 4-3 5-5 6-6 7-7 8-8", []WireFault{{Kind: WireMiswired, Pins: "3 and 4", Effect: noLink}}},
		{"1-1 2-2 3-3 4-4 5-7 6-6 7-5 8-8", []WireFault{{Kind: WireMiswired, Pins: "5 and 7", Effect: fallsBack}}},
		{"split 3-6/4-5", []WireFault{{Kind: WireSplit, Pins: "3-6 and 4-5", Effect: disturbs}}},
		{"split 45/36 split 3-6/4-5", []WireFault{{Kind: WireSplit, Pins: "3-6 and 4-5", Effect: disturbs}}},
		// A telephone jack's order punched onto a network's: pins in a row as pairs.
		{"1-1 2-2 3-3 4-5 5-4 6-6 7-x 8-8", []WireFault{{Kind: WireOpen, Pins: "7", Effect: fallsBack}, {Kind: WireReversed, Pins: "4-5", Effect: polarity}}},
		{"1-6 2-3 3-1 4-4 5-5 6-2 7-7 8-8", []WireFault{{Kind: WireCrossed, Pins: "1-2 and 3-6", Effect: putsRight}}},
		{"1-1 2-1 1=2 3-3 4-4 5-5 6-6 7-7 8-8", []WireFault{{Kind: WireShort, Pins: "1-2", Effect: noLink}, {Kind: WireMiswired, Pins: "2", Effect: noLink}}},
	} {
		w, err := ParseWireMap(row.text)
		require.NoError(t, err, row.text)
		for i, f := range w.Faults {
			require.NotEmpty(t, f.Text)
			w.Faults[i].Text = ""
		}
		require.ElementsMatch(t, row.want, w.Faults, row.text)
		require.Equal(t, len(row.want) == 0, w.Right())
	}
}

func TestWireMapsThatCannotBe(t *testing.T) {
	for text, want := range map[string]string{
		"":                                "wire map is empty",
		" , ":                             "wire map is empty",
		"passed":                          `wire map "passed" is no part of it`,
		"pass 1-1":                        `"pass" is no part of it`,
		"1-1 2-2":                         "says nothing of pin 3",
		"S-S 1-1":                         "says nothing of pin 2",
		"1-1 1-2":                         "names pin 1 twice",
		"9-9":                             `"9-9" is no part of it`,
		"1-":                              `"1-" is no part of it`,
		"x-1":                             `"x-1" is no part of it`,
		"1-12":                            `"1-12" is no part of it`,
		"4=4":                             `"4=4" is no short`,
		"4=x":                             `"4=x" is no short`,
		"split":                           `"split" is no part of it`,
		"split 3-6":                       `"split 3-6" is no two pairs`,
		"split 3-6/3-6":                   `"split 3-6/3-6" is no two pairs`,
		"split 3-4/5-6":                   `"split 3-4/5-6" is no two pairs`,
		"1-1 2-1 3-3 4-4 5-5 6-6 7-7 8-8": "has 1 and 2 both at pin 1: add 1=2",
	} {
		_, err := ParseWireMap(text)
		require.ErrorContains(t, err, want, "%q", text)
	}
}

func TestAWireMapAsTableAndWords(t *testing.T) {
	w, err := ParseWireMap("1-1 2-2 3-6 6-3 4-4 5-5 7-x 8-8 4=5 S-S")
	require.NoError(t, err)
	require.Equal(t, []WireRow{
		{"1 (pair 1-2)", "1", "1"}, {"2 (pair 1-2)", "2", "2"}, {"3 (pair 3-6)", "3", "6"}, {"4 (pair 4-5)", "4", "4, shorted to 5"},
		{"5 (pair 4-5)", "5", "5, shorted to 4"}, {"6 (pair 3-6)", "6", "3"}, {"7 (pair 7-8)", "7", "open"}, {"8 (pair 7-8)", "8", "8"},
		{"screen", "S", "S"},
	}, w.Table())
	require.Equal(t, "Pin 4 and pin 5 are shorted. 1000BASE-T and faster need all four pairs: the link falls back to 100 Mb/s, or does not come up at all. "+
		"Pin 7, of pair 7-8, is open. 1000BASE-T and faster need all four pairs: the link falls back to 100 Mb/s, or does not come up at all. "+
		"Pair 3-6 is reversed: its two conductors are swapped. Often nothing is to be seen, since 1000BASE-T ports put the polarity right; an older device may not link.", w.Words())
	right, err := ParseWireMap("pass")
	require.NoError(t, err)
	require.Equal(t, "Every conductor reaches its pin.", right.Words())
	require.Len(t, right.Table(), 8)
}

func FuzzWireMap(f *testing.F) {
	for _, text := range []string{"pass", "fail", "1-1 2-2 3-6 6-3 4-4 5-5 7-x 8-8 S-S", "4=5, 4=S", "split 3-6/4-5", "1-3 2-6 3-1 6-2 4-5 5-4 7-4 8-8 7=4"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		w, err := ParseWireMap(text)
		if err != nil {
			require.Contains(t, err.Error(), "wire map")
			return
		}
		require.LessOrEqual(t, len(w.Table()), len(pins)+1)
		require.NotEmpty(t, w.Words())
		wrong := false // a conductor is elsewhere or shorted
		for _, c := range w.Conductors {
			wrong = wrong || c.Found != c.Expected || c.Shorted != ""
		}
		require.False(t, wrong && w.Right(), "%q has no fault", text)
	})
}
