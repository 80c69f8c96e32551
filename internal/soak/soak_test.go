package soak

import (
	"flag"
	"math/rand/v2"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var (
	kills    = flag.Int("kills", 4, "how often the daemon is killed")
	meanLife = flag.Duration("life", 2*time.Second, "how long it lives, on average")
	seed     = flag.Uint64("seed", 1, "of when it is killed and what is planted")
)

// many is from how many kills on there is time for what lets go late.
const many = 10

// A kill -9 at any moment loses no event and no sample but the polls in flight.
func TestKilledAtAnyMoment(t *testing.T) {
	t.Logf("seed %d, %d kills, lives of %v on average", *seed, *kills, *meanLife)
	program, folder := build(t), t.TempDir()
	s := newSite(t, *seed)
	p := &play{t: t, site: s, story: newStory(s, *seed, *kills >= many), program: program, config: s.write(t, folder)}
	p.file = filepath.Join(folder, "data", "journal.db")
	p.told = tellings{random: rand.New(rand.NewPCG(*seed, 3)), runs: s.quiet}
	p.run()
	last := p.lives[len(p.lives)-1]
	answered, unanswered, kept := p.told.check(t, last)
	t.Logf("told: %d answered, each is there; %d not answered, of which %d are there", answered, unanswered, kept-answered)
	p.checkHistory(last)
	last.stop(t)
	p.checkJournal()
	p.checkLogs()
}

// play is the soak under way.
type play struct {
	t               *testing.T
	site            *site
	story           *story
	told            tellings
	program, config string
	file            string               // the journal's
	polls           map[*station][]*poll // until history was asked
	lives           []*life
	now             atomic.Pointer[life]
	killing         atomic.Bool
	differs         atomic.Value // string: what the last look found amiss
}

// How often the daemon is looked at and told something.
const (
	lookEvery = 400 * time.Millisecond
	tellEvery = 250 * time.Millisecond
)

// run lets daemons live and die, until the last one has told all.
func (p *play) run() {
	p.killing.Store(true)
	p.start()
	done := make(chan struct{})
	var group sync.WaitGroup
	defer func() { close(done); group.Wait() }()
	every := func(interval time.Duration, do func(*life)) {
		group.Go(func() {
			ticks := time.NewTicker(interval)
			defer ticks.Stop()
			for {
				select {
				case <-ticks.C:
					do(p.now.Load())
				case <-done:
					return
				}
			}
		})
	}
	every(lookEvery, p.look)
	every(tellEvery, func(l *life) {
		if l.listens() && p.killing.Load() {
			p.told.tell(l)
		}
	})
	p.kill()
	for deadline := time.Now().Add(3 * patience); p.differs.Load() != ""; <-time.After(lookEvery) {
		require.True(p.t, time.Now().Before(deadline), "the last daemon does not list what is at fault: %v", p.differs.Load())
	}
}

func (p *play) start() {
	p.lives = append(p.lives, start(p.t, len(p.lives)+1, p.program, p.config))
	p.now.Store(p.lives[len(p.lives)-1])
}

// kill kills one daemon after the other, at any moment of its life.
func (p *play) kill() {
	random := rand.New(rand.NewPCG(*seed, 1))
	for range *kills {
		l := p.lives[len(p.lives)-1]
		select {
		case <-time.After(time.Duration(2 * random.Float64() * float64(*meanLife))):
		case <-l.ended:
			require.Fail(p.t, "the daemon ended by itself", "life %d: %v\n%s", l.number, l.err, l.log.String())
		}
		l.kill()
		p.start()
	}
	p.killing.Store(false)
}

// look takes one look at what the daemon lists.
func (p *play) look(l *life) {
	var faults []listed
	if l.get("/api/faults", &faults) != nil {
		return // it is not there yet, or not any longer
	}
	more := p.killing.Load()
	journalled := map[string]bool{}
	if !more || p.story.waits(faults) {
		if journalled = p.written(); journalled == nil {
			return
		}
	}
	p.story.look(l.number, faults, journalled, more)
	if !more {
		p.differs.Store(p.story.differs(faults, journalled))
	}
}

// checkLogs holds the daemons' own words against what they ought to say.
func (p *play) checkLogs() {
	for _, l := range p.lives {
		for _, never := range []string{"level=ERROR", "panic", "fatal error"} {
			require.NotContains(p.t, l.log.String(), never, "life %d", l.number)
		}
	}
}
