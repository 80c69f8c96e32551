package plant

import (
	"fmt"
	"time"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// The kinds of rows.
const (
	spaceKind   = "space"
	panelKind   = "panel"
	pathwayKind = "pathway"
	cableKind   = "cable"
	runKind     = "run"
	testKind    = "test"
)

type (
	real    = port.Value[float64]
	whole   = port.Value[int]
	hasKey  = func(key string) bool
	refusal = []string
)

var idOnly = []string{"id"}

var spaceKeys = tableOf(idOnly, nil,
	text("id", func(s *Space) *string { return &s.ID }),
	text("name", func(s *Space) *string { return &s.Name }),
	text("building", func(s *Space) *string { return &s.Building }),
	text("floor", func(s *Space) *string { return &s.Floor }),
)

var panelKeys = tableOf(idOnly, nil,
	text("id", func(p *Panel) *string { return &p.ID }),
	text("space", func(p *Panel) *string { return &p.Space }).to(spaceKind),
	optional("positions", count, func(p *Panel) *whole { return &p.Positions }),
)

var pathwayKeys = tableOf(idOnly, nil,
	text("id", func(p *Pathway) *string { return &p.ID }),
	text("name", func(p *Pathway) *string { return &p.Name }),
	listOf("near", func(p *Pathway) *[]string { return &p.Near }),
	optional("ambient_c", signed, func(p *Pathway) *real { return &p.AmbientC }),
)

var cableKeys = tableOf([]string{"id", "media"}, checkCable,
	text("id", func(c *Cable) *string { return &c.ID }),
	plain("media", wordOf(media), func(c *Cable) *standards.Medium { return &c.Media }),
	plain("category", wordOf(categories), func(c *Cable) *string { return &c.Category }),
	plain("shield", wordOf(shields), func(c *Cable) *string { return &c.Shield }),
	optional("awg", gauge, func(c *Cable) *whole { return &c.AWG }),
	plain("fibre", wordOf(fibres), func(c *Cable) *string { return &c.Fibre }),
	optional("core_um", number, func(c *Cable) *real { return &c.CoreUM }),
	optional("modal_bandwidth_mhz_km", number, func(c *Cable) *real { return &c.ModalBandwidth }),
)

func checkCable(c *Cable, has hasKey) (wrong refusal) {
	conductor := c.Media == standards.Copper || c.Media == standards.Twinax
	for _, only := range []struct {
		key string
		ok  bool
	}{
		{"category", c.Media == standards.Copper}, {"shield", conductor}, {"awg", conductor},
		{"fibre", !conductor}, {"core_um", !conductor},
	} {
		if has(only.key) && !only.ok && c.Media != "" {
			wrong = append(wrong, fmt.Sprintf("%s is not for media %s", only.key, c.Media))
		}
	}
	if has("fibre") && has("core_um") {
		wrong = append(wrong, "fibre and core_um exclude each other: leave one out")
	}
	if has("core_um") != has("modal_bandwidth_mhz_km") {
		wrong = append(wrong, "core_um and modal_bandwidth_mhz_km go together: one is missing")
	}
	return wrong
}

var runKeys = tableOf(idOnly, checkRun,
	text("id", func(r *Run) *string { return &r.ID }),
	text("switch", func(r *Run) *string { return &r.Switch }),
	text("port", func(r *Run) *string { return &r.Port }),
	text("far_switch", func(r *Run) *string { return &r.FarSwitch }),
	text("far_port", func(r *Run) *string { return &r.FarPort }),
	text("cable", func(r *Run) *string { return &r.Cable }).to(cableKind),
	optional("length_m", number, func(r *Run) *real { return &r.LengthM }),
	key[Run]{name: "segments", nest: segments},
	optional("near_cord_m", number, func(r *Run) *real { return &r.NearCordM }),
	optional("far_cord_m", number, func(r *Run) *real { return &r.FarCordM }),
	optional("cord_awg", gauge, func(r *Run) *whole { return &r.CordAWG }),
	text("near_cord_cable", func(r *Run) *string { return &r.NearCordCable }).to(cableKind),
	text("far_cord_cable", func(r *Run) *string { return &r.FarCordCable }).to(cableKind),
	text("panel", func(r *Run) *string { return &r.Panel }).to(panelKind),
	text("position", func(r *Run) *string { return &r.Position }),
	text("far_panel", func(r *Run) *string { return &r.FarPanel }).to(panelKind),
	text("far_position", func(r *Run) *string { return &r.FarPosition }),
	text("outlet", func(r *Run) *string { return &r.Outlet }),
	listOf("pathways", func(r *Run) *[]string { return &r.Pathways }).to(pathwayKind),
	text("bundle", func(r *Run) *string { return &r.Bundle }),
	text("installer", func(r *Run) *string { return &r.Installer }),
	text("batch", func(r *Run) *string { return &r.Batch }),
	plain("installed_on", date, func(r *Run) *time.Time { return &r.InstalledOn }),
	plain("tested_on", date, func(r *Run) *time.Time { return &r.TestedOn }),
	plain("test_result", wordOf(results), func(r *Run) *TestResult { return &r.TestResult }),
	optional("test_margin_db", signed, func(r *Run) *real { return &r.TestMarginDB }),
	plain("warranty_until", date, func(r *Run) *time.Time { return &r.WarrantyUntil }),
	plain("design_speed", speed, func(r *Run) *standards.Speed { return &r.DesignSpeed }),
	text("device", func(r *Run) *string { return &r.Device }),
	plain("device_speed", speed, func(r *Run) *standards.Speed { return &r.DeviceSpeed }),
	listOf("passes_through", func(r *Run) *[]string { return &r.PassesThrough }).from(passThrough),
	optional("connectors", count, func(r *Run) *whole { return &r.Connectors }),
	optional("splices", count, func(r *Run) *whole { return &r.Splices }),
	text("strands", func(r *Run) *string { return &r.Strands }),
	text("polarity", func(r *Run) *string { return &r.Polarity }),
	optional("expected_loss_db", number, func(r *Run) *real { return &r.ExpectedLossDB }),
	plain("optic", phy, func(r *Run) *string { return &r.Optic }),
	plain("far_optic", phy, func(r *Run) *string { return &r.FarOptic }),
	text("owner", func(r *Run) *string { return &r.Owner }),
	plain("importance", wordOf(importances), func(r *Run) *Importance { return &r.Importance }),
	plain("always_on", flag, func(r *Run) *bool { return &r.AlwaysOn }),
	plain("status", wordOf(statuses), func(r *Run) *Status { return &r.Status }),
	listOf("drafted_from", func(r *Run) *[]string { return &r.DraftedFrom }),
	listOf("draft_differs", func(r *Run) *[]string { return &r.DraftDiffers }),
	notes(),
)

func notes() key[Run] {
	k := text("notes", func(r *Run) *string { return &r.Notes })
	k.lines = true
	return k
}

var segmentKeys = tableOf(nil, nil,
	text("cable", func(s *Segment) *string { return &s.Cable }).to(cableKind),
	optional("length_m", number, func(s *Segment) *real { return &s.LengthM }),
	text("from", func(s *Segment) *string { return &s.From }),
	text("to", func(s *Segment) *string { return &s.To }),
	listOf("pathways", func(s *Segment) *[]string { return &s.Pathways }).to(pathwayKind),
)

func checkRun(r *Run, has hasKey) (wrong refusal) {
	for _, pair := range [][2]string{
		{"port", "switch"}, {"far_port", "far_switch"}, {"position", "panel"}, {"far_position", "far_panel"},
	} {
		if has(pair[0]) && !has(pair[1]) {
			wrong = append(wrong, fmt.Sprintf("%s without %s", pair[0], pair[1]))
		}
	}
	if has("segments") && (has("cable") || has("length_m")) {
		wrong = append(wrong, "segments exclude cable and length_m: each segment has its own")
	}
	if has("port") && r.Near() == r.Far() {
		wrong = append(wrong, fmt.Sprintf("both ends are on %s", r.Near()))
	}
	return wrong
}

var testKeys = tableOf([]string{"run", "parameter"}, checkTest,
	text("run", func(t *TestRow) *string { return &t.Run }).to(runKind),
	plain("tested_on", date, func(t *TestRow) *time.Time { return &t.TestedOn }),
	text("tester", func(t *TestRow) *string { return &t.Tester }),
	text("class", func(t *TestRow) *string { return &t.Class }),
	text("parameter", func(t *TestRow) *string { return &t.Parameter }),
	text("pairs", func(t *TestRow) *string { return &t.Pairs }),
	optional("frequency_mhz", number, func(t *TestRow) *real { return &t.FrequencyMHz }),
	optional("value_db", signed, func(t *TestRow) *real { return &t.ValueDB }),
	optional("accuracy_db", number, func(t *TestRow) *real { return &t.AccuracyDB }),
	text("value", func(t *TestRow) *string { return &t.Value }),
	text("unit", func(t *TestRow) *string { return &t.Unit }),
)

// A number means nothing without its unit; a wire map has none.
func checkTest(t *TestRow, has hasKey) (wrong refusal) {
	if has("value_db") == has("value") {
		wrong = append(wrong, "wants one of value_db and value")
	}
	switch _, err := signed(t.Value); {
	case isWireMap(t.Parameter) && t.Value != "":
		if _, err := ParseWireMap(t.Value); err != nil {
			wrong = append(wrong, err.Error())
		}
	case isWireMap(t.Parameter) && has("value_db"):
		wrong = append(wrong, "a wire map wants value, not value_db: pass, or the pins, such as 1-1 2-2 3-6 6-3 4-4 5-5 7-x 8-8")
	case err == nil && !has("unit"):
		wrong = append(wrong, fmt.Sprintf("value %q without unit", t.Value))
	}
	return wrong
}
