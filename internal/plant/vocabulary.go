package plant

import (
	"regexp"

	"toneout/internal/standards"
)

// Categories of copper: ISO/IEC 11801-1 (5 to 8) and ANSI/TIA-568 (3, 5e, 6,
// 6A, 8); 5 stands for cable older than 5e.
var categories = []string{"3", "5", "5e", "6", "6A", "7", "7A", "8"}

// Shields: overall screen / element screen of ISO/IEC 11801-1 annex E (memory
// as to the annex's letter).
var shields = []string{"U/UTP", "F/UTP", "S/UTP", "SF/UTP", "U/FTP", "F/FTP", "S/FTP", "SF/FTP"}

// Fibres: cabled optical fibre categories of ISO/IEC 11801-1 and ANSI/TIA-568.3;
// OM1, OM2 and OS1 remain for installed plant.
var fibres = []string{"OM1", "OM2", "OM3", "OM4", "OM5", "OS1", "OS1a", "OS2"}

var (
	media       = []standards.Medium{standards.Copper, standards.Fibre, standards.Twinax, standards.ActiveOptical}
	statuses    = []Status{Live, Spare, Faulty, Abandoned}
	importances = []Importance{Low, Normal, High}
	results     = []TestResult{Pass, PassMarginal, FailMarginal, Fail}
	passThrough = []string{"phone", "converter"}
)

// phyName is the form of IEEE 802.3 PHY names (1.2.3): the rate, BASE and a
// suffix. Only the form is checked: a PHY missing from the tables is no error
// of the record.
var phyName = regexp.MustCompile(`^(10|100|1000|(2\.5|5|10|25|40|50|100|200|400|800)G)BASE-[A-Z0-9][A-Za-z0-9-]*$`)

// AWG sizes accepted for conductors: 22 to 26 in ANSI/TIA-568.2-D, thinner
// cords by common practice (no source); beyond these it is a typing error.
const thickest, thinnest = 20, 32
