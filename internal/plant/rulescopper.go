package plant

import (
	"fmt"
	"slices"

	"toneout/internal/standards"
)

// fixedCategory is the lowest recorded category of the permanent link.
func (s *subject) fixedCategory() (lowest standards.Category) {
	for i := range s.fixed {
		if c := s.fixed[i].category(); c != "" && (lowest == "" || c.Below(lowest)) {
			lowest = c
		}
	}
	return lowest
}

func (p *part) category() standards.Category {
	if p.cable == nil || p.cable.Media != standards.Copper {
		return ""
	}
	return standards.Category(p.cable.Category)
}

func (p *part) shield() standards.Shield {
	if p.cable == nil {
		return ""
	}
	return standards.Shield(p.cable.Shield)
}

// copperNeeds is what each copper PHY needs of its cabling, by its speed.
var copperNeeds = func() map[standards.Speed]phyNeeds {
	m := map[standards.Speed]phyNeeds{}
	for _, phy := range standards.CopperPHYs() {
		if needs, ok := phy.CopperNeeds(); ok {
			m[phy.Speed] = phyNeeds{phy, needs}
		}
	}
	return m
}()

type phyNeeds struct {
	standards.PHY
	standards.CopperNeeds
}

// needs are those of the copper PHY of the speed that the run is designed for.
func (s *subject) needs() (n phyNeeds, ok bool) {
	if s.copper() {
		n, ok = copperNeeds[s.speed()]
	}
	return n, ok
}

func categoryTooLow(s *subject) []Finding {
	needs, ok := s.needs()
	have := s.fixedCategory()
	if !ok || !have.Below(needs.Category) {
		return nil
	}
	f := past(0, 0, "", needs.CopperNeeds.Source)
	f.Text = fmt.Sprintf("the cable is category %s, and %s (%s) needs category %s", have, s.speed(), needs.Name, needs.Category)
	f.By = fmt.Sprintf("category %s for %s", have, needs.Category)
	f.excess = 1
	f.Mend = fmt.Sprintf("read the print on the cable's jacket; if it is category %s, lay a better cable or record the speed that it may carry", have)
	return found(f)
}

// lowCords are the cords whose category is below one, in words, and the lowest.
func (s *subject) lowCords(below standards.Category) (names string, lowest standards.Category) {
	var low []string
	for i := range s.cords {
		c := s.cords[i].category()
		if !c.Below(below) {
			continue
		}
		low = append(low, s.cords[i].name)
		if lowest == "" || c.Below(lowest) {
			lowest = c
		}
	}
	return and(low), lowest
}

func cordCategoryTooLow(s *subject) []Finding {
	needs, ok := s.needs()
	if !ok {
		return nil
	}
	names, lowest := s.lowCords(needs.Category)
	if names == "" {
		return nil
	}
	f := past(0, 0, "", needs.CopperNeeds.Source)
	f.Text = fmt.Sprintf("category %s of %s rules the channel, and %s (%s) needs category %s", lowest, names, s.speed(), needs.Name, needs.Category)
	f.By = fmt.Sprintf("category %s for %s", lowest, needs.Category)
	f.excess = 1
	wanted := needs.Category
	if cable := s.fixedCategory(); wanted.Below(cable) {
		wanted = cable
	}
	f.Mend = fmt.Sprintf("fit cords of category %s", wanted)
	return found(f)
}

func cordBelowCable(s *subject) []Finding {
	if !s.copper() {
		return nil
	}
	cable := s.fixedCategory()
	names, lowest := s.lowCords(cable)
	if names == "" {
		return nil
	}
	return found(Finding{
		Text:   fmt.Sprintf("category %s of %s rules the channel, though its cable is category %s", lowest, names, cable),
		By:     fmt.Sprintf("category %s for %s", lowest, cable),
		Source: "ISO/IEC 11801-1 and ANSI/TIA-568.2-D (a channel is of the lowest category in it)", Sure: Likely,
		Mend: fmt.Sprintf("fit cords of category %s", cable),
	})
}

// mated is the unit of a judgement of connectors.
const mated = "connectors"

// speedNotCarried says that the standards forbid the speed that the run is
// designed for, where no rule above told why.
func speedNotCarried(s *subject) []Finding {
	j, ok := s.carried()
	if !ok || j.Verdict != standards.NotAllowed || j.Unit == mated || s.hasOptics() || s.medium() == "" {
		return nil
	}
	if _, channel := s.limits(); s.copper() && j.Unit == "m" && j.Limit >= channel {
		return nil // the rules for lengths told it
	}
	f := judged(j)
	f.Text = fmt.Sprintf("it is meant for %s, which it may not carry: %s", s.speed(), j.Why)
	f.Mend = "lower the speed that it is meant for, or change what forbids it"
	return found(f)
}

// speedDepends says on what condition the standards allow it.
func speedDepends(s *subject) []Finding {
	j := s.condition()
	if j.Verdict != standards.Depends || j.Unit == mated || s.hasOptics() {
		return nil
	}
	f := judged(j)
	f.Text = fmt.Sprintf("it is meant for %s, which it may carry under a condition: %s", s.speed(), j.Why)
	f.Mend = "test the run at that speed, or meet the condition"
	return found(f)
}

// hasOptics tells of a fibre run whose optics are judged by themselves, or not
// at all where they are of no standard. The name of a family, such as
// 10GBASE-R, names no optic.
func (s *subject) hasOptics() bool {
	return s.fibre() && slices.ContainsFunc(s.opticNames(), func(name string) bool {
		phy := opticPHY(name)
		return phy.Name == "" || phy.Medium != ""
	})
}

// condition is the judgement of the speed that the run is designed for without
// the conditions that rules of their own tell of: the lengths of link and cords,
// and heat. An assembly is always sold on the condition that both ports take it.
func (s *subject) condition() standards.Judgement {
	j, _ := s.carried()
	switch {
	case j.Verdict != standards.Depends:
		return standards.Judgement{}
	case s.copper():
		needs, _ := s.needs()
		return needs.OverCopper(s.expected().Channel)
	case !s.fibre() && j.Have <= j.Limit:
		return standards.Judgement{}
	}
	return j
}
