package history

import (
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/prometheus/prometheus/promql"
	"github.com/prometheus/prometheus/tsdb"
	"github.com/prometheus/prometheus/tsdb/chunkenc"
	"github.com/prometheus/prometheus/tsdb/fileutil"
	"github.com/prometheus/prometheus/util/compression"
)

// Options say where a Store keeps its numbers, and for how long.
type Options struct {
	Directory string        // of its own; made where there is none
	Keep      time.Duration // samples older than this go away, by whole blocks
	KeepBytes int64         // the oldest go away where more than this is used; 0 for no such limit
	// Lookback is for how long a series without a new sample keeps its value;
	// 5 minutes where 0. A marker of its end ends it at once.
	Lookback time.Duration
	Block    time.Duration // that the shortest blocks last; 2 hours at least
	Log      *slog.Logger
	Now      func() time.Time
	// Report is told each change of Status, from several goroutines.
	Report func(Status)

	room       int64         // bytes left to others on the disk; leastRoom where 0, and whatever comes where below
	retryEvery time.Duration // how often a storage that failed is tried again; 30 s where 0
}

// Status is how the recording goes.
type Status struct {
	Failing string // why nothing is recorded; "" where it is
	Dropped uint64 // polls of which nothing or not all was recorded
}

// Store keeps numbers in a folder.
type Store struct {
	options Options
	engine  *promql.Engine
	queue   chan *Batch
	waiting atomic.Int64 // samples in the queue
	spare   sync.Pool    // of batches

	owed []*Series // of who offers: gone with a batch that found no place

	mu sync.RWMutex // guards db against being closed under a query
	db *tsdb.DB     // nil while there is none

	status  status
	writer  writer
	release func() error // of the folder; nil while it is not ours
}

// leastRoom is what is left free on the disk: others write there too (journal,
// checkpoint), and a storage whose last write is torn loses what follows it.
const leastRoom = 64 << 20

// Open takes a folder for this process. It fails where another process has it;
// what else is amiss with the folder is Run's to say.
func Open(o Options) (*Store, error) {
	if o.Lookback == 0 {
		o.Lookback = 5 * time.Minute
	}
	if o.room == 0 {
		o.room = leastRoom
	}
	if o.retryEvery == 0 {
		o.retryEvery = 30 * time.Second
	}
	if o.Report == nil {
		o.Report = func(Status) {}
	}
	s := &Store{options: o, queue: make(chan *Batch, mostBatches), engine: newEngine(o.Lookback, mostQuerySamples)}
	s.spare.New = func() any { return new(Batch) }
	s.status.store = s
	if err := s.claim(); errors.Is(err, syscall.EAGAIN) {
		return nil, fmt.Errorf("history in %s: another process has this folder (toneout or Prometheus), and only one may write it: stop that one, or name another folder", o.Directory)
	}
	return s, nil
}

// claim takes the folder, so that no other process writes it.
func (s *Store) claim() error {
	if s.release != nil {
		return nil
	}
	lock, _, err := fileutil.Flock(filepath.Join(s.options.Directory, "lock"))
	if err == nil {
		s.release = lock.Release
	}
	return err
}

// Block times: two hours as Prometheus has it, and at most a month or a tenth of
// what is kept, since only whole blocks go away.
const (
	leastBlock = 2 * time.Hour
	mostBlock  = 31 * 24 * time.Hour
	// A block's file takes all its room before it is written; where files are
	// small, a compaction needs less of a disk.
	blockFile = 64 << 20
	logFile   = 32 << 20 // less than leastRoom, see torn
)

// open opens the storage, and reads back what was not yet in a block.
func (s *Store) open() (*tsdb.DB, error) {
	if err := s.claim(); err != nil {
		return nil, err
	}
	o := tsdb.DefaultOptions()
	o.NoLockfile = true // claim has it
	o.RetentionDuration = s.options.Keep.Milliseconds()
	o.MaxBytes = s.options.KeepBytes
	o.MinBlockDuration = max(leastBlock, s.options.Block).Milliseconds()
	o.MaxBlockDuration = min(mostBlock, max(leastBlock, s.options.Block, s.options.Keep/10)).Milliseconds()
	o.MaxBlockChunkSegmentSize, o.WALSegmentSize = blockFile, logFile
	o.FloatChunkEncoding = chunkenc.EncXOR2
	o.WALCompression = compression.Snappy
	o.EnableMemorySnapshotOnShutdown = true
	said := &storageLog{to: s.options.Log, opening: true}
	db, err := tsdb.Open(s.options.Directory, slog.New(said), nil, o, nil)
	said.opened(err == nil)
	return db, err
}
