package soak

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/sim"
)

// The site: each switch has copper runs to devices, and a fibre to another one.
const (
	switchCount = 12
	copperPorts = 6 // of each; the last two are never at fault
	faultyPorts = 4
	community   = "quay"
	pollEvery   = time.Second
)

// port is a switch's port in the test's book.
type port struct {
	name    string
	ifIndex uint32
	run     string
}

// station is a switch with its agent and the agent's record.
type station struct {
	name   string
	agent  *sim.Agent
	book   logbook
	ports  []port
	cables []*sim.Cable // of the ports that may be at fault; the fibre last, at one of its ends
}

// site is switches that do not exist, served on loopback until the test ends.
type site struct {
	campus   *sim.Campus
	begin    time.Time
	stations []*station
	quiet    []string // runs that are never at fault
}

// What crosses the fibres.
var (
	mix    = []sim.Share{{Octets: 64, Of: 0.35}, {Octets: 594, Of: 0.15}, {Octets: 1518, Of: 0.5}}
	across = sim.Flow{Bits: 90e6, Mix: mix, Broadcast: 2, Multicast: 4}
)

func newSite(t *testing.T, seed uint64) *site {
	s := &site{begin: time.Now().Round(0)}
	s.campus = sim.NewCampus(seed, s.begin)
	for n := range switchCount {
		s.stations = append(s.stations, &station{name: fmt.Sprintf("acc-%02d", n+1)})
		sw := s.campus.AddSwitch(sim.SwitchPlan{
			Name: s.stations[n].name, Space: fmt.Sprintf("TR-%02d", n+1), Copper: copperPorts, Fibre: 1, Optic: "10GBASE-SR", First: 1 + 100*n, Up: time.Duration(40+n) * 24 * time.Hour,
			Without: []string{"sensors"}, // light is read seldom: what was dark then stays so for minutes
		})
		s.lay(s.stations[n], sw)
	}
	for n := 0; n < switchCount; n += 2 {
		s.bridge(s.stations[n], s.stations[n+1])
	}
	s.serve(t)
	return s
}

// lay lays a switch's copper.
func (s *site) lay(st *station, sw *sim.Switch) {
	for i, p := range sw.Ports() {
		run := fmt.Sprintf("%s-%d", strings.ToUpper(st.name), i+1)
		st.ports = append(st.ports, port{p.Name, uint32(sw.IfIndex(p)), run})
		if i >= copperPorts {
			continue
		}
		cable := s.campus.Connect(sim.Plug(run, p, "workstation"))
		if i < faultyPorts {
			st.cables = append(st.cables, cable)
		} else {
			s.quiet = append(s.quiet, run)
		}
	}
}

// bridge lays the fibre between two switches.
func (s *site) bridge(a, b *station) {
	last := len(a.ports) - 1
	b.ports[last].run = a.ports[last].run
	near, far := s.campus.Switch(a.name).Ports()[last], s.campus.Switch(b.name).Ports()[last]
	a.cables = append(a.cables, s.campus.Connect(sim.Cable{
		ID: a.ports[last].run, Media: sim.Fibre, Kind: "OM4", LengthM: 30, A: near, B: far, Path: sim.Path{Connectors: 2}, AtoB: across, BtoA: across,
	}))
}

func (s *site) serve(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	var group sync.WaitGroup
	for _, st := range s.stations {
		agent, err := sim.Listen("127.0.0.1:0", s.campus.Switch(st.name), sim.Security{Communities: []string{community}})
		require.NoError(t, err)
		st.agent, agent.Mangle = agent, st.book.note
		group.Go(func() { _ = agent.Serve(ctx) })
	}
	t.Cleanup(func() { cancel(); group.Wait() })
}

// write writes inventory and configuration as a person would.
func (s *site) write(t *testing.T, folder string) (config string) {
	var plant, switches strings.Builder
	plant.WriteString("site: Ferrow Quay College\ncables:\n  - {id: 6A, media: copper, category: \"6A\"}\n  - {id: OM4, media: fibre, fibre: OM4}\nspaces:\n")
	for n := range s.stations {
		fmt.Fprintf(&plant, "  - {id: TR-%02d, name: Telecom room %d}\n", n+1, n+1)
	}
	plant.WriteString("runs:\n")
	for n, st := range s.stations {
		for i, p := range st.ports {
			switch {
			case i < copperPorts:
				fmt.Fprintf(&plant, "  - {id: %s, switch: %s, port: \"%s\", cable: 6A, length_m: 40, design_speed: 1G, always_on: %t}\n", p.run, st.name, p.name, i%2 == 0)
			case n%2 == 0:
				fmt.Fprintf(&plant, "  - {id: %s, switch: %s, port: \"%s\", far_switch: %s, far_port: \"%[3]s\", cable: OM4, length_m: 30, connectors: 2, strands: 2, design_speed: 10G}\n",
					p.run, st.name, p.name, s.stations[n+1].name)
			}
		}
		fmt.Fprintf(&switches, "  - {name: %s, address: \"%s\", credentials: bench, space: TR-%02d}\n", st.name, st.agent.Addr(), n+1)
	}
	config = filepath.Join(folder, "toneout.yml")
	text := fmt.Sprintf(`plant: plant.yml
listen: 127.0.0.1:0
checkpoint: data/toneout.checkpoint
history: {directory: data/history}
journal: {file: data/journal.db}
poll: {every: %v, timeout: 400ms, retries: 1}
credentials: {bench: {version: 2c, community: {value: %s}}}
switches:
%s`, pollEvery, community, switches.String())
	require.NoError(t, os.WriteFile(filepath.Join(folder, "plant.yml"), []byte(plant.String()), 0o600))
	require.NoError(t, os.WriteFile(config, []byte(text), 0o600))
	return config
}
