package standards

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestParseLine(t *testing.T) {
	for text, want := range map[string]Line{
		"EA":                          {Cat6A, true, true},
		"6A":                          {Cat6A, true, false},
		"cat 6a":                      {Cat6A, true, false},
		"Cat.6A":                      {Cat6A, true, false},
		"CAT6":                        {Cat6, true, false},
		"Class E permanent link":      {Cat6, true, true},
		"Cat 6 channel":               {Cat6, false, false},
		"E PL":                        {Cat6, true, true},
		"6A CH":                       {Cat6A, false, false},
		"D:2002":                      {Cat5e, true, true},
		"class d, channel":            {Cat5e, false, true},
		"TIA Cat 5e Perm. Link":       {Cat5e, true, false},
		"ISO/IEC 11801-1:2017 6A":     {Cat6A, true, true},
		"TIA-568-C.2 cat 6 channel":   {Cat6, false, false},
		"TIA 568.2-D 6A":              {Cat6A, true, false},
		"Category 8.1 channel":        {Cat8, false, false},
		"Class II channel":            {Cat8, false, true},
		"FA":                          {Cat7A, true, true},
		"D:1995":                      {Cat5, true, false},
		"class c":                     {Cat3, true, true},
		"Cat 5":                       {Cat5, true, false},
		"category-6a_permanent-link":  {Cat6A, true, false},
		"Class E channel (ISO 11801)": {Cat6, false, true},
		"permanent link of class EA":  {}, // "of" is no word of a line
		"":                            {},
		"channel":                     {},
		"6 6A":                        {},
		"6A channel permanent link":   {},
		"TIA class EA":                {},
		"ISO Cat 5":                   {},
		"OM3":                         {},
		"B":                           {},
		"ISO D:1995":                  {},
		"6A\x00":                      {},
	} {
		got, err := ParseLine(text)
		require.Equal(t, want, got, "%q", text)
		require.Equal(t, want == Line{}, err != nil, "%q: %v", text, err)
	}
	_, err := ParseLine("Cat 9")
	require.EqualError(t, err, `limit line "Cat 9": "9" names no class, category, channel or permanent link; write e.g. "EA" or "Cat 6 channel"`)
}

func TestLineString(t *testing.T) {
	require.Equal(t, "Class EA permanent link (ISO/IEC 11801-1)", Line{Cat6A, true, true}.String())
	require.Equal(t, "Category 5e channel (ANSI/TIA-568.2-D)", Line{Category: Cat5e}.String())
	require.Equal(t, "Category 5 channel (TIA TSB-67)", Line{Category: Cat5}.String())
	require.Equal(t, "no limit line", Line{}.String())
	for _, l := range everyLine() {
		got, err := ParseLine(l.String())
		require.NoError(t, err)
		require.Equal(t, l, got)
	}
}

func TestParseParameter(t *testing.T) {
	for text, want := range map[string]Parameter{
		"NEXT": NEXT, "next": NEXT, "PS NEXT": PSNEXT, "ps-next": PSNEXT, "RL": ReturnLoss, "IL": InsertionLoss,
		"Attenuation": InsertionLoss, "ACRF": ACRF, "ACR-F": ACRF, "ELFEXT": ACRF, "PSELFEXT": PSACRF, "acr_n": ACRN,
		"ACR": ACRN, "PS ACR-N": PSACRN, "propagation delay": Delay, "Skew": DelaySkew,
	} {
		got, ok := ParseParameter(text)
		require.True(t, ok, text)
		require.Equal(t, want, got, text)
	}
	for _, p := range allParameters {
		got, ok := ParseParameter(string(p))
		require.True(t, ok)
		require.Equal(t, p, got)
	}
	for _, text := range []string{"", "length", "wire map", "FEXT", "loop resistance"} {
		_, ok := ParseParameter(text)
		require.False(t, ok, text)
	}
}

func FuzzParseLine(f *testing.F) {
	for _, seed := range []string{"EA", "Cat 6 channel", "Class E permanent link (ISO/IEC 11801-1)", "TIA 568.2-D 6A CH", "D:2002", "(,-_", "cat"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		line, err := ParseLine(text)
		if err != nil {
			require.Equal(t, Line{}, line)
			return
		}
		again, err := ParseLine(line.String())
		require.NoError(t, err)
		require.Equal(t, line, again)
		least, most := line.Range()
		require.LessOrEqual(t, least, most)
		require.Positive(t, most)
	})
}
