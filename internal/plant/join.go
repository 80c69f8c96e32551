package plant

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
)

// End is an end of a run.
type End uint8

// The ends.
const (
	NearEnd End = iota
	FarEnd
)

func (e End) String() string {
	return [...]string{"near", "far"}[e]
}

// How says what a join rests on.
type How string

// The grounds of a join: the column that the record's port was found in, or
// the label in the port's description.
const (
	ByName        How = "ifName"
	ByDescr       How = "ifDescr"
	ByIndex       How = "ifIndex"
	ByDescription How = "description"
	ByNeighbour   How = "neighbour" // whom the port hears, or who hears it (IEEE 802.1AB)
)

// SeenPort is one row of ports that a switch shows.
type SeenPort struct {
	Switch      string
	Name        string // ifName
	Description string // ifDescr
	Alias       string // ifAlias: what people wrote on the port
	Index       int    // ifIndex
	Physical    bool   // a cable can be plugged in; others never join

	Peer   PortRef // the port of a watched switch at its other end, as neighbours tell; zero where not known
	Device string  // the name of the one other device that it hears; "" for none or several
	Doubt  string  // why what is recorded of it may be of another port now; "" where nothing speaks for that
}

// Ref names the port: by its ifName, where it has none by ifDescr, else by
// ifIndex.
func (s *SeenPort) Ref() PortRef {
	switch {
	case s.Name != "":
		return PortRef{s.Switch, s.Name}
	case s.Description != "":
		return PortRef{s.Switch, s.Description}
	}
	return PortRef{s.Switch, strconv.Itoa(s.Index)}
}

// Join is one port that belongs to one end of a run.
type Join struct {
	Port PortRef
	Run  *Run
	End  End
	How  How

	Described bool // the port's description names the run
	Heard     bool // neighbours confirm it: the ports of both ends hear each other, or the run's device is heard

	Named string // what the description gives in the form of the run's id, of which there is no row; "" for none
}

// Confirmed tells whether something seen at the port says the same as the
// record.
func (j *Join) Confirmed() bool { return j.Described || j.Heard }

// Sure tells whether something seen at the port confirms a record that names it.
func (j *Join) Sure() bool { return j.Heard || j.Described && j.How != ByDescription }

// Conflict is a contradiction that a person must settle. Until then it joins
// nothing, unless Text says so.
type Conflict struct {
	Ports []PortRef
	Runs  []string // ids
	Text  string   // a sentence
}

// UnjoinedPort is a physical port without a run.
type UnjoinedPort struct {
	Port PortRef
	Why  string
}

// UnjoinedRun is an end of a run that should have a switch port and has none.
type UnjoinedRun struct {
	Run  *Run
	End  End
	Why  string
	Gone bool // the switch that the record names is not configured, or does not show the port
}

// Joined is which port belongs to which run, and all that could not be told.
type Joined struct {
	Joins         []Join // in the order of the ports seen
	Conflicts     []Conflict
	UnjoinedPorts []UnjoinedPort // in the order seen
	UnjoinedRuns  []UnjoinedRun  // in the order of the inventory
	Links         [][2]PortRef   // cables between seen ports, by what these hear, that are joined to no run; in the order seen

	byPort map[PortRef]int // into Joins
	byRun  map[string][2]PortRef

	disputed map[string]int  // into Conflicts, by run
	refused  map[PortRef]int // likewise, by port
}

// At gives the join of a port, which is named as by SeenPort.Ref.
func (j *Joined) At(port PortRef) (Join, bool) {
	i, ok := j.byPort[port]
	if !ok {
		return Join{}, false
	}
	return j.Joins[i], true
}

// Disputed gives the first contradiction about a port, or about the run that is joined to
// it.
func (j *Joined) Disputed(join *Join, port PortRef) (Conflict, bool) {
	i, is := j.refused[port]
	if !is && join.Run != nil {
		i, is = j.disputed[join.Run.ID]
	}
	if !is {
		return Conflict{}, false
	}
	return j.Conflicts[i], true
}

// PortsOf gives the ports joined to a run's ends; the zero PortRef for an end
// without one.
func (j *Joined) PortsOf(runID string) (near, far PortRef) {
	ports := j.byRun[runID]
	return ports[NearEnd], ports[FarEnd]
}

// Join pairs seen ports with runs. A record's port is looked for in ifName,
// then ifDescr, then ifIndex: exactly, and failing that without regard to
// case. Runs whose port is not found are looked for by label: the group "run"
// of labels (which may be nil) in ifAlias, then ifDescr, where it is the id
// of a run. switches are the names in the configuration.
//
// Two runs that claim one port are found here and not by Load, since "1/17"
// and "17" may be the same port.
func (p *Plant) Join(seen []SeenPort, switches []string, labels *regexp.Regexp) *Joined {
	j := newJoiner(p, seen, switches)
	j.readLabels(labels)
	j.readDevices()
	j.matchRecords()
	j.readLinks()
	j.confirm()
	j.weighDoubts()
	j.weighLinks(j.againstRecords)
	j.weighClaims()
	j.weighSigns()
	j.weighLinks(j.againstJoins)
	j.complete()
	return j.result()
}

// nowhere stands for no port, several for a name that several ports have,
// unseen for a port that is known and not among those seen, and missing for a
// record's port that is not there.
const (
	nowhere = -1
	several = -2
	unseen  = -3
	missing = -4
)

// side is one end of one run, while it is looked for.
type side struct {
	run  *Run
	end  End
	port int // what the record's port was found to be, nowhere or missing
	how  How
	why  string // why it has no port, as far as known
	sure bool   // something seen at the port says so too
	held bool   // suspended by a conflict
}

func (s *side) at() PortRef { return s.run.At(s.end) }

// expected tells whether this end should have a switch port at all.
func (s *side) expected() bool {
	if s.at().Switch != "" {
		return s.at().Port != "" || s.run.Status != Spare && s.run.Status != Abandoned
	}
	return s.end == NearEnd && s.run.FarSwitch == "" && s.run.Status != Spare && s.run.Status != Abandoned
}

type joiner struct {
	plant    *Plant
	seen     []SeenPort
	switches map[string]*switchRows
	names    []string // of the configuration
	hints    map[string]string

	refs  map[PortRef]int // physical ports
	twins map[int]bool    // ports that share their name

	sides     [][2]side // by the runs' order
	order     map[*Run]int
	labels    []*Run    // by port: the run that its description names
	unknown   []string  // by port: what is in its place there, of which there is no row
	devices   []*Run    // by port: the run whose device it hears
	peers     []int     // by port: the port at its other end, nowhere or unseen
	claims    [][]*side // by port: whose records say that they are here
	told      []bool    // by port: whether a conflict says why no claim stands
	owner     []*side   // by port: who is joined
	why       []string  // by port: why nobody is
	conflicts []Conflict
}

func newJoiner(p *Plant, seen []SeenPort, switches []string) *joiner {
	j := &joiner{
		plant: p, seen: seen, names: switches,
		switches: make(map[string]*switchRows, len(switches)),
		hints:    map[string]string{},
		refs:     make(map[PortRef]int, len(seen)),
		twins:    map[int]bool{},
		sides:    make([][2]side, len(p.Runs)),
		order:    make(map[*Run]int, len(p.Runs)),
		labels:   make([]*Run, len(seen)),
		unknown:  make([]string, len(seen)),
		devices:  make([]*Run, len(seen)),
		peers:    make([]int, len(seen)),
		told:     make([]bool, len(seen)),
		claims:   make([][]*side, len(seen)),
		owner:    make([]*side, len(seen)),
		why:      make([]string, len(seen)),
	}
	for _, name := range switches {
		j.switches[name] = &switchRows{}
	}
	for i := range seen {
		j.enter(i)
	}
	for i, run := range p.Runs {
		j.order[run] = i
		j.sides[i] = [2]side{{run: run, end: NearEnd, port: nowhere}, {run: run, end: FarEnd, port: nowhere}}
	}
	return j
}

// enter files a port under its switch. Rows that are not physical are kept
// apart, so that their names cannot hide those of ports.
func (j *joiner) enter(i int) {
	s := &j.seen[i]
	rows := j.switches[s.Switch]
	if rows == nil {
		rows = &switchRows{}
		j.switches[s.Switch] = rows
	}
	if !s.Physical {
		rows.others = append(rows.others, i)
		return
	}
	rows.ports = append(rows.ports, i)
	ref := s.Ref()
	if first, twice := j.refs[ref]; twice {
		j.twins[first], j.twins[i] = true, true
		return
	}
	j.refs[ref] = i
}

// matchRecords looks for the port that each record names.
func (j *joiner) matchRecords() {
	for i := range j.sides {
		for e := range j.sides[i] {
			s := &j.sides[i][e]
			if s.at().Switch == "" {
				s.why = "the record names no switch port, and no port's description names the run"
				continue
			}
			s.port, s.how, s.why = j.find(s.at())
			if s.port >= 0 {
				j.claims[s.port] = append(j.claims[s.port], s)
			}
		}
	}
}

// result gathers what was decided.
func (j *joiner) result() *Joined {
	out := &Joined{
		Conflicts: j.conflicts,
		byPort:    make(map[PortRef]int, len(j.seen)),
		byRun:     make(map[string][2]PortRef, len(j.sides)),
		disputed:  map[string]int{},
		refused:   map[PortRef]int{},
	}
	for i := range slices.Backward(out.Conflicts) {
		for _, run := range out.Conflicts[i].Runs {
			out.disputed[run] = i
		}
		for _, ref := range out.Conflicts[i].Ports {
			out.refused[ref] = i
		}
	}
	for i, s := range j.owner {
		ref := j.seen[i].Ref()
		switch {
		case s != nil:
			out.byPort[ref] = len(out.Joins)
			out.Joins = append(out.Joins, Join{ref, s.run, s.end, s.how, j.labels[i] == s.run, j.heard(i, s), j.misnamed(i, s.run)})
			ports := out.byRun[s.run.ID]
			ports[s.end] = ref
			out.byRun[s.run.ID] = ports
			s.held, s.why = false, ""
		case j.seen[i].Physical:
			why := j.why[i]
			switch {
			case why != "":
			case j.twins[i]:
				why = fmt.Sprintf("switch %q shows several ports of this name", ref.Switch)
			default:
				why = "no run of the inventory names it"
			}
			out.UnjoinedPorts = append(out.UnjoinedPorts, UnjoinedPort{ref, why})
		}
	}
	for i := range j.sides {
		for e := range j.sides[i] {
			s := &j.sides[i][e]
			if ports := out.byRun[s.run.ID]; ports[e] == (PortRef{}) && (s.held || s.expected()) {
				out.UnjoinedRuns = append(out.UnjoinedRuns, UnjoinedRun{s.run, s.end, s.why, s.port == missing && !s.held})
			}
		}
	}
	out.Links = j.linksWithoutRun()
	return out
}

// conflict lists a contradiction, as the reason why its ports have no run.
func (j *joiner) conflict(text string, ports []int, runs ...*Run) {
	for _, i := range ports {
		j.why[i] = text
	}
	j.list(text, ports, runs)
}

func (j *joiner) list(text string, ports []int, runs []*Run) {
	c := Conflict{Text: text}
	for _, i := range ports {
		c.Ports = append(c.Ports, j.seen[i].Ref())
	}
	for _, run := range unique(runs) {
		c.Runs = append(c.Runs, run.ID)
	}
	j.conflicts = append(j.conflicts, c)
}
