package plant

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestDidYouMean(t *testing.T) {
	names := []string{"N2-P1-17", "N2-P1-18", "N2-P1-19", "N2-P1-27", "S1-P2-03", "N2-P1-17"}
	for written, want := range map[string]string{
		"N2-P1-17":   `; did you mean "N2-P1-17"?`,
		"n2 p1 17":   `; did you mean "N2-P1-17"?`,
		"N2-P1-71":   `; did you mean "N2-P1-17"?`,
		"S1-P2-3":    `; did you mean "S1-P2-03"?`,
		"N2-P1-1":    `; did you mean "N2-P1-17" or "N2-P1-18" or "N2-P1-19"?`,
		"elsewhere":  "",
		"":           "",
		"N":          "",
		"214-A":      "",
		"S1/P2/0300": `; did you mean "S1-P2-03"?`,
	} {
		require.Equal(t, want, DidYouMean(written, names), written)
	}
}

// Distances of optimal string alignment; kitten and sitting is the textbook
// pair (memory).
func TestDistance(t *testing.T) {
	rows := []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"a", "", 1}, {"ab", "ba", 1}, {"kitten", "sitting", 3}, {"flaw", "lawn", 2}, {"abc", "abcdef", 3},
	}
	for _, row := range rows {
		require.Equal(t, row.want, distance([]rune(row.a), []rune(row.b)), row.a+" "+row.b)
		require.Equal(t, row.want, distance([]rune(row.b), []rune(row.a)), row.b+" "+row.a)
	}
}
