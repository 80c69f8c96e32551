package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/journal/postgrestest"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// What a journal does, on either sort of database; each test has a new one.
func TestJournal(t *testing.T) {
	tests := map[string]func(*testing.T, Place){
		"events come back as they were":         eventsComeBack,
		"the same event twice is one":           twiceIsOne,
		"queries":                               queries,
		"which faults are open":                 openFaults,
		"the first told of each switch":         firstTold,
		"a journal outlasts its program":        outlasts,
		"a newer version is refused":            newerIsRefused,
		"many bring it to this version at once": manyMigrate,
		"append is all or nothing":              allOrNothing,
	}
	t.Run("sqlite", func(t *testing.T) {
		for name, test := range tests {
			t.Run(name, func(t *testing.T) { test(t, Place{File: filepath.Join(t.TempDir(), "data", "journal.db")}) })
		}
	})
	t.Run("postgres", func(t *testing.T) {
		server := postgrestest.Start(t)
		for name, test := range tests {
			t.Run(name, func(t *testing.T) { test(t, Place{Postgres: server.Database(strings.ReplaceAll(name, " ", "_"))}) })
		}
		t.Run("the server goes and comes back", func(t *testing.T) { serverGoes(t, server) })
	})
}

func open(t *testing.T, place Place) *Journal {
	t.Helper()
	j, err := Open(t.Context(), place)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, j.Close()) })
	return j
}

func event(n int) Event {
	return Event{ID: fmt.Sprint("e", n), Kind: NoteMade, At: noon.Add(time.Duration(n) * time.Minute), By: "ada", Run: fmt.Sprint("R", n%2), Data: json.RawMessage(`{"n":1}`)}
}

func ids(events []Event) []string {
	out := []string{}
	for _, e := range events {
		out = append(out, e.ID)
	}
	return out
}

func eventsComeBack(t *testing.T, place Place) {
	j := open(t, place)
	whole := Event{
		ID: "x", Kind: FaultOpened, At: noon.Add(1500 * time.Microsecond), By: "toneout@quay", Run: "N2-P1-17", Switch: "acc-n2-1", Port: "1/17 ü",
		Fault: "f", FaultKind: fault.FrameErrors, Since: noon.Add(-time.Hour), Data: json.RawMessage(`{"a":"b \" ' $1"}`),
	}
	bare := Event{ID: "y", Kind: InventoryChanged, At: noon}
	require.NoError(t, j.Append(t.Context(), whole, bare))
	bare.Data = json.RawMessage("{}")
	got, err := j.Events(t.Context(), Query{})
	require.NoError(t, err)
	require.Equal(t, []Event{whole, bare}, got)
	require.NoError(t, j.Append(t.Context(), Event{ID: "z", By: "a\x00b\xff"}), "PostgreSQL's texts are UTF-8 without NUL (its documentation, 8.3)")
}

func twiceIsOne(t *testing.T, place Place) {
	j := open(t, place)
	require.NoError(t, j.Append(t.Context(), event(1), event(2)))
	again := event(1)
	again.By = "bob"
	require.NoError(t, j.Append(t.Context(), again, event(3), event(3)))
	got, err := j.Events(t.Context(), Query{})
	require.NoError(t, err)
	require.Equal(t, []string{"e1", "e2", "e3"}, ids(got))
	require.Equal(t, "ada", got[0].By, "what was written stays")
}

func queries(t *testing.T, place Place) {
	j := open(t, place)
	for n := range 6 {
		require.NoError(t, j.Append(t.Context(), event(n)))
	}
	require.NoError(t, j.Append(t.Context(), Event{ID: "r", Kind: RepairMade, At: noon, Run: "R1", Switch: "sw", Port: "1"}))
	for name, row := range map[string]struct {
		query Query
		want  []string
	}{
		"all":          {Query{}, []string{"e0", "e1", "e2", "e3", "e4", "e5", "r"}},
		"kind":         {Query{Kinds: []Kind{RepairMade}}, []string{"r"}},
		"kinds":        {Query{Kinds: []Kind{RepairMade, NoteMade}, Last: 2}, []string{"e5", "r"}},
		"run":          {Query{Run: "R1"}, []string{"e1", "e3", "e5", "r"}},
		"port":         {Query{Switch: "sw", Port: "1"}, []string{"r"}},
		"from":         {Query{From: noon.Add(4 * time.Minute)}, []string{"e4", "e5"}},
		"up to":        {Query{From: noon.Add(time.Minute), To: noon.Add(3 * time.Minute)}, []string{"e1", "e2"}},
		"the last two": {Query{Last: 2, Run: "R0"}, []string{"e2", "e4"}},
		"none":         {Query{Run: "R9"}, []string{}},
	} {
		got, err := j.Events(t.Context(), row.query)
		require.NoError(t, err)
		require.Equal(t, row.want, ids(got), name)
		if row.query.Last == 0 {
			each := []Event{}
			require.NoError(t, j.Each(t.Context(), row.query, func(e *Event) { each = append(each, *e) }))
			require.Equal(t, got, each, name)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	n := 0
	require.ErrorIs(t, j.Each(ctx, Query{}, func(*Event) { n++; cancel() }), context.Canceled)
	require.Equal(t, 1, n, "nobody waits for the rest")
}

func openFaults(t *testing.T, place Place) {
	j := open(t, place)
	about := func(id, fault string, kind Kind) Event { return Event{ID: id, Fault: fault, Kind: kind, At: noon} }
	require.NoError(t, j.Append(t.Context(),
		about("1", "closed", FaultOpened), about("2", "closed", FaultClosed),
		about("3", "open", FaultOpened),
		about("4", "changed", FaultOpened), about("5", "changed", FaultChanged), about("6", "changed", FaultTaken),
		about("7", "again", FaultOpened), about("8", "again", FaultClosed), about("9", "again", FaultChanged),
		about("a", "", NoteMade)))
	got, err := j.Open(t.Context())
	require.NoError(t, err)
	require.Equal(t, []string{"3", "5", "9"}, ids(got))
}

func firstTold(t *testing.T, place Place) {
	j := open(t, place)
	about := func(id, name string, kind Kind, minute int) Event {
		e := Event{ID: id, Switch: name, Kind: kind, At: noon.Add(time.Duration(minute) * time.Minute)}
		if kind != WorkPlanned {
			e.Fault = id
		}
		return e
	}
	require.NoError(t, j.Append(t.Context(), about("1", "a", WorkPlanned, 0), about("2", "a", FaultOpened, 5), about("3", "b", FaultChanged, 6),
		about("4", "a", FaultClosed, 3), about("5", "b", FaultTaken, 2)))
	got, err := j.FirstTold(t.Context())
	require.NoError(t, err)
	require.Equal(t, map[string]time.Time{"a": noon.Add(3 * time.Minute), "b": noon.Add(6 * time.Minute)}, got)
}

func outlasts(t *testing.T, place Place) {
	j, err := Open(t.Context(), place)
	require.NoError(t, err)
	require.NoError(t, j.Append(t.Context(), event(1)))
	require.NoError(t, j.Close())
	got, err := open(t, place).Events(t.Context(), Query{})
	require.NoError(t, err)
	require.Equal(t, []string{"e1"}, ids(got))
}

func newerIsRefused(t *testing.T, place Place) {
	j, err := Open(t.Context(), place)
	require.NoError(t, err)
	_, err = j.db.Exec("INSERT INTO journal_version (version) VALUES ($1)", len(migrations)+1)
	require.NoError(t, err)
	require.NoError(t, j.Close())
	_, err = Open(t.Context(), place)
	require.ErrorIs(t, err, ErrNewer)
	require.Contains(t, err.Error(), place.String())
	require.NotContains(t, err.Error(), "\n")
}

// Each version is brought to this one, and several daemons that start at once
// hinder each other nowhere.
func manyMigrate(t *testing.T, place Place) {
	var group sync.WaitGroup
	errs := make(chan error, 8)
	for range cap(errs) {
		group.Go(func() {
			j, err := Open(context.Background(), place)
			if err == nil {
				err = j.Close()
			}
			errs <- err
		})
	}
	group.Wait()
	for range cap(errs) {
		require.NoError(t, <-errs)
	}
	var versions []int
	rows, err := open(t, place).db.Query("SELECT version FROM journal_version ORDER BY version")
	require.NoError(t, err)
	for rows.Next() {
		var v int
		require.NoError(t, rows.Scan(&v))
		versions = append(versions, v)
	}
	require.NoError(t, rows.Close())
	require.Len(t, versions, len(migrations), "each once")
}

// All of one Append or nothing: here the second event breaks a rule of the table.
func allOrNothing(t *testing.T, place Place) {
	j := open(t, place)
	_, err := j.db.Exec("CREATE UNIQUE INDEX breaks ON event (made_by)")
	require.NoError(t, err)
	require.Error(t, j.Append(t.Context(), Event{ID: "1", By: "a"}, Event{ID: "2", By: "a"}))
	got, err := j.Events(t.Context(), Query{})
	require.NoError(t, err)
	require.Empty(t, got)
}

func TestAFileIsItsOwnersAlone(t *testing.T) {
	file := filepath.Join(t.TempDir(), "data", "journal.db")
	require.NoError(t, open(t, Place{File: file}).Append(t.Context(), event(1)))
	for name, mode := range map[string]os.FileMode{filepath.Dir(file): 0o700 | os.ModeDir, file: 0o600, file + "-wal": 0o600, file + "-shm": 0o600} {
		info, err := os.Stat(name)
		require.NoError(t, err)
		require.Equal(t, mode, info.Mode(), name)
	}
}

// https://sqlite.org/pragma.html#pragma_synchronous: 2 is FULL, and "FULL ...
// syncs the WAL file after each transaction commit" in WAL mode.
func TestSQLiteSyncsEachCommit(t *testing.T) {
	j := open(t, Place{File: filepath.Join(t.TempDir(), "journal.db")})
	for range mostConnections { // each connection of the pool
		conn, err := j.db.Conn(t.Context())
		require.NoError(t, err)
		defer func(c *sql.Conn) { require.NoError(t, c.Close()) }(conn)
		for pragma, want := range map[string]string{"synchronous": "2", "journal_mode": "wal"} {
			var got string
			require.NoError(t, conn.QueryRowContext(t.Context(), "PRAGMA "+pragma).Scan(&got))
			require.Equal(t, want, got, pragma)
		}
	}
}
