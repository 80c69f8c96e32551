// Command quiet plays a plant in which nothing is wrong, through the tracker
// and faster than time, and counts who would have been woken:
//
//	go run ./internal/fault/quiet -ports 48000 -weeks 10 -share 0.02 -seed 1
//
// It is campuses of some switches, each with its tracker. Its ports have habits: errors within what the physical layer may have, by
// load, in bursts and by the hour; devices that sleep, are unplugged at the
// weekend or restart; optics that drift; switches that restart. It exits 1
// where more than 15 alarms in ten weeks come of 48,000 ports, or as large a
// share of them as is played.
package main

import (
	"flag"
	"fmt"
	"iter"
	"maps"
	"os"
	"runtime"
	"runtime/debug"
	"slices"
	"syscall"
	"time"
)

// What may come of the whole plant in ten weeks.
const (
	allowedAlarms = 15
	allowedPorts  = 48_000
	allowedWeeks  = 10
)

func main() {
	ports := flag.Int("ports", allowedPorts, "ports of the whole plant, which may raise one false alarm a week")
	weeks := flag.Int("weeks", allowedWeeks, "weeks to play")
	share := flag.Float64("share", 1, "share of the plant's ports to play")
	seed := flag.Uint64("seed", 1, "of chance")
	after := flag.Int("after", 0, "campuses of the share to leave out, to go on where a run was ended")
	flag.Parse()
	switches := max(2, int(float64(*ports)**share/portsOfSwitch+0.5))
	debug.SetGCPercent(400) // a campus is little memory and much garbage
	began := time.Now()
	counts, polls, seen := make(map[string]int), 0, 0
	for c := range played(*seed, switches, *after, *weeks, float64(*ports)) {
		polls += c.polls
		seen += len(c.switches)
		for _, a := range c.alarms {
			counts[a.kind+" of "+a.habit]++
		}
	}
	fmt.Printf("%d switches, %d weeks, %.3g port-polls in %v, %.2f µs of the processor each\n",
		seen, *weeks, float64(polls), time.Since(began).Round(time.Second), float64(processorTime().Microseconds())/float64(polls))
	alarms := 0
	for _, what := range slices.Sorted(maps.Keys(counts)) {
		fmt.Printf("%5d %s\n", counts[what], what)
		alarms += counts[what]
	}
	allowed := int(allowedAlarms * float64(seen*portsOfSwitch) / allowedPorts * float64(*weeks) / allowedWeeks)
	fmt.Printf("%d alarms, %d allowed\n", alarms, allowed)
	if alarms > allowed {
		os.Exit(1)
	}
}

// played plays the switches by campuses, as many at once as there are processors,
// and yields each when it is through. Each has a tracker: one keeps to its memory's
// cache, and asks for the evidence that the whole plant asks for.
func played(seed uint64, switches, after, weeks int, ofPlant float64) iter.Seq[*campus] {
	campuses := (switches + mostSwitches - 1) / mostSwitches
	numbers, through := make(chan int), make(chan *campus)
	go func() {
		defer close(numbers)
		for n := after; n < campuses; n++ {
			numbers <- n
		}
	}()
	for range runtime.GOMAXPROCS(0) {
		go func() {
			for n := range numbers {
				c := newCampus(seed, uint64(n), (switches+n)/campuses, ofPlant)
				c.play(weeks)
				through <- c
			}
		}()
	}
	return func(yield func(*campus) bool) {
		for n := after; n < campuses; n++ {
			if !yield(<-through) {
				return
			}
			fmt.Fprintf(os.Stderr, "%d of %d campuses\n", n+1, campuses)
		}
	}
}

// mostSwitches are those of a campus.
const mostSwitches = 10

// processorTime is what the process has used, whatever else the machine does.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
