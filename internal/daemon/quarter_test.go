package daemon

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	_ "time/tzdata" // the zone's rules, wherever this runs
	"toneout/internal/corpus"
	"toneout/internal/fault"
	"toneout/internal/journal"
	"toneout/internal/metrics"
	"toneout/internal/notify"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"
	"toneout/internal/standards"
	"toneout/internal/web"
)

// A quarter of a small plant on a clock of its own: simulated switches are read every
// ten minutes without a network, and all else is the daemon's own: tracker, journal
// in a file, history in a folder, checkpoint, API. Every figure that the API gives is
// worked out a second time from the simulator's counters and from what was planted,
// by code that shares nothing with what is tested.
const (
	quarterEvery = 10 * time.Minute
	quarterDays  = 91
)

// quarterBegins is a Sunday; the clock of the site's zone is put forward on 29 March.
var quarterBegins = time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC)

// on is a moment of the quarter.
func on(month time.Month, day, hour int) time.Time {
	return time.Date(2026, month, day, hour, 0, 0, 0, time.UTC)
}

// seen is the simulator's own record of a run's port at one poll.
type seen struct {
	at              time.Time
	frames, damaged uint64 // received since the start, good and damaged
	octets          uint64 // received and sent, of good frames
	mbps            int
	light           []float64 // received and sent, dBm, as last told
	told            bool      // the switch answered
	first           bool      // after a start of the daemon
}

// quarter is the play.
type quarter struct {
	t      *testing.T
	zone   *time.Location
	campus *sim.Campus
	cables map[string]*sim.Cable
	ask    map[string]corpus.Asker
	now    atomic.Int64
	folder string
	setup  Setup

	owner      *owner
	exposition *metrics.Exposition
	handler    http.Handler
	stop       func()
	first      bool

	truth map[string][]seen      // by run
	shown map[string][]time.Time // when the daemon first listed a fault, by run and kind
	stand map[string]bool        // which it lists
}

func newQuarter(t *testing.T) *quarter {
	zone, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	q := &quarter{t: t, zone: zone, cables: map[string]*sim.Cable{}, ask: map[string]corpus.Asker{}, folder: t.TempDir(), truth: map[string][]seen{}, shown: map[string][]time.Time{}}
	q.campus = sim.NewCampus(11, quarterBegins)
	q.campus.Step = quarterEvery
	for i, name := range []string{"acc-1", "acc-2"} {
		sw := q.campus.AddSwitch(sim.SwitchPlan{Name: name, Space: name + "-TR", Copper: 8, Fibre: 1, Optic: "10GBASE-SR", First: 1 + 100*i, Up: 40 * 24 * time.Hour})
		q.ask[name] = corpus.Readings(q.campus, quarterBegins, sw, time.Hour)
	}
	for i, id := range []string{"A1", "A2", "A3", "A4", "A5", "A6"} {
		q.lay(id, "acc-1", i)
	}
	for i, id := range []string{"B1", "B2", "B3"} {
		q.lay(id, "acc-2", i)
	}
	ports := [2][]*sim.Port{q.campus.Switch("acc-1").Ports(), q.campus.Switch("acc-2").Ports()}
	q.cables["F1"] = q.campus.Connect(sim.Cable{ID: "F1", Media: sim.Fibre, Kind: "OM4", LengthM: 60, A: ports[0][8], B: ports[1][8], Path: sim.Path{Connectors: 2}})
	far := q.cables["B2"]
	far.A.Fixed, far.Device.Fixed = 100, 100
	q.setup = Setup{Plant: q.inventory("Harrow"), PollEvery: quarterEvery, SlowEvery: time.Hour, FalseAlarmsPerWeek: 1, RepairProof: 24 * time.Hour}
	for _, sw := range q.campus.Switches() {
		q.setup.Switches = append(q.setup.Switches, Switch{Target: snmp.Target{Name: sw.Name}, Space: sw.Space})
	}
	q.set(quarterBegins)
	q.start()
	return q
}

func (q *quarter) lay(id, sw string, port int) {
	q.cables[id] = q.campus.Connect(sim.Plug(id, q.campus.Switch(sw).Ports()[port], "workstation"))
}

// inventory is the record, with A3's installer as told.
func (q *quarter) inventory(installer string) *plant.Plant {
	rows := plant.Plant{Site: "Ferrow Quay College",
		Spaces:   []*plant.Space{{ID: "acc-1-TR"}, {ID: "acc-2-TR"}},
		Panels:   []*plant.Panel{{ID: "P1"}, {ID: "P2", Space: "acc-1-TR"}}, // a run counts in the space of its switch
		Pathways: []*plant.Pathway{{ID: "tray-1"}, {ID: "tray-2"}, {ID: "tray-3"}, {ID: "tray-4"}, {ID: "riser"}},
		Cables:   []*plant.Cable{{ID: "OM4", Media: standards.Fibre, Fibre: "OM4"}, {ID: "6A", Media: standards.Copper, Category: "6A"}, {ID: "6", Media: standards.Copper, Category: "6"}},
	}
	for id, cable := range q.cables {
		n := id[1] - '0'
		run := &plant.Run{ID: id, Switch: cable.A.Switch().Name, Port: cable.A.Name, Cable: "6A", LengthM: port.Some(40.0), DesignSpeed: standards.Gbps,
			Panel: "P" + string('1'+id[0]-'A'), Installer: "Quayside", Pathways: []string{fmt.Sprint("tray-", 1+n%2)}}
		if id == "A3" {
			run.Installer, run.Pathways = installer, []string{"tray-1", "riser"}
		}
		if id[0] == 'B' { // whose faults are not known so exactly
			run.Cable, run.Installer, run.Pathways = "6", "Heron", []string{"tray-3"}
		}
		if id == "B2" {
			run.DesignSpeed = 100 * standards.Mbps
		}
		if id == "F1" {
			run = &plant.Run{ID: id, Switch: "acc-1", Port: cable.A.Name, FarSwitch: "acc-2", FarPort: cable.B.Name, Cable: "OM4", LengthM: port.Some(60.0),
				Connectors: port.Some(2), Strands: "2", DesignSpeed: 10 * standards.Gbps, Pathways: []string{"tray-4"}}
		}
		rows.Runs = append(rows.Runs, run)
	}
	return plant.New(rows)
}

func (q *quarter) time() time.Time  { return time.Unix(0, q.now.Load()).UTC() }
func (q *quarter) set(at time.Time) { q.now.Store(at.UnixNano()) }

// start runs what a daemon runs, but for the loops that wait for the clock.
func (q *quarter) start() {
	log := slog.New(slog.NewTextHandler(io.Discard, nil))
	o := Options{Setup: q.setup, Log: log, Clock: Clock{Now: q.time}, Checkpoint: filepath.Join(q.folder, "checkpoint"),
		Journal: journal.Place{File: filepath.Join(q.folder, "journal.db")}, History: HistoryOptions{Directory: filepath.Join(q.folder, "history"), Keep: 400 * 24 * time.Hour}}
	q.exposition = metrics.New()
	numbers, err := openHistory(o, q.exposition)
	require.NoError(q.t, err)
	writer := openJournal(context.Background(), o, q.exposition.Journal)
	nobody, err := notify.New(notify.Options{Log: log, Now: q.time})
	require.NoError(q.t, err)
	w := newOwner(o, q.exposition, nobody, numbers, make(chan answer))
	writer.join(w)
	ctx, cancel := context.WithCancel(context.Background())
	recorded := make(chan struct{})
	go w.run(ctx)
	go func() { defer close(recorded); numbers.store.Run(w.ended) }()
	source := w.source()
	source.Now = q.time
	q.owner, q.handler, q.first = w, web.Handler(source), true
	q.stop = func() {
		cancel()
		<-recorded
		writer.shut()
		c := &checkpointer{path: o.Checkpoint, owner: w, clock: o.Clock, log: log, report: func(bool, time.Time) {}}
		c.save(func(do func(*fault.Tracker)) bool { do(w.tracker); return true })
	}
}

// poll asks both switches, and writes down what the simulator has of their runs.
func (q *quarter) poll(at time.Time) {
	for i, sw := range q.campus.Switches() {
		moment := at.Add(time.Duration(i) * time.Second)
		a := answer{name: sw.Name, at: moment}
		silent := sw.Name == "acc-2" && !at.Before(silentFrom) && at.Before(silentTo)
		a.poll, a.err = q.ask[sw.Name](moment)
		if silent {
			a.err = &snmp.Error{Switch: sw.Name, Class: snmp.NoAnswer, Err: errors.New("no answer")}
		}
		q.owner.answers <- a
		q.campus.Do(moment, func() {
			for id, cable := range q.cables {
				if cable.A.Switch() != sw {
					continue
				}
				c, mbps := cable.A.Counters(), 0
				mbps, _ = cable.A.Link()
				now := seen{moment, c.In[0] + c.In[1] + c.In[2] + c.FCS + c.Alignment, c.FCS + c.Alignment, c.InOctets + c.OutOctets, mbps, nil, !silent, q.first}
				if n := len(q.truth[id]); n > 0 {
					now.light = q.truth[id][n-1].light
				}
				if senses, fitted := cable.A.Senses(); fitted && a.poll.Details != nil && a.poll.Details.At.Equal(moment) { // optics are asked by the hour
					now.light = []float64{senses.ReceivedDBm[0], senses.SentDBm[0]}
				}
				q.truth[id] = append(q.truth[id], now)
			}
		})
	}
	q.first = false
}

// write lets the journal's writer do what it does when it is woken and by its own
// clock, which here would be too slow. No event waits for a checkpoint: this daemon is
// never killed.
func (q *quarter) write() {
	w := q.owner.journal
	require.True(q.t, q.owner.lend(context.Background(), func(*fault.Tracker) {}))
	before := q.stand
	q.stand = map[string]bool{}
	for _, f := range q.owner.current.Load().Faults {
		key := f.Run + " " + string(f.Kind)
		if q.stand[key] = true; !before[key] {
			q.shown[key] = append(q.shown[key], q.time())
		}
	}
	w.room.release(w.room.mark())
	w.work(context.Background())
	w.look(q.owner.current.Load())
	w.work(context.Background())
	require.NoError(q.t, w.failing)
}

// settle waits until the history has all of before.
func (q *quarter) settle() {
	require.Eventually(q.t, q.owner.history.store.Idle, time.Minute, time.Millisecond)
}

func (q *quarter) get(path string, into any) {
	q.settle()
	answer := httptest.NewRecorder()
	q.handler.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, path, nil))
	require.Equal(q.t, http.StatusOK, answer.Code, "%s: %s", path, answer.Body)
	require.NoError(q.t, json.Unmarshal(answer.Body.Bytes(), into), path)
}

func (q *quarter) post(path string, body any) {
	text, err := json.Marshal(body)
	require.NoError(q.t, err)
	answer, posted := httptest.NewRecorder(), make(chan struct{})
	go func() {
		defer close(posted)
		q.handler.ServeHTTP(answer, httptest.NewRequest(http.MethodPost, path, bytes.NewReader(text)))
	}()
	select {
	case r := <-q.owner.journal.requests:
		r.done <- q.owner.journal.answer(context.Background(), r.event)
		<-posted
	case <-posted:
	}
	require.Equal(q.t, http.StatusCreated, answer.Code, "%s: %s", path, answer.Body)
	q.write()
}

// happen does what is due after the poll of a time.
func (q *quarter) happen(at time.Time) {
	q.campus.Do(at.Add(time.Second), func() {
		local := at.In(q.zone)
		for _, c := range q.cables { // a working day's traffic is eight times a night's
			busy := 0.25
			if local.Weekday() > time.Sunday && local.Weekday() < time.Saturday && local.Hour() >= 8 && local.Hour() < 18 {
				busy = 2
			}
			c.AtoB.Bits, c.BtoA.Bits = 10e6*busy, 8e6*busy
		}
		for _, p := range openPairs {
			if at.Equal(p.from) {
				q.cables[p.run].Open = []sim.Pair{sim.Pair45}
			} else if at.Equal(p.to) {
				q.cables[p.run].Open = nil
			}
		}
		q.cables["A2"].BERToA, q.cables["B1"].BERToA = 0, 0
		for _, b := range badTerminations {
			if !at.Before(b.from) && at.Before(b.to) {
				q.cables["A2"].BERToA = badTermination
			}
		}
		q.cables["F1"].Path.LossToA = 0
		if !at.Before(dustFrom) && at.Before(dustTo) {
			q.cables["F1"].Path.LossToA = 0.8 // no fault yet
		}
		if machine(local) {
			q.cables["B1"].BERToA = machineRuns
		}
		for _, moment := range []time.Time{halfFrom, halfTo} { // a setting has its effect on the next link
			if far := q.cables["B2"]; at.Equal(moment.Add(-quarterEvery)) {
				far.Unplug()
			} else if at.Equal(moment) {
				far.Replug()
				far.Device.Half = moment == halfFrom
			}
		}
	})
	for _, b := range badTerminations {
		if at.Equal(b.repaired) || at.Equal(b.failed) {
			q.post("/api/repairs", map[string]string{"run": "A2", "cause": "poor-termination", "by": "Ines"})
		}
	}
	for _, w := range plannedWorks {
		if at.Equal(w.told) {
			q.post("/api/planned-work", map[string]any{"on": map[string]string{"run": w.run}, "from": w.from, "to": w.to, "by": "Ines", "why": "new tiles"})
		}
	}
	if at.Equal(otherInventory) {
		q.setup.Plant = q.inventory("Brill")
		q.owner.changes <- change{at: at, setup: &q.setup, notifier: q.owner.notifier}
		q.write()
	}
}

var plannedWorks = []struct {
	run            string
	told, from, to time.Time
}{
	{"A4", on(4, 14, 10), on(4, 14, 13), on(4, 14, 17)},
	{"A5", on(4, 21, 10), on(4, 22, 7), on(4, 22, 12)},
}

// play lets the quarter pass.
func (q *quarter) play(days int) {
	for at, n := quarterBegins, 0; at.Before(quarterBegins.AddDate(0, 0, days)); at, n = at.Add(quarterEvery), n+1 {
		q.set(at)
		if at.Equal(restartFrom) {
			q.settle()
			q.stop()
		}
		if !at.Before(restartFrom) && at.Before(restartTo) {
			q.happen(at)
			continue
		}
		if at.Equal(restartTo) {
			q.start()
		}
		q.poll(at)
		q.write()
		q.happen(at)
		if n%500 == 0 {
			q.settle()
		}
	}
}

// TestAQuarter plays it, and asks.
func TestAQuarter(t *testing.T) {
	q := newQuarter(t)
	q.play(quarterDays)
	t.Cleanup(func() { q.stop() })
	for name, check := range map[string]func(*testing.T, *quarter){
		"lives": livesAgree, "figures": figuresAgree, "hours": hoursAgree, "load": loadAgrees, "changes": changesAgree, "timeline": timelineAgrees, "numbers": numbersAgree,
	} {
		t.Run(name, func(t *testing.T) { check(t, q) })
	}
}
