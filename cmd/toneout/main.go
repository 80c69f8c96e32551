// Command toneout reads switches over SNMP and names the cable run behind a
// slow or failing link.
//
// main.go holds the table of commands; each has a file of its own. config.go
// reads the configuration, secrets.go what it keeps secret.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
)

// version is set by the linker of a release.
var version = "development"

// Exit codes.
const (
	exitOK     = 0
	exitFailed = 1 // also: an audit found something
	exitUsage  = 2 // also: unusable input
)

// command is one word after toneout.
type command struct {
	name, wants, does, example string // wants is what must be given
	run                        func(ctx context.Context, args *flag.FlagSet, argv []string, out, log io.Writer) error
}

var commands = []command{
	{"demo", "", "start simulated switches on loopback, and the whole daemon against them", "toneout demo", demo},
	{"serve", "", "watch the switches of a configuration as a daemon; changed files are read anew, and what is known outlasts a restart", "toneout serve -config config/toneout.yml", serve},
	{"audit", "", "judge every run by the record and the standards; exit 0 is clean, 1 something found, 2 unusable", "toneout audit -config config/toneout.yml -csv > findings.csv\n  toneout audit -config config/toneout.yml -upgrade 10G", audit},
	{"draft", "-o FILE", "ask the switches, and write a first list of runs or bring one up to date", "toneout draft -config config/toneout.yml -o config/runs.csv", draft},
	{"explain", "RUN | SWITCH PORT", "tell the verdict of one run, or of one port, its evidence and the next checks", "toneout explain S1-P1-17 -url http://127.0.0.1:8610\n  toneout explain acc-n3-2 1/22", explain},
	{"repaired", "RUN -cause CODE", "record that a run was repaired, and what was wrong with it", "toneout repaired N2-P1-17 -cause loose-plug -note 'reseated at the outlet' -url http://127.0.0.1:8610", repaired},
	{"planned", "-on ATTRIBUTE=ID -to TIME -why TEXT", "announce work: until its end, faults where it is done are shown and told to nobody", "toneout planned -on pathway=tray-n2-east -from 22:00 -to +6h -why 'recabling the tray' -url http://127.0.0.1:8610\n  toneout planned -on switch=acc-n2-1 -to +30m -why 'new firmware' -user ada -password-file ada.password -url https://toneout.example.net", planned},
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second signal ends the process at once
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

func run(ctx context.Context, argv []string, out, log io.Writer) int {
	if len(argv) == 0 {
		usage(log)
		return exitUsage
	}
	if argv[0] == "-h" || argv[0] == "--help" || argv[0] == "help" {
		usage(out)
		return exitOK
	}
	for _, c := range commands {
		if c.name == argv[0] {
			return c.start(ctx, argv[1:], out, log)
		}
	}
	fmt.Fprintf(log, "toneout: there is no command %q; toneout -h lists them\n", argv[0])
	return exitUsage
}

func usage(w io.Writer) {
	fmt.Fprint(w, "toneout watches switches and names the cable run behind a slow or failing link.\n\n")
	for _, c := range commands {
		fmt.Fprintf(w, "  toneout %-9s %s\n", c.name, c.does)
	}
	fmt.Fprint(w, "\ntoneout COMMAND -h tells a command's options. Begin with toneout demo.\n")
}

// start runs a command and turns its error into a line and an exit code.
func (c command) start(ctx context.Context, argv []string, out, log io.Writer) int {
	args := flag.NewFlagSet(c.name, flag.ContinueOnError)
	args.SetOutput(io.Discard)
	args.Usage = func() {}
	err := c.run(ctx, args, argv, out, log)
	var exit exitError
	switch {
	case err == nil:
		return exitOK
	case errors.Is(err, flag.ErrHelp):
		c.help(out, args)
		return exitOK
	case errors.As(err, &exit):
		if exit.err != nil {
			fmt.Fprintf(log, "toneout %s: %v\n", c.name, exit.err)
		}
		return exit.code
	}
	fmt.Fprintf(log, "toneout %s: %v\n", c.name, err)
	return exitFailed
}
