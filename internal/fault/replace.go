package fault

import (
	"reflect"
	"slices"
	"time"

	"toneout/internal/plant"
)

// Replace gives the tracker another inventory or other settings, and joins
// anew at once. Switches that stay keep what was seen of them, under another
// address too: their identity tells whether they are the same. Switches that
// are no longer named leave with their faults; a fault of a run that is no
// longer in the inventory stays with its port.
func (t *Tracker) Replace(p *plant.Plant, settings Settings, at time.Time) *Snapshot {
	t.settings = settings
	t.recount()
	old := t.switches
	t.switches = make(map[string]*switchState, len(settings.Switches))
	t.order = make([]*switchState, len(settings.Switches))
	t.views = make([]*Switch, len(settings.Switches))
	t.index = make(map[string]int, len(settings.Switches))
	t.untried, t.ports = 0, 0
	for i, sw := range settings.Switches {
		s := old[sw.Name]
		delete(old, sw.Name)
		if s == nil {
			s = &switchState{name: sw.Name, view: &Switch{Name: sw.Name}, ports: map[string]*portState{}}
		}
		t.install(s, i, sw)
	}
	for _, s := range old {
		t.discharge(s)
	}
	t.rerecord(p)
	t.stale, t.work.next = true, withNextPoll
	t.join(at, true)
	t.hide(at)
	return t.Snapshot()
}

// install gives a switch its place in the settings.
func (t *Tracker) install(s *switchState, place int, sw SwitchSettings) {
	s.place = place
	t.switches[s.name], t.order[place], t.index[s.name] = s, s, place
	view := *s.view
	view.Address, view.Space = sw.Address, sw.Space
	t.see(s, &view)
	t.ports += len(s.order) + len(s.kept)
	if !view.Tried {
		t.untried++
	}
}

// discharge takes a switch that is no longer watched out of everything.
func (t *Tracker) discharge(s *switchState) {
	for _, p := range s.order {
		t.dismiss(p)
	}
	t.withdraw(s)
	t.unshown = slices.DeleteFunc(t.unshown, func(o *switchState) bool { return o == s })
	t.places.forgetSwitch(s.name)
	t.labels.forgetSwitch(s.name)
}

// rerecord takes the inventory. A switch whose rows a person put right has no
// more doubts about names and numbers.
func (t *Tracker) rerecord(p *plant.Plant) {
	for _, s := range t.order {
		if s.unsure() && rewritten(s.name, t.plant, p) {
			s.settle()
		}
	}
	t.plant = p
	t.readRecord()
	for _, s := range t.order {
		t.confirm(s)
		for _, port := range s.order {
			t.relabel(port, t.at)
		}
	}
}

// rewritten tells whether the rows that name a switch differ between two
// inventories, wherever they stand in their files.
func rewritten(name string, before, now *plant.Plant) bool {
	rows := func(p *plant.Plant) map[string]plant.Run {
		out := map[string]plant.Run{}
		for _, run := range p.Runs {
			if run.Switch == name || run.FarSwitch == name {
				row := *run
				row.File, row.Line = "", 0
				out[row.ID] = row
			}
		}
		return out
	}
	return !reflect.DeepEqual(rows(before), rows(now))
}
