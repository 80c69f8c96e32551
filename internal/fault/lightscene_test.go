package fault

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// fibreScene is two switches with 10GBASE-SR at both ends of a run of 30 m of
// OM4, which hear each other.
type fibreScene struct {
	*world
	a, b *box
	run  *plant.Run
}

// lit is an optic of one lane: what it sends and receives, in dBm.
func lit(serial string, sent, received float64) *port.Optic {
	return lanes(serial, [2]float64{sent, received})
}

func lanes(serial string, each ...[2]float64) *port.Optic {
	o := &port.Optic{Serial: serial, Model: "SR"}
	for _, l := range each {
		o.Lanes = append(o.Lanes, port.Lane{Sent: port.Some(port.Light(l[0])), Received: port.Some(port.Light(l[1])), BiasMA: port.Some(6.0)})
	}
	return o
}

var noLight = float64(port.NoLight)

func newFibreScene(t *testing.T, edit func(*plant.Run)) *fibreScene {
	run := &plant.Run{ID: "RISER-1", Switch: "a", Port: "1/1", FarSwitch: "b", FarPort: "1/1", Cable: "riser-om4",
		LengthM: port.Some(30.0), Connectors: port.Some(2), DesignSpeed: 10 * standards.Gbps}
	if edit != nil {
		edit(run)
	}
	s := &fibreScene{a: boxed("a", 1), b: boxed("b", 1), run: run}
	for _, box := range []*box{s.a, s.b} {
		l := box.links[0]
		l.mbps, l.mau, l.own, l.far = 10000, 36, 0, 0 // dot3MauType10GigBaseSR (RFC 4836)
	}
	cable(s.a, "1/1", s.b, "1/1")
	s.world = newWorld(t, []*plant.Run{run}, s.a, s.b)
	s.light(-2.5, -4, -2.5, -4)
	return s
}

// light sets what both ends send and receive from now on.
func (s *fibreScene) light(aSent, aReceived, bSent, bReceived float64) {
	s.optics(lit("A", aSent, aReceived), lit("B", bSent, bReceived))
}

func (s *fibreScene) optics(a, b *port.Optic) {
	s.a.optics, s.b.optics = map[int]*port.Optic{1: a}, map[int]*port.Optic{1: b}
	if a == nil {
		s.a.optics = map[int]*port.Optic{}
	}
	if b == nil {
		s.b.optics = map[int]*port.Optic{}
	}
}

// slow lets so many readings of the slow clock pass, the last just taken.
func (s *fibreScene) slow(n int) *Snapshot { return s.polls(5 * n) }

func (s *fibreScene) link(oper port.Status) { s.a.links[0].oper, s.b.links[0].oper = oper, oper }

func told(snap *Snapshot) string {
	var out []string
	for _, f := range snap.Faults {
		text := string(f.Kind)
		if f.Alarm {
			text += " alarmed"
		}
		out = append(out, text)
	}
	return strings.Join(out, ", ")
}

// settled is a scene whose light is known: 12 readings and one.
func settled(t *testing.T, edit func(*plant.Run)) *fibreScene {
	s := newFibreScene(t, edit)
	require.Empty(t, s.slow(13).Faults)
	return s
}

func lightFault(t *testing.T, snap *Snapshot, kind Kind) *Fault {
	for _, f := range snap.Faults {
		if f.Kind == kind {
			return f
		}
	}
	require.Failf(t, "no such fault", "%s among %s", kind, told(snap))
	return nil
}
