package plant

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// truth is a plant as it is cabled: the run at each port.
type truth struct {
	runs  []Run
	seen  []SeenPort
	names []string
	at    map[PortRef]string
}

// campus makes access switches with outlets and two uplinks each to a
// distribution switch. What ports hear is true, of one side or both; devices
// have names of their own.
func campus(r *rand.Rand, switches, outlets int) truth {
	w := truth{at: map[PortRef]string{}}
	enter := func(sw string, n int, run string) *SeenPort {
		w.seen = append(w.seen, bare(sw, n))
		w.at[PortRef{sw, fmt.Sprint(n)}] = run
		return &w.seen[len(w.seen)-1]
	}
	for s := range switches {
		sw := fmt.Sprintf("acc-%d", s)
		w.names = append(w.names, sw)
		for n := range outlets {
			id, device := fmt.Sprintf("R-%d-%d", s, n), fmt.Sprintf("dev-%d-%d", s, n)
			enter(sw, n, id).Device = device
			w.runs = append(w.runs, Run{ID: id, Switch: sw, Port: fmt.Sprint(n), Device: device})
		}
		for u := range 2 {
			id, n, m := fmt.Sprintf("U-%d-%d", s, u), outlets+u, 2*s+u
			up := enter(sw, n, id)
			sides := r.IntN(3)
			if sides > 0 {
				up.Peer = PortRef{"dis", fmt.Sprint(m)}
			}
			if down := enter("dis", m, id); sides < 2 {
				down.Peer = PortRef{sw, fmt.Sprint(n)}
			}
			w.runs = append(w.runs, Run{ID: id, Switch: sw, Port: fmt.Sprint(n), FarSwitch: "dis", FarPort: fmt.Sprint(m)})
		}
	}
	w.names = append(w.names, "dis")
	return w
}

// spoil swaps the ports of a share of the records, drops a third of the
// records, and takes the far ports from a few.
func (w *truth) spoil(r *rand.Rand, share float64) (records []Run, swaps int) {
	records = append(records, w.runs...)
	for i := range records {
		k := r.IntN(len(records))
		a, b := &records[i], &records[k]
		switch uplinks := a.FarSwitch != "" && b.FarSwitch != ""; {
		case i == k || r.Float64() > share:
			continue
		case uplinks && r.IntN(2) == 0:
			a.FarPort, b.FarPort = b.FarPort, a.FarPort
		default:
			a.Switch, a.Port, b.Switch, b.Port = b.Switch, b.Port, a.Switch, a.Port
		}
		swaps++
	}
	for i := range records {
		if records[i].FarSwitch != "" && r.IntN(10) == 0 {
			records[i].FarPort = ""
		}
	}
	r.Shuffle(len(records), func(i, k int) { records[i], records[k] = records[k], records[i] })
	return records[:len(records)*2/3], swaps
}

// With a third of the records missing and others swapped, no run is joined
// where what is heard contradicts it, and every swap that shows is listed.
func TestNoRunIsJoinedAgainstWhatIsHeard(t *testing.T) {
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 2))
		w := campus(r, 20, 10)
		records, swaps := w.spoil(r, []float64{0, 0.03, 0.5}[seed%3])
		p := plantOf(records...)
		j := p.Join(w.seen, w.names, labels)
		device := map[string]bool{}
		for _, run := range p.Runs {
			device[run.Device] = true
		}
		wrong := 0
		for _, join := range j.Joins {
			if w.at[join.Port] == join.Run.ID {
				continue
			}
			wrong++
			// A record swapped with one that is missing: nothing seen speaks of
			// either, nor of a far end whose port is not recorded.
			require.NotContains(t, device, deviceAt(w.seen, join.Port), "seed %d: %s is joined to %s", seed, join.Port, join.Run.ID)
			require.Empty(t, join.Run.FarPort, "seed %d: %s is joined to %s", seed, join.Port, join.Run.ID)
			require.False(t, join.Confirmed() && join.Run.FarSwitch == "")
		}
		for _, c := range j.Conflicts {
			require.NotEmpty(t, c.Ports)
			require.NotEmpty(t, c.Text)
		}
		if swaps == 0 {
			require.Empty(t, j.Conflicts)
			require.Zero(t, wrong)
			for _, join := range j.Joins {
				require.True(t, join.Confirmed(), "%s", join.Port)
			}
		} else if swaps > 20 {
			require.NotEmpty(t, j.Conflicts)
		}
		require.Len(t, w.seen, len(j.Joins)+len(j.UnjoinedPorts))
	}
}

func deviceAt(seen []SeenPort, at PortRef) string {
	for i := range seen {
		if seen[i].Ref() == at && seen[i].Device != "" {
			return seen[i].Device
		}
	}
	return "none"
}
