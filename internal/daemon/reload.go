package daemon

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"toneout/internal/notify"
	"toneout/internal/plant"
)

// change is what reading the files anew came to.
type change struct {
	at       time.Time // of the reading
	setup    *Setup    // nil where it is refused
	notifier *notify.Notifier
	refused  string // why
}

// reloader reads configuration and inventory anew, when they changed or a
// hangup asks for it, and brings what they say into the running daemon: as a
// whole, or not at all.
type reloader struct {
	options  Options
	owner    *owner
	crew     *crew
	notifier *notify.Notifier
	setup    Setup // in force
	looks    chan struct{}
	watcher  watcher
	noted    map[Note]bool     // what was logged
	fixed    map[string]string // likewise: keys that await a restart
}

func newReloader(o Options, owner *owner, crew *crew, notifier *notify.Notifier) *reloader {
	r := &reloader{options: o, owner: owner, crew: crew, notifier: notifier, setup: o.Setup,
		looks: make(chan struct{}), noted: map[Note]bool{}, fixed: map[string]string{}}
	r.watcher.read(o.Files)
	for _, n := range o.Notes {
		r.noted[n] = true
	}
	return r
}

// run takes looks and hangups until ctx is done.
func (r *reloader) run(ctx context.Context) {
	for {
		select {
		case <-r.looks:
			if r.watcher.changed() {
				r.reload(ctx)
			}
		case <-r.options.Hangups:
			r.reload(ctx)
		case <-ctx.Done():
			return
		}
	}
}

func (r *reloader) reload(ctx context.Context) {
	r.watcher.read(slices.Collect(maps.Keys(r.watcher.acted)))
	at := r.options.Clock.Now()
	next, err := r.options.Reload()
	r.watcher.follow(slices.Concat(r.setup.Files, next.Files))
	if err == nil {
		err = worse(r.setup.Problems, next.Problems)
	}
	var p *prepared
	if err == nil {
		before := r.notifier
		if !next.tellsAlike(&r.setup) {
			before = nil
		}
		p, err = r.crew.prepare(next, before)
	}
	if err != nil {
		r.refuse(ctx, at, err)
		return
	}
	r.adopt(ctx, at, p)
}

// refuse leaves all as it is and says why.
func (r *reloader) refuse(ctx context.Context, at time.Time, err error) {
	why := oneLine(err)
	r.options.Log.Error("changed files not used, the configuration and inventory of before stay", "error", why)
	r.tell(ctx, change{at: at, refused: why})
}

// mostTold is how many errors a line tells: most mistakes have one cause.
const mostTold = 3

// oneLine is the first of several errors, and how many more there are.
func oneLine(err error) string {
	each := strings.Split(err.Error(), "\n")
	told := strings.Join(each[:min(len(each), mostTold)], "; ")
	if more := len(each) - mostTold; more > 0 {
		told = fmt.Sprintf("%s (and %d more)", told, more)
	}
	return told
}

// adopt brings a setup in. A loop that ends has sent its last answer before
// the owner forgets its switch, and one that begins sends its first after the
// owner knows it.
func (r *reloader) adopt(ctx context.Context, at time.Time, p *prepared) {
	r.crew.retire(p)
	if !r.tell(ctx, change{at: at, setup: p.Setup, notifier: p.notifier}) {
		p.drop()
		return
	}
	r.crew.start(ctx, p)
	r.setup, r.notifier = *p.Setup, p.notifier
	r.log()
}

func (r *reloader) tell(ctx context.Context, c change) bool {
	select {
	case r.owner.changes <- c:
		return true
	case <-ctx.Done():
		return false
	}
}

// log tells that a setup is in force, and once what is amiss with it and what
// of it awaits a restart.
func (r *reloader) log() {
	noted := map[Note]bool{}
	for _, n := range r.setup.Notes {
		if noted[n] = true; !r.noted[n] {
			r.options.Log.Warn(n.What, "detail", n.Detail)
		}
	}
	r.noted = noted
	for _, key := range slices.Sorted(maps.Keys(r.setup.Fixed)) {
		value := r.setup.Fixed[key]
		if value == r.options.Fixed[key] {
			delete(r.fixed, key)
		} else if before, told := r.fixed[key]; !told || before != value {
			r.fixed[key] = value
			r.options.Log.Warn("a changed key has its effect after a restart", "key", key)
		}
	}
	r.options.Log.Info("configuration and inventory loaded", "switches", len(r.setup.Switches), "runs", len(r.setup.Plant.Runs),
		"problems", len(r.setup.Problems))
}

// worse tells of what the files lose that they did not lose before.
func worse(before, after []plant.Problem) error {
	var wrong []error
	for _, p := range plant.Worse(before, after) {
		wrong = append(wrong, errors.New(p.String()))
	}
	return errors.Join(wrong...)
}
