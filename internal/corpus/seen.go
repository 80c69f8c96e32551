package corpus

import (
	"slices"
	"strings"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/standards"
)

// Whether a fault can be seen at all is decided here: from what the switches that are
// asked answer of its ends, and from what the record says of them. What toneout
// makes of it plays no part.

// end is what the answers show of one end of a labelled run.
type end struct {
	label  *Label
	place  string
	port   *sim.Port
	meant  standards.Speed
	last   *port.Reading
	told   *port.Details // last
	before period
	since  period // the thing began

	fast     standards.Speed     // the most that it held before
	can      standards.Abilities // what the other end said that it can do, while it is surely the same
	gone     int                 // polls in a row without a link
	switched bool                // a switch announced itself at the other end before
	polled   bool                // that one is asked too
	heard    bool                // so did anybody
	losses   []time.Time         // of the link, since
	flaps    int                 // the most of these in an hour
}

// period is a time of an end.
type period struct {
	bits, damaged float64
	allowed       float64 // of these frames, by the standard
	late          float64 // collisions
	down          int     // polls without a link
	slow          int     // polls below the speed that the run is meant for
	offered       int     // of these, in which both ends said that they can do more
	fed           int     // polls without a link that was fed
	shut          int     // polls of a port that was shut
	shorted       int     // tellings of a power fault
	lit           int     // tellings of light received,
	dBm, sent     float64 // the sum of these, and of light sent,
	dim, bright   int     // of these, outside of what the receiver takes
	fell          int     // of these, 2 dB below what was usual,
	faded         int     // and near the least that the receiver takes
	dark          int     // tellings without a link
}

// What counts as seen. A fault that shows less is within what the standard allows or
// too short for anybody to be called (our own choice, well under what a technician
// would ask for).
const (
	pollsSeen    = 10 // polls without a link, or at a lower speed
	tellingsSeen = 3  // of the slow clock
	sameDevice   = 2  // polls without a link, in which another one may have been plugged in
	damageSeen   = 20 // frames
	lossesSeen   = 6  // of the link, in an hour
	fadesDB      = 2
	nearDB       = 3 // of the least light that a receiver takes
	worsens      = 10
)

// witness sees the ends of the plant's labelled runs.
type witness struct {
	l    *Labelled
	ends map[string][]*end // by switch
	all  map[*Label][]*end
}

func newWitness(l *Labelled) *witness {
	w := &witness{l, map[string][]*end{}, map[*Label][]*end{}}
	speeds := map[string]standards.Speed{}
	for _, s := range l.site.spots {
		speeds[s.id] = standards.Speed(s.speed) * standards.Mbps
	}
	for _, label := range l.Labels {
		for _, place := range label.ports() {
			name := strings.Fields(place)[0]
			if label.LookAlike || name == farSwitch && l.lacks["far end"] {
				continue
			}
			e := &end{label: label, place: place, port: l.port(place), meant: speeds[label.Run]}
			w.ends[name] = append(w.ends[name], e)
			w.all[label] = append(w.all[label], e)
		}
	}
	return w
}

// see takes what a switch answered.
func (w *witness) see(name string, poll *port.Poll) {
	for _, e := range w.ends[name] {
		for i := range poll.Ports {
			if r := &poll.Ports[i]; r.Name == e.port.Name {
				e.see(w.l.Stage.begin, r, poll.Details)
			}
		}
	}
}

func (e *end) see(begin time.Time, r *port.Reading, d *port.Details) {
	began := r.At.Sub(begin) >= e.label.From
	p := &e.before
	if began {
		p = &e.since
	}
	inc, _ := port.Between(e.last, r)
	again := *r
	e.last = &again
	p.count(e, &inc)
	speed := r.Speed()
	if e.can |= offers(r, d); r.Oper != port.Up {
		p.down++
		if e.gone++; e.gone >= sameDevice {
			e.can = 0
		}
		if inc.LinkChanges > 0 && began {
			e.lose(r.At)
		}
	} else {
		e.gone = 0
		if inc.LinkChanges > 1 && began {
			e.lose(r.At)
		}
		if !began {
			e.fast = max(e.fast, speed)
		} else if speed < e.meant {
			p.slow++
			if (e.own(r) & e.can).Fastest() > speed {
				p.offered++
			}
		}
	}
	if d == nil {
		return
	}
	switch {
	case r.Admin == port.Down:
		p.shut++
	case r.Oper != port.Up && d.Power[r.Index].Status == port.PowerDelivering:
		p.fed++
	}
	if d != e.told {
		e.told = d
		e.tell(p, r, d, began)
	}
}

// count takes frames.
func (p *period) count(e *end, inc *port.Increments) {
	c := &inc.Counters
	damaged, source := c.Errored()
	octets, ok := c.Get(port.InOctets)
	if source == port.NoErrorSource || !ok {
		return
	}
	late, _ := c.Get(port.LateCollisions)
	p.damaged, p.bits, p.late = p.damaged+float64(damaged), p.bits+8*float64(octets), p.late+float64(late)
	objective, _ := standards.ObjectiveBER(e.last.Speed(), e.medium())
	p.allowed += objective * 8 * float64(octets)
}

// lose takes a loss of the link.
func (e *end) lose(at time.Time) {
	e.losses = slices.DeleteFunc(append(e.losses, at), func(t time.Time) bool { return at.Sub(t) > time.Hour })
	e.flaps = max(e.flaps, len(e.losses))
}

// own is what the port itself is known to do: what it offers, and what it is able to
// and did before.
func (e *end) own(r *port.Reading) standards.Abilities {
	own, _ := r.AutoNeg.Advertised.Get()
	if able, _ := r.AutoNeg.Capable.Get(); able.Offers(e.fast) && e.fast >= e.meant {
		own |= able
	}
	return own
}

// offers are what the other end says that it can do.
func offers(r *port.Reading, d *port.Details) standards.Abilities {
	all, _ := r.AutoNeg.Received.Get()
	if d == nil {
		return all
	}
	for i := range d.Neighbours {
		if n := &d.Neighbours[i]; n.Index == r.Index {
			offered, _ := n.Offered.Get()
			all |= offered
		}
	}
	return all
}

// tell takes what is told on the slow clock.
func (e *end) tell(p *period, r *port.Reading, d *port.Details, began bool) {
	for i := range d.Neighbours {
		if n := &d.Neighbours[i]; n.Index == r.Index {
			e.heard = e.heard || !began
			if !began && n.Roles.Has(port.Bridge) {
				e.switched, e.polled = true, n.System != unpolled
			}
		}
	}
	switch d.Power[r.Index].Status {
	case port.PowerFault, port.PowerOtherFault:
		p.shorted++
	}
	optic, known := standards.OpticNamed(e.port.Optic)
	if o := d.Optics[r.Index]; o != nil && known && len(o.Lanes) > 0 {
		sent, _ := o.Lanes[0].Sent.Get()
		if light, ok := o.Lanes[0].Received.Get(); ok && r.Oper != port.Up {
			p.dark++
		} else if ok {
			e.light(p, float64(light), &optic)
			p.sent += float64(sent)
		}
	}
}

func (e *end) light(p *period, dBm float64, optic *standards.Optic) {
	p.lit++
	p.dBm += dBm
	if dBm < optic.TakeLeast {
		p.dim++
	}
	if dBm > optic.TakeMost {
		p.bright++
	}
	if b := &e.before; b.lit > 0 && p != b && dBm < b.dBm/float64(b.lit)-fadesDB {
		p.fell++
		if dBm < optic.TakeLeast+nearDB {
			p.faded++
		}
	}
}

func (e *end) medium() standards.Medium {
	if e.port.Media == sim.Copper {
		return standards.Copper
	}
	return standards.Fibre
}

// Why a fault cannot be seen.
const (
	shutByHand   = "its port is shut, and no row says that a link is meant there"
	noLinkMeant  = "its link is missing, and neither record nor neighbour nor power says that one is meant there"
	strangerGone = "its link to a switch that is not asked is missing, and no row says that one is meant: that switch may be off, or its cable moved"
	noSpeedMeant = "it is slow, and neither record nor habit nor what the ends offer says what speed is meant"
	noLightTold  = "the light at an end is not told, and no more frames are damaged than the standard allows"
	tooLittle    = "what is asked shows no more than the standard allows"
)

// unseen is why nobody could see what a label is of; "" where it can be seen.
func (w *witness) unseen(label *Label) string {
	var slow, missing, shut, stranger, fell, fades, unlit bool
	lit := 0
	for _, e := range w.all[label] {
		for _, kind := range e.shows(w.l.rowsAt(e)) {
			if slices.Contains(label.Kinds, kind) {
				return ""
			}
		}
		missing = missing || e.since.down >= pollsSeen
		shut = shut || e.since.shut >= pollsSeen
		stranger = stranger || missing && e.switched
		slow = slow || e.since.slow >= pollsSeen
		fell = fell || e.since.fell >= tellingsSeen
		fades = fades || e.before.lit > 0 && e.since.lit > 0 && e.before.sent/float64(e.before.lit)-e.since.sent/float64(e.since.lit) > 0.5
		if e.since.lit+e.since.dark > 0 {
			lit++
		} else {
			unlit = unlit || e.port.Media == sim.Fibre
		}
	}
	if fell && !fades && lit == 2 && slices.Contains(label.Kinds, "excess-loss") { // what one sends, and the other receives
		return ""
	}
	switch {
	case shut:
		return shutByHand
	case stranger:
		return strangerGone
	case missing:
		return noLinkMeant
	case slow:
		return noSpeedMeant
	case unlit:
		return noLightTold
	}
	return tooLittle
}

// shows gives the kinds of fault that the answers of an end show, with the rows of the
// inventory that speak of it.
func (e *end) shows(rows []map[string]string) (kinds []string) {
	s := &e.since
	for kind, shown := range map[string]bool{
		"frame-errors":       e.damages(),
		"duplex-mismatch":    s.late >= damageSeen,
		"below-design-speed": s.slow >= pollsSeen && (s.offered >= pollsSeen || e.heard && e.fast >= e.meant || slices.ContainsFunc(rows, e.namesSpeed)),
		"no-link":            s.down >= pollsSeen && (s.fed >= pollsSeen || e.switched && e.polled || slices.ContainsFunc(rows, namesLink)),
		"link-flapping":      e.flaps >= lossesSeen,
		"power-fault":        s.shorted >= tellingsSeen,
		"low-light":          s.dim >= tellingsSeen || s.faded >= tellingsSeen,
		"high-light":         s.bright >= tellingsSeen,
	} {
		if shown {
			kinds = append(kinds, kind)
		}
	}
	return kinds
}

// damages tells whether more frames are damaged than the standard allows, or, within
// that, many times more than before.
func (e *end) damages() bool {
	s, b := &e.since, &e.before
	habit := b.bits > 0 && e.label.From >= quietDays && s.damaged > worsens*(b.damaged+1)/b.bits*s.bits
	return s.damaged >= damageSeen && (s.damaged > 2*s.allowed || habit)
}

func namesLink(row map[string]string) bool {
	return row["always_on"] == "true" || row["far_switch"] != ""
}

// namesSpeed tells whether a row names a speed that the link should have had.
func (e *end) namesSpeed(row map[string]string) bool {
	speeds := map[string]standards.Speed{"1G": standards.Gbps, "10G": 10 * standards.Gbps, "25G": 25 * standards.Gbps}
	return speeds[row["design_speed"]] >= e.meant
}

// rowsAt are the rows of the inventory that speak of an end: by its switch and port, or
// by the id that the port's description names.
func (l *Labelled) rowsAt(e *end) (rows []map[string]string) {
	for _, row := range l.records {
		alias, _, _ := strings.Cut(e.port.Alias, " ")
		if row["switch"]+" "+row["port"] == e.place || row["far_switch"]+" "+row["far_port"] == e.place || row["port"] == "" && alias == row["id"] {
			rows = append(rows, row)
		}
	}
	return rows
}
