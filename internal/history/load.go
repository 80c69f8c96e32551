package history

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"toneout/internal/sequential"
)

// Load tells whether damaged frames follow what crosses a run.
type Load struct {
	From  time.Time  `json:"from"`
	To    time.Time  `json:"to"`
	Ports []PortLoad `json:"ports"` // that received, by switch and name: each counts what comes in at its end
}

// PortLoad is what a port received, by what crossed the link.
type PortLoad struct {
	Switch  string     `json:"switch"`
	Port    string     `json:"port"`
	Bands   []LoadBand `json:"bands"`             // those with polls, by load
	Quieter *LoadBand  `json:"quieter,omitempty"` // the half of the polls with the lesser load; left out with the other where loads are not known
	Busier  *LoadBand  `json:"busier,omitempty"`
	Follows Follows    `json:"follows"`
	Says    string     `json:"says"` // a sentence: what it means
}

// LoadBand is what was received at loads from From to below To, in bit/s of both
// directions, and the share of it that was damaged, with the exact 95 % interval of
// a Poisson mean (Garwood 1936).
type LoadBand struct {
	From float64 `json:"from_bits_per_second"`
	To   float64 `json:"to_bits_per_second"`
	Mean float64 `json:"mean_bits_per_second"`
	Sum
	Low      float64 `json:"low"`
	Estimate float64 `json:"estimate"`
	High     float64 `json:"high"`
}

// Follows is what the share of damaged frames does as the load rises.
type Follows string

// What it may do. Damage by the cable does not know how many frames come: its
// share is level. A share that rises is of a duplex mismatch or an overload
// (common practice, no source). One that falls is of what strikes by the clock, a
// machine say.
const (
	FollowsNothing Follows = "undecided"
	ShareLevel     Follows = "per-frame"
	ShareRises     Follows = "load"
	ShareFalls     Follows = "time"
)

const confidence = 0.95

// LoadOf asks how the damaged frames of a run or a port go with its load, in polls
// that ended after from and not after to.
func LoadOf(ctx context.Context, q Querier, of Place, from, to time.Time) (*Load, error) {
	ports, err := PollsOf(ctx, q, of, from, to)
	if err != nil {
		return nil, err
	}
	l := &Load{From: from, To: to, Ports: []PortLoad{}}
	for i := range ports {
		l.Ports = append(l.Ports, loadOf(&ports[i]))
	}
	return l, nil
}

func loadOf(p *PortPolls) PortLoad {
	out := PortLoad{Switch: p.Switch, Port: p.Port, Bands: []LoadBand{}}
	polls := slices.DeleteFunc(slices.Clone(p.Polls), func(p Poll) bool { return !p.Counted })
	slices.SortStableFunc(polls, func(a, b Poll) int {
		loadA, _ := a.Load()
		loadB, _ := b.Load()
		return cmp.Compare(loadA, loadB)
	})
	for i := range polls {
		load, _ := polls[i].Load()
		if n := len(out.Bands); n == 0 || load >= out.Bands[n-1].To {
			from, to := bandAt(load)
			out.Bands = append(out.Bands, LoadBand{From: from, To: to})
		}
		out.Bands[len(out.Bands)-1].add(&polls[i])
	}
	for i := range out.Bands {
		out.Bands[i].bound()
	}
	if len(polls) > 1 {
		out.Quieter, out.Busier = half(polls[:len(polls)/2]), half(polls[len(polls)/2:])
		out.Follows = followed(out.Quieter, out.Busier)
	} else {
		out.Follows = FollowsNothing
	}
	out.Says = out.says()
	return out
}

// bandAt gives the bounds of the band of a load: 1, 2, 5, 10, 20 and so on, and one
// below 1 kbit/s.
func bandAt(load float64) (from, to float64) {
	for to = 1000; load >= to; {
		for _, factor := range []float64{2, 2.5, 2} {
			if from, to = to, to*factor; load < to {
				break
			}
		}
	}
	return from, to
}

// half is a part of the polls, which are sorted by load.
func half(polls []Poll) *LoadBand {
	b := &LoadBand{}
	b.From, _ = polls[0].Load()
	b.To, _ = polls[len(polls)-1].Load()
	for i := range polls {
		b.add(&polls[i])
	}
	b.bound()
	return b
}

func (b *LoadBand) add(p *Poll) {
	b.Sum.add(p)
	b.Mean += p.Bits // until bound
}

// bound works the ratios out once all is added.
func (b *LoadBand) bound() {
	b.Mean /= b.Seconds
	low, high := sequential.Interval(b.Damaged, confidence)
	of := float64(b.Frames)
	b.Low, b.Estimate, b.High = min(1, low/of), float64(b.Damaged)/of, min(1, high/of)
}

// Rules of a decision (common practice, no source).
const (
	leastContrast = 1.5 // between the loads of the halves
	leastErrored  = 20  // polls
)

// followed holds the busier half against the quieter one. A share that follows the
// load rises by as much as the load does, one that comes by the clock falls by as
// much, and what lies between is nearest to one of the three. How sure that is goes
// by the number of errored polls, since damaged frames come in bursts.
func followed(quiet, busy *LoadBand) Follows {
	contrast := busy.Mean / quiet.Mean
	if quiet.Mean == 0 || contrast < leastContrast || quiet.Errored+busy.Errored < leastErrored {
		return FollowsNothing
	}
	least, most := quotient(quiet, busy)
	edge := math.Sqrt(contrast)
	switch {
	case least > edge:
		return ShareRises
	case most < 1/edge:
		return ShareFalls
	case least > 1/contrast && most < contrast:
		return ShareLevel
	}
	return FollowsNothing
}

// quotient bounds the busier half's share of damaged frames over the quieter one's.
func quotient(quiet, busy *LoadBand) (least, most float64) {
	quietLow, quietHigh := quiet.byPolls()
	busyLow, busyHigh := busy.byPolls()
	return busyLow / quietHigh, busyHigh / quietLow
}

// byPolls are the bounds of the share as the number of errored polls allows. A
// half without any may have had one frame damaged in each of those.
func (b *LoadBand) byPolls() (low, high float64) {
	low, high = sequential.Interval(uint64(b.Errored), confidence)
	frames := 1.0 // damaged, in the mean errored poll
	if b.Errored > 0 {
		frames = float64(b.Damaged) / float64(b.Errored)
	}
	return low * frames / float64(b.Frames), high * frames / float64(b.Frames)
}

// says tells what it means.
func (l *PortLoad) says() string {
	if l.Quieter == nil {
		return "Nothing can be told: too little was received, or the switch does not count what it sends."
	}
	share := fmt.Sprintf("%s in the busier half of the polls, %s in the quieter half", l.Busier.words(), l.Quieter.words())
	switch l.Follows {
	case ShareRises:
		return share + ": the share rises with the load, as by a duplex mismatch or an overload, and not as by a cable. Look at the hours of the week too: a machine that runs in busy hours looks alike."
	case ShareFalls:
		return share + ": damage comes by the clock and not with the frames, as by something that disturbs from outside."
	case ShareLevel:
		return share + ": the share is the same at any load, as by the cable, a plug or an optic."
	}
	if l.Quieter.Damaged+l.Busier.Damaged == 0 {
		return "No frame was damaged."
	}
	return share + ": that does not tell what it follows."
}

func (b *LoadBand) words() string {
	return fmt.Sprintf("%d of %d frames damaged (at %.3g Mbit/s)", b.Damaged, b.Frames, b.Mean/1e6)
}
