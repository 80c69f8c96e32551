package web

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// teller makes the forms of a page: who looks at it, when, and of what.
type teller struct {
	Source
	snapshot *fault.Snapshot
	at       clock
	user     string // "" where there are none
}

func (s Source) teller(r *http.Request, snapshot *fault.Snapshot) teller {
	user, _, _ := r.BasicAuth() // where users are configured, it was verified before
	return teller{s, snapshot, clock{s.Now()}, user}
}

// runForms are the forms of a run's page, by their ids.
var runForms = []string{"taken", "repaired", "planned", "note"}

// runForms are what one may tell of a run.
func (t teller) runForms(run *plant.Run, faults []*fault.Fault) []*form {
	var forms []*form
	if len(faults) > 0 {
		forms = append(forms, t.takenForm(run, faults))
	}
	return append(forms, t.repairForm(run, faults), t.runWorkForm(run), t.noteForm(run))
}

func (t teller) takenForm(run *plant.Run, faults []*fault.Fault) *form {
	f := &form{ID: "taken", Title: "I am on it", Button: "Take it", Action: runURL(run.ID) + "/taken",
		Lead: "Others see that somebody is at it. It stays open, and is told as before."}
	kinds := choices{}
	for _, open := range faults {
		kinds.Of = append(kinds.Of, choice{string(open.Kind), open.Kind.Title()})
	}
	f.add(field{Name: "kind", Label: "Which fault", Kind: "choice", Value: kinds.Of[0].Value, Must: true, Choices: []choices{kinds}})
	f.by(t.user)
	f.add(field{Name: "note", Label: "Note", Kind: "text", Hint: "such as when you will be there; may be left out"})
	f.tell = func(ctx context.Context, f *form) error {
		taken := Taken{Run: run.ID, Kind: f.value("kind"), By: f.value("by"), Note: f.value("note")}
		return record(ctx, t, &taken, t.Journal.Take, checkTaken)
	}
	return f
}

func (t teller) repairForm(run *plant.Run, faults []*fault.Fault) *form {
	f := &form{ID: "repaired", Title: "It is repaired", Button: "Record the repair", Action: runURL(run.ID) + "/repaired",
		Lead: "No fault is open, so there is nothing to prove. The repair is kept all the same."}
	if len(faults) > 0 {
		f.Lead = "Its tests begin afresh. The fault stays listed and is told to nobody until its proof stands; where it returns before, it is told again."
	}
	for _, open := range faults {
		for _, caution := range open.Cautions {
			if !slices.Contains(f.Cautions, caution) {
				f.Cautions = append(f.Cautions, caution)
			}
		}
	}
	f.add(field{Name: "cause", Label: "What was wrong", Kind: "choice", Hint: "what you found, not what was guessed", Must: true,
		Choices: causesToChoose(faults, fault.CausesOn(mediumOf(t.snapshot.Plant, run)))})
	f.by(t.user)
	f.add(field{Name: "note", Label: "Note", Kind: "text", Hint: "such as what you changed; may be left out"})
	f.tell = func(ctx context.Context, f *form) error {
		repair := Repair{Run: run.ID, Cause: f.value("cause"), By: f.value("by"), Note: f.value("note")}
		return record(ctx, t, &repair, t.Journal.Repair, checkRepair)
	}
	return f
}

// namedCauses is how many causes of the open faults come first.
const namedCauses = 5

// causesToChoose are the likeliest causes of open faults, then all that can befall the
// medium.
func causesToChoose(faults []*fault.Fault, all []fault.Cause) []choices {
	likely, others := choices{Heading: "Likeliest by what is seen"}, choices{Heading: "All others"}
	for _, f := range faults {
		for _, c := range f.Causes[:min(namedCauses, len(f.Causes))] {
			if !slices.ContainsFunc(likely.Of, func(x choice) bool { return x.Value == string(c.Cause) }) {
				likely.Of = append(likely.Of, choice{string(c.Cause), c.Cause.Title()})
			}
		}
	}
	for _, c := range all {
		if !slices.ContainsFunc(likely.Of, func(x choice) bool { return x.Value == string(c) }) {
			others.Of = append(others.Of, choice{string(c), c.Title()})
		}
	}
	slices.SortFunc(others.Of, func(a, b choice) int { return cmp.Compare(a.Text, b.Text) })
	if len(likely.Of) == 0 {
		return []choices{{Of: others.Of}}
	}
	return []choices{likely, others}
}

func (t teller) noteForm(run *plant.Run) *form {
	f := &form{ID: "note", Title: "A note", Button: "Keep the note", Action: runURL(run.ID) + "/note",
		Lead: "It is shown here to whoever comes next. Notes are never changed or deleted."}
	f.add(field{Name: "note", Label: "What is to be known", Kind: "text", Must: true})
	f.by(t.user)
	f.tell = func(ctx context.Context, f *form) error {
		note := Note{Run: run.ID, By: f.value("by"), Note: f.value("note")}
		return record(ctx, t, &note, t.Journal.Note, checkNote)
	}
	return f
}

// runWorkForm announces work on a run, or on what it passes.
func (t teller) runWorkForm(run *plant.Run) *form {
	f := &form{ID: "planned", Title: "Planned work", Button: "Announce the work", Action: runURL(run.ID) + "/planned", Lead: whatWorkDoes}
	on := choices{}
	for _, name := range touching(t.snapshot, run) {
		work := fault.PlannedWork{On: name}
		on.Of = append(on.Of, choice{nameOf(name), work.Where(t.snapshot.Plant)})
	}
	f.add(field{Name: "on", Label: "On", Kind: "choice", Value: on.Of[0].Value, Must: true, Choices: []choices{on}})
	t.workFields(f, func(f *form) (fault.SharedName, bool) {
		for _, name := range touching(t.snapshot, run) {
			if nameOf(name) == f.value("on") {
				return name, true
			}
		}
		return fault.SharedName{}, false
	})
	return f
}

func nameOf(n fault.SharedName) string { return string(n.Attribute) + "=" + n.Value }

// whatWorkDoes is said wherever work is announced.
const whatWorkDoes = "While it lasts, what falls short there is shown as planned and told to nobody. At its end is told what is worse than before."

// usualWork is how long work is taken to last where nothing was written.
const usualWork = 4 * time.Hour

// workFields are those of all work, and what becomes of them; on tells what it is on.
func (t teller) workFields(f *form, on func(*form) (fault.SharedName, bool)) {
	zone := t.at.now.Location()
	begins := t.at.now.Truncate(time.Minute)
	in := "in " + t.at.now.Format("MST")
	f.add(field{Name: "from", Label: "From", Kind: "time", Hint: in, Value: begins.Format(wallTimes[0]), Must: true})
	f.add(field{Name: "to", Label: "To", Kind: "time", Hint: in + ", 31 days at most", Value: begins.Add(usualWork).Format(wallTimes[0]), Must: true})
	f.by(t.user)
	f.add(field{Name: "why", Label: "What is done", Kind: "text", Hint: "the faults will show it", Must: true})
	f.tell = func(ctx context.Context, f *form) error {
		name, known := on(f)
		work := PlannedWork{On: map[string]string{string(name.Attribute): name.Value}, By: f.value("by"), Why: f.value("why"), From: f.time("from", zone), To: f.time("to", zone)}
		switch {
		case !known || f.isWrong():
			return nil
		case !work.To.After(work.From):
			f.wrong("to", "This is not after it begins.")
			return nil
		case work.To.Sub(work.From) > longestWork:
			f.wrong("to", "This is more than 31 days after it begins; announce longer work in parts.")
			return nil
		case !work.To.After(t.at.now):
			f.wrong("to", "This is over already.")
			return nil
		}
		return record(ctx, t, &work, t.plan, checkWork)
	}
}

// record checks what was told as the API does, and writes it down.
func record[T any](ctx context.Context, t teller, tell *T, write func(context.Context, *T) error, check func(*T, *fault.Snapshot, string) error) error {
	if err := check(tell, t.snapshot, t.user); err != nil {
		return err
	}
	if err := write(ctx, tell); err != nil {
		return fmt.Errorf("it was not recorded: %w", err)
	}
	return nil
}

// touching is what work may be on that touches a run: the run itself, what it passes,
// and the whole plant.
func touching(s *fault.Snapshot, run *plant.Run) []fault.SharedName {
	names := []fault.SharedName{{Attribute: fault.ByRun, Value: run.ID}}
	add := func(attribute fault.Attribute, values ...string) {
		for _, v := range values {
			if n := (fault.SharedName{Attribute: attribute, Value: v}); v != "" && !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	for _, way := range waysOf(run) {
		if s.Plant.Pathway(way) != nil {
			add(fault.ByPathway, way)
		}
	}
	near, far := s.Joined.PortsOf(run.ID)
	var switches, spaces []string
	for _, name := range []string{run.Switch, near.Switch, run.FarSwitch, far.Switch} {
		if sw, watched := s.Switch(name); watched {
			switches, spaces = append(switches, name), append(spaces, sw.Space)
		}
	}
	for _, id := range []string{run.Panel, run.FarPanel} {
		if panel := s.Plant.Panel(id); panel != nil {
			add(fault.ByPanel, id)
			spaces = append(spaces, panel.Space)
		}
	}
	add(fault.BySwitch, switches...)
	for _, id := range spaces {
		if s.Plant.Space(id) != nil {
			add(fault.BySpace, id)
		}
	}
	add(fault.ByPlant, "all")
	return names
}

// waysOf are all pathways of a run.
func waysOf(run *plant.Run) []string {
	ways := slices.Clone(run.Pathways)
	for _, segment := range run.Segments {
		ways = append(ways, segment.Pathways...)
	}
	return ways
}
