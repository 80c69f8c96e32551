package daemon

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"math"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/crypto/bcrypt"

	"toneout/internal/fault"
	"toneout/internal/journal"
	"toneout/internal/journal/postgrestest"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/web"
)

// onHurriedTime runs a daemon on real time over the slow switch, by a clock that is
// ahead of it by so much and 1,000 times as fast.
func onHurriedTime(t *testing.T, place journal.Place, checkpoint string, clock Clock) *running {
	o := watchingOne(checkpoint, clock)
	o.Journal, o.JournalEvery = place, 20*time.Millisecond
	return start(t, o)
}

func (r *running) client() *web.Client {
	c, err := web.NewClient(r.url, web.Options{})
	require.NoError(r.t, err)
	return c
}

func (r *running) works() (works []web.PlannedWork) {
	status, body := r.get("/api/planned-work")
	require.Equal(r.t, http.StatusOK, status, body)
	require.NoError(r.t, json.Unmarshal([]byte(body), &works))
	return works
}

// Planned work is in force at once, over a restart without a checkpoint too, and
// what came of it is told at its end.
func TestPlannedWorkFromThePostToItsEnd(t *testing.T) {
	place := journal.Place{File: filepath.Join(t.TempDir(), "journal.db")}
	clock := hurried()
	d := onHurriedTime(t, place, "", clock)
	d.eventually(func() bool { f := d.faults(); return len(f) == 1 && f[0].Alarm }, "the fault")
	now := clock.Now()
	w := web.PlannedWork{On: map[string]string{"run": "R"}, From: now.Add(-time.Minute), To: now.Add(700 * time.Hour), By: "ada", Why: "new outlet"}
	require.NoError(t, d.client().Plan(t.Context(), &w))
	f := d.faults()[0]
	require.True(t, f.Planned)
	require.False(t, f.Alarm)
	_, metrics := d.get("/metrics")
	require.Contains(t, metrics, `toneout_run_fault{about="run",alarm="false"`)
	require.NoError(t, d.stop())

	d = onHurriedTime(t, place, "", clock)
	d.eventually(func() bool { return len(d.faults()) == 1 }, "the fault, anew")
	require.True(t, d.faults()[0].Planned)
	require.NotContains(t, d.log.String(), "fault opened")

	w.To = clock.Now().Add(-time.Second) // it is over
	require.NoError(t, d.client().Plan(t.Context(), &w))
	d.eventually(func() bool { works := d.works(); return len(works) == 1 && works[0].Ended != nil }, "its end")
	require.Equal(t, w.ID, d.works()[0].ID)
	d.eventually(func() bool { return d.faults()[0].Alarm }, "somebody is told again")
	require.Contains(t, d.log.String(), "planned work ended")
	require.NoError(t, d.stop())
	var ended web.PlannedWork
	events := journalled(t, place, journal.Query{Kinds: []journal.Kind{journal.WorkEnded}})
	require.NoError(t, json.Unmarshal(events[0].Data, &ended))
	require.Len(t, ended.Ended.Worse, 1, "the fault was not open yet when the second daemon saw the work begin")
}

// A repair holds the fault as of then, and by is the user where there are users.
func TestARepairIsJournalledWithItsFault(t *testing.T) {
	directory := t.TempDir()
	hash, err := bcrypt.GenerateFromPassword([]byte("lighthouse"), bcrypt.MinCost)
	require.NoError(t, err)
	write(t, directory, "web.yml", "basic_auth_users: {ada: "+string(hash)+"}\n")
	write(t, directory, "password", "lighthouse\n")
	place := journal.Place{File: filepath.Join(directory, "journal.db")}
	o := watchingOne("", hurried())
	o.Journal, o.WebConfig = place, filepath.Join(directory, "web.yml")
	d := start(t, o)
	c, err := web.NewClient(d.url, web.Options{User: "ada", PasswordFile: filepath.Join(directory, "password")})
	require.NoError(t, err)
	d.eventually(func() bool { v, err := c.Run(t.Context(), "R"); return err == nil && len(v.Faults) == 1 }, "the fault")
	r := web.Repair{Run: "R", Cause: "open-pair", By: "somebody else", Note: "reterminated"}
	require.NoError(t, c.Repaired(t.Context(), &r))
	require.Equal(t, "ada", r.By)
	answer, err := http.Post(d.url+"/api/repairs", "application/json", strings.NewReader(`{"run": "R", "cause": "open-pair", "by": "eve"}`))
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusUnauthorized, answer.StatusCode)
	require.NoError(t, d.stop())
	events := journalled(t, place, journal.Query{Kinds: []journal.Kind{journal.RepairMade}})
	require.Len(t, events, 1)
	require.Equal(t, "ada", events[0].By)
	var data repairData
	require.NoError(t, json.Unmarshal(events[0].Data, &data))
	require.Equal(t, "open-pair", data.Cause)
	require.Len(t, data.Records, 1)
	require.NotEmpty(t, data.Records[0].Evidence)
}

// What nobody could write is not said to be recorded.
func TestNothingIsAcknowledgedThatIsNotOnTheDisk(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "data")
	require.NoError(t, os.WriteFile(folder, nil, 0o600))
	d := onHurriedTime(t, journal.Place{File: filepath.Join(folder, "journal.db")}, "", hurried())
	n := web.Repair{Run: "R", Cause: "bad-cord", By: "ada"}
	require.ErrorContains(t, d.client().Repaired(t.Context(), &n), "not recorded")
	status, _ := d.get("/api/repairs")
	require.Equal(t, http.StatusServiceUnavailable, status)
	require.NoError(t, os.Remove(folder))
	d.eventually(func() bool { return d.client().Repaired(t.Context(), &n) == nil }, "it is recorded once it can be")
	_, body := d.get("/api/repairs")
	require.Contains(t, body, n.ID)
}

// Daemons that share a journal know of each other's planned work.
func TestWorkPlannedThroughAnotherDaemon(t *testing.T) {
	place := journal.Place{Postgres: postgrestest.Start(t).Database("journal")}
	one, two := &journalWriter{place: place, by: "one", clock: systemClock}, &journalWriter{place: place, by: "two", clock: systemClock}
	for _, w := range []*journalWriter{one, two} {
		require.NoError(t, w.reopen(t.Context()))
		t.Cleanup(w.shut)
	}
	p := web.PlannedWork{ID: "w", On: map[string]string{"run": "R"}, From: time.Now(), To: time.Now().Add(time.Hour), By: "ada"}
	e, err := journal.Event{ID: "e", Kind: journal.WorkPlanned, At: time.Now()}.With(p)
	require.NoError(t, err)
	require.NoError(t, one.append(t.Context(), e))
	e, err = proofEvent("one", &fault.RepairEnded{Repair: fault.Repair{ID: "r", Run: "R", Cause: fault.BadCord}, Medium: "copper", Proven: true, At: time.Now()})
	require.NoError(t, err)
	require.NoError(t, one.append(t.Context(), e))
	two.othersToo()
	require.False(t, two.recalled.IsZero(), "not so soon")
	two.recalled = time.Now().Add(-recallEvery)
	two.planned = true
	two.othersToo()
	two.owner = &owner{ended: make(chan struct{})} // whose loop has ended
	two.owner.current.Store(&fault.Snapshot{})
	close(two.owner.ended)
	require.NoError(t, two.catchUp(t.Context()))
	require.Len(t, two.works, 1)
	require.Contains(t, two.proven, "r")
	require.False(t, two.planned, "the tracker is to be told")
}

func TestTheLatestAnnouncementHolds(t *testing.T) {
	events := []journal.Event{}
	for n, why := range []string{"first", "second", "other"} {
		p := web.PlannedWork{ID: fmt.Sprint("w", n/2), Why: why, Ended: nil}
		e, err := journal.Event{ID: why, Kind: journal.WorkPlanned}.With(p)
		require.NoError(t, err)
		events = append(events, e)
	}
	w := &journalWriter{}
	works := w.worksOf(events)
	require.Len(t, works, 2)
	require.Equal(t, "second", works[0].Why)

	for _, name := range []string{"sw-1", "sw-2"} { // by two daemons
		e, err := outcomeEvent("toneout@"+name, "", &fault.WorkEnded{Work: fault.PlannedWork{ID: "w0"}, Silent: []string{name}}, begin)
		require.NoError(t, err)
		events = append(events, e)
	}
	require.NotEqual(t, events[3].ID, events[4].ID)
	works = w.worksOf(events)
	require.Equal(t, []string{"sw-1", "sw-2"}, works[0].Ended.Silent)
}

// A repair from the post to its proof, over a restart.
func TestARepairFromThePostToItsProof(t *testing.T) {
	dir := t.TempDir()
	place, clock := journal.Place{File: filepath.Join(dir, "journal.db")}, hurried()
	var mends atomic.Int64 // Unix nanoseconds
	mends.Store(math.MaxInt64)
	watch := func() *running {
		o := watchingOne(filepath.Join(dir, "toneout.checkpoint"), clock)
		o.Journal, o.JournalEvery, o.RepairProof = place, 20*time.Millisecond, 20*time.Minute
		o.Open = openAs(pollFunc(func(ctx context.Context) (port.Poll, error) {
			return mended{fellBack{clock.Now}, time.Unix(0, mends.Load())}.Poll(ctx)
		}))
		return start(t, o)
	}
	d := watch()
	d.eventually(func() bool { f := d.faults(); return len(f) == 1 && f[0].Alarm }, "the fault")
	r := web.Repair{Run: "R", Cause: "open-pair", By: "ada"}
	mends.Store(0)
	require.NoError(t, d.client().Repaired(t.Context(), &r))
	f := d.faults()[0]
	require.False(t, f.Alarm)
	require.Contains(t, f.Summary, "waits for its proof")
	_, body := d.get("/api/runs/R")
	require.Contains(t, body, `"proof":{"repair":"`+r.ID)
	require.NoError(t, d.stop())
	d = watch()
	d.eventually(func() bool { return strings.Contains(d.log.String(), "repair proven") }, "the proof")
	d.eventually(func() bool { return len(d.faults()) == 0 }, "the fault closes")
	d.eventually(func() bool {
		_, body := d.get("/api/repairs?run=R")
		return strings.Contains(body, `"outcome":"proven"`)
	}, "its outcome")
	require.NoError(t, d.stop())
	events := journalled(t, place, journal.Query{Run: "R"})
	var kinds []journal.Kind
	for _, e := range events {
		if e.Kind != journal.FaultChanged {
			kinds = append(kinds, e.Kind)
		}
	}
	require.ElementsMatch(t, []journal.Kind{journal.FaultOpened, journal.RepairMade, journal.RepairProven, journal.FaultClosed}, kinds)
}

// A journal whose planned work cannot be read is not taken for one without any: what
// the tracker has by its checkpoint holds. And one event that cannot be read holds
// nothing up.
func TestPlannedWorkIsNotForgottenWhereItCannotBeRead(t *testing.T) {
	place := journal.Place{File: filepath.Join(t.TempDir(), "journal.db")}
	journalled(t, place, journal.Query{})
	db, err := openSQLite(place.File)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	log := &logBuffer{}
	w := &journalWriter{place: place, by: "toneout", clock: systemClock, room: newWaitingRoom(), log: slog.New(slog.NewTextHandler(log, nil)), report: func(bool, int, int) {}}
	t.Cleanup(w.shut)
	_, err = db.Exec(`INSERT INTO event (id, kind, at, made_by, run, switch, port, fault, fault_kind, since, data)
		VALUES ('odd', 'planned-work', x'00', '', '', '', '', '', '', '', 'no JSON')`)
	require.NoError(t, err)
	w.work(t.Context()) // there is no owner: whoever told the tracker would fail
	require.Error(t, w.failing)
	require.Nil(t, w.open.Load())
	require.Nil(t, w.works)

	_, err = db.Exec("UPDATE event SET at = '2026-03-02T08:00:00.000000Z'")
	require.NoError(t, err)
	for range 2 {
		require.NoError(t, w.reopen(t.Context()))
		w.shut()
	}
	require.NotNil(t, w.works)
	require.Empty(t, w.works)
	require.Equal(t, 1, strings.Count(log.String(), "event=odd"), log)
}

// What is on the disk is recorded, though the tracker cannot be told of it yet.
func TestWhatIsOnTheDiskIsAcknowledged(t *testing.T) {
	place := journal.Place{File: filepath.Join(t.TempDir(), "journal.db")}
	w := &journalWriter{place: place, by: "toneout", clock: systemClock, room: newWaitingRoom(), log: slog.New(slog.DiscardHandler), report: func(bool, int, int) {}}
	require.NoError(t, w.reopen(t.Context()))
	t.Cleanup(w.shut)
	w.owner = &owner{ended: make(chan struct{})}
	w.owner.current.Store(&fault.Snapshot{})
	close(w.owner.ended)
	db, err := openSQLite(place.File)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	_, err = db.Exec(`INSERT INTO event (id, kind, at, made_by, run, switch, port, fault, fault_kind, since, data)
		VALUES ('odd', 'planned-work', x'00', '', '', '', '', '', '', '', '{}')`) // no time: recall fails
	require.NoError(t, err)
	e, err := journal.Event{ID: "e", Kind: journal.WorkPlanned, At: begin}.With(web.PlannedWork{ID: "w", To: time.Now().Add(time.Hour)})
	require.NoError(t, err)
	require.NoError(t, w.answer(t.Context(), e))
	require.Error(t, w.failing, "it is noted")
	_, err = db.Exec("UPDATE event SET at = '2026-03-02T08:00:00.000000Z' WHERE id = 'odd'")
	require.NoError(t, err)
	w.work(t.Context())
	require.NoError(t, w.failing)
	require.Len(t, w.works, 1, "tried again")
}

func TestNothingIsLentByALoopThatEnded(t *testing.T) {
	o := &owner{ended: make(chan struct{})}
	close(o.ended)
	require.False(t, o.lend(t.Context(), func(*fault.Tracker) {}))
}

// What came of work outlasts a word that is put right later, and not its going on.
func TestAnOutcomeOfWorkThatIsAnnouncedOtherwise(t *testing.T) {
	announced := func(id string, to time.Time) journal.Event {
		e, err := journal.Event{ID: id, Kind: journal.WorkPlanned}.With(web.PlannedWork{ID: "w", To: to, Why: id})
		require.NoError(t, err)
		return e
	}
	outcome, err := outcomeEvent("toneout@quay", "", &fault.WorkEnded{Work: fault.PlannedWork{ID: "w", To: begin}, Silent: []string{"sw-1"}}, begin.Add(time.Minute))
	require.NoError(t, err)
	w := &journalWriter{}
	works := w.worksOf([]journal.Event{announced("first", begin), outcome, announced("put right", begin)})
	require.Equal(t, "put right", works[0].Why)
	require.NotNil(t, works[0].Ended)
	works = w.worksOf([]journal.Event{announced("first", begin), outcome, announced("goes on", begin.Add(time.Hour))})
	require.Nil(t, works[0].Ended)
}

// The tracker hears of work that is over: what began after it may come of it.
func TestWorkThatIsOverIsRecalledForTwoMonths(t *testing.T) {
	w := &journalWriter{place: journal.Place{File: filepath.Join(t.TempDir(), "journal.db")}, clock: systemClock}
	require.NoError(t, w.reopen(t.Context()))
	defer w.shut()
	now := time.Now().Round(0)
	for id, to := range map[string]time.Time{"now": now.Add(time.Hour), "early": now.Add(-time.Minute), "long ago": now.Add(-61 * 24 * time.Hour)} {
		e, err := journal.Event{ID: id, Kind: journal.WorkPlanned, At: now}.With(web.PlannedWork{ID: id, On: map[string]string{"run": "R"}, From: to.Add(-time.Hour), To: to})
		require.NoError(t, err)
		require.NoError(t, w.append(t.Context(), e))
	}
	require.NoError(t, w.recall(t.Context(), w.open.Load()))
	var ids []string
	for _, p := range w.works {
		ids = append(ids, p.ID)
	}
	require.ElementsMatch(t, []string{"now", "early"}, ids)
}

// Two daemons on one host that share a journal both tell what came of work.
func TestTwoDaemonsOfAHostTellOfWork(t *testing.T) {
	ids := map[string]bool{}
	for range 2 {
		listener, err := net.Listen("tcp", "127.0.0.1:0")
		require.NoError(t, err)
		defer listener.Close()
		w := openJournal(t.Context(), Options{
			Listener: listener, Journal: journal.Place{File: filepath.Join(t.TempDir(), "journal.db")}, Clock: systemClock, Log: slog.New(slog.DiscardHandler),
		}, func(bool, int, int) {})
		require.NoError(t, err)
		defer w.shut()
		w.tell(&fault.Snapshot{Ended: []fault.WorkEnded{{Work: fault.PlannedWork{ID: "w", To: begin}}}, At: begin})
		ids[w.room.first(1)[0].event.ID] = true
	}
	require.Len(t, ids, 2)
}

// What repairs confirmed is counted by the journal, whichever daemon proved it: once where
// the tracker or its checkpoint has it too, and beside what the configuration has. One that
// failed at another port is none, and what a checkpoint of before counted without ids is in
// the journal.
func TestConfirmedRepairsAreCountedByTheJournal(t *testing.T) {
	w := &journalWriter{place: journal.Place{File: filepath.Join(t.TempDir(), "journal.db")}, clock: systemClock, room: newWaitingRoom()}
	require.NoError(t, w.reopen(t.Context()))
	defer func() { w.shut() }()
	ended := func(by, id string, cause fault.Cause, medium string, proven bool) {
		e, err := proofEvent(by, &fault.RepairEnded{Repair: fault.Repair{ID: id, Run: "R", Cause: cause}, Medium: medium, Proven: proven, At: begin})
		require.NoError(t, err)
		require.NoError(t, w.append(t.Context(), e))
	}
	ended("one", "a", fault.BadCord, "copper", true)
	ended("two", "a", fault.BadCord, "copper", true) // of the other end
	ended("two", "b", fault.BadCord, "copper", true)
	ended("two", "c", fault.DirtyConnector, "fibre", true)
	ended("one", "d", fault.LoosePlug, "copper", true)
	ended("two", "d", fault.LoosePlug, "copper", false)
	w.shut()

	settings := fault.Settings{PollEvery: time.Minute, Repaired: fault.Repaired{"copper": {fault.BadCord: 5}}}
	before := fault.NewTracker(plant.New(plant.Plant{}), settings)
	before.Confirmed(fault.ConfirmedRepair{ID: "a", Medium: "copper", Cause: fault.BadCord}, fault.ConfirmedRepair{ID: "e", Medium: "copper", Cause: fault.OpenPair}) // "e" is not written yet
	require.Equal(t, 6, before.Repaired()["copper"][fault.BadCord])
	var file bytes.Buffer
	r, err := fault.NewRecorder(&file, begin)
	require.NoError(t, err)
	_, err = r.Begin(before)
	require.NoError(t, err)
	require.NoError(t, r.Close())
	c, err := fault.ReadCheckpoint(&file)
	require.NoError(t, err)
	after := fault.NewTracker(plant.New(plant.Plant{}), settings)
	after.Restore(c, begin)
	require.NoError(t, w.reopen(t.Context()))
	o := &owner{tracker: after}
	w.join(o)
	want := fault.Repaired{"copper": {fault.BadCord: 7, fault.OpenPair: 1}, "fibre": {fault.DirtyConnector: 1}}
	require.Equal(t, want, after.Repaired())
	w.teach(after)
	require.Equal(t, want, after.Repaired(), "nothing is counted twice")

	alone := fault.NewTracker(plant.New(plant.Plant{}), settings) // whose checkpoint was lost
	w.teach(alone)
	require.Equal(t, fault.Repaired{"copper": {fault.BadCord: 7}, "fibre": {fault.DirtyConnector: 1}}, alone.Repaired())
}
