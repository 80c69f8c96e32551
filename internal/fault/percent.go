package fault

import "fmt"

// Percent writes a probability or a share as every surface does, without claiming
// certainty by rounding.
func Percent(p float64) string {
	switch {
	case p > 0 && p < 0.01:
		return "under 1 %"
	case p > 0.99 && p < 1:
		return "over 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}
