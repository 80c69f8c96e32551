package fault

import (
	"fmt"
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

// Windows by IEEE 802.3: 10GBASE-SR takes -9.9 to -1.0 dBm (clause 52),
// 1000BASE-LX -19 to -3 dBm (clause 38), 100GBASE-SR4 10.3 below to 2.4 above
// (clause 95, memory). Without a baseline the window alone counts.
func TestLightOutsideTheWindow(t *testing.T) {
	rows := []struct {
		name     string
		mau      int
		sent     float64
		received float64
		want     Kind
	}{
		{"10GBASE-SR well inside", 36, -4, -5, ""},
		{"10GBASE-SR just inside", 36, -8, -9.8, ""},
		{"10GBASE-SR just below", 36, -8, -10.0, LowLight},
		{"10GBASE-SR just above", 36, 0, -0.9, HighLight},
		{"1000BASE-LX where 10GBASE-SR would be dark", 24, -16, -18.5, ""},
		{"1000BASE-LX below", 24, -17, -19.2, LowLight},
		{"1000BASE-LX above", 24, 0, -2.9, HighLight},
		{"a PHY that no table knows", 0, -30, -33, ""},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			s := newFibreScene(t, func(r *plant.Run) { r.Cable = "" })
			s.a.links[0].mau, s.b.links[0].mau = row.mau, row.mau
			s.light(row.sent, -5, -4, row.received)
			if row.mau == 24 {
				s.light(row.sent, -8, -7, row.received)
			}
			require.Empty(t, s.slow(1).Faults, "one reading raises nothing")
			snap := s.slow(1)
			if row.want == "" {
				require.Empty(t, snap.Faults)
				return
			}
			f := only(t, snap)
			require.Equal(t, row.want, f.Kind)
			require.Equal(t, start.Add(s.b.offset), f.Since)
			require.Contains(t, f.Summary, fmt.Sprintf("b port 1/1 receives %.1f dBm", row.received))
			require.Contains(t, f.Cautions, laser)
		})
	}
}
