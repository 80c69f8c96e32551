package snmp

import "time"

// patience is how long to wait for a switch, kept from poll to poll.
//
// An answer is waited for as long as the round trips say (RFC 6298), and at
// least for the timeout. Where datagrams were lost, which shows by a later
// attempt being answered and an earlier one not, another attempt follows sooner,
// and a request may have more of them: of polls of 40 exchanges most would fail
// with three attempts each where 30 % of the datagrams are lost.
type patience struct {
	timeout  time.Duration
	retries  int
	smoothed time.Duration // round trip; 0: none yet
	varied   time.Duration // its mean deviation
	lossy    int           // above 0: datagrams were lost within so many exchanges
	spare    time.Duration // silence beyond what a request is given, left to the poll
	busy     time.Duration // sum of this poll's round trips
	waited   time.Duration // in this poll, for answers that came or didn't
}

const (
	lossMemory   = 64 // exchanges after which a loss is forgotten
	longestRound = time.Minute
)

// begin starts a poll.
func (p *patience) begin() {
	p.busy, p.waited = 0, 0
	p.spare = time.Duration(p.retries) * p.timeout
	if p.lossy > 0 {
		p.spare *= 10
	}
}

// measure takes a round trip into account, as RFC 6298 (2) does. Every attempt
// has an identifier of its own, so it is always clear which one was answered.
func (p *patience) measure(trip time.Duration) {
	p.busy += trip
	trip = min(trip, longestRound)
	if p.smoothed == 0 {
		p.smoothed, p.varied = max(trip, 1), trip/2
		return
	}
	p.varied += ((p.smoothed - trip).Abs() - p.varied) / 4
	p.smoothed = max(p.smoothed+(trip-p.smoothed)/8, 1)
}

// answered notes of an answer whether an earlier attempt to ask for the same was
// lost, and how many attempts there were.
func (p *patience) answered(lost bool, attempts int) {
	switch {
	case lost:
		if p.lossy == 0 {
			p.spare += 9 * time.Duration(p.retries) * p.timeout
		}
		p.lossy = lossMemory
	case attempts == 1 && p.lossy > 0:
		p.lossy--
	}
}

// usual is within which time an answer comes; 0 where that isn't known. It
// leaves half a round trip at least (RFC 6298: the clock's granularity), as
// agents are not as steady as networks.
func (p *patience) usual() time.Duration {
	if p.smoothed == 0 {
		return 0
	}
	return min(p.smoothed+max(4*p.varied, p.smoothed/2), longestRound)
}

// each is how long an attempt, counted from 0, is waited for. What is sent again
// is sent ever more slowly.
func (p *patience) each(attempt int) time.Duration {
	full := max(p.timeout, p.usual())
	if p.lossy == 0 || p.smoothed == 0 {
		return full << min(max(0, attempt-p.retries), 2)
	}
	return min(max(p.timeout/4, p.usual())<<min(attempt/4, 8), full)
}

// whole is how long a request may be met with silence. Where no answer came at
// all in this poll, it is as the target says, in order to tell soon that a switch
// is silent.
func (p *patience) whole(heard bool) time.Duration {
	attempts := time.Duration(1 + p.retries)
	if !heard {
		return p.timeout * attempts
	}
	return max(p.timeout, p.usual()) * attempts
}
