package fault

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// Checkpoint is what a tracker remembers over a restart, read back by
// ReadCheckpoint. What is not in it begins anew: totals, as any counter that
// Prometheus scrapes does, and the last reading, so that the first poll after a
// restart compares with nothing: a gap is a gap.
type Checkpoint struct {
	At       time.Time // when it was begun
	Beside   []byte    // what Recorder.Beside was given
	switches []switchMemory
	network  networkMemory
}

// Switches is how many switches it tells of, Ports how many ports.
func (c *Checkpoint) Switches() int { return len(c.switches) }

// Ports is how many ports it tells of.
func (c *Checkpoint) Ports() (n int) {
	for i := range c.switches {
		n += len(c.switches[i].Ports)
	}
	return n
}

// switchMemory is what is kept of one switch: who it was, and its ports.
type switchMemory struct {
	Name    string
	Serials map[int]string
	Lost    map[int]bool
	Engine  string
	Open    []*suspension
	Gone    map[string]past
	Refresh port.Refresh
	Event   groupEvent
	Rows    []string // of the inventory, where a row put right ends a doubt
	Ports   []portMemory
}

// portMemory is what is kept of one port. Each field is that of portState with
// the same name; the structs' exported fields are kept, so a condition that has
// a field of its own has nothing else to do.
type portMemory struct {
	Name      string // ref.Port
	Run, Unit string
	Index     int
	Heard     []deviceID
	DownSince time.Time
	Hits      hits
	Hour      window
	Far       farEnd
	Slow      slow
	Errors    errorTest
	Proof     *proof
	Detector  []byte // errors.detector
	Others    conditionSet
}

// rowsOf tells where the inventory has the runs of a switch.
func rowsOf(name string, p *plant.Plant) (rows []string) {
	for _, run := range p.Runs {
		if run.Switch == name || run.FarSwitch == name {
			rows = append(rows, fmt.Sprintf("%q at %q %q, %q %q", run.ID, run.Switch, run.Port, run.FarSwitch, run.FarPort))
		}
	}
	slices.Sort(rows)
	return rows
}

// networkMemory is how switches hang together, which tells of silent ones
// which hides which.
type networkMemory struct {
	Cables map[[2]plant.PortRef]time.Time
	Pairs  map[pair]time.Time
	Moves  []Move
	Shared []*hold // what runs share, as it took hold
	Bursts map[string][]burst

	Repaired Repaired // that were confirmed, where it was not kept which
	Proven   map[string]ConfirmedRepair

	Repairs map[string]repairNote // that were taken
	Planned []PlannedWork         // as last told
	Begun   map[string]workBefore // of it, what is in force
}

// memory is what is kept of a switch. One that has not answered since a restart
// is kept as it was.
func (s *switchState) memory() (*switchMemory, error) {
	m := &switchMemory{
		Name: s.name, Serials: s.serials, Lost: s.lost, Engine: s.engine, Open: s.open, Gone: s.gone, Refresh: s.refresh, Event: s.event,
		Ports: make([]portMemory, 0, len(s.kept)+len(s.order)),
	}
	var detectors []byte
	for _, ports := range [][]*portState{s.kept, s.order} {
		for _, p := range ports {
			from := len(detectors)
			var err error
			if detectors, err = p.errors.detector.AppendBinary(detectors); err != nil {
				return nil, fmt.Errorf("write down %v: %w", p.ref, err)
			}
			m.Ports = append(m.Ports, portMemory{
				Name: p.ref.Port, Run: p.run, Unit: p.unit, Index: p.index, Heard: p.heard, DownSince: p.downSince, Hits: p.hits,
				Hour: p.hour, Far: p.far, Slow: p.slow, Errors: p.errors, Proof: p.proof, Detector: detectors[from:], Others: p.conditionSet,
			})
		}
	}
	return m, nil
}

// restored is the port as it was, before its switch's first answer: it is known
// by its number and its unit, and nothing was read of it.
func (m *portMemory) restored(switchName string) (*portState, error) {
	p := &portState{
		ref: plant.PortRef{Switch: switchName, Port: m.Name}, run: m.Run, unit: m.Unit, index: m.Index, heard: m.Heard,
		reading: &port.Reading{Index: m.Index, Unit: m.Unit}, unplaced: true, downSince: m.DownSince, hits: m.Hits,
		hour: m.Hour, far: m.Far, slow: m.Slow, errors: m.Errors, proof: m.Proof, conditionSet: m.Others,
	}
	p.far.Flapped = true // by all we know: nobody watched
	err := p.errors.detector.UnmarshalBinary(m.Detector)
	if err != nil {
		p.errors = errorTest{Source: p.errors.Source}
	}
	if story := p.errors.Story; story != nil && err == nil {
		err = story.Hours.unread
	}
	return p, err
}

// awaited tells that a port is known from before a restart and was not read
// since.
func (p *portState) awaited() bool { return p.reading.At.IsZero() }

// tooOld is from which age on of a checkpoint what was open in it says nothing
// of today. Who is who, and the habits of ports and far ends, last longer
// (common practice, no source).
const tooOld = 30 * 24 * time.Hour

// outdated tells whether that holds of a checkpoint. It does too of one of a clock that
// was ahead: what was open in it would stay so until the clock has caught up.
func (c *Checkpoint) outdated(at time.Time) bool {
	age := at.Sub(c.At)
	return age >= tooOld || age < -storySlack
}

// Restore gives a tracker that has heard of no switch yet what was known
// before. Switches that are not in the settings stay out. It tells of how many
// ports the error test, or the hours that errors keep to, begin anew, since they
// were written down otherwise, and why.
func (t *Tracker) Restore(c *Checkpoint, at time.Time) (anew int, why error) {
	for i := range c.switches {
		m := &c.switches[i]
		s := t.switches[m.Name]
		if s == nil {
			continue
		}
		for j := range m.Ports {
			p, err := m.Ports[j].restored(s.name)
			if err != nil {
				anew, why = anew+1, err
			}
			if c.outdated(at) {
				p.outdate()
			}
			if p.open() {
				p.resumes = c.At
			}
			s.kept = append(s.kept, p)
		}
		t.ports += len(s.kept)
		s.recognise(m, t)
		if c.outdated(at) {
			s.event = groupEvent{}
		}
	}
	t.net.remember(&c.network, at)
	t.moves = c.network.Moves
	t.counted = t.counted.with(c.network.Repaired)
	t.Confirmed(slices.Collect(maps.Values(c.network.Proven))...)
	for id, n := range c.network.Repairs {
		t.repairs[id] = n
	}
	t.restoreWorks(c.network.Planned, c.network.Begun)
	if !c.outdated(at) {
		t.shared.held, t.shared.bursts = c.network.Shared, c.network.Bursts
		t.suspectByBursts()
	}
	return anew, why
}

// recognise lets a switch be the one that it was.
func (s *switchState) recognise(m *switchMemory, t *Tracker) {
	s.identity = identity{serials: m.Serials, lost: m.Lost, engine: m.Engine, open: m.Open, gone: m.Gone}
	s.refresh, s.event = m.Refresh, m.Event
	if s.serials != nil && s.lost == nil {
		s.lost = map[int]bool{}
	}
	for _, u := range s.open {
		u.joins = t.joins
	}
	if m.Rows != nil && !slices.Equal(m.Rows, rowsOf(s.name, t.plant)) {
		s.putRight()
	}
}

// putRight ends doubts about names and numbers, as settle does, of a switch
// whose rows were put right while nobody watched.
func (s *switchState) putRight() {
	s.open = slices.DeleteFunc(s.open, func(u *suspension) bool { return u.Grouped })
	for _, p := range s.kept {
		p.index = 0 // as it is read first
	}
}

// outdate forgets what was open too long ago.
func (p *portState) outdate() {
	p.slow, p.hour, p.downSince, p.proof = slow{}, window{}, time.Time{}, nil
	if p.errors.detector.Open() {
		p.errors = errorTest{Source: p.errors.Source}
	}
	if p.conditionSet.open() {
		p.conditionSet = conditionSet{Light: p.Light.rested(), Loss: p.Loss.rested(), Onset: p.Onset}
	}
	p.Flaps, p.Power.Rose, p.Folded = flapTest{}, nil, nil
}

// wake lets the ports of before a restart be those that the switch is expected
// to show.
func (s *switchState) wake() (woken bool) {
	for _, p := range s.kept {
		s.ports[p.ref.Port] = p
		s.order = append(s.order, p)
	}
	woken, s.kept = len(s.kept) > 0, nil
	return woken
}

// remember takes what was heard before, at the latest now.
func (n *network) remember(m *networkMemory, now time.Time) {
	for cable, heard := range m.Cables {
		n.cables[cable] = earlier(heard, now)
	}
	for p, heard := range m.Pairs {
		n.pairs[p] = earlier(heard, now)
	}
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}
