package sim

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gopkg.in/yaml.v3"
)

func compare(a, b OID) int { return slices.Compare(a, b) }

// inventory parses runs.csv with the standard library's reader.
func inventory(t *testing.T, c *Campus) []map[string]string {
	rows, err := csv.NewReader(strings.NewReader(c.Inventory()["runs.csv"])).ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, row := range rows[1:] {
		run := map[string]string{}
		for i, key := range rows[0] {
			run[key] = row[i]
		}
		out = append(out, run)
	}
	return out
}

// The keys that an inventory's run may have.
const runKeys = `id, switch, port, far_switch, far_port, cable, length_m, segments, near_cord_m, far_cord_m, cord_awg,
near_cord_cable, far_cord_cable, panel, position, far_panel, far_position, outlet, pathways, bundle, installer, batch,
installed_on, tested_on, test_result, test_margin_db, warranty_until, design_speed, device, device_speed, passes_through,
connectors, splices, strands, polarity, expected_loss_db, optic, far_optic, owner, importance, always_on, status, notes`

func TestTheCollegeIsAsBigAsItSays(t *testing.T) {
	c := FerrowQuay(1, noon)
	require.Len(t, c.Switches(), 12)
	runs := inventory(t, c)
	require.InDelta(t, 400, len(runs), 25)
	ports, spaces := 0, map[string]bool{}
	for _, s := range c.Switches() {
		ports += len(s.Ports())
		spaces[s.Space] = true
	}
	require.Len(t, spaces, 5)
	recorded, described, media := 0, 0, map[string]int{}
	for _, r := range runs {
		for _, key := range []string{"port", "far_port"} {
			if r[key] != "" {
				recorded++
			}
		}
		if r["port"] == "" && r["status"] == "" {
			described++
		}
		media[r["cable"]]++
	}
	require.InDelta(t, 1.0/3, 1-float64(recorded)/float64(ports), 0.05, "a third of the ports without a record")
	require.Equal(t, 12, described)
	require.Len(t, media, 5)
}

func TestTheInventoryHoldsTogether(t *testing.T) {
	c := FerrowQuay(1, noon)
	require.Equal(t, c.Inventory(), FerrowQuay(99, noon.Add(time.Hour)).Inventory(), "the plant does not depend on the seed")
	var plant struct {
		Site                             string
		Spaces, Panels, Pathways, Cables []map[string]any
		RunsFiles                        []string `yaml:"runs_files"`
		TestsFiles                       []string `yaml:"tests_files"`
		Runs                             []map[string]any
	}
	decoder := yaml.NewDecoder(strings.NewReader(c.Inventory()["plant.yml"]))
	decoder.KnownFields(true)
	require.NoError(t, decoder.Decode(&plant))
	require.Equal(t, []string{"runs.csv", "workshop.csv"}, plant.RunsFiles)
	require.Equal(t, []string{"tests.csv"}, plant.TestsFiles)
	known := map[string]map[string]any{}
	for _, list := range [][]map[string]any{plant.Spaces, plant.Panels, plant.Pathways, plant.Cables} {
		for _, item := range list {
			require.NotContains(t, known, item["id"])
			known[item["id"].(string)] = item
		}
	}
	keys := strings.FieldsFunc(runKeys, func(r rune) bool { return r == ',' || r == ' ' || r == '\n' })
	ids, places, shared := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, e := range c.RecordErrors() {
		shared[e.Run] = shared[e.Run] || e.What == samePosition
	}
	for _, r := range inventory(t, c) {
		require.False(t, ids[r["id"]], r["id"])
		ids[r["id"]] = true
		for key, value := range r {
			require.Contains(t, keys, key)
			if slices.Contains([]string{"panel", "far_panel", "cable", "pathways"}, key) && value != "" {
				require.Contains(t, known, value)
			}
		}
		for _, end := range []string{"", "far_"} {
			if panel := r[end+"panel"]; panel != "" {
				place := panel + " " + r[end+"position"]
				require.False(t, places[place] && !shared[r["id"]], "%s twice", place)
				places[place] = true
			}
			if name := r[end+"switch"]; name != "" {
				c.Switch(name).Port(r[end+"port"]) // panics if there is none
			}
		}
	}
	directory := t.TempDir()
	require.NoError(t, c.WriteInventory(directory))
	written, err := os.ReadFile(filepath.Join(directory, "runs.csv"))
	require.NoError(t, err)
	require.Equal(t, c.Inventory()["runs.csv"], string(written))
	require.Error(t, c.WriteInventory(filepath.Join(directory, "absent")))
}

// True places and recorded places differ exactly where the college erred.
func TestDescriptionsTellWhatRecordsDoNot(t *testing.T) {
	c := FerrowQuay(1, noon)
	wrong, byDescription := 0, 0
	for _, r := range inventory(t, c) {
		var labelled *Port
		for _, s := range c.Switches() {
			for _, p := range s.Ports() {
				if strings.HasPrefix(p.Alias, r["id"]+" room ") {
					labelled = p
				}
			}
		}
		if labelled == nil {
			continue
		}
		require.Equal(t, r["id"], c.Cable(labelled).ID, "what the description says is true")
		if r["port"] == "" {
			byDescription++
		} else {
			require.NotEqual(t, labelled.Name, r["port"])
			wrong++
		}
	}
	require.Equal(t, 4, wrong)
	require.Equal(t, 12, byDescription)
}

// sign is what can be seen of a planted fault within a minute, at its port.
type sign struct {
	n                                       int // planted so often
	bad, slow, flaps, late, trips, linkless bool
	dim, bright                             bool // less or more light than the optic is made for
}

var signs = map[string]sign{
	"open-pair":            {n: 2, slow: true},
	"bit-errors":           {n: 3, bad: true},
	"bursts":               {n: 16, bad: true},
	"rattling-plug":        {n: 1, bad: true, flaps: true},
	"sleeping-pc":          {n: 3, slow: true},
	"legacy-device":        {n: 2, slow: true},
	"admin-limit":          {n: 1, slow: true},
	"dirty-connector":      {n: 1, bad: true, dim: true},
	"bent-fibre":           {n: 1},
	"failing-transmitter":  {n: 1, bad: true, dim: true},
	"overload":             {n: 1, bad: true, bright: true},
	"flapping-plug":        {n: 1, flaps: true},
	"short-in-cable":       {n: 1, flaps: true, trips: true},
	"powered-without-link": {n: 1, linkless: true},
	"duplex-mismatch":      {n: 1, slow: true, late: true},
}

// The answer book holds: within a minute each planted fault can be seen at its
// port, and nowhere else is anything to be seen; of light also at the other end.
func TestTheAnswerBook(t *testing.T) {
	for seed := range uint64(3) {
		c := FerrowQuay(seed, noon)
		planted, other := map[*Port]PlantedFault{}, map[*Port]bool{}
		kinds := map[string]int{}
		for _, f := range c.Faults() {
			p := c.Switch(f.Switch).Port(f.Port)
			planted[p] = f
			kinds[f.What]++
			if f.Run != "" {
				require.Equal(t, f.Run, c.Cable(p).ID)
			}
			if f.What == overload {
				other[c.Cable(p).A] = true
			}
		}
		for what, sign := range signs {
			require.Equal(t, sign.n, kinds[what], what)
		}
		require.Len(t, kinds, len(signs))
		before, after, later := map[*Port]line{}, map[*Port]line{}, map[*Port]line{}
		look := func(now time.Time, into map[*Port]line) {
			c.Do(now, func() {
				for _, s := range c.Switches() {
					for _, p := range s.Ports() {
						into[p] = p.line
					}
				}
			})
		}
		look(noon, before)
		look(noon.Add(time.Minute), after)
		for p, now := range after {
			if other[p] {
				continue
			}
			f, was, want := planted[p], before[p], signs[planted[p].What]
			bad, unicasts := now.InErrors()-was.InErrors(), now.In[unicast]-was.In[unicast]
			slow := now.speed > 0 && now.speed < slices.Max(p.Speeds)
			where := p.Switch().Name + " " + p.Name
			require.Equal(t, want.bad, bad > 0, where)
			require.Equal(t, want.slow, slow, where)
			require.Equal(t, want.flaps, now.Exits > 0, where)
			require.Equal(t, want.late, now.Late > was.Late, where)
			require.Equal(t, want.trips, p.feed.Short+p.feed.Overload > 0, where)
			require.Equal(t, want.linkless, p.feed.Status == FeedDelivering && now.speed == 0 && now.Exits == 0, where)
			if cable := c.Cable(p); cable != nil && p.module != nil {
				got := cable.received(time.Minute, 0, cable.A == p)
				require.Equal(t, want.dim, got < p.module.phy.least, where)
				require.Equal(t, want.bright, got > p.module.phy.most, where)
			}
			if bad > 0 {
				require.Greater(t, bad, uint64(100), where)
			}
			if f.Expect == "below-design-speed" {
				require.Greater(t, unicasts, uint64(600), "with traffic")
			}
			if f.What == "sleeping-pc" {
				require.Zero(t, unicasts)
			}
		}
		look(noon.Add(62*time.Second), later)
		for p, f := range planted {
			if f.What == "bit-errors" {
				require.Positive(t, later[p].FCS-after[p].FCS, "%s %s: between two polls", f.Switch, f.Port)
			}
		}
	}
}

func TestTheMotorIsNearItsPathway(t *testing.T) {
	c := FerrowQuay(1, noon)
	require.Contains(t, c.Inventory()["plant.yml"], "id: tray-n2-east, name: North 2 east tray, near: [lift motor]")
	switches := map[string]bool{}
	for _, f := range c.Faults() {
		if f.What == "bursts" {
			switches[f.Switch] = true
			require.Contains(t, c.Cable(c.Switch(f.Switch).Port(f.Port)).Pathways, motorTray)
		}
	}
	require.Len(t, switches, 3, "one cause over several switches")
}
