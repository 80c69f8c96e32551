package journal

import (
	"slices"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// FaultRecord is a fault as it was at one moment, as the journal keeps it. Its
// JSON outlasts changes of fault.Fault: keys are added and never change what they
// mean, and what was not told is left out.
type FaultRecord struct {
	Run      string `json:"run,omitempty"`
	Switch   string `json:"switch"`
	Port     string `json:"port"`
	Near     string `json:"near,omitempty"`
	Far      string `json:"far,omitempty"`
	Space    string `json:"space,omitempty"`
	Owner    string `json:"owner,omitempty"`
	Medium   string `json:"medium,omitempty"`
	Along           // by the inventory of then
	Kind     string `json:"kind"`
	About    string `json:"about"`
	Severity string `json:"severity"`

	Since    time.Time       `json:"since"`
	Summary  string          `json:"summary"`
	Evidence []string        `json:"evidence"`
	Causes   []CauseRecord   `json:"causes"` // likeliest first
	Checks   []CheckRecord   `json:"checks"` // in the order in which they were to be done
	Cautions []string        `json:"cautions"`
	Guards   []GuardRecord   `json:"guards,omitempty"`
	Shared   string          `json:"shared_cause,omitempty"`
	Planned  bool            `json:"planned"`
	Quiet    bool            `json:"quiet"`
	Alarm    bool            `json:"alarm"`
	Readings []ReadingRecord `json:"readings,omitempty"` // of the ports at its ends
}

// Along is where a run lies, what it is made of and by whom. What is not recorded
// is left out, as it is of what was written before these keys came.
type Along struct {
	Pathways  []string `json:"pathways,omitempty"`
	Cables    []string `json:"cables,omitempty"`
	Installer string   `json:"installer,omitempty"`
}

// AlongOf is that of a run by an inventory; nothing of a run that it lacks.
func AlongOf(p *plant.Plant, id string) (a Along) {
	run := p.Run(id)
	if run == nil {
		return a
	}
	add := func(list *[]string, ids ...string) {
		for _, id := range ids {
			if id != "" && !slices.Contains(*list, id) {
				*list = append(*list, id)
			}
		}
	}
	add(&a.Pathways, run.Pathways...)
	add(&a.Cables, run.Cable)
	for i := range run.Segments {
		add(&a.Pathways, run.Segments[i].Pathways...)
		add(&a.Cables, run.Segments[i].Cable)
	}
	a.Installer = run.Installer
	return a
}

// CauseRecord is a cause with its probability.
type CauseRecord struct {
	Cause       string  `json:"cause"`
	Probability float64 `json:"probability"`
}

// CheckRecord is a check that was advised.
type CheckRecord struct {
	Code  string `json:"code"`
	Check string `json:"check"`
}

// GuardRecord is why nobody was told, or what was taken into account.
type GuardRecord struct {
	Name string `json:"name"`
	Says string `json:"says"`
}

// ReadingRecord is what a port last said.
type ReadingRecord struct {
	Switch string    `json:"switch"`
	Port   string    `json:"port"`
	At     time.Time `json:"at"`

	Link        string       `json:"link,omitempty"` // ifOperStatus
	Admin       string       `json:"admin,omitempty"`
	Speed       int64        `json:"speed_bits_per_second,omitempty"`
	Meant       int64        `json:"speed_meant_bits_per_second,omitempty"`
	Duplex      string       `json:"duplex,omitempty"`
	PHY         string       `json:"phy,omitempty"`
	HourSeconds float64      `json:"hour_seconds,omitempty"` // of the last hour, as far as readings compare
	HourFrames  uint64       `json:"hour_frames,omitempty"`
	HourBits    float64      `json:"hour_bits,omitempty"`
	HourErrored *uint64      `json:"hour_errored,omitempty"` // absent where they are not counted
	Lanes       []LaneRecord `json:"lanes,omitempty"`
	LinkChanges uint64       `json:"link_changes"` // since watching began, at least
}

// LaneRecord is the light of one lane, in dBm and dB.
type LaneRecord struct {
	Received *float64 `json:"received_dbm,omitempty"`
	Dark     bool     `json:"dark,omitempty"` // the receiver tells that it has no light
	Sent     *float64 `json:"sent_dbm,omitempty"`
	Loss     *float64 `json:"loss_db,omitempty"`
}

// RecordOf is a fault as it is, with the readings of its ends by a snapshot.
func RecordOf(f *fault.Fault, s *fault.Snapshot) FaultRecord {
	r := FaultRecord{
		Run: f.Run, Switch: f.Switch, Port: f.Port, Near: f.Near, Far: f.Far, Space: f.Space, Owner: f.Owner, Medium: f.Medium,
		Kind: string(f.Kind), About: string(f.About), Severity: string(f.Severity), Since: f.Since.UTC(),
		Summary: f.Summary, Evidence: f.Evidence, Cautions: f.Cautions, Shared: f.SharedCause,
		Planned: f.Planned, Quiet: f.Quiet, Alarm: f.Alarm, Along: AlongOf(s.Plant, f.Run),
	}
	for _, c := range f.Causes {
		r.Causes = append(r.Causes, CauseRecord{string(c.Cause), c.Probability})
	}
	for i := range f.NextChecks {
		r.Checks = append(r.Checks, CheckRecord{string(f.NextChecks[i].Code), f.NextChecks[i].Check})
	}
	for _, g := range f.Guards {
		r.Guards = append(r.Guards, GuardRecord{string(g.Name), g.Says})
	}
	for _, p := range endsOf(f, s) {
		r.Readings = append(r.Readings, readingOf(p))
	}
	return r
}

// endsOf are the ports at a fault's ends, as far as they are joined.
func endsOf(f *fault.Fault, s *fault.Snapshot) (ports []*fault.Port) {
	if run, ok := s.Run(f.Run); ok {
		for _, p := range []*fault.Port{run.Near, run.Far} {
			if p != nil {
				ports = append(ports, p)
			}
		}
		return ports
	}
	if sw, ok := s.Switch(f.Switch); ok {
		if p, ok := sw.Port(f.Port); ok {
			ports = append(ports, p)
		}
	}
	return ports
}

func readingOf(p *fault.Port) ReadingRecord {
	r := ReadingRecord{
		Switch: p.Switch, Port: p.Name, At: p.LastReading.UTC(), Link: statusWord(p.Oper), Admin: statusWord(p.Admin), Speed: int64(p.Speed), Meant: int64(p.Meant),
		PHY: p.PHY, HourSeconds: p.Hour.Seconds, HourFrames: p.Hour.Frames, HourBits: p.Hour.Bits, LinkChanges: p.LinkChanges,
	}
	if p.Duplex != standards.DuplexUnknown {
		r.Duplex = p.Duplex.String()
	}
	if p.Hour.Counted() {
		errored := p.Hour.Errored
		r.HourErrored = &errored
	}
	if p.Light != nil {
		for i := range p.Light.Lanes {
			r.Lanes = append(r.Lanes, laneOf(&p.Light.Lanes[i]))
		}
	}
	return r
}

func laneOf(l *fault.LaneLight) (r LaneRecord) {
	if light, told := l.Received.Get(); told && light.Dark() {
		r.Dark = true
	} else if told {
		r.Received = number(float64(light))
	}
	if light, told := l.Sent.Get(); told && !light.Dark() {
		r.Sent = number(float64(light))
	}
	if loss, told := l.Loss.Get(); told {
		r.Loss = number(loss)
	}
	return r
}

func statusWord(s port.Status) string {
	if s == port.StatusAbsent {
		return ""
	}
	return s.String()
}

func number(v float64) *float64 { return &v }
