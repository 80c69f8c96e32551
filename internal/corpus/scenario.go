package corpus

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"gopkg.in/yaml.v3"
)

// Scenario is a small site, what happens on it, and what is to be told of it.
// All times are since the start.
type Scenario struct {
	Says      string        `yaml:"says"`       // what it shows, in a sentence
	Length    time.Duration `yaml:"length"`     // how long it lasts
	Every     time.Duration `yaml:"every"`      // the polling interval
	SlowEvery time.Duration `yaml:"slow_every"` // that of what changes seldom
	Seed      uint64        `yaml:"seed"`       // of its chances; 1 where 0
	Step      time.Duration `yaml:"step"`       // of the physical model; half a second where 0
	Beside    string        `yaml:"beside"`     // the switch that the daemon hangs on; the first where ""
	Switches  []Switch      `yaml:"switches"`
	Runs      []Run         `yaml:"runs"`
	Pathways  []Pathway     `yaml:"pathways"` // that records of runs name
	Events    []Event       `yaml:"events"`
	Expect    []Expected    `yaml:"expect"` // whatever is not here must not be told
}

// Switch is a switch of the site; its telecom room is named after it.
type Switch struct {
	Name       string        `yaml:"name"`
	Members    int           `yaml:"members"`     // of a stack, their ports 2/1 and on; 0 and 1 are no stack
	Copper     int           `yaml:"copper"`      // ports of 10, 100 and 1000BASE-T
	Fibre      int           `yaml:"fibre"`       // cages for optics, numbered after those
	Optic      string        `yaml:"optic"`       // in every cage; 10GBASE-SR where ""
	Cached     time.Duration `yaml:"cached"`      // its counters come from a cache filled this often
	Watts      float64       `yaml:"watts"`       // that it can give over the pairs of its copper ports
	CutThrough string        `yaml:"cut_through"` // the port by which it passes damaged frames on
	Hidden     []string      `yaml:"hidden"`      // tables that it does not show, as in sim.SwitchPlan
}

// Pathway is a tray or riser of the inventory.
type Pathway struct {
	ID, Name string
	Near     []string // what is beside it
}

// Run is a cable of the site with what is plugged in at its far end. With a
// range of ports, "acc-1 1/1..8", it stands for as many, their ids made of its
// own and the port's number.
type Run struct {
	ID      string            `yaml:"id"`
	At      string            `yaml:"at"`       // switch and port
	To      string            `yaml:"to"`       // a kind of device, or switch and port
	Cable   string            `yaml:"cable"`    // OM4, OS2 or 6A between switches, OM4 where ""; 6A to devices
	LengthM float64           `yaml:"length_m"` // 40 where 0
	Joints  int               `yaml:"joints"`   // mated pairs of connectors, on fibre; 2 where 0
	Record  map[string]string `yaml:"record"`   // more keys of its row in the inventory
	Lacks   bool              `yaml:"lacks"`    // the inventory does not have it
}

// Expected is a fault, a switch that does not answer, or a cause that runs
// share, that is to be told.
type Expected struct {
	Run    string `yaml:"run"`    // "P1-*" is each run whose id begins so
	Port   string `yaml:"port"`   // switch and port, where it has no run
	Switch string `yaml:"switch"` // that does not answer
	Shared string `yaml:"shared"` // a cause that runs share, in words: pathway T1
	Kind   string `yaml:"kind"`
	Opens  window `yaml:"opens"`
	Closes window `yaml:"closes"` // without it, it is open to the end
	Cause  string `yaml:"cause"`  // among the first two for most of it
	Folded bool   `yaml:"folded"` // it may be told until what its run shares is found, and is not for most of its time
	Quiet  bool   `yaml:"quiet"`  // it may be listed, any number of times, and is never alarmed
}

// Load reads a scenario. Its errors name file and line.
func Load(path string) (*Scenario, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("scenario: %w", err)
	}
	s := &Scenario{}
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	decoder.KnownFields(true)
	if err := decoder.Decode(s); err != nil {
		return nil, fmt.Errorf("scenario %s: %w", path, err)
	}
	if s.Step == 0 {
		s.Step = 500 * time.Millisecond
	}
	if err := s.check(); err != nil {
		return nil, fmt.Errorf("scenario %s: %w", path, err)
	}
	s.Runs = s.spread()
	s.Expect = s.expectEach()
	return s, nil
}

// Files gives the scenarios of the repository, seen from a package's folder.
func Files() ([]string, error) {
	files, err := filepath.Glob("../../testdata/scenarios/*.yml")
	if err == nil && len(files) == 0 {
		err = errors.New("no scenarios in ../../testdata/scenarios")
	}
	return files, err
}

func (s *Scenario) check() error {
	switch {
	case s.Says == "":
		return errors.New("wants a sentence under says")
	case s.Every <= 0 || s.SlowEvery < s.Every || s.Length <= s.Every:
		return errors.New("wants every, slow_every not below it, and a length above it")
	case len(s.Switches) == 0 || len(s.Runs) == 0:
		return errors.New("wants switches and runs")
	}
	for _, e := range s.Expect {
		switch {
		case e.Switch+e.Shared == "" && e.Kind == "" || e.subject() == "":
			return fmt.Errorf("expected %+v: wants a kind, and a run or a port; or a switch", e)
		case !e.Quiet && e.Opens == (window{}):
			return fmt.Errorf("expected of %s: wants opens, or quiet", e.subject())
		}
	}
	return nil
}

// subject is what it is told of.
func (e *Expected) subject() string { return e.Run + e.Port + e.Switch + e.Shared }

// spread puts single runs in the place of ranges.
func (s *Scenario) spread() (runs []Run) {
	for _, r := range s.Runs {
		stem, last, several := strings.Cut(r.At, "..")
		if !several {
			runs = append(runs, r)
			continue
		}
		slash := strings.LastIndexByte(stem, '/') + 1
		var from, to int
		fmt.Sscan(stem[slash:], &from)
		fmt.Sscan(last, &to)
		for n := from; n <= to; n++ {
			one := r
			one.At, one.ID = fmt.Sprintf("%s%d", stem[:slash], n), fmt.Sprintf("%s-%d", r.ID, n)
			runs = append(runs, one)
		}
	}
	return runs
}

// expectEach puts what is expected of each run in the place of patterns.
func (s *Scenario) expectEach() (all []Expected) {
	for _, e := range s.Expect {
		if !strings.HasSuffix(e.Run, "*") {
			all = append(all, e)
			continue
		}
		pattern := names{e.Run}
		for _, r := range s.Runs {
			if one := e; pattern.chosen(r.ID) {
				one.Run = r.ID
				all = append(all, one)
			}
		}
	}
	return all
}

// window is "13m..16m".
type window struct{ From, To time.Duration }

// UnmarshalYAML reads a window.
func (w *window) UnmarshalYAML(node *yaml.Node) (err error) {
	from, to, ok := strings.Cut(node.Value, "..")
	if w.From, err = time.ParseDuration(from); err == nil {
		w.To, err = time.ParseDuration(to)
	}
	if !ok || err != nil || w.To < w.From {
		return fmt.Errorf("line %d: %q is no window of time such as 13m..16m", node.Line, node.Value)
	}
	return nil
}

func (w window) holds(at time.Duration) bool { return at >= w.From && at <= w.To }

// names is one name or a list of them.
type names []string

// UnmarshalYAML reads names.
func (n *names) UnmarshalYAML(node *yaml.Node) error {
	if node.Kind == yaml.ScalarNode {
		*n = names{node.Value}
		return nil
	}
	return node.Decode((*[]string)(n))
}
