package plant

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"toneout/internal/standards"
)

// Sighting is what is seen of a port, as far as a record can be too old for it.
type Sighting struct {
	Up      bool
	DownFor time.Duration   // how long it has had no link, at least; 0 where it has one or that is not known
	Fastest standards.Speed // the most that the port can do; 0 where not known
	Device  string          // the name of the one other device that it hears; "" for none or several
}

// StaleRow is a row of the inventory that no longer fits what is seen.
type StaleRow struct {
	Run *Run
	End End
	Why string // part of a sentence
}

// staleAfter is how long a run in use may be without a link before its row is
// doubted: longer than holidays (common practice, no source).
const staleAfter = 30 * 24 * time.Hour

// Stale gives the rows that no longer fit what is seen, in the order of the
// inventory: a switch that is not configured, a port that its switch does not
// show, a run in use without a link for 30 days, a run out of use with one, a
// design speed that the port cannot do, another device than the recorded one.
// seen gives what is seen of a joined port, false where its switch does not
// answer. What contradicts a record so that it is joined nowhere is not here
// but in Joined.Conflicts.
func (p *Plant) Stale(j *Joined, seen func(PortRef) (Sighting, bool)) (rows []StaleRow) {
	gone := map[*Run][]UnjoinedRun{}
	for _, u := range j.UnjoinedRuns {
		if u.Gone {
			gone[u.Run] = append(gone[u.Run], u)
		}
	}
	for _, run := range p.Runs {
		for _, u := range gone[run] {
			rows = append(rows, StaleRow{run, u.End, u.Why})
		}
		near, far := j.PortsOf(run.ID)
		told := map[string]bool{} // what holds for both ends is told once
		for end, ref := range []PortRef{near, far} {
			s, ok := seen(ref)
			if ref == (PortRef{}) || !ok {
				continue
			}
			join, _ := j.At(ref)
			for _, why := range staleness(join, s, far == (PortRef{})) {
				if !told[why] {
					told[why] = true
					rows = append(rows, StaleRow{run, End(end), why})
				}
			}
		}
	}
	return rows
}

// staleness tells what speaks against the row of one joined port. leaf is
// whether no switch port is at the run's other end.
func staleness(join Join, s Sighting, leaf bool) (why []string) {
	run := join.Run
	add := func(format string, args ...any) { why = append(why, fmt.Sprintf(format, args...)) }
	if at := run.At(join.End); at.Port != "" && (join.How == ByDescription || join.How == ByNeighbour) {
		add("recorded at %s, which the switch does not show; by its %s it is at %s", at, join.How, join.Port)
	}
	outOfUse := run.Status == Spare || run.Status == Abandoned
	switch {
	case run.Status == Live && !s.Up && s.DownFor >= staleAfter:
		add("recorded as live, and without a link for %d days", s.DownFor/(24*time.Hour))
	case outOfUse && s.Up:
		add("recorded as %s, and its port has a link", run.Status)
	}
	if s.Fastest > 0 && run.DesignSpeed > s.Fastest {
		add("recorded with design speed %s, and %s can do no more than %s", run.DesignSpeed, join.Port, s.Fastest)
	}
	if leaf && join.End == NearEnd && otherDevice(run, s.Device) {
		add("recorded with device %q, and %q is heard", run.Device, s.Device)
	}
	return why
}

// otherDevice tells whether a heard name is not that of the recorded device.
// A record may name a device in words of its own; only a name as systems have
// it is compared, up to its domain: one drafted from a neighbour, or one word
// with a digit in it (common practice, no source).
func otherDevice(run *Run, heard string) bool {
	host := func(name string) string {
		name, _, _ = strings.Cut(fold(name), ".")
		return name
	}
	drafted := slices.ContainsFunc(run.DraftedFrom, func(e string) bool { return strings.HasPrefix(e, "device=") })
	named := drafted || !strings.ContainsAny(strings.TrimSpace(run.Device), " \t") && strings.ContainsAny(run.Device, "0123456789")
	return run.Device != "" && heard != "" && named && host(run.Device) != host(heard)
}
