// Package journal keeps the events that must not be lost: faults that opened,
// changed and closed with their evidence and readings as of then, repairs,
// planned work, notes, who has taken a fault, changes of the inventory.
//
// It is a table in an SQLite file, or in PostgreSQL where several daemons share
// it. Events are appended and never edited: there is no statement here that
// changes or deletes one. An event has an id, so that writing it again, as after
// an answer that was lost, changes nothing. event.go says what an event is,
// faultrecord.go how a fault is written, schema.go how the table came about.
//
// What Append returned from is on the disk. SQLite keeps a write-ahead log with
// synchronous=FULL: each commit waits until the log is synced, so that a kill
// or a power cut at any moment loses no event of which Append told, and tears
// none. (With NORMAL, which many take with this log, a power cut loses the last
// commits.) PostgreSQL does so by its default, synchronous_commit=on.
package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/lib/pq"
	"github.com/ncruces/go-sqlite3"
	_ "github.com/ncruces/go-sqlite3/driver" // registers sqlite3
)

// Place is where a journal is kept: one of the two.
type Place struct {
	File     string // an SQLite file; its folder is made
	Postgres string // a connection string or URL of PostgreSQL, with the password in it
}

// String names the place without any secret.
func (p Place) String() string {
	if p.File != "" {
		return p.File
	}
	return "PostgreSQL"
}

// Journal is an open journal. It is safe for concurrent use.
type Journal struct {
	place Place
	db    *sql.DB
	file  os.FileInfo // as opened; nil for PostgreSQL
}

// Open opens a journal and brings its schema to this version. The error is
// ErrNewer where a newer program wrote it.
func Open(ctx context.Context, p Place) (*Journal, error) {
	j := &Journal{place: p}
	d := postgres
	var err error
	if p.File != "" {
		d = sqlite
		err = j.openFile()
	} else {
		err = j.openServer()
	}
	if err == nil {
		ctx = j.whole(ctx)
		err = whileLocked(ctx, func() error { return migrate(ctx, j.db, d) })
	}
	if err != nil {
		return nil, j.wrong("open", errors.Join(err, j.Close()))
	}
	return j, nil
}

// mostLocked is how long a journal that another one opens or closes is tried again.
const mostLocked = 5 * time.Second

// whileLocked does something again while SQLite says that the file is locked: who turns
// its log on, or closes it last, makes others fail at once, whatever the busy timeout.
func whileLocked(ctx context.Context, do func() error) (err error) {
	ctx, cancel := context.WithTimeout(ctx, mostLocked)
	defer cancel()
	for pause := time.Millisecond; ; pause *= 2 {
		if err = do(); !errors.Is(err, sqlite3.BUSY) {
			return err
		}
		select {
		case <-ctx.Done():
			return err
		case <-time.After(pause):
		}
	}
}

// openFile makes the file for its owner alone, and the log's index, which the driver
// would make for everybody; the log takes the file's mode.
func (j *Journal) openFile() error {
	path, err := filepath.Abs(j.place.File)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	for _, name := range []string{path + "-shm", path} {
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o600)
		if err != nil {
			return err
		}
		j.file, err = f.Stat()
		if err := errors.Join(err, f.Close()); err != nil {
			return err
		}
	}
	query := url.Values{"modeof": {path}, "_pragma": {"busy_timeout(5000)", "journal_mode(wal)", "synchronous(full)"}}
	name := url.URL{Scheme: "file", Path: path, RawQuery: query.Encode()}
	j.db, err = sql.Open("sqlite3", name.String())
	return err
}

// mostConnections is enough for a writer and some readers.
const mostConnections = 4

func (j *Journal) openServer() error {
	connector, err := pq.NewConnector(j.place.Postgres)
	if err != nil {
		return errors.New("its connection string cannot be read; wants such as postgres://user@host/database or host=... dbname=...") // pq's error may repeat it
	}
	connector.Dialer(dialer{mostSilent})
	j.db = sql.OpenDB(connector)
	j.db.SetMaxOpenConns(mostConnections)
	return nil
}

// Close closes the journal.
func (j *Journal) Close() error {
	if j.db == nil {
		return nil
	}
	return j.db.Close()
}

// Append writes events, all or none. Events whose id is there already change
// nothing. When it returns nil they are on the disk.
func (j *Journal) Append(ctx context.Context, events ...Event) error {
	if err := j.there(); err != nil {
		return j.wrong("write", err)
	}
	ctx = j.whole(ctx)
	tx, err := j.db.BeginTx(ctx, nil)
	if err != nil {
		return j.wrong("write", err)
	}
	defer func() { _ = tx.Rollback() }() // after a commit it does nothing
	for i := range events {
		e := &events[i]
		if _, err := tx.ExecContext(ctx, "INSERT INTO event (id, kind, at, made_by, run, switch, port, fault, fault_kind, since, data) "+
			"VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11) ON CONFLICT (id) DO NOTHING",
			e.ID, string(e.Kind), stamp(e.At), text(e.By), text(e.Run), text(e.Switch), text(e.Port), e.Fault, string(e.FaultKind), stamp(e.Since), data(e)); err != nil {
			return j.wrong("write", err)
		}
	}
	if err := tx.Commit(); err != nil {
		return j.wrong("write", err)
	}
	return nil
}

// whole lets what was begun on a file come to its end. Its waits are short anyway; and
// where the driver breaks off a BEGIN that has the lock by then, the pool keeps the
// connection, and with it the lock.
func (j *Journal) whole(ctx context.Context) context.Context {
	if j.file == nil {
		return ctx
	}
	return context.WithoutCancel(ctx)
}

// text is a text that PostgreSQL takes: UTF-8 without NUL.
func text(s string) string {
	return strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", "\uFFFD")
}

func data(e *Event) string {
	if len(e.Data) == 0 {
		return "{}"
	}
	return string(e.Data)
}

// there tells of a file that somebody moved, replaced or deleted: SQLite would go
// on writing to what no longer has a name.
func (j *Journal) there() error {
	if j.file == nil {
		return nil
	}
	now, err := os.Stat(j.place.File)
	if err == nil && !os.SameFile(now, j.file) {
		err = errors.New("another file took its place since it was opened")
	}
	return err
}

// wrong says what was tried on which journal, and what may help.
func (j *Journal) wrong(what string, err error) error {
	hint := ""
	switch said := err.Error(); {
	case errors.Is(err, ErrNewer):
	case strings.Contains(said, "file is not a database"), strings.Contains(said, "malformed"):
		hint = "; toneout leaves it as it is: put a copy of before in its place, or move it away and a new one is begun"
	case strings.Contains(said, "database or disk is full"), strings.Contains(said, "no space left"):
		hint = "; make room on that disk"
	case strings.Contains(said, "disk I/O error"):
		hint = "; is that disk full, or failing?"
	case strings.Contains(said, "read-only"), strings.Contains(said, "readonly"), strings.Contains(said, "permission denied"):
		hint = "; let toneout write into that folder"
	case j.place.File == "" && strings.Contains(said, "connect"):
		hint = "; is PostgreSQL running, and does its connection string name it?"
	}
	return fmt.Errorf("%s the journal %v: %w%s", what, j.place, err, hint)
}
