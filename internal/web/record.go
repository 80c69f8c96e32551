package web

import (
	"path/filepath"
	"time"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// Record is a run's row under the keys of the inventory; what is not recorded
// is left out. Dates are ISO 8601, speeds as in the inventory (10G).
type Record struct {
	ID            string    `json:"id"`
	Switch        string    `json:"switch,omitempty"`
	Port          string    `json:"port,omitempty"`
	FarSwitch     string    `json:"far_switch,omitempty"`
	FarPort       string    `json:"far_port,omitempty"`
	Cable         string    `json:"cable,omitempty"`
	LengthM       *float64  `json:"length_m,omitempty"`
	Segments      []Segment `json:"segments,omitempty"`
	NearCordM     *float64  `json:"near_cord_m,omitempty"`
	FarCordM      *float64  `json:"far_cord_m,omitempty"`
	CordAWG       *int      `json:"cord_awg,omitempty"`
	NearCordCable string    `json:"near_cord_cable,omitempty"`
	FarCordCable  string    `json:"far_cord_cable,omitempty"`

	Panel       string   `json:"panel,omitempty"`
	Position    string   `json:"position,omitempty"`
	FarPanel    string   `json:"far_panel,omitempty"`
	FarPosition string   `json:"far_position,omitempty"`
	Outlet      string   `json:"outlet,omitempty"`
	Pathways    []string `json:"pathways,omitempty"`
	Bundle      string   `json:"bundle,omitempty"`

	Installer     string   `json:"installer,omitempty"`
	Batch         string   `json:"batch,omitempty"`
	InstalledOn   string   `json:"installed_on,omitempty"`
	TestedOn      string   `json:"tested_on,omitempty"`
	TestResult    string   `json:"test_result,omitempty"`
	TestMarginDB  *float64 `json:"test_margin_db,omitempty"`
	WarrantyUntil string   `json:"warranty_until,omitempty"`

	DesignSpeed   string   `json:"design_speed,omitempty"`
	Device        string   `json:"device,omitempty"`
	DeviceSpeed   string   `json:"device_speed,omitempty"`
	PassesThrough []string `json:"passes_through,omitempty"`

	Connectors     *int     `json:"connectors,omitempty"`
	Splices        *int     `json:"splices,omitempty"`
	Strands        string   `json:"strands,omitempty"`
	Polarity       string   `json:"polarity,omitempty"`
	ExpectedLossDB *float64 `json:"expected_loss_db,omitempty"`
	Optic          string   `json:"optic,omitempty"`
	FarOptic       string   `json:"far_optic,omitempty"`

	Owner      string `json:"owner,omitempty"`
	Importance string `json:"importance,omitempty"`
	AlwaysOn   bool   `json:"always_on,omitempty"`
	Status     string `json:"status,omitempty"`
	Notes      string `json:"notes,omitempty"`

	File string `json:"file,omitempty"` // where the row stands; its name without the directory
	Line int    `json:"line,omitempty"`
}

// Segment is one part of a run of several.
type Segment struct {
	Cable    string   `json:"cable,omitempty"`
	LengthM  *float64 `json:"length_m,omitempty"`
	From     string   `json:"from,omitempty"`
	To       string   `json:"to,omitempty"`
	Pathways []string `json:"pathways,omitempty"`
}

func recordOf(r *plant.Run) Record {
	out := Record{
		ID: r.ID, Switch: r.Switch, Port: r.Port, FarSwitch: r.FarSwitch, FarPort: r.FarPort,
		Cable: r.Cable, LengthM: pointer(r.LengthM),
		NearCordM: pointer(r.NearCordM), FarCordM: pointer(r.FarCordM), CordAWG: pointer(r.CordAWG),
		NearCordCable: r.NearCordCable, FarCordCable: r.FarCordCable,
		Panel: r.Panel, Position: r.Position, FarPanel: r.FarPanel, FarPosition: r.FarPosition,
		Outlet: r.Outlet, Pathways: r.Pathways, Bundle: r.Bundle,
		Installer: r.Installer, Batch: r.Batch, InstalledOn: date(r.InstalledOn), TestedOn: date(r.TestedOn),
		TestResult: string(r.TestResult), TestMarginDB: pointer(r.TestMarginDB), WarrantyUntil: date(r.WarrantyUntil),
		DesignSpeed: speedName(r.DesignSpeed), Device: r.Device, DeviceSpeed: speedName(r.DeviceSpeed), PassesThrough: r.PassesThrough,
		Connectors: pointer(r.Connectors), Splices: pointer(r.Splices), Strands: r.Strands, Polarity: r.Polarity,
		ExpectedLossDB: pointer(r.ExpectedLossDB), Optic: r.Optic, FarOptic: r.FarOptic,
		Owner: r.Owner, Importance: string(r.Importance), AlwaysOn: r.AlwaysOn, Status: string(r.Status), Notes: r.Notes,
		Line: r.Line,
	}
	if r.File != "" {
		out.File = filepath.Base(r.File)
	}
	for _, s := range r.Segments {
		out.Segments = append(out.Segments, Segment{s.Cable, pointer(s.LengthM), s.From, s.To, s.Pathways})
	}
	return out
}

func date(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

func speedName(s standards.Speed) string {
	if s == 0 {
		return ""
	}
	return s.String()
}
