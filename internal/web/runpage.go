package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
)

// runView is the page of one run.
type runView struct {
	Run    RunDetail
	Mark   string
	Tell   bool        // whether the verdict says more than the faults below it
	Shared []sharedRow // that it is at fault under
	Faults []faultDetail
	Ports  *portTable // nil where no end is joined
	Light  *grid      // nil where no end tells of light
	OneEnd bool       // the other end is no port of a watched switch
	Record []recordRow
	Told   *toldView // nil where no journal is kept
	judgedView
}

// portView is the page of one port.
type portView struct {
	Port    *PortNow
	RunURL  string // "" without a run
	Why     string // why it has no run
	Verdict string
	Shared  []sharedRow // that its run is at fault under
	Faults  []faultDetail
	Table   *portTable
	Light   *grid // nil where it tells of none

	Told   *grid  // of a port without a run; nil for nothing
	Older  string // how many are left out; "" for none
	Unread string // why it cannot be read; "" where it can
}

// faultDetail is a fault as its own page tells it.
type faultDetail struct {
	faultRow
	Kind   string
	Why    string // nobody is told, where no guard below says the same
	Taken  string // who is at it; "" for nobody
	Needs  string // what the proof of its repair still needs; "" where it was not repaired
	Causes []causeRow
	Others []causeRow // under 1 % each
	Advice advice
}

// OthersWords tell how many causes are folded away.
func (d faultDetail) OthersWords() string { return fault.OthersWords(len(d.Others)) }

// causeRow is a cause; Usual and Repaired are of what repairs have confirmed, "" where
// none was.
type causeRow struct{ Title, Code, Probability, Usual, Repaired string }

func (a *auditor) runPage(s Source, r *http.Request, snapshot *fault.Snapshot) (string, any, error) {
	v, err := a.runView(s, r, snapshot)
	return v.Run.ID + ", " + string(v.Run.State), v, err
}

func (a *auditor) runView(s Source, r *http.Request, snapshot *fault.Snapshot) (runView, error) {
	t := s.teller(r, snapshot)
	verdict, err := a.findRun(r.Context(), t, r.PathValue("id"))
	if err != nil {
		return runView{}, err
	}
	at, ends, run := t.at, verdict.Ports.List(), snapshot.Plant.Run(verdict.ID)
	v := runView{
		Run: verdict, Mark: stateMarks[verdict.State], Tell: len(verdict.Faults) == 0 || verdict.State == fault.Unknown,
		Shared: at.sharedRows(verdict.Shared), Faults: at.details(snapshot, verdict.Faults, verdict.Taken),
		Ports: at.table(ends), Light: lightNowGrid(ends), OneEnd: len(ends) == 1 && len(verdict.Unjoined) == 0,
		Record:     recordRows(snapshot.Plant, run),
		Told:       t.toldView(run, &verdict.WasTold, verdict.Faults),
		judgedView: judgedOf(&verdict),
	}
	return v, nil
}

func portPage(s Source, r *http.Request, snapshot *fault.Snapshot) (string, any, error) {
	t := s.teller(r, snapshot)
	d, err := findPort(r.Context(), t, r.PathValue("switch"), r.PathValue("port"))
	if err != nil {
		return "", nil, err
	}
	now := &d.PortNow
	v := portView{
		Port: now, Why: d.WhyNot, Verdict: now.sentence() + ".", Shared: t.at.sharedRows(d.Shared),
		Faults: t.at.details(snapshot, d.Faults, d.Taken), Table: t.at.table([]*PortNow{now}),
		Light: lightNowGrid([]*PortNow{now}), Unread: d.Unread,
	}
	if now.Run != "" {
		v.RunURL = runURL(now.Run)
	} else {
		v.Told, v.Older = t.at.toldGrid("What people told of this port, the latest first", d.Told)
	}
	return now.Switch + " port " + now.Port, v, nil
}

func switchNames(s *fault.Snapshot) []string {
	names := make([]string, len(s.Switches))
	for i, sw := range s.Switches {
		names[i] = sw.Name
	}
	return names
}

// portHint tells a switch that was never read from a name mistyped.
func portHint(sw *fault.Switch, portName string) string {
	if len(sw.Ports) == 0 {
		return "; it has not answered yet"
	}
	names := make([]string, len(sw.Ports))
	for i, p := range sw.Ports {
		names[i] = p.Name
	}
	return plant.DidYouMean(portName, names)
}

func (c clock) details(s *fault.Snapshot, faults []*fault.Fault, taken []Taken) []faultDetail {
	out := make([]faultDetail, len(faults))
	for i, f := range faults {
		out[i] = faultDetail{faultRow: c.row(s, f), Kind: f.Kind.Title(), Advice: adviceOf(f)}
		out[i].Why = out[i].unsaid()
		if x := TakenOf(f, taken); x != nil {
			out[i].Taken = x.Words(c.now.Location())
		}
		if f.Proof != nil {
			out[i].Needs = f.Proof.Needs()
		}
		likely, others := f.Ranked()
		out[i].Causes, out[i].Others = causeRows(f, likely), causeRows(f, others)
	}
	return out
}

// unsaid is why nobody is told, "" where a guard, which is listed too, says the same.
func (r faultRow) unsaid() string {
	if slices.ContainsFunc(r.Guards, func(g fault.Guard) bool { return strings.TrimSuffix(g.Says, ".") == r.Reason }) {
		return ""
	}
	return r.Reason
}

func causeRows(f *fault.Fault, causes []fault.CauseProbability) (rows []causeRow) {
	for _, cause := range causes {
		row := causeRow{Title: cause.Cause.Title(), Code: string(cause.Cause), Probability: fault.Percent(cause.Probability)}
		if f.Experience != nil {
			known := f.Experience.Of(cause.Cause)
			row.Usual, row.Repaired = fault.Percent(known.Usual), digits(known.Repaired)
		}
		rows = append(rows, row)
	}
	return rows
}

// portTable is what ports say now, a column each.
type portTable struct {
	Heads  []portHead
	Now    []portRow
	Totals []portRow // since watching began
}

type portHead struct{ End, Name, URL string }

type portRow struct {
	Name   string
	Values []link
}

func (c clock) table(ports []*PortNow) *portTable {
	if len(ports) == 0 {
		return nil
	}
	t := &portTable{}
	for _, p := range ports {
		t.Heads = append(t.Heads, portHead{p.End, p.Switch + " port " + p.Port, portURL(p.Switch, p.Port)})
	}
	for _, line := range c.portLines() {
		if line.any != nil && !slices.ContainsFunc(ports, line.any) {
			continue
		}
		row := portRow{Name: line.name}
		for _, p := range ports {
			row.Values = append(row.Values, line.of(p))
		}
		t.Now = append(t.Now, row)
	}
	t.Totals = totalRows(ports)
	return t
}

type portLine struct {
	name string
	of   func(*PortNow) link
	any  func(*PortNow) bool // the line is left out where it is so of no port; nil for a line that never is
}

func (c clock) portLines() []portLine {
	text := func(value func(*PortNow) string) func(*PortNow) link {
		return func(p *PortNow) link { return link{value(p), ""} }
	}
	live := func(value func(*PortNow) string) func(*PortNow) link {
		return text(func(p *PortNow) string {
			if !p.Answering {
				return "not known"
			}
			return orWords(value(p), notTold)
		})
	}
	return []portLine{
		{name: "Link", of: live(c.linkLine)},
		{name: "Set to", of: live(func(p *PortNow) string { return p.Admin })},
		{name: "Speed", of: live(speedLine)},
		{name: "Duplex", of: live(func(p *PortNow) string { return p.Duplex })},
		{name: "Physical layer", of: live(func(p *PortNow) string { return p.PHY })},
		{name: "Frames received, last hour", of: live(framesLine)},
		{name: "Of them damaged", of: live(damagedLine)},
		{"Optic", live(opticLine), func(p *PortNow) bool { return p.Optic != nil }},
		{"Held back", text(func(p *PortNow) string { return orWords(strings.Join(p.GuardWords(), " "), "nothing") }),
			func(p *PortNow) bool { return len(p.Guards) > 0 }},
		{"Power over the pairs", live(powerLine), func(p *PortNow) bool { return p.Power != nil }},
		{name: "Neighbours heard", of: live(heardLine)},
		{name: "Port at the other end", of: peerLine},
		{name: "Link changes since watching began", of: text(linkChangesLine)},
		{name: "Last reading", of: text(c.momentAndAge)},
		{name: "Written on the port", of: text(func(p *PortNow) string { return orWords(p.Description, "nothing") })},
		{name: "Joined to the run by", of: text(joinLine)},
	}
}

func (c clock) linkLine(p *PortNow) string {
	if p.DownSince == nil {
		return p.Link
	}
	w := c.when(*p.DownSince)
	return fmt.Sprintf("%s, since %s at the latest, %s", p.Link, w.Text, w.Age)
}

func heardLine(p *PortNow) string {
	if p.Neighbours == nil {
		return ""
	}
	return orWords(neighbourWords(p.Neighbours), "none")
}

// peerLine is what neighbours tell of a watched switch's port at the other end.
func peerLine(p *PortNow) link {
	switch {
	case !p.Answering:
		return link{"not known", ""}
	case p.Peer == nil:
		return link{"not known to be a watched switch's", ""}
	}
	return p.Peer.link()
}

func joinLine(p *PortNow) string {
	words := orWords(p.JoinedBy, "nothing")
	if len(p.ConfirmedBy) > 0 {
		words += ", and confirmed by its " + strings.Join(p.ConfirmedBy, " and its ")
	}
	return words
}

func speedLine(p *PortNow) string {
	if p.Link != port.Up.String() {
		return "none without a link"
	}
	return p.SpeedWords()
}

func framesLine(p *PortNow) string {
	if p.LastHour == nil {
		return "no two readings compare yet"
	}
	return grouped(p.LastHour.Frames) + " in " + p.LastHour.span()
}

func damagedLine(p *PortNow) string {
	h := p.LastHour
	switch {
	case h == nil:
		return "no two readings compare yet"
	case h.Errored == nil:
		return ""
	case h.FrameErrorRatio == nil:
		return grouped(*h.Errored) + "; no frames, so no ratio"
	}
	words := fmt.Sprintf("%s: %v", grouped(*h.Errored), *h.FrameErrorRatio)
	if p.ErrorsDoubt != "" {
		words += fmt.Sprintf("; counted by %s, which is weaker: %s", p.ErrorsCountedBy, p.ErrorsDoubt)
	}
	return words
}

func linkChangesLine(p *PortNow) string {
	if p.LinkChanges == 0 {
		return "none seen"
	}
	return grouped(p.LinkChanges) + " at least"
}

func (c clock) momentAndAge(p *PortNow) string {
	if p.LastReading == nil {
		return "none"
	}
	w := c.when(*p.LastReading)
	return w.Text + ", " + agoWords(w.Age)
}

// totalRows lists the counters that any of the ports has.
func totalRows(ports []*PortNow) []portRow {
	var rows []portRow
	for k := port.Counter(0); k < port.CounterCount; k++ {
		row, found := portRow{Name: capital(k.String())}, false
		for _, p := range ports {
			value, ok := p.Totals[counterKey(k)]
			found = found || ok
			if !ok {
				row.Values = append(row.Values, link{notTold, ""})
				continue
			}
			row.Values = append(row.Values, link{grouped(value), ""})
		}
		if found {
			rows = append(rows, row)
		}
	}
	return rows
}

func capital(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
