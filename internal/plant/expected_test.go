package plant

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// cablePlant has one cable of each kind, named by its category or grade, and
// pathways named by their temperature.
func cablePlant() *Plant {
	rows := Plant{Pathways: []*Pathway{
		{ID: "15", AmbientC: port.Some(15.0)}, {ID: "30", AmbientC: port.Some(30.0)}, {ID: "45", AmbientC: port.Some(45.0)},
		{ID: "60", AmbientC: port.Some(60.0)}, {ID: "65", AmbientC: port.Some(65.0)}, {ID: "?"},
	}}
	for _, c := range categories {
		rows.Cables = append(rows.Cables,
			&Cable{ID: c, Media: standards.Copper, Category: c, Shield: "U/UTP", AWG: port.Some(24)},
			&Cable{ID: c + "s", Media: standards.Copper, Category: c, Shield: "S/FTP", AWG: port.Some(24)},
			&Cable{ID: c + "?", Media: standards.Copper, Category: c})
	}
	for _, grade := range fibres {
		rows.Cables = append(rows.Cables, &Cable{ID: grade, Media: standards.Fibre, Fibre: grade})
	}
	rows.Cables = append(rows.Cables,
		&Cable{ID: "copper?", Media: standards.Copper}, &Cable{ID: "fibre?", Media: standards.Fibre},
		&Cable{ID: "50/400", Media: standards.Fibre, CoreUM: port.Some(50.0), ModalBandwidth: port.Some(400.0)},
		&Cable{ID: "dac", Media: standards.Twinax}, &Cable{ID: "aoc", Media: standards.ActiveOptical})
	return New(rows)
}

// alongRun is a run with both cords of its own cable.
func alongRun(cable string, link, near, far float64, pathways ...string) Run {
	return Run{ID: "R", Cable: cable, LengthM: port.Some(link), NearCordM: port.Some(near), FarCordM: port.Some(far),
		NearCordCable: cable, FarCordCable: cable, Pathways: pathways}
}

func (r Run) with(change func(*Run)) *Run {
	change(&r)
	return &r
}

func asIs(*Run) {}

func noCords(r *Run) {
	r.NearCordM, r.FarCordM, r.NearCordCable, r.FarCordCable = port.Value[float64]{}, port.Value[float64]{}, "", ""
}

func speedOf(t testing.TB, text string) standards.Speed {
	t.Helper()
	speed, err := standards.ParseSpeed(text)
	require.NoError(t, err)
	return speed
}

// What copper runs may carry. Lengths of link, near and far cord in metres.
func TestExpectedOverCopper(t *testing.T) {
	p := cablePlant()
	rows := []struct {
		speed  string
		run    *Run
		want   standards.Verdict
		why    string
		source string // where it is printed
	}{
		{"1G", alongRun("5e", 90, 5, 5).with(asIs), standards.Allowed, "", "ISO/IEC 11801-1: 90 m and 10 m of cords; IEEE 802.3 40.7"},
		{"10G", alongRun("6A", 90, 5, 5).with(asIs), standards.Allowed, "", "IEEE 802.3 55: 100 m of Category 6A"},
		{"10G", alongRun("6A", 90, 5, 6).with(asIs), standards.NotAllowed, "reaches 100 m", "IEEE 802.3 55"},
		{"10G", alongRun("6A", 92, 2, 2).with(asIs), standards.Depends, "permanent link is 92 m", "ISO/IEC 11801-1: 90 m of link"},
		{"10G", alongRun("6", 30, 3, 3).with(asIs), standards.Allowed, "", "TIA TSB-155-A: 37 m"},
		{"10G", alongRun("6", 40, 3, 3).with(asIs), standards.Depends, "alien crosstalk", "TIA TSB-155-A: 37 to 55 m"},
		{"10G", alongRun("6", 40, 3, 3).with(func(r *Run) { r.Bundle = "B7" }), standards.Depends, "bundle B7", "TIA TSB-155-A"},
		{"10G", alongRun("6", 60, 3, 3).with(asIs), standards.NotAllowed, "reaches 55 m", "TIA TSB-155-A"},
		{"2.5G", alongRun("5e", 60, 3, 3).with(asIs), standards.Depends, "TSB-5021", "TIA TSB-5021"},
		{"25G", alongRun("8s", 24, 3, 3).with(asIs), standards.Allowed, "", "ANSI/TIA-568.2-D: 24 and 30 m"},
		{"25G", alongRun("8s", 26, 2, 2).with(asIs), standards.Depends, "permanent link is 26 m", "ANSI/TIA-568.2-D: 24 m of link"},
		{"100G", alongRun("8s", 5, 1, 1).with(asIs), standards.NotAllowed, "no PHY", "IEEE 802.3"},
		// a cord of a lower category rules the channel (ISO/IEC 11801-1)
		{"10G", alongRun("6A", 60, 3, 3).with(func(r *Run) { r.FarCordCable = "5e" }), standards.NotAllowed, "category 5e", "IEEE 802.3 55"},
		{"10G", alongRun("6A", 60, 3, 3).with(func(r *Run) { r.NearCordCable = "6" }), standards.NotAllowed, "category 6", "TIA TSB-155-A"},
		{"10G", alongRun("6A", 60, 3, 3).with(func(r *Run) { r.NearCordCable = "" }), standards.Allowed, "", "the fixed cable's category is all that is known"},
		// so does a segment's
		{"1G", (&Run{Segments: []Segment{{Cable: "6A", LengthM: port.Some(40.0)}, {Cable: "3", LengthM: port.Some(9.0)}}}), standards.NotAllowed, "category 3", "IEEE 802.3 40"},
		// cords that are not recorded: up to 10 m (ISO/IEC 11801-1)
		{"1G", alongRun("5e", 90, 0, 0).with(noCords), standards.Allowed, "", "ISO/IEC 11801-1: 10 m of cords"},
		{"1G", alongRun("5e", 92, 0, 0).with(noCords), standards.Depends, "cord lengths are not recorded: they may be 8 m in all", "ISO/IEC 11801-1: 100 m of channel"},
		{"1G", alongRun("5e", 101, 0, 0).with(noCords), standards.NotAllowed, "reaches 100 m", "ISO/IEC 11801-1"},
		{"10G", alongRun("6", 30, 0, 0).with(noCords), standards.Depends, "with more than 7 m in all, between 37 and 55 m", "TIA TSB-155-A"},
		{"10G", alongRun("6", 27, 0, 0).with(noCords), standards.Allowed, "", "TIA TSB-155-A"},
		{"10G", alongRun("6", 50, 0, 0).with(noCords), standards.Depends, "they may be 5 m in all", "TIA TSB-155-A"},
		// heat: ANSI/TIA-568.2-D, permanent link by temperature (memory): 87 m at 30 °C, 81.7 at 45, screened 86.5
		{"10G", alongRun("6A", 87, 2, 2, "30").with(asIs), standards.Allowed, "", "87.0 m at 30 °C"},
		{"10G", alongRun("6A", 87.5, 2, 2, "30").with(asIs), standards.Depends, "87 m", "87.0 m at 30 °C"},
		{"10G", alongRun("6A", 82, 2, 2, "15", "45", "30").with(asIs), standards.Depends, "at 45 °C", "81.7 m at 45 °C"},
		{"10G", alongRun("6As", 82, 2, 2, "45").with(asIs), standards.Allowed, "", "screened 86.5 m at 45 °C"},
		{"10G", alongRun("6A?", 82, 2, 2, "45").with(asIs), standards.Depends, "at 45 °C", "a shield that is not recorded is none"},
		{"1G", alongRun("5e", 82, 2, 2, "45").with(asIs), standards.Depends, "at 45 °C", "1000BASE-T needs Category 5's whole loss"},
		{"1G", alongRun("6A", 82, 2, 2, "45").with(asIs), standards.Allowed, "", "24.0 dB of Category 5e at 100 MHz for 20.9 of 6A (ANSI/TIA-568.2-D)"},
		{"10M", alongRun("3", 70, 2, 2, "45").with(asIs), standards.Depends, "at 45 °C", "1.5 % for each °C of Category 3 (memory): 65.5 m"},
		{"100M", alongRun("6A", 10, 2, 2, "65").with(asIs), standards.Depends, "rated to 60 °C", "ANSI/TIA-568.2-D: 60 °C"},
		// cords: ANSI/TIA-568.0-D, 80 m beside 18 m of 24 AWG, 15 m of 26 AWG (memory)
		{"10G", alongRun("6A", 80, 9, 9).with(asIs), standards.Allowed, "", "80 m: 18 m of 24 AWG"},
		{"10G", alongRun("6A", 80, 9, 9).with(func(r *Run) { r.CordAWG = port.Some(26) }), standards.Depends, "cords of 26 AWG", "80 m: 15 m of 26 AWG"},
		{"10G", alongRun("6A", 80, 9, 9).with(func(r *Run) { r.CordAWG = port.Some(28) }), standards.Depends, "cords of 26 AWG", "thinner cords lose no less"},
		{"10G", alongRun("6A", 40, 20, 20).with(asIs), standards.Allowed, "", "40 + 1.2 × 40 = 88 m of 102 (ANSI/TIA-568.0-D)"},
		{"10G", alongRun("6A", 30, 33, 34).with(asIs), standards.Depends, "cords of 24 AWG", "30 + 1.2 × 67 = 110 m of 102 (ANSI/TIA-568.0-D)"},
		// connectors: IEEE 802.3 113.7, ISO/IEC 11801-1
		{"25G", alongRun("8s", 20, 2, 2).with(func(r *Run) { r.Connectors = port.Some(3) }), standards.NotAllowed, "2 connectors", "IEEE 802.3 113.7"},
		{"1G", alongRun("5e", 80, 0, 0).with(func(r *Run) { noCords(r); r.Connectors = port.Some(5) }), standards.Depends, "measured", "ISO/IEC 11801-1: four"},
		{"1G", alongRun("5e", 92, 0, 0).with(func(r *Run) { noCords(r); r.Connectors = port.Some(5) }), standards.Depends, "with 10 m in all the channel is too long", "ISO/IEC 11801-1"},
		// what is not recorded
		{"1G", alongRun("copper?", 50, 2, 2).with(asIs), standards.NotJudged, "category", "-"},
		{"1G", alongRun("copper?", 120, 2, 2).with(asIs), standards.NotAllowed, "any copper cabling", "IEEE 802.3 40: 100 m over whatever it is"},
		{"1G", alongRun("6A", 0, 2, 2).with(func(r *Run) { r.LengthM = port.Value[float64]{} }), standards.NotJudged, "length_m", "-"},
		{"1G", alongRun("6A", 0, 60, 60).with(func(r *Run) { r.LengthM = port.Value[float64]{} }), standards.NotAllowed, "reaches 100 m", "the cords alone are too long"},
		{"10G", (&Run{Segments: []Segment{{Cable: "6A", LengthM: port.Some(40.0)}, {LengthM: port.Some(9.0)}}}), standards.NotJudged, "cable", "-"},
		{"10G", (&Run{Segments: []Segment{{Cable: "5e", LengthM: port.Some(40.0)}, {LengthM: port.Some(9.0)}}}), standards.NotAllowed, "category 5e", "IEEE 802.3 55"},
		{"10G", alongRun("6?", 60, 2, 2).with(asIs), standards.NotJudged, "shield is not recorded", "TIA TSB-155-A: its limit is for unscreened cable"},
	}
	for _, row := range rows {
		e := p.Expected(row.run, Seen{})
		require.Equal(t, standards.Copper, e.Medium)
		c, ok := e.At(speedOf(t, row.speed))
		require.True(t, ok)
		require.Equal(t, row.want.String(), c.Verdict.String(), "%s over %s %v: %q; %s", row.speed, row.run.Cable, row.run.LengthM, c.Why, row.source)
		require.Contains(t, c.Why, row.why, row.source)
		require.Equal(t, c.Verdict == standards.Allowed, c.Why == "", "a reason where it is not allowed")
	}
}

// What fibre runs may carry, and by which PHY.
func TestExpectedOverFibre(t *testing.T) {
	p := cablePlant()
	two := func(r *Run) { noCords(r); r.Connectors = port.Some(2) }
	optics := func(near, far string) func(*Run) {
		return func(r *Run) { two(r); r.Optic, r.FarOptic = near, far }
	}
	rows := []struct {
		speed  string
		run    *Run
		want   standards.Verdict
		phy    string
		why    string
		source string // where it is printed
	}{
		{"1G", alongRun("OM2", 550, 0, 0).with(two), standards.Allowed, "1000BASE-SX", "", "IEEE 802.3 38: 550 m"},
		{"1G", alongRun("OM2", 551, 0, 0).with(two), standards.NotAllowed, "1000BASE-SX", "550 m", "IEEE 802.3 38"},
		{"1G", alongRun("OM1", 400, 0, 0).with(two), standards.Depends, "1000BASE-LX", "mode-conditioning", "IEEE 802.3 38: 1000BASE-LX 550 m over OM1"},
		{"10G", alongRun("OM1", 33, 0, 0).with(two), standards.Allowed, "10GBASE-SR", "", "IEEE 802.3 52: 33 m"},
		{"10G", alongRun("OM1", 100, 0, 0).with(two), standards.Depends, "10GBASE-LRM", "mode-conditioning", "IEEE 802.3 68: 220 m"},
		{"10G", alongRun("OM3", 300, 0, 0).with(two), standards.Allowed, "10GBASE-SR", "", "IEEE 802.3 52: 300 m, 2.6 dB"},
		{"10G", alongRun("OM3", 299, 1, 1).with(func(r *Run) { r.Connectors = port.Some(2) }), standards.NotAllowed, "10GBASE-SR", "301 m", "IEEE 802.3 52: cords are of the channel"},
		{"10G", alongRun("OM4", 400, 0, 0).with(two), standards.Allowed, "10GBASE-SR", "", "IEEE 802.3 52: 400 m, 2.9 dB"},
		{"25G", alongRun("OM4", 100, 0, 0).with(two), standards.Allowed, "25GBASE-SR", "", "IEEE 802.3 112: 100 m"},
		{"25G", alongRun("OM3", 100, 0, 0).with(two), standards.NotAllowed, "25GBASE-SR", "70 m", "IEEE 802.3 112: 70 m"},
		{"100G", alongRun("50/400", 10, 0, 0).with(two), standards.NotAllowed, "100GBASE-SR10", "", "IEEE 802.3 86 names OM3 and OM4 only"},
		{"10G", alongRun("OS2", 9000, 0, 0).with(two), standards.Allowed, "10GBASE-LR", "", "IEEE 802.3 52: 10 km"},
		{"40G", alongRun("OS1a", 6000, 0, 0).with(two), standards.Depends, "40GBASE-LR4", "1.0 dB/km", "IEEE 802.3 87: 4 km over OS1a"},
		{"40G", alongRun("OM4", 150, 0, 0).with(func(r *Run) { noCords(r); r.Connectors = port.Some(4) }), standards.Depends, "40GBASE-SR4", "measure the loss", "IEEE 802.3 86: 1.5 dB"},
		{"2.5G", alongRun("OM4", 10, 0, 0).with(two), standards.NotJudged, "", "no PHY", "-"},
		{"10G", alongRun("fibre?", 10, 0, 0).with(two), standards.NotJudged, "10GBASE-SR", "not recorded", "-"},
		{"10G", alongRun("OM4", 0, 0, 0).with(func(r *Run) { two(r); r.LengthM = port.Value[float64]{} }), standards.NotJudged, "10GBASE-SR", "length_m", "-"},
		{"10G", (&Run{Segments: []Segment{{Cable: "OM3", LengthM: port.Some(301.0)}, {Cable: "OM3"}}}), standards.NotAllowed, "10GBASE-SR", "300 m", "IEEE 802.3 52: one part is too long already"},
		// the worst fibre along the run, a cord without a length included
		{"10G", (&Run{Segments: []Segment{{Cable: "OM4", LengthM: port.Some(40.0)}, {Cable: "OM1", LengthM: port.Some(40.0)}}}), standards.Depends, "10GBASE-LRM", "", "IEEE 802.3 52: 33 m over OM1"},
		{"1G", alongRun("OS2", 40, 0, 0).with(func(r *Run) { two(r); r.FarCordCable = "OM3" }), standards.NotAllowed, "1000BASE-LX", "1000BASE-LX", "MM into SM loses 17 to 20 dB"},
		// strands: four each way of 40GBASE-SR4 (IEEE 802.3 86), one of 1000BASE-BX10 (59)
		{"40G", alongRun("OM4", 90, 0, 0).with(func(r *Run) { r.Connectors, r.Strands = port.Some(1), "11-12" }), standards.Depends, "40GBASE-SR4", "wants 8 strands, and strands records 2", "IEEE 802.3 86"},
		{"1G", alongRun("OS2", 900, 0, 0).with(func(r *Run) { two(r); r.Strands = "1" }), standards.Allowed, "1000BASE-BX10", "", "IEEE 802.3 59"},
		{"1G", alongRun("OS2", 900, 0, 0).with(func(r *Run) { two(r); r.Strands = "5;6" }), standards.Allowed, "1000BASE-LX", "", "IEEE 802.3 38"},
		{"10G", alongRun("OS2", 900, 0, 0).with(func(r *Run) { optics("10GBASE-LR", "10GBASE-LR")(r); r.Strands = "7" }), standards.Allowed, "10GBASE-LR", "", "seven strands"},
		{"10G", alongRun("OS2", 900, 0, 0).with(func(r *Run) { optics("10GBASE-LR", "10GBASE-LR")(r); r.Strands = "1" }), standards.Depends, "10GBASE-LR", "10GBASE-LR wants 2 strands, and strands records 1", "IEEE 802.3 52"},
		// recorded optics rule their speed
		{"1G", alongRun("OM3", 100, 0, 0).with(optics("1000BASE-LX", "1000BASE-LX")), standards.Depends, "1000BASE-LX", "mode-conditioning", "IEEE 802.3 38"},
		{"10G", alongRun("OM3", 100, 0, 0).with(optics("1000BASE-LX", "1000BASE-LX")), standards.Allowed, "10GBASE-SR", "", "IEEE 802.3 52, by other optics"},
		{"10G", alongRun("OM3", 20, 0, 0).with(optics("10GBASE-LR", "10GBASE-LR")), standards.NotAllowed, "10GBASE-LR", "single mode", "IEEE 802.3 52"},
		{"10G", alongRun("OM3", 20, 0, 0).with(optics("10GBASE-SR", "10GBASE-LRM")), standards.NotAllowed, "10GBASE-SR", "do not work together", "IEEE 802.3 52, 68: 850 and 1300 nm"},
		{"10G", alongRun("OS2", 1000, 0, 0).with(optics("10GBASE-ER", "10GBASE-ER")), standards.Depends, "10GBASE-ER", "add at least 4.5 dB", "IEEE 802.3 52: sends 4.0, takes -1.0; 1 km and two connections lose 0.58 dB"},
		{"1G", alongRun("OS2", 1000, 0, 0).with(optics("1000BASE-BX10-D", "1000BASE-BX10-U")), standards.Allowed, "1000BASE-BX10", "", "IEEE 802.3 59"},
		{"1G", alongRun("OS2", 1000, 0, 0).with(optics("1000BASE-BX10-D", "1000BASE-BX10-D")), standards.NotAllowed, "1000BASE-BX10", "both ends send", "IEEE 802.3 59"},
	}
	for _, row := range rows {
		e := p.Expected(row.run, Seen{})
		require.Equal(t, standards.Fibre, e.Medium)
		c, ok := e.At(speedOf(t, row.speed))
		require.True(t, ok)
		require.Equal(t, row.want.String(), c.Verdict.String(), "%s over %s %v: %s %q; %s", row.speed, row.run.Cable, row.run.LengthM, c.PHY, c.Why, row.source)
		require.Equal(t, row.phy, c.PHY, row.source)
		require.Contains(t, c.Why, row.why, row.source)
	}
}

func TestExpectedOverAssemblies(t *testing.T) {
	p := cablePlant()
	rows := []struct {
		speed, cable string
		metres       float64
		want         standards.Verdict
		phy          string
		source       string
	}{
		{"10G", "dac", 3, standards.Depends, "10GBASE-R", "direct attach is no PHY of IEEE 802.3"},
		{"10G", "dac", 20, standards.NotAllowed, "10GBASE-R", "common practice, no source"},
		{"40G", "dac", 7, standards.Allowed, "40GBASE-CR4", "IEEE 802.3 85: 7 m (memory)"},
		{"40G", "dac", 8, standards.NotAllowed, "40GBASE-CR4", "IEEE 802.3 85 (memory)"},
		{"100M", "dac", 3, standards.NotJudged, "", "-"},
		{"40G", "dac", 0, standards.NotJudged, "40GBASE-CR4", "-"},
		{"25G", "aoc", 30, standards.Depends, "25GBASE-R", "common practice, no source"},
	}
	for _, row := range rows {
		r := Run{Cable: row.cable, LengthM: port.Some(row.metres)}
		c, _ := p.Expected(&r, Seen{}).At(speedOf(t, row.speed))
		require.Equal(t, row.want.String(), c.Verdict.String(), "%s over %s: %q; %s", row.speed, row.cable, c.Why, row.source)
		require.Equal(t, row.phy, c.PHY)
	}
}

func TestMixedOrUnrecordedMediaAreNotJudged(t *testing.T) {
	p := cablePlant()
	for why, r := range map[string]*Run{
		"cable is not recorded":                     {LengthM: port.Some(10.0)},
		"the row of cable lost could not be read":   {Cable: "lost"},
		"copper and fibre along one run":            {Segments: []Segment{{Cable: "6A"}, {Cable: "OM3"}}},
		"fibre and copper along one run":            {Cable: "OM3", FarCordCable: "6A"},
		"the record has twinax and active-optical ": {Segments: []Segment{{Cable: "dac"}, {Cable: "aoc"}}},
	} {
		e := p.Expected(r, Seen{})
		require.Empty(t, e.Medium)
		require.Len(t, e.Speeds, 9)
		for _, c := range e.Speeds {
			require.Equal(t, standards.NotJudged, c.Verdict)
			require.Contains(t, c.Why, why)
		}
	}
}

// The light at each end by hand: 10GBASE-LR (IEEE 802.3 52) sends -8.2 to 0.5
// dBm and takes -14.4 to 0.5; 2 km of OS2 lose 0.32 to 0.4 dB/km, four
// connections 0.2 (common practice) to 0.75 dB each (ANSI/TIA-568.3-D), a splice
// 0.1 (likewise) to 0.3.
//
//	least loss 2×0.32 + 4×0.2 + 0.1 = 1.54 dB, most 2×0.4 + 4×0.75 + 0.3 = 4.1 dB
//	least light -8.2 - 4.1 = -12.3 dBm, most 0.5 - 1.54 = -1.04 dBm
func TestLightAndLossOfARun(t *testing.T) {
	r := &Run{Cable: "OS2", LengthM: port.Some(2000.0), Connectors: port.Some(4), Splices: port.Some(1), Optic: "10GBASE-LR",
		ExpectedLossDB: port.Some(3.2)}
	e := cablePlant().Expected(r, Seen{Far: SeenEnd{PHY: "10GBASE-LR"}})
	for end := range e.Light {
		light := e.Light[end]
		require.True(t, light.Known)
		require.InDelta(t, -12.3, light.Least, 1e-9)
		require.InDelta(t, -1.04, light.Most, 1e-9)
		require.Equal(t, []float64{-14.4, 0.5}, []float64{light.TakesLeast, light.TakesMost})
		require.Equal(t, port.Some(1.5), light.Damage)
		require.Equal(t, standards.Allowed, light.Judgement.Verdict)
		require.Zero(t, light.Pad)
	}
	require.InDelta(t, 1.54, e.Loss.Least, 1e-9)
	require.InDelta(t, 4.1, e.Loss.Most, 1e-9)
	require.Equal(t, 1310.0, e.Loss.NM)
	require.True(t, e.Loss.Agrees)

	r.ExpectedLossDB = port.Some(4.3)
	require.False(t, cablePlant().Expected(r, Seen{}).Loss.Agrees)
	require.False(t, cablePlant().Expected(r, Seen{}).Light[NearEnd].Known, "the far optic is not known")
}

// A downstream sender of 1490 nm and an upstream one of 1310 nm lose alike over
// OS2 at their most, not at their least (IEEE 802.3 59; common practice).
func TestLightOfASingleFibreDiffersByDirection(t *testing.T) {
	r := &Run{Cable: "OS2", LengthM: port.Some(10000.0), Connectors: port.Some(2), Optic: "1000BASE-BX10-D", FarOptic: "1000BASE-BX10-U"}
	e := cablePlant().Expected(r, Seen{})
	require.InDelta(t, 10*0.32+0.4, e.Light[NearEnd].LossLeast, 1e-9)
	require.InDelta(t, 10*0.18+0.4, e.Light[FarEnd].LossLeast, 1e-9)
}

// What stands at the ends is told apart from the cable's own verdict.
func TestEndsLimitALink(t *testing.T) {
	p := cablePlant()
	r := alongRun("6A", 60, 2, 2).with(func(r *Run) { r.DeviceSpeed, r.PassesThrough = 100*standards.Mbps, []string{"phone"} })
	e := p.Expected(r, Seen{Near: SeenEnd{Fastest: 10 * standards.Gbps}, Far: SeenEnd{Fastest: standards.Gbps}})
	allowed, depends := e.Fastest()
	require.Equal(t, 10*standards.Gbps, allowed)
	require.Zero(t, depends)
	require.Equal(t, []Limit{
		{"the port at the far end", standards.Gbps}, {"the device at the far end", 100 * standards.Mbps}, {"a phone on the way", standards.Gbps},
	}, e.LimitedBy)
	require.Equal(t, "the port at the far end does 1G at most", e.LimitedBy[0].String())
	require.Equal(t, 100*standards.Mbps, e.EndsDo())

	fibre := &Run{Cable: "OM4", LengthM: port.Some(50.0), Connectors: port.Some(2), Optic: "1000BASE-SX"}
	e = p.Expected(fibre, Seen{})
	require.Equal(t, []Limit{{"the optic at the near end", standards.Gbps}}, e.LimitedBy)
	ten, _ := e.At(10 * standards.Gbps)
	require.Equal(t, "10GBASE-SR optics at both ends", ten.Needs)
	one, _ := e.At(standards.Gbps)
	require.Equal(t, "the same optic at the other end", one.Needs)
	require.Zero(t, p.Expected(&Run{}, Seen{Near: SeenEnd{Fastest: 1}}).EndsDo(), "nothing is known of the cable")
}

func TestMissingNamesTheKeys(t *testing.T) {
	p := cablePlant()
	for _, row := range []struct {
		run  Run
		want []string
	}{
		{Run{}, []string{"cable"}},
		{alongRun("6A", 60, 2, 2), []string{"connectors"}},
		{alongRun("6A", 80, 2, 2, "?"), []string{"connectors", "ambient_c"}},
		{*alongRun("copper?", 60, 2, 2).with(noCords), []string{"category", "shield", "near_cord_cable", "near_cord_m", "far_cord_cable", "far_cord_m", "connectors"}},
		{Run{Cable: "OM4", Optic: "10GBASE-SR"}, []string{"length_m", "connectors", "far_optic"}},
		{Run{Cable: "OS2", LengthM: port.Some(9000.0), Connectors: port.Some(2), Optic: "10GBASE-ZR", FarOptic: "10GBASE-ZR"}, []string{"splices"}},
		{Run{Cable: "dac"}, []string{"length_m"}},
	} {
		require.Equal(t, row.want, p.Expected(&row.run, Seen{}).Missing)
	}
}

func TestWhyIsASentence(t *testing.T) {
	e := cablePlant().Expected(alongRun("6", 40, 3, 3).with(asIs), Seen{})
	require.Equal(t, "1G: allowed, 1000BASE-T over category 6, 46 m of at most 100 m; by IEEE 802.3 40.7 (four pairs of Category 5).", e.Why(standards.Gbps))
	require.Contains(t, e.Why(10*standards.Gbps), "10G: depends, 10GBASE-T: between 37 and 55 m")
	require.Contains(t, e.Why(25*standards.Gbps), "25G: not allowed: 25GBASE-T needs category 8")
	require.Empty(t, e.Why(3))
}

// Insertion loss of a channel in dB, ANSI/TIA-568.2-D: at 100 MHz 24.0 of
// Category 5e, 21.3 of 6, 20.9 of 6A; at 10 MHz 7.1 of 5e (memory), where IEEE
// 802.3 14.4 lets 10BASE-T lose 11.5.
func TestLossToSpare(t *testing.T) {
	for _, row := range []struct {
		phy      string
		category standards.Category
		want     float64
	}{
		{"10BASE-T", standards.Cat5e, 11.5 / 7.1}, {"10BASE-T", standards.Cat5, 11.5 / 7.1}, {"10BASE-T", standards.Cat3, 1},
		{"1000BASE-T", standards.Cat5e, 1}, {"1000BASE-T", standards.Cat6, 24.0 / 21.3}, {"1000BASE-T", standards.Cat6A, 24.0 / 20.9},
		{"1000BASE-T", standards.Cat8, 24.0 / 20.9}, {"10GBASE-T", standards.Cat8, 1},
	} {
		for i := range copperPHYs {
			if copperPHYs[i].Name == row.phy {
				require.InDelta(t, row.want, copperPHYs[i].times(row.category), 0.02, "%s over %s", row.phy, row.category)
			}
		}
	}
}

// An audit of 50,000 runs has a second for all it does.
func BenchmarkExpected(b *testing.B) {
	p := cablePlant()
	ten := func(phy string) func(*Run) {
		return func(r *Run) { r.Connectors, r.Optic, r.FarOptic = port.Some(2), phy, phy }
	}
	runs := map[string]*Run{
		"copper": alongRun("6A", 62, 2, 3, "30").with(asIs), "copper, little recorded": alongRun("5e", 62, 0, 0).with(noCords),
		"multimode": alongRun("OM4", 90, 2, 2).with(ten("10GBASE-SR")), "single mode": alongRun("OS2", 800, 2, 2).with(ten("10GBASE-LR")),
		"too long": alongRun("OM3", 320, 2, 2).with(asIs), "nothing recorded": {},
	}
	seen := Seen{Near: SeenEnd{Fastest: standards.Gbps}, Far: SeenEnd{Fastest: standards.Gbps}}
	for name, r := range runs {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				p.Expected(r, seen)
			}
		})
	}
}
