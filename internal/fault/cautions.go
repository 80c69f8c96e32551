package fault

import "slices"

// What whoever is sent to a run is warned of (common practice, no source). Local codes
// and licensed practice come first, and the cautions say so.
const (
	plugging   = "Power over Ethernet may be on the cord: switch the port's power off before you pull the plug. One that is pulled under load burns its contacts."
	powered    = "The pairs may carry up to 90 W: switch the port's power off before you unplug or open anything, and keep bare hands off wet or crushed cable."
	warm       = "Power over Ethernet warms the cables of a bundle: do not tie it tighter or make it larger."
	earthing   = "There may be a voltage between the ends of a screen: leave bonds as they are, and let an electrician measure."
	laser      = "Never look into a fibre, a plug or a port. Before you open a plug, make sure that both ends send no light."
	scope      = "Put a microscope to a fibre only once it is dark: an optical one gathers the light into the eye."
	static     = "Ground yourself before touching a module."
	heights    = "This may lead onto a ladder or above a ceiling: keep to the site's rules for both and away from mains, and ask for the asbestos register before you lift a tile or drill."
	plantRooms = "Plant rooms and power containment are for licensed people only."

	local       = "Local electrical, fire and building codes, site rules and licensed practice come first."
	unseenLight = "Treat every fibre as lit: the light is invisible. Where fibre is cut or bare, wear safety glasses and collect the shards."
	fed         = "Power over Ethernet may be present."
	apart       = "Keep cables apart from mains by the distance that the rules ask for, and never open power containment."
	ladders     = "Mind ladder and height rules; ask for the asbestos register before lifting a tile or drilling."
	firestop    = "Restore every firestop. Tests and swaps interrupt service: agree on a time first."
)

// standingCautions come with every fault of what they fit.
var standingCautions = []string{local, unseenLight, fed, apart, ladders, firestop}

// kindCautions are those of kinds, whatever the check.
var kindCautions = map[Kind][]string{PowerFailing: {powered}}

// fits tells of which materials a caution is; one that is not here is of any. An
// assembly may hold fibre, and feeds nothing.
var fits = map[string][]material{
	plugging: copperAlone, powered: copperAlone, warm: copperAlone, earthing: copperAlone, fed: copperAlone,
	laser: withOptics, unseenLight: withOptics, scope: fibreAlone,
}

// saidBy are the cautions that say what a standing one does, and more.
var saidBy = map[string][]string{fed: {plugging, powered}, ladders: {heights}}

// anyMaterial stands for what is not known to be of one.
const anyMaterial material = ""

// fitting are those of some cautions that fit what is made so, [] for none.
func (m material) fitting(cautions []string) []string {
	out := []string{}
	for _, c := range cautions {
		if of, some := fits[c]; m == anyMaterial || !some || slices.Contains(of, m) {
			out = append(out, c)
		}
	}
	return out
}

// cautions are the specific ones that fit, and then the standing ones.
func (m material) cautions(specific []string) []string {
	out := appendNew(nil, m.fitting(specific))
	for _, c := range m.fitting(standingCautions) {
		if !slices.ContainsFunc(saidBy[c], func(more string) bool { return slices.Contains(out, more) }) {
			out = append(out, c)
		}
	}
	return out
}
