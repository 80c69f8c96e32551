package plant

import (
	"fmt"
	"strings"

	"toneout/internal/standards"
)

// lengthRule is where the lengths of copper stand.
const lengthRule = "ISO/IEC 11801-1 and ANSI/TIA-568.2-D (permanent link and channel)"

// limits are the longest permanent link and channel of the run's category.
func (s *subject) limits() (link, channel float64) {
	c := s.fixedCategory()
	return standards.LongestLinkOf(c), standards.LongestChannelOf(c)
}

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

// phyNeeds is what the copper PHY of the speed that the run is designed for
// needs of its cabling.
func (s *subject) phyNeeds() (standards.PHY, standards.CopperNeeds, bool) {
	speed := s.speed()
	if speed == 0 || !s.copper() {
		return standards.PHY{}, standards.CopperNeeds{}, false
	}
	for _, phy := range standards.CopperPHYs() {
		if phy.Speed == speed {
			needs, ok := phy.CopperNeeds()
			return phy, needs, ok
		}
	}
	return standards.PHY{}, standards.CopperNeeds{}, false
}

func categoryTooLow(s *subject) []Finding {
	phy, needs, ok := s.phyNeeds()
	have := s.fixedCategory()
	if !ok || !have.Below(needs.Category) {
		return nil
	}
	f := past(0, 0, "", needs.Source)
	f.Text = fmt.Sprintf("the cable is category %s, and %s (%s) needs category %s", have, s.speed(), phy.Name, needs.Category)
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
	phy, needs, ok := s.phyNeeds()
	if !ok {
		return nil
	}
	names, lowest := s.lowCords(needs.Category)
	if names == "" {
		return nil
	}
	f := past(0, 0, "", needs.Source)
	f.Text = fmt.Sprintf("category %s of %s rules the channel, and %s (%s) needs category %s", lowest, names, s.speed(), phy.Name, needs.Category)
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

// shorterReach tells whether the speed meant reaches less far than any channel may,
// and the run further than that, so that the speed's own reach tells it all.
func (s *subject) shorterReach(channel float64) bool {
	j, ok := s.carried()
	return ok && j.Verdict == standards.NotAllowed && j.Unit == "m" && j.Limit < channel
}

func channelTooLong(s *subject) []Finding {
	if !s.copper() {
		return nil
	}
	fixed, _ := s.fixedM()
	_, limit := s.limits()
	have := fixed + s.cordsM()
	if have <= limit || s.shorterReach(limit) {
		return nil
	}
	f := past(have, limit, "m", standards.Source{Document: lengthRule})
	f.Text = fmt.Sprintf("the channel is %s long, cords included, and may be %s", quantity(have, "m"), quantity(limit, "m"))
	f.Mend = "measure the length; if it is right, shorten the cords or the route, or put a switch or fibre between"
	return found(f)
}

func linkTooLong(s *subject) []Finding {
	if !s.copper() {
		return nil
	}
	fixed, _ := s.fixedM()
	limit, channel := s.limits()
	if fixed <= limit || s.shorterReach(channel) {
		return nil
	}
	f := past(fixed, limit, "m", standards.Source{Document: lengthRule})
	f.Text = fmt.Sprintf("the permanent link is %s long, and may be %s", quantity(fixed, "m"), quantity(limit, "m"))
	f.Mend = fmt.Sprintf("measure the length; if it is right, keep the cords so short that the channel stays within %s, or shorten the route", quantity(channel, "m"))
	return found(f)
}

// cordAWG is the conductor of the cords: the record's, or the thinnest that
// their cables have.
func (s *subject) cordAWG() int {
	if awg, ok := s.run.CordAWG.Get(); ok {
		return awg
	}
	awg := 24 // asks least
	for i := range s.cords {
		if c := s.cords[i].cable; c != nil {
			if own, ok := c.AWG.Get(); ok {
				awg = max(awg, own)
			}
		}
	}
	return awg
}

func cordsTooLong(s *subject) []Finding {
	fixed, whole := s.fixedM()
	have := s.cordsM()
	if !s.copper() || !whole || have == 0 {
		return nil
	}
	awg := s.cordAWG()
	limit, ok := standards.Cords(fixed, awg)
	if !ok || have <= limit.CombinedM {
		return nil
	}
	f := past(have, limit.CombinedM, "m", limit.Source)
	f.Text = fmt.Sprintf("the cords are %s long together, and beside a permanent link of %s cords of %d AWG may be %s",
		quantity(have, "m"), quantity(fixed, "m"), awg, quantity(limit.CombinedM, "m"))
	f.Mend = "fit shorter or thicker cords"
	return found(f)
}

// screened tells whether all recorded cable of the permanent link is screened;
// known is false where no shield is recorded.
func (s *subject) screened() (screened, known bool) {
	screened = true
	for i := range s.fixed {
		if shield := s.fixed[i].shield(); shield != "" {
			known, screened = true, screened && shield.Screened()
		}
	}
	return screened && known, known
}

func tooHot(s *subject) []Finding {
	warmest, ok := s.expected().AmbientC.Get()
	if !ok || !s.copper() {
		return nil
	}
	screened, known := s.screened()
	limit, src, ok := standards.LongestLinkAt(warmest, screened || !known)
	fixed, _ := s.fixedM()
	if !ok {
		return found(beyondRating(warmest))
	}
	if fixed <= limit {
		return nil
	}
	f := past(fixed, limit, "m", src)
	f.Text = fmt.Sprintf("at %s along its pathway the permanent link of %s may be %s long", quantity(warmest, "°C"), quantity(fixed, "m"), quantity(limit, "m"))
	f.Mend = "take a cooler or shorter route, or screened cable, which heat hurts less; above ceilings mind ladders and mains"
	return found(f)
}

// beyondRating is the finding where no length of cable may be so warm, whatever
// speed it is for.
func beyondRating(celsius float64) Finding {
	f := past(celsius, hottest, "°C", standards.Source{Document: "ANSI/TIA-568.2-D (cable is rated to 60 °C)", Memory: true})
	f.Text = fmt.Sprintf("its pathway is %s warm, and cable is rated to %s", quantity(celsius, "°C"), quantity(hottest, "°C"))
	f.Mend = "make sure of the temperature; take a cooler route, or cable that its maker rates for the heat"
	return f
}

func tooManyConnectors(s *subject) []Finding {
	have, recorded := s.run.Connectors.Get()
	if !recorded || !s.copper() {
		return nil
	}
	limit, src := 4, standards.Source{Document: "ISO/IEC 11801-1 and ANSI/TIA-568.0-D (four connections in a channel)", Memory: true}
	if _, needs, ok := s.phyNeeds(); ok && needs.Connectors > 0 && needs.Connectors < limit {
		limit, src = needs.Connectors, needs.Source
	}
	if have <= limit {
		return nil
	}
	f := past(float64(have), float64(limit), "", src)
	f.By, f.excess = fmt.Sprintf("%d over %d", have-limit, limit), share(float64(have), float64(limit))
	f.Text = fmt.Sprintf("the channel has %d connectors, and may have %d", have, limit)
	f.Mend = "take out a cross-connect or a consolidation point"
	return found(f)
}

// speedNotCarried and speedDepends say what the standards say of the speed that
// the run is designed for, where no rule above told why.
func speedNotCarried(s *subject) []Finding {
	return s.verdict(standards.NotAllowed, "it is meant for %s, which it may not carry: %s",
		"lower the speed that it is meant for, or change what forbids it")
}

func speedDepends(s *subject) []Finding {
	return s.verdict(standards.Depends, "it is meant for %s, which it may carry under a condition: %s",
		"test the run at that speed, or meet the condition")
}

func (s *subject) verdict(v standards.Verdict, text, mend string) []Finding {
	if s.fibre() && len(s.opticNames()) > 0 {
		return nil // the optics are judged by themselves
	}
	j, ok := s.carried()
	if !ok || j.Verdict != v || v == standards.Depends && s.assembly() {
		return nil // an assembly is as good as its maker says
	}
	f := judged(j)
	f.Text, f.Mend = fmt.Sprintf(text, s.speed(), j.Why), mend
	return found(f)
}

func unscreenedCord(s *subject) []Finding {
	screened, _ := s.screened()
	if !s.copper() || !screened {
		return nil
	}
	var bare []string
	for i := range s.cords {
		if shield := s.cords[i].shield(); shield != "" && !shield.Screened() {
			bare = append(bare, s.cords[i].name)
		}
	}
	if len(bare) == 0 {
		return nil
	}
	return found(Finding{
		Text:   fmt.Sprintf("the cable is screened, and %s not, so the screen ends there", isOrAre(bare)),
		Source: "ISO/IEC 11801-1 (screens are continuous through the channel) and EN 50174-2", Sure: Likely,
		Mend: "fit screened cords, and check the screen's bond at the panel; an electrician measures it, since a voltage may be on it",
	})
}

func mixedScreens(s *subject) []Finding {
	var with, without []string
	for i := range s.fixed {
		switch shield := s.fixed[i].shield(); {
		case shield == "":
		case shield.Screened():
			with = append(with, s.fixed[i].name)
		default:
			without = append(without, s.fixed[i].name)
		}
	}
	if !s.copper() || len(with) == 0 || len(without) == 0 {
		return nil
	}
	return found(Finding{
		Text:   fmt.Sprintf("%s screened, and %s not, so the screen is broken along the run", isOrAre(with), isOrAre(without)),
		Source: "ISO/IEC 11801-1 (screens are continuous through the channel) and EN 50174-2", Sure: Likely,
		Mend: "read the print on the jackets; use one kind of cable along the run",
	})
}

func isOrAre(names []string) string {
	if len(names) > 1 {
		return and(names) + " are"
	}
	return names[0] + " is"
}

func nearInterference(s *subject) []Finding {
	if screened, known := s.screened(); !s.copper() || screened || !known {
		return nil
	}
	var beside []string
	for _, w := range s.pathways() {
		for _, near := range w.Near {
			if what := classOf(near); what.disturbs {
				beside = append(beside, fmt.Sprintf("%s (%s)", near, w.ID))
			}
		}
	}
	if len(beside) == 0 {
		return nil
	}
	return found(Finding{
		Verdict: standards.Depends,
		Text:    "unscreened cable passes " + strings.Join(beside, ", "),
		Source:  "EN 50174-2 (separation from power and from sources of interference)", Sure: Possible,
		Mend: "measure the distance: 130 mm from fluorescent lamps, 200 mm from mains cable without a divider; else use screened cable or fibre. Work beside mains and machines is for licensed people",
	})
}

func behindPhone(s *subject) []Finding {
	for _, through := range s.run.PassesThrough {
		if through == "phone" && s.run.DesignSpeed > standards.Gbps {
			return found(Finding{
				Verdict: standards.Depends,
				Text:    fmt.Sprintf("it is meant for %s, and a phone between passes 1G at most", s.run.DesignSpeed),
				By:      "1G for " + s.run.DesignSpeed.String(), Source: "common practice", Sure: Possible,
				Mend: "give the device behind the phone an outlet of its own, or record the speed meant as device_speed",
			})
		}
	}
	return nil
}
