package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/snmp"
)

// A file is acted on once it stands still, and each change once.
func TestWatcher(t *testing.T) {
	directory := t.TempDir()
	file, other := filepath.Join(directory, "runs.csv"), filepath.Join(directory, "new.csv")
	write(t, directory, "runs.csv", "id\nA\n")
	var w watcher
	w.read([]string{file, other})
	require.False(t, w.changed())

	write(t, directory, "runs.csv", "id\nA\nB")
	require.False(t, w.changed(), "just changed")
	write(t, directory, "runs.csv", "id\nA\nB\nC\n")
	require.False(t, w.changed(), "changed further")
	require.True(t, w.changed(), "stands still")
	w.read([]string{file, other})
	require.False(t, w.changed(), "acted on")

	// Another file of the same size and time takes its place, as an editor or
	// a copy that keeps times does it.
	info, err := os.Stat(file)
	require.NoError(t, err)
	write(t, directory, "copy", "id\nA\nB\nD\n")
	require.NoError(t, os.Chtimes(filepath.Join(directory, "copy"), time.Time{}, info.ModTime()))
	require.NoError(t, os.Rename(filepath.Join(directory, "copy"), file))
	require.False(t, w.changed())
	require.True(t, w.changed())

	w.read([]string{file, other})
	write(t, directory, "new.csv", "id\n") // one that was missing
	require.False(t, w.changed())
	require.True(t, w.changed())
	w.read([]string{file, other})
	require.NoError(t, os.Remove(other))
	require.False(t, w.changed())
	require.True(t, w.changed())

	w.read([]string{file})
	w.follow([]string{file, other})
	require.False(t, w.changed())
	require.NoError(t, os.Chmod(file, 0o640)) // one that could not be read is opened up
	require.False(t, w.changed())
	require.True(t, w.changed())
}

// site is a folder with an inventory and a configuration of a few lines:
// "switch NAME ADDRESS", "every DURATION", "tell URL", "listen ADDRESS".
type site struct {
	t         *testing.T
	directory string
	clock     *manual
	hangups   chan os.Signal

	mutex  sync.Mutex
	opened map[string]int // by name and address
	open   map[string]int // of these, not closed yet
}

func newSite(t *testing.T) *site {
	s := &site{t: t, directory: t.TempDir(), clock: newManual(), hangups: make(chan os.Signal, 1),
		opened: map[string]int{}, open: map[string]int{}}
	s.write("plant.yml", "cables: [{id: c, media: copper}]\nruns_files: [runs.csv]\n")
	s.write("runs.csv", "id,switch,port,cable\nA,sw-1,1/1,c\n")
	s.write("conf", "switch sw-1 one\n")
	return s
}

// write puts a file in the place of another, as editors do.
func (s *site) write(name, text string) {
	write(s.t, s.directory, "written", text)
	require.NoError(s.t, os.Rename(filepath.Join(s.directory, "written"), filepath.Join(s.directory, name)))
}

func (s *site) file(name string) string { return filepath.Join(s.directory, name) }

func (s *site) read() (Setup, error) {
	out := Setup{PollEvery: time.Minute, SlowEvery: 5 * time.Minute, FalseAlarmsPerWeek: 1, Files: []string{s.file("conf"), s.file("plant.yml")},
		Fixed: map[string]string{}}
	data, err := os.ReadFile(s.file("conf"))
	if err != nil {
		return out, err
	}
	for number, line := range strings.Split(strings.TrimSpace(string(data)), "\n") {
		words := strings.Fields(line)
		switch words[0] {
		case "switch":
			out.Switches = append(out.Switches, Switch{Target: snmp.Target{Name: words[1], Address: words[2]}})
		case "every":
			out.PollEvery, err = time.ParseDuration(words[1])
			require.NoError(s.t, err)
		case "tell":
			out.Alertmanagers = append(out.Alertmanagers, words[1])
		case "listen":
			out.Fixed["listen"] = words[1]
		default:
			return out, fmt.Errorf("conf:%d: unknown key %q\nconf:1: and more", number+1, words[0])
		}
	}
	out.Plant, out.Problems, err = plant.Load(s.file("plant.yml"))
	if err == nil {
		out.Files = append(out.Files, out.Plant.Files...)
	}
	return out, err
}

// fakePoller is a switch of two ports with traffic; at the address "dead" it
// does not answer.
type fakePoller struct {
	site *site
	at   snmp.Target
}

func (s *site) openSwitch(t snmp.Target) (Poller, error) {
	if t.Address == "impossible" {
		return nil, errors.New("switch " + t.Name + ": impossible")
	}
	s.mutex.Lock()
	defer s.mutex.Unlock()
	s.opened[t.Name+" "+t.Address]++
	s.open[t.Name+" "+t.Address]++
	return fakePoller{s, t}, nil
}

func (p fakePoller) Close() error {
	p.site.mutex.Lock()
	defer p.site.mutex.Unlock()
	p.site.open[p.at.Name+" "+p.at.Address]--
	return nil
}

func (p fakePoller) Poll(context.Context) (port.Poll, error) {
	if p.at.Address == "dead" {
		return port.Poll{}, errors.New("no answer")
	}
	now := p.site.clock.now()
	seconds := uint64(now.Unix() - time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Unix())
	poll := port.Poll{At: now, Uptime: port.Some(uint32(100 * seconds))}
	for i := range 2 {
		r := port.Reading{At: now, Uptime: poll.Uptime, Index: i + 1, Name: fmt.Sprintf("1/%d", i+1), Type: 6, Connector: port.Yes,
			Admin: port.Up, Oper: port.Up, HighSpeed: port.Some[uint32](1000)}
		r.Counters.Set64(port.InUnicast, 1000*seconds)
		r.Counters.Set64(port.InOctets, 100_000*seconds)
		r.Counters.Set32(port.FCS, 0)
		poll.Ports = append(poll.Ports, r)
	}
	return poll, nil
}

// count is how often an address was opened and is open.
func (s *site) count(of map[string]int, at string) int {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return of[at]
}

func (s *site) start() *running {
	setup, err := s.read()
	require.NoError(s.t, err)
	s.t.Cleanup(func() {
		require.Eventually(s.t, func() bool { return goroutineIn(ourGoroutines) == "" }, patience, 10*time.Millisecond, "a goroutine is left")
		for at := range s.opened {
			require.Zero(s.t, s.count(s.open, at), "%s is open still", at)
		}
	})
	r := start(s.t, Options{Setup: setup, Reload: s.read, Hangups: s.hangups, Open: s.openSwitch, Clock: s.clock.clock()})
	r.eventually(func() bool { return s.clock.soonest() <= lookEvery }, "the first look at the files")
	return r
}

// until moves the clock on until something is so.
func (s *site) until(r *running, is func() bool, what string) {
	s.t.Helper()
	for deadline := time.Now().Add(patience); !is(); s.clock.next() {
		if time.Now().After(deadline) {
			require.Fail(s.t, what, "%v", r.log)
		}
		runtime.Gosched()
	}
}

func (r *running) has(path, text string) func() bool {
	return func() bool { _, body := r.get(path); return strings.Contains(body, text) }
}

func (r *running) hasNot(path, text string) func() bool {
	return func() bool { return !r.has(path, text)() }
}

func TestAChangedInventoryIsTakenIn(t *testing.T) {
	s := newSite(t)
	r := s.start()
	s.until(r, r.has("/api/runs/A", `"state":"healthy"`), "A is healthy")
	s.write("runs.csv", "id,switch,port,cable\nA,sw-1,1/1,c\nB,sw-1,1/2,c\n")
	s.until(r, r.has("/api/runs/B", `"state":"healthy"`), "B is there")
	require.True(t, r.has("/metrics", `toneout_port_up{port="1/2",run="B",switch="sw-1"} 1`)())
	require.True(t, r.has("/metrics", "toneout_inventory_loaded 1\n")())
	s.write("more.csv", "id,switch,port\n")
	s.write("plant.yml", "cables: [{id: c, media: copper}]\nruns_files: [more.csv]\n")
	s.until(r, r.has("/metrics", `toneout_port_up{port="1/1",run="",switch="sw-1"} 1`), "A is gone")
	s.write("more.csv", "id,switch,port\nC,sw-1,1/2\n")
	s.until(r, r.has("/api/runs/C", `"state":"healthy"`), "a file named only now is looked at too")
	require.Equal(t, 1, s.count(s.opened, "sw-1 one"), "the switch keeps its session")
	require.Equal(t, 3, strings.Count(r.log.String(), "configuration and inventory loaded"), r.log)
}

// A bad file changes nothing but what is told of it; once mended it is read by
// itself.
func TestABadFileKeepsTheOldInventory(t *testing.T) {
	good := "id,switch,port,cable\nA,sw-1,1/1,c\nB,sw-1,1/2,c\n"
	for _, row := range []struct{ name, file, bad, mended, says string }{
		{"a row", "runs.csv", "id,switch,port,cable,length_m\nA,sw-1,1/1,c,6o\n", good, `runs.csv:2: run A: length_m \"6o\" is not a number`},
		{"the whole inventory", "plant.yml", "cables: [", "cables: [{id: c, media: copper}]\nruns_files: [good.csv]\n", "plant.yml:1: "},
		{"a file that is not there", "plant.yml", "cables: [{id: c, media: copper}]\nruns_files: [gone.csv]\n",
			"cables: [{id: c, media: copper}]\nruns_files: [good.csv]\n", "gone.csv: no such file"},
		{"the configuration", "conf", "switch sw-1 two\nswich sw-2 one\n", "switch sw-1 one\nevery 50s\n", `conf:2: unknown key \"swich\"; conf:1: and more`},
		{"a switch that can't be set up", "conf", "switch sw-1 two\nswitch sw-2 impossible\n", "switch sw-1 one\nevery 50s\n", "switch sw-2: impossible"},
		{"an Alertmanager", "conf", "switch sw-1 two\ntell nowhere\n", "switch sw-1 one\nevery 50s\n", "Alertmanager nowhere: not the address of one"},
	} {
		t.Run(row.name, func(t *testing.T) {
			s := newSite(t)
			s.write("good.csv", good)
			r := s.start()
			s.until(r, r.has("/api/runs/A", `"state":"healthy"`), "A is healthy")
			s.write(row.file, row.bad)
			s.until(r, r.has("/metrics", "toneout_inventory_loaded 0\n"), "the metric")
			require.True(t, r.has("/api/runs/A", `"state":"healthy"`)(), "the old inventory is in use")
			require.Contains(t, r.log.String(), row.says)
			require.Equal(t, 1, strings.Count(r.log.String(), "level=ERROR"), r.log)
			var cover struct{ Inventory struct{ Refused string } }
			_, body := r.get("/api/coverage")
			require.NoError(t, json.Unmarshal([]byte(body), &cover))
			require.Contains(t, cover.Inventory.Refused, strings.ReplaceAll(row.says, `\"`, `"`))
			require.True(t, r.has("/coverage", "What the files hold now is not used")())
			require.NotContains(t, r.log.String(), "loaded")

			s.write(row.file, row.mended)
			s.until(r, r.has("/metrics", "toneout_inventory_loaded 1\n"), "mended")
			require.True(t, r.hasNot("/coverage", "What the files hold now is not used")())
			require.Equal(t, 1, s.count(s.opened, "sw-1 one"), "the session is kept all the time")
		})
	}
}

// A row that was lost from the start does not keep the rest from changing.
func TestOldProblemsDontRefuseNewRows(t *testing.T) {
	s := newSite(t)
	s.write("runs.csv", "id,switch,port,cable,length_m\nA,sw-1,1/1,c,6o\n")
	r := s.start()
	s.write("runs.csv", "id,switch,port,cable,length_m\nB,sw-1,1/2,c,60\nA,sw-1,1/1,c,6o\n")
	s.until(r, r.has("/api/runs/B", `"state":"healthy"`), "B is there")
	require.True(t, r.has("/metrics", "toneout_inventory_problems 1\n")())
}

func TestAHangupReadsTheFilesAnew(t *testing.T) {
	s := newSite(t)
	r := s.start()
	s.write("runs.csv", "id,switch,port,cable\nB,sw-1,1/2,c\n")
	s.hangups <- os.Interrupt
	r.eventually(r.has("/api/runs", `"B"`), "B, while no time passes")
	s.hangups <- os.Interrupt
	r.eventually(func() bool { return strings.Count(r.log.String(), "inventory loaded") == 2 }, "unchanged files are read too")
}

func TestSwitchesComeAndGo(t *testing.T) {
	s := newSite(t)
	r := s.start()
	s.until(r, r.has("/api/runs/A", `"state":"healthy"`), "sw-1")
	_, before := r.get("/metrics")

	s.write("conf", "switch sw-2 two\nswitch sw-1 one\n")
	s.until(r, r.has("/metrics", `toneout_switch_up{switch="sw-2"} 1`), "sw-2 comes")
	require.Equal(t, 1, s.count(s.opened, "sw-1 one"))

	s.write("conf", "switch sw-2 dead\nswitch sw-1 one\n")
	s.until(r, r.has("/metrics", `toneout_switch_up{switch="sw-2"} 0`), "sw-2 is asked where it is not")
	require.Equal(t, 0, s.count(s.open, "sw-2 two"), "nothing of its loop is left")
	require.Contains(t, r.log.String(), "switch not read")

	s.write("conf", "switch sw-2 three\nswitch sw-1 one\nevery 20s\n")
	s.until(r, r.has("/metrics", `toneout_switch_up{switch="sw-2"} 1`), "sw-2 is asked at its new address")
	require.Equal(t, 1, s.count(s.opened, "sw-1 one"), "a new interval costs no session")

	s.write("conf", "switch sw-1 one\n")
	s.until(r, r.hasNot("/metrics", `switch="sw-2"`), "sw-2 goes, with all its series")
	require.Equal(t, 0, s.count(s.open, "sw-2 three"))
	s.until(r, r.has("/api/switches", `"sw-1"`), "sw-1 stays")
	require.True(t, r.hasNot("/api/switches", `"sw-2"`)())
	require.True(t, r.has("/api/runs/A", `"state":"healthy"`)(), "and never forgot what it knew")
	_, after := r.get("/metrics")
	require.Contains(t, before, `toneout_switch_polls_total{outcome="answered",switch="sw-1"}`)
	require.Contains(t, after, `toneout_switch_polls_total{outcome="answered",switch="sw-1"}`)
}

func TestWhatNeedsARestartIsSaidOnce(t *testing.T) {
	s := newSite(t)
	s.write("conf", "switch sw-1 one\nlisten here\n")
	r := s.start()
	loaded := func(n int) func() bool {
		return func() bool { return strings.Count(r.log.String(), "inventory loaded") == n }
	}
	told := func() int { return strings.Count(r.log.String(), "after a restart\" key=listen") }
	for i, row := range []struct {
		listen string
		told   int
	}{{"there", 1}, {"there", 1}, {"here", 1}, {"there", 2}, {"elsewhere", 3}} {
		s.write("conf", "switch sw-1 one\nlisten "+row.listen+"\n")
		s.until(r, loaded(i+1), "loaded")
		require.Equal(t, row.told, told(), r.log)
	}
}

// Other Alertmanagers hear of what is open, and those of before hear no more.
func TestAlertmanagersChange(t *testing.T) {
	s := newSite(t)
	heard := make([]chan string, 2)
	urls := make([]string, 2)
	for i := range heard {
		heard[i] = make(chan string, 1000)
		server := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
			var alerts []struct{ Labels map[string]string }
			if json.NewDecoder(r.Body).Decode(&alerts) == nil {
				for _, a := range alerts {
					heard[i] <- a.Labels["alertname"] + " " + a.Labels["switch"]
				}
			}
		}))
		t.Cleanup(server.Close)
		urls[i] = server.URL
	}
	hears := func(i int) func() bool {
		return func() bool {
			select {
			case what := <-heard[i]:
				return what == "SwitchNotAnswering sw-1"
			default:
				return false
			}
		}
	}
	s.write("conf", "switch sw-1 dead\ntell "+urls[0]+"\n")
	r := s.start()
	s.until(r, hears(0), "the first")
	s.write("conf", "switch sw-1 dead\ntell "+urls[1]+"\n")
	s.until(r, hears(1), "the second")
	s.until(r, r.has("/metrics", `toneout_notifications_total{alertmanager="`+urls[1]+`",outcome="sent"}`), "the metric")
	for len(heard[0]) > 0 {
		<-heard[0]
	}
	for range 5 {
		s.until(r, hears(1), "the second, again")
	}
	require.Empty(t, heard[0])
}

func TestOneLine(t *testing.T) {
	for _, row := range []struct{ errors, want string }{
		{"a", "a"}, {"a\nb\nc", "a; b; c"}, {"a\nb\nc\nd\ne", "a; b; c (and 2 more)"},
	} {
		require.Equal(t, row.want, oneLine(errors.New(row.errors)))
	}
}
