package fault

import "maps"

// Twins gives the switches that share an SNMP engine id, which no two may have
// (RFC 3411 5), by that id and in the order of the configuration.
func (s *Snapshot) Twins() map[string][]string {
	sharing := make(map[string][]string)
	for _, sw := range s.Switches {
		if sw.Engine != "" {
			sharing[sw.Engine] = append(sharing[sw.Engine], sw.Name)
		}
	}
	maps.DeleteFunc(sharing, func(_ string, names []string) bool { return len(names) < 2 })
	return sharing
}

// States counts the runs by state. Together they are all runs of the
// inventory.
func (s *Snapshot) States() map[State]int {
	faults := make(map[string][]*Fault)
	for _, f := range s.Faults {
		faults[f.Run] = append(faults[f.Run], f)
	}
	count := make(map[State]int)
	for _, record := range s.Plant.Runs {
		near, far := s.Joined.PortsOf(record.ID)
		r := Run{Run: record, Near: s.port(near), Far: s.port(far), Faults: faults[record.ID]}
		count[s.state(&r)]++
	}
	return count
}
