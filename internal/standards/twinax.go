package standards

import "fmt"

// assemblyReach is how long an assembly of twinaxial copper may be.
type assemblyReach struct {
	lengthM float64
	source  Source
}

// twinaxReaches are memory all. 25GBASE-CR-S is the one without the stronger
// error correction.
var twinaxReaches = map[string]assemblyReach{
	"1000BASE-CX":   {25, Source{"IEEE 802.3 clause 39", true}},
	"10GBASE-CX4":   {15, Source{"IEEE 802.3 clause 54", true}},
	"25GBASE-CR":    {5, Source{"IEEE 802.3 clause 110", true}},
	"25GBASE-CR-S":  {3, Source{"IEEE 802.3 clause 110", true}},
	"40GBASE-CR4":   {7, Source{"IEEE 802.3 clause 85", true}},
	"100GBASE-CR10": {7, Source{"IEEE 802.3 clause 85", true}},
	"100GBASE-CR4":  {5, Source{"IEEE 802.3 clause 92", true}},
}

// Lengths in metres by common practice, no source: direct attach of 10 Gb/s is
// no PHY of IEEE 802.3; active optical assemblies are sold as made.
const (
	directAttachPassiveM = 7
	directAttachActiveM  = 15
	activeOpticalM       = 100
)

// activeOpticalPHYs are what ports run over active optical assemblies, whose
// optics are part of the assembly.
var activeOpticalPHYs = []string{"10GBASE-R", "25GBASE-R", "40GBASE-SR4", "100GBASE-SR4"}

// AssemblyPHYs lists the PHYs that run over assemblies of a medium, twinax or
// active-optical, by rising speed.
func AssemblyPHYs(m Medium) []PHY {
	var list []PHY
	for _, p := range phys {
		_, reaches := twinaxReaches[p.Name]
		if m == Twinax && (reaches || p.Name == "10GBASE-R") || m == ActiveOptical && p.overActiveOptical() {
			list = append(list, p)
		}
	}
	return list
}

// OverAssembly judges the PHY over an assembly that comes with its ends on:
// twinax or active-optical, of a length in metres (0 where not recorded). A PHY
// whose name covers several media is not judged where it has no length there.
func (p PHY) OverAssembly(m Medium, lengthM float64) Judgement {
	lengthM = asRecorded(lengthM)
	reach, known := twinaxReaches[p.Name]
	switch {
	case m == Twinax && known:
		return reach.judge(p, lengthM)
	case m == Twinax && p.Name == "10GBASE-R":
		return directAttach(lengthM)
	case m == ActiveOptical && (p.overActiveOptical() || p.Medium == Fibre && p.Speed >= 10*Gbps):
		return activeOptical(lengthM)
	case m != Twinax && m != ActiveOptical:
		return Judgement{Why: "media is neither twinax nor active-optical"}
	case p.Name == "":
		return Judgement{Why: "the port's type is not known"}
	case p.Medium == "": // e.g. 25GBASE-R, which over twinax is 25GBASE-CR or CR-S
		return Judgement{Why: fmt.Sprintf("%s is the name for several media: which it is over %s is not known", p.Name, m)}
	}
	return Judgement{Verdict: NotAllowed, Source: practice, Why: fmt.Sprintf("%s does not run over %s", p.Name, m)}
}

func (p PHY) overActiveOptical() bool {
	for _, name := range activeOpticalPHYs {
		if name == p.Name {
			return true
		}
	}
	return false
}

func (r assemblyReach) judge(p PHY, lengthM float64) Judgement {
	j := Judgement{Verdict: Allowed, Have: lengthM, Limit: r.lengthM, Unit: "m", Source: r.source}
	switch {
	case !(lengthM > 0):
		return Judgement{Why: "length_m is not recorded"}
	case lengthM > r.lengthM:
		j.Verdict = NotAllowed
		j.Why = fmt.Sprintf("%g m is longer than the %g m that %s reaches over twinax", lengthM, r.lengthM, p.Name)
	}
	return j
}

// directAttach judges 10 Gb/s over twinax between two optic cages.
func directAttach(lengthM float64) Judgement {
	j := Judgement{Verdict: Depends, Have: lengthM, Limit: directAttachPassiveM, Unit: "m", Source: practice}
	switch {
	case !(lengthM > 0):
		return Judgement{Why: "length_m is not recorded"}
	case lengthM <= directAttachPassiveM:
		j.Why = "direct attach is no PHY of IEEE 802.3: both ports must take this assembly"
	case lengthM <= directAttachActiveM:
		j.Why = fmt.Sprintf("passive direct attach ends at %d m: the assembly must be an active one that both ports take", directAttachPassiveM)
	default:
		j.Verdict, j.Limit = NotAllowed, directAttachActiveM
		j.Why = fmt.Sprintf("%g m is longer than direct attach is made, %d m", lengthM, directAttachActiveM)
	}
	return j
}

// activeOptical judges an assembly whose optics nobody can measure between.
func activeOptical(lengthM float64) Judgement {
	j := Judgement{Verdict: Depends, Have: lengthM, Limit: activeOpticalM, Unit: "m", Source: practice}
	switch {
	case !(lengthM > 0):
		return Judgement{Why: "length_m is not recorded"}
	case lengthM <= activeOpticalM:
		j.Why = "an active optical assembly carries what it was made for: both ports must take it"
	default:
		j.Why = fmt.Sprintf("%g m is longer than active optical assemblies are commonly made, %d m: look at the label", lengthM, activeOpticalM)
	}
	return j
}
