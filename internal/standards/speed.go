package standards

import (
	"fmt"
	"strings"
)

// Speed is a nominal link speed in bits per second; 0 means not known.
type Speed int64

// The nominal speeds an inventory may name.
const (
	Mbps Speed = 1_000_000
	Gbps Speed = 1_000_000_000
)

// speeds lists the names in rising order; IEEE 802.3 defines a PHY for each.
var speeds = []struct {
	name  string
	speed Speed
}{
	{"10M", 10 * Mbps}, {"100M", 100 * Mbps}, {"1G", Gbps}, {"2.5G", 2500 * Mbps}, {"5G", 5 * Gbps},
	{"10G", 10 * Gbps}, {"25G", 25 * Gbps}, {"40G", 40 * Gbps}, {"100G", 100 * Gbps},
}

// Speeds lists the nominal speeds in rising order.
func Speeds() []Speed {
	all := make([]Speed, len(speeds))
	for i, s := range speeds {
		all[i] = s.speed
	}
	return all
}

// ParseSpeed reads a nominal speed such as 100M, 2.5G or 10G.
func ParseSpeed(text string) (Speed, error) {
	names := make([]string, len(speeds))
	for i, s := range speeds {
		if strings.EqualFold(s.name, text) {
			return s.speed, nil
		}
		names[i] = s.name
	}
	return 0, fmt.Errorf("speed %q is none of %s", text, strings.Join(names, " "))
}

// String gives the nominal name where there is one, else bits per second in
// M or G; "unknown" for 0.
func (s Speed) String() string {
	for _, n := range speeds {
		if n.speed == s {
			return n.name
		}
	}
	switch {
	case s == 0:
		return "unknown"
	case s%Gbps == 0:
		return fmt.Sprintf("%dG", s/Gbps)
	case s >= Mbps:
		return fmt.Sprintf("%gM", float64(s)/float64(Mbps))
	}
	return fmt.Sprintf("%d bit/s", int64(s))
}
