// Command bench prints how soon the error detector sees a climb, beside the
// soonest that any test could, and how seldom it cries wolf over ports whose
// ways don't change. Whoever changes the detector runs it.
package main

import (
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"strings"
	"time"
)

// options are what the flags say.
type options struct {
	seed         uint64
	ports, weeks int // of each habit
	threshold    float64
	plays        int    // of each delay
	habit        string // part of its name
}

func main() {
	o := options{plays: 200}
	flag.Uint64Var(&o.seed, "seed", 1, "of all chances")
	flag.IntVar(&o.ports, "ports", 400, "ports of each habit")
	flag.IntVar(&o.weeks, "weeks", 10, "weeks that each of them is watched")
	flag.Float64Var(&o.threshold, "threshold", 1e4, "A of the mean runs to a false alarm")
	flag.StringVar(&o.habit, "habit", "", "only the habits whose names hold this")
	table := flag.String("table", "all", "delays, nulls or all")
	quick := flag.Bool("quick", false, "a tenth of the ports and delays")
	flag.Parse()
	if *quick {
		o.ports, o.plays, o.threshold = max(1, o.ports/10), o.plays/10, o.threshold/10
	}
	if flag.NArg() > 0 || *table != "delays" && *table != "nulls" && *table != "all" {
		fmt.Fprintf(os.Stderr, "bench: print %q %v: there are the tables delays, nulls and all\n", *table, flag.Args())
		os.Exit(2)
	}
	began := time.Now()
	if *table != "nulls" {
		o.delays(os.Stdout)
	}
	if *table != "delays" {
		o.nulls(os.Stdout)
	}
	fmt.Printf("\n%v\n", time.Since(began).Round(time.Second))
}

func (o *options) random(row int) *rand.Rand { return rand.New(rand.NewPCG(o.seed, uint64(row))) }

func (o *options) delays(out io.Writer) {
	fmt.Fprintf(out, "Mean delay in polls at A = %.4g; 'best' is the CUSUM that knows both rates.\n\n", plantThreshold)
	fmt.Fprintln(out, "| damaged frames a poll, before → after | best | this detector, rate before known | of best |\n| --- | --- | --- | --- |")
	for i, c := range climbs {
		best := c.best(o.random(i), 10_000)
		got := c.known(o.random(i), o.plays*min(10, max(1, int(5e4/best)))) // the soon ones more often
		fmt.Fprintf(out, "| %.2g → %.2g | %.4g | %.4g | %.2f |\n", c.before, c.after, best, got, got/best)
	}
	fmt.Fprintln(out, "\n| damaged frames a poll, before (learned for 30 days) → after | delay in polls |\n| --- | --- |")
	for i, c := range habitual {
		fmt.Fprintf(out, "| %.2g → %.3g | %.3g |\n", c.before, c.after, c.learned(o.random(100+i), o.plays))
	}
}

func (o *options) nulls(out io.Writer) {
	fmt.Fprintf(out, "\nUnchanged habits: false alarms of %d ports in %d weeks, and the mean run to one at A = %g (%d ports, 30 days learned).\n\n",
		o.ports, o.weeks, o.threshold, o.ports/4)
	fmt.Fprintln(out, "| habit | false alarms | mean run at least, of A | runs without |\n| --- | --- | --- | --- |")
	for i, h := range habits {
		if !strings.Contains(h.name, o.habit) {
			continue
		}
		alarms := h.falseAlarms(o.random(i), o.ports, o.weeks)
		r := h.falseRun(o.random(i), max(1, o.ports/4), 30, o.threshold)
		fmt.Fprintf(out, "| %s | %d | %.2f | %d of %d |\n", h.name, alarms, r.mean/o.threshold, r.cut, r.plays)
	}
}
