package web

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"toneout/internal/fault"
	"toneout/internal/port"
)

func healthSection(c *PortCoverage) section {
	h := &c.Health
	linked := h.Judged + h.Weaker + h.Unjudged
	out := section{
		ID: "health", Title: "Ports whose health cannot be judged",
		Figure: aPort.share(h.Judged, linked, "with a link are judged by damaged frames", "with a link is judged by damaged frames"),
		Stake:  "Such a port, and its run, may have a fault that is not seen here.",
		Rank:   graded(linked > 0),
	}
	if h.Weaker > 0 {
		out.Figure += fmt.Sprintf("; %s only by a weaker count", digits(h.Weaker))
	}
	if h.Unjudged > 0 {
		out.Figure += fmt.Sprintf("; %s cannot be judged", digits(h.Unjudged))
	}
	out.Figure += "."
	if linked == 0 {
		out.Figure = "No port is seen with a link, so nothing can be judged yet."
	}
	unjudged := grouping[UnjudgedPort]{
		of:    func(p UnjudgedPort) string { return p.Why },
		place: func(p UnjudgedPort) Place { return Place{p.Switch, p.Port} },
	}
	for _, g := range unjudged.groups(c.Unjudged) {
		out.mend(block{Key: g.of, Title: fmt.Sprintf("Not judged, %s: %s", clipped(g.of), aPort.of(len(g.places), linked)),
			Text: "Most often a table or column is missing: see the tables below.", Items: switchItems(g.places)})
	}
	weaker := grouping[WeakerPort]{
		of:    func(p WeakerPort) string { return p.CountedBy },
		place: func(p WeakerPort) Place { return Place{p.Switch, p.Port} },
	}
	for _, g := range weaker.groups(c.Weaker) {
		out.mend(block{Key: g.of, Title: fmt.Sprintf("Damaged frames counted by %s alone: %s", g.of, aPort.of(len(g.places), linked)),
			Text: capital(doubtOf(g.of)) + ", so a fault found by it is told as less sure.", Items: switchItems(g.places)})
	}
	return out
}

// doubtOf is why a count by these objects is weaker.
func doubtOf(objects string) string {
	for _, c := range countedBy {
		if c.objects == objects {
			return c.doubt
		}
	}
	return ""
}

// grouping sorts rows of ports by what they have in common.
type grouping[T any] struct {
	of    func(T) string
	place func(T) Place
}

type placeGroup struct {
	of     string
	places []Place
}

// groups are the largest first.
func (g grouping[T]) groups(rows []T) []placeGroup {
	var out []placeGroup
	index := map[string]int{}
	for _, row := range rows {
		of := g.of(row)
		i, ok := index[of]
		if !ok {
			i = len(out)
			index[of] = i
			out = append(out, placeGroup{of: of})
		}
		out[i].places = append(out[i].places, g.place(row))
	}
	slices.SortStableFunc(out, func(a, b placeGroup) int { return len(b.places) - len(a.places) })
	if len(out) > mostGroups {
		rest := placeGroup{of: "for other reasons"}
		for _, small := range out[mostGroups:] {
			rest.places = append(rest.places, small.places...)
		}
		slices.SortStableFunc(rest.places, func(a, b Place) int { return strings.Compare(a.Switch, b.Switch) })
		out = append(out[:mostGroups], rest)
	}
	return out
}

// mostGroups is how many reasons a section tells apart.
const mostGroups = 8

// switchItems gives a row for each switch with its ports, which come switch by
// switch.
func switchItems(places []Place) []item {
	var items []item
	for start := 0; start < len(places); {
		end := start
		var names []string
		for end < len(places) && places[end].Switch == places[start].Switch {
			names = append(names, places[end].Port)
			end++
		}
		items = append(items, switchItem(places[start].Switch, aPort.count(len(names))+": "+spans(names)))
		start = end
	}
	return items
}

func tableSection(c *SwitchCoverage) section {
	asked := 0
	for _, t := range c.Tables {
		asked = max(asked, t.Of)
	}
	out := section{
		ID: "tables", Title: "Tables that switches keep back",
		Figure: fmt.Sprintf("None of the %s that answered once keeps back what matters there.", aSwitch.count(asked)),
		Stake:  "SNMP does not tell whether a switch lacks a table or the view of these credentials hides it. Where it is the view, widen it on the switch.",
		Rank:   graded(asked > 0),
	}
	if asked == 0 {
		out.Figure = "No switch has answered, so nothing is known of their tables."
	}
	lacking := map[string]bool{}
	var harmless []item
	for i := range c.Tables {
		t := &c.Tables[i]
		if b := tableBlock(t); len(b.Items) > 0 {
			out.mend(b)
		} else {
			harmless = append(harmless, item{Text: tableFigure(t)})
		}
		for _, l := range t.Lacking {
			if l.Unmet {
				lacking[l.Switch] = true
			}
		}
	}
	if out.Rank == toMend {
		out.Figure = fmt.Sprintf("%s something back that matters there.", aSwitch.share(len(lacking), asked, "that answered once keep", "that answered once keeps"))
	}
	out.add(block{Key: "rest", Title: "Given, or not needed where it is not", Items: harmless})
	return out
}

func tableFigure(t *TableCoverage) string {
	words := fmt.Sprintf("%s: given by %s", t.Table, aSwitch.of(t.Given, t.Of))
	if tells := costs[t.Table].tells; tells != "" {
		words = fmt.Sprintf("%s (%s): given by %s", t.Table, tells, aSwitch.of(t.Given, t.Of))
	}
	for _, part := range []struct {
		n    int
		word string
	}{{t.Empty, "empty at"}, {t.Hidden, "hidden at"}, {t.Broken, "broken at"}, {t.Partial, "without some columns at"}} {
		if part.n > 0 {
			words += fmt.Sprintf(", %s %s", part.word, digits(part.n))
		}
	}
	return words
}

func tableBlock(t *TableCoverage) block {
	b := block{Key: t.Table, Title: tableFigure(t)}
	if t.Grant != "" {
		b.Copy = "grant the subtree " + t.Grant
	}
	var columns []string
	for _, l := range t.Lacking {
		if !l.Unmet {
			continue
		}
		if l.State != string(port.TableGiven) && t.Cost != "" {
			b.Text = "Without it: " + t.Cost + "."
		}
		for _, column := range l.Missing {
			if !slices.Contains(columns, column) && len(columns) < mostRows {
				columns = append(columns, column)
			}
		}
		b.Items = append(b.Items, switchItem(l.Switch, lackWords(&l)))
	}
	for _, column := range columns {
		if cost := columnCosts[column]; cost != "" {
			b.Costs = append(b.Costs, fmt.Sprintf("Without %s: %s.", column, cost))
		}
	}
	return b
}

func lackWords(l *LackingTable) string {
	state := l.Why
	if l.State != string(port.TableGiven) {
		state = joinWords(": ", l.State, l.Why)
	}
	return joinWords("; ", state, prefixed("without ", strings.Join(l.Missing, ", ")))
}

func unjoinedRunSection(c *RunCoverage) section {
	out := section{
		ID: "runs", Title: "Runs without a switch port",
		Figure: fmt.Sprintf("%s joined to a switch port at one end at least; %s that should have a port have none.",
			aRun.share(c.Joined, c.Recorded, "are", "is"), anEnd.count(len(c.Unjoined))),
		Stake: "Nothing is seen of these ends. A run without any port counts as unknown.",
		Rank:  graded(c.Recorded > 0),
	}
	if c.Recorded == 0 {
		out.Figure = "No run is recorded."
	}
	groups := runsByReason(c.Unjoined)
	single := block{Key: "single"}
	for i, g := range groups {
		if len(g.runs) > 1 && i < mostGroups {
			out.mend(block{Key: g.why, Title: anEnd.count(len(g.runs)) + ": " + clipped(g.why), Links: g.runs})
			continue
		}
		for _, run := range g.runs {
			single.Items = append(single.Items, item{Names: []link{run}, Text: clipped(g.why)})
		}
	}
	single.Title = anEnd.count(len(single.Items)) + ", each with its reason"
	out.mend(single)
	return out
}

type runGroup struct {
	why  string
	runs []link
}

// runsByReason groups ends of runs by why they have no port, the largest group
// first.
func runsByReason(rows []UnjoinedRun) []runGroup {
	index := map[string]int{}
	var out []runGroup
	for _, r := range rows {
		i, ok := index[r.Why]
		if !ok {
			i = len(out)
			index[r.Why] = i
			out = append(out, runGroup{why: r.Why})
		}
		out[i].runs = append(out[i].runs, link{r.Run + " " + r.End, runURL(r.Run)})
	}
	slices.SortStableFunc(out, func(a, b runGroup) int { return cmp.Compare(len(b.runs), len(a.runs)) })
	return out
}

func unjoinedPortSection(c *PortCoverage, s *fault.Snapshot) section {
	with := c.Shown - len(c.Unjoined)
	out := section{
		ID: "ports", Title: "Ports without a run",
		Figure: aPort.share(with, c.Shown, "have a run in the inventory", "has a run in the inventory") + ".",
		Stake:  "A fault there is noticed and placed on the port, but no length, panel or cable is known to go by. toneout draft writes a starter inventory from what the switches tell.",
		Rank:   graded(c.Shown > 0),
	}
	if c.Shown == 0 {
		out.Figure = "No switch has shown a port yet."
	}
	if len(c.Unjoined) > 0 {
		out.inUse(c)
	}
	usual := usualReason(c.Unjoined)
	if usual != "" {
		out.Stake += fmt.Sprintf(" Where nothing else is said: %s.", usual)
	}
	shown, groups := 0, bySwitch(c.Unjoined)
	for i, g := range groups {
		if shown += min(len(g), mostRows); shown > mostPorts {
			left, ports := groups[i:], 0
			for _, g := range left {
				ports += len(g)
			}
			out.More = fmt.Sprintf("and %s on %s more", aPort.count(ports), aSwitch.count(len(left)))
			break
		}
		out.add(portBlock(s, g, usual))
	}
	return out
}

// inUse grades ports without a run: only one in use asks for a row, and where
// its switch does not answer nobody knows.
func (s *section) inUse(c *PortCoverage) {
	linked, unread := 0, 0
	for i := range c.Unjoined {
		switch c.Unjoined[i].Link {
		case port.Up.String():
			linked++
		case "":
			unread++
		}
	}
	s.Figure = strings.TrimSuffix(s.Figure, ".") + "; "
	switch {
	case linked > 0:
		s.Rank = toMend
		s.Figure += "of the others " + aPort.are(linked) + " in use."
	case unread > 0:
		s.Rank = notKnown
		s.Figure += "whether the others have a link is not known of all."
	default:
		s.Figure += "none of the others has a link."
	}
}

// usualReason is the most frequent one.
func usualReason(ports []UnjoinedPort) string {
	counts, usual := map[string]int{}, ""
	for i := range ports {
		why := ports[i].Why
		counts[why]++
		if counts[why] > counts[usual] {
			usual = why
		}
	}
	return usual
}

// bySwitch cuts a list that comes switch by switch.
func bySwitch(ports []UnjoinedPort) [][]UnjoinedPort {
	var out [][]UnjoinedPort
	for len(ports) > 0 {
		end := slices.IndexFunc(ports, func(p UnjoinedPort) bool { return p.Switch != ports[0].Switch })
		if end < 0 {
			end = len(ports)
		}
		out, ports = append(out, ports[:end]), ports[end:]
	}
	return out
}

// portBlock lists a switch's ports without a run: those with a link first,
// which are in use.
func portBlock(s *fault.Snapshot, ports []UnjoinedPort, usual string) block {
	up := func(p *UnjoinedPort) bool { return p.Link == port.Up.String() }
	of, linked := len(ports), 0
	if sw, ok := s.Switch(ports[0].Switch); ok {
		of = len(sw.Ports)
	}
	b := block{Key: ports[0].Switch, Fold: true}
	for _, first := range []bool{true, false} {
		for i := range ports {
			if p := &ports[i]; up(p) == first {
				b.Items = append(b.Items, portItem(p, usual))
				if first {
					linked++
				}
			}
		}
	}
	inUse := "none of them"
	if linked > 0 {
		inUse = digits(linked) + " of them"
	}
	b.Title = fmt.Sprintf("%s: %s, %s with a link", ports[0].Switch, aPort.of(len(ports), of), inUse)
	return b
}

func portItem(p *UnjoinedPort, usual string) item {
	why := ""
	if p.Why != usual {
		why = p.Why
	}
	at := link{p.Port, portURL(p.Switch, p.Port)}
	return item{Names: []link{at}, Text: clipped(joinWords("; ", orWords(p.Link, "not read"), p.Description, why))}
}
