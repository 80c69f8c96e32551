package standards

import (
	"regexp"
	"slices"
	"strings"
)

// reachOf finds a speed and a reach in a maker's model name, as in "XY-10G-LR".
var reachOf = regexp.MustCompile(`(?:^|[^0-9A-Z])(1|10|25|40|100)G(?:BASE|B|E)?[^0-9A-Z]?(SX|LX|SR|LR|ER|SR4|LR4|ER4|LRM)(?:[^0-9A-Z]|$)`)

// OpticInModel finds the optic that a maker's model name tells of: by the IEEE name of
// its PHY, else by its speed and reach (common practice, no source). It is false for
// names that tell neither.
func OpticInModel(model string) (Optic, bool) {
	return OpticNamed(phyInModel(strings.ToUpper(model)))
}

// phyInModel is "" where the name tells none.
func phyInModel(model string) string {
	if phy := longestWithin(model); phy != "" {
		return phy
	}
	m := reachOf.FindStringSubmatch(model)
	switch {
	case m == nil:
		return ""
	case m[1] == "1":
		return "1000BASE-" + m[2]
	}
	return m[1] + "GBASE-" + m[2]
}

// longestWithin is the longest PHY's name within a text: 10GBASE-LR is within
// 10GBASE-LRM too.
func longestWithin(text string) string {
	var found []string
	for phy := range optics {
		if strings.Contains(text, phy) {
			found = append(found, phy)
		}
	}
	if len(found) == 0 {
		return ""
	}
	return slices.MaxFunc(found, func(a, b string) int { return len(a) - len(b) })
}
