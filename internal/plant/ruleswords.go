package plant

import "strings"

// nearby is what a thing that a pathway passes may do to cables.
type nearby struct{ disturbs, heats bool }

// nearWords tells sources of interference and of heat by a word of their
// names, or two (common practice; EN 50174-2 names most of the first kind).
var nearWords = nearWordsOf(
	[]string{"motor", "lift", "elevator", "escalator", "hoist", "winch", "crane", "conveyor", "drive", "inverter", "welder", "welding",
		"generator", "transformer", "switchgear", "switchboard", "substation", "busbar", "ups", "mains", "power", "rectifier",
		"photovoltaic", "fluorescent", "ballast", "dimmer", "neon", "radio", "transmitter", "antenna", "aerial", "radar", "mri", "x ray",
		"diathermy", "compressor", "pump", "fan", "chiller", "air handling", "arc furnace", "induction heater"},
	[]string{"boiler", "heating", "heater", "hot water", "steam", "flue", "furnace", "kiln", "oven", "radiator", "calorifier", "chimney", "exhaust"},
)

func nearWordsOf(disturbing, hot []string) map[string]nearby {
	m := map[string]nearby{}
	for _, word := range disturbing {
		m[word] = nearby{disturbs: true}
	}
	for _, word := range hot {
		m[word] = nearby{heats: true}
	}
	return m
}

// classOf reads the name of a thing beside a pathway. What no word of it tells
// does nothing.
func classOf(name string) (n nearby) {
	previous := ""
	for word := range strings.FieldsFuncSeq(fold(name), func(r rune) bool { return r < 'a' || r > 'z' }) {
		for _, key := range []string{word, strings.TrimSuffix(word, "s"), previous + " " + strings.TrimSuffix(word, "s")} {
			n.disturbs = n.disturbs || nearWords[key].disturbs
			n.heats = n.heats || nearWords[key].heats
		}
		previous = word
	}
	return n
}
