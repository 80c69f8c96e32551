package standards

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Categories, classes and their bandwidths: ISO/IEC 11801-1 table 1 and
// ANSI/TIA-568.2-D (class letters of 5, 7A and 8 and widths above 600 MHz: memory).
func TestCategoriesRise(t *testing.T) {
	rows := []struct {
		category Category
		class    string
		mhz      float64
	}{
		{Cat3, "C", 16}, {Cat5, "D:1995", 100}, {Cat5e, "D", 100}, {Cat6, "E", 250},
		{Cat6A, "EA", 500}, {Cat7, "F", 600}, {Cat7A, "FA", 1000}, {Cat8, "I", 2000},
	}
	require.Len(t, Categories(), len(rows))
	for i, row := range rows {
		require.Equal(t, row.category, Categories()[i])
		require.Equal(t, row.class, row.category.Class())
		require.Equal(t, row.mhz, row.category.WidthMHz())
		for j, other := range rows {
			require.Equal(t, i < j, row.category.Below(other.category))
		}
	}
}

func TestCategoryNotKnownIsNeverLowOrHigh(t *testing.T) {
	for _, c := range []Category{"", "9", "5E"} {
		require.False(t, c.Known())
		require.False(t, c.Below(Cat8))
		require.False(t, Cat3.Below(c))
		require.Empty(t, c.Class())
		require.Zero(t, c.WidthMHz())
	}
}

func TestParseCategory(t *testing.T) {
	rows := map[string]Category{
		"6A": Cat6A, "cat 6a": Cat6A, "Cat.6A": Cat6A, "EA": Cat6A, "Class EA": Cat6A, " category\t6A ": Cat6A,
		"D:2002": Cat5e, "Class D:2002": Cat5e, "class d": Cat5e, "D:1995": Cat5, "5": Cat5, "CAT5E": Cat5e, "cat-5e": Cat5e,
		"C": Cat3, "3": Cat3, "e": Cat6, "F": Cat7, "fa": Cat7A, "I": Cat8, "Class II": Cat8, "Cat 8.1": Cat8, "8.2": Cat8,
	}
	for text, want := range rows {
		got, ok := ParseCategory(text)
		require.True(t, ok, text)
		require.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "cat", "class", "4", "6e", "9", "5e6", "OM3", "cat cat 6", "U/UTP"} {
		_, ok := ParseCategory(text)
		require.False(t, ok, text)
	}
}

func FuzzParseCategory(f *testing.F) {
	for _, c := range Categories() {
		f.Add(string(c))
		f.Add("class " + c.Class())
	}
	f.Add("cat.\u00a06A")
	f.Fuzz(func(t *testing.T, text string) {
		c, ok := ParseCategory(text)
		require.Equal(t, ok, c.Known())
		if !ok {
			require.Empty(t, c)
			return
		}
		for _, name := range []string{string(c), c.Class(), "Cat " + string(c), strings.ToUpper("class " + c.Class())} {
			again, ok := ParseCategory(name)
			require.True(t, ok, name)
			require.Equal(t, c, again, name)
		}
	})
}

// Letters of ISO/IEC 11801-1: overall screen / screen of the pairs.
func TestShield(t *testing.T) {
	rows := []struct {
		shield          Shield
		screened, pairs bool
	}{
		{"", false, false}, {"U/UTP", false, false}, {"UTP", false, false},
		{"F/UTP", true, false}, {"S/UTP", true, false}, {"SF/UTP", true, false}, {"FTP", true, false},
		{"U/FTP", true, true}, {"F/FTP", true, true}, {"S/FTP", true, true}, {"SF/FTP", true, true},
	}
	for _, row := range rows {
		require.Equal(t, row.screened, row.shield.Screened(), row.shield)
		require.Equal(t, row.pairs, row.shield.screenedPairs(), row.shield)
	}
}
