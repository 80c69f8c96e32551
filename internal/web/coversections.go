package web

import (
	"fmt"
	"strings"
)

func switchItem(name, text string) item {
	return item{Names: []link{{name, ""}}, Text: clipped(text)}
}

func (c clock) silentSection(s *SwitchCoverage) section {
	out := section{
		ID: "switches", Title: "Switches that do not answer",
		Figure: aSwitch.share(s.Answering, s.Configured, "answer", "answers") + ".",
		Stake:  "What the ports of these switches do is not known, so any fault may hide there. Their runs count as unknown.",
	}
	if out.Rank = graded(s.Configured > 0); s.Configured == 0 {
		out.Figure = "No switch is configured."
	}
	kinds := []struct {
		block block
		is    func(*SilentSwitch) bool
	}{
		{block{Key: "refusing", Title: "There, and refusing the credentials",
			Text: "The switch is not dead. Compare user, passphrases and protocols, or the community, with what is set on the switch."},
			func(sw *SilentSwitch) bool { return sw.Refuses }},
		{block{Key: "behind", Title: "Hidden behind a switch that does not answer", Text: "Mend the one that hides them first."},
			func(sw *SilentSwitch) bool { return sw.Behind != "" }},
		{block{Key: "lost", Title: "Answered once, and not now", Text: "Look for its power, its uplink and what was changed last."},
			func(sw *SilentSwitch) bool { return sw.LastAnswer != nil }},
		{block{Key: "never", Title: "Never answered",
			Text: "Check its address, that SNMP is switched on, and that its access list and every firewall let this machine ask."},
			func(sw *SilentSwitch) bool { return sw.LastTry != nil }},
		{block{Key: "untried", Title: "Not tried yet"}, func(*SilentSwitch) bool { return true }},
	}
	for i := range s.Silent {
		for k := range kinds {
			if kinds[k].is(&s.Silent[i]) {
				kinds[k].block.Items = append(kinds[k].block.Items, c.silentItem(&s.Silent[i]))
				break
			}
		}
	}
	for _, k := range kinds {
		k.block.Title += ": " + aSwitch.of(len(k.block.Items), s.Configured)
		out.mend(k.block)
	}
	return out
}

func (c clock) silentItem(sw *SilentSwitch) item {
	text := sw.Problem
	if sw.Behind != "" {
		text = "behind " + sw.Behind + "; " + text
	}
	it := item{Names: []link{{sw.Name, ""}}, Text: clippedAt(text, mostText)}
	if sw.LastAnswer != nil {
		it.Age, it.When = "last answer", c.when(*sw.LastAnswer)
	}
	return it
}

func identitySection(s *SwitchCoverage) section {
	out := section{
		ID: "identity", Title: "Switches whose identity is in doubt",
		Figure: "No two switches give the same engine id, and no joins wait to be confirmed.",
		Stake:  "A reading may be of another switch, and a port's run may be another run.",
		Rank:   graded(s.Answering > 0),
	}
	if s.Answering == 0 {
		out.Figure = "No switch answers, so nothing is known of this."
	}
	shared := 0
	twins := block{Key: "twins", Title: "One SNMP engine id at several addresses",
		Text: "Often one switch that is configured twice, or a setup copied with its engine id. Take out the one, or let the switch make an engine id of its own."}
	for _, t := range s.Twins {
		shared += len(t.Switches)
		twins.Items = append(twins.Items, item{Text: clipped(strings.Join(t.Switches, ", ") + ": engine id " + orWords(t.Engine, notTold))})
	}
	waiting := block{Key: "suspended", Title: "Joins that wait to be confirmed",
		Text: "Until something confirms which port is which, their runs count as unknown."}
	for _, w := range s.Suspended {
		waiting.Items = append(waiting.Items, item{Names: []link{{w.Name, ""}}, Text: clippedAt(w.Why, mostText)})
	}
	out.mend(twins)
	out.mend(waiting)
	if out.Rank == toMend {
		out.Figure = fmt.Sprintf("%s an engine id with another; the joins of %s wait to be confirmed.",
			aSwitch.share(shared, s.Configured, "share", "shares"), aSwitch.of(len(s.Suspended), s.Configured))
	}
	return out
}

const nothingToCompare = "There is nothing to compare: it takes a run that is recorded and a port that a switch has shown."

func conflictSection(c *Coverage) section {
	out := section{
		ID: "conflicts", Title: "Contradictions between record and switches",
		Figure: fmt.Sprintf("Nothing that the switches show contradicts the record of %s.", aRun.count(c.Runs.Recorded)),
		Stake:  "The wrong run could be blamed, so what is in doubt is not joined. Correct the inventory, the port's description or the patching.",
		Rank:   graded(c.Ports.Shown > 0 && c.Runs.Recorded > 0),
	}
	if out.Rank == notKnown {
		out.Figure = nothingToCompare
	}
	b, touched := block{Key: "all"}, map[string]bool{}
	for _, conflict := range c.Conflicts {
		for _, id := range conflict.Runs {
			touched[id] = true
		}
		b.Items = append(b.Items, item{Names: conflictNames(&conflict), Text: clippedAt(conflict.Text, mostText)})
	}
	if out.mend(b); out.Rank == toMend {
		out.Figure = fmt.Sprintf("%s, over %s.", plural(len(c.Conflicts), "contradiction"), aRun.of(len(touched), c.Runs.Recorded))
	}
	if c.Ports.Joined > 0 {
		out.Figure += fmt.Sprintf(" The joins of %s are confirmed by what is written on the port or by its neighbour.", aPort.of(c.Ports.Confirmed, c.Ports.Joined))
	}
	return out
}

// mostNames is how many names head one row.
const mostNames = 3

func conflictNames(c *Conflict) []link {
	var names []link
	for _, id := range c.Runs {
		if len(names) < mostNames {
			names = append(names, link{id, runURL(id)})
		}
	}
	if len(names) == 0 && len(c.Ports) > 0 {
		names = []link{c.Ports[0].link()}
	}
	return names
}

// link names a port, or a switch where it is the whole of it.
func (p Place) link() link {
	if p.Port == "" {
		return link{p.Switch, ""}
	}
	return link{p.Switch + " " + p.Port, portURL(p.Switch, p.Port)}
}

func (c clock) inventorySection(cover *Coverage) section {
	out := section{
		ID: "inventory", Title: "The inventory's files",
		Stake: "Rows that are lost leave their runs and ports without a record.",
		Rank:  inOrder,
	}
	in := &cover.Inventory
	out.Figure = fmt.Sprintf("No row is lost: %s in use.", aRun.are(cover.Runs.Recorded))
	if len(cover.Problems) > 0 {
		out.Figure = fmt.Sprintf("%s in the files; %s in use.", capital(plural(len(cover.Problems), "error")), aRun.are(cover.Runs.Recorded))
	}
	if cover.Runs.Recorded == 0 && len(cover.Problems) == 0 {
		out.Rank = toMend
		out.Figure = "No run is recorded: toneout draft writes a starter inventory from what the switches tell."
	}
	read := ""
	if in.Loaded != nil {
		w := c.when(*in.Loaded)
		read = fmt.Sprintf(" Read at %s, %s.", w.Text, agoWords(w.Age))
	}
	out.Figure += read
	if in.Refused != "" {
		out.mend(block{Key: "refused", Title: "What the files hold now is not used", Items: []item{{Text: clippedAt(in.Refused, mostText)}},
			Text: "The inventory read before stays in use. Correct the file; it is read again when it changes."})
	}
	lost := block{Key: "lost", Title: "Not used for an error", Text: "Correct the line; the file is read again when it changes."}
	for _, p := range cover.Problems {
		lost.Items = append(lost.Items, item{
			Names: []link{{fmt.Sprintf("%s:%d", p.File, p.Line), ""}},
			Text:  clipped(strings.TrimSpace(p.Kind+" "+p.ID) + prefixed(": ", p.Text)),
		})
	}
	out.mend(lost)
	return out
}

func linkSection(cover *Coverage) section {
	c := &cover.Links
	out := section{
		ID: "links", Title: "Cables between switches without a run",
		Figure: fmt.Sprintf("%s a run in the inventory; %s known by what the switches hear of each other.",
			aCable.share(c.Known-len(c.WithoutRun), c.Known, "between switches have", "between switches has"), aCable.are(c.Heard)),
		Stake: "By these cables it is told which switch hides others when it dies, and a fault of theirs has no length, panel or pathway to go by.",
		Rank:  graded(c.Heard > 0 || cover.Switches.Configured == 1),
	}
	if c.Known == 0 {
		out.Figure = "No cable between two of these switches is known, by the inventory or by what they hear of each other."
	}
	b := block{Key: "all", Title: "Not in the inventory"}
	for _, l := range c.WithoutRun {
		how := "by the record alone"
		if l.Heard {
			how = "heard"
		}
		b.Items = append(b.Items, item{Names: []link{l.A.link(), l.B.link()}, Text: how})
	}
	out.mend(b)
	return out
}

func staleSection(c *Coverage) section {
	out := section{
		ID: "outdated", Title: "Rows that no longer fit",
		Figure: fmt.Sprintf("No row of %s is known to be out of date.", aRun.count(c.Runs.Recorded)),
		Stake:  "By such a row somebody may be sent to the wrong port, or look for a fault that is none. Correct it, or take it out.",
		Rank:   graded(c.Ports.Shown > 0 && c.Runs.Recorded > 0),
	}
	if out.Rank == notKnown {
		out.Figure = nothingToCompare
	}
	b, touched := block{Key: "all"}, map[string]bool{}
	for _, row := range c.Stale {
		touched[row.Run] = true
		b.Items = append(b.Items, item{Names: []link{{row.Run + " " + row.End, runURL(row.Run)}}, Text: clipped(row.Why)})
	}
	if out.mend(b); out.Rank == toMend {
		out.Figure = aRun.share(len(touched), c.Runs.Recorded, "no longer fit what is seen", "no longer fits what is seen") + "."
	}
	return out
}

func (c clock) moveSection(cover *Coverage) section {
	out := section{
		ID: "moves", Title: "What moved",
		Figure: "No device, description or port number was seen to change its place.",
		Stake:  "A cord may have been patched to another port, or a switch replaced, and the record may still tell of before.",
		Rank:   graded(cover.Ports.Shown > 0),
	}
	b := block{Key: "all"}
	for _, m := range cover.Moves {
		it := m.item()
		if m.At != nil {
			it.Age, it.When = "seen", c.when(*m.At)
		}
		b.Items = append(b.Items, it)
	}
	if out.mend(b); out.Rank == toMend {
		out.Figure = fmt.Sprintf("%s seen, latest first; the last 100 are kept.", plural(len(cover.Moves), "move"))
	}
	return out
}

// item tells of a move; what befell a switch as a whole has no way to tell.
func (m *Move) item() item {
	it := item{Text: clipped(m.What)}
	if m.To != nil {
		it.Names = []link{m.To.link()}
	}
	if m.From != nil && m.To != nil && *m.From != *m.To {
		it.Text += fmt.Sprintf(" from %s to %s", m.From.link().Text, m.To.link().Text)
	}
	return it
}
