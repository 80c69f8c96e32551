package sim

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var badlyKept = Records{Missing: 1.0 / 3, Swapped: 0.03}

func TestWellKeptRecordsAreTheCollegesOwn(t *testing.T) {
	c, same := FerrowQuay(1, noon), FerrowQuayWith(1, noon, Records{})
	require.Equal(t, c.Inventory(), same.Inventory())
	require.Equal(t, c.Faults(), same.Faults())
	wrong := 0
	for _, r := range c.Truth(noon) {
		if !r.Right {
			wrong++
			require.True(t, r.ByDescription, r.Run)
		}
	}
	require.Equal(t, 4, wrong, "the college's own mistakes")
}

func TestBadlyKeptRecords(t *testing.T) {
	whole, c := FerrowQuay(1, noon), FerrowQuayWith(1, noon, badlyKept)
	require.Equal(t, c.Inventory(), FerrowQuayWith(9, noon, badlyKept).Inventory(), "the same for every seed")
	all, kept := inventory(t, whole), inventory(t, c)
	require.InDelta(t, float64(len(all))*2/3, len(kept), 1)
	before := map[string]map[string]string{}
	for _, r := range all {
		before[r["id"]] = r
	}
	known, moved := map[string]bool{}, 0
	for _, r := range kept {
		known[r["id"]] = true
		if r["port"] != before[r["id"]]["port"] {
			moved++
		}
		r["port"] = before[r["id"]]["port"]
		require.Equal(t, before[r["id"]], r, "nothing else is altered")
	}
	require.InDelta(t, 0.03*float64(len(c.Truth(noon))), moved, 1)
	for i, f := range c.Faults() {
		was := whole.Faults()[i]
		if was.What == "admin-limit" && !known[was.Run] {
			was.Expect = "" // nobody knows that more was meant
		}
		if !known[was.Run] {
			was.Run = ""
		}
		require.Equal(t, was, f)
	}
}

func TestTruthOfRecords(t *testing.T) {
	c := FerrowQuayWith(1, noon, badlyKept)
	byNeighbour, byDescription, neither, right := 0, 0, 0, 0
	places := map[*Port]string{}
	for _, r := range c.Truth(noon) {
		require.Equal(t, r.Run, c.RunAt(r.True))
		require.Empty(t, places[r.True])
		places[r.True] = r.Run
		require.Equal(t, r.Right, r.True == c.Switch(r.Switch).Port(r.Port))
		switch {
		case r.Right:
			right++
			require.False(t, r.ByNeighbour || r.ByDescription)
			continue
		case r.ByNeighbour:
			byNeighbour++
		case r.ByDescription:
			byDescription++
		default:
			neither++
		}
		require.Equal(t, r.True.Switch().Name, r.Switch, "swapped within a switch")
		if r.ByDescription {
			there := c.Switch(r.Switch).Port(r.Port).Alias
			require.True(t, strings.HasPrefix(r.True.Alias, r.Run+" room ") || !strings.HasPrefix(there, r.Run), "%s: %s", r.Run, there)
		}
	}
	require.Greater(t, right, 150)
	require.Positive(t, byNeighbour)
	require.Positive(t, byDescription)
	require.Positive(t, neither, "some nobody can know")
	truth := map[string]RecordTruth{}
	for _, r := range c.Truth(noon) {
		truth[r.Run] = r
	}
	byWhom := [2]int{}
	for _, f := range c.Faults() {
		if r, recorded := truth[f.Run]; recorded && !r.Right {
			require.True(t, r.ByNeighbour || r.ByDescription, "a fault where a record is wrong and something says so")
			if r.ByNeighbour {
				byWhom[0]++
			}
			if r.ByDescription {
				byWhom[1]++
			}
		}
	}
	require.Equal(t, [2]int{1, 1}, byWhom)
}

func TestRightRecordsAreContradictedByNobody(t *testing.T) {
	for _, c := range []*Campus{FerrowQuay(1, noon), FerrowQuayWith(1, noon, badlyKept), Quayside(1, noon)} {
		c.Do(noon, func() {
			for _, r := range c.site.runs {
				if own := c.namedEnd(r); r["port"] != "" && own != "" && c.recordRight(r) {
					here := c.recordedAt(r).hearing()
					if len(here) > 0 {
						require.Contains(t, here, own)
					}
				}
			}
		})
	}
}

func TestQuaysideHangsOnOneSwitch(t *testing.T) {
	c := Quayside(1, noon)
	core, dist := c.Switch("core-q1-1"), c.Switch("dist-q2-1")
	require.Len(t, c.Switches(), 6)
	require.Len(t, c.Reachable(noon, core), 6)
	now := noon.Add(10 * time.Second)
	dist.Power(now, false)
	require.Equal(t, map[*Switch]bool{core: true}, c.Reachable(now, core))
	access := c.Switch("acc-q2-1")
	require.Equal(t, map[*Switch]bool{access: true}, c.Reachable(now, access))
	require.Len(t, c.Reachable(now.Add(10*time.Second), core), 1)
	dist.Power(now.Add(time.Minute), true)
	require.Len(t, c.Reachable(now.Add(70*time.Second), core), 6)
	c.Do(now.Add(80*time.Second), func() { access.Port("1/25").Shut = true })
	require.Len(t, c.Reachable(now.Add(81*time.Second), core), 5, "one link down, one switch behind it")
}

func TestQuaysidesRecordsAreRight(t *testing.T) {
	c := Quayside(1, noon)
	truth := c.Truth(noon)
	require.Len(t, truth, 4*24+4+1)
	for _, r := range truth {
		require.True(t, r.Right, r.Run)
	}
	require.Contains(t, c.Inventory()["plant.yml"], "site: Ferrow Quay College, Quayside annexe")
	require.Empty(t, c.Faults())
}
