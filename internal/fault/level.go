package fault

import (
	"math"
	"time"
)

// level is what a value in decibels usually is, learned from the value itself:
// an optic's own readings are good to 2 or 3 dB, yet repeat far better than
// that, so that a change tells more than a level (common practice, no source).
//
// It is a mean that takes in only what lies close to it, slower with the years
// than with the first days, and so is neither pulled by single values that are
// wrong nor follows a value that falls away. The zero value knows nothing.
type level struct {
	Usual   float32 // dB or dBm; before it is settled of the latest values in a row
	Better  float32 // likewise of values that were better, in a row
	Count   uint16  // values in Usual, slowest at most
	Betters uint16  // values in Better
}

// In readings of the slow clock, 5 minutes apart where it is as usual.
const (
	settles = 12   // in a row, close to each other, make a level: an hour
	slowest = 8640 // is how far the mean's weight falls: 30 days
	renews  = 2016 // in a row that were better make another level: a week
)

// closeDB is within how many dB of a level a value is as usual.
const closeDB = 1

// known is the level; false before it is settled.
func (l *level) known() (db float64, ok bool) { return float64(l.Usual), l.Count >= settles }

// learn takes a value. better is 1 where more of it is better, -1 where less
// is, 0 where neither. A value that stays better than it was, after cleaning
// say, becomes usual in time; one that stays worse never does.
func (l *level) learn(db float64, better float64) {
	if math.IsNaN(db) || math.IsInf(db, 0) {
		return
	}
	off := db - float64(l.Usual)
	switch {
	case l.Count < settles && (l.Count == 0 || abs(off) > closeDB):
		*l = level{Usual: float32(db), Count: 1}
	case abs(off) <= closeDB:
		l.Count = min(l.Count+1, slowest)
		l.Usual += float32(off / float64(l.Count))
		l.Betters = 0
	case off*better > 0:
		l.improve(db)
	default:
		l.Betters = 0
	}
}

// improve takes a value that is better than usual.
func (l *level) improve(db float64) {
	off := db - float64(l.Better)
	if l.Betters == 0 || abs(off) > closeDB {
		l.Better, l.Betters = float32(db), 1
		return
	}
	l.Betters++
	l.Better += float32(off / float64(l.Betters))
	if l.Betters >= renews {
		*l = level{Usual: l.Better, Count: l.Betters}
	}
}

func abs(db float64) float64 { return max(db, -db) }

// edge is a limit that a value must not fall below, with what the value
// usually is. A limit from above is one of the negated value.
type edge struct {
	at      float64
	limited bool // whether there is one
	near    float64
	usual   float64
	settled bool // whether usual is known
	by      float64
}

// The holding rules, in dB.
const (
	lightFalls = 2 // from its baseline
	edgeNear   = 3 // and within so much of the window's edge
	letsGoDB   = 1 // back inside
)

// passed tells whether a value is beyond the limit, or so far from what it
// usually is that it counts.
func (e *edge) passed(v float64) bool {
	return e.limited && v < e.at || e.settled && v < e.at+e.near && e.usual-v >= e.by
}

// inside tells whether a value is back inside far enough to let go.
func (e *edge) inside(v float64) bool {
	return !(e.limited && v < e.at+letsGoDB || e.settled && v < e.at+e.near+letsGoDB && e.usual-v > e.by-letsGoDB)
}

// holding opens after two readings in a row that ask for it, and closes after
// two that are well: one wrong value of a sensor does neither (common practice,
// no source).
type holding struct {
	Open  bool
	Since time.Time // the first reading that asked for it
	Row   uint8     // readings in a row that ask for a change
}

const inARow = 2

func (h *holding) take(off, well bool, at time.Time) {
	if h.Open && !well || !h.Open && !off {
		h.Row = 0
		return
	}
	if !h.Open && h.Row == 0 {
		h.Since = at
	}
	if h.Row++; h.Row >= inARow {
		h.Open, h.Row = !h.Open, 0
	}
}
