package standards

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func fibre(t testing.TB, grade string) FibreType {
	f, ok := FibreNamed(grade)
	require.True(t, ok, grade)
	return f
}

// ISO/IEC 11801: bandwidths, cores and claddings. Apertures of 62.5 and 50 µm:
// table of 10BASE-FL media. OM3 and OM4 by effective laser launch. Single mode:
// memory.
func TestFibreGrades(t *testing.T) {
	rows := []FibreType{
		{"OM1", 62.5, 125, 0.275, 200, false},
		{"OM2", 50, 125, 0.20, 500, false},
		{"OM3", 50, 125, 0.20, 2000, false},
		{"OM4", 50, 125, 0.20, 4700, false},
		{"OM5", 50, 125, 0.20, 4700, false}, // printed beside 400GBASE-SR4.2: 4700 at 850, 2470 at 953 nm
		{"OS1", 9, 125, 0.14, 0, true},
		{"OS1a", 9, 125, 0.14, 0, true},
		{"OS2", 9, 125, 0.14, 0, true},
	}
	for _, want := range rows {
		require.Equal(t, want, fibre(t, want.Grade))
		require.Equal(t, want.Grade, want.String())
	}
	f, ok := FibreNamed(" os1A ")
	require.True(t, ok)
	require.Equal(t, "OS1a", f.Grade)
	for _, none := range []string{"", "OM6", "OS"} {
		_, ok := FibreNamed(none)
		require.False(t, ok, none)
	}
}

// Aperture of 100/140 µm: table of 10BASE-FL media; of 85/125 µm: memory (that
// table prints 0.29 for it, IEC 60793-2-10 has 0.26).
func TestFibreOfCore(t *testing.T) {
	rows := []struct {
		core, modal, cladding, aperture float64
		single                          bool
		text                            string
	}{
		{62.5, 160, 125, 0.275, false, "62.5/125 µm 160 MHz·km"},
		{50, 400, 125, 0.20, false, "50/125 µm 400 MHz·km"},
		{50, 0, 125, 0.20, false, "50/125 µm"},
		{85, 0, 125, 0.26, false, "85/125 µm"},
		{100, 100, 140, 0.29, false, "100/140 µm 100 MHz·km"},
		{8, 0, 125, 0.14, true, "8/125 µm single mode"},
		{9.2, 0, 125, 0.14, true, "9.2/125 µm single mode"},
		{10, 500, 125, 0.14, true, "10/125 µm single mode"},
	}
	for _, row := range rows {
		f, ok := FibreOfCore(row.core, row.modal)
		require.True(t, ok, row.text)
		require.True(t, f.Known())
		require.Equal(t, row.cladding, f.CladdingUM)
		require.Equal(t, row.aperture, f.Aperture)
		require.Equal(t, row.single, f.SingleMode)
		require.Equal(t, map[bool]float64{false: row.modal}[row.single], f.Modal850, "none of single mode")
		require.Equal(t, row.text, f.String())
	}
	for _, core := range []float64{0, -50, 7.9, 10.1, 60, 200} {
		_, ok := FibreOfCore(core, 500)
		require.False(t, ok, "%v", core)
	}
	_, ok := FibreOfCore(50, -1)
	require.False(t, ok)
	require.Equal(t, "fibre not recorded", FibreType{}.String())
}

// What cabled fibre may have at most, in dB/km, and where it is printed.
func TestAttenuation(t *testing.T) {
	rows := []struct {
		grade    string
		nm, most float64
		memory   bool
	}{
		{"OM1", 850, 3.5, false}, {"OM1", 1300, 1.5, false}, // ISO/IEC 11801, TIA-568
		{"OM2", 850, 3.5, false}, {"OM2", 1310, 1.5, false}, // the same
		{"OM3", 850, 3.5, false}, {"OM3", 1300, 1.5, false}, // TIA-568-C.3; TIA-568.3-D has 3.0: the stricter is taken
		{"OM4", 850, 3.5, false}, {"OM4", 1300, 1.5, false}, // IEEE 802.3 clause 52: 400 m lose 2.9 dB, 1.5 of it connections
		{"OM5", 850, 3.0, true}, {"OM5", 953, 2.3, true}, {"OM5", 1300, 1.5, false}, // TIA-568.3-D, memory
		{"OS1", 1310, 1.0, false}, {"OS1", 1550, 1.0, false}, // ISO/IEC 11801
		{"OS1a", 1310, 1.0, false},                                                      // IEEE 802.3 clauses 87 and 140
		{"OS2", 1310, 0.4, false}, {"OS2", 1490, 0.4, false}, {"OS2", 1550, 0.4, false}, // IEEE 802.3 clauses 87 and 140
	}
	for _, row := range rows {
		least, most, source, ok := fibre(t, row.grade).attenuation(row.nm)
		require.True(t, ok, "%s %v", row.grade, row.nm)
		require.Equal(t, row.most, most, "%s %v", row.grade, row.nm)
		require.Equal(t, row.memory, source.Memory, "%s %v", row.grade, row.nm)
		require.NotEmpty(t, source.Document)
		require.Positive(t, least)
		require.Less(t, least, most)
	}
}

func TestAttenuationIsNotKnownOutsideTheWindows(t *testing.T) {
	for _, nm := range []float64{0, 650, 769, 1100, 1381} {
		_, _, _, ok := fibre(t, "OM3").attenuation(nm)
		require.False(t, ok, "%v", nm)
	}
	_, _, _, ok := fibre(t, "OS2").attenuation(850)
	require.False(t, ok, "single mode at 850 nm")
	_, _, _, ok = FibreType{}.attenuation(1310)
	require.False(t, ok)
	odd, _ := FibreOfCore(85, 200)
	_, _, _, ok = odd.attenuation(850)
	require.False(t, ok, "no standard names cabled 85 µm")
	ungraded, _ := FibreOfCore(9, 0)
	_, most, _, ok := ungraded.attenuation(1310)
	require.True(t, ok)
	require.Equal(t, 1.0, most, "without a grade the worst single mode counts")
}
