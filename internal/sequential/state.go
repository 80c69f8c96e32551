package sequential

import (
	"encoding/binary"
	"fmt"
	"math"
)

// stateVersion marks the layout of a detector written down. Whoever changes
// what a Detector holds raises it.
const stateVersion = 2

// AppendBinary appends the detector's state: read back, it goes on as if it
// had never stopped.
func (d *Detector) AppendBinary(to []byte) ([]byte, error) {
	c := coder{bytes: append(to, stateVersion)}
	c.detector(d)
	return c.bytes, nil
}

// UnmarshalBinary takes a state that AppendBinary wrote, all of it. After an
// error the detector is as new.
func (d *Detector) UnmarshalBinary(from []byte) error {
	*d = Detector{}
	if len(from) == 0 {
		return fmt.Errorf("read a detector's state: it is empty")
	}
	if from[0] != stateVersion {
		return fmt.Errorf("read a detector's state: it is of version %d, and this program knows version %d only", from[0], stateVersion)
	}
	c := coder{bytes: from[1:], reading: true}
	c.detector(d)
	if c.short || len(c.bytes) > 0 {
		return d.damaged(fmt.Sprintf("of %d bytes, which is not its length", len(from)))
	}
	if c.odd || d.habit.days > waitingDays || d.habit.next >= waitingDays || !d.clearing.sound() {
		return d.damaged("holds a number that cannot be")
	}
	return nil
}

func (d *Detector) damaged(how string) error {
	*d = Detector{}
	return fmt.Errorf("read a detector's state: it is damaged: %s", how)
}

// coder writes fields down or reads them back, in one order for both.
type coder struct {
	bytes   []byte // written so far, or left to read
	reading bool
	short   bool // too few to read
	odd     bool // a number that is none, or below 0
}

func (c *coder) detector(d *Detector) {
	for i := range d.absolute {
		c.wealth(&d.absolute[i])
	}
	for i := range d.relative {
		c.wealth(&d.relative[i])
	}
	for i := range d.episodes {
		c.float32s(&d.episodes[i].errored, &d.episodes[i].frames, &d.episodes[i].exposure)
	}
	c.habit(&d.habit)
	c.clearing(&d.clearing)
	d.past.slots = c.word(d.past.slots, 8)
	d.past.minute = int32(c.word(uint64(uint32(d.past.minute)), 4))
	c.flag(&d.past.errored)
	c.flag(&d.past.exceeded)
}

func (c *coder) habit(h *habit) {
	c.sums(&h.baseline)
	c.float32s(&h.bound)
	for i := range h.waiting {
		w := &h.waiting[i]
		c.float32s(&w.bits, &w.seconds, &w.frames, &w.largest, &w.longFrames)
		w.polls = uint32(c.word(uint64(w.polls), 4))
		c.uint16s(&w.errored, &w.repeats, &w.longPolls, &w.longErrored, &w.widePolls, &w.wideErrored)
	}
	c.uint8s(&h.days, &h.next)
	c.sums(&h.today)
	h.day = int32(c.word(uint64(uint32(h.day)), 4))
}

func (c *coder) sums(s *sums) {
	c.float32s(&s.bits, &s.seconds, &s.frames, &s.largest, &s.polls, &s.errored, &s.repeats,
		&s.longPolls, &s.longErrored, &s.longFrames, &s.widePolls, &s.wideErrored)
}

func (c *coder) clearing(l *clearing) {
	c.float32s(&l.full, &l.bad, &l.good, &l.score, &l.better, &l.clean, &l.gap, &l.await)
	c.uint16s(&l.polls)
	c.flag(&l.recent)
	c.uint8s((*uint8)(&l.of))
}

// word passes size bytes, little end first.
func (c *coder) word(value uint64, size int) uint64 {
	var word [8]byte
	if !c.reading {
		binary.LittleEndian.PutUint64(word[:], value)
		c.bytes = append(c.bytes, word[:size]...)
		return value
	}
	if len(c.bytes) < size {
		c.short = true
		return 0
	}
	copy(word[:size], c.bytes)
	c.bytes = c.bytes[size:]
	return binary.LittleEndian.Uint64(word[:])
}

func (c *coder) float32s(fields ...*float32) {
	for _, f := range fields {
		*f = math.Float32frombits(uint32(c.word(uint64(math.Float32bits(*f)), 4)))
		c.odd = c.odd || !(*f >= 0 && *f <= math.MaxFloat32)
	}
}

func (c *coder) wealth(w *wealth) {
	for i := range w {
		c.float32s(&w[i])
	}
}

func (c *coder) uint16s(fields ...*uint16) {
	for _, f := range fields {
		*f = uint16(c.word(uint64(*f), 2))
	}
}

func (c *coder) uint8s(fields ...*uint8) {
	for _, f := range fields {
		*f = uint8(c.word(uint64(*f), 1))
	}
}

func (c *coder) flag(f *bool) {
	value := uint64(0)
	if *f {
		value = 1
	}
	value = c.word(value, 1)
	*f = value == 1
	c.odd = c.odd || value > 1
}
