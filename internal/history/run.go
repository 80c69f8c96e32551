package history

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"time"

	"github.com/prometheus/prometheus/model/value"
	"github.com/prometheus/prometheus/storage"
)

// The queue is bounded by polls and by samples: a thousand switches of 48
// ports polled twice, some 50 MB.
const (
	mostBatches = 4096
	mostSamples = 2 << 20
)

// Batch gives a batch to fill. With Offer, it is for one goroutine.
func (s *Store) Batch(at time.Time) *Batch {
	b := s.spare.Get().(*Batch)
	b.begin(at)
	b.gone = append(b.gone, s.owed...)
	s.owed = s.owed[:0]
	return b
}

// Offer hands a batch over to Run, and never waits: where the queue is full
// the batch is dropped, and counted.
func (s *Store) Offer(b *Batch) {
	n := b.size()
	if s.waiting.Add(n) <= mostSamples {
		select {
		case s.queue <- b:
			return
		default:
		}
	}
	s.waiting.Add(-n)
	s.owed = append(s.owed, b.gone...)
	s.spare.Put(b)
	s.status.overflowed()
}

// Idle tells whether all that was offered is written, or lost.
func (s *Store) Idle() bool { return s.waiting.Load() == 0 }

// writer is what Run's goroutine alone knows.
type writer struct {
	generation uint      // how often the storage was opened
	broken     bool      // a write failed: the storage is opened anew before the next one
	tried      time.Time // when it was opened last, or that was tried
	why        error     // it is not open or is broken
	full       bool
	missed     []*Series // gone while nothing was recorded
}

// Run records what is offered. It ends when nobody offers any longer, once all
// is written.
func (s *Store) Run(ended <-chan struct{}) {
	s.reopen()
	for {
		select {
		case b := <-s.queue:
			s.take(b)
			continue
		case <-ended:
		}
		for len(s.queue) > 0 {
			s.take(<-s.queue)
		}
		s.finish()
		return
	}
}

// take records a batch, or notes why that can't be.
func (s *Store) take(b *Batch) {
	w := &s.writer
	defer s.waiting.Add(-b.size())
	err := s.ready()
	whole := true
	if err == nil {
		whole, err = s.append(b, w.missed)
	}
	if err == nil {
		w.missed = nil
	}
	if err != nil {
		w.missed = append(w.missed, b.gone...)
	}
	s.status.took(err, whole, len(s.queue) == 0)
	s.spare.Put(b)
}

// ready says what keeps a batch from being recorded now; it opens the storage
// anew where that is due.
func (s *Store) ready() error {
	w := &s.writer
	if w.full = s.free() < s.wanted(); w.full {
		return errFull
	}
	if (s.db == nil || w.broken) && s.options.Now().Sub(w.tried).Abs() >= s.options.retryEvery {
		s.reopen()
	}
	return w.why
}

// errFull is said of a disk, whatever the number of bytes.
var errFull = errors.New("the disk is full: what is left of it is kept for others; make room, or set keep_bytes under history")

// free is how many bytes others than root may still write; as many as there
// can be where that is not known, since opening then says why.
func (s *Store) free() int64 {
	var disk syscall.Statfs_t
	if syscall.Statfs(s.options.Directory, &disk) != nil {
		return math.MaxInt64
	}
	return int64(disk.Bavail) * disk.Bsize
}

// wanted is how many must be free to write. A disk that was full wants some
// more, so that the two don't alternate.
func (s *Store) wanted() int64 {
	if s.writer.full {
		return s.options.room + s.options.room/2
	}
	return s.options.room
}

// torn is how many bytes it may take to open the storage: where the end of its
// log is torn, the last file of it is written anew, and lost where that fails.
func (s *Store) torn() int64 {
	const others = 1 << 20
	files, _ := os.ReadDir(filepath.Join(s.options.Directory, "wal"))
	for _, f := range slices.Backward(files) {
		if info, err := f.Info(); err == nil && info.Mode().IsRegular() && info.Size() > 0 {
			return info.Size() + others
		}
	}
	return others
}

// reopen opens the storage, after it was closed where a write had failed: what
// was written after a torn record could not be read back. Without room it is
// left as it is.
func (s *Store) reopen() {
	w := &s.writer
	w.tried = s.options.Now()
	if s.free() < s.torn() {
		if w.why == nil {
			w.why = errFull
		}
		s.status.opened(w.why)
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.db != nil {
		_ = s.db.Close() // what it says is what broke it
		s.db = nil
	}
	db, err := s.open()
	w.why, w.broken = err, err != nil
	if err == nil {
		s.db = db
		w.generation++
	}
	s.status.opened(err)
}

// append writes a batch. Samples that the storage does not take for their time
// make it incomplete; an error is of all of them, or of the disk.
func (s *Store) append(b *Batch, missed []*Series) (whole bool, err error) {
	a := appending{s.db.Appender(context.Background()), s.writer.generation, 0, nil}
	for i := range b.samples {
		a.add(b.samples[i].series, b.at, b.samples[i].value)
	}
	taken := a.taken
	for _, gone := range slices.Concat(b.gone, missed) {
		if gone.last != 0 {
			a.add(gone, max(b.at, gone.last+1), staleness)
		}
	}
	if err := a.to.Commit(); err != nil {
		s.writer.broken, s.writer.why = true, err
		return false, err
	}
	if taken == 0 && len(b.samples) > 0 {
		return false, untimely(a.refused)
	}
	return a.refused == nil, nil
}

// staleness ends a series.
var staleness = math.Float64frombits(value.StaleNaN)

// appending is a batch on its way into the storage.
type appending struct {
	to         storage.Appender
	generation uint
	taken      int
	refused    error // the first
}

func (a *appending) add(s *Series, at int64, v float64) {
	if s.generation != a.generation {
		s.ref, s.generation = 0, a.generation
	}
	ref, err := a.to.Append(s.ref, s.labels, at, v)
	if err != nil {
		if a.refused == nil {
			a.refused = err
		}
		return
	}
	s.ref, s.last = ref, at
	a.taken++
}

// untimely says why no sample of a batch was taken.
func untimely(err error) error {
	for _, known := range []error{storage.ErrOutOfOrderSample, storage.ErrOutOfBounds, storage.ErrTooOldSample, storage.ErrDuplicateSampleForTimestamp} {
		if errors.Is(err, known) {
			return errClock
		}
	}
	return err
}

var errClock = errors.New("there are newer samples already: the clock was set back, and recording goes on when it has caught up")

// finish closes the storage, with a copy of what is in no block yet, so that
// the next start is quick, and gives the folder free.
func (s *Store) finish() {
	s.mu.Lock()
	defer s.mu.Unlock()
	var err error
	if s.db != nil {
		err = s.db.Close()
		s.db = nil
	}
	if s.release != nil {
		err = errors.Join(err, s.release())
		s.release = nil
	}
	if err != nil {
		s.options.Log.Error("history not closed as it should be: the next start takes longer", "folder", s.options.Directory, "error", err)
	}
}
