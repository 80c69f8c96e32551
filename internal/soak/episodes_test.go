package soak

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"toneout/internal/sim"
)

// Kinds of faults that are planted.
const (
	noLink      = "no-link"
	slow        = "below-design-speed"
	frameErrors = "frame-errors"
)

// episode is a fault that was planted, and what the daemons told of it.
type episode struct {
	kind    string
	at      *station
	port    port
	cable   *sim.Cable
	heals   bool // it is to be mended once it was told
	held    int  // looks for which it is left as it is after it was told
	planted time.Time
	fell    time.Time // of a missing link: when the port lost it; zero before it was told
	healed  time.Time // zero where it is still at fault
	told    []sighting
	written time.Time // when it was first found in the journal
	listed  time.Time // when it was first listed by the daemon that wrote it
}

// sighting is a fault as the API lists it.
type sighting struct {
	life  int
	since time.Time
}

// key names it as the journal does.
func (e *episode) key() string { return e.port.run + " " + e.kind }

// open tells whether it is to be listed in the end.
func (e *episode) open() bool { return e.healed.IsZero() || e.kind == frameErrors }

// badBER damages some twenty frames a second of a workstation's.
const badBER = 1e-6

// plant breaks a cable.
func (s *site) plant(e *episode) {
	s.campus.Do(time.Now(), func() {
		e.planted = time.Now().Round(0)
		switch e.kind {
		case noLink:
			e.cable.Unplug()
		case slow:
			e.cable.Open = []sim.Pair{sim.Pair45}
		case frameErrors:
			e.cable.BERToA = badBER
		}
	})
}

// heal mends it.
func (s *site) heal(e *episode) {
	s.campus.Do(time.Now(), func() {
		e.healed = time.Now().Round(0)
		e.cable.Replug()
		e.cable.Open = nil
	})
}

// note takes that a fault was listed.
func (s *site) note(e *episode, told sighting) {
	if e.kind == noLink && len(e.told) == 0 && e.healed.IsZero() {
		s.campus.Do(time.Now(), func() { e.fell = s.begin.Add(e.cable.A.Changed()) })
	}
	if n := len(e.told); e.written.IsZero() && (n == 0 || e.told[n-1].life != told.life) {
		e.listed = time.Now()
	}
	e.told = append(e.told, told)
}

// story is what is planted while daemons live and die.
type story struct {
	site     *site
	random   *rand.Rand
	long     bool // there is time for what lets go late
	episodes []*episode
	active   map[*station]*episode // what is under way there
	muted    *station
	mute     int // looks for which it is silent still
}

func newStory(s *site, seed uint64, long bool) *story {
	return &story{site: s, random: rand.New(rand.NewPCG(seed, 2)), long: long, active: map[*station]*episode{}}
}

// Of how many looks one plants at a quiet switch, and one silences a switch;
// for how many looks a fault or a silence lasts at most.
const (
	seldomPlants = 12
	seldomMutes  = 25
	mostHeld     = 12
)

// look takes what a daemon lists and what the journal has open, goes on with each
// episode, and plants more where more is to come.
func (s *story) look(life int, faults []listed, journalled map[string]bool, more bool) {
	for _, e := range s.episodes {
		if f := among(faults, e); f != nil {
			s.site.note(e, sighting{life, f.Since})
		}
		if e.written.IsZero() && journalled[e.key()] {
			e.written = time.Now()
		}
	}
	for _, st := range s.site.stations {
		s.goOn(st, faults, more)
	}
	s.silence(more)
}

// waits tells whether something that is listed was not found in the journal yet.
func (s *story) waits(faults []listed) bool {
	return slices.ContainsFunc(s.episodes, func(e *episode) bool { return e.written.IsZero() && among(faults, e) != nil })
}

// goOn goes on with what is under way at a switch.
func (s *story) goOn(st *station, faults []listed, more bool) {
	e := s.active[st]
	switch {
	case e == nil:
		if used := s.used(st); more && used < len(st.cables) && s.random.IntN(seldomPlants) == 0 {
			s.begin(st, used)
		}
	case len(e.told) == 0 || e.written.IsZero(): // what is in memory alone may go with it
	case e.healed.IsZero() && e.heals:
		if e.held--; e.held < 0 {
			s.site.heal(e)
		}
	case e.open() || among(faults, e) == nil:
		delete(s.active, st)
	}
}

// silence lets a switch fall silent now and then.
func (s *story) silence(more bool) {
	switch {
	case s.muted != nil && (s.mute == 0 || !more):
		s.muted.agent.Mute.Store(false)
		s.muted = nil
	case s.muted != nil:
		s.mute--
	case more && s.random.IntN(seldomMutes) == 0:
		s.muted = s.site.stations[s.random.IntN(len(s.site.stations))]
		s.mute = 1 + s.random.IntN(mostHeld)
		s.muted.agent.Mute.Store(true)
	}
}

func (s *story) used(st *station) (n int) {
	for _, e := range s.episodes {
		if e.at == st {
			n++
		}
	}
	return n
}

// begin plants something at a switch's next cable.
func (s *story) begin(st *station, next int) {
	e := &episode{at: st, cable: st.cables[next], held: s.random.IntN(mostHeld)}
	if !s.long {
		e.held = 0
	}
	e.port = st.ports[next]
	if next == faultyPorts {
		e.port = st.ports[len(st.ports)-1]
	}
	always := next == faultyPorts || next%2 == 0
	switch {
	case always:
		e.kind, e.heals = noLink, s.random.IntN(4) > 0
	case s.random.IntN(2) == 0:
		e.kind, e.heals = slow, s.long && s.random.IntN(3) > 0
	default:
		e.kind = frameErrors
	}
	s.site.plant(e)
	s.episodes, s.active[st] = append(s.episodes, e), e
}

// differs tells where what a daemon lists or the journal has open is not what is at
// fault; "" where both are. What closed while nobody watched is closed in the
// journal some seconds after the last start.
func (s *story) differs(faults []listed, journalled map[string]bool) string {
	var all []string
	if s.muted != nil {
		all = append(all, s.muted.name+" is silent")
	}
	known := map[listed]bool{}
	for _, e := range s.episodes {
		f := among(faults, e)
		if f != nil {
			known[*f] = true
		}
		if (f != nil) != e.open() {
			all = append(all, fmt.Sprintf("%s of %s, planted %v, mended %v, is listed: %t", e.kind, e.port.run, e.planted, e.healed, f != nil))
		}
		if journalled[e.key()] != e.open() {
			all = append(all, fmt.Sprintf("%s of %s, planted %v, mended %v, is open by the journal: %t", e.kind, e.port.run, e.planted, e.healed, journalled[e.key()]))
		}
	}
	for _, f := range faults {
		if !known[f] {
			all = append(all, fmt.Sprintf("nobody planted %+v", f))
		}
	}
	return strings.Join(all, "; ")
}

// listed is a fault as the API lists it.
type listed struct {
	Run   string    `json:"run"`
	Kind  string    `json:"kind"`
	Since time.Time `json:"since"`

	Summary string `json:"summary"`
}

func among(faults []listed, e *episode) *listed {
	for i := range faults {
		if f := &faults[i]; f.Run == e.port.run && f.Kind == e.kind {
			return f
		}
	}
	return nil
}
