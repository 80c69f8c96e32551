package standards

import (
	"fmt"
	"strings"
)

// lineText is a limit line's name while it is read.
type lineText struct {
	text          string
	line          Line
	channel, link bool
	iso, tia      bool // a document named
}

// ParseLine reads a limit line's name, e.g. "EA", "Cat 6 channel", "E PL" or
// what String gives. A class letter means ISO/IEC 11801-1 and a category
// ANSI/TIA-568.2-D, unless the name says ISO; without a word for it the line is
// the permanent link's. That a line is named does not say that it has limits.
func ParseLine(text string) (Line, error) {
	t := lineText{text: text}
	for _, word := range strings.Fields(strings.ToLower(strings.NewReplacer("(", " ", ")", " ", ",", " ").Replace(text))) {
		if t.document(word) {
			continue
		}
		for _, part := range strings.FieldsFunc(word, func(r rune) bool { return r == '-' || r == '_' }) {
			if err := t.take(part); err != nil {
				return Line{}, err
			}
		}
	}
	return t.done()
}

// document takes a word that names the standard.
func (t *lineText) document(word string) bool {
	switch {
	case hasAnyPrefix(word, "iso", "iec", "11801"):
		t.iso = true
	case hasAnyPrefix(word, "ansi", "tia", "568", "tsb"):
		t.tia = true
	default:
		return false
	}
	return true
}

// take reads one word of the rest.
func (t *lineText) take(word string) error {
	switch word = strings.TrimSuffix(word, "."); word {
	case "channel", "ch":
		t.channel = true
		return nil
	case "permanent", "perm", "link", "pl":
		t.link = true
		return nil
	case "category", "class", "cat", "":
		return nil
	}
	category, ok := ParseCategory(word)
	if !ok {
		return fmt.Errorf("limit line %q: %q names no class, category, channel or permanent link; write e.g. \"EA\" or \"Cat 6 channel\"", t.text, word)
	}
	if t.line.Category != "" {
		return fmt.Errorf("limit line %q names two classes or categories; name one", t.text)
	}
	// A class has none of the categories' digits; that of 1995, D:1995, has, and
	// is read as the Category 5 it was.
	t.line = Line{Category: category, ISO: !strings.ContainsAny(word, "356789")}
	return nil
}

// done puts the words together.
func (t *lineText) done() (Line, error) {
	switch {
	case t.line.Category == "":
		return Line{}, fmt.Errorf("limit line %q names no class or category; write e.g. \"EA\" or \"Cat 6 channel\"", t.text)
	case t.channel && t.link:
		return Line{}, fmt.Errorf("limit line %q names both channel and permanent link; name one", t.text)
	case t.tia && (t.line.ISO || t.iso):
		return Line{}, fmt.Errorf("limit line %q names both an ISO class and a TIA document; name one", t.text)
	case t.iso && t.line.Category == Cat5:
		return Line{}, fmt.Errorf("limit line %q: ISO's class D of 1995 has no lines here; write \"Cat 5\" or, of 2002, \"D\"", t.text)
	}
	t.line.PermanentLink = !t.channel
	t.line.ISO = t.line.ISO || t.iso
	return t.line, nil
}

func hasAnyPrefix(word string, prefixes ...string) bool {
	for _, p := range prefixes {
		if strings.HasPrefix(word, p) {
			return true
		}
	}
	return false
}

// String names the line and its document, e.g. "Class EA permanent link
// (ISO/IEC 11801-1)"; "no limit line" for the zero Line.
func (l Line) String() string {
	if l.Category == "" {
		return "no limit line"
	}
	name, document := "Category "+string(l.Category), "ANSI/TIA-568.2-D"
	switch {
	case l.Category == Cat5:
		document = "TIA TSB-67"
	case l.ISO && l.Category.Known():
		name, document = "Class "+l.Category.Class(), "ISO/IEC 11801-1"
	}
	if l.PermanentLink {
		return name + " permanent link (" + document + ")"
	}
	return name + " channel (" + document + ")"
}

// parameterNames are the ways to write a parameter, in small letters without
// spaces, hyphens and underscores.
var parameterNames = map[string]Parameter{
	"insertionloss": InsertionLoss, "il": InsertionLoss, "attenuation": InsertionLoss,
	"next": NEXT, "nearendcrosstalk": NEXT,
	"psnext": PSNEXT, "powersumnext": PSNEXT,
	"acrn": ACRN, "acr": ACRN,
	"psacrn": PSACRN, "psacr": PSACRN, "powersumacrn": PSACRN, "powersumacr": PSACRN,
	"acrf": ACRF, "elfext": ACRF,
	"psacrf": PSACRF, "pselfext": PSACRF, "powersumacrf": PSACRF, "powersumelfext": PSACRF,
	"returnloss": ReturnLoss, "rl": ReturnLoss,
	"delay": Delay, "propagationdelay": Delay, "propdelay": Delay,
	"delayskew": DelaySkew, "skew": DelaySkew, "propagationdelayskew": DelaySkew,
}

// ParseParameter reads a parameter's name as tests write it: any case, spaces,
// hyphens or underscores, short or long, ELFEXT for ACR-F as before 2008.
func ParseParameter(text string) (Parameter, bool) {
	p, ok := parameterNames[strings.NewReplacer(" ", "", "-", "", "_", "").Replace(strings.ToLower(text))]
	return p, ok
}
