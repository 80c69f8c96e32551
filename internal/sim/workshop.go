package sim

import (
	"fmt"
	"strconv"
	"strings"
)

// The Old Workshop across the yard has switches that nobody can ask, so its
// runs name none. Its people keep a sheet of their own, and not well.

// sheetRun is a row of the workshop's sheet: what it has beyond the others',
// what is wrong with it, and the test that was made.
type sheetRun struct {
	id, what, because string
	keys              record
	test              *certificate
}

// workshopCopper are the runs to its machines and desks.
var workshopCopper = []sheetRun{
	{id: "W1-P1-01", keys: record{"length_m": "38"}, test: &certificate{headroom: 6, step: 1}},
	{"W1-P1-02", linkOver90, "94 m to the paint store, with short cords", record{"length_m": "94", "near_cord_m": "2", "far_cord_m": "2"}, nil},
	{"W1-P1-03", channelOver100, "86 m and 17 m of cords", record{"length_m": "86", "near_cord_m": "9", "far_cord_m": "8"}, nil},
	{"W1-P1-04", thinCords, "beside 80 m, 26 AWG may be 15 m long", record{"length_m": "80", "near_cord_m": "3", "far_cord_m": "13", "cord_awg": "26"}, nil},
	{"W1-P1-05", lowCord, "the Category 5e cord at the bench rules a channel meant for 10G", record{"far_cord_cable": "cord-5e"}, nil},
	{"W1-P1-06", cordLowers, "a Category 5e cord on Category 6A cable", record{"near_cord_cable": "cord-5e", "design_speed": "1G"}, nil},
	{"W1-P1-07", lowCable, "Category 5e does not carry 10G", record{"cable": "horizontal-5e"}, nil},
	{"W1-P1-08", onCondition, "unscreened Category 6, 48 m: 10G hangs on its neighbours", record{"cable": "horizontal-6", "length_m": "43"}, nil},
	{"W1-P1-09", outOfReach, "unscreened Category 6, 62 m: too long for 10G", record{"cable": "horizontal-6", "length_m": "57"}, nil},
	{"W1-P1-10", hotRoof, "84 m under a roof of 50 °C", record{"length_m": "84", "pathways": "void-w1-roof"}, nil},
	{"W1-P1-11", bareCord, "the near cord has no screen", record{"cable": "horizontal-6a-screened", "near_cord_cable": "cord-6a", "far_cord_cable": "cord-6a-screened"}, nil},
	{"W1-P1-12", lowTest, "tested to class D, and meant for 10G", nil, &certificate{class: "D permanent link", headroom: 6}},
	{"W1-P1-13", valuesFail, "NEXT of two pairs is past its limit", nil, &certificate{headroom: 6, pairs: true, near: map[string]float64{"36-45": -4}}},
	{"W1-P1-14", valuesNear, "NEXT of two pairs keeps its limit by less than the tester is good to", nil, &certificate{headroom: 6, pairs: true, near: map[string]float64{"12-36": 0.4}}},
	{"W1-P1-15", splitPairs, "3-6 and 4-5 share their wires", nil, &certificate{headroom: 6, pairs: true, wires: "1-1 2-2 3-3 6-6 4-4 5-5 7-7 8-8 split 3-6/4-5", near: map[string]float64{"36-45": -24}}},
	{"W1-P1-16", crossedPair, "1-2 and 3-6 change places", nil, &certificate{headroom: 6, wires: "1-3 2-6 3-1 6-2 4-4 5-5 7-7 8-8"}},
	{"W1-P1-17", openConductor, "7 and 8 end in the wall", record{"test_result": "fail", "test_margin_db": "", "status": "faulty"}, &certificate{headroom: 6, wires: "1-1 2-2 3-3 6-6 4-4 5-5 7-x 8-x"}},
	{"W1-P1-18", improbableLength, "4500 for 45.00", record{"length_m": "4500"}, nil},
	{"W1-P1-19", fiveConnectors, "two cross-connects and a consolidation point", record{"connectors": "5"}, nil},
	{"W1-P1-20", behindAPhone, "a phone passes 1G", record{"passes_through": "phone"}, nil},
	{"W1-P1-21", noCable, "nobody knows what lies there", record{"cable": ""}, nil},
	{"W1-P1-22", noCategory, "the print on the old grey cable is worn off", record{"cable": "grey-old"}, nil},
	{"W1-P1-23", noTemperature, "past the kiln, and nobody took the temperature", record{"pathways": "wall-w1-kiln"}, nil},
	{"W1-P1-24", cordWire, "41 m of stranded 26 AWG from a box of cord wire", record{"cable": "box-26", "length_m": "41"}, nil},
	{"W1-P2-01", warrantyFirst, "until 2009 for 2029", record{"warranty_until": "2009-05-20"}, nil},
	{"W1-P2-02", twoMedia, "a fibre cord is written down", record{"near_cord_cable": "riser-om4"}, nil},
	{"W1-P2-03", opticOnCopper, "10GBASE-SR for 10GBASE-T", record{"optic": "10GBASE-SR"}, nil},
	{id: "W1-P2-04", keys: record{"cable": "horizontal-6a-screened", "near_cord_cable": "cord-6a-screened", "far_cord_cable": "cord-6a-screened"}, test: &certificate{headroom: 7, wires: straight + " S-S"}},
	{id: "W1-P2-05", keys: record{"near_cord_cable": "cord-6a", "far_cord_cable": "cord-6a"}},
	{id: "W1-P2-06", keys: record{"cable": "horizontal-6", "length_m": "28", "pathways": "void-w1-roof"}},
	{id: "W1-P2-07", keys: record{"length_m": "78", "near_cord_m": "4", "far_cord_m": "9", "cord_awg": "24"}},
	{id: "W1-P2-08", keys: record{"status": "spare", "device": ""}},
}

// workshopFibre are the runs between it and the main equipment room.
var workshopFibre = []sheetRun{
	{"W1-F1-02", fibreOver, "10GBASE-SR over 150 m of OM2", record{"cable": "yard-om2", "length_m": "150"}, nil},
	{"W1-F1-03", opticsDiffer, "10GBASE-LR and 10GBASE-SR", record{"cable": "duct-os2", "optic": "10GBASE-LR"}, nil},
	{"W1-F1-04", opticWrongMode, "10GBASE-LR over OM4", record{"optic": "10GBASE-LR", "far_optic": "10GBASE-LR"}, nil},
	{"W1-F1-05", tooBright, "10GBASE-ER over 300 m needs a pad", record{"cable": "duct-os2", "length_m": "300", "optic": "10GBASE-ER", "far_optic": "10GBASE-ER"}, nil},
	{"W1-F1-06", tooLossy, "six connectors where 2.9 dB is all", record{"connectors": "6"}, nil},
	{"W1-F1-07", oneStrand, "10GBASE-LR wants two", record{"cable": "duct-os2", "optic": "10GBASE-LR", "far_optic": "10GBASE-LR", "strands": "1"}, nil},
	{"W1-F1-08", slowOptic, "1000BASE-SX on a run meant for 10G", record{"optic": "1000BASE-SX", "far_optic": "1000BASE-SX"}, nil},
	{"W1-F1-09", lossMiswritten, "6.5 dB for 0.65", record{"expected_loss_db": "6.5"}, nil},
	{"W1-F1-10", lossValueOverLimit, "one strand loses 3.9 dB, by a dirty or broken connector", nil, &certificate{class: "OM4 850", strands: []float64{1.1, 3.9}}},
	{id: "W1-F1-11", keys: record{"expected_loss_db": "1.4"}, test: &certificate{class: "OM4 850", strands: []float64{1.1, 0.9}}},
	{id: "W1-F1-12", keys: record{"cable": "duct-os2", "length_m": "290", "optic": "10GBASE-LR", "far_optic": "10GBASE-LR"}, test: &certificate{class: "OS2 1310", strands: []float64{0.7, 0.8}}},
}

// workshopParts are runs of several pieces, which no sheet can hold: they stand
// in plant.yml.
var workshopParts = []sheetRun{
	{"W1-F1-01", mixedCores, "25 m of the old OM1 were spliced on at the yard's wall", record{"splices": "2",
		"segments": "[{cable: riser-om4, length_m: 120, pathways: [duct-workshop]}, {cable: yard-om1, length_m: 25, pathways: [tray-w1-hall]}]"}, nil},
	{"W1-P2-09", brokenScreen, "the consolidation point's tail has no screen", record{"connectors": "3",
		"segments": "[{cable: horizontal-6a-screened, length_m: 40}, {cable: horizontal-6a, length_m: 12}]"}, nil},
	{id: "W1-P2-10", keys: record{"connectors": "3", "segments": "[{cable: horizontal-6a, length_m: 40}, {cable: horizontal-6a, length_m: 12}]"}},
}

var workshopColumns = []string{
	"id", "cable", "length_m", "near_cord_m", "far_cord_m", "cord_awg", "near_cord_cable", "far_cord_cable", "panel", "position",
	"far_panel", "far_position", "outlet", "pathways", "bundle", "installer", "batch", "installed_on", "tested_on", "test_result",
	"test_margin_db", "warranty_until", "design_speed", "device", "passes_through", "connectors", "splices", "strands", "polarity",
	"expected_loss_db", "optic", "far_optic", "owner", "importance", "status", "notes",
}

// workshop writes the Old Workshop down.
func (b *builder) workshop() {
	s := &b.site
	s.spaces = append(s.spaces, `id: W1-TR, name: Old Workshop store, building: Old Workshop, floor: "1"`)
	s.panels = append(s.panels, "id: W1-P1, space: W1-TR, positions: 24", "id: W1-P2, space: W1-TR, positions: 24", "id: W1-F1, space: W1-TR, positions: 12")
	s.pathways = append(s.pathways,
		"id: tray-w1-hall, name: Old Workshop hall tray, ambient_c: 20",
		"id: void-w1-roof, name: Old Workshop roof void, ambient_c: 50",
		"id: wall-w1-kiln, name: Old Workshop kiln wall, near: [pottery kiln]",
		"id: duct-workshop, name: Yard duct to the Old Workshop, ambient_c: 14")
	s.cables = append(s.cables,
		`id: horizontal-6a-screened, media: copper, category: "6A", shield: F/FTP, awg: 23`,
		`id: grey-old, media: copper, shield: U/UTP, awg: 24`,
		`id: box-26, media: copper, category: "6A", shield: U/UTP, awg: 26`,
		`id: cord-6a, media: copper, category: "6A", shield: U/UTP, awg: 24`,
		`id: cord-6a-screened, media: copper, category: "6A", shield: S/FTP, awg: 24`,
		`id: cord-5e, media: copper, category: "5e", shield: U/UTP, awg: 24`,
		`id: yard-om1, media: fibre, fibre: OM1`,
		`id: yard-om2, media: fibre, fibre: OM2`)
	own := sheet{file: "workshop.csv", columns: workshopColumns}
	for _, run := range workshopCopper {
		own.runs = append(own.runs, b.sheetRecord(run, workshopBench(run)))
	}
	for _, run := range workshopFibre {
		own.runs = append(own.runs, b.sheetRecord(run, workshopYard(run)))
	}
	s.sheets = append(s.sheets, own)
	for _, run := range workshopParts {
		row := workshopBench(run)
		if strings.HasPrefix(run.id, "W1-F") {
			row = workshopYard(run)
		}
		row["cable"], row["length_m"] = "", ""
		s.parts = append(s.parts, b.sheetRecord(run, row))
	}
}

// sheetRecord puts what a row has of its own into what all have, and the
// answer book's entry and the test beside it.
func (b *builder) sheetRecord(run sheetRun, r record) record {
	for key, value := range run.keys {
		r[key] = value
	}
	if run.what != "" {
		b.wrong(run.id, run.what, run.because)
	}
	if run.test != nil {
		length, _ := strconv.ParseFloat(r["length_m"], 64)
		b.test(r, *run.test, length)
	}
	return r
}

// place reads "W1-P2-07": the panel W1-P2 and the position 7.
func (run sheetRun) place() (panel string, position int) {
	at := strings.LastIndex(run.id, "-")
	position, _ = strconv.Atoi(run.id[at+1:])
	return run.id[:at], position
}

func workshopBench(run sheetRun) record {
	panel, position := run.place()
	desk := position
	if panel == "W1-P2" {
		desk += 24
	}
	return record{
		"id": run.id, "cable": "horizontal-6a", "length_m": fmt.Sprint(22 + 5*position%31), "near_cord_m": "2", "far_cord_m": "3",
		"panel": panel, "position": fmt.Sprint(position), "outlet": fmt.Sprintf("W%02d-%c", (desk+1)/2, 'A'+(desk+1)%2),
		"pathways": "tray-w1-hall", "bundle": fmt.Sprintf("%s-B%d", panel, (position+11)/12), "installer": "Plover crew", "batch": "reel-19-02",
		"installed_on": "2019-05-20", "tested_on": "2019-06-03", "test_result": "pass", "test_margin_db": fmt.Sprintf("%.1f", 3+float64(position%7)/2),
		"design_speed": "10G", "device": "workstation", "connectors": "2", "owner": "boatbuilding",
	}
}

func workshopYard(run sheetRun) record {
	panel, position := run.place()
	return record{
		"id": run.id, "cable": "riser-om4", "length_m": "180", "panel": panel, "position": fmt.Sprint(position), "far_panel": "N1-F2",
		"far_position": fmt.Sprint(12 + position), "pathways": "duct-workshop", "installer": "Plover crew", "installed_on": "2019-05-27",
		"tested_on": "2019-06-04", "test_result": "pass", "design_speed": "10G", "connectors": "2", "splices": "0", "strands": "2",
		"polarity": "B", "optic": "10GBASE-SR", "far_optic": "10GBASE-SR", "owner": "computing",
	}
}
