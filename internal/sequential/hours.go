package sequential

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"time"
)

const (
	day         = 24 * time.Hour
	hoursOfDay  = 24
	hoursOfWeek = 7 * hoursOfDay
)

// Hours remembers in which hours of the week a port had errors, and how much
// it received in each, from a fault's first error on: 1036 bytes, however
// long it lasts. The zero value is ready. Weeks begin on Monday at 0:00 UTC.
type Hours struct{ log hourLog }

type hourLog struct {
	Bits    [hoursOfWeek]float32
	Errored [hoursOfWeek]uint16 // hours, one each week at most
	First   int64               // hours since 1970, of the first sample and the last
	Last    int64
	Worst   int64  // the last errored one
	Runs    uint32 // of errored hours in a row
}

// mondays is from the Thursday on which 1970 began to the Monday before.
const mondays = 3 * hoursOfDay

// Update takes one poll's sample; it is of the hour in which its middle lies.
func (h *Hours) Update(s Sample) {
	l, now := &h.log, (s.At.Unix()-int64(s.Seconds/2))/int64(time.Hour/time.Second)
	if l.First == 0 {
		l.First = now
	}
	l.Last = max(l.Last, now)
	at := (now + mondays) % hoursOfWeek
	l.Bits[at] += float32(s.Bits)
	if s.Errored == 0 || now <= l.Worst {
		return
	}
	if l.Worst != now-1 {
		l.Runs++
	}
	l.Worst = now
	if l.Errored[at] < math.MaxUint16 {
		l.Errored[at]++
	}
}

// Concentration is the hours that errors keep to.
type Concentration struct {
	Every  time.Duration // a day or a week: how soon these hours come again
	From   time.Duration // after 0:00 UTC, of Monday where Every is a week
	Length time.Duration // of the densest stretch that stands out
	Inside float64       // share of the errored hours that fall in it
}

// Concentration tells to which hours the errors keep; false where they don't,
// or it is too early to say. They must come again in the same hours of a day,
// or of a week, more than the traffic of these hours explains, and more than
// time alone does where errors do not follow traffic. The day is asked first,
// and then whether some of its days stand out.
func (h *Hours) Concentration() (Concentration, bool) {
	daily, isDaily := h.fold(day, nil)
	var profile *[hoursOfDay]float64
	if isDaily {
		profile = h.profile()
	}
	if weekly, ok := h.fold(week, profile); ok {
		return weekly, true
	}
	return daily, isDaily
}

// Recurrence is how soon the hours that errors keep to come again, for the
// detector's letting go and the proof of a repair; 0 where they keep to none.
func (h *Hours) Recurrence() time.Duration {
	c, _ := h.Concentration()
	return c.Every
}

// fold lays the errored hours over each other by the day or the week, and
// tests them against both ways in which they may have come about without
// keeping to hours. profile, where given, is how dense each hour of the day is
// known to be.
func (h *Hours) fold(every time.Duration, profile *[hoursOfDay]float64) (Concentration, bool) {
	bins := int(every / time.Hour)
	var events [hoursOfWeek]float64
	for i, n := range h.log.Errored {
		events[i%bins] += float64(n)
	}
	if !h.comesAgain(bins) {
		return Concentration{}, false
	}
	var found Concentration
	for _, byTime := range []bool{false, true} {
		var due [hoursOfWeek]float64
		for i, d := range h.due(byTime, profile) {
			due[i%bins] += d
		}
		c, ok := h.stands(events[:bins], due[:bins])
		if !ok {
			return Concentration{}, false
		}
		found = c
	}
	found.Every = every
	return found, true
}

// leastAgain is how many days, or weeks, the hours must have come again in.
const leastAgain = 3

// comesAgain tells whether errors were seen in so many days or weeks: one long
// episode is no habit.
func (h *Hours) comesAgain(bins int) bool {
	days, weeks := 0, 0
	for d := range 7 {
		most := 0
		for _, n := range h.log.Errored[d*hoursOfDay : (d+1)*hoursOfDay] {
			most = max(most, int(n))
		}
		days += most
		weeks = max(weeks, most)
	}
	if bins == hoursOfDay {
		return days >= leastAgain
	}
	return weeks >= leastAgain
}

// visits is how often an hour of the week was seen.
func (h *Hours) visits(at int) float64 {
	from := (h.log.First + mondays) % hoursOfWeek
	ahead := (int64(at) - from + hoursOfWeek) % hoursOfWeek
	return float64((h.log.Last - h.log.First - ahead + hoursOfWeek) / hoursOfWeek)
}

// due is how many errored hours fall to each hour of the week where errors come
// evenly with bits, or with time in which there was traffic. An hour can be
// errored once a week only: with so many errors a bit that all hours together
// have as many as were seen, an hour of n bits is errored with chance
// 1 - exp(-rate n).
func (h *Hours) due(byTime bool, profile *[hoursOfDay]float64) (due [hoursOfWeek]float64) {
	var exposure, visits [hoursOfWeek]float64
	events, most := 0.0, 0.0
	for i, bits := range h.log.Bits {
		events += float64(h.log.Errored[i])
		if visits[i] = h.visits(i); bits == 0 || visits[i] == 0 {
			continue
		}
		exposure[i] = float64(bits) / visits[i]
		if byTime {
			exposure[i] = 1
		}
		if profile != nil {
			exposure[i] *= profile[i%hoursOfDay]
		}
		most = max(most, exposure[i])
	}
	at := func(rate float64) (sum float64) {
		for i := range due {
			due[i] = visits[i] * -math.Expm1(-rate*exposure[i])
			sum += due[i]
		}
		return sum
	}
	low, high := -30.0, 20.0 // of ln(rate most)
	for range 40 {
		if middle := (low + high) / 2; at(math.Exp(middle)/most) < events {
			low = middle
		} else {
			high = middle
		}
	}
	at(math.Exp(low) / most)
	return due
}

// profile is how dense errored hours are in each hour of the day, to what is
// due there.
func (h *Hours) profile() *[hoursOfDay]float64 {
	var profile, due [hoursOfDay]float64
	for i, d := range h.due(false, nil) {
		profile[i%hoursOfDay] += float64(h.log.Errored[i])
		due[i%hoursOfDay] += d
	}
	for i := range profile {
		if due[i] > 0 {
			profile[i] /= due[i]
		}
	}
	return &profile
}

// stands tests whether events stand out of what is due. Errored hours in a row
// are one piece of evidence: the more there are to a run, the less each weighs.
func (h *Hours) stands(events, due []float64) (Concentration, bool) {
	total, all := 0.0, 0.0
	for i := range events {
		total += events[i]
		all += due[i]
	}
	if total == 0 || all == 0 {
		return Concentration{}, false
	}
	weight := float64(h.log.Runs) / total
	w := densest(events, due, total, all)
	c := Concentration{
		From: time.Duration(w.from) * time.Hour, Length: time.Duration(w.length) * time.Hour, Inside: w.inside / total,
	}
	n := total * weight
	return c, n >= leastEvents && (weight*w.gain > scanCritical(n) || rayleigh(n, weight*resultant(events, due, all)) < concentrated)
}

// hoursVersion marks how Hours are written down.
const hoursVersion = 1

// AppendBinary writes the hours down, in 1037 bytes.
func (h *Hours) AppendBinary(to []byte) ([]byte, error) {
	return binary.Append(append(to, hoursVersion), binary.LittleEndian, &h.log)
}

// MarshalBinary writes the hours down by themselves.
func (h *Hours) MarshalBinary() ([]byte, error) { return h.AppendBinary(nil) }

// UnmarshalBinary reads what AppendBinary wrote. An error, of another version
// or of what cannot be, leaves the hours as they were.
func (h *Hours) UnmarshalBinary(data []byte) error {
	var l hourLog
	switch {
	case len(data) == 0:
		return errors.New("read the hours of errors: nothing there")
	case data[0] != hoursVersion:
		return fmt.Errorf("read the hours of errors: version %d is not known, want %d", data[0], hoursVersion)
	case len(data) != 1+binary.Size(&l):
		return fmt.Errorf("read the hours of errors: %d bytes, want %d", len(data), 1+binary.Size(&l))
	}
	if _, err := binary.Decode(data[1:], binary.LittleEndian, &l); err != nil {
		return fmt.Errorf("read the hours of errors: %w", err)
	}
	if !l.sound() {
		return errors.New("read the hours of errors: numbers that cannot be")
	}
	h.log = l
	return nil
}

// sound tells whether the numbers may have come about.
func (l *hourLog) sound() bool {
	for _, bits := range l.Bits {
		if !(bits >= 0) || math.IsInf(float64(bits), 1) {
			return false
		}
	}
	return 0 <= l.First && l.First <= l.Last && l.Last < 1<<40 && 0 <= l.Worst && l.Worst <= l.Last
}
