package web

import (
	"slices"
	"strings"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
)

// Neighbour is a device that a port hears announce itself (IEEE 802.1AB).
type Neighbour struct {
	System            string   `json:"system,omitempty"`  // its name
	Chassis           string   `json:"chassis,omitempty"` // its id
	Port              string   `json:"port,omitempty"`    // its port at the other end
	PortDescription   string   `json:"port_description,omitempty"`
	SystemDescription string   `json:"system_description,omitempty"`
	Roles             []string `json:"roles"` // as it tells them, in words
}

var roleWords = [...]string{
	port.Other: "other", port.Repeater: "repeater", port.Bridge: "bridge", port.AccessPoint: "access point",
	port.Router: "router", port.Telephone: "telephone", port.CableModem: "cable modem", port.Station: "station",
}

func neighbourOf(n *port.Neighbour) Neighbour {
	out := Neighbour{
		System: n.System, Chassis: n.Chassis.Text, Port: n.Port.Text,
		PortDescription: n.PortText, SystemDescription: n.SystemText, Roles: []string{},
	}
	for role, word := range roleWords {
		if n.Roles.Has(port.Role(role)) {
			out.Roles = append(out.Roles, word)
		}
	}
	return out
}

// neighboursOf is nil where the switch does not tell whom it hears.
func neighboursOf(sw *fault.Switch, p *fault.Port) []Neighbour {
	if !hears(sw) && len(p.Neighbours) == 0 {
		return nil
	}
	out := make([]Neighbour, len(p.Neighbours))
	for i, n := range p.Neighbours {
		out[i] = neighbourOf(n)
	}
	return out
}

const neighbourTable = "lldpRemTable"

// hears tells whether the switch tells what its ports hear, be it nothing.
func hears(sw *fault.Switch) bool {
	return sw.Details != nil && slices.ContainsFunc(sw.Tables, func(t port.Table) bool {
		return t.Name == neighbourTable && (t.State == port.TableGiven || t.State == port.TableEmpty)
	})
}

// words names the neighbour for a person, e.g. "phone-214 port 1 (bridge,
// telephone)".
func (n Neighbour) words() string {
	words := orWords(orWords(n.System, n.Chassis), "a device that gives no name")
	if n.Port != "" && n.Port != n.Chassis {
		words += " port " + n.Port
	}
	if len(n.Roles) > 0 {
		words += " (" + strings.Join(n.Roles, ", ") + ")"
	}
	return clipped(words)
}

// mostNeighbours is how many a page names at one port.
const mostNeighbours = 4

// HeardWords tells whom the port hears, "" for nobody.
func (now *PortNow) HeardWords() string { return neighbourWords(now.Neighbours) }

func neighbourWords(heard []Neighbour) string {
	var words []string
	for i, n := range heard {
		if i == mostNeighbours {
			words = append(words, moreWords(len(heard)-i))
			break
		}
		words = append(words, n.words())
	}
	return strings.Join(words, "; ")
}

// confirmations are what says the same as a port's join, beside what made it.
func confirmations(s *fault.Snapshot, p *fault.Port) []string {
	out := []string{}
	join, ok := s.Joined.At(plant.PortRef{Switch: p.Switch, Port: p.Name})
	if !ok {
		return out
	}
	if join.Described && join.How != plant.ByDescription {
		out = append(out, "description")
	}
	if join.Heard && join.How != plant.ByNeighbour {
		out = append(out, "neighbour")
	}
	return out
}

// HeardAt is a neighbour with the port that hears it.
type HeardAt struct {
	At string `json:"at"` // the switch's own port
	Neighbour
}

// Unit is a chassis or a member of a stack.
type Unit struct {
	Serial   string `json:"serial,omitempty"`
	Model    string `json:"model,omitempty"`
	Position int    `json:"position,omitempty"`
}

// detail adds what the switch tells on a slower clock.
func (now *SwitchNow) detail(sw *fault.Switch) {
	if sw.Details != nil {
		now.Chassis, now.Detailed = sw.Details.Chassis.Text, timePointer(sw.Details.At)
		for _, u := range sw.Details.Units {
			now.Units = append(now.Units, Unit(u))
		}
	}
	for i := range sw.Ports {
		for _, n := range sw.Ports[i].Neighbours {
			now.Neighbours = append(now.Neighbours, HeardAt{sw.Ports[i].Name, neighbourOf(n)})
		}
	}
}
