package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net"
	"syscall"
	"time"

	"toneout/internal/daemon"
	"toneout/internal/plant"
)

func serve(ctx context.Context, args *flag.FlagSet, argv []string, _, log io.Writer) error {
	path := args.String("config", "config/toneout.yml", "the configuration's `file`")
	if _, err := parse(args, argv); err != nil {
		return err
	}
	c, err := loadConfig(*path)
	if err != nil {
		return err
	}
	logger := newLogger(log)
	options, err := c.options(logger)
	if err != nil {
		return err
	}
	if options.Listener, err = listen(c.Listen); err != nil {
		return err
	}
	logger.Info("serving", "address", options.Listener.Addr(), "switches", len(options.Switches),
		"runs", len(options.Plant.Runs), "version", version)
	return daemon.Run(ctx, options)
}

func newLogger(w io.Writer) *slog.Logger { return slog.New(slog.NewTextHandler(w, nil)) }

// options turns the configuration into what the daemon needs, the listener
// apart, and logs what is amiss but bearable.
func (c *config) options(log *slog.Logger) (daemon.Options, error) {
	inventory, problems, err := plant.Load(c.beside(c.Plant))
	if err != nil {
		return daemon.Options{}, unusable(err)
	}
	for _, p := range problems {
		what := "inventory row not used"
		switch {
		case p.Unread:
			what = "inventory file not read"
		case p.Kind == "":
			what = "inventory not as it should be"
		}
		log.Warn(what, "problem", p.String())
	}
	c.unknownSpaces(inventory, log)
	if len(inventory.Runs) == 0 {
		log.Warn("the inventory has no runs: faults are told by switch and port alone", "file", c.beside(c.Plant))
	}
	switches, err := c.targets()
	if err != nil {
		return daemon.Options{}, unusable(err)
	}
	if len(switches) == 0 {
		return daemon.Options{}, unusable(fmt.Errorf("%s: no switches to watch: list them under switches", c.path))
	}
	for _, key := range c.notYet() {
		log.Warn("key has no effect in this version", "file", c.path, "key", key)
	}
	o := daemon.Options{
		Plant: inventory, Problems: problems, Switches: switches, Labels: c.label,
		PollEvery: time.Duration(c.Poll.Every), FalseAlarmsPerWeek: c.FalseAlarmsPerWeek,
		Log: log,
	}
	if c.WebConfig != "" {
		o.WebConfig = c.beside(c.WebConfig)
		if err := daemon.CheckWebConfig(o.WebConfig); err != nil {
			return o, unusable(err)
		}
	}
	return o, nil
}

// unknownSpaces tells of switches whose space the inventory does not know.
func (c *config) unknownSpaces(inventory *plant.Plant, log *slog.Logger) {
	for i, sw := range c.Switches {
		if sw.Space != "" && inventory.Space(sw.Space) == nil {
			log.Warn("the inventory has no such space", "switch", sw.Name, "space", sw.Space, "file", c.path, "line", c.line("switches", i))
		}
	}
}

// notYet lists the keys that are set and read by nothing so far.
func (c *config) notYet() (names []string) {
	if c.History.Directory != "" || c.History.URL != "" {
		names = append(names, "history")
	}
	if c.Journal.File != "" || c.Journal.Postgres.given() {
		names = append(names, "journal")
	}
	if len(c.Alertmanagers) > 0 {
		names = append(names, "alertmanagers")
	}
	if c.says("repair_proof") {
		names = append(names, "repair_proof")
	}
	if c.says("poll", "slow_every") {
		names = append(names, "poll.slow_every")
	}
	return names
}

func listen(address string) (net.Listener, error) {
	listener, err := net.Listen("tcp", address)
	if errors.Is(err, syscall.EADDRINUSE) {
		return nil, fmt.Errorf("listen on %s: the address is taken; is toneout running already? listen in the configuration names another", address)
	}
	if err != nil {
		return nil, fmt.Errorf("listen on %s: %w; listen in the configuration names another", address, err)
	}
	return listener, nil
}
