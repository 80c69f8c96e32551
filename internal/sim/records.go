package sim

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"
)

// Records says how badly the college's inventory is kept, beyond what its
// people miss anyway: which share of the runs is missing from the files, and
// which share of the recorded ports is swapped pairwise within a switch.
type Records struct{ Missing, Swapped float64 }

// FerrowQuayWith is FerrowQuay with other records. Every third swapped pair has
// the true runs in its ports' descriptions. One of the first two pairs' runs
// has a planted fault, and there a description or a neighbour contradicts the
// record. What is missing and swapped does not depend on the seed.
func FerrowQuayWith(seed uint64, start time.Time, records Records) *Campus {
	c := FerrowQuay(seed, start)
	b := &builder{Campus: c, layout: rand.New(rand.NewPCG(1901, 7))}
	b.drop(records.Missing)
	b.swap(records.Swapped)
	return c
}

// swap gives pairs of runs each other's recorded port.
func (b *builder) swap(share float64) {
	var candidates []int
	for i, r := range b.site.runs {
		if r["port"] != "" && b.recordRight(r) {
			candidates = append(candidates, i)
		}
	}
	pairs := int(math.Round(share * float64(len(candidates)) / 2))
	b.layout.Shuffle(len(candidates), func(i, j int) { candidates[i], candidates[j] = candidates[j], candidates[i] })
	for n := 0; n < pairs && len(candidates) > 1; {
		one := b.site.runs[draw(&candidates, func(i int) bool { return b.planted(b.site.runs[i]) == (n < 2) })]
		at := draw(&candidates, func(i int) bool {
			other := b.site.runs[i]
			return b.alike(one, other) && !b.planted(other) && (n > 1 || (b.namedEnd(other) != "") == (n == 1))
		})
		if other := b.site.runs[at]; b.alike(one, other) {
			if n%3 == 0 {
				b.labelCopper(one)
				b.labelCopper(other)
			}
			one["port"], other["port"] = other["port"], one["port"]
			n++
		}
	}
}

// draw takes the first that is wanted out of a list, or the first of all.
func draw(list *[]int, wanted func(int) bool) int {
	at := max(slices.IndexFunc(*list, wanted), 0)
	out := (*list)[at]
	*list = slices.Delete(*list, at, at+1)
	return out
}

// planted says whether a run is a copper one with an entry in the answer book.
func (b *builder) planted(r record) bool {
	return slices.ContainsFunc(b.faults, func(f PlantedFault) bool { return f.Run == r["id"] && r["outlet"] != "" })
}

// alike says whether two records could be mistaken for each other.
func (b *builder) alike(one, other record) bool {
	return one["switch"] == other["switch"] && b.recordedAt(one).Media == b.recordedAt(other).Media
}

func (b *builder) labelCopper(r record) {
	if r["outlet"] != "" {
		b.label(r)
	}
}

// drop takes records out of the files; the answer book lacks their runs then.
func (b *builder) drop(share float64) {
	runs := b.site.runs
	gone := map[string]bool{}
	for _, i := range b.layout.Perm(len(runs))[:int(math.Round(share*float64(len(runs))))] {
		gone[runs[i]["id"]] = true
	}
	b.site.runs = slices.DeleteFunc(runs, func(r record) bool { return gone[r["id"]] })
	for i, f := range b.faults {
		if !gone[f.Run] {
			continue
		}
		b.faults[i].Run = ""
		if f.What == "admin-limit" {
			b.faults[i].Expect = "" // who is to know that more was meant?
		}
	}
}

// RunAt gives the true id of the run at a port, "" where there is none.
func (c *Campus) RunAt(p *Port) string {
	if cable := c.Cable(p); cable != nil {
		return cable.ID
	}
	for run, place := range c.places {
		if place == p {
			return run
		}
	}
	return ""
}

// RecordTruth is what is true of a run whose record names a port.
type RecordTruth struct {
	Run          string
	Switch, Port string // as recorded
	True         *Port  // the port that the run is at
	Right        bool
	// Of a wrong record: does a neighbour contradict it, or a description?
	ByNeighbour, ByDescription bool
}

// Truth compares every record that names a port with the campus, and the wrong
// ones with what neighbours and descriptions say at a time.
func (c *Campus) Truth(now time.Time) (out []RecordTruth) {
	c.Do(now, func() {
		for _, r := range c.site.runs {
			if r["port"] == "" {
				continue
			}
			t := RecordTruth{Run: r["id"], Switch: r["switch"], Port: r["port"], True: c.places[r["id"]], Right: c.recordRight(r)}
			if !t.Right {
				t.ByNeighbour, t.ByDescription = c.neighbourAgainst(r), c.descriptionAgainst(r)
			}
			out = append(out, t)
		}
	})
	return out
}

func (c *Campus) recordedAt(r record) *Port { return c.Switch(r["switch"]).Port(r["port"]) }

func (c *Campus) recordRight(r record) bool { return c.places[r["id"]] == c.recordedAt(r) }

// descriptionAgainst says whether the recorded port's description names
// another run, or another port's names this one.
func (c *Campus) descriptionAgainst(r record) bool {
	at := c.recordedAt(r)
	for _, s := range c.switches {
		for _, p := range s.ports {
			named, _, _ := strings.Cut(p.Alias, " ")
			if p == at && c.places[named] != nil && named != r["id"] || p != at && named == r["id"] {
				return true
			}
		}
	}
	return false
}

// neighbourAgainst says whether what is heard contradicts a record: another
// end than its own is heard at the recorded port, or its own at another port,
// or at the recorded port one that another run's record names.
func (c *Campus) neighbourAgainst(r record) bool {
	at, own := c.recordedAt(r), c.namedEnd(r)
	here := at.hearing()
	if own != "" {
		return len(here) > 0 && !slices.Contains(here, own) || len(here) == 0 && c.heardAnywhere(own)
	}
	return slices.ContainsFunc(c.site.runs, func(o record) bool {
		end := c.namedEnd(o)
		return end != "" && slices.Contains(here, end)
	})
}

func (c *Campus) heardAnywhere(end string) bool {
	return slices.ContainsFunc(c.switches, func(s *Switch) bool {
		return slices.ContainsFunc(s.ports, func(p *Port) bool { return slices.Contains(p.hearing(), end) })
	})
}

// namedEnd is the far end that a record names so that it can be told from all
// others: a switch's port, or a device's own name; "" for a kind of device.
func (c *Campus) namedEnd(r record) string {
	if r["far_port"] != "" {
		return r["far_switch"] + " " + r["far_port"]
	}
	if _, kind := devices[r["device"]]; kind || r["device"] == "server" {
		return ""
	}
	return r["device"]
}

// hearing gives what a port hears now, as namedEnd has it.
func (p *Port) hearing() (out []string) {
	for _, n := range p.heard {
		switch {
		case n.gone:
		case n.from != nil:
			out = append(out, n.from.owner.Name+" "+n.from.Name)
		default:
			out = append(out, n.by.Name)
		}
	}
	return out
}
