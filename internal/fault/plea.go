package fault

import (
	"fmt"
	"strings"
)

// What counts as speaking for a cause or against it, and from when on one stands out
// (common practice, no source).
const (
	speaksFor     = 1.5 // times likelier
	speaksAgainst = 0.67
	standsOut     = 0.3
)

// pleas tell what speaks for the leading cause and what against it, or that none
// stands out.
func (f *finding) pleas() (out []string) {
	lead := f.causes[0]
	if lead.Probability < standsOut {
		return []string{"No cause stands out: the checks stand in the order that finds it soonest, on average."}
	}
	var pro, con []string
	for _, i := range f.weighed.Seen {
		switch ratio, told := f.weighed.Of.tells(i).ratio[lead.Cause]; {
		case !told:
		case ratio >= speaksFor:
			pro = append(pro, string(i))
		case ratio <= speaksAgainst:
			con = append(con, string(i))
		}
	}
	if len(pro) > 0 {
		out = append(out, fmt.Sprintf("For %s speaks: %s.", lead.Cause.Title(), strings.Join(pro, "; ")))
	}
	if len(con) > 0 {
		out = append(out, fmt.Sprintf("Against %s speaks: %s.", lead.Cause.Title(), strings.Join(con, "; ")))
	}
	return out
}
