package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// checkRepaired checks the counts of repairs that were confirmed before.
func (c *config) checkRepaired(say func(text string, at ...any)) {
	for _, medium := range slices.Sorted(maps.Keys(c.Repaired)) {
		if media := fault.Media(); !slices.Contains(media, medium) {
			say(fmt.Sprintf("repaired: %q is none of %s", medium, strings.Join(media, ", ")), "repaired", medium)
		}
		causes := c.Repaired[medium]
		for _, cause := range slices.Sorted(maps.Keys(causes)) {
			say(checkCount(cause, causes[cause]), "repaired", medium, string(cause))
		}
	}
}

func checkCount(cause fault.Cause, n int) string {
	var known []string
	for _, c := range fault.Causes() {
		known = append(known, string(c))
	}
	switch {
	case !slices.Contains(known, string(cause)):
		return fmt.Sprintf("repaired: no cause is named %q%s", cause, plant.DidYouMean(string(cause), known))
	case n < 0:
		return fmt.Sprintf("repaired: %s wants a number of repairs, and %d is less than 0", cause, n)
	}
	return ""
}
