package plant

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"toneout/internal/standards"
)

const ownRecord = "the record's own keys"

func mixedMedia(s *subject) []Finding {
	if slices.Contains(s.run.PassesThrough, "converter") {
		return nil
	}
	var media []string
	for _, parts := range [][]part{s.fixed, s.cords} {
		for i := range parts {
			if c := parts[i].cable; c != nil && !slices.Contains(media, string(c.Media)) {
				media = append(media, string(c.Media))
			}
		}
	}
	if len(media) < 2 {
		return nil
	}
	return found(Finding{
		Text: fmt.Sprintf("it is recorded as %s along one run, and no converter is recorded", and(media)), Source: ownRecord,
		Mend: "put the cable of the wrong part right, or record passes_through: converter",
	})
}

func opticOtherMedium(s *subject) []Finding {
	medium := s.medium()
	for _, name := range s.opticNames() {
		phy := opticPHY(name)
		if phy.Medium == "" || medium == "" || phy.Medium == medium ||
			medium == standards.ActiveOptical || slices.Contains(s.run.PassesThrough, "converter") {
			continue
		}
		return found(Finding{
			Text:   fmt.Sprintf("optic %s runs over %s, and the cable is recorded as %s", name, phy.Medium, medium),
			Source: clauseOf(phy),
			Mend:   "look at both ends, and put cable or optic right in the record",
		})
	}
	return nil
}

func deviceFaster(s *subject) []Finding {
	if s.run.DesignSpeed == 0 || s.run.DeviceSpeed <= s.run.DesignSpeed {
		return nil
	}
	return found(Finding{
		Text: fmt.Sprintf("device_speed is %s, and the run is meant for %s", s.run.DeviceSpeed, s.run.DesignSpeed),
		By:   fmt.Sprintf("%s for %s", s.run.DesignSpeed, s.run.DeviceSpeed), Source: ownRecord,
		Mend: "put design_speed or device_speed right",
	})
}

// connectorsTooFew counts the connections that the record itself implies: one
// at each panel or outlet. Joints between segments may be splices.
func connectorsTooFew(s *subject) []Finding {
	have, ok := s.run.Connectors.Get()
	least := 0
	if s.run.Panel != "" {
		least++
	}
	if s.run.FarPanel != "" || s.run.Outlet != "" {
		least++
	}
	if !ok || have >= least {
		return nil
	}
	return found(Finding{
		Text:   fmt.Sprintf("connectors is %d, and its panels and outlet alone make %d", have, least),
		By:     fmt.Sprintf("%d for %d", have, least),
		Source: ownRecord, Mend: "count the mated pairs along the whole channel, panels and outlet included",
	})
}

// reel is the longest piece of four-pair cable that is sold, in metres (common
// practice).
const reel = 500

// beyondReel tells of a length that is written wrong rather than laid wrong.
func (s *subject) beyondReel() bool {
	return s.copper() && slices.ContainsFunc(s.fixed, func(p part) bool { return p.metres > reel })
}

func lengthImprobable(s *subject) []Finding {
	for i := range s.fixed {
		p := &s.fixed[i]
		switch {
		case p.measured && p.metres == 0:
			return found(improbable("the length of %s is 0", p.name))
		case p.metres > reel && s.copper():
			return found(improbable("%s is recorded as "+quantity(p.metres, "m")+", more than a reel holds", p.name))
		}
	}
	metres, whole := s.fixedM()
	if whole && metres > 0 && metres < 1 && s.run.Panel != "" && (s.run.Outlet != "" || s.run.FarPanel != "") {
		return found(improbable("the permanent link is recorded as "+quantity(metres, "m")+"%s", ", from a panel"))
	}
	return nil
}

func improbable(text, what string) Finding {
	return Finding{
		Text: fmt.Sprintf(text, what), Source: "common practice", Sure: Likely,
		Mend: "measure the length, or take it from the test report",
	}
}

// cordGauge is from which gauge on a conductor is a cord's: fixed cable is of
// 22 to 24 AWG (ANSI/TIA-568.2-D), and thinner loses up to half more over
// length, as the cord formula has it for 26 AWG.
const (
	cordGauge = 26
	cordMost  = 15.0 // metres of thin cable that nothing is said about (common practice)
)

func gaugeImprobable(s *subject) []Finding {
	for i := range s.fixed {
		p := &s.fixed[i]
		if p.cable == nil || p.cable.Media != standards.Copper || p.metres <= cordMost {
			continue
		}
		if awg, ok := p.cable.AWG.Get(); ok && awg >= cordGauge {
			return found(Finding{
				Text:   fmt.Sprintf("%s of the fixed part is %d AWG, which cords are made of", quantity(p.metres, "m"), awg),
				By:     fmt.Sprintf("%d AWG for 24", awg),
				Source: "ANSI/TIA-568.2-D (conductors of fixed cable 22 to 24 AWG)", Sure: Likely,
				Mend: "read the print on the jacket; put cable or awg right, or count the run as shorter for its loss",
			})
		}
	}
	return nil
}

func positionBeyond(s *subject) []Finding {
	for _, at := range []struct{ panel, position string }{
		{s.run.Panel, s.run.Position}, {s.run.FarPanel, s.run.FarPosition},
	} {
		panel := s.plant.Panel(at.panel)
		number, err := strconv.Atoi(strings.TrimSpace(at.position))
		if panel == nil || err != nil {
			continue
		}
		if positions, ok := panel.Positions.Get(); ok && (number > positions || number < 1) {
			return found(Finding{
				Text:   fmt.Sprintf("position %d is recorded on panel %s, which has %d", number, panel.ID, positions),
				Source: ownRecord, Mend: "look at the panel, and put position or panel right",
			})
		}
	}
	return nil
}

func positionShared(s *subject) []Finding {
	for _, end := range []struct{ panel, position string }{
		{s.run.Panel, s.run.Position}, {s.run.FarPanel, s.run.FarPosition},
	} {
		at := place{panelPlace, end.panel, plainPosition(end.position)}
		if all := s.shared(at, fmt.Sprintf("panel %s position %s", end.panel, end.position)); all != nil {
			return all
		}
	}
	return nil
}

func outletShared(s *subject) []Finding {
	return s.shared(place{outletPlace, s.plant.spaceOf(s.run), fold(s.run.Outlet)}, "outlet "+s.run.Outlet)
}

// shared is a finding where other runs are recorded at a place.
func (s *subject) shared(at place, name string) []Finding {
	others := s.plant.othersAt(at, s.run)
	if len(others) == 0 {
		return nil
	}
	return found(Finding{
		Text:   fmt.Sprintf("%s is recorded for %s too", name, runsNamed(others)),
		Source: ownRecord, Sure: Likely,
		Mend: "look at the label there, and put the wrong record right",
	})
}

// runsNamed names some runs and counts the rest.
func runsNamed(ids []string) string {
	const most = 3
	if len(ids) == 1 {
		return "run " + ids[0]
	}
	named := ids[:min(len(ids), most)]
	return "runs " + andMore(named, len(ids)-len(named))
}

func seenDiffers(s *subject) []Finding {
	if len(s.run.DraftDiffers) == 0 {
		return nil
	}
	return found(Finding{
		Text:   "seen otherwise since it was recorded: " + strings.Join(s.run.DraftDiffers, "; "),
		Source: "what its switches show", Sure: Likely,
		Mend: "look which is right, and clear draft_differs",
	})
}

func cableNotRecorded(s *subject) []Finding {
	for i := range s.fixed {
		if s.fixed[i].cable == nil {
			return found(notRecorded("cable"+s.ofSegment(i), "no speed, length or loss can be judged"))
		}
	}
	return nil
}

func lengthNotRecorded(s *subject) []Finding {
	for i := range s.fixed {
		if !s.fixed[i].measured {
			return found(notRecorded("length_m"+s.ofSegment(i), "neither its reach nor the distance to a fault can be judged"))
		}
	}
	return nil
}

// ofSegment tells which part of the permanent link is meant, "" where it is one
// piece.
func (s *subject) ofSegment(i int) string {
	if len(s.run.Segments) == 0 {
		return ""
	}
	return " of " + s.fixed[i].name
}

// typeNotRecorded asks for what a cable's kind is known by.
func typeNotRecorded(s *subject) []Finding {
	for i := range s.fixed {
		c := s.fixed[i].cable
		if c == nil {
			continue
		}
		_, core := c.CoreUM.Get()
		switch {
		case c.Media == standards.Copper && c.Category == "":
			return found(notRecorded("category of cable "+c.ID, "the speeds that it may carry are not known"))
		case c.Media == standards.Fibre && c.Fibre == "" && !core:
			return found(notRecorded("fibre of cable "+c.ID, "its reach and loss are not known"))
		}
	}
	return nil
}

func heatNotRecorded(s *subject) []Finding {
	if !s.copper() {
		return nil
	}
	for _, w := range s.pathways() {
		if _, known := w.AmbientC.Get(); known {
			continue
		}
		for _, near := range w.Near {
			if classOf(near).heats {
				return found(Finding{
					Text: fmt.Sprintf("pathway %s passes a source of heat (%s), which shortens what copper may reach, and its ambient_c is not recorded", w.ID, near),
					Sure: Possible, Source: "ANSI/TIA-568.2-D (permanent link length by temperature)", Mend: "measure it on a warm day and record it",
				})
			}
		}
	}
	return nil
}

func notRecorded(key, so string) Finding {
	return Finding{Text: fmt.Sprintf("%s is not recorded, so %s", key, so), Source: ownRecord, Mend: "find out and record it"}
}
