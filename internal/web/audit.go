package web

import (
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/standards"
)

// AuditReport is the judgement of every run as /api/audit and toneout audit
// give it.
type AuditReport struct {
	At *time.Time `json:"at,omitempty"` // of the last poll; left out where no switch was asked
	plant.Audit
	Readiness []Readiness `json:"readiness,omitempty"` // where it is asked for
}

// Readiness is whether a run is ready for a speed.
type Readiness struct {
	Run     string   `json:"run"`
	Speed   string   `json:"speed,omitempty"` // left out where nothing tells what the next one is
	Answer  string   `json:"answer"`          // "by the record yes, test needed", "no", "not known"
	Because []string `json:"because"`
	Also    []string `json:"also,omitempty"` // what else than the cable is in the way
}

// NextSpeed is the word for each run's own next speed.
const NextSpeed = "next"

// UpgradeWords are what may be asked for as an upgrade.
func UpgradeWords() []string {
	out := []string{NextSpeed}
	for _, speed := range standards.Speeds() {
		out = append(out, speed.String())
	}
	return out
}

// ReadyFor tells of every run whether it is ready for a speed, or with
// NextSpeed for its own next one; runs that have the last already are left out.
// The error is for a word that is neither.
func ReadyFor(p *plant.Plant, upgrade string, seen map[string]plant.Seen) ([]Readiness, error) {
	var speed standards.Speed
	if upgrade != NextSpeed {
		var err error
		if speed, err = standards.ParseSpeed(upgrade); err != nil {
			return nil, fmt.Errorf("%w, or %s", err, NextSpeed)
		}
	}
	out := []Readiness{}
	for _, r := range p.Runs {
		if ready := readyFor(p, r, speed, seen[r.ID]); ready != nil {
			out = append(out, *ready)
		}
	}
	return out, nil
}

// readyFor judges one run, for its next speed where speed is 0; nil where it
// has the last one already.
func readyFor(p *plant.Plant, r *plant.Run, speed standards.Speed, seen plant.Seen) *Readiness {
	if speed == 0 {
		var ok bool
		if speed, ok = p.NextSpeed(r, seen); !ok {
			return noNext(p, r, seen)
		}
	}
	ready := p.Ready(r, speed, seen)
	return &Readiness{r.ID, speedName(ready.Speed), string(ready.Answer), append([]string{}, ready.Because...), ready.Also}
}

// noNext says why nothing tells a run's next speed; nil at the last one.
func noNext(p *plant.Plant, r *plant.Run, seen plant.Seen) *Readiness {
	why := ""
	switch {
	case p.Expected(r, seen).Medium == "":
		why = "what kind of cable it is is not recorded"
	case max(r.DesignSpeed, r.DeviceSpeed, seen.Near.Speed, seen.Far.Speed) == 0:
		why = "no speed is recorded that the next one could follow"
	default:
		return nil
	}
	return &Readiness{Run: r.ID, Answer: string(plant.NotKnown), Because: []string{why}}
}

// auditor keeps the audit of a moment, so that many who ask cost one.
type auditor struct {
	inventory func() InventoryState

	mutex  sync.Mutex
	latest *audited
}

// audited is an audit with what it was made of.
type audited struct {
	report AuditReport
	plant  *plant.Plant
	at     time.Time // of the snapshot
	loaded time.Time // when the inventory was
	seen   map[string]plant.Seen

	mutex sync.Mutex
	ready map[string][]Readiness // by upgrade word, once asked for
}

// auditHolds is how long an audit holds while the inventory stays.
const auditHolds = 30 * time.Second

// of gives the audit of a snapshot, or of one shortly before.
func (a *auditor) of(s *fault.Snapshot) *audited {
	inventory := a.inventory()
	a.mutex.Lock()
	defer a.mutex.Unlock()
	if l := a.latest; l == nil || l.plant != s.Plant || !l.loaded.Equal(inventory.Loaded) || s.At.Sub(l.at).Abs() >= auditHolds {
		a.latest = auditOf(s, inventory)
	}
	return a.latest
}

func auditOf(s *fault.Snapshot, inventory InventoryState) *audited {
	a := &audited{plant: s.Plant, at: s.At, loaded: inventory.Loaded, seen: seenRuns(s), ready: map[string][]Readiness{}}
	others := append(s.Plant.ProblemFindings(inventory.Problems), s.Plant.JoinFindings(s.Joined, waits(s))...)
	a.report = AuditReport{At: timePointer(s.At), Audit: *s.Plant.Audit(a.seen, others...)}
	for i := range a.report.Findings {
		withoutFolder(&a.report.Findings[i])
	}
	return a
}

// withoutFolder leaves of a file what pages need tell.
func withoutFolder(f *plant.Finding) {
	if f.File != "" {
		f.File = filepath.Base(f.File)
	}
}

// waits tells of an end without a port whether that is no fault of the record:
// its switch does not answer, or the record leaves the port to descriptions and
// neighbours, of which Coverage tells.
func waits(s *fault.Snapshot) func(plant.UnjoinedRun) bool {
	return func(u plant.UnjoinedRun) bool {
		at := u.Run.At(u.End)
		sw, watched := s.Switch(at.Switch)
		silent := watched && (!sw.Answering() || sw.Suspended != "") && !u.Gone
		return at.Switch == "" || at.Port == "" || silent
	}
}

// readyFor gives the readiness of every run for one of UpgradeWords.
func (a *audited) readyFor(upgrade string) ([]Readiness, error) {
	a.mutex.Lock()
	defer a.mutex.Unlock()
	if ready, known := a.ready[upgrade]; known {
		return ready, nil
	}
	ready, err := ReadyFor(a.plant, upgrade, a.seen)
	if err == nil {
		a.ready[upgrade] = ready
	}
	return ready, err
}

// findingsOf are the findings of one run.
func (a *audited) findingsOf(run string) []plant.Finding {
	return slices.DeleteFunc(slices.Clone(a.report.Findings), func(f plant.Finding) bool { return f.Run != run })
}

// spaceOf is the space of a run by its id.
func (a *audited) spaceOf(run string) string { return a.plant.SpaceOf(a.plant.Run(run)) }
