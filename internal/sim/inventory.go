package sim

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// record is a row of the college's inventory, by key; absent keys are empty.
type record map[string]string

// site is what the college's people have written down.
type site struct {
	name                             string
	spaces, panels, pathways, cables []string // YAML flow mappings
	runs                             []record
	sheets                           []sheet  // kept by others
	parts                            []record // runs of several pieces
	tests                            []testValue
}

// sheet is a file of runs with columns of its own.
type sheet struct {
	file    string
	columns []string
	runs    []record
}

var runColumns = []string{
	"id", "switch", "port", "far_switch", "far_port", "cable", "length_m", "near_cord_m", "far_cord_m",
	"panel", "position", "far_panel", "far_position", "outlet", "pathways", "bundle", "installer", "batch",
	"installed_on", "tested_on", "test_result", "test_margin_db", "design_speed", "device", "device_speed",
	"connectors", "strands", "polarity", "optic", "far_optic", "owner", "importance", "always_on", "status", "notes",
}

// Inventory gives the inventory's files by name: plant.yml, and the sheets of
// runs and tests that it names.
func (c *Campus) Inventory() map[string]string {
	files := map[string]string{"plant.yml": c.site.plant()}
	for _, sheet := range c.site.files() {
		files[sheet.file] = sheet.csv()
	}
	if len(c.site.tests) > 0 {
		files["tests.csv"] = c.site.testsCSV()
	}
	return files
}

// WriteInventory writes the inventory's files into a directory.
func (c *Campus) WriteInventory(directory string) error {
	for name, text := range c.Inventory() {
		if err := os.WriteFile(filepath.Join(directory, name), []byte(text), 0o644); err != nil {
			return fmt.Errorf("inventory of the simulated campus: %w", err)
		}
	}
	return nil
}

func (s *site) plant() string {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s, as far as its people have written it down.\nsite: %s\n", s.name, s.name)
	for _, list := range []struct {
		key   string
		items []string
	}{{"spaces", s.spaces}, {"panels", s.panels}, {"pathways", s.pathways}, {"cables", s.cables}} {
		fmt.Fprintf(&b, "%s:\n", list.key)
		for _, item := range list.items {
			fmt.Fprintf(&b, "  - {%s}\n", item)
		}
	}
	var files []string
	for _, sheet := range s.files() {
		files = append(files, sheet.file)
	}
	fmt.Fprintf(&b, "runs_files: [%s]\n", strings.Join(files, ", "))
	if len(s.tests) > 0 {
		b.WriteString("tests_files: [tests.csv]\n")
	}
	if len(s.parts) > 0 {
		b.WriteString("runs:\n")
	}
	for _, run := range s.parts {
		fmt.Fprintf(&b, "  - {%s}\n", run.mapping())
	}
	return b.String()
}

// mapping is a record as YAML, its list of segments as it stands.
func (r record) mapping() string {
	items := []string{fmt.Sprintf("id: %s, segments: %s", r["id"], r["segments"])}
	for _, key := range workshopColumns[1:] {
		if value := r[key]; value != "" {
			items = append(items, fmt.Sprintf("%s: %q", key, value))
		}
	}
	return strings.Join(items, ", ")
}

// files are the college's own sheet and those of others.
func (s *site) files() []sheet {
	return append([]sheet{{"runs.csv", runColumns, s.runs}}, s.sheets...)
}

// ids are those of all runs that are written down.
func (s *site) ids() map[string]bool {
	known := map[string]bool{}
	for _, sheet := range append(s.files(), sheet{runs: s.parts}) {
		for _, run := range sheet.runs {
			known[run["id"]] = true
		}
	}
	return known
}

func (s sheet) csv() string {
	rows := [][]string{s.columns}
	for _, run := range s.runs {
		row := make([]string, len(s.columns))
		for i, key := range s.columns {
			row[i] = run[key]
		}
		rows = append(rows, row)
	}
	return written(rows)
}

func (b *builder) record(r record) { b.site.runs = append(b.site.runs, r) }

// rooms writes down the spaces, panels, pathways and cables.
func (b *builder) rooms() {
	s := &b.site
	s.name = "Ferrow Quay College"
	for _, r := range telecomRooms {
		tray := "tray-" + strings.ToLower(r.id)
		s.spaces = append(s.spaces, fmt.Sprintf("id: %s-TR, name: %s, building: %s, floor: %q", r.id, r.name, r.building, r.floor))
		s.panels = append(s.panels,
			fmt.Sprintf("id: %s-F1, space: %s-TR, positions: 24", r.id, r.id),
			fmt.Sprintf("id: %s-P9, space: %s-TR, positions: 24", r.id, r.id))
		east := "ambient_c: 24"
		if tray+"-east" == motorTray {
			east = "near: [lift motor], ambient_c: 35"
		}
		s.pathways = append(s.pathways,
			fmt.Sprintf("id: %s-east, name: %s %s east tray, %s", tray, r.building, r.floor, east),
			fmt.Sprintf("id: %s-west, name: %s %s west tray, ambient_c: 24", tray, r.building, r.floor))
	}
	for _, a := range accessSwitches {
		s.panels = append(s.panels, fmt.Sprintf("id: %s-P%d, space: %s-TR, positions: 48", a.room, a.panel, a.room))
	}
	s.panels = append(s.panels, "id: N1-F2, space: N1-TR, positions: 24")
	s.pathways = append(s.pathways,
		"id: tray-n1-cross, name: North 1 cross tray, ambient_c: 24",
		"id: riser-north, name: North riser, near: [heating pipe], ambient_c: 38",
		"id: duct-south, name: Quad duct to South, ambient_c: 15",
		"id: duct-boathouse, name: Slipway duct to the Boathouse, near: [tidal pit], ambient_c: 12")
	s.cables = []string{
		`id: horizontal-6a, media: copper, category: "6A", shield: U/UTP, awg: 23`,
		`id: horizontal-6, media: copper, category: "6", shield: U/UTP, awg: 23`,
		`id: horizontal-5e, media: copper, category: "5e", shield: U/UTP, awg: 24`,
		`id: riser-om4, media: fibre, fibre: OM4`,
		`id: duct-os2, media: fibre, fibre: OS2`,
	}
}

func roomNumber(a accessSwitch, n int) string {
	return fmt.Sprintf("%c%02d", a.room[1], 25*(a.panel-1)+(n+1)/2)
}

// horizontalRecord writes down a copper run.
func (b *builder) horizontalRecord(s *Switch, a accessSwitch, p *Port, n int, c Cable, plan planting, planted bool) {
	margin := 2 + 7*b.layout.Float64()
	r := record{
		"id": c.ID, "switch": s.Name, "port": p.Name, "cable": a.cable, "length_m": fmt.Sprint(c.LengthM),
		"near_cord_m": "2", "far_cord_m": "3", "panel": fmt.Sprintf("%s-P%d", a.room, a.panel), "position": fmt.Sprint(n),
		"outlet": fmt.Sprintf("%s-%c", roomNumber(a, n), 'A'+(n+1)%2), "pathways": c.Pathways[0],
		"bundle":    fmt.Sprintf("%s-P%d-B%d", a.room, a.panel, (n+11)/12),
		"installer": a.installer, "batch": fmt.Sprintf("reel-%02d-%02d", a.year%100, a.panel*4+(n+11)/12),
		"installed_on": fmt.Sprintf("%d-07-%02d", a.year, 5+a.panel), "tested_on": fmt.Sprintf("%d-08-%02d", a.year, 2+a.panel),
		"test_result": "pass", "test_margin_db": fmt.Sprintf("%.1f", margin), "design_speed": "1G", "connectors": "2",
		"owner": []string{"library", "registry", "harbour studies", "chemistry", "estates"}[(a.panel+n/10)%5],
	}
	if c.Device != nil && c.Device.Kind != "off" {
		r["device"] = c.Device.Kind
		if devices[c.Device.Kind].name != "" && n%2 == 0 {
			r["device"] = c.Device.Name
		}
	}
	if c.Device != nil && (c.Device.Kind == "access point" || c.Device.Kind == "camera") {
		r["always_on"] = "true"
	}
	if !planted {
		b.open = append(b.open, len(b.site.runs))
	}
	if plan.slow != "" {
		r["device_speed"] = plan.slow
	}
	b.record(r)
	if plan.described {
		b.describe(len(b.site.runs) - 1)
	}
}

// backboneRecord writes down a fibre run between two switches; its far end is
// a position of a panel in the main equipment room, which the run is named after.
func backboneRecord(run string, near, far *Port, cable, length, pathway, panel string, position int) record {
	r := record{
		"id": run, "switch": near.owner.Name, "port": near.Name, "far_switch": far.owner.Name, "far_port": far.Name,
		"cable": cable, "length_m": length, "far_panel": run[:5], "far_position": strings.TrimLeft(run[6:], "0"),
		"pathways": pathway, "strands": "2", "connectors": "2", "polarity": "B", "optic": near.Optic, "far_optic": far.Optic,
		"design_speed": "10G", "installer": "Tern crew", "installed_on": "2021-07-20", "tested_on": "2021-07-28",
		"test_result": "pass", "owner": "computing", "importance": "high", "always_on": "true",
	}
	if panel != "" {
		r["panel"], r["position"] = panel, fmt.Sprint(position)
	}
	return r
}

// spares writes down runs that end on no switch: ten a room, two of them abandoned.
func (b *builder) spares() {
	for _, room := range telecomRooms {
		for n := 1; n <= 10; n++ {
			status, notes := "spare", ""
			if n > 8 {
				status, notes = "abandoned", "outlet walled over"
			}
			b.record(record{
				"id": fmt.Sprintf("%s-P9-%02d", room.id, n), "cable": "horizontal-6", "length_m": fmt.Sprint(20 + b.layout.IntN(60)),
				"panel": room.id + "-P9", "position": fmt.Sprint(n), "pathways": "tray-" + strings.ToLower(room.id) + "-west",
				"installer": "Curlew crew", "installed_on": "2016-07-14", "tested_on": "2016-08-02", "test_result": "pass",
				"design_speed": "1G", "status": status, "notes": notes,
			})
		}
	}
}

// describe takes the port out of a record and names the run in the port's description.
func (b *builder) describe(i int) {
	r := b.site.runs[i]
	b.label(r)
	delete(r, "switch")
	delete(r, "port")
}

func (b *builder) label(r record) {
	outlet, _, _ := strings.Cut(r["outlet"], "-")
	b.Switch(r["switch"]).Port(r["port"]).Alias = r["id"] + " room " + outlet
}

// mistakes makes the records what records are: some runs without a port, and
// two pairs of neighbours whose ports were written the wrong way round.
func (b *builder) mistakes() {
	patched := slices.DeleteFunc(slices.Clone(b.open), func(i int) bool { return b.Cable(b.places[b.site.runs[i]["id"]]) == nil })
	for n := range 11 {
		b.describe(patched[5+n*26])
	}
	for _, n := range []int{40, 150} {
		one, other := b.site.runs[patched[n]], b.site.runs[patched[n+1]]
		b.label(one)
		b.label(other)
		one["switch"], other["switch"] = other["switch"], one["switch"]
		one["port"], other["port"] = other["port"], one["port"]
	}
	b.open = slices.DeleteFunc(b.open, func(i int) bool {
		r := b.site.runs[i]
		return r["port"] == "" || !b.recordRight(r)
	})
}
