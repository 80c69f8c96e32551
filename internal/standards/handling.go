package standards

// Handled is what a handling rule bounds.
type Handled string

// What cable may suffer while it is laid, dressed and terminated.
const (
	BendRadius     Handled = "bend radius"
	PullingTension Handled = "pulling tension"
	Untwist        Handled = "untwist"
	Separation     Handled = "separation"
)

// Handling is advice on handling a cable: nothing of it can be read from a
// switch, and no verdict rests on it.
type Handling struct {
	What    Handled
	Where   string // what or when it is for, e.g. "under pull"
	AtLeast bool   // else at most
	Value   float64
	Unit    string // "× diameter", mm, N
	Caution string // where printed values differ; "" otherwise
	Source  Source
}

// The rows. Where printed values differ the strictest is given.
var (
	pairHandling = []Handling{
		{BendRadius, "patch cord", true, 6, "mm", "other printed values are 1 × its diameter", Source{"ANSI/TIA-568.0-D", true}},
		{BendRadius, "multi-pair backbone cable", true, 10, "× diameter", "", Source{Document: "ANSI/TIA-568.0-D"}},
		{PullingTension, "four-pair cable", false, 110, "N", "", Source{Document: "ANSI/TIA-568.0-D"}},
	}
	unscreenedHandling = []Handling{
		{BendRadius, "four-pair cable, installed", true, 4, "× diameter", "", Source{Document: "ANSI/TIA-568.0-D"}},
		{Separation, "power cable in parallel, no divider, fewer than 20 circuits", true, 200, "mm", "150 mm is printed too", Source{"EN 50174-2", true}},
	}
	screenedHandling = []Handling{
		{BendRadius, "four-pair cable, installed", true, 8, "× diameter", "8 × is ANSI/TIA-568-B's; 4 × since ANSI/TIA-568-C, and 6 × is printed too", Source{"ANSI/TIA-568-B", true}},
	}
	lampHandling  = Handling{Separation, "fluorescent lamps", true, 130, "mm", "125 mm by ANSI/TIA-569", Source{"EN 50174-2", true}}
	untwistCat3   = Handling{Untwist, "at the termination", false, 75, "mm", "", Source{"ANSI/TIA-568.2-D", true}}
	untwistHigher = Handling{Untwist, "at the termination", false, 13, "mm", "", Source{"ANSI/TIA-568.2-D", true}}
	fibreHandling = []Handling{
		{BendRadius, "without load", true, 10, "× diameter", "2 to 4 fibres indoors: 25 mm", Source{Document: "ANSI/TIA-568.0-D"}},
		{BendRadius, "under pull", true, 20, "× diameter", "2 to 4 fibres indoors: 50 mm", Source{"ANSI/TIA-568.0-D", true}},
		{PullingTension, "horizontal cable of 2 to 4 fibres", false, 222, "N", "", Source{Document: "ANSI/TIA-568.0-D"}},
	}
)

// HandlingOf gives the advice for a cable: none for assemblies, which come with
// their maker's. What is not recorded of copper is taken as asking more: no
// screen against interference, and Category 5e or better.
func HandlingOf(m Medium, c Category, s Shield) []Handling {
	switch m {
	case Fibre:
		return append([]Handling(nil), fibreHandling...)
	case Copper:
	default:
		return nil
	}
	list := append([]Handling{}, pairHandling...)
	if s.Screened() {
		list = append(list, screenedHandling...)
	} else {
		list = append(append(list, unscreenedHandling...), lampHandling)
	}
	if c == Cat3 {
		return append(list, untwistCat3)
	}
	return append(list, untwistHigher)
}
