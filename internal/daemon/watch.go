package daemon

import (
	"context"
	"maps"
	"os"
	"time"
)

// lookEvery is how often the files are looked at.
const lookEvery = 2 * time.Second

// lookAgain asks for a look at the files again and again until ctx is done.
func lookAgain(ctx context.Context, clock Clock, looks chan<- struct{}) {
	for clock.Until(ctx, clock.Now().Add(lookEvery)) == nil {
		select {
		case looks <- struct{}{}:
		case <-ctx.Done():
			return
		}
	}
}

// stamps are files as a look finds them, nil for one that cannot be looked at.
type stamps map[string]os.FileInfo

func look(files []string) stamps {
	s := make(stamps, len(files))
	for _, file := range files {
		s[file], _ = os.Stat(file)
	}
	return s
}

func (s stamps) equal(other stamps) bool { return maps.EqualFunc(s, other, unchanged) }

// unchanged tells whether a file looks the same. A file that took the place of
// another is another, even of the same size and time.
func unchanged(a, b os.FileInfo) bool {
	if a == nil || b == nil {
		return a == nil && b == nil
	}
	return os.SameFile(a, b) && a.Size() == b.Size() && a.ModTime().Equal(b.ModTime()) && a.Mode() == b.Mode()
}

// watcher tells when files changed and have stood still since the look before,
// so that one that is half written is left alone.
type watcher struct {
	acted stamps // as of the last reading
	last  stamps // as of the last look
}

// read is for before a reading: what changes from now on is a change.
func (w *watcher) read(files []string) {
	w.acted = look(files)
	w.last = w.acted
}

// follow takes the files to look at from now on. One that was not known has
// its looks from now.
func (w *watcher) follow(files []string) {
	seen := look(files)
	for file := range seen {
		if before, known := w.acted[file]; known {
			seen[file] = before
		}
	}
	w.acted, w.last = seen, seen
}

// changed takes a look.
func (w *watcher) changed() bool {
	files := make([]string, 0, len(w.acted))
	for file := range w.acted {
		files = append(files, file)
	}
	now := look(files)
	still := now.equal(w.last)
	w.last = now
	return still && !now.equal(w.acted)
}
