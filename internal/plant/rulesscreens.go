package plant

import (
	"fmt"
	"strings"

	"toneout/internal/standards"
)

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
