package standards

import (
	"fmt"
	"math"
	"strings"
)

// CopperChannel is a copper channel, cords and connections included, as far as
// it is recorded.
type CopperChannel struct {
	Category   Category // the lowest along the channel, cords included
	Shield     Shield   // of the fixed cable
	LengthM    float64  // of the whole channel, in metres; 0 where not recorded
	Connectors int      // mated pairs along the channel; 0 where not recorded
}

// OverCopper judges whether a channel may carry the PHY. Where a length
// decides, Have is the channel's and Limit the longest that the verdict holds
// for, both in metres; where connectors do, their numbers. What is not recorded
// leaves it not judged, Why naming the inventory's key, unless the rest
// suffices to forbid it.
func (p PHY) OverCopper(ch CopperChannel) Judgement {
	row, ok := p.copperRow()
	if !ok {
		return p.otherMedium()
	}
	if ch.LengthM = asRecorded(ch.LengthM); !(ch.LengthM > 0) {
		ch.LengthM = 0
	}
	j := row.judge(ch)
	mated := row.mated(ch)
	switch {
	case mated.Verdict == NotAllowed && j.Verdict != NotAllowed, mated.Verdict == Depends && j.Verdict == Allowed:
		return mated
	}
	return j
}

// otherMedium judges a PHY of which there are no figures over copper.
func (p PHY) otherMedium() Judgement {
	if p.Medium == Copper || p.Medium == "" {
		return Judgement{Why: fmt.Sprintf("no figures are known of %q over copper", p.Name)}
	}
	return Judgement{
		Verdict: NotAllowed,
		Why:     fmt.Sprintf("%s runs over %s, not over balanced copper", p.Name, p.Medium),
		Source:  Source{Document: "IEEE 802.3 clause " + p.Clause},
	}
}

// judge judges all but the connectors.
func (r *copperTable) judge(ch CopperChannel) Judgement {
	open := r.open(ch.Category, ch.Shield.Screened())
	switch {
	case r.needs.Category != "" && !ch.Category.Known():
		return r.withoutCategory(ch)
	case len(open) == 0:
		return Judgement{
			Verdict: NotAllowed,
			Why:     fmt.Sprintf("%s needs category %s or better, and the channel is category %s", r.phy, r.needs.Category, ch.Category),
			Source:  r.needs.Source,
		}
	case ch.LengthM == 0:
		return Judgement{Why: "length_m is not recorded", Source: r.needs.Source}
	}
	j := r.byLength(open, ch)
	if j.Verdict == NotAllowed && ch.Shield == "" {
		if screened := r.byLength(r.open(ch.Category, true), ch); screened.Verdict != NotAllowed {
			return Judgement{Why: fmt.Sprintf("shield is not recorded: %s reaches further than %g m over screened cable only", r.phy, j.Limit), Source: screened.Source}
		}
	}
	return j
}

// withoutCategory judges a channel whose category is not known: no category
// carries a PHY further than the best does.
func (r *copperTable) withoutCategory(ch CopperChannel) Judgement {
	if ch.LengthM > r.needs.ReachM {
		return r.byLength(r.open(Cat8, true), ch)
	}
	why := "category is not recorded"
	if ch.Category != "" {
		why = fmt.Sprintf("category %q is not known", ch.Category)
	} else if ch.LengthM == 0 {
		why = "category and length_m are not recorded"
	}
	return Judgement{Why: why, Source: r.needs.Source}
}

// open lists the steps that count for a category and screen, at any length.
func (r *copperTable) open(c Category, screened bool) []step {
	if screened {
		return r.screened[c.rank()+1]
	}
	return r.unscreened[c.rank()+1]
}

// tablesOf works out once which steps count for what.
func tablesOf(rows []copperRow) []copperTable {
	tables := make([]copperTable, len(rows))
	for i, r := range rows {
		t := copperTable{copperRow: r}
		for _, c := range append([]Category{""}, Categories()...) {
			t.unscreened = append(t.unscreened, r.fitting(c, false))
			t.screened = append(t.screened, r.fitting(c, true))
		}
		tables[i] = t
	}
	return tables
}

func (r *copperRow) fitting(c Category, screened bool) (open []step) {
	for _, s := range r.steps {
		if (s.least == "" || c.Known() && !c.Below(s.least)) && (screened || !s.screened) {
			open = append(open, s)
		}
	}
	return open
}

// byLength judges the length by the steps that count.
func (r *copperTable) byLength(open []step, ch CopperChannel) Judgement {
	best, verdict, furthest := &step{}, NotAllowed, &open[0]
	for i := range open {
		s := &open[i]
		if v := s.verdict(); s.uptoM >= ch.LengthM && v < verdict {
			best, verdict = s, v
		}
		if s.uptoM > furthest.uptoM {
			furthest = s
		}
	}
	j := Judgement{Verdict: verdict, Why: best.condition, Have: ch.LengthM, Unit: "m", Source: best.source}
	for i := range open {
		if open[i].verdict() <= verdict {
			j.Limit = max(j.Limit, open[i].uptoM)
		}
	}
	if verdict == NotAllowed {
		j.Why = fmt.Sprintf("%s reaches %g m over %s, and the channel is %s long%s", r.phy, j.Limit, cablingOf(ch), metres(ch.LengthM), furthest.beyond)
		j.Source = furthest.source
	}
	return j
}

func (s *step) verdict() Verdict {
	if s.condition != "" {
		return Depends
	}
	return Allowed
}

// cablingOf names the cabling that a length is judged for.
func cablingOf(ch CopperChannel) string {
	if !ch.Category.Known() {
		return "any copper cabling"
	}
	words := []string{"category", string(ch.Category)}
	switch {
	case ch.Shield.Screened():
		words = append(words, "screened")
	case ch.Shield != "":
		words = append(words, "unscreened")
	}
	return strings.Join(words, " ")
}

// metres writes a length to the centimetre.
func metres(m float64) string { return fmt.Sprintf("%g m", math.Round(m*100)/100) }

// mated judges the connectors. More than the four of the reference channel are
// not forbidden as such: the channel then has to be measured as it stands.
func (r *copperTable) mated(ch CopperChannel) Judgement {
	most := r.needs.Connectors
	if most == 0 || ch.Connectors <= most {
		return Judgement{Verdict: Allowed}
	}
	j := Judgement{Have: float64(ch.Connectors), Limit: float64(most), Unit: "connectors"}
	if most < channelConnectors {
		j.Verdict, j.Source = NotAllowed, r.needs.Source
		j.Why = fmt.Sprintf("%s allows %d connectors along the channel, and it has %d", r.phy, most, ch.Connectors)
		return j
	}
	j.Verdict = Depends
	j.Source = Source{"ISO/IEC 11801-1 and ANSI/TIA-568.0-D (four connections in a channel)", true}
	j.Why = fmt.Sprintf("the channel has %d connectors, more than the %d of the reference channel: it must be measured as it stands", ch.Connectors, most)
	return j
}
