package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"toneout/internal/fault"
)

// checkpointEvery is how often what the tracker remembers is written down, and
// so the most of it that a sudden end loses. Events, which wait for one, call for
// it at once, but checkpoints take no more than a fifth of the time.
const (
	checkpointEvery = time.Minute
	checkpointsRest = 4 // times what the last one took
)

// restore gives a new tracker what the checkpoint holds, if there is a usable
// one, and returns what waited for the journal then. One that is not usable is kept aside and said to be so: the daemon then
// starts without memory, as it does at first.
func restore(t *fault.Tracker, path string, at time.Time, log *slog.Logger) (waited []byte) {
	c, err := readCheckpoint(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		aside := path + ".unusable"
		if moving := os.Rename(path, aside); moving != nil {
			err, aside = errors.Join(err, moving), "nothing"
		}
		log.Error("checkpoint not usable: starting without memory of faults, habits and identities", "file", path, "error", oneLine(err), "kept_as", aside)
		return nil
	}
	anew, why := t.Restore(c, at)
	log.Info("checkpoint read", "file", path, "written", c.At, "switches", c.Switches(), "ports", c.Ports())
	if anew > 0 {
		log.Warn("error tests or hours of errors begin anew: what the checkpoint holds of them cannot be used", "ports", anew, "error", why)
	}
	return c.Beside
}

func readCheckpoint(path string) (*fault.Checkpoint, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return fault.ReadCheckpoint(f)
}

// lend lets do have the tracker; false where it can't any longer.
type lend func(do func(*fault.Tracker)) bool

// errStopping ends a checkpoint that the daemon's end overtook: the last one
// follows.
var errStopping = errors.New("the daemon is stopping")

// checkpointer writes down what the tracker remembers.
type checkpointer struct {
	path    string
	owner   *owner
	clock   Clock
	log     *slog.Logger
	report  func(written bool, at time.Time)
	room    *waitingRoom // whose events wait for checkpoints; nil for none
	failing bool
	ended   time.Time // the last one
	took    time.Duration
}

// run writes every minute until ctx is done, and then once more when the owner
// has ended.
func (c *checkpointer) run(ctx context.Context) {
	c.note(os.MkdirAll(filepath.Dir(c.path), 0o700), time.Time{})
	borrow := func(do func(*fault.Tracker)) bool { return c.owner.lend(ctx, do) }
	for c.ended = c.clock.Now(); c.rest(ctx); {
		c.save(borrow)
	}
	<-c.owner.ended
	c.save(func(do func(*fault.Tracker)) bool { do(c.owner.tracker); return true })
}

// rest waits until the next checkpoint is due; false where ctx is done.
func (c *checkpointer) rest(ctx context.Context) bool {
	rest, wake := context.WithCancel(ctx)
	defer wake()
	if c.room != nil {
		c.room.whenHeld(wake)
	}
	if c.clock.Until(rest, c.ended.Add(checkpointEvery)) == nil {
		return true
	}
	return c.clock.Until(ctx, c.ended.Add(checkpointsRest*c.took)) == nil
}

// save writes a checkpoint and notes how that went. Either way it frees the
// events of before: one that cannot be written holds none up.
func (c *checkpointer) save(from lend) {
	at, mark := c.clock.Now(), 0
	if c.room != nil {
		mark = c.room.mark()
	}
	err := c.write(from, at, mark)
	c.ended = c.clock.Now()
	c.took = c.ended.Sub(at)
	if errors.Is(err, errStopping) {
		return
	}
	c.note(err, at)
	if c.room != nil {
		c.room.release(mark)
	}
}

// note tells when writing begins to fail and when it is over. A zero time is
// that of no checkpoint.
func (c *checkpointer) note(err error, at time.Time) {
	switch {
	case err != nil && !c.failing:
		c.log.Error("checkpoint not written: a restart would forget what came since the last one; watching goes on", "file", c.path, "error", err)
	case err == nil && c.failing && !at.IsZero():
		c.log.Info("checkpoint written again", "file", c.path)
	}
	c.failing = err != nil
	if c.failing || !at.IsZero() {
		c.report(!c.failing, at)
	}
}

// write replaces the file as a whole: a reader finds the one of before or this
// one, whenever the machine stops.
func (c *checkpointer) write(from lend, at time.Time, mark int) error {
	directory := filepath.Dir(c.path)
	if err := os.MkdirAll(directory, 0o700); err != nil {
		return err
	}
	fresh := c.path + ".new"
	f, err := os.OpenFile(fresh, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	err = errors.Join(record(f, from, at, func() ([]byte, error) { return c.room.keep(mark) }), f.Close())
	if err == nil {
		err = os.Rename(fresh, c.path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(fresh))
	}
	return syncDirectory(directory)
}

// record writes the tracker's memory to a file, and what is to be beside it, to
// the disk. The tracker is borrowed for one switch at a time.
func record(f *os.File, from lend, at time.Time, beside func() ([]byte, error)) error {
	r, err := fault.NewRecorder(f, at)
	if err != nil {
		return err
	}
	var names []string
	if !from(func(t *fault.Tracker) { names, err = r.Begin(t) }) {
		return errStopping
	}
	for i := 0; err == nil && i < len(names); i++ {
		if !from(func(t *fault.Tracker) { err = r.Switch(t, names[i]) }) {
			return errStopping
		}
		err = errors.Join(err, r.Flush())
	}
	if err != nil {
		return err
	}
	waiting, err := beside()
	if err = errors.Join(err, r.Beside(waiting)); err != nil {
		return err
	}
	if err := r.Close(); err != nil {
		return err
	}
	return f.Sync()
}

// syncDirectory makes a renaming last.
func syncDirectory(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("sync the folder: %w", err)
	}
	return errors.Join(d.Sync(), d.Close())
}
