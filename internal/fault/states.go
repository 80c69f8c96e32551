package fault

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
