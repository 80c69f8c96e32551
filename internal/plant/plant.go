package plant

import (
	"toneout/internal/port"
	"toneout/internal/standards"
)

// Plant is an inventory as read: only rows without a problem. It is not
// changed after Load.
type Plant struct {
	Site     string
	Spaces   []*Space
	Panels   []*Panel
	Pathways []*Pathway
	Cables   []*Cable
	Runs     []*Run
	Tests    []*TestRow
	Files    []string // every file read or tried, to watch for changes

	spaces   map[string]*Space
	panels   map[string]*Panel
	pathways map[string]*Pathway
	cables   map[string]*Cable
	runs     map[string]*Run

	acceptance   map[string]*Acceptance // by run
	sharedPlaces map[place][]*Run       // at which several runs are recorded
}

// Space is a room that holds panels and switches.
type Space struct {
	ID, Name, Building, Floor string
}

// Panel is a patch panel.
type Panel struct {
	ID, Space string
	Positions port.Value[int]
}

// Pathway is a tray, conduit or riser.
type Pathway struct {
	ID, Name string
	Near     []string            // what it passes that may disturb or heat cables
	AmbientC port.Value[float64] // °C
}

// Cable is one type of cable, or cord.
type Cable struct {
	ID       string
	Media    standards.Medium
	Category string          // of copper: 3 to 8; "" where not recorded
	Shield   string          // of copper: ISO/IEC 11801-1 letters, e.g. U/UTP
	AWG      port.Value[int] // conductor size

	Fibre          string              // OM1 to OS2; "" where not recorded
	CoreUM         port.Value[float64] // core diameter, µm, where no grade is known
	ModalBandwidth port.Value[float64] // MHz·km, beside CoreUM
}

// Space gives the space of this id, nil where it was not read; so do the
// others for their kind.
func (p *Plant) Space(id string) *Space { return p.spaces[id] }

// Panel gives the panel of this id, or nil.
func (p *Plant) Panel(id string) *Panel { return p.panels[id] }

// Pathway gives the pathway of this id, or nil.
func (p *Plant) Pathway(id string) *Pathway { return p.pathways[id] }

// Cable gives the cable of this id, or nil.
func (p *Plant) Cable(id string) *Cable { return p.cables[id] }

// Run gives the run of this id, or nil.
func (p *Plant) Run(id string) *Run { return p.runs[id] }

// New makes a plant of rows that are known to be good, e.g. in a test.
func New(rows Plant) *Plant {
	p := rows
	p.spaces = byID(p.Spaces, func(s *Space) string { return s.ID })
	p.panels = byID(p.Panels, func(n *Panel) string { return n.ID })
	p.pathways = byID(p.Pathways, func(w *Pathway) string { return w.ID })
	p.cables = byID(p.Cables, func(c *Cable) string { return c.ID })
	p.runs = byID(p.Runs, func(r *Run) string { return r.ID })
	p.acceptance = acceptances(&p)
	p.sharedPlaces = p.shared()
	return &p
}

func byID[T any](rows []*T, id func(*T) string) map[string]*T {
	m := make(map[string]*T, len(rows))
	for _, row := range rows {
		m[id(row)] = row
	}
	return m
}
