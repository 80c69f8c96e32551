package daemon

import (
	"reflect"
	"regexp"
	"slices"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/snmp"
)

// Setup is what the configuration and the inventory say, as read at one time.
// A running daemon can be given another.
type Setup struct {
	Plant    *plant.Plant
	Problems []plant.Problem // of the inventory's files, for the pages
	Switches []Switch
	Labels   *regexp.Regexp // finds a run's id in a description; nil for none

	PollEvery          time.Duration
	SlowEvery          time.Duration // how often details are asked
	FalseAlarmsPerWeek float64
	RepairProof        time.Duration  // that the proof of a repair spans at least; a day where 0
	Repaired           fault.Repaired // repairs confirmed before, by the configuration

	Alertmanagers []string // their URLs
	External      string   // the address that people reach the pages at; "" for no links in alerts

	Files []string          // what it was read from; a change of one calls for reading anew
	Fixed map[string]string // what a daemon holds to from its start, by the configuration's key
	Notes []Note            // what is amiss and bearable
}

// Switch is one switch to watch.
type Switch struct {
	snmp.Target
	Space   string   // an id of the inventory; may be ""
	Serials []string // of its chassis or members, by which a person confirms them; may be empty
}

// Note is something amiss that the daemon can live with.
type Note struct{ What, Detail string }

// asked tells whether two targets are asked in the same way.
func askedAlike(a, b snmp.Target) bool {
	a.Now, b.Now = nil, nil
	return reflect.DeepEqual(a, b)
}

// tellsAlike tells whether two setups tell the same Alertmanagers the same.
func (s *Setup) tellsAlike(other *Setup) bool {
	return slices.Equal(s.Alertmanagers, other.Alertmanagers) && s.External == other.External
}

// settings are what the tracker needs of it.
func (s *Setup) settings() fault.Settings {
	out := fault.Settings{Labels: s.Labels, PollEvery: s.PollEvery, SlowEvery: s.SlowEvery, FalseAlarmsPerWeek: s.FalseAlarmsPerWeek, Repaired: s.Repaired, RepairProof: s.RepairProof}
	for _, sw := range s.Switches {
		out.Switches = append(out.Switches, fault.SwitchSettings{Name: sw.Name, Address: sw.Address, Space: sw.Space, Serials: sw.Serials})
	}
	return out
}
