package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"golang.org/x/sync/errgroup"

	"toneout/internal/daemon"
	"toneout/internal/sim"
)

// The demo's own ports; where one is taken, a free one is used.
const (
	demoListen    = "127.0.0.1:8610"
	demoAgents    = "127.0.0.1"
	demoFirstPort = 16101
	demoEvery     = 2 * time.Second
	demoSlowEvery = 10 * time.Second
	demoSeed      = 1
)

// Secrets of switches that don't exist.
const (
	demoCommunity  = "ferrow-quay"
	demoUser       = "toneout"
	demoPassphrase = "rooks above the quay"
)

func demo(ctx context.Context, args *flag.FlagSet, argv []string, out, log io.Writer) error {
	address := args.String("listen", demoListen, "the page's `address`; a free port where it is taken")
	keep := args.String("keep", "", "write configuration and inventory into this `folder` and leave them there")
	if _, err := parse(args, argv); err != nil {
		return err
	}
	directory, remove, err := demoDirectory(*keep)
	if err != nil {
		return err
	}
	defer remove()

	campus := sim.FerrowQuay(demoSeed, time.Now())
	agents, err := startAgents(campus)
	if err != nil {
		return err
	}
	path, err := writeDemo(directory, campus, agents)
	if err != nil {
		return errors.Join(err, closeAll(agents))
	}
	options, err := demoOptions(path, *address, log)
	if err != nil {
		return errors.Join(err, closeAll(agents))
	}
	greet(out, options, directory)

	group, ctx := errgroup.WithContext(ctx)
	for _, agent := range agents {
		group.Go(func() error { return agent.Serve(ctx) })
	}
	group.Go(func() error { return daemon.Run(ctx, options) })
	return group.Wait()
}

// demoDirectory is the folder asked for, or one that is removed at the end.
func demoDirectory(keep string) (directory string, remove func(), err error) {
	if keep != "" {
		return keep, func() {}, emptyDirectory(keep)
	}
	directory, err = os.MkdirTemp("", "toneout-demo-")
	if err != nil {
		return "", nil, fmt.Errorf("make a folder for the demo's inventory: %w", err)
	}
	return directory, func() { os.RemoveAll(directory) }, nil
}

// emptyDirectory makes a folder, or takes one in which nothing of somebody's
// would be overwritten.
func emptyDirectory(path string) error {
	if err := os.MkdirAll(path, 0o755); err != nil {
		return unusable(fmt.Errorf("-keep: %w; it names a folder", err))
	}
	entries, err := os.ReadDir(path)
	if err != nil {
		return unusable(fmt.Errorf("-keep: %w", err))
	}
	if len(entries) > 0 {
		return unusable(fmt.Errorf("-keep: the folder %s is not empty; name a new one, so that nothing is overwritten", path))
	}
	return nil
}

// startAgents opens a socket for each switch of the campus.
func startAgents(campus *sim.Campus) ([]*sim.Agent, error) {
	var agents []*sim.Agent
	security := sim.Security{
		Communities: []string{demoCommunity},
		Users: []sim.User{{
			Name: demoUser, Authentication: "SHA-256", Passphrase: demoPassphrase,
			Privacy: "AES-128", PrivacyPassphrase: demoPassphrase,
		}},
	}
	for i, sw := range campus.Switches() {
		agent, err := sim.Listen(fmt.Sprintf("%s:%d", demoAgents, demoFirstPort+i), sw, security)
		if errors.Is(err, syscall.EADDRINUSE) {
			agent, err = sim.Listen(demoAgents+":0", sw, security)
		}
		if err != nil {
			return nil, errors.Join(fmt.Errorf("start the simulated switch %s: %w", sw.Name, err), closeAll(agents))
		}
		agents = append(agents, agent)
	}
	return agents, nil
}

func closeAll(agents []*sim.Agent) error {
	var wrong []error
	for _, agent := range agents {
		wrong = append(wrong, agent.Close())
	}
	return errors.Join(wrong...)
}

// writeDemo writes inventory and configuration as a person would, and gives
// the configuration's path. Every other switch is asked by SNMPv3.
func writeDemo(directory string, campus *sim.Campus, agents []*sim.Agent) (string, error) {
	if err := campus.WriteInventory(directory); err != nil {
		return "", fmt.Errorf("write the demo's inventory: %w", err)
	}
	var text strings.Builder
	fmt.Fprintf(&text, `# Ferrow Quay College: switches and cables that don't exist.
plant: plant.yml
checkpoint: toneout.checkpoint
history: {directory: history}
journal: {file: journal.db}
poll: {every: %v, slow_every: %v, timeout: 500ms, retries: 1}
port_labels: '^(?P<run>[A-Z0-9-]+)'
credentials:
  bench: {version: 2c, community: {value: %s}}
  campus:
    version: 3
    user: %s
    authentication: {protocol: SHA-256, passphrase: {value: %s}}
    privacy: {protocol: AES-128, passphrase: {value: %[5]s}}
switches:
`, demoEvery, demoSlowEvery, demoCommunity, demoUser, demoPassphrase)
	for i, sw := range campus.Switches() {
		credentials := [...]string{"campus", "bench"}[i%2]
		fmt.Fprintf(&text, "  - {name: %s, address: \"%s\", credentials: %s, space: %s}\n", sw.Name, agents[i].Addr(), credentials, sw.Space)
	}
	path := filepath.Join(directory, "toneout.yml")
	if err := os.WriteFile(path, []byte(text.String()), 0o600); err != nil {
		return "", fmt.Errorf("write the demo's configuration: %w", err)
	}
	return path, nil
}

func demoOptions(path, address string, log io.Writer) (daemon.Options, error) {
	c, err := loadConfig(path)
	if err != nil {
		return daemon.Options{}, err
	}
	options, err := c.options(newLines(log))
	if err != nil {
		return options, err
	}
	options.Listener, err = net.Listen("tcp", address)
	if errors.Is(err, syscall.EADDRINUSE) {
		fmt.Fprintf(log, "%s is taken, so a free port is used.\n", address)
		options.Listener, err = net.Listen("tcp", demoAgents+":0")
	}
	if err != nil {
		return options, unusable(fmt.Errorf("-listen: %w; wants host:port, e.g. %s", err, demoListen))
	}
	return options, nil
}

func greet(out io.Writer, o daemon.Options, directory string) {
	fmt.Fprintf(out, `Ferrow Quay College: %d simulated switches on loopback, %d runs in the inventory, a poll every %v.

  the page     http://%[4]v/
  the metrics  http://%[4]v/metrics
  inventory    %[5]s

Faults appear within a minute, here and on the page; a lift motor beside a tray strikes 16 runs, which are one alarm. In another terminal, e.g.
  go run ./cmd/toneout explain S1-P1-17 -url http://%[4]v
Ctrl-C stops it.

`, len(o.Switches), len(o.Plant.Runs), demoEvery, o.Listener.Addr(), directory)
}
