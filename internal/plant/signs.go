package plant

import (
	"fmt"
	"slices"
)

// sign is a run that something seen at a port itself points to: the port's
// description, or the device that it hears.
type sign struct {
	run *Run
	how How
}

// readDevices finds the run whose device each port hears. A name that several
// records give or several ports hear tells nothing.
func (j *joiner) readDevices() {
	byName := map[string]*Run{}
	for _, run := range j.plant.Runs {
		name := fold(run.Device)
		if _, twice := byName[name]; twice {
			byName[name] = nil
			continue
		}
		byName[name] = run
	}
	delete(byName, "")
	hears := func(i int) string {
		if s := &j.seen[i]; s.Device != "" && s.Physical && !j.twins[i] {
			return fold(s.Device)
		}
		return ""
	}
	ports := map[string]int{}
	for i := range j.seen {
		ports[hears(i)]++
	}
	for i := range j.seen {
		if name := hears(i); name != "" && ports[name] == 1 {
			j.devices[i] = byName[name]
		}
	}
}

// signs gives what is seen at a port, its description first.
func (j *joiner) signs(i int) (out []sign) {
	if run := j.labels[i]; run != nil {
		out = append(out, sign{run, ByDescription})
	}
	if run := j.devices[i]; run != nil {
		out = append(out, sign{run, ByNeighbour})
	}
	return out
}

// contrary gives the signs at a port that name another run than this.
func (j *joiner) contrary(i int, run *Run) []sign {
	signs := slices.DeleteFunc(j.signs(i), func(s sign) bool { return s.run == run })
	if len(signs) == 2 && signs[0].run == signs[1].run {
		return signs[:1]
	}
	return signs
}

// named gives the run that the signs at a port name, nil for none or two.
func (j *joiner) named(i int) *Run {
	label, device := j.labels[i], j.devices[i]
	switch {
	case device == nil || device == label:
		return label
	case label == nil:
		return device
	}
	return nil
}

// saying tells a sign, as a part of a sentence.
func (j *joiner) saying(i int, s sign) string {
	if s.how == ByDescription {
		return fmt.Sprintf("the port's description says run %s", s.run.ID)
	}
	return fmt.Sprintf("the port hears %q, which the record of run %s (%s) names as its device", j.seen[i].Device, s.run.ID, s.run.place())
}

// weighDoubts suspends the records that name ports in doubt and that nothing
// seen there confirms, and lists them once for each switch and reason.
func (j *joiner) weighDoubts() {
	type group struct {
		ports []int
		runs  []*Run
	}
	groups := map[PortRef]*group{} // the reason in the place of a port
	var order []PortRef
	for i, claims := range j.claims {
		s := &j.seen[i]
		if s.Doubt == "" || len(claims) == 0 {
			continue
		}
		key := PortRef{s.Switch, s.Doubt}
		for _, claim := range claims {
			if claim.sure {
				continue
			}
			j.hold(claim, s.Doubt)
			if groups[key] == nil {
				groups[key] = &group{}
				order = append(order, key)
			}
			g := groups[key]
			g.ports, g.runs = append(g.ports, i), append(g.runs, claim.run)
		}
		if len(standing(claims)) == 0 {
			j.why[i], j.told[i] = s.Doubt, true
		}
	}
	for _, key := range order {
		g := groups[key]
		text := fmt.Sprintf("%s: %s; the runs recorded there are not joined until the ports' descriptions or neighbours confirm them, or a person does", key.Switch, key.Port)
		j.list(text, unique(g.ports), g.runs)
	}
}
