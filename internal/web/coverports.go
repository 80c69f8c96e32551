package web

import (
	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
)

// PortCoverage counts physical ports of all switches that answered once.
type PortCoverage struct {
	Shown     int            `json:"shown"`
	Joined    int            `json:"joined"`
	Confirmed int            `json:"confirmed"` // of those joined: something seen there says the same as the record
	Health    PortHealth     `json:"health"`
	Unjoined  []UnjoinedPort `json:"unjoined"`
	Unjudged  []UnjudgedPort `json:"unjudged"` // with a link whose health cannot be told
	Weaker    []WeakerPort   `json:"weaker"`   // with a link and no better count of damaged frames
}

// PortHealth splits all ports by what their health can be judged by; its parts
// add up to the ports shown.
type PortHealth struct {
	Judged   int `json:"judged"`
	Weaker   int `json:"weaker"`
	Unjudged int `json:"unjudged"`
	NoLink   int `json:"no_link"`  // which says nothing of its run
	NotRead  int `json:"not_read"` // its switch does not answer
}

// UnjoinedPort is a port without a run.
type UnjoinedPort struct {
	Switch      string `json:"switch"`
	Port        string `json:"port"`
	Description string `json:"description"`
	Why         string `json:"why"`
	Link        string `json:"link,omitempty"` // ifOperStatus; left out while its switch does not answer
}

// UnjudgedPort is a port of which too little is told.
type UnjudgedPort struct {
	Switch string `json:"switch"`
	Port   string `json:"port"`
	Run    string `json:"run"` // "" without one in the inventory
	Why    string `json:"why"`
}

// WeakerPort is a port whose damaged frames are counted among others.
type WeakerPort struct {
	Switch    string `json:"switch"`
	Port      string `json:"port"`
	Run       string `json:"run"`
	CountedBy string `json:"counted_by"` // the objects
}

// RunCoverage counts runs of the inventory.
type RunCoverage struct {
	Recorded int                 `json:"recorded"`
	Joined   int                 `json:"joined"` // at one end at least
	States   map[fault.State]int `json:"states"`
	Unjoined []UnjoinedRun       `json:"unjoined"`
}

// UnjoinedRun is an end of a run that should have a switch port and has none.
type UnjoinedRun struct {
	Run string `json:"run"`
	End string `json:"end"`
	Why string `json:"why"`
}

func portCoverage(s *fault.Snapshot) PortCoverage {
	c := PortCoverage{
		Joined:   len(s.Joined.Joins),
		Unjoined: make([]UnjoinedPort, 0, len(s.Joined.UnjoinedPorts)), Unjudged: []UnjudgedPort{}, Weaker: []WeakerPort{},
	}
	for i := range s.Joined.Joins {
		if s.Joined.Joins[i].Confirmed() {
			c.Confirmed++
		}
	}
	for _, sw := range s.Switches {
		c.Shown += len(sw.Ports)
		if !sw.Answering() {
			c.Health.NotRead += len(sw.Ports)
			continue
		}
		for i := range sw.Ports {
			c.judge(&sw.Ports[i])
		}
	}
	for _, u := range s.Joined.UnjoinedPorts {
		c.Unjoined = append(c.Unjoined, unjoinedPort(s, u))
	}
	return c
}

// judge sorts a port of a switch that answers by what its health rests on.
func (c *PortCoverage) judge(p *fault.Port) {
	switch {
	case p.Oper != port.Up:
		c.Health.NoLink++
	case p.Unjudged != "":
		c.Health.Unjudged++
		c.Unjudged = append(c.Unjudged, UnjudgedPort{p.Switch, p.Name, p.Run, p.Unjudged})
	case p.ErrorsBy.Weak():
		c.Health.Weaker++
		c.Weaker = append(c.Weaker, WeakerPort{p.Switch, p.Name, p.Run, countedBy[p.ErrorsBy].objects})
	default:
		c.Health.Judged++
	}
}

func unjoinedPort(s *fault.Snapshot, u plant.UnjoinedPort) UnjoinedPort {
	out := UnjoinedPort{Switch: u.Port.Switch, Port: u.Port.Port, Why: u.Why}
	sw, ok := s.Switch(u.Port.Switch)
	if !ok {
		return out
	}
	if p, ok := sw.Port(u.Port.Port); ok {
		out.Description = p.Description
		if sw.Answering() {
			out.Link = statusWord(p.Oper)
		}
	}
	return out
}

// states of a run in the order in which they are told.
var states = []fault.State{fault.Faulty, fault.Unknown, fault.Quiet, fault.Planned, fault.Idle, fault.Healthy}

func runCoverage(s *fault.Snapshot) RunCoverage {
	c := RunCoverage{States: map[fault.State]int{}, Unjoined: []UnjoinedRun{}}
	for _, state := range states {
		c.States[state] = 0
	}
	for _, r := range s.Runs() {
		c.Recorded++
		c.States[r.State]++
		if r.Near != nil || r.Far != nil {
			c.Joined++
		}
	}
	for _, u := range s.Joined.UnjoinedRuns {
		c.Unjoined = append(c.Unjoined, UnjoinedRun{u.Run.ID, u.End.String(), u.Why})
	}
	return c
}
