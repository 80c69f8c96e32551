package fault

import (
	"cmp"
	"slices"
	"time"
)

// unread tells whether a switch is silent, which one that refuses credentials
// is not: it answers.
func (s *switchState) unread() bool { return s.view.Unread() && !s.view.RefusesCredentials() }

// holdBack is for how many polling intervals an unread switch waits to be told:
// switches are polled at different moments, so that one behind another may be
// missed before it. The quarter is for polls that end late.
const holdBack = 1.25

// settled tells whether what a silent switch is due to can be told: those
// beside it are all silent, or one of them has answered since, or it has waited
// long enough.
func (t *Tracker) settled(s *switchState, at time.Time) bool {
	if at.Sub(s.unreadAt) >= time.Duration(holdBack*float64(t.settings.PollEvery)) {
		return true
	}
	silent := true
	for _, name := range t.net.beside[s.name] {
		b := t.switches[name]
		if b.unread() {
			continue
		}
		silent = false
		heard := b.view.LastAnswer
		if b.view.RefusesCredentials() {
			heard = b.view.LastTry
		}
		if heard.After(s.unreadAt) {
			return true
		}
	}
	return silent
}

// reappeared lets those that a switch hid wait anew: they are likely back with
// it, and polled a little later.
func (t *Tracker) reappeared(s *switchState, at time.Time) {
	t.reweigh = true
	for _, o := range t.order {
		if o.view.Behind == s.name {
			o.unreadAt = at
		}
	}
}

// hide works out which silent switches hide which. Of a group of silent
// switches that hang together, those beside an answering one are told; the
// others are behind the nearest of these. Where nothing answers beside a group,
// the one with most links is told.
func (t *Tracker) hide(at time.Time) {
	if !t.reweigh {
		return
	}
	t.reweigh = false
	behind := make(map[*switchState]string)
	for _, s := range t.order {
		if _, known := behind[s]; !known && s.unread() {
			t.hideGroup(t.group(s), behind)
		}
	}
	for _, s := range t.order {
		hidden, waiting := behind[s], s.unread() && !t.settled(s, at)
		if waiting {
			hidden = ""
			t.reweigh = true
		}
		if s.view.Behind != hidden || s.view.waiting != waiting {
			view := *s.view
			view.Behind, view.waiting = hidden, waiting
			t.see(s, &view)
		}
	}
}

// group is the silent switches that hang together with one.
func (t *Tracker) group(s *switchState) []*switchState {
	group := []*switchState{s}
	in := map[*switchState]bool{s: true}
	for i := 0; i < len(group); i++ {
		for _, name := range t.net.beside[group[i].name] {
			if b := t.switches[name]; b.unread() && !in[b] {
				in[b] = true
				group = append(group, b)
			}
		}
	}
	return group
}

// hideGroup tells of each switch of a group which one hides it, "" for none:
// the nearest of its heads, of several the first by name.
func (t *Tracker) hideGroup(group []*switchState, behind map[*switchState]string) {
	reached := t.heads(group)
	for _, s := range reached {
		behind[s] = ""
	}
	for i := 0; i < len(reached); i++ { // breadth first, heads in the order of their names
		s := reached[i]
		head := behind[s]
		if head == "" {
			head = s.name
		}
		for _, name := range t.net.beside[s.name] {
			b := t.switches[name]
			if _, known := behind[b]; !known && b.unread() {
				behind[b] = head
				reached = append(reached, b)
			}
		}
	}
}

// heads are the switches of a group that are told, in the order of their names.
func (t *Tracker) heads(group []*switchState) (heads []*switchState) {
	for _, s := range group {
		if slices.ContainsFunc(t.net.beside[s.name], func(name string) bool { return !t.switches[name].unread() }) {
			heads = append(heads, s)
		}
	}
	if len(heads) == 0 {
		heads = []*switchState{slices.MinFunc(group, func(a, b *switchState) int {
			if links := len(t.net.beside[b.name]) - len(t.net.beside[a.name]); links != 0 {
				return links
			}
			return compareNames(a, b)
		})}
	}
	slices.SortFunc(heads, compareNames)
	return heads
}

func compareNames(a, b *switchState) int { return cmp.Compare(a.name, b.name) }
