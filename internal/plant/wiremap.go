package plant

import (
	"fmt"
	"slices"
	"strings"
)

// WireMap is which pin each conductor of a cable reaches.
type WireMap struct {
	Conductors []Conductor // pins 1 to 8, then the screen where it was tested; none where only "fail" is recorded
	Faults     []WireFault
}

// Conductor is one conductor of a wire map.
type Conductor struct {
	Pin      string // at the near end; "S" for the screen
	Expected string
	Found    string // "" where open
	Shorted  string // the pin it is shorted to, or several with commas; "" for none
}

// The pins of an eight-position jack and the screen.
const (
	pins       = "12345678"
	screenPin  = "S"
	openEnd    = "x"
	justFailed = "fail"
)

// wirePair is a pair by its two pins.
type wirePair [2]string

func (p wirePair) String() string { return p[0] + "-" + p[1] }

// wirePairs are the pairs of T568B, which has the same pins for each as T568A and
// only swaps two pairs' colours (ANSI/TIA-568.2-D; memory as to the clause).
var wirePairs = []wirePair{{"1", "2"}, {"3", "6"}, {"4", "5"}, {"7", "8"}}

// ParseWireMap reads the wire map of a test row:
//
//	pass                              every conductor where it ought to be
//	fail                              not, and nothing more is recorded
//	1-1 2-2 3-6 6-3 4-4 5-5 7-x 8-8   near pin, found pin; x is open
//	S-S                               beside the eight: the screen, through
//	4=5                               two conductors shorted; 4=S to the screen
//	split 3-6/4-5                     two pairs split, by the tester's word
//
// Parts stand in any order, apart by spaces or commas. All eight pins are named or
// none is: then each is where it ought to be.
func ParseWireMap(text string) (*WireMap, error) {
	words := strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == ';' })
	if len(words) == 0 {
		return nil, fmt.Errorf("wire map is empty: write pass, or the pins, such as 1-1 2-2 3-6 6-3 4-4 5-5 7-x 8-8")
	}
	if len(words) == 1 && strings.EqualFold(words[0], justFailed) {
		return &WireMap{Faults: []WireFault{unnamedFault()}}, nil
	}
	m := wireText{found: map[string]string{}}
	if len(words) > 1 || !strings.EqualFold(words[0], string(Pass)) {
		if err := m.read(words); err != nil {
			return nil, fmt.Errorf("wire map %w", err)
		}
	}
	w := &WireMap{Conductors: m.conductors()}
	w.Faults = append(findFaults(w.Conductors, m.shorts), m.splits...)
	return w, nil
}

// wireText gathers the parts of a wire map's text.
type wireText struct {
	found  map[string]string // by near pin
	shorts []wirePair
	splits []WireFault
}

func (m *wireText) read(words []string) error {
	for i := 0; i < len(words); i++ {
		word := words[i]
		var err error
		switch {
		case strings.EqualFold(word, "split") && i+1 < len(words):
			i++
			err = m.split(words[i])
		case strings.Contains(word, "="):
			err = m.short(word)
		default:
			err = m.conductor(word)
		}
		if err != nil {
			return err
		}
	}
	return m.check()
}

func (m *wireText) conductor(word string) error {
	near, far, ok := strings.Cut(word, "-")
	near, far = strings.ToUpper(near), strings.ToUpper(far)
	if strings.EqualFold(far, openEnd) {
		far = ""
	}
	if !ok || !isPin(near) || far != "" && !isPin(far) || strings.HasSuffix(word, "-") {
		return fmt.Errorf("%q is no part of it: write near-found such as 3-6, 7-x for an open one, 4=5 for a short, or split 3-6/4-5", word)
	}
	if _, twice := m.found[near]; twice {
		return fmt.Errorf("names pin %s twice", near)
	}
	m.found[near] = far
	return nil
}

func (m *wireText) short(word string) error {
	a, b, _ := strings.Cut(strings.ToUpper(word), "=")
	if !isPin(a) || !isPin(b) || a == b {
		return fmt.Errorf("%q is no short: write two pins such as 4=5, or 4=S", word)
	}
	pair := wirePair{min(a, b), max(a, b)}
	if !slices.Contains(m.shorts, pair) {
		m.shorts = append(m.shorts, pair)
	}
	return nil
}

func (m *wireText) split(word string) error {
	one, other, _ := strings.Cut(word, "/")
	a, okA := pairNamed(one)
	b, okB := pairNamed(other)
	if !okA || !okB || a == b {
		return fmt.Errorf("\"split %s\" is no two pairs: write two of 1-2, 3-6, 4-5, 7-8, such as split 3-6/4-5", word)
	}
	if f := splitFault(a, b, false); !slices.Contains(m.splits, f) {
		m.splits = append(m.splits, f)
	}
	return nil
}

// check refuses a map that cannot be: some pins not told, or two conductors at one
// pin that are not shorted.
func (m *wireText) check() error {
	_, screen := m.found[screenPin]
	named := len(m.found)
	if screen {
		named--
	}
	at := map[string]string{}
	for _, near := range strings.Split(pins+screenPin, "") {
		far, told := m.found[near]
		switch first, taken := at[far]; {
		case named > 0 && !told && near != screenPin:
			return fmt.Errorf("says nothing of pin %s: name all eight, or none where only shorts, splits or the screen are told", near)
		case told && far != "" && taken && !slices.Contains(m.shorts, wirePair{min(first, near), max(first, near)}):
			return fmt.Errorf("has %s and %s both at pin %s: add %s=%s where they are shorted", first, near, far, first, near)
		}
		at[far] = near
	}
	return nil
}

// conductors lists them in order of pins.
func (m *wireText) conductors() (all []Conductor) {
	for _, pin := range strings.Split(pins+screenPin, "") {
		found, told := m.found[pin]
		if !told {
			found = pin
		}
		c := Conductor{Pin: pin, Expected: pin, Found: found, Shorted: strings.Join(m.shortedTo(pin), ", ")}
		if pin != screenPin || told || c.Shorted != "" {
			all = append(all, c)
		}
	}
	return all
}

func (m *wireText) shortedTo(pin string) (others []string) {
	for _, s := range m.shorts {
		switch pin {
		case s[0]:
			others = append(others, s[1])
		case s[1]:
			others = append(others, s[0])
		}
	}
	return others
}

func isPin(s string) bool { return len(s) == 1 && strings.Contains(pins+screenPin, s) }

// pairNamed reads one pair of the jack, such as 3-6 or 36.
func pairNamed(text string) (wirePair, bool) {
	pairs := pairsNamed(text)
	if len(pairs) != 1 {
		return wirePair{}, false
	}
	return pairs[0], true
}

// pairsNamed reads the pairs in a text such as "12-36", "3-6/4-5" or "4,5"; none
// where there is something else in it.
func pairsNamed(text string) (pairs []wirePair) {
	digits := strings.Map(func(r rune) rune {
		if strings.ContainsRune("-/,; ", r) {
			return -1
		}
		return r
	}, text)
	for ; len(digits) >= 2; digits = digits[2:] {
		i := slices.Index(wirePairs, wirePair{digits[:1], digits[1:2]})
		if i < 0 {
			return nil
		}
		pairs = append(pairs, wirePairs[i])
	}
	if digits != "" {
		return nil
	}
	return pairs
}

// Right says whether every conductor is where it ought to be and nothing is
// shorted or split.
func (w *WireMap) Right() bool { return len(w.Faults) == 0 }

// WireRow is one line of a wire map as a table.
type WireRow struct {
	Conductor string // e.g. "3 (pair 3-6)", "screen"
	Expected  string // pin
	Found     string // pin, "open", and what it is shorted to
}

// Table gives a wire map as a person reads it; no rows where only "fail" is recorded.
func (w *WireMap) Table() []WireRow {
	rows := make([]WireRow, 0, len(w.Conductors))
	for _, c := range w.Conductors {
		row := WireRow{Conductor: "screen", Expected: c.Expected, Found: c.Found}
		if pair, ok := pairOf(c.Pin); ok {
			row.Conductor = fmt.Sprintf("%s (pair %s)", c.Pin, pair)
		}
		if c.Found == "" {
			row.Found = "open"
		}
		if c.Shorted != "" {
			row.Found += ", shorted to " + c.Shorted
		}
		rows = append(rows, row)
	}
	return rows
}

// Words tells a wire map in sentences, the worst fault first, each with what it
// would do to a link.
func (w *WireMap) Words() string {
	if w.Right() {
		return "Every conductor reaches its pin."
	}
	sentences := make([]string, 0, len(w.Faults))
	for _, f := range w.Faults {
		sentences = append(sentences, sentence(f.Text)+" "+sentence(f.Effect))
	}
	return strings.Join(sentences, " ")
}

func sentence(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

// pairOf is the pair of a pin; false for the screen.
func pairOf(pin string) (wirePair, bool) {
	i := slices.IndexFunc(wirePairs, func(p wirePair) bool { return p[0] == pin || p[1] == pin })
	if i < 0 {
		return wirePair{}, false
	}
	return wirePairs[i], true
}
