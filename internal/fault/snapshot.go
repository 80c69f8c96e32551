package fault

import (
	"slices"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// Snapshot is the whole plant at one moment. It is never changed once made.
type Snapshot struct {
	At       time.Time // of the last poll; zero before the first
	Plant    *plant.Plant
	Joined   *plant.Joined
	Switches []*Switch      // in the configuration's order
	Faults   []*Fault       // worst first
	Shared   []*SharedCause // likeliest first
	Events   []Event        // since the snapshot before
	Links    []Link         // between watched switches, each once
	Ended    []WorkEnded    // planned work that ended since the snapshot before
	Proofs   []RepairEnded  // repairs that were proven, or failed, since the snapshot before
	Moves    []Move         // what was seen to change its place, latest first; the last 100

	index map[string]int // by name, into Switches
}

// Switch is one switch and its ports.
type Switch struct {
	Name    string
	Address string
	Space   string // an id of the inventory; may be ""

	Tried      bool // whether a first poll has ended, well or not
	Silent     int  // polls that failed since the last answer
	LastAnswer time.Time
	LastTry    time.Time
	Problem    string // why the last poll failed; "" where it did not
	Class      string // the class of that error
	SystemName string // what the switch calls itself
	Uptime     port.Value[uint32]
	Tables     []port.Table
	Details    *port.Details // nil where it never told any
	Engine     string        // its SNMP engine's id; "" where not told
	Suspended  string        // why what is joined to it waits to be confirmed; "" where it does not
	Unplaced   bool          // ports of it were read and not joined since a restart: what was open there is not shown yet
	Planned    bool          // whether work on it is planned and in force
	Behind     string        // the silent switch that hides this silent one; "" for none
	Ports      []Port        // physical ports, in the switch's order

	ports   map[string]int
	waiting bool // unread, and it is not known yet whether another switch hides it
}

// silentPolls is after how many missed polls a switch's ports are unknown and
// its values withdrawn.
const silentPolls = 3

// Answering tells whether the switch has answered one of its last 3 polls.
func (s *Switch) Answering() bool { return !s.LastAnswer.IsZero() && s.Silent < silentPolls }

// Unread tells whether the switch has been asked in vain for 3 polls.
func (s *Switch) Unread() bool { return s.Silent >= silentPolls }

// RefusesCredentials tells whether the switch is there and takes no credentials.
func (s *Switch) RefusesCredentials() bool { return s.Unread() && s.Class == credentialsClass }

// Told tells whether the switch is one to tell people of: it is unread, and
// neither under planned work, nor hidden behind another silent one, nor refusing
// credentials. A switch
// that just became unread waits for up to a polling interval and a quarter,
// until it is seen whether those beside it are silent too.
//
// It may change with the poll of another switch.
func (s *Switch) Told() bool {
	return s.Unread() && !s.Planned && s.Behind == "" && !s.waiting && !s.RefusesCredentials()
}

// credentialsClass is the class of error of a switch that answers and refuses.
const credentialsClass = "credentials"

// Link is a cable between two watched switches, by what they announce to each
// other or by the record.
type Link struct {
	A, B plant.PortRef
	Run  string // "" where the inventory has none
	Seen bool   // whether one of the ends hears the other
}

// Move is something that was seen to change its place.
type Move struct {
	At       time.Time
	What     string // in words: a device, a description, a port's number
	From, To plant.PortRef
}

// Port finds a port by its name.
func (s *Switch) Port(name string) (*Port, bool) {
	i, ok := s.ports[name]
	if !ok {
		return nil, false
	}
	return &s.Ports[i], true
}

// Port is one port as of the switch's last answer.
type Port struct {
	Switch   string
	Name     string // ifName; else ifDescr, else ifIndex
	Run      string // "" where it has none in the inventory
	End      plant.End
	JoinedBy plant.How // "" without a run

	Description string // what is written on it: ifAlias, else ifDescr
	Admin, Oper port.Status
	Speed       standards.Speed // 0 where not known or not up
	Meant       standards.Speed // the speed meant; 0 where not known
	Duplex      standards.Duplex
	PHY         string // IEEE name; "" where the switch does not tell
	LastReading time.Time

	Neighbours []*port.Neighbour // whom it hears
	Peer       plant.PortRef     // the watched switch's port at its other end, as neighbours tell; zero where not known
	Fastest    standards.Speed   // the most that it can do; 0 where not known
	DownSince  time.Time         // since when it has had no link, at the latest; zero where it has one or nothing tells
	ErrorsBy   port.ErrorSource  // what its damaged frames are counted by

	Totals      port.Counters // since watching began; what the switch does not give is absent
	LinkChanges uint64        // likewise, at least
	Carried     uint64        // frames received since the link last came up, as far as watched
	Hour        Hour
	Unjudged    string // why its health cannot be judged by the last reading; "" where it can

	Light  *PortLight  // what its optic tells of light, and ought to; nil where it tells none
	Optic  *port.Optic // the module in it, as last told; nil where none is told
	Power  *port.Power // what it feeds, likewise
	Guards []Guard     // what holds back a judgement of it now; nil for nothing

	device string // as in plant.SeenPort
}

// FrameErrorRatio is damaged frames to all received in the last hour.
func (p *Port) FrameErrorRatio() (Ratio, bool) { return p.Hour.FrameErrors() }

// BitErrorRatio is errored bits to all received in the last hour, at least.
func (p *Port) BitErrorRatio() (Ratio, bool) { return p.Hour.BitErrors() }

// State is how a run is.
type State string

// The states of a run.
const (
	Healthy State = "healthy"
	Faulty  State = "faulty"
	Quiet   State = "quiet"
	Planned State = "planned"
	Unknown State = "unknown" // its switch is silent, or it is not joined
	Idle    State = "idle"    // no link, no traffic yet, or not meant to be in use
)

// Run is one run of the inventory with what is known of it.
type Run struct {
	*plant.Run
	State       State
	Near, Far   *Port // nil where that end is not joined
	NearInWords string
	FarInWords  string
	Faults      []*Fault
}

// NotExpected tells whether the run is plugged in nowhere and by the record is
// not meant to be.
func (r *Run) NotExpected() bool {
	return r.Near == nil && r.Far == nil && (r.Status == plant.Spare || r.Status == plant.Abandoned)
}

// Switch finds a switch of the configuration.
func (s *Snapshot) Switch(name string) (*Switch, bool) {
	i, ok := s.index[name]
	if !ok {
		return nil, false
	}
	return s.Switches[i], true
}

// Tried tells whether every switch was polled once, well or not.
func (s *Snapshot) Tried() bool {
	return !slices.ContainsFunc(s.Switches, func(sw *Switch) bool { return !sw.Tried })
}

// FaultsOf are the open faults of a run, worst first.
func (s *Snapshot) FaultsOf(run string) []*Fault {
	return s.where(func(f *Fault) bool { return f.Run == run && run != "" })
}

// FaultsAt are the open faults that are placed at a port.
func (s *Snapshot) FaultsAt(switchName, portName string) []*Fault {
	return s.where(func(f *Fault) bool { return f.Switch == switchName && f.Port == portName })
}

func (s *Snapshot) where(match func(*Fault) bool) []*Fault {
	out := []*Fault{}
	for _, f := range s.Faults {
		if match(f) {
			out = append(out, f)
		}
	}
	return out
}

// Stale gives the rows of the inventory that no longer fit what is seen.
func (s *Snapshot) Stale() []plant.StaleRow {
	return s.Plant.Stale(s.Joined, func(ref plant.PortRef) (plant.Sighting, bool) {
		sw, watched := s.Switch(ref.Switch)
		p := s.port(ref)
		if !watched || p == nil || !sw.Answering() {
			return plant.Sighting{}, false
		}
		seen := plant.Sighting{Up: p.Oper == port.Up, Fastest: p.Fastest, Device: p.device}
		if !p.DownSince.IsZero() {
			seen.DownFor = s.At.Sub(p.DownSince)
		}
		return seen, true
	})
}

// Run gives one run of the inventory.
func (s *Snapshot) Run(id string) (Run, bool) {
	record := s.Plant.Run(id)
	if record == nil {
		return Run{}, false
	}
	return s.run(record, s.FaultsOf(id)), true
}

// Runs gives every run, in the order of the inventory.
func (s *Snapshot) Runs() []Run {
	faults := make(map[string][]*Fault)
	for _, f := range s.Faults {
		faults[f.Run] = append(faults[f.Run], f)
	}
	out := make([]Run, len(s.Plant.Runs))
	for i, record := range s.Plant.Runs {
		out[i] = s.run(record, faults[record.ID])
	}
	return out
}

func (s *Snapshot) run(record *plant.Run, faults []*Fault) Run {
	near, far := s.Joined.PortsOf(record.ID)
	r := Run{Run: record, Near: s.port(near), Far: s.port(far), Faults: faults}
	r.NearInWords, r.FarInWords = endsAsJoined(record, near, far)
	r.State = s.state(&r)
	return r
}

func (s *Snapshot) port(ref plant.PortRef) *Port {
	sw, ok := s.Switch(ref.Switch)
	if !ok {
		return nil
	}
	p, _ := sw.Port(ref.Port)
	return p
}

// state is unknown before anything else: an end that should answer and does
// not could hide any fault.
func (s *Snapshot) state(r *Run) State {
	switch {
	case r.NotExpected():
		return Idle
	case !s.known(r):
		return Unknown
	}
	for _, f := range r.Faults {
		if !f.Quiet && !f.Planned {
			return Faulty
		}
	}
	switch {
	case slices.ContainsFunc(r.Faults, func(f *Fault) bool { return f.Planned }):
		return Planned
	case len(r.Faults) > 0:
		return Quiet
	case idle(r.Near) || idle(r.Far):
		return Idle
	}
	return Healthy
}

// known tells whether the run is joined, and every end of it that a watched
// switch holds can be judged.
func (s *Snapshot) known(r *Run) bool {
	if r.Near == nil && r.Far == nil {
		return false
	}
	for _, end := range []struct {
		port   *Port
		record plant.PortRef
	}{{r.Near, r.Run.Near()}, {r.Far, r.Run.Far()}} {
		name := end.record.Switch
		if end.port != nil {
			name = end.port.Switch
		}
		sw, watched := s.Switch(name)
		if watched && (end.port == nil || !sw.Answering() || end.port.Unjudged != "") {
			return false
		}
	}
	return true
}

func idle(p *Port) bool { return p != nil && (p.Oper != port.Up || p.Carried == 0) }
