package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/sim"
)

// asked is a campus whose switches answer on loopback, and a folder with a
// configuration that names them.
type asked struct {
	directory, config, runs string
}

func ask(t *testing.T, campus *sim.Campus) asked {
	d := asked{directory: t.TempDir()}
	d.config, d.runs = filepath.Join(d.directory, "toneout.yml"), filepath.Join(d.directory, "runs.csv")
	d.of(t, campus)
	return d
}

// of has the configuration name the switches of another campus.
func (d asked) of(t *testing.T, campus *sim.Campus) {
	agents, err := startAgents(campus)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	var group sync.WaitGroup
	for _, agent := range agents {
		group.Go(func() { _ = agent.Serve(ctx) })
	}
	t.Cleanup(func() { cancel(); group.Wait() })
	text := fmt.Sprintf(`plant: plant.yml
listen: 127.0.0.1:0
poll: {every: 3s}
port_labels: '^(?P<run>[A-Z0-9]+-P[A-Z0-9-]+)'
credentials: {bench: {version: 2c, community: {value: %s}}}
switches:
`, demoCommunity)
	for i, sw := range campus.Switches() {
		text += fmt.Sprintf("  - {name: %s, address: %q, credentials: bench, space: %s}\n", sw.Name, agents[i].Addr(), sw.Space)
	}
	require.NoError(t, os.WriteFile(d.config, []byte(text), 0o600))
}

func (d asked) draft(t *testing.T) (code int, out, log string) {
	return toneout(t, "draft", "-config", d.config, "-o", d.runs)
}

// rows are the rows of the file, by id.
func (d asked) rows(t *testing.T) map[string]map[string]string {
	lines, err := csv.NewReader(bytes.NewReader(d.read(t))).ReadAll()
	require.NoError(t, err)
	rows := map[string]map[string]string{}
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, key := range lines[0] {
			row[key] = line[i]
		}
		rows[row["id"]] = row
	}
	return rows
}

func (d asked) read(t *testing.T) []byte {
	data, err := os.ReadFile(d.runs)
	require.NoError(t, err)
	return data
}

// change puts a text in the place of another, as a person would.
func (d asked) change(t *testing.T, old, new string) {
	text := string(d.read(t))
	require.Contains(t, text, old)
	require.NoError(t, os.WriteFile(d.runs, []byte(strings.Replace(text, old, new, 1)), 0o640))
}

// A college without any record gets one: every port with a link is on a run of
// the draft, by the simulator's own word for what is up, and the daemon serves
// with it.
func TestDraftFromNothing(t *testing.T) {
	campus := sim.FerrowQuay(demoSeed, time.Now())
	d := ask(t, campus)
	code, out, log := d.draft(t)
	require.Zero(t, code, log)
	require.Empty(t, log)
	require.Contains(t, out, "plant.yml was not there and is begun")
	named := map[string]bool{}
	for _, row := range d.rows(t) {
		named[row["switch"]+" "+row["port"]] = true
		named[row["far_switch"]+" "+row["far_port"]] = true
		require.NotEmpty(t, row["drafted_from"])
		require.Empty(t, row["draft_differs"])
	}
	up := 0
	for _, sw := range campus.Switches() {
		for _, p := range sw.Ports() {
			if speed, _ := p.Link(); speed > 0 {
				up++
				require.True(t, named[sw.Name+" "+p.Name], "%s %s is up and not drafted", sw.Name, p.Name)
			}
		}
	}
	require.Greater(t, up, 200)

	before := d.read(t)
	info, err := os.Stat(d.runs)
	require.NoError(t, err)
	code, out, _ = d.draft(t)
	require.Zero(t, code)
	require.Contains(t, out, "0 rows added, 0 empty cells filled in, 0 rows of which")
	require.Equal(t, string(before), string(d.read(t)))
	again, err := os.Stat(d.runs)
	require.NoError(t, err)
	require.True(t, os.SameFile(info, again) && info.ModTime().Equal(again.ModTime()), "it was not even touched")

	joinable(t, d.config)
	_, said := background(t, "serve", "-config", d.config)
	address := ""
	require.Eventually(t, func() bool {
		if m := servedAt.FindStringSubmatch(said.String()); m != nil {
			address = m[1]
		}
		return address != ""
	}, patience, 10*time.Millisecond)
	require.NotContains(t, said.String(), "no such space")
	require.Eventually(t, func() bool { status, _ := fetch(t, address, "/readyz"); return status == http.StatusOK }, patience, 50*time.Millisecond)
	require.EventuallyWithT(t, func(c *assert.CollectT) { // a switch that was asked in a hurry tells in its next poll which ports are a port's parts
		_, metrics := fetch(t, address, "/metrics")
		assert.Empty(c, regexp.MustCompile(`toneout_port_up\{port="[^"]*",run="",switch="[^"]*"\} 1`).FindAllString(metrics, -1), "a port that is up has no run")
		assert.GreaterOrEqual(c, len(regexp.MustCompile(`(?m)^toneout_port_up\{.*\} 1$`).FindAllString(metrics, -1)), up-10)
	}, time.Minute, 200*time.Millisecond)
}

var servedAt = regexp.MustCompile(`msg=serving address=(\S+)`)

func fetch(t *testing.T, address, path string) (status int, body string) {
	response, err := http.Get("http://" + address + path)
	require.NoError(t, err)
	defer response.Body.Close()
	var text bytes.Buffer
	_, err = text.ReadFrom(response.Body)
	require.NoError(t, err)
	return response.StatusCode, text.String()
}

// pair is two switches with an uplink, and a few PCs on the first.
func pair(farPort string) *sim.Campus {
	campus := sim.NewCampus(1, time.Now())
	access := campus.AddSwitch(sim.SwitchPlan{Name: "acc-1", Copper: 8, Up: 24 * time.Hour})
	core := campus.AddSwitch(sim.SwitchPlan{Name: "core-1", Copper: 8, Up: 24 * time.Hour})
	for _, p := range access.Ports()[:3] {
		campus.Connect(sim.Plug("R-"+p.Name, p, "workstation"))
	}
	uplink := sim.Plug("UP", access.Port("1/8"), "switch")
	uplink.B = core.Port(farPort)
	campus.Connect(uplink)
	return campus
}

// What a person wrote stays; what is cabled otherwise than written is marked.
func TestDraftAgain(t *testing.T) {
	d := ask(t, pair("1/1"))
	code, _, log := d.draft(t)
	require.Zero(t, code, log)
	require.Equal(t, "core-1", d.rows(t)["acc-1-1-8"]["far_switch"])
	require.Equal(t, "1/1", d.rows(t)["acc-1-1-8"]["far_port"])
	d.change(t, "acc-1-1-1,acc-1,1/1", "LIBRARY-1,acc-1,1/1")
	require.NoError(t, os.Chmod(d.runs, 0o640))

	d.of(t, pair("1/2"))
	code, out, log := d.draft(t)
	require.Zero(t, code, log)
	require.Contains(t, out, "1 row of which something is seen otherwise")
	rows := d.rows(t)
	require.Contains(t, rows, "LIBRARY-1")
	require.NotContains(t, rows, "acc-1-1-1")
	require.Equal(t, "1/1", rows["acc-1-1-8"]["far_port"], "what is written stays")
	require.Contains(t, rows["acc-1-1-8"]["draft_differs"], "far_port: now 1/2")
	info, err := os.Stat(d.runs)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o640), info.Mode().Perm(), "the file keeps its mode")
	names, err := filepath.Glob(filepath.Join(d.directory, ".*"))
	require.NoError(t, err)
	require.Empty(t, names, "nothing half written is left")

	d.of(t, pair("1/1"))
	code, _, _ = d.draft(t)
	require.Zero(t, code)
	require.Empty(t, d.rows(t)["acc-1-1-8"]["draft_differs"])
}

func TestDraftGoesOnWithoutASwitch(t *testing.T) {
	d := ask(t, pair("1/1"))
	text, err := os.ReadFile(d.config)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(d.config, append(text, "  - {name: gone, address: \"127.0.0.1:9\", credentials: bench}\n"...), 0o600))
	code, out, log := d.draft(t)
	require.Equal(t, exitFailed, code)
	require.Contains(t, out, "4 rows added")
	require.Contains(t, log, "not asked: poll switch gone at 127.0.0.1:9")
	require.Contains(t, log, "1 switch of 3 did not answer")
	require.Len(t, d.rows(t), 4)
}

func TestDraftToStandardOutput(t *testing.T) {
	d := ask(t, pair("1/1"))
	code, out, log := toneout(t, "draft", "-config", d.config, "-o", "-")
	require.Zero(t, code, log)
	require.True(t, strings.HasPrefix(out, "id,switch,port"), out)
	require.Equal(t, 5, strings.Count(out, "\n"), out)
	require.Contains(t, log, "4 rows added")
	require.NoFileExists(t, filepath.Join(d.directory, "plant.yml"))
}

// Nothing that is there is written over but the drafted file.
func TestDraftBesideWhatIsThere(t *testing.T) {
	d := ask(t, pair("1/1"))
	inventory := filepath.Join(d.directory, "plant.yml")
	write := func(text string) { require.NoError(t, os.WriteFile(inventory, []byte(text), 0o600)) }

	write("site: x\nruns: [{id: MINE, switch: acc-1, port: \"1/2\"}]\n")
	code, out, log := d.draft(t)
	require.Zero(t, code, log)
	require.Contains(t, out, "plant.yml does not name this file yet: add to it  runs_files: [runs.csv]")
	require.NotContains(t, string(d.read(t)), "acc-1,1/2", "a port that has a run gets no second one")
	text, err := os.ReadFile(inventory)
	require.NoError(t, err)
	require.Contains(t, string(text), "MINE")

	require.NoError(t, os.Remove(d.runs))
	write("runs_files: [runs.csv]\n") // named before it is there
	code, out, log = d.draft(t)
	require.Zero(t, code, log)
	require.NotContains(t, out, "does not name")

	for _, row := range []struct{ plant, runs, says string }{
		{"runs: [{id: MINE, switch: acc-1, port: \"1/2\", length_m: 6o}]\n", "", "plant.yml:1: run MINE: length_m"},
		{"runs: [", "", "plant.yml:1: "},
		{"runs_files: [other.csv]\n", "", "other.csv: no such file"},
		{"runs_files: [runs.csv]\n", "id;switch\n\"A", "runs.csv"},
	} {
		write(row.plant)
		require.NoError(t, os.WriteFile(d.runs, []byte(row.runs), 0o600))
		code, _, log := d.draft(t)
		require.Equal(t, exitUsage, code, log)
		require.Contains(t, log, row.says)
		require.Equal(t, row.runs, string(d.read(t)))
	}
}

// What is begun is an inventory as it stands and with its examples put in use:
// a row then names the panel and the cable of them.
func TestBegunInventoryShowsWhatRowsMayName(t *testing.T) {
	directory := t.TempDir()
	path := filepath.Join(directory, "plant.yml")
	require.NoError(t, begin(path, "runs.csv", []switchConfig{{Name: "sw-1", Space: "N2-TR"}}))
	require.NoError(t, os.WriteFile(filepath.Join(directory, "runs.csv"), []byte("id,panel,position,cable,pathways\nA,P1,1,horizontal-6a,tray-east\n"), 0o600))
	_, problems, err := plant.Load(path)
	require.NoError(t, err)
	require.NotEmpty(t, problems, "nothing of it is there yet")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, bytes.ReplaceAll(text, []byte("#   "), nil), 0o600))
	inventory, problems, err := plant.Load(path)
	require.NoError(t, err)
	require.Empty(t, problems)
	require.Len(t, inventory.Runs, 1)
}

// Neither the configuration nor the inventory, there or not, takes the runs.
func TestDraftKeepsOffOtherFiles(t *testing.T) {
	directory := folder(t, map[string]string{"toneout.yml": goodConfig})
	for _, name := range []string{"plant.yml", "toneout.yml"} {
		code, _, log := toneout(t, "draft", "-config", filepath.Join(directory, "toneout.yml"), "-o", filepath.Join(directory, name))
		require.Equal(t, exitUsage, code)
		require.Contains(t, log, name+" is no file of runs; name one of its own, e.g. -o runs.csv")
	}
	require.NoFileExists(t, filepath.Join(directory, "plant.yml"))
}

// A row that a later draft adds is as long as the others, so that the file can
// be loaded and drafted again.
func TestALaterDraftAddsWholeRows(t *testing.T) {
	d := ask(t, sim.FerrowQuay(demoSeed, time.Now()))
	code, _, log := d.draft(t)
	require.Zero(t, code, log)
	lines := strings.SplitAfter(string(d.read(t)), "\n")
	require.NoError(t, os.WriteFile(d.runs, []byte(strings.Join(append(lines[:8:8], lines[11:]...), "")), 0o640))
	for _, want := range []string{": 3 rows added", ": 0 rows added"} {
		code, out, log := d.draft(t)
		require.Zero(t, code, log)
		require.Contains(t, out, want)
	}
	require.Len(t, d.rows(t), len(lines)-2)
	joinable(t, d.config)
}

// joinable wants that every row of an inventory is read and its ports joined.
// What else a draft cannot know, such as the cable, an audit asks for.
func joinable(t *testing.T, config string) {
	_, out, log := toneout(t, "audit", "-config", config, "-csv")
	require.Empty(t, log)
	require.Contains(t, out, "cable-not-recorded", "it was judged")
	for _, rule := range []plant.Rule{plant.RowUnread, plant.PortConflict, plant.PortUnknown} {
		require.NotContains(t, out, string(rule))
	}
}
