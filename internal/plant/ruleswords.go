package plant

import "strings"

// nearby is what a thing that a pathway passes may do to cables.
type nearby struct{ disturbs, heats bool }

// nearWords tells sources of interference and of heat by a word of their names
// (common practice; EN 50174-2 names most of the first kind).
var nearWords = func() map[string]nearby {
	m := map[string]nearby{}
	for word := range strings.FieldsSeq(`motor lift elevator escalator hoist winch crane drive inverter welder welding generator
		transformer switchgear switchboard substation busbar ups mains power rectifier fluorescent ballast dimmer neon radio transmitter
		antenna aerial radar mri scanner x-ray diathermy compressor pump fan chiller extractor conveyor photovoltaic`) {
		m[word] = nearby{disturbs: true}
	}
	for word := range strings.FieldsSeq(`boiler heating heater steam flue furnace kiln oven radiator calorifier chimney exhaust`) {
		m[word] = nearby{heats: true}
	}
	for word := range strings.FieldsSeq(`arc induction`) { // arc furnace, induction heater
		m[word] = nearby{disturbs: true, heats: true}
	}
	return m
}()

// classOf reads the name of a thing beside a pathway. What no word of it tells
// does nothing.
func classOf(name string) (n nearby) {
	words := strings.FieldsFunc(fold(name), func(r rune) bool { return r != '-' && (r < 'a' || r > 'z') })
	for i, word := range words {
		known, ok := nearWords[word]
		if !ok {
			known = nearWords[strings.TrimSuffix(word, "s")]
		}
		n.disturbs = n.disturbs || known.disturbs
		n.heats = n.heats || known.heats || word == "water" && i > 0 && words[i-1] == "hot"
	}
	return n
}
