package plant

import (
	"path/filepath"
	"reflect"
	"strings"
	"time"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// Status is what a run is used for.
type Status string

// The statuses; a row that names none is live.
const (
	Live      Status = "live"
	Spare     Status = "spare"
	Faulty    Status = "faulty"
	Abandoned Status = "abandoned"
)

// Importance moves the severity of a run's faults one step.
type Importance string

// The importances; a row that names none is normal.
const (
	Low    Importance = "low"
	Normal Importance = "normal"
	High   Importance = "high"
)

// TestResult is the overall result of a certification test. The asterisk
// marks a result within the tester's accuracy of the limit (IEC 61935-1,
// ANSI/TIA-1152-A; memory).
type TestResult string

// The results; "" where none is recorded.
const (
	Pass         TestResult = "pass"
	PassMarginal TestResult = "pass*"
	FailMarginal TestResult = "fail*"
	Fail         TestResult = "fail"
)

// Run is one cable path between two ends: the standards' channel. A text that
// is not recorded is "", a date the zero time, a speed 0.
type Run struct {
	ID                  string
	Switch, Port        string // near end; Port as recorded, not always the ifName
	FarSwitch, FarPort  string
	Cable               string              // id
	LengthM             port.Value[float64] // permanent link, without cords
	Segments            []Segment           // instead of Cable and LengthM
	NearCordM, FarCordM port.Value[float64]
	CordAWG             port.Value[int]
	NearCordCable       string // id of a cable
	FarCordCable        string // likewise

	Panel, Position       string
	FarPanel, FarPosition string
	Outlet                string
	Pathways              []string // ids
	Bundle                string

	Installer, Batch string
	InstalledOn      time.Time
	TestedOn         time.Time
	TestResult       TestResult
	TestMarginDB     port.Value[float64] // worst margin; below 0 where the limit is passed
	WarrantyUntil    time.Time

	DesignSpeed   standards.Speed
	Device        string
	DeviceSpeed   standards.Speed
	PassesThrough []string // of "phone", "converter"

	Connectors     port.Value[int] // mated pairs of the whole channel
	Splices        port.Value[int]
	Strands        string // which of the cable's strands, or how many
	Polarity       string
	ExpectedLossDB port.Value[float64]
	Optic          string // IEEE name of the near PHY, e.g. 10GBASE-SR
	FarOptic       string

	Owner      string
	Importance Importance
	AlwaysOn   bool
	Status     Status
	Notes      string

	DraftedFrom  []string // of the cells that Draft filled: key=source, also where since cleared
	DraftDiffers []string // of what was seen otherwise since: key: what now

	File string // where the row stands
	Line int
}

// Segment is one part of a run that has several.
type Segment struct {
	Cable    string // id
	LengthM  port.Value[float64]
	From, To string
	Pathways []string // ids
}

// PortRef names a port of a switch: by what the record says in Near and Far,
// by its ifName in what Join gives. The zero PortRef is no port.
type PortRef struct {
	Switch, Port string
}

func (p PortRef) String() string {
	switch {
	case p.Switch == "":
		return "no port"
	case p.Port == "":
		return p.Switch
	}
	return p.Switch + " port " + p.Port
}

// Near is the port recorded for the near end.
func (r *Run) Near() PortRef { return PortRef{r.Switch, r.Port} }

// Far is the port recorded for the far end.
func (r *Run) Far() PortRef { return PortRef{r.FarSwitch, r.FarPort} }

// At is the port recorded for an end.
func (r *Run) At(e End) PortRef {
	if e == FarEnd {
		return r.Far()
	}
	return r.Near()
}

// DesignSpeedMeant is the speed that the record says the run is meant to
// carry: design_speed, or device_speed where that is lower or alone; 0 where
// the record names neither.
func (r *Run) DesignSpeedMeant() standards.Speed {
	if r.DesignSpeed == 0 || r.DeviceSpeed > 0 && r.DeviceSpeed < r.DesignSpeed {
		return r.DeviceSpeed
	}
	return r.DesignSpeed
}

// Ends tells a person where both ends are by the record, e.g. "acc-n2-1 port
// 1/17, panel N2-P1 position 17" and "outlet 214-A". An end of which nothing
// is recorded is "not recorded".
func (r *Run) Ends() (near, far string) {
	near = whereabouts(r.Near(), r.Panel, r.Position, "", "")
	far = whereabouts(r.Far(), r.FarPanel, r.FarPosition, r.Outlet, r.Device)
	return near, far
}

// place is where the row stands, for messages: without the folder, which pages
// need not tell.
func (r *Run) place() string { return origin{filepath.Base(r.File), r.Line}.String() }

func whereabouts(port PortRef, panel, position, outlet, device string) string {
	var parts []string
	if port.Switch != "" {
		parts = append(parts, port.String())
	}
	if panel != "" {
		panel = "panel " + panel
		if position != "" {
			panel += " position " + position
		}
		parts = append(parts, panel)
	}
	if outlet != "" {
		parts = append(parts, "outlet "+outlet)
	}
	if device != "" {
		parts = append(parts, device)
	}
	if len(parts) == 0 {
		return "not recorded"
	}
	return strings.Join(parts, ", ")
}

// TestRow is one line of a certification test.
type TestRow struct {
	Run          string // id
	TestedOn     time.Time
	Tester       string
	Class        string
	Parameter    string
	Pairs        string
	FrequencyMHz port.Value[float64]
	ValueDB      port.Value[float64]
	AccuracyDB   port.Value[float64] // of the tester at this value, as it states it
	Value, Unit  string              // instead of ValueDB: length, delay, skew, resistance, wire map

	File string
	Line int
}

// SaysAlike tells whether two rows say the same of a run, wherever they stand in
// their files.
func (r *Run) SaysAlike(other *Run) bool {
	a, b := *r, *other
	a.File, a.Line, b.File, b.Line = "", 0, "", 0
	return reflect.DeepEqual(a, b)
}
