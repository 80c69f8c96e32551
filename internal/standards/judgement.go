package standards

import "fmt"

// Verdict is what a standard says of something recorded.
type Verdict uint8

// The verdicts, best first but for the first: what is not recorded is not
// judged, and never taken to be allowed.
const (
	NotJudged Verdict = iota
	Allowed
	Depends
	NotAllowed
)

// String gives the verdict in words.
func (v Verdict) String() string {
	return [...]string{"not judged", "allowed", "depends", "not allowed"}[v]
}

// MarshalText gives the verdict in words.
func (v Verdict) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// UnmarshalText reads what MarshalText gave.
func (v *Verdict) UnmarshalText(text []byte) error {
	for known := NotJudged; known <= NotAllowed; known++ {
		if string(text) == known.String() {
			*v = known
			return nil
		}
	}
	return fmt.Errorf("verdict %q is none of not judged, allowed, depends, not allowed", text)
}

// Source is where a figure stands.
type Source struct {
	Document string // with clause or table, e.g. "IEEE 802.3 table 52-6"; "common practice" where nothing is published
	Memory   bool   // the figure was known to the writer and not seen in print
}

// Judgement is a verdict with its reason.
type Judgement struct {
	Verdict Verdict
	Why     string  // the condition it depends on, what forbids it, or what is not recorded; "" where allowed
	Have    float64 // the figure judged and its limit, in Unit; both 0 and Unit "" where no figure decides
	Limit   float64
	Unit    string // m, dB, dBm, °C, MHz, mm, connectors
	Source  Source
}
