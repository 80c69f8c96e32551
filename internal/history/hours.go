package history

import (
	"context"
	"time"
)

// Week tells when in the week a run's frames are damaged.
type Week struct {
	From  time.Time  `json:"from"`
	To    time.Time  `json:"to"`
	Zone  string     `json:"zone"`  // whose hours these are, as IANA calls it; its offset as of now, such as UTC+01:00, where that is not known
	Ports []PortWeek `json:"ports"` // that received, by switch and name: each counts what comes in at its end
}

// PortWeek is what a port received by the hour of the week.
type PortWeek struct {
	Switch string `json:"switch"`
	Port   string `json:"port"`
	// Hours are 168, each of all weeks, of which the first is Monday's from midnight
	// by the zone's clock. One in which nothing was received is nil. Where the clock is put back an
	// hour comes twice, and where it is put forward one is left out.
	Hours [hoursOfWeek]*Sum `json:"hours"`
	// Unplaced is what came between polls more than an hour apart, as over a
	// gap: nobody knows in which hour. Nil where there is none.
	Unplaced *Sum `json:"unplaced"`
}

const hoursOfWeek = 7 * 24

// WeekOf asks for the hours of the week of a run or a port, in polls that ended
// after from and not after to. A poll belongs to the hour of its middle.
func WeekOf(ctx context.Context, q Querier, of Place, from, to time.Time, zone *time.Location) (*Week, error) {
	ports, err := PollsOf(ctx, q, of, from, to)
	if err != nil {
		return nil, err
	}
	w := &Week{From: from, To: to, Zone: zone.String(), Ports: []PortWeek{}}
	for i := range ports {
		w.Ports = append(w.Ports, weekOf(&ports[i], zone))
	}
	return w, nil
}

func weekOf(p *PortPolls, zone *time.Location) PortWeek {
	w := PortWeek{Switch: p.Switch, Port: p.Port}
	for i := range p.Polls {
		poll := &p.Polls[i]
		cell := &w.Unplaced
		if lasts := poll.To.Sub(poll.From); lasts <= time.Hour {
			cell = &w.Hours[hourOfWeek(poll.From.Add(lasts/2).In(zone))]
		}
		if *cell == nil {
			*cell = &Sum{}
		}
		(*cell).add(poll)
	}
	return w
}

// hourOfWeek is 0 on Monday after midnight.
func hourOfWeek(t time.Time) int {
	return (int(t.Weekday())+6)%7*24 + t.Hour()
}
