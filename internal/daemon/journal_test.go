package daemon

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	_ "github.com/ncruces/go-sqlite3/driver" // to write a version that does not exist
	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/journal"
	"toneout/internal/journal/postgrestest"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/snmp"
)

// mended is fellBack until a moment, and as it ought to be from then on.
type mended struct {
	fellBack
	from time.Time
}

func (m mended) Poll(ctx context.Context) (port.Poll, error) {
	p, err := m.fellBack.Poll(ctx)
	if !m.now().Before(m.from) {
		p.Ports[0].HighSpeed, p.Ports[0].MAU = port.Some(uint32(1000)), 30
	}
	return p, err
}

// journalled are a journal's events.
func journalled(t *testing.T, place journal.Place, q journal.Query) []journal.Event {
	j, err := journal.Open(t.Context(), place)
	require.NoError(t, err)
	events, err := j.Events(t.Context(), q)
	require.NoError(t, err)
	require.NoError(t, j.Close())
	return events
}

func kindsOf(events []journal.Event) (kinds []journal.Kind) {
	for _, e := range events {
		kinds = append(kinds, e.Kind)
	}
	return kinds
}

// wholeStory gives opening and closing of the one fault that events tell of.
func wholeStory(t *testing.T, events []journal.Event) (opened, closed journal.Event) {
	require.GreaterOrEqual(t, len(events), 2)
	opened, closed = events[0], events[len(events)-1]
	require.Equal(t, journal.FaultOpened, opened.Kind)
	require.Equal(t, journal.FaultClosed, closed.Kind)
	for _, e := range events {
		require.Equal(t, opened.Fault, e.Fault)
	}
	for _, e := range events[1 : len(events)-1] {
		require.Equal(t, journal.FaultChanged, e.Kind)
	}
	return opened, closed
}

// withJournal runs a daemon that watches one switch from a moment on for so long.
func withJournal(t *testing.T, checkpoint string, place journal.Place, from, mends time.Time, length time.Duration) *running {
	loops := 1
	if checkpoint != "" {
		loops++
	}
	clock := newStepped(from, length, loops)
	o := watchingOne(checkpoint, clock.clock())
	o.Journal, o.JournalEvery = place, 20*time.Millisecond
	o.Open = openAs(mended{fellBack{clock.now}, mends})
	d := start(t, o)
	clock.wait(t, patience)
	return d
}

func TestAFaultIsInTheJournalFromItsOpeningToItsClosing(t *testing.T) {
	dir := t.TempDir()
	place := journal.Place{File: filepath.Join(dir, "journal.db")}
	d := withJournal(t, "", place, begin, begin.Add(10*time.Minute), time.Hour)
	_, metrics := d.get("/metrics")
	require.Contains(t, metrics, "toneout_journal_failing 0")
	require.NoError(t, d.stop())
	events := journalled(t, place, journal.Query{Run: "R"})
	opened, closed := wholeStory(t, events)
	require.Equal(t, opened.Fault, closed.Fault)
	require.True(t, strings.HasPrefix(opened.By, "toneout"), opened.By)
	require.WithinDuration(t, begin.Add(3*time.Minute), opened.At, time.Minute)
	require.WithinDuration(t, begin.Add(20*time.Minute), closed.At, 2*time.Minute)
	var r journal.FaultRecord
	require.NoError(t, json.Unmarshal(opened.Data, &r))
	require.NotEmpty(t, r.Evidence)
	require.NotEmpty(t, r.Causes)
	require.Len(t, r.Readings, 1)
	require.Equal(t, int64(100_000_000), r.Readings[0].Speed)
	require.NoError(t, json.Unmarshal(closed.Data, &r))
	require.Equal(t, int64(1_000_000_000), r.Readings[0].Speed, "as of then")
}

// A fault that is still open after a restart is the same one, and where its
// opening never reached the journal it does then.
func TestOpeningsOverARestart(t *testing.T) {
	never := begin.Add(1000 * time.Hour)
	for name, first := range map[string]string{"written before": "journal.db", "never written": "no/journal.db"} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			require.NoError(t, os.WriteFile(filepath.Join(dir, "no"), nil, 0o600)) // where no folder can be made
			place := journal.Place{File: filepath.Join(dir, "journal.db")}
			checkpoint := filepath.Join(dir, "toneout.checkpoint")
			d := withJournal(t, checkpoint, journal.Place{File: filepath.Join(dir, first)}, begin, never, 10*time.Minute)
			require.NoError(t, d.stop())
			for n := range 2 {
				d = withJournal(t, checkpoint, place, begin.Add(time.Duration(n+1)*time.Hour), never, 10*time.Minute)
				require.NoError(t, d.stop())
			}
			events := journalled(t, place, journal.Query{Run: "R"})
			require.Equal(t, []journal.Kind{journal.FaultOpened}, kindsOf(events))
			require.WithinDuration(t, begin, events[0].Since, 5*time.Minute)
		})
	}
}

// What opened and closed while the journal was away is written by the daemon after the
// one that was killed, once, however often that is killed too.
func TestEventsThatWaitOutlastAKill(t *testing.T) {
	dir := t.TempDir()
	checkpoint, copied := filepath.Join(dir, "toneout.checkpoint"), filepath.Join(dir, "killed.checkpoint")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "no"), nil, 0o600)) // where no folder can be made
	away, place := journal.Place{File: filepath.Join(dir, "no", "journal.db")}, journal.Place{File: filepath.Join(dir, "journal.db")}
	d := withJournal(t, checkpoint, away, begin, begin.Add(10*time.Minute), time.Hour)
	var data []byte
	d.eventually(func() bool { // as one finds it that is killed now
		var err error
		data, err = os.ReadFile(checkpoint)
		c, damaged := fault.ReadCheckpoint(bytes.NewReader(data))
		return err == nil && damaged == nil && bytes.Contains(c.Beside, []byte(`"closed"`))
	}, "the checkpoint keeps the closing")
	require.NoError(t, d.stop())
	require.Contains(t, d.log.String(), "the checkpoint keeps them")
	for range 2 {
		require.NoError(t, os.WriteFile(copied, data, 0o600))
		d = withJournal(t, copied, place, begin.Add(2*time.Hour), begin, 10*time.Minute)
		require.NoError(t, d.stop())
		opened, closed := wholeStory(t, journalled(t, place, journal.Query{}))
		require.WithinDuration(t, begin.Add(3*time.Minute), opened.At, time.Minute)
		require.WithinDuration(t, begin.Add(20*time.Minute), closed.At, 2*time.Minute)
	}
}

// What closed while nobody watched is closed once both its ends are read.
func TestAFaultThatClosedWhileNobodyWatched(t *testing.T) {
	dir := t.TempDir()
	place := journal.Place{File: filepath.Join(dir, "journal.db")}
	d := withJournal(t, "", place, begin, begin.Add(time.Hour), 10*time.Minute)
	require.NoError(t, d.stop())
	d = withJournal(t, "", place, begin.Add(2*time.Hour), begin.Add(time.Hour), 10*time.Minute)
	d.eventually(func() bool { return len(journalled(t, place, journal.Query{Run: "R"})) == 2 }, "its closing")
	require.NoError(t, d.stop())
	require.Equal(t, []journal.Kind{journal.FaultOpened, journal.FaultClosed}, kindsOf(journalled(t, place, journal.Query{Run: "R"})))
}

// A journal that takes nothing is told once, and so is that it does again; what
// happened meanwhile is in it then, and polls go on.
func TestAJournalThatFailsAndComesBack(t *testing.T) {
	for name, row := range map[string]struct {
		says       string
		begin, end func(t *testing.T, disk string)
	}{
		"no folder": {"not a directory",
			func(t *testing.T, disk string) { require.NoError(t, os.WriteFile(disk+"/data", nil, 0o600)) },
			func(t *testing.T, disk string) { require.NoError(t, os.Remove(disk+"/data")) }},
		"a full disk": {"is that disk full",
			func(t *testing.T, disk string) {
				require.ErrorIs(t, os.WriteFile(disk+"/filler", make([]byte, 1<<20), 0o600), syscall.ENOSPC)
			},
			func(t *testing.T, disk string) { require.NoError(t, os.Remove(disk+"/filler")) }},
		"a disk that may only be read": {"let toneout write into that folder",
			func(t *testing.T, disk string) {
				require.NoError(t, syscall.Mount("", disk, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
			},
			func(t *testing.T, disk string) {
				require.NoError(t, syscall.Mount("", disk, "", syscall.MS_REMOUNT, ""))
			}},
	} {
		t.Run(name, func(t *testing.T) {
			disk := smallDisk(t, "512k")
			place := journal.Place{File: filepath.Join(disk, "data", "journal.db")}
			row.begin(t, disk)
			d := withJournal(t, "", place, begin, begin.Add(10*time.Minute), time.Hour)
			d.eventually(func() bool {
				_, metrics := d.get("/metrics")
				return strings.Contains(metrics, "toneout_journal_failing 1\n") && !strings.Contains(metrics, "toneout_journal_waiting_events 0\n")
			}, "opening and closing wait")
			row.end(t, disk)
			d.eventually(func() bool {
				_, metrics := d.get("/metrics")
				return strings.Contains(metrics, "toneout_journal_failing 0\n") && strings.Contains(metrics, "toneout_journal_waiting_events 0\n")
			}, "they are written")
			require.NoError(t, d.stop())
			require.Equal(t, 1, strings.Count(d.log.String(), "journal not written"), d.log)
			require.Contains(t, d.log.String(), row.says)
			require.Equal(t, 1, strings.Count(d.log.String(), "journal written again"), d.log)
			wholeStory(t, journalled(t, place, journal.Query{}))
		})
	}
}

func TestPostgreSQLThatIsAway(t *testing.T) {
	server := postgrestest.Start(t)
	place := journal.Place{Postgres: server.Database("journal")}
	server.Stop()
	d := withJournal(t, "", place, begin, begin.Add(10*time.Minute), time.Hour)
	require.Contains(t, d.log.String(), "is PostgreSQL running")
	server.Run()
	d.eventually(func() bool {
		_, metrics := d.get("/metrics")
		return strings.Contains(metrics, "toneout_journal_failing 0\n")
	}, "it is written again")
	require.NoError(t, d.stop())
	require.Equal(t, 1, strings.Count(d.log.String(), "journal not written"), d.log)
	wholeStory(t, journalled(t, place, journal.Query{}))
}

// A server that takes connections and never says a word holds up neither polls nor
// the stop for long.
func TestPostgreSQLThatNeverAnswers(t *testing.T) {
	t.Parallel()
	silent, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer silent.Close()
	go func() {
		for { // what is accepted stays open until the test ends
			c, err := silent.Accept()
			if err != nil {
				return
			}
			defer c.Close()
		}
	}()
	o := watchingOne("", systemClock)
	o.PollEvery, o.JournalEvery = 100*time.Millisecond, 20*time.Millisecond
	o.Journal = journal.Place{Postgres: "postgres://toneout@" + silent.Addr().String() + "/journal?sslmode=disable"}
	d := start(t, o)
	d.polls("sw-1", "answered", 30)
	d.eventually(func() bool {
		_, metrics := d.get("/metrics")
		return strings.Contains(metrics, "toneout_journal_failing 1\n") && !strings.Contains(metrics, "toneout_journal_waiting_events 0\n")
	}, "what opened waits")
	began := time.Now()
	require.NoError(t, d.stop())
	require.Less(t, time.Since(began), 3*farewell+patience/2)
	require.Equal(t, 1, strings.Count(d.log.String(), "journal not written"), d.log)
}

// A journal that a newer program wrote is left as it is and told of in a line; watching
// goes on, and what waits is written once the newer program runs, here in its stead.
func TestAJournalOfANewerVersionIsLeftAlone(t *testing.T) {
	dir := t.TempDir()
	checkpoint, place := filepath.Join(dir, "toneout.checkpoint"), journal.Place{File: filepath.Join(dir, "journal.db")}
	journalled(t, place, journal.Query{})
	db, err := openSQLite(place.File)
	require.NoError(t, err)
	defer db.Close()
	_, err = db.Exec("INSERT INTO journal_version (version) VALUES (999)")
	require.NoError(t, err)
	d := withJournal(t, checkpoint, place, begin, begin.Add(10*time.Minute), time.Hour)
	d.eventually(func() bool {
		_, metrics := d.get("/metrics")
		return strings.Contains(metrics, "toneout_journal_failing 1\n") && !strings.Contains(metrics, "toneout_journal_waiting_events 0\n")
	}, "opening and closing wait")
	require.NoError(t, d.stop())
	require.Equal(t, 1, strings.Count(d.log.String(), "a newer toneout wrote it"), d.log)
	var events int
	require.NoError(t, db.QueryRow("SELECT count(*) FROM event").Scan(&events))
	require.Zero(t, events)
	_, err = db.Exec("DELETE FROM journal_version WHERE version = 999")
	require.NoError(t, err)
	require.NoError(t, withJournal(t, checkpoint, place, begin.Add(2*time.Hour), begin, 10*time.Minute).stop())
	wholeStory(t, journalled(t, place, journal.Query{}))
}

// What waits is bounded, and what finds no room is counted.
func TestTheWaitingRoomIsBounded(t *testing.T) {
	r := newWaitingRoom()
	r.add(make([]waiting, mostWaiting-1)...)
	r.add(make([]waiting, 3)...)
	waits, lost := r.count()
	require.Equal(t, []int{mostWaiting, 2}, []int{waits, lost})
	r.done(len(r.first(10)))
	r.add(waiting{})
	waits, lost = r.count()
	require.Equal(t, []int{mostWaiting - 9, 2}, []int{waits, lost})
}

// Where there are checkpoints, an event waits for one that was begun after it, and
// one that fails holds it up no longer.
func TestEventsWaitForACheckpoint(t *testing.T) {
	r := newWaitingRoom()
	r.held = true
	asked := 0
	r.whenHeld(func() { asked++ })
	require.Zero(t, asked)
	r.add(make([]waiting, 3)...)
	require.Equal(t, 1, asked)
	require.Empty(t, r.first(10))
	mark := r.mark()
	r.add(make([]waiting, 2)...)
	r.release(mark)
	require.Len(t, r.first(10), 3, "of before that checkpoint")
	r.done(2)
	require.Len(t, r.first(10), 1)
	r.whenHeld(func() { asked++ })
	require.Equal(t, 3, asked, "some wait already")
	r.releaseAll(time.Millisecond)
	require.Len(t, r.first(10), 3)

	var log logBuffer
	c := &checkpointer{
		path: filepath.Join(t.TempDir(), "toneout.checkpoint"), owner: ownerOf(t, &log), clock: systemClock, room: newWaitingRoom(),
		log: slog.New(slog.NewTextHandler(&log, nil)), report: func(bool, time.Time) {},
	}
	c.room.held = true
	c.room.add(waiting{})
	c.save(func(do func(*fault.Tracker)) bool {
		c.room.add(waiting{}) // which this one may lack
		do(c.owner.tracker)
		return true
	})
	require.Len(t, c.room.first(10), 1)
	c.path = filepath.Join(c.path, "no folder")
	c.save(func(func(*fault.Tracker)) bool { return false })
	waits, _ := c.room.count()
	require.Len(t, c.room.first(10), waits)
}

// A checkpoint keeps of faults what it knows itself, and of what can be told twice all.
func TestWhatACheckpointKeepsOfTheWaiting(t *testing.T) {
	at := func(after time.Duration) waiting {
		s := &fault.Snapshot{At: begin.Add(after), Plant: nothing, Events: []fault.Event{{What: fault.Opened, Fault: aFault(begin.Add(after))}}}
		return waiting{fault: happeningsOf(s)[0]}
	}
	proof, err := proofEvent("toneout", &fault.RepairEnded{Repair: fault.Repair{ID: "7", Run: "R"}, At: begin.Add(2 * time.Hour), Proven: true})
	require.NoError(t, err)
	before := newWaitingRoom()
	before.add(at(0), at(time.Hour))
	mark := before.mark()
	before.add(waiting{event: proof}, at(3*time.Hour))
	data, err := before.keep(mark)
	require.NoError(t, err)

	after := &journalWriter{room: newWaitingRoom(), ledger: newLedger("toneout", true)}
	require.NoError(t, after.room.restore(data))
	written := after.ledger.take(at(0).fault) // before the kill
	after.make(after.room.first(10))
	require.Equal(t, 3, after.made)
	require.Equal(t, []journal.Kind{journal.FaultClosed, journal.FaultOpened, journal.RepairProven}, kindsOf(after.pending), "not what was written, nor what came after the mark")
	require.Equal(t, written[0].Fault, after.pending[0].Fault)
	require.Equal(t, proof.Data, after.pending[2].Data)
	require.True(t, proof.At.Equal(after.pending[2].At))

	require.ErrorContains(t, after.room.restore([]byte("{")), "events that the checkpoint keeps")
	data, err = newWaitingRoom().keep(0)
	require.NoError(t, err)
	require.Empty(t, data)
}

func openAs(p Poller) func(snmp.Target) (Poller, error) {
	return func(snmp.Target) (Poller, error) { return p, nil }
}

func openSQLite(file string) (*sql.DB, error) { return sql.Open("sqlite3", "file:"+file) }

var nothing = plant.New(plant.Plant{})
