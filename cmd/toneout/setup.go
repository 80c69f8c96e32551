package main

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"time"

	"toneout/internal/daemon"
	"toneout/internal/plant"
)

// readSetup reads configuration and inventory anew.
func readSetup(path string) (daemon.Setup, error) {
	c, err := loadConfig(path)
	if err != nil {
		return daemon.Setup{Files: []string{path}}, err
	}
	return c.setup()
}

// setup reads the inventory and the secrets, and gives what a daemon can be
// given while it runs. With an error it gives the files all the same.
func (c *config) setup() (daemon.Setup, error) {
	s := daemon.Setup{
		Labels: c.label, PollEvery: time.Duration(c.Poll.Every), SlowEvery: c.slowEvery(), FalseAlarmsPerWeek: c.FalseAlarmsPerWeek, Repaired: c.Repaired,
		RepairProof:   time.Duration(c.RepairProof),
		Alertmanagers: c.Alertmanagers, External: c.ExternalURL,
		Files: append([]string{c.path, c.beside(c.Plant)}, c.secretFiles()...), Fixed: c.fixed(),
	}
	var err error
	if s.Plant, s.Problems, err = c.inventory(); err != nil {
		return s, unusable(err)
	}
	s.Files = append(s.Files, s.Plant.Files...)
	if s.Switches, err = c.targets(); err != nil {
		return s, unusable(err)
	}
	if len(s.Switches) == 0 {
		return s, unusable(c.noSwitches())
	}
	s.Notes = c.notes(s.Plant, s.Problems)
	return s, nil
}

// inventory reads the inventory.
func (c *config) inventory() (*plant.Plant, []plant.Problem, error) {
	inventory, problems, err := plant.Load(c.beside(c.Plant))
	if errors.Is(err, fs.ErrNotExist) {
		err = fmt.Errorf("%w; toneout draft begins one, and an empty file is one too", err)
	}
	return inventory, problems, err
}

func (c *config) noSwitches() error {
	return fmt.Errorf("%s:%d: no switches to watch: list them under switches", c.path, c.line("switches"))
}

// fixed are the keys that hold from the daemon's start on, each with what
// would differ. A database's password is no part of it.
func (c *config) fixed() map[string]string {
	return map[string]string{
		"listen":     c.Listen,
		"web_config": c.WebConfig,
		"checkpoint": c.Checkpoint,
		"history":    c.History.fixed(),
		"journal":    fmt.Sprint(c.Journal.File, c.Journal.Postgres.place()),
	}
}

// notes is what is amiss but bearable.
func (c *config) notes(inventory *plant.Plant, problems []plant.Problem) (notes []daemon.Note) {
	note := func(what, detail string, args ...any) {
		notes = append(notes, daemon.Note{What: what, Detail: fmt.Sprintf(detail, args...)})
	}
	for _, p := range problems {
		switch {
		case p.Unread:
			note("inventory file not read", "%v", p)
		case p.Kind == "":
			note("inventory not as it should be", "%v", p)
		default:
			note("inventory row not used", "%v", p)
		}
	}
	for i, sw := range c.Switches {
		if sw.Space != "" && inventory.Space(sw.Space) == nil {
			note("the inventory has no such space", "%s:%d: switch %s: space %s", c.path, c.line("switches", i), sw.Name, sw.Space)
		}
	}
	if len(inventory.Runs) == 0 {
		note("the inventory has no runs: faults are told by switch and port alone", "%s; toneout draft writes a first one", c.beside(c.Plant))
	}
	return notes
}

// secretFiles are the files that hold secrets of switches.
func (c *config) secretFiles() (files []string) {
	for _, name := range slices.Sorted(maps.Keys(c.Credentials)) {
		w := c.Credentials[name]
		secrets := []*secret{w.Community}
		for _, p := range []*protocol{w.Authentication, w.Privacy} {
			if p != nil {
				secrets = append(secrets, &p.Passphrase)
			}
		}
		for _, s := range secrets {
			if s != nil && s.File != "" {
				files = append(files, c.beside(s.File))
			}
		}
	}
	return files
}
