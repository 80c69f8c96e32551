package plant

import (
	"fmt"

	"toneout/internal/standards"
)

// lengthRule is where the lengths of copper stand.
const lengthRule = "ISO/IEC 11801-1 and ANSI/TIA-568.2-D (permanent link and channel)"

// limits are the longest permanent link and channel of the run's category.
func (s *subject) limits() (link, channel float64) {
	c := s.fixedCategory()
	return standards.LongestLinkOf(c), standards.LongestChannelOf(c)
}

// shorterReach tells whether the speed meant reaches less far than any channel may,
// and the run further than that, so that the speed's own reach tells it all.
func (s *subject) shorterReach(channel float64) bool {
	j, ok := s.carried()
	return ok && j.Verdict == standards.NotAllowed && j.Unit == "m" && j.Limit < channel
}

func channelTooLong(s *subject) []Finding {
	if !s.copper() || s.beyondReel() {
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
	if !s.copper() || s.beyondReel() {
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

func tooHot(s *subject) []Finding {
	warmest, ok := s.expected().AmbientC.Get()
	if !ok || !s.copper() || s.beyondReel() {
		return nil
	}
	screened, known := s.screened()
	limit, src, ok := standards.LongestLinkAt(warmest, screened || !known)
	fixed, _ := s.fixedM()
	if !ok && warmest > hottest {
		f := past(warmest, hottest, "°C", standards.Source{Document: "ANSI/TIA-568.2-D (highest temperature of cable)", Memory: true})
		f.Text, f.Mend = fmt.Sprintf("its pathway is %s warm, and cable is rated to %d °C", quantity(warmest, "°C"), hottest), cooler
		return found(f)
	}
	if !ok || warmest <= 20 || fixed <= limit {
		return nil
	}
	f := past(fixed, limit, "m", src)
	f.Text = fmt.Sprintf("at %s along its pathway the permanent link of %s may be %s long", quantity(warmest, "°C"), quantity(fixed, "m"), quantity(limit, "m"))
	f.Mend = cooler
	return found(f)
}

const cooler = "take a cooler or shorter route, or screened cable, which heat hurts less; above ceilings mind ladders and mains"

func tooManyConnectors(s *subject) []Finding {
	have, recorded := s.run.Connectors.Get()
	if !recorded || !s.copper() {
		return nil
	}
	limit, src := 4, standards.Source{Document: "ISO/IEC 11801-1 and ANSI/TIA-568.0-D (four connections in a channel)", Memory: true}
	if needs, ok := s.needs(); ok && needs.Connectors > 0 && needs.Connectors < limit {
		limit, src = needs.Connectors, needs.CopperNeeds.Source
	}
	if have <= limit {
		return nil
	}
	f := past(float64(have), float64(limit), "", src)
	f.By, f.excess = fmt.Sprintf("%d over %d", have-limit, limit), share(float64(have), float64(limit))
	f.Text = fmt.Sprintf("the channel has %d connectors, and may have %d", have, limit)
	if j, _ := s.carried(); j.Unit == mated {
		f.Endangers = byVerdict(j.Verdict)
	}
	f.Mend = "take out a cross-connect or a consolidation point"
	return found(f)
}
