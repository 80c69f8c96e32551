package fault

import (
	"fmt"
	"math"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// errorFinding judges a port that receives more damaged frames than it may.
func (p *portState) errorFinding(run *plant.Run, medium standards.Medium) finding {
	hour, changes := p.hour.sum()
	r, _ := hour.FrameErrors()
	f := finding{
		port: p, kind: FrameErrors, since: p.errors.since, severe: p.errors.severe,
		causes: errorWeights(medium, run, &p.totals, changes).ranked(),
	}
	f.summary = fmt.Sprintf("%s of %s frames received in the last %s were damaged: %s.",
		count(hour.Errored), count(hour.Frames), hour.span(), r)
	if hour.Errored == 0 {
		f.summary = fmt.Sprintf("No damaged frame among %s in the last %s, and still too soon to say that it is over.",
			count(hour.Frames), hour.span())
	}
	f.evidence = withoutEmpty([]string{
		fmt.Sprintf("%v counted them, so they were damaged on the way to it.", p.ref),
		p.objectiveSentence(hour),
		p.kindsSentence(),
		flapSentence(changes),
		lengthSentence(run),
	})
	return f
}

func (p *portState) objectiveSentence(hour Hour) string {
	name := p.linkName()
	return fmt.Sprintf("%s may let through 1 errored bit in 10^%.0f, about %.2g damaged frames in this traffic.",
		name, -math.Log10(p.errors.objective), p.errors.objective*hour.Bits)
}

// linkName names the link by its PHY, else by its speed.
func (p *portState) linkName() string {
	if phy, ok := p.last.PHY(); ok {
		return phy.Name
	}
	return fmt.Sprintf("A link of %v", p.last.Speed())
}

func (p *portState) kindsSentence() string {
	fcs, _ := p.totals.Get(port.FCS)
	alignment, ok := p.totals.Get(port.Alignment)
	if !ok || alignment == 0 {
		return ""
	}
	return fmt.Sprintf("Since watching began: %s frame check errors, %s alignment errors.", count(fcs), count(alignment))
}

func flapSentence(changes int) string {
	if changes == 0 {
		return ""
	}
	return fmt.Sprintf("The link came or went %d times at least in the hour before.", changes)
}

func lengthSentence(run *plant.Run) string {
	if run == nil {
		return ""
	}
	if length, ok := run.LengthM.Get(); ok && length > longestLink {
		return fmt.Sprintf("The record says %g m, over the %d m of a permanent link.", length, longestLink)
	}
	return ""
}

// String tells a ratio as one in so many, with its bounds.
func (r Ratio) String() string {
	return fmt.Sprintf("%s (95 %%: %s to %s)", oneIn(r.Estimate), oneIn(r.Low), oneIn(r.High))
}

func oneIn(ratio float64) string {
	if ratio <= 0 {
		return "none"
	}
	if n := 1 / ratio; n < 1e6 {
		return "1 in " + count(uint64(n+0.5))
	}
	return fmt.Sprintf("1 in %.1e", 1/ratio)
}

// count writes a whole number with its thousands apart.
func count(n uint64) string {
	if n < 1000 {
		return fmt.Sprint(n)
	}
	return fmt.Sprintf("%s,%03d", count(n/1000), n%1000)
}
