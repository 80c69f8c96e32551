package standards

import (
	"fmt"
	"strings"
)

// FibreType is a kind of cabled optical fibre. The zero value is a fibre that
// is not recorded.
type FibreType struct {
	Grade      string  // OM1 to OM5, OS1, OS1a, OS2; "" where only core and bandwidth are known
	CoreUM     float64 // core diameter in µm; of single mode the mode field's
	CladdingUM float64
	Aperture   float64 // numerical aperture
	Modal850   float64 // modal bandwidth at 850 nm in MHz·km: overfilled for OM1 and OM2, effective laser above; 0 for single mode
	SingleMode bool
}

// fibreTypes are the grades of ISO/IEC 11801-1 and ANSI/TIA-568.3-D. Apertures
// of 62.5, 50 and 100 µm cores stand in the table of 10BASE-FL media; that of
// single mode, and its mode field of 9 µm, are memory.
var fibreTypes = []FibreType{
	{"OM1", 62.5, 125, 0.275, 200, false},
	{"OM2", 50, 125, 0.20, 500, false},
	{"OM3", 50, 125, 0.20, 2000, false},
	{"OM4", 50, 125, 0.20, 4700, false},
	{"OM5", 50, 125, 0.20, 4700, false},
	{"OS1", 9, 125, 0.14, 0, true},
	{"OS1a", 9, 125, 0.14, 0, true},
	{"OS2", 9, 125, 0.14, 0, true},
}

// FibreNamed finds a fibre by its grade.
func FibreNamed(grade string) (FibreType, bool) {
	for _, f := range fibreTypes {
		if strings.EqualFold(f.Grade, strings.TrimSpace(grade)) {
			return f, true
		}
	}
	return FibreType{}, false
}

// FibreOfCore is a fibre known by its core (µm) and modal bandwidth at 850 nm
// (MHz·km; 0 where not recorded). A core of 8 to 10 µm is single mode, where
// the bandwidth says nothing. It reports false for a core that no fibre has.
// The aperture of 85 µm is that of IEC 60793-2-10 (memory); the table of
// 10BASE-FL media prints 0.29.
func FibreOfCore(coreUM, modalMHzKM float64) (FibreType, bool) {
	switch {
	case coreUM >= 8 && coreUM <= 10:
		return FibreType{"", coreUM, 125, 0.14, 0, true}, true
	case modalMHzKM < 0:
		return FibreType{}, false
	case coreUM == 50:
		return FibreType{"", 50, 125, 0.20, modalMHzKM, false}, true
	case coreUM == 62.5:
		return FibreType{"", 62.5, 125, 0.275, modalMHzKM, false}, true
	case coreUM == 85:
		return FibreType{"", 85, 125, 0.26, modalMHzKM, false}, true
	case coreUM == 100:
		return FibreType{"", 100, 140, 0.29, modalMHzKM, false}, true
	}
	return FibreType{}, false
}

// Known tells whether anything of the fibre is recorded.
func (f FibreType) Known() bool { return f.CoreUM > 0 }

// String gives the grade, or core, cladding and modal bandwidth.
func (f FibreType) String() string {
	switch {
	case f.Grade != "":
		return f.Grade
	case !f.Known():
		return "fibre not recorded"
	case f.SingleMode:
		return fmt.Sprintf("%g/%g µm single mode", f.CoreUM, f.CladdingUM)
	case f.Modal850 == 0:
		return fmt.Sprintf("%g/%g µm", f.CoreUM, f.CladdingUM)
	}
	return fmt.Sprintf("%g/%g µm %g MHz·km", f.CoreUM, f.CladdingUM, f.Modal850)
}

// attenuationRow is the coefficient of a kind of fibre in a window of
// wavelengths, in dB/km.
type attenuationRow struct {
	grade        string  // "" for all of this core
	coreUM       float64 // 0 for single mode
	fromNM, toNM float64
	least, most  float64
	source       Source
}

// attenuations: the first row that fits rules.
//
// Multimode at 850 nm is 3.5 dB/km in ISO/IEC 11801 and in TIA-568-C.3, 3.0
// for OM3 to OM5 in TIA-568.3-D. The stricter 3.5 is taken for OM3 and OM4:
// IEEE 802.3 works its channel insertion losses out with it, and the record
// does not tell by which edition a cable was bought. OM5 came with the 3.0.
//
// OS2 is 0.4 dB/km in TIA-568.3-D and in the tables of IEEE 802.3 clauses 87
// and 140, 0.5 in TIA-568-C.3's outside plant; the newer is taken, since OS1
// and OS1a cover the worse cable. A single-mode fibre without a grade counts
// as the worst of them.
//
// What a good cable has at least is common practice, no source.
var attenuations = []attenuationRow{
	{"OM5", 50, 770, 940, 2.2, 3.0, Source{"ANSI/TIA-568.3-D", true}},
	{"OM5", 50, 940, 970, 1.6, 2.3, Source{"ANSI/TIA-568.3-D", true}},
	{"", 50, 770, 970, 2.2, 3.5, Source{"ISO/IEC 11801, ANSI/TIA-568-C.3", false}},
	{"", 62.5, 770, 970, 2.7, 3.5, Source{"ISO/IEC 11801, ANSI/TIA-568-C.3", false}},
	{"", 50, 1260, 1380, 0.5, 1.5, Source{"ISO/IEC 11801, ANSI/TIA-568-C.3", false}},
	{"", 62.5, 1260, 1380, 0.5, 1.5, Source{"ISO/IEC 11801, ANSI/TIA-568-C.3", false}},
	{"OS2", 0, 1260, 1380, 0.32, 0.4, Source{"IEEE 802.3 clauses 87 and 140", false}},
	{"OS2", 0, 1380, 1625, 0.18, 0.4, Source{"IEEE 802.3 clauses 87 and 140", false}},
	{"", 0, 1260, 1380, 0.32, 1.0, Source{"ISO/IEC 11801", false}},
	{"", 0, 1380, 1625, 0.18, 1.0, Source{"ISO/IEC 11801", false}},
}

// attenuation is the coefficient of cabled fibre at a wavelength, in dB/km:
// most as the standard allows, with its source; least as good cable has by
// common practice. It reports false where no figure is known.
func (f FibreType) attenuation(nm float64) (least, most float64, src Source, ok bool) {
	for i := range attenuations {
		if row := &attenuations[i]; row.fits(f, nm) {
			return row.least, row.most, row.source, true
		}
	}
	return 0, 0, Source{}, false
}

func (r *attenuationRow) fits(f FibreType, nm float64) bool {
	if !f.Known() || nm < r.fromNM || nm > r.toNM || f.SingleMode != (r.coreUM == 0) {
		return false
	}
	if !f.SingleMode && f.CoreUM != r.coreUM {
		return false
	}
	return r.grade == "" || r.grade == f.Grade
}
