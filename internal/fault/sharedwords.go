package fault

import (
	"fmt"
	"slices"
	"strings"

	"toneout/internal/plant"
)

// Title is an attribute in words.
func (a Attribute) Title() string { return sharedTitles[a] }

func (n SharedName) String() string { return n.Attribute.Title() + " " + n.Value }

// FoldedUnder is which of some shared causes the fault is folded under; nil for none.
func (f *Fault) FoldedUnder(causes []*SharedCause) *SharedCause {
	at := slices.IndexFunc(causes, func(c *SharedCause) bool { return f.SharedCause == c.SharedName.String() })
	if at < 0 {
		return nil
	}
	return causes[at]
}

// titled is a name as people know it, with what the inventory says of it.
func titled(n SharedName, p *plant.Plant) string {
	known := ""
	switch n.Attribute {
	case ByPathway:
		if way := p.Pathway(n.Value); way != nil {
			known = way.Name
		}
	case BySpace:
		if space := p.Space(n.Value); space != nil {
			known = space.Name
		}
	case ByLineCard:
		name, slot, _ := cutLast(n.Value)
		return fmt.Sprintf("line card %s of %s", slot, name)
	case ByPanel, ByBundle, ByInstaller, ByBatch, ByCable, BySwitch:
	}
	if known == "" || known == n.Value {
		return n.String()
	}
	return fmt.Sprintf("%s %s (%s)", n.Attribute.Title(), known, n.Value)
}

// cutLast parts a line card's value into switch and slot. A switch's name
// holds no slash where its configuration is sane; a slot may.
func cutLast(value string) (name, slot string, ok bool) { return strings.Cut(value, "/") }

// showCauses puts what is held into words.
func (t *Tracker) showCauses() {
	var shown []*SharedCause
	for _, h := range t.shared.held {
		if len(h.Faulty) == 0 {
			continue
		}
		c := t.shownCause(h)
		same := slices.IndexFunc(shown, func(o *SharedCause) bool { return o.SharedName == c.SharedName })
		if same >= 0 { // copper and fibre both
			shown[same] = t.together(shown[same], c)
			continue
		}
		shown = append(shown, c)
	}
	slices.SortStableFunc(shown, func(a, b *SharedCause) int { return compareShared(a, b) })
	t.shared.causes = shown
}

func (t *Tracker) shownCause(h *hold) *SharedCause {
	c := &SharedCause{
		SharedName: h.Name, Title: titled(h.Name, t.plant), Since: h.Since,
		Probability: h.Probability, Share: h.Share, Members: h.Members,
		Faulty: orNone(h.Faulty), Suspects: orNone(h.Suspects), Also: orNone(h.Also), Rivals: orNone(h.Rivals),
		Beside: orNone(t.liesBeside(h.Name)), Severity: t.severityOver(h.Faulty), NextChecks: h.nextChecks(),
	}
	c.Summary = fmt.Sprintf("%d of the %d runs that have the %s in common are at fault together.", len(c.Faulty), c.Members, c.Title)
	c.Evidence = t.sharedEvidence(h)
	c.Checks = saysOf(c.NextChecks)
	c.Cautions = h.cautions()
	return c
}

func orNone[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

// severityOver is the worst of the faults that are folded.
func (t *Tracker) severityOver(runs []string) Severity {
	worst := Warning
	for _, run := range runs {
		if s := t.board.sites[place{run: run}]; s != nil {
			for _, f := range s.faults {
				if f.blamesRun() && severityOrder[f.Severity] > severityOrder[worst] {
					worst = f.Severity
				}
			}
		}
	}
	return worst
}

func (t *Tracker) sharedEvidence(h *hold) (evidence []string) {
	say := func(format string, a ...any) { evidence = append(evidence, fmt.Sprintf(format, a...)) }
	medium := "copper"
	if h.Glass {
		medium = "fibre"
	}
	say("Of the %d other %s runs that are watched, at fault: %d.", h.Elsewhere[1], medium, h.Elsewhere[0])
	switch h.Part {
	case onPanels:
		say("They are the runs that end on a panel there; those that only have their switch there are no worse than others.")
	case onSwitches:
		say("They are the runs that have their switch there; those that only end on a panel there are no worse than others.")
	}
	if n := len(h.Suspects); n > 0 {
		say("%d of these runs raise no fault of their own yet: their readings speak for one that is coming.", n)
	}
	if h.Name.Attribute == ByPathway && !h.Glass {
		evidence = append(evidence, withoutEmpty(t.burstSentence(h.Name.Value))...)
	}
	evidence = append(evidence, withoutEmpty(besideSentence(t.liesBeside(h.Name)))...)
	for _, name := range h.Also {
		say("The very same runs have the %s in common: the readings cannot tell the two apart.", titled(name, t.plant))
	}
	for _, r := range h.Rivals {
		say("The %s explains nearly as much (%s).", titled(r.SharedName, t.plant), Percent(r.Probability))
	}
	if !h.Lost.IsZero() {
		say("Too few of them are at fault now to say so again; it lets go where that lasts.")
	}
	return evidence
}

// liesBeside is what the record says that lies beside a pathway; nil for all else.
func (t *Tracker) liesBeside(n SharedName) []string {
	if way := t.plant.Pathway(n.Value); n.Attribute == ByPathway && way != nil {
		return way.Near
	}
	return nil
}

func besideSentence(what []string) string {
	if len(what) == 0 {
		return ""
	}
	return fmt.Sprintf("By the record there is beside it: %s.", strings.Join(what, ", "))
}

// together is one cause of the copper and the fibre runs of one thing.
func (t *Tracker) together(a, b *SharedCause) *SharedCause {
	c := *a
	if b.Since.Before(a.Since) {
		c.Since = b.Since
	}
	if severityOrder[b.Severity] > severityOrder[a.Severity] {
		c.Severity = b.Severity
	}
	c.Probability, c.Share = max(a.Probability, b.Probability), max(a.Share, b.Share)
	c.Members += b.Members
	c.Faulty, c.Suspects = append(slices.Clone(a.Faulty), b.Faulty...), append(slices.Clone(a.Suspects), b.Suspects...)
	c.Also, c.Rivals = appendUnique(a.Also, b.Also), appendUnique(a.Rivals, b.Rivals)
	c.Summary = fmt.Sprintf("%d of the %d runs that have the %s in common are at fault together.", len(c.Faulty), c.Members, c.Title)
	c.Evidence = appendNew(slices.Clone(a.Evidence), b.Evidence)
	c.NextChecks = slices.Clone(a.NextChecks)
	for _, check := range b.NextChecks {
		if !slices.ContainsFunc(c.NextChecks, func(known NextCheck) bool { return known.Check == check.Check }) {
			c.NextChecks = append(c.NextChecks, check)
		}
	}
	c.Checks, c.Cautions = saysOf(c.NextChecks), appendNew(slices.Clone(a.Cautions), b.Cautions)
	return &c
}

func appendUnique[T comparable](a, b []T) []T {
	out := slices.Clone(a)
	for _, v := range b {
		if !slices.Contains(out, v) {
			out = append(out, v)
		}
	}
	return out
}
