package fault

import (
	"time"

	"toneout/internal/port"
)

// onset watches when a port's link was last made, so that a trouble can be told to
// have begun with that, or long after. The zero value has seen nothing.
type onset struct {
	Watched time.Time     // since when
	Made    time.Time     // when the link last came up after it had been away for a while
	Away    time.Duration // for how long; 0 where it had none while watched before
	Lost    time.Time     // when it was lost, while it is away
	Had     bool          // whether it ever had one
}

// A plug that somebody pulled is out for longer than one that loses contact; a cord
// is exchanged within minutes, a jack is wired anew or a cable laid in more (common
// practice, no source).
const (
	leastAway     = 25 * time.Second
	cordTakes     = 6 * time.Minute
	wiresTake     = 4 * time.Hour
	showsSoon     = 3 * time.Hour // a trouble that begins so soon after comes of it
	showsTogether = time.Hour     // what ails a circuit of a switch shows at its ports
	showsAtOnce   = 15 * time.Minute
	showsFirst    = 24 * time.Hour // likewise of what was there when watching began
)

// observe takes a poll. What comes while a trouble is open tells nothing of how it
// began.
func (o *onset) observe(p *portState) {
	r := p.reading
	if o.Watched.IsZero() {
		o.Watched, o.Had = r.At, r.Oper == port.Up
		return
	}
	switch up := r.Oper == port.Up; {
	case r.Oper == port.StatusAbsent:
	case !up && o.Lost.IsZero() && o.Had && !p.open():
		o.Lost = p.downSince
	case up && !o.Had:
		o.Had, o.Made, o.Away = true, r.At, 0
	case up && !o.Lost.IsZero():
		at, told := lastChange(r)
		if !told || at.Before(o.Lost) {
			at = r.At
		}
		if gap := at.Sub(o.Lost); gap >= leastAway {
			o.Made, o.Away = at, gap
		}
		o.Lost = time.Time{}
	}
}

// item is what is told by when a trouble began; "" for nothing.
func (o *onset) item(since time.Time) item {
	after := since.Sub(o.Made)
	made := !o.Made.IsZero() && after > -leastAway
	switch {
	case o.Watched.IsZero() || since.IsZero():
		return ""
	case !o.Had, made && o.Away == 0 && after < showsFirst:
		return sinceNew
	case made && o.Away > 0 && o.Away < cordTakes && after < showsSoon:
		return sincePatched
	case made && o.Away >= cordTakes && o.Away < wiresTake && after < showsSoon:
		return sinceRewired
	case made && o.Away > 0 && o.Away < wiresTake && after < showsFirst:
		return sinceToday
	case o.Made.IsZero() && since.Sub(o.Watched) < showsFirst:
		return sinceBefore
	case since.Sub(o.Watched) > showsFirst && (o.Made.IsZero() || after > showsFirst):
		return afterGood
	}
	return ""
}

// with is when a trouble began that was first seen while the link was away: with the
// link that was made then.
func (o *onset) with(since time.Time) time.Time {
	if away := o.Made.Add(-o.Away - leastAway); since.Before(o.Made) && since.After(away) {
		return o.Made
	}
	return since
}

const byItself = "It began by itself: the link had been good for a day at least."

// sentence tells it, "" where nothing is.
func (o *onset) sentence(since time.Time) string {
	switch o.item(since) {
	case sinceNew:
		return "It began within a day after the link was first made."
	case sincePatched:
		return "It began soon after a plug was out for some minutes, as where a cord is exchanged."
	case sinceRewired:
		return "It began soon after the link was away for " + roughly(o.Away) + ", as where somebody works on the run."
	case sinceToday:
		return "It began within a day after a plug was out for some minutes or more."
	case sinceBefore:
		return "It was there when watching began, or came soon after."
	case afterGood:
		return byItself
	}
	return ""
}

// changes are how many changes of the link in the last hour were no more than a plug
// that was out.
func (o *onset) changes(now time.Time) int {
	if !o.Made.IsZero() && o.Away > 0 && now.Sub(o.Made) < time.Hour+windowPart {
		return 2
	}
	return 0
}
