package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
)

// migrations bring the schema from each version to the next. One that was
// released is never changed: a change is another one. {number} is the one thing
// that the databases write differently.
var migrations = []string{
	`CREATE TABLE event (
		number {number},         -- in the order of writing
		id TEXT NOT NULL UNIQUE, -- what makes it one
		kind TEXT NOT NULL,
		at TEXT NOT NULL,        -- UTC, RFC 3339 with microseconds
		made_by TEXT NOT NULL,
		run TEXT NOT NULL,
		switch TEXT NOT NULL,
		port TEXT NOT NULL,
		fault TEXT NOT NULL,     -- identity; empty where it is of none
		fault_kind TEXT NOT NULL,
		since TEXT NOT NULL,
		data TEXT NOT NULL       -- JSON, by kind
	);
	CREATE INDEX event_at ON event (at);
	CREATE INDEX event_kind ON event (kind, at);
	CREATE INDEX event_run ON event (run, at);
	CREATE INDEX event_fault ON event (fault, number)`,
}

// dialect is what SQLite and PostgreSQL do not have in common.
type dialect struct {
	number string // type of a column that numbers its rows
	known  string // counts the table of versions: 1 where it is there
	lock   string // lets one connection migrate at a time; "" where a transaction does
}

var (
	sqlite = dialect{
		number: "INTEGER PRIMARY KEY AUTOINCREMENT",
		known:  "SELECT COUNT(*) FROM sqlite_master WHERE name = 'journal_version'",
	}
	postgres = dialect{
		number: "BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY",
		known:  "SELECT COUNT(*) FROM pg_tables WHERE schemaname = current_schema() AND tablename = 'journal_version'",
		lock:   "SELECT pg_advisory_xact_lock(8021100)", // a number of our own
	}
)

// ErrNewer is that a journal was written by a newer toneout, which this one must
// not add to.
var ErrNewer = errors.New("a newer toneout wrote it")

// migrate brings a database to this program's version, in one transaction.
func migrate(ctx context.Context, db *sql.DB, d dialect) error {
	version, err := versionOf(ctx, db, d)
	if err != nil || version == len(migrations) {
		return err
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // after a commit it does nothing
	if d.lock != "" {
		if _, err := tx.ExecContext(ctx, d.lock); err != nil {
			return err
		}
	}
	if version, err = versionOf(ctx, tx, d); err != nil { // another daemon may have been first
		return err
	}
	if _, err := tx.ExecContext(ctx, "CREATE TABLE IF NOT EXISTS journal_version (version INTEGER NOT NULL)"); err != nil {
		return err
	}
	for i := version; i < len(migrations); i++ {
		if _, err := tx.ExecContext(ctx, strings.ReplaceAll(migrations[i], "{number}", d.number)); err != nil {
			return fmt.Errorf("bring its schema to version %d: %w", i+1, err)
		}
		if _, err := tx.ExecContext(ctx, "INSERT INTO journal_version (version) VALUES ($1)", i+1); err != nil {
			return err
		}
	}
	return tx.Commit()
}

// querier is a database or a transaction.
type querier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// versionOf is the version of a database's schema, 0 where it has none yet.
func versionOf(ctx context.Context, from querier, d dialect) (version int, err error) {
	var known int
	if err := from.QueryRowContext(ctx, d.known).Scan(&known); err != nil || known == 0 {
		return 0, err
	}
	if err := from.QueryRowContext(ctx, "SELECT COALESCE(MAX(version), 0) FROM journal_version").Scan(&version); err != nil {
		return 0, err
	}
	if version > len(migrations) {
		return version, fmt.Errorf("%w: its schema is version %d, and this one knows version %d; run the newer one, or name another journal", ErrNewer, version, len(migrations))
	}
	return version, nil
}
