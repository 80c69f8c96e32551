package metrics

import (
	"strconv"

	dto "github.com/prometheus/client_model/go"

	"toneout/internal/fault"
	"toneout/internal/port"
)

// switchSeries is all series of one switch.
type switchSeries struct {
	label    *dto.LabelPair
	labels   *labels
	up       *series
	unread   *series
	silence  silence // that unread tells of
	tables   [len(tableStates)]*series
	coverage [len(covers)]*series
	ports    map[string]*portSeries // by ifName
	polls    map[string]*series     // by outcome
	seconds  *histogram
}

// silence is what is said of a switch that is not read.
type silence struct{ class, behind string }

var tableStates = [...]port.TableState{port.TableGiven, port.TableEmpty, port.TableHidden, port.TableBroken}

// cover is what a NOC wants to know the share of: whether a port has a run, and
// what its health is judged by.
type cover struct {
	joined bool
	judged string
}

// What a port's health is judged by. Without a link there is nothing to judge,
// which is not the same as being well.
const (
	byDamagedFrames = "damaged_frames"
	byWeakerCount   = "weaker_count"
	byNothing       = "nothing"
	withoutLink     = "no_link"
)

var covers = [...]cover{
	{false, byDamagedFrames}, {false, byWeakerCount}, {false, byNothing}, {false, withoutLink},
	{true, byDamagedFrames}, {true, byWeakerCount}, {true, byNothing}, {true, withoutLink},
}

func coverOf(p *fault.Port) cover {
	c := cover{p.Run != "", byDamagedFrames}
	switch {
	case p.Unjudged != "":
		c.judged = byNothing
	case p.Oper != port.Up:
		c.judged = withoutLink
	case p.ErrorsBy.Weak():
		c.judged = byWeakerCount
	}
	return c
}

func (e *Exposition) ownedBy(switchName string) *switchSeries {
	own := e.switches[switchName]
	if own == nil {
		own = &switchSeries{label: pair("switch", switchName), ports: map[string]*portSeries{}, polls: map[string]*series{}}
		own.labels = labelled(own.label)
		e.switches[switchName] = own
	}
	return own
}

func (e *Exposition) updateSwitch(sw *fault.Switch, own *switchSeries) {
	e.switchUp.keep(&own.up, number(sw.Answering()), sw.Tried, func() (*label, *labels) { return nil, own.labels })
	if !sw.Unread() {
		e.switchUnread.remove(&own.unread)
	}
	read := sw.Answering()
	for i, state := range tableStates {
		n := 0
		for _, t := range sw.Tables {
			if t.State == state {
				n++
			}
		}
		e.switchTables.keep(&own.tables[i], float64(n), read && len(sw.Tables) > 0, func() (*label, *labels) {
			return before("state", string(state)), own.labels
		})
	}
	for i, c := range covers {
		n := 0
		for j := range sw.Ports {
			if coverOf(&sw.Ports[j]) == c {
				n++
			}
		}
		e.switchPorts.keep(&own.coverage[i], float64(n), read, func() (*label, *labels) {
			return nil, own.labels.with(pair("joined", strconv.FormatBool(c.joined)), pair("judged", c.judged))
		})
	}
}

// updateSilences brings the series of all silent switches up to date: a poll of
// one switch may show what hides another.
func (e *Exposition) updateSilences(s *fault.Snapshot) {
	for _, sw := range s.Switches {
		if sw.Unread() {
			e.updateSilence(sw, e.ownedBy(sw.Name))
		}
	}
}

func (e *Exposition) updateSilence(sw *fault.Switch, own *switchSeries) {
	now := silence{sw.Class, sw.Behind}
	switch {
	case !sw.Told() && sw.Behind == "" && !sw.RefusesCredentials(): // it is not known yet why
		e.switchUnread.remove(&own.unread)
	case own.unread == nil || own.silence != now:
		own.silence = now
		e.switchUnread.replace(&own.unread, own.labels.with(pair("class", now.class), pair("behind", now.behind)), 1)
	}
}

// dropUnconfigured forgets the switches that are no longer watched.
func (e *Exposition) dropUnconfigured(s *fault.Snapshot) {
	for name, own := range e.switches {
		if _, ok := s.Switch(name); ok {
			continue
		}
		for _, slot := range own.ports {
			e.dropPort(slot)
		}
		e.switchUp.remove(&own.up)
		e.switchUnread.remove(&own.unread)
		for i := range own.tables {
			e.switchTables.remove(&own.tables[i])
		}
		for i := range own.coverage {
			e.switchPorts.remove(&own.coverage[i])
		}
		for _, s := range own.polls {
			e.polls.drop(s)
		}
		if own.seconds != nil {
			e.seconds.drop(own.seconds)
		}
		delete(e.switches, name)
	}
}
