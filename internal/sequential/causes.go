package sequential

import (
	"cmp"
	"encoding/binary"
	"math"
	"slices"
)

// Group is the members that share one thing: a panel, a pathway, a batch.
type Group struct {
	Attribute int   // which sort of thing, any number
	Members   []int // ascending, each once
	Held      bool  // it was found before: the choice among all groups is paid for
}

// SharedCause is a group whose members fail together more than chance and the
// other causes explain.
type SharedCause struct {
	Groups []int   // the group, and those given with the same members
	Theta  float64 // share of the members that it makes faulty
	Gain   float64 // nats that the score rises by it, all else refitted
	Rivals []Rival // likeliest first
}

// Rival is a group that would explain nearly as much in a cause's stead.
type Rival struct {
	Groups []int
	Gain   float64 // in the cause's stead, nats
}

const (
	leastFaulty   = 3     // faulty members that a cause has
	leastGain     = 0.5   // nats; below it a cause is named without a fault of its own in 1 of 400 plants
	greatestTheta = 0.995 // where every member is faulty, the likelihood has no greatest
	rivalNats     = 3
	leastRise     = 0.01 // nats, of an exchange
	muchSmaller   = 0.75 // of the members of a group: others that split it
	triedInTurn   = 3    // candidates, before the search ends
	passes        = 30
	settled       = 1e-5 // a pass that moves no chance by more is the last
)

// SharedCauses finds the groups that stand behind the faulty members. Each
// member fails by itself with chance eps, or by each chosen group g that holds
// it with chance theta_g (a noisy OR):
//
//	P_i = 1 - (1 - eps) product over chosen g holding i of (1 - theta_g)
//
// It looks for the set of groups of the greatest score: the log-likelihood,
// less for each group ln(attributes) + ln(groups of that attribute) +
// ln(its members)/2. The search adds the group of the greatest gain, fits all
// again, and drops what no longer raises the score. A group that was found
// before pays the last part only, so that a cause goes later than it comes.
// Causes come by gain. Prior
// work on groups that share a risk: R. Kompella and others, "IP fault
// localization via risk modeling", NSDI 2005 (memory).
func SharedCauses(faulty []bool, groups []Group) []SharedCause {
	p := newProblem(faulty, groups)
	best := p.grown(p.fitted(solution{eps: p.startEps()}), anyone)
	for better := true; better; {
		best, better = p.exchange(best)
	}
	return p.report(best)
}

// problem is what the search needs of members and groups: the healthy ones
// count by number only.
type problem struct {
	members    float64
	faulty     int
	candidates []candidate
}

// candidate is the groups that have the same members.
type candidate struct {
	groups  []int
	faulty  []int32 // its faulty members, by their place among the faulty
	members float64
	penalty float64
}

func (c *candidate) healthy() float64 { return c.members - float64(len(c.faulty)) }

func newProblem(faulty []bool, groups []Group) *problem {
	p := &problem{members: float64(len(faulty))}
	place := make([]int32, len(faulty))
	for i, f := range faulty {
		place[i] = -1
		if f {
			place[i] = int32(p.faulty)
			p.faulty++
		}
	}
	sorts := make(map[int]float64) // groups of each attribute
	for _, g := range groups {
		sorts[g.Attribute]++
	}
	same := make(map[string]int)
	for i, g := range groups {
		failed := failedOf(g, place)
		if len(failed) < leastFaulty {
			continue
		}
		penalty := math.Log(float64(len(g.Members))) / 2
		if !g.Held {
			penalty += math.Log(float64(len(sorts))) + math.Log(sorts[g.Attribute])
		}
		key := keyOf(g)
		if at, ok := same[key]; ok {
			c := &p.candidates[at]
			c.groups, c.penalty = append(c.groups, i), min(c.penalty, penalty)
			continue
		}
		same[key] = len(p.candidates)
		p.candidates = append(p.candidates, candidate{[]int{i}, failed, float64(len(g.Members)), penalty})
	}
	return p
}

func failedOf(g Group, place []int32) (failed []int32) {
	for _, m := range g.Members {
		if place[m] >= 0 {
			failed = append(failed, place[m])
		}
	}
	return failed
}

func keyOf(g Group) string {
	key := make([]byte, 0, 4*len(g.Members))
	for _, m := range g.Members {
		key = binary.LittleEndian.AppendUint32(key, uint32(m))
	}
	return string(key)
}

// solution is a set of candidates with their fit.
type solution struct {
	chosen []int
	theta  []float64
	eps    float64
	score  float64
	good   []float64 // chance of each faulty member to have been healthy
}

// A plant holds its own faults; these stand for half a fault more in 50 runs
// more, so that a plant without any has a chance of them.
const (
	priorFaulty  = 0.5
	priorMembers = 50
)

func (p *problem) startEps() float64 {
	return (priorFaulty + float64(p.faulty)) / (p.members + priorMembers)
}

// fitted is the solution after so many passes of expectation and
// maximisation: given its fault, a member owes it to g with chance theta_g/P_i.
func (p *problem) fitted(s solution) solution {
	s.theta, s.good = slices.Clone(s.theta), make([]float64, p.faulty)
	odds := make([]float64, p.faulty) // 1/P_i
	for pass, moved := 0, 1.0; pass < passes && moved > settled; pass++ {
		p.chances(&s)
		all := 0.0
		for i, q := range s.good {
			odds[i] = 1 / (1 - q)
			all += odds[i]
		}
		was := s.eps
		s.eps = (priorFaulty + was*all) / (p.members + priorMembers)
		moved = math.Abs(s.eps - was)
		for j, at := range s.chosen {
			c, owed := &p.candidates[at], 0.0
			for _, i := range c.faulty {
				owed += odds[i]
			}
			was := s.theta[j]
			s.theta[j] = min(greatestTheta, was*owed/c.members)
			moved = max(moved, math.Abs(s.theta[j]-was))
		}
	}
	p.chances(&s)
	s.score = (p.members - float64(p.faulty)) * math.Log1p(-s.eps)
	for _, q := range s.good {
		s.score += math.Log1p(-q)
	}
	for j, at := range s.chosen {
		c := &p.candidates[at]
		s.score += c.healthy()*math.Log1p(-s.theta[j]) - c.penalty
	}
	return s
}

// chances works out how likely each faulty member was to be healthy.
func (p *problem) chances(s *solution) {
	for i := range s.good {
		s.good[i] = 1 - s.eps
	}
	for j, at := range s.chosen {
		for _, i := range p.candidates[at].faulty {
			s.good[i] *= 1 - s.theta[j]
		}
	}
}

// gain is what a group adds to the log-likelihood while all else stays, and
// the theta at which it adds most: the gain is concave in it.
func (p *problem) gain(c *candidate, good []float64) (gain, theta float64) {
	rises := func(theta float64) bool {
		slope := -c.healthy() / (1 - theta)
		for _, i := range c.faulty {
			slope += good[i] / (1 - good[i]*(1-theta))
		}
		return slope > 0
	}
	low, high := 0.0, greatestTheta
	switch {
	case !rises(low):
		return 0, 0
	case rises(high):
		low = high
	}
	for high-low > 1e-4 {
		if theta = (low + high) / 2; rises(theta) {
			low = theta
		} else {
			high = theta
		}
	}
	theta = (low + high) / 2
	gain = c.healthy() * math.Log1p(-theta)
	for _, i := range c.faulty {
		gain += math.Log((1 - good[i]*(1-theta)) / (1 - good[i]))
	}
	return gain, theta
}

type proposal struct {
	candidate  int
	net, theta float64 // gain less penalty
}

// proposals are the candidates not chosen yet that gain more than least, by
// their gains.
func (p *problem) proposals(s *solution, least float64, may func(int) bool) (all []proposal) {
	for at := range p.candidates {
		c := &p.candidates[at]
		if !may(at) || slices.Contains(s.chosen, at) {
			continue
		}
		gain, theta := p.gain(c, s.good)
		if net := gain - c.penalty; net > least {
			all = append(all, proposal{at, net, theta})
		}
	}
	slices.SortFunc(all, func(a, b proposal) int {
		return cmp.Or(cmp.Compare(b.net, a.net), cmp.Compare(a.candidate, b.candidate))
	})
	return all
}

// grown adds groups for as long as the score rises, of the candidates that may.
func (p *problem) grown(s solution, may func(int) bool) solution {
	for rising := true; rising; {
		s, rising = p.grow(s, may)
	}
	return s
}

func anyone(int) bool { return true }

// exchange takes one group away and lets others grow in its place: any other,
// or only much smaller ones, as two panels in the stead of their room, which
// many other groups resemble.
func (p *problem) exchange(s solution) (solution, bool) {
	for j, at := range s.chosen {
		less := p.without(s, j)
		smaller := muchSmaller * p.candidates[at].members
		for _, may := range []func(int) bool{
			func(c int) bool { return c != at },
			func(c int) bool { return p.candidates[c].members <= smaller },
		} {
			if next := p.grown(p.grown(less, may), anyone); next.score > s.score+leastRise {
				return next, true
			}
		}
	}
	return s, false
}

// grow adds one group and drops those that it makes needless.
func (p *problem) grow(s solution, may func(int) bool) (solution, bool) {
	for turn, add := range p.proposals(&s, leastGain, may) {
		if turn == triedInTurn {
			break
		}
		next := s
		next.chosen = append(slices.Clone(s.chosen), add.candidate)
		next.theta = append(slices.Clone(s.theta), add.theta)
		if next = p.fitted(next); next.score > s.score+leastGain {
			return p.prune(next), true
		}
	}
	return s, false
}

func (p *problem) prune(s solution) solution {
	for j := 0; j < len(s.chosen); j++ {
		if less := p.without(s, j); less.score >= s.score-leastGain {
			s, j = less, -1
		}
	}
	return s
}

// without is the fit without the j-th group.
func (p *problem) without(s solution, j int) solution {
	s.chosen = slices.Delete(slices.Clone(s.chosen), j, j+1)
	s.theta = slices.Delete(slices.Clone(s.theta), j, j+1)
	return p.fitted(s)
}

func (p *problem) report(s solution) (causes []SharedCause) {
	for j, at := range s.chosen {
		less := p.without(s, j)
		cause := SharedCause{Groups: p.candidates[at].groups, Theta: s.theta[j], Gain: s.score - less.score}
		alone, _ := p.gain(&p.candidates[at], less.good)
		alone -= p.candidates[at].penalty
		for _, r := range p.proposals(&less, max(0, alone-rivalNats), anyone) {
			if r.candidate != at {
				cause.Rivals = append(cause.Rivals, Rival{p.candidates[r.candidate].groups, cause.Gain + r.net - alone})
			}
		}
		causes = append(causes, cause)
	}
	slices.SortFunc(causes, func(a, b SharedCause) int {
		return cmp.Or(cmp.Compare(b.Gain, a.Gain), cmp.Compare(a.Groups[0], b.Groups[0]))
	})
	return causes
}
