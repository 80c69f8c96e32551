package metrics

import (
	"slices"
	"strconv"

	"toneout/internal/fault"
)

// faultKey is what a fault keeps while it is open.
type faultKey struct {
	place, port, run string
	kind             fault.Kind
}

// faultState and verdict are the labels that may change meanwhile.
type faultState struct {
	about    fault.About
	severity fault.Severity
	alarm    bool
}

type verdict struct {
	near, far, owner, building string
	cause                      fault.Cause
	told                       fault.Telling // whose words hold still between polls, so that the series lasts
}

// faultSeries is all series of one open fault.
type faultSeries struct {
	labels  *labels // kind, port, run, switch
	state   faultState
	verdict verdict
	open    *series
	info    *series
	causes  map[fault.Cause]*series
	update  uint64       // the update that last saw the fault
	fault   *fault.Fault // as told
}

// updateFaults brings the series of all faults up to date: a poll of one
// switch may change what is said of a run that ends at another. While its
// switch is silent an open fault stays: nothing has shown that it is gone.
func (e *Exposition) updateFaults(s *fault.Snapshot) {
	for _, f := range s.Faults {
		slot := e.fault(f)
		if slot.update == e.updates {
			continue
		}
		slot.update = e.updates
		if slot.fault == f {
			continue // a fault is never changed: this one is told already
		}
		slot.fault = f
		e.updateState(slot, faultState{f.About, f.Severity, f.Alarm})
		e.updateVerdict(slot, verdict{f.Near, f.Far, f.Owner, building(s, f), f.Cause(), f.Telling()})
		e.updateCauses(slot, f.Causes)
	}
	for key, slot := range e.faults {
		if slot.update != e.updates {
			e.dropFault(slot)
			delete(e.faults, key)
		}
	}
}

// fault finds the series of a fault.
func (e *Exposition) fault(f *fault.Fault) *faultSeries {
	key := faultKey{f.Switch, f.Port, f.Run, f.Kind}
	slot := e.faults[key]
	if slot == nil {
		slot = &faultSeries{causes: map[fault.Cause]*series{}}
		slot.labels = labelled(pair("switch", f.Switch), pair("port", f.Port), pair("run", f.Run), pair("kind", string(f.Kind)))
		e.faults[key] = slot
	}
	return slot
}

func (e *Exposition) updateState(slot *faultSeries, now faultState) {
	if slot.open != nil && slot.state == now {
		return
	}
	slot.state = now
	e.runFault.replace(&slot.open, slot.labels.with(
		pair("about", string(now.about)), pair("severity", string(now.severity)),
		pair("alarm", strconv.FormatBool(now.alarm))), 1)
}

func (e *Exposition) updateVerdict(slot *faultSeries, now verdict) {
	if slot.info != nil && slot.verdict == now {
		return
	}
	slot.verdict = now
	e.verdictInfo.replace(&slot.info, slot.labels.with(
		pair("near", now.near), pair("far", now.far), pair("cause", string(now.cause)), pair("owner", now.owner), pair("building", now.building),
		pair("title", now.told.Title), pair("verdict", now.told.Verdict), pair("evidence", now.told.Evidence),
		pair("first_check", now.told.Check), pair("caution", now.told.Caution)), 1)
}

func (e *Exposition) updateCauses(slot *faultSeries, causes []fault.CauseProbability) {
	for _, c := range causes {
		s := slot.causes[c.Cause]
		e.causeProbability.keep(&s, c.Probability, true, func() (*label, *labels) {
			return nil, slot.labels.with(pair("cause", string(c.Cause)))
		})
		slot.causes[c.Cause] = s
	}
	for cause, s := range slot.causes {
		if !slices.ContainsFunc(causes, func(c fault.CauseProbability) bool { return c.Cause == cause }) {
			e.causeProbability.drop(s)
			delete(slot.causes, cause)
		}
	}
}

func (e *Exposition) dropFault(slot *faultSeries) {
	e.runFault.drop(slot.open)
	e.verdictInfo.drop(slot.info)
	for _, s := range slot.causes {
		e.causeProbability.drop(s)
	}
}

// building is where the fault's near end is; "" where that is not recorded.
func building(s *fault.Snapshot, f *fault.Fault) string {
	if space := s.Plant.Space(f.Space); space != nil {
		return space.Building
	}
	return ""
}
