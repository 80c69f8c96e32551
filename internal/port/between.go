package port

import (
	"math"
	"math/bits"

	"toneout/internal/standards"
)

// Reason is why two readings of a port do not compare; "" where they do.
type Reason string

// The reasons.
const (
	Comparable     Reason = ""
	FirstReading   Reason = "there is no earlier reading"
	Restarted      Reason = "the switch's agent restarted"
	ClocksDisagree Reason = "the switch's clock and ours disagree on the time between"
	CountersReset  Reason = "the port's counters were reset"
	Renumbered     Reason = "the port's ifIndex changed"
)

// Increments is what changed on a port between two readings.
type Increments struct {
	Seconds     float64
	Counters    Counters // by how much each counter rose; absent where that cannot be told
	LinkChanges int      // how often the link came or went, at least
}

// Between pairs two readings of the same port, previous being nil where there
// is none. It gives the increments, or the reason why the two don't compare;
// next is then the reading to compare with from now on. Of counters that were
// reset, as some switches do when a link comes up, the changes of the link are
// told all the same.
//
// A counter that only one of the two has, or has at another width, is absent
// from the increments: it has a new baseline. A 64-bit counter never wraps in
// practice, so its fall is a reset; a 32-bit one may wrap (RFC 2863 3.1.6).
func Between(previous, next *Reading) (Increments, Reason) {
	switch reason := mismatch(previous, next); reason {
	case Comparable:
	case CountersReset:
		return reset(previous, next)
	default:
		return Increments{}, reason
	}
	inc := Increments{Seconds: next.At.Sub(previous.At).Seconds()}
	rate := lineRate(previous, next)
	before, now := &previous.Counters, &next.Counters
	for both := before.present & now.present &^ (before.wide ^ now.wide); both != 0; both &= both - 1 {
		k := Counter(bits.TrailingZeros32(both))
		var rose uint64
		if before.values[k] != now.values[k] || !now.Wide(k) && !countsRareEvents(k) { // one that stands still rose by nothing
			told, ok := false, false
			if rose, told, ok = rise(k, before, now, rate*inc.Seconds); !ok {
				return reset(previous, next)
			} else if !told {
				continue
			}
		}
		inc.Counters.values[k] = rose
		inc.Counters.present |= 1 << k
	}
	inc.Counters.wide = inc.Counters.present
	inc.LinkChanges = linkChanges(previous, next, &inc.Counters)
	return inc, Comparable
}

func reset(previous, next *Reading) (Increments, Reason) {
	return Increments{LinkChanges: linkChanges(previous, next, &Counters{})}, CountersReset
}

// Slack of the comparison between the agent's clock and ours: agents serve
// sysUpTime from a cache of about a second, and 10 % says that one of the two
// was stepped or suspended (common practice, no source).
const (
	clockSlackSeconds = 2
	clockSlackShare   = 0.1
)

// mismatch is why the readings as wholes don't compare.
func mismatch(previous, next *Reading) Reason {
	if previous == nil {
		return FirstReading
	}
	seconds := next.At.Sub(previous.At).Seconds()
	if seconds <= 0 {
		return ClocksDisagree
	}
	if reason := agentClock(previous, next, seconds); reason != Comparable {
		return reason
	}
	if previous.Index != next.Index {
		return Renumbered
	}
	before, had := previous.Discontinuity.Get()
	now, has := next.Discontinuity.Get()
	if had && has && before != now {
		return CountersReset
	}
	return Comparable
}

// agentClock compares the time between the readings by the agent's clock and
// by ours. Unsigned arithmetic carries sysUpTime over its wrap after 2^32
// ticks of 1/100 s (497 days), which is then no restart.
func agentClock(previous, next *Reading, seconds float64) Reason {
	before, had := previous.Uptime.Get()
	now, has := next.Uptime.Get()
	if !had || !has {
		return Comparable
	}
	agentSeconds := float64(now-before) / 100
	if math.Abs(agentSeconds-seconds) <= clockSlackShare*seconds+clockSlackSeconds {
		return Comparable
	}
	if now < before || float64(now)/100 <= seconds+clockSlackSeconds {
		return Restarted
	}
	return ClocksDisagree
}

// assumedRate stands in for the speed of a port that is up and does not tell
// it (common practice, no source).
const assumedRate = 10 * standards.Gbps

// lineRate is the most bits a second that the port can have carried between
// the readings.
func lineRate(previous, next *Reading) float64 {
	rate := max(previous.Speed(), next.Speed())
	if rate == 0 && (previous.Oper == Up || next.Oper == Up) {
		rate = assumedRate
	}
	return float64(rate)
}

// minimumFrameBits is the shortest frame on the line with preamble and
// inter-frame gap: 64 + 8 + 12 octets (IEEE 802.3 4.2.3, 4.4.2).
const minimumFrameBits = 8 * (64 + 8 + 12)

// halfWrap is half of a 32-bit counter's range: past it a rise and a wrap
// cannot be told apart.
const halfWrap = 1 << 31

// beyondTheLine is from how many times the most frames that the line can carry
// on a count of damaged ones is none: some agents give all ones for what they do
// not know. Fragments are shorter than frames, and some count both directions.
const beyondTheLine = 4

// rise is by how much a counter rose while the line carried at most so many
// bits. It is not told where a 32-bit counter may have wrapped unseen, nor
// where it is more damaged frames than the line carries, and not ok where the
// counter was reset.
func rise(k Counter, previous, next *Counters, lineBits float64) (rise uint64, told, ok bool) {
	before, now := previous.values[k], next.values[k]
	most := lineBits / minimumFrameBits
	if countsDamage(k) && lineBits > 0 && now > before && float64(now-before) > beyondTheLine*most {
		return 0, false, true
	}
	if next.Wide(k) {
		return now - before, true, now >= before
	}
	if k == InOctets || k == OutOctets {
		most = lineBits / 8
	}
	most = most*(1+clockSlackShare) + 1
	if most >= halfWrap && !countsRareEvents(k) {
		return 0, false, true
	}
	rise = uint64(uint32(now) - uint32(before))
	if now < before && float64(rise) > min(most, halfWrap) {
		return 0, false, false
	}
	return rise, true, true
}

// countsRareEvents tells that a counter moves far below the frame rate, so
// that an unseen wrap need not be feared: it would still leave many errors.
func countsRareEvents(k Counter) bool { return k >= InErrors }

func countsDamage(k Counter) bool {
	return k == InErrors || k == FCS || k == Alignment || k == CRCAlign || k == Fragments
}

// linkChangeTicks is how far ifLastChange must move to count: agents that work
// it out anew on each request give it with jitter.
const linkChangeTicks = 100

// linkChanges counts the changes of the link's state, at least: those that the
// two readings show, those that ifLastChange or the MAU's count of losses
// betray in between.
func linkChanges(previous, next *Reading, rises *Counters) int {
	wasUp, isUp := previous.Oper == Up, next.Oper == Up
	told := previous.Oper != StatusAbsent && next.Oper != StatusAbsent
	changes := 0
	if wasUp != isUp && told {
		changes = 1
	} else if moved(previous.LastChange, next.LastChange) && isUp && !(justNow(previous) && justNow(next)) {
		changes = 2
	}
	if losses, ok := rises.Get(MediaExits); ok && losses > 0 {
		seen := 2 * int(min(losses, math.MaxInt32))
		if !isUp {
			seen--
		}
		changes = max(changes, seen)
	}
	return changes
}

// justNow tells whether ifLastChange is the present time, which some agents
// give whenever they are asked: twice in a row that is no change.
func justNow(r *Reading) bool {
	return r.LastChange.present && r.Uptime.present && !moved(r.LastChange, r.Uptime)
}

func moved(before, now Value[uint32]) bool {
	b, had := before.Get()
	n, has := now.Get()
	return had && has && min(n-b, b-n) >= linkChangeTicks
}
