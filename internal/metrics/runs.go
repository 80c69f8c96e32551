package metrics

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// updateRuns tells anew what the inventory says of its runs, where it or the
// joins changed.
func (e *Exposition) updateRuns(s *fault.Snapshot) {
	if s.Plant == e.plant && s.Joined == e.joined {
		return
	}
	e.plant, e.joined = s.Plant, s.Joined
	rows := make([]row, 0, len(s.Plant.Runs))
	for _, run := range s.Plant.Runs {
		rows = append(rows, row{value: 1, labels: infoLabels(s, run)})
	}
	e.runInfo.become(rows)
}

func infoLabels(s *fault.Snapshot, run *plant.Run) *labels {
	at := speaker(s, run.ID)
	cables, pathways, length := parts(run)
	var media []string
	for _, id := range cables {
		if cable := s.Plant.Cable(id); cable != nil {
			media = append(media, string(cable.Media))
		}
	}
	return labelled(
		pair("switch", at.Switch), pair("port", at.Port), pair("run", run.ID),
		pair("media", list(media)), pair("cable", list(cables)), pair("length_m", length),
		pair("panel", run.Panel), pair("position", run.Position), pair("outlet", run.Outlet),
		pair("pathway", list(pathways)), pair("bundle", run.Bundle), pair("installer", run.Installer),
		pair("space", spaceOf(s, run, at)))
}

// countEvery is how often the runs are counted, since a count looks at all.
const countEvery = 5 * time.Second

// runStates are all states of a run.
var runStates = []fault.State{fault.Healthy, fault.Faulty, fault.Quiet, fault.Planned, fault.Unknown, fault.Idle}

// countRuns tells how many runs are in each state.
func (e *Exposition) countRuns(s *fault.Snapshot) {
	if since := s.At.Sub(e.counted); len(e.runs.rows) > 0 && since >= 0 && since < countEvery {
		return
	}
	e.counted = s.At
	count := s.States()
	rows := make([]row, 0, len(runStates))
	for _, state := range runStates {
		rows = append(rows, row{value: float64(count[state]), labels: labelled(pair("state", string(state)))})
	}
	e.runs.become(rows)
}

// parts gives the cables and pathways along a run, and its length in metres,
// "" where a part's is not recorded.
func parts(run *plant.Run) (cables, pathways []string, length string) {
	segments := run.Segments
	if len(segments) == 0 {
		segments = []plant.Segment{{Cable: run.Cable, LengthM: run.LengthM}}
	}
	pathways = slices.Clone(run.Pathways)
	sum, known := 0.0, true
	for _, part := range segments {
		cables = append(cables, part.Cable)
		pathways = append(pathways, part.Pathways...)
		m, ok := part.LengthM.Get()
		sum, known = sum+m, known && ok
	}
	if known {
		length = strconv.FormatFloat(sum, 'g', -1, 64)
	}
	return cables, pathways, length
}

// spaceOf is the room of the run's port, else of its panel.
func spaceOf(s *fault.Snapshot, run *plant.Run, at plant.PortRef) string {
	if sw, ok := s.Switch(at.Switch); ok && sw.Space != "" {
		return sw.Space
	}
	if panel := s.Plant.Panel(run.Panel); panel != nil {
		return panel.Space
	}
	return ""
}

// list is a label of several values, each once, in their order.
func list(values []string) string {
	var each []string
	for _, v := range values {
		if v != "" && !slices.Contains(each, v) {
			each = append(each, v)
		}
	}
	return strings.Join(each, ";")
}
