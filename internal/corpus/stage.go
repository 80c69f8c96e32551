package corpus

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"toneout/internal/sim"
)

// Stage is a scenario's site while its events pass.
type Stage struct {
	Campus *sim.Campus

	scenario *Scenario
	begin    time.Time
	laid     map[string]*sim.Cable // by run
	left     []action              // in order
}

// Stage builds the site of a scenario that starts at a time.
func (s *Scenario) Stage(begin time.Time) (*Stage, error) {
	stage := &Stage{Campus: sim.NewCampus(cmp.Or(s.Seed, 1), begin), scenario: s, begin: begin, laid: map[string]*sim.Cable{}}
	stage.Campus.Step = s.Step
	for i, sw := range s.Switches {
		stage.Campus.AddSwitch(sim.SwitchPlan{
			Name: sw.Name, Space: sw.room(), Members: sw.Members, Copper: sw.Copper, Fibre: sw.Fibre, Optic: cmp.Or(sw.Optic, usualOptic),
			Without: sw.Hidden, Watts: sw.Watts, CutThrough: sw.CutThrough, Quirks: sim.Quirks{Refresh: sw.Cached}, First: 1 + 100*i, Up: time.Duration(40+i) * 24 * time.Hour,
		})
	}
	for _, r := range s.Runs {
		if err := stage.lay(r); err != nil {
			return nil, err
		}
	}
	for i := range s.Events {
		actions, err := s.Events[i].actions(stage)
		if err != nil {
			return nil, err
		}
		stage.left = append(stage.left, actions...)
	}
	slices.SortStableFunc(stage.left, func(a, b action) int { return cmp.Compare(a.at, b.at) })
	return stage, nil
}

const usualOptic = "10GBASE-SR"

func (s *Switch) room() string { return strings.ToUpper(s.Name) + "-TR" }

// Begin is when the stage begins.
func (s *Stage) Begin() time.Time { return s.begin }

// lay lays a run: copper to a device of a kind that sim knows, or fibre to
// another switch.
func (s *Stage) lay(r Run) error {
	near, err := s.port(r.At)
	if err != nil {
		return fmt.Errorf("run %s: %w", r.ID, err)
	}
	cable := sim.Plug(r.ID, near, r.To)
	if cable.Device == nil && r.To != "nothing" {
		far, err := s.port(r.To)
		if err != nil {
			return fmt.Errorf("run %s: %q is neither a device nor a port: %w", r.ID, r.To, err)
		}
		cable.B, cable.Media, cable.Kind = far, far.Media, cmp.Or(r.Cable, "OM4")
		cable.AtoB, cable.BtoA = upwards, downwards
		cable.Connectors = r.joints()
	}
	cable.LengthM = r.length()
	s.laid[r.ID] = s.Campus.Connect(cable)
	return nil
}

// What crosses a run between two switches.
var (
	mix       = []sim.Share{{Octets: 64, Of: 0.35}, {Octets: 594, Of: 0.15}, {Octets: 1518, Of: 0.5}}
	upwards   = sim.Flow{Bits: 150e6, Mix: mix, Broadcast: 2, Multicast: 4}
	downwards = sim.Flow{Bits: 420e6, Mix: mix, Broadcast: 5, Multicast: 8}
)

func (r *Run) length() float64 { return cmp.Or(r.LengthM, 40) }

func (r *Run) joints() int { return cmp.Or(r.Joints, 2) }

// port finds "acc-1 1/3".
func (s *Stage) port(place string) (*sim.Port, error) {
	name, port, _ := strings.Cut(place, " ")
	sw := s.Campus.Switch(name)
	if sw == nil {
		return nil, fmt.Errorf("there is no switch in %q", place)
	}
	for _, p := range sw.Ports() {
		if p.Name == port {
			return p, nil
		}
	}
	return nil, fmt.Errorf("there is no port in %q", place)
}

// cables are those of the runs that an event is on.
func (s *Stage) cables(on names) (out []*sim.Cable, err error) {
	for _, r := range s.scenario.Runs {
		if on.chosen(r.ID) {
			out = append(out, s.laid[r.ID])
		}
	}
	if len(out) < len(on) {
		return nil, fmt.Errorf("an event is on %v, which are not all runs", on)
	}
	return out, nil
}

func (s *Stage) switches(on names) (out []*sim.Switch, err error) {
	for _, sw := range s.Campus.Switches() {
		if on.chosen(sw.Name) {
			out = append(out, sw)
		}
	}
	if len(out) < len(on) {
		return nil, fmt.Errorf("an event is on %v, which are not all switches", on)
	}
	return out, nil
}

// Pass lets happen what is due by a time, each at its own moment.
func (s *Stage) Pass(now time.Time) {
	for len(s.left) > 0 && !s.begin.Add(s.left[0].at).After(now) {
		next := s.left[0]
		s.left = s.left[1:]
		next.do(s.begin.Add(next.at))
	}
}

// Reached are the switches that the daemon reaches at a time.
func (s *Stage) Reached(now time.Time) map[*sim.Switch]bool {
	beside := s.Campus.Switch(s.scenario.Beside)
	if beside == nil {
		beside = s.Campus.Switches()[0]
	}
	return s.Campus.Reachable(now, beside)
}

// WriteInventory writes the site's plant.yml into a directory and gives its path.
func (s *Scenario) WriteInventory(directory string) (string, error) {
	var spaces []map[string]string
	for i := range s.Switches {
		room := s.Switches[i].room()
		spaces = append(spaces, map[string]string{"id": room, "name": "Telecom room " + room})
	}
	var rows []map[string]string
	for _, r := range s.Runs {
		if !r.Lacks {
			rows = append(rows, r.row())
		}
	}
	site := map[string]any{"site": "Ferrow Quay College", "spaces": spaces, "cables": cables, "runs": rows}
	if len(s.Pathways) > 0 {
		site["pathways"] = s.Pathways
	}
	data, err := yaml.Marshal(site)
	path := filepath.Join(directory, "plant.yml")
	if err == nil {
		err = os.WriteFile(path, data, 0o600)
	}
	return path, err
}

// cables are the kinds of cable of every site.
var cables = []map[string]string{
	{"id": "6A", "media": "copper", "category": "6A", "shield": "U/UTP", "awg": "23"},
	{"id": "OM4", "media": "fibre", "fibre": "OM4"},
	{"id": "OS2", "media": "fibre", "fibre": "OS2"},
}

// row is the run's row of the inventory.
func (r *Run) row() map[string]string {
	near := strings.Fields(r.At)
	row := map[string]string{"id": r.ID, "switch": near[0], "port": near[1], "cable": "6A", "design_speed": "1G"}
	row["length_m"] = fmt.Sprint(r.length())
	if far := strings.Fields(r.To); len(far) == 2 && strings.Contains(far[1], "/") {
		row["far_switch"], row["far_port"] = far[0], far[1]
		if row["cable"] = cmp.Or(r.Cable, "OM4"); row["cable"] != "6A" {
			row["design_speed"], row["connectors"], row["strands"] = "10G", fmt.Sprint(r.joints()), "2"
		}
	}
	for key, value := range r.Record {
		row[key] = value
	}
	return row
}
