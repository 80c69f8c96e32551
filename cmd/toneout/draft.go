package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"toneout/internal/daemon"
	"toneout/internal/plant"
	"toneout/internal/web"
)

func draft(ctx context.Context, args *flag.FlagSet, argv []string, out, log io.Writer) error {
	path := args.String("config", "config/toneout.yml", "the configuration's `file`: which switches to ask")
	output := args.String("o", "", "the CSV `file` of runs to write or to bring up to date; - prints it")
	if _, err := parse(args, argv); err != nil {
		return err
	}
	if *output == "" {
		return unusable(errors.New("wants -o FILE, e.g. -o runs.csv; toneout draft -h tells more"))
	}
	c, err := loadConfig(*path)
	if err != nil {
		return err
	}
	d, err := c.startDraft(*output)
	if err != nil {
		return unusable(err)
	}
	setup, err := c.drafting()
	if err != nil {
		return unusable(err)
	}
	tell, end := progress(log, len(setup.Switches))
	found, err := daemon.Ask(ctx, setup, tell)
	end()
	if err != nil {
		return err
	}
	for _, f := range found.Failed {
		fmt.Fprintf(log, "not asked: %v\n", f.Err)
	}
	for _, l := range found.Lost {
		fmt.Fprintf(log, "not given by switch %s: %s (%s); %s: draft again\n", l.Switch, l.Table, l.Why, web.WithoutTable(l.Table))
	}
	if err := d.write(found.Ports, c, out, log); err != nil {
		return err
	}
	if n := len(found.Failed); n > 0 {
		return fmt.Errorf("%s of %d did not answer; draft again once they do, which adds what is missing", plural(n, "switch"), len(setup.Switches))
	}
	return nil
}

// drafting is what asking the switches once needs to know.
func (c *config) drafting() (s daemon.Setup, err error) {
	s = daemon.Setup{Labels: c.label, PollEvery: time.Duration(c.Poll.Every), SlowEvery: c.slowEvery(), FalseAlarmsPerWeek: c.FalseAlarmsPerWeek}
	if s.Switches, err = c.targets(); err == nil && len(s.Switches) == 0 {
		err = c.noSwitches()
	}
	return s, err
}

// drafted is a draft under way: where it goes, and what is there.
type drafted struct {
	output    string // the CSV file; "-" for standard output
	inventory string // the file that names it
	begun     bool   // the inventory is not there yet
	rest      *plant.Plant
	named     bool // the inventory names the CSV file
}

// startDraft reads the inventory. Where rows of other files than the drafted
// one are lost, their ports would be drafted a second time, so it fails.
func (c *config) startDraft(output string) (*drafted, error) {
	d := &drafted{output: output, inventory: c.beside(c.Plant)}
	if samePath(output, d.inventory) || samePath(output, c.path) {
		return nil, fmt.Errorf("-o: %s is no file of runs; name one of its own, e.g. -o runs.csv", output)
	}
	inventory, problems, err := plant.Load(d.inventory)
	switch _, missing := os.Stat(d.inventory); {
	case errors.Is(missing, fs.ErrNotExist):
		d.begun, d.rest = true, plant.New(plant.Plant{})
		return d, nil
	case err != nil:
		return nil, err
	}
	file := output
	for _, name := range inventory.Files {
		if samePath(name, output) {
			file, d.named = name, true
		}
	}
	var wrong []error
	for _, p := range problems {
		mine := p.File == file || p.Unread && d.named && strings.Contains(p.Text, file) // it may be written for the first time
		if p.Lost && !mine {
			wrong = append(wrong, errors.New(p.String()))
		}
	}
	d.rest = inventory.Without(file)
	return d, errors.Join(wrong...)
}

// samePath tells whether two paths lead to one file, which need not be there.
func samePath(a, b string) bool {
	if first, err := os.Stat(a); err == nil {
		second, err := os.Stat(b)
		return err == nil && os.SameFile(first, second)
	}
	first, _ := filepath.Abs(a)
	second, _ := filepath.Abs(b)
	return first == second
}

// progress gives what tells on a terminal, after two seconds, how many switches
// were asked, and what takes that line away at the end.
func progress(log io.Writer, of int) (tell func(done int), end func()) {
	if !terminal(log) {
		return nil, func() {}
	}
	began, line := time.Now(), ""
	tell = func(done int) {
		if time.Since(began) >= 2*time.Second {
			line = fmt.Sprintf("asked %d of %s", done, plural(of, "switch"))
			fmt.Fprintf(log, "\r%s", line)
		}
	}
	return tell, func() {
		if line != "" {
			fmt.Fprintf(log, "\r%*s\r", len(line), "")
		}
	}
}

func terminal(w io.Writer) bool {
	file, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := file.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// write brings the CSV file up to date and tells what that came to.
func (d *drafted) write(found []plant.DraftPort, c *config, out, log io.Writer) error {
	var before []byte
	if d.output != "-" {
		var err error
		if before, err = os.ReadFile(d.output); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return unusable(fmt.Errorf("-o: %w", err))
		}
	}
	drafted, err := plant.Draft(before, found, c.label, d.rest)
	if err != nil {
		return unusable(fmt.Errorf("%s: %w", d.output, err))
	}
	told := out
	switch {
	case d.output == "-":
		told = log
		if _, err := out.Write(drafted.CSV); err != nil {
			return err
		}
	case !bytes.Equal(before, drafted.CSV):
		if err := replaceFile(d.output, drafted.CSV); err != nil {
			return fmt.Errorf("-o: %w", err)
		}
	}
	if _, err := io.WriteString(told, summary(d.output, drafted)); err != nil || d.output == "-" || len(drafted.CSV) == 0 {
		return err
	}
	return d.next(c, told)
}

// summary is what a draft came to, for a person.
func summary(file string, d *plant.Drafted) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s added, %s filled in, %s of which something is seen otherwise than written",
		file, plural(d.Added, "row"), plural(d.Filled, "empty cell"), plural(d.Differs, "row"))
	if d.Differs > 0 {
		b.WriteString(" (column draft_differs says what)")
	}
	b.WriteString(".\n")
	if d.Recorded > 0 {
		fmt.Fprintf(&b, "%s had a run already.\n", plural(d.Recorded, "port"))
	}
	if d.Signless > 0 {
		fmt.Fprintf(&b, "%s left out: no link, no description and no neighbour shows what is plugged in.\n", plural(d.Signless, "port"))
	}
	for _, u := range d.Untold {
		fmt.Fprintf(&b, "left out: %s port %s: %s.\n", u.Port.Switch, u.Port.Port, u.Why)
	}
	return b.String()
}

// next begins the inventory where there is none, and says what to do now.
func (d *drafted) next(c *config, told io.Writer) error {
	name := d.output
	if relative, err := relativeTo(d.inventory, d.output); err == nil {
		name = relative
	}
	if d.begun {
		if err := begin(d.inventory, name, c.Switches); err != nil {
			return err
		}
		fmt.Fprintf(told, "%s was not there and is begun: write your site's name into it.\n", d.inventory)
	} else if !d.named {
		fmt.Fprintf(told, "%s does not name this file yet: add to it  runs_files: [%s]\n", d.inventory, name)
	}
	_, err := fmt.Fprintf(told, "Look the rows over: drafted_from says where each cell comes from. Then  toneout serve -config %s\n", c.path)
	return err
}

// relativeTo is a path as a file in another folder names it.
func relativeTo(file, path string) (string, error) {
	from, err := filepath.Abs(filepath.Dir(file))
	if err != nil {
		return "", err
	}
	to, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	return filepath.Rel(from, to)
}

// begin writes an inventory that names a file of runs, where there is none.
func begin(path, runs string, switches []switchConfig) error {
	var text strings.Builder
	text.WriteString("# The inventory, begun by toneout draft. A run may name only panels, pathways\n# and cables that are listed here, such as\n")
	text.WriteString("#   panels: [{id: P1, positions: 48}]\n#   pathways: [{id: tray-east, near: [lift motor]}]\n#   cables: [{id: horizontal-6a, media: copper, category: \"6A\"}]\n")
	fmt.Fprintf(&text, "# site: the name of your site\nruns_files: [%q]\n", runs)
	spaces := map[string]bool{"": true}
	for _, sw := range switches {
		if spaces[sw.Space] {
			continue
		}
		if len(spaces) == 1 {
			text.WriteString("spaces:\n")
		}
		spaces[sw.Space] = true
		fmt.Fprintf(&text, "  - {id: %q}\n", sw.Space)
	}
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fmt.Errorf("begin the inventory: %w", err)
	}
	_, err = io.WriteString(file, text.String())
	return cmp.Or(err, file.Close())
}

// replaceFile puts a file in the place of another at once, with its mode, or
// makes one.
func replaceFile(path string, data []byte) error {
	mode := fs.FileMode(0o644)
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
		info, err := os.Stat(path)
		if err != nil {
			return err
		}
		mode = info.Mode().Perm()
	}
	file, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return err
	}
	_, err = file.Write(data)
	for _, step := range []func() error{func() error { return file.Chmod(mode) }, file.Sync} {
		if err == nil {
			err = step()
		}
	}
	err = cmp.Or(err, file.Close())
	if err == nil {
		err = os.Rename(file.Name(), path)
	}
	if err != nil {
		os.Remove(file.Name())
	}
	return err
}
