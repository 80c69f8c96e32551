package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"os/signal"
	"syscall"

	"toneout/internal/daemon"
	"toneout/internal/journal"
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
	options, err := c.options(newLogger(log))
	if err != nil {
		return err
	}
	if options.Listener, err = listen(c.Listen); err != nil {
		return err
	}
	hangups := make(chan os.Signal, 1)
	signal.Notify(hangups, syscall.SIGHUP)
	defer signal.Stop(hangups)
	options.Hangups = hangups
	options.Log.Info("serving", "address", options.Listener.Addr(), "switches", len(options.Switches),
		"runs", len(options.Plant.Runs), "version", version)
	return daemon.Run(ctx, options)
}

func newLogger(w io.Writer) *slog.Logger { return slog.New(slog.NewTextHandler(w, nil)) }

// options turns the configuration into what the daemon needs, the listener
// apart.
func (c *config) options(log *slog.Logger) (daemon.Options, error) {
	setup, err := c.setup()
	if err != nil {
		return daemon.Options{}, err
	}
	o := daemon.Options{Setup: setup, Reload: func() (daemon.Setup, error) { return readSetup(c.path) }, Log: log, History: c.historyOptions()}
	if c.Checkpoint != "" {
		o.Checkpoint = c.beside(c.Checkpoint)
		if info, err := os.Stat(o.Checkpoint); err == nil && !info.Mode().IsRegular() {
			return o, unusable(fmt.Errorf("%s:%d: checkpoint: %s is no file; name one in a folder of toneout's own", c.path, c.line("checkpoint"), o.Checkpoint))
		}
	}
	if o.Journal, err = c.journal(); err != nil {
		return o, unusable(err)
	}
	if c.WebConfig != "" {
		o.WebConfig = c.beside(c.WebConfig)
		if err := daemon.CheckWebConfig(o.WebConfig); err != nil {
			return o, unusable(err)
		}
	}
	for _, n := range setup.Notes {
		log.Warn(n.What, "detail", n.Detail)
	}
	return o, nil
}

// journal is where events are kept; nowhere where file is "".
func (c *config) journal() (p journal.Place, err error) {
	if c.Journal.Postgres.given() {
		if p.Postgres, err = c.Journal.Postgres.read(c.beside); err != nil {
			err = fmt.Errorf("%s:%d: journal: postgres: %w", c.path, c.line("journal", "postgres"), err)
		}
		return p, err
	}
	if c.Journal.File != "" {
		p.File = c.beside(c.Journal.File)
		if info, err := os.Stat(p.File); err == nil && !info.Mode().IsRegular() {
			return p, fmt.Errorf("%s:%d: journal: %s is no file; name one in a folder of toneout's own", c.path, c.line("journal", "file"), p.File)
		}
	}
	return p, nil
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
