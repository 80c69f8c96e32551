package plant

import (
	"fmt"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/standards"
)

var regexpWithout = regexp.MustCompile(`^[A-Z]+`)

func TestDesignSpeedMeant(t *testing.T) {
	const m100, g1, g10 = 100 * standards.Mbps, standards.Gbps, 10 * standards.Gbps
	for _, row := range [][3]standards.Speed{
		{0, 0, 0}, {g1, 0, g1}, {0, m100, m100}, {g1, m100, m100}, {g1, g10, g1}, {g1, g1, g1},
	} {
		require.Equal(t, row[2], (&Run{DesignSpeed: row[0], DeviceSpeed: row[1]}).DesignSpeedMeant())
	}
}

func TestEnds(t *testing.T) {
	for _, row := range []struct {
		run       Run
		near, far string
	}{
		{Run{}, "not recorded", "not recorded"},
		{Run{Switch: "acc-n2-1", Port: "1/17", Panel: "N2-P1", Position: "17", Outlet: "214-A"},
			"acc-n2-1 port 1/17, panel N2-P1 position 17", "outlet 214-A"},
		{Run{Switch: "acc-n2-1", FarSwitch: "dis-n0-1", FarPort: "2/1", FarPanel: "N0-F1"},
			"acc-n2-1", "dis-n0-1 port 2/1, panel N0-F1"},
		{Run{Device: "door reader"}, "not recorded", "door reader"},
	} {
		near, far := row.run.Ends()
		require.Equal(t, []string{row.near, row.far}, []string{near, far})
	}
}

// BenchmarkJoin joins 48,000 ports of 1,000 switches, a third of them without a
// run, a third hearing a device; one of each switch hears a port of the next.
func BenchmarkJoin(b *testing.B) {
	const switches, ports = 1000, 48
	var seen []SeenPort
	var runs []Run
	names := make([]string, switches)
	for s := range switches {
		names[s] = fmt.Sprintf("acc-%04d", s)
		for p := range ports {
			id, name := fmt.Sprintf("R-%04d-%02d", s, p), fmt.Sprintf("1/%d", p+1)
			port := at(names[s], 1000+p, name, "slot 1 port "+name, "")
			switch p % 3 {
			case 0:
				runs = append(runs, Run{ID: id, Switch: names[s], Port: name})
			case 1:
				runs = append(runs, Run{ID: id, Switch: names[s]})
				port.Alias = id + " outlet"
			}
			switch {
			case p%3 == 1:
				port.Device = "dev-" + id
			case p == 0:
				port.Peer = PortRef{fmt.Sprintf("acc-%04d", (s+1)%switches), "1/3"}
			}
			seen = append(seen, port)
		}
	}
	plant := plantOf(runs...)
	for b.Loop() {
		j := plant.Join(seen, names, labels)
		if len(j.Joins) != switches*(ports/3*2+1) || len(j.UnjoinedRuns) != 0 {
			b.Fatalf("%d joined, %d runs not", len(j.Joins), len(j.UnjoinedRuns))
		}
	}
}
