package plant

import (
	"testing"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// Lengths: 90 m of permanent link and 100 m of channel, ISO/IEC 11801-1 and
// ANSI/TIA-568.2-D; cords by C = (102 - H)/(1 + D), D 0.2 for 24 AWG and 0.5
// for 26 AWG, ANSI/TIA-568.0-D as printed (the table is from memory); lengths
// by temperature, ANSI/TIA-568.2-D annex (memory).
func TestLengthsOfCopper(t *testing.T) {
	lengths := func(fixed, near, far float64) func(*Run, *Plant) {
		return func(r *Run, _ *Plant) { r.LengthM, r.NearCordM, r.FarCordM = metres(fixed), metres(near), metres(far) }
	}
	judges(t, cleanCopper, []auditRow{
		{"just keeps all", lengths(90, 5, 5), ""},
		{"link", lengths(94, 1, 1), "link-too-long: 4 m over 90 m"},
		{"channel", lengths(90, 5, 6), "channel-too-long: 1 m over 100 m"},
		{"link and channel, told once", lengths(94, 5, 5), "channel-too-long: 4 m over 100 m"},
		{"link, cords not recorded", func(r *Run, p *Plant) {
			r.LengthM, r.NearCordM, r.FarCordM = metres(94), real{}, real{}
		}, "link-too-long: 4 m over 90 m"},
		{"nothing recorded", func(r *Run, p *Plant) { r.LengthM = real{} }, "length-not-recorded"},
		{"cords of the printed table", lengths(85, 7, 7), ""},
		{"cords over it", lengths(85, 7, 7.5), "cords-too-long: 0.5 m over 14 m"},
		{"26 AWG keeps", func(r *Run, p *Plant) { lengths(90, 4, 4)(r, p); r.CordAWG = port.Some(26) }, ""},
		{"26 AWG breaks", func(r *Run, p *Plant) { lengths(90, 4, 5)(r, p); r.CordAWG = port.Some(26) }, "cords-too-long: 1 m over 8 m"},
		{"26 AWG by the cord's cable", func(r *Run, p *Plant) { lengths(90, 4, 5)(r, p); r.FarCordCable = "cord-26" }, "cords-too-long: 1 m over 8 m"},
		{"segments", func(r *Run, p *Plant) {
			r.Cable, r.LengthM = "", real{}
			r.Segments = []Segment{{Cable: "6a", LengthM: metres(50)}, {Cable: "6a", LengthM: metres(45)}}
		}, "link-too-long: 5 m over 90 m"},
		{"segments, one not measured", func(r *Run, p *Plant) {
			r.Cable, r.LengthM = "", real{}
			r.Segments = []Segment{{Cable: "6a", LengthM: metres(50)}, {Cable: "6a"}}
		}, "length-not-recorded"},
		{"40 °C keeps", func(r *Run, p *Plant) { lengths(84, 2, 3)(r, p); r.Pathways = []string{"warm"} }, ""},
		{"hotter than cable is rated to", func(r *Run, p *Plant) {
			lengths(20, 2, 3)(r, p)
			p.Pathways[1].AmbientC, r.Pathways = metres(65), []string{"warm"}
		}, "too-hot: 5 °C over 60 °C"},
		{"so hot, and no speed recorded", func(r *Run, p *Plant) {
			lengths(20, 2, 3)(r, p)
			p.Pathways[1].AmbientC, r.Pathways, r.DesignSpeed = metres(65), []string{"warm"}, 0
		}, "too-hot: 5 °C over 60 °C"},
		{"40 °C breaks", func(r *Run, p *Plant) { lengths(86, 2, 3)(r, p); r.Pathways = []string{"warm"} }, "too-hot: 2 m over 84 m"},
		{"40 °C, screened keeps", func(r *Run, p *Plant) {
			lengths(87, 2, 3)(r, p)
			r.Pathways, r.Cable, r.NearCordCable, r.FarCordCable = []string{"warm"}, "6a-ftp", "cord-ftp", "cord-ftp"
		}, ""},
		{"hotter than cable may be", func(r *Run, p *Plant) { p.Pathways[0].AmbientC = metres(65) }, "too-hot: 5 °C over 60 °C"},
		{"category 8: 24 m and 30 m", func(r *Run, p *Plant) {
			lengths(26, 1, 1)(r, p)
			r.Cable, r.NearCordCable, r.FarCordCable = "8", "", ""
		}, "link-too-long: 2 m over 24 m"},
	})
}

// Categories by the PHY: 10GBASE-T over Cat 6 to 55 m, and only under a
// condition past 37 m (IEEE 802.3 clause 55, TSB-155-A); not over Cat 5e.
// 2.5GBASE-T over Cat 5e in defined use cases (IEEE 802.3 clause 126, TSB-5021).
// A channel is of the lowest category in it (ISO/IEC 11801-1, memory).
func TestCategories(t *testing.T) {
	at := func(cable string, length float64, speed standards.Speed) func(*Run, *Plant) {
		return func(r *Run, _ *Plant) {
			r.Cable, r.LengthM, r.DesignSpeed = cable, metres(length), speed
			r.NearCordCable, r.FarCordCable = "", ""
		}
	}
	judges(t, cleanCopper, []auditRow{
		{"10G, 6A", at("6a", 90, 10*standards.Gbps), ""},
		{"10G, Cat 6, 37 m with cords", at("6", 32, 10*standards.Gbps), ""},
		{"10G, Cat 6, 50 m", at("6", 45, 10*standards.Gbps), "speed-depends: 50 m of at most 55 m"},
		{"10G, Cat 6, 65 m", at("6", 60, 10*standards.Gbps), "speed-not-carried: 10 m over 55 m"},
		{"10G, Cat 6, 105 m: its own reach, told once", at("6", 100, 10*standards.Gbps), "speed-not-carried: 50 m over 55 m"},
		{"10G, Cat 5e", at("5e", 30, 10*standards.Gbps), "category-too-low: category 5e for 6"},
		{"10G for the device, Cat 5e", func(r *Run, p *Plant) {
			at("5e", 30, 0)(r, p)
			r.DeviceSpeed = 10 * standards.Gbps
		}, "category-too-low: category 5e for 6"},
		{"2.5G, Cat 5e", at("5e", 60, 2500*standards.Mbps), "speed-depends: 65 m of at most 100 m"},
		{"1G, Cat 5e", at("5e", 90, standards.Gbps), ""},
		{"25G, Cat 8", at("8", 24, 25*standards.Gbps), ""},
		{"25G, Cat 6A", at("6a", 20, 25*standards.Gbps), "category-too-low: category 6A for 8"},
		{"10G, category not recorded", at("plain", 30, 10*standards.Gbps), "type-not-recorded"},
		{"cord rules 10G", func(r *Run, p *Plant) {
			r.DesignSpeed, r.FarCordCable = 10*standards.Gbps, "cord-5e"
		}, "cord-category-too-low: category 5e for 6"},
		{"cord rules, and 1G does not mind", func(r *Run, p *Plant) { r.FarCordCable = "cord-5e" }, "cord-below-cable: category 5e for 6A"},
		{"cords better than the cable", func(r *Run, p *Plant) { r.Cable = "5e" }, ""},
		{"no speed meant", func(r *Run, p *Plant) { at("5e", 60, 0)(r, p) }, ""},
	})
}

// Connections: four in a channel (ISO/IEC 11801-1, memory), two for 25GBASE-T
// and 40GBASE-T (IEEE 802.3 clause 113).
func TestConnectors(t *testing.T) {
	judges(t, cleanCopper, []auditRow{
		{"four", func(r *Run, p *Plant) { r.Connectors = port.Some(4) }, ""},
		{"five", func(r *Run, p *Plant) { r.Connectors = port.Some(5) }, "too-many-connectors: 1 over 4"},
		{"not recorded", func(r *Run, p *Plant) { r.Connectors = whole{} }, ""},
		{"fewer than panel and outlet", func(r *Run, p *Plant) { r.Connectors = port.Some(1) }, "connectors-too-few: 1 for 2"},
	})
}

// Screens are continuous through the channel: ISO/IEC 11801-1 and EN 50174-2
// (memory).
func TestScreens(t *testing.T) {
	screened := func(near, far string) func(*Run, *Plant) {
		return func(r *Run, _ *Plant) { r.Cable, r.NearCordCable, r.FarCordCable = "6a-ftp", near, far }
	}
	judges(t, cleanCopper, []auditRow{
		{"screened throughout", screened("cord-ftp", "cord-ftp"), ""},
		{"one cord without", screened("cord-ftp", "cord-6a"), "unscreened-cord"},
		{"cords not recorded", screened("", ""), ""},
		{"screened cords on an unscreened run do no harm", func(r *Run, p *Plant) { r.NearCordCable = "cord-ftp" }, ""},
		{"mixed along the run", func(r *Run, p *Plant) {
			r.Cable, r.LengthM, r.NearCordCable, r.FarCordCable = "", real{}, "", ""
			r.Segments = []Segment{{Cable: "6a", LengthM: metres(30)}, {Cable: "6a-ftp", LengthM: metres(30)}}
		}, "mixed-screens"},
	})
}

// Sources of interference and of heat: EN 50174-2, common practice as to words.
func TestNeighbourhood(t *testing.T) {
	passing := func(ways ...string) func(*Run, *Plant) { return func(r *Run, _ *Plant) { r.Pathways = ways } }
	judges(t, cleanCopper, []auditRow{
		{"a lift motor", passing("tray", "lift"), "near-interference"},
		{"a lift motor, screened", func(r *Run, p *Plant) {
			r.Pathways, r.Cable, r.NearCordCable, r.FarCordCable = []string{"lift"}, "6a-ftp", "", ""
		}, ""},
		{"a lift motor, shield not recorded", func(r *Run, p *Plant) { r.Pathways, r.Cable = []string{"lift"}, "plain" }, "type-not-recorded"},
		{"a boiler of unknown heat", passing("boiler"), "heat-not-recorded"},
		{"a boiler of known heat", func(r *Run, p *Plant) {
			r.Pathways = []string{"boiler"}
			p.Pathways[3].AmbientC = metres(40)
		}, ""},
		{"a word that says nothing", passing("quiet"), ""},
		{"of a segment", func(r *Run, p *Plant) {
			r.Cable, r.LengthM, r.Pathways = "", real{}, nil
			r.Segments = []Segment{{Cable: "6a", LengthM: metres(30), Pathways: []string{"lift"}}}
		}, "near-interference"},
	})
}

func TestNearWords(t *testing.T) {
	for name, want := range map[string]nearby{
		"lift motor": {disturbs: true}, "Lifts": {disturbs: true}, "variable-speed drives": {disturbs: true}, "fluorescent lighting": {disturbs: true},
		"UPS room": {disturbs: true}, "mains riser": {disturbs: true}, "X-ray room": {disturbs: true}, "lift-motor": {disturbs: true}, "generator": {disturbs: true},
		"heating pipe": {heats: true}, "boiler": {heats: true}, "hot water pipes": {heats: true}, "boiler fan": {disturbs: true, heats: true},
		"tidal pit": {}, "cold water pipe": {}, "": {}, "groups": {}, "driveway": {},
	} {
		if got := classOf(name); got != want {
			t.Errorf("%q: %+v, want %+v", name, got, want)
		}
	}
}

func TestBehindAPhone(t *testing.T) {
	through := func(speed standards.Speed) func(*Run, *Plant) {
		return func(r *Run, _ *Plant) { r.PassesThrough, r.DesignSpeed = []string{"phone"}, speed }
	}
	judges(t, cleanCopper, []auditRow{
		{"1G", through(standards.Gbps), ""},
		{"2.5G", through(2500 * standards.Mbps), "behind-phone: 1G for 2.5G"},
	})
}
