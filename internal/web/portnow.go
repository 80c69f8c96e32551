package web

import (
	"fmt"
	"strings"
	"time"

	"toneout/internal/fault"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// PortNow is what a port says now. What a switch does not tell is left out;
// while it does not answer, so is all that may have changed since.
type PortNow struct {
	Switch      string `json:"switch"`
	Port        string `json:"port"`                // ifName
	Run         string `json:"run"`                 // "" without one in the inventory
	End         string `json:"end,omitempty"`       // near, far
	JoinedBy    string `json:"joined_by,omitempty"` // ifName, ifDescr, ifIndex, description, neighbour
	Description string `json:"description"`         // what is written on the port

	ConfirmedBy []string `json:"confirmed_by"` // what else says so of the join: description, neighbour

	Answering bool   `json:"answering"`         // the switch answered one of its last 3 polls
	Problem   string `json:"problem,omitempty"` // why the last poll failed
	Behind    string `json:"behind,omitempty"`  // the silent switch that hides its silent one

	Link                    string    `json:"link,omitempty"` // ifOperStatus
	Admin                   string    `json:"admin,omitempty"`
	SpeedBitsPerSecond      int64     `json:"speed_bits_per_second,omitempty"`
	SpeedMeantBitsPerSecond int64     `json:"speed_meant_bits_per_second,omitempty"`
	Duplex                  string    `json:"duplex,omitempty"` // half, full
	PHY                     string    `json:"phy,omitempty"`    // IEEE name
	LastHour                *LastHour `json:"last_hour,omitempty"`
	Unjudged                string    `json:"unjudged,omitempty"` // why its health cannot be judged

	Guards []fault.Guard `json:"guards,omitempty"` // what holds back a judgement of it

	ErrorsCountedBy string      `json:"errors_counted_by,omitempty"` // the objects
	ErrorsDoubt     string      `json:"errors_doubt,omitempty"`      // why they are weaker than the best
	DownSince       *time.Time  `json:"down_since,omitempty"`        // at the latest
	Neighbours      []Neighbour `json:"neighbours,omitzero"`         // whom it hears; left out where the switch does not tell
	Peer            *Place      `json:"peer,omitempty"`              // the watched switch's port at its other end, as neighbours tell

	Optic *OpticNow `json:"optic,omitempty"` // left out where none is plugged in, or it tells nothing
	Power *PowerNow `json:"power,omitempty"` // left out where the port feeds none

	LastReading *time.Time        `json:"last_reading,omitempty"`
	Totals      map[string]uint64 `json:"totals"`       // since watching began
	LinkChanges uint64            `json:"link_changes"` // likewise, at least
}

// LastHour is what a port received in the last hour, as far as readings
// compare.
type LastHour struct {
	Seconds         float64 `json:"seconds"`
	Frames          uint64  `json:"frames"`            // good and damaged
	Errored         *uint64 `json:"errored,omitempty"` // damaged; nil where the switch does not count them
	Bits            float64 `json:"bits"`
	FrameErrorRatio *Ratio  `json:"frame_error_ratio,omitempty"`
	BitErrorRatio   *Ratio  `json:"bit_error_ratio,omitempty"` // at one errored bit a damaged frame: the least it can be
}

// Ratio is an estimate with the bounds of its 95 % interval.
type Ratio struct {
	Low      float64 `json:"low"`
	Estimate float64 `json:"estimate"`
	High     float64 `json:"high"`
}

func (r Ratio) String() string { return fault.Ratio(r).String() }

// portNow is nil for no port.
func portNow(s *fault.Snapshot, p *fault.Port) *PortNow {
	if p == nil {
		return nil
	}
	now := &PortNow{
		Switch: p.Switch, Port: p.Name, Run: p.Run, JoinedBy: string(p.JoinedBy), Description: p.Description,
		LastReading: timePointer(p.LastReading), Totals: totals(&p.Totals), LinkChanges: p.LinkChanges,
		ConfirmedBy: confirmations(s, p),
	}
	if p.Run != "" {
		now.End = p.End.String()
	}
	if sw, ok := s.Switch(p.Switch); ok {
		now.Answering, now.Problem, now.Behind = sw.Answering(), sw.Problem, sw.Behind
		now.fill(sw, p)
	}
	return now
}

// fill takes what holds only while the switch answers.
func (now *PortNow) fill(sw *fault.Switch, p *fault.Port) {
	if !now.Answering {
		return
	}
	now.Link, now.Admin = statusWord(p.Oper), statusWord(p.Admin)
	now.SpeedBitsPerSecond, now.SpeedMeantBitsPerSecond = int64(p.Speed), int64(p.Meant)
	if p.Duplex != standards.DuplexUnknown {
		now.Duplex = p.Duplex.String()
	}
	now.PHY, now.Unjudged, now.Guards = p.PHY, p.Unjudged, p.Guards
	now.ErrorsCountedBy, now.ErrorsDoubt = countedBy[p.ErrorsBy].objects, countedBy[p.ErrorsBy].doubt
	now.Neighbours, now.Peer = neighboursOf(sw, p), placePointer(p.Peer)
	now.Optic, now.Power = opticNow(p), powerNow(p.Power)
	if p.Oper != port.Up {
		now.DownSince = timePointer(p.DownSince)
	}
	if p.Hour.Seconds > 0 {
		now.LastHour = lastHour(p)
	}
}

func lastHour(p *fault.Port) *LastHour {
	h := &LastHour{Seconds: p.Hour.Seconds, Frames: p.Hour.Frames, Bits: p.Hour.Bits}
	if !p.Hour.Counted() {
		return h
	}
	errored := p.Hour.Errored
	h.Errored = &errored
	if r, ok := p.FrameErrorRatio(); ok {
		h.FrameErrorRatio = (*Ratio)(&r)
	}
	if r, ok := p.BitErrorRatio(); ok {
		h.BitErrorRatio = (*Ratio)(&r)
	}
	return h
}

// span is the time that the numbers are of: less than an hour while watching
// has just begun, or where readings do not compare.
func (h *LastHour) span() string { return fault.Hour{Seconds: h.Seconds}.Span() }

func statusWord(s port.Status) string {
	if s == port.StatusAbsent {
		return ""
	}
	return s.String()
}

// totals are the counters that the port has, by key.
func totals(c *port.Counters) map[string]uint64 {
	out := map[string]uint64{}
	for k := port.Counter(0); k < port.CounterCount; k++ {
		if v, ok := c.Get(k); ok {
			out[counterKey(k)] = v
		}
	}
	return out
}

func counterKey(k port.Counter) string {
	return strings.ReplaceAll(strings.ToLower(k.String()), " ", "_")
}

// sentence tells how the port is, without a full stop.
func (now *PortNow) sentence() string {
	name := fmt.Sprintf("%s port %s", now.Switch, now.Port)
	switch {
	case !now.Answering && now.Behind != "":
		return fmt.Sprintf("%s is hidden behind %s, which does not answer", now.Switch, now.Behind)
	case !now.Answering:
		return fmt.Sprintf("%s does not answer (%s)", now.Switch, now.Problem)
	case now.Link != port.Up.String():
		return fmt.Sprintf("%s has no link (%s)", name, orWords(now.Link, notTold))
	}
	return fmt.Sprintf("%s is up at %s; %s", name, now.SpeedWords(), orWords(now.Unjudged, now.frames()))
}

// SpeedWords sets the link's speed against the one meant.
func (now *PortNow) SpeedWords() string {
	speed, meant := notTold, standards.Speed(now.SpeedMeantBitsPerSecond)
	if now.SpeedBitsPerSecond > 0 {
		speed = standards.Speed(now.SpeedBitsPerSecond).String()
	}
	switch {
	case meant == 0:
		return speed + " (the speed meant is not known)"
	case meant == standards.Speed(now.SpeedBitsPerSecond):
		return speed + " as meant"
	}
	return fmt.Sprintf("%s (should be %v)", speed, meant)
}

// frames tells what came in within the last hour.
func (now *PortNow) frames() string {
	h := now.LastHour
	switch {
	case h == nil:
		return "no two readings compare yet"
	case h.Errored == nil:
		return "damaged frames are not counted"
	case h.Frames == 0:
		return "no frames received in the last " + h.span()
	}
	return fmt.Sprintf("%s of %s frames received in the last %s were damaged", grouped(*h.Errored), grouped(h.Frames), h.span())
}

// GuardWords are what holds back a judgement of the port, in sentences.
func (now *PortNow) GuardWords() (sentences []string) {
	for _, g := range now.Guards {
		sentences = append(sentences, g.Says)
	}
	return sentences
}
