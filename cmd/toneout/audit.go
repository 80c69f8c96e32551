package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"toneout/internal/plant"
)

// finding is one thing wrong with a run, or with a row of the inventory.
type finding struct {
	Run     string `json:"run"` // "" where the row is no run
	File    string `json:"file"`
	Line    int    `json:"line"`
	Finding string `json:"finding"`
}

func audit(_ context.Context, args *flag.FlagSet, argv []string, out, _ io.Writer) error {
	path := args.String("config", "config/toneout.yml", "the configuration's `file`")
	asJSON := args.Bool("json", false, "print a JSON list")
	asCSV := args.Bool("csv", false, "print CSV with a header")
	if _, err := parse(args, argv); err != nil {
		return err
	}
	if *asJSON && *asCSV {
		return unusable(fmt.Errorf("wants one of -json and -csv"))
	}
	c, err := loadConfig(*path)
	if err != nil {
		return err
	}
	inventory, problems, err := c.inventory()
	if err != nil {
		return unusable(err)
	}
	for _, p := range problems {
		if p.Unread {
			return unusable(errors.New(p.String()))
		}
	}
	findings := judge(c, inventory, problems)
	if err := printFindings(out, findings, *asJSON, *asCSV, len(inventory.Runs)); err != nil {
		return err
	}
	if len(findings) > 0 {
		return exitError{code: exitFailed}
	}
	return nil
}

// judge lists the rows that were lost, then the runs that cannot be joined as
// the record stands. It asks no switch: every port that a record names is
// taken to be there, and a run that names none may be named by a port's
// description.
func judge(c *config, inventory *plant.Plant, problems []plant.Problem) []finding {
	findings := []finding{}
	for _, p := range problems {
		f := finding{File: p.File, Line: p.Line, Finding: p.Text}
		if p.Kind == "run" {
			f.Run = p.ID
		} else if p.Kind != "" {
			f.Finding = p.Kind + " " + p.ID + ": " + p.Text
		}
		findings = append(findings, f)
	}
	names := make([]string, len(c.Switches))
	for i, sw := range c.Switches {
		names[i] = sw.Name
	}
	joined := inventory.Join(recordedPorts(inventory, names), names, nil)
	for _, conflict := range joined.Conflicts {
		for _, id := range conflict.Runs {
			findings = append(findings, of(inventory.Run(id), conflict.Text))
		}
	}
	for _, u := range joined.UnjoinedRuns {
		switch at := u.Run.At(u.End); {
		case inConflict(joined, u.Run.ID):
		case (at.Switch == "" || at.Port == "") && c.label != nil: // a port's description may name it
		case at.Switch == "":
			findings = append(findings, of(u.Run, "the record names no switch port"))
		default:
			findings = append(findings, of(u.Run, fmt.Sprintf("%v end: %s", u.End, u.Why)))
		}
	}
	return findings
}

func of(run *plant.Run, text string) finding {
	return finding{Run: run.ID, File: run.File, Line: run.Line, Finding: text}
}

func inConflict(joined *plant.Joined, id string) bool {
	return slices.ContainsFunc(joined.Conflicts, func(c plant.Conflict) bool { return slices.Contains(c.Runs, id) })
}

// recordedPorts are the ports that the inventory names on the switches of the
// configuration, each once.
func recordedPorts(inventory *plant.Plant, switches []string) []plant.SeenPort {
	var seen []plant.SeenPort
	known := map[plant.PortRef]bool{}
	for _, run := range inventory.Runs {
		for _, ref := range []plant.PortRef{run.Near(), run.Far()} {
			if slices.Contains(switches, ref.Switch) && ref.Port != "" && !known[ref] {
				known[ref] = true
				seen = append(seen, plant.SeenPort{Switch: ref.Switch, Name: ref.Port, Physical: true})
			}
		}
	}
	return seen
}

func printFindings(out io.Writer, findings []finding, asJSON, asCSV bool, runs int) error {
	switch {
	case asJSON:
		encoder := json.NewEncoder(out)
		encoder.SetIndent("", "  ")
		return encoder.Encode(findings)
	case asCSV:
		w := csv.NewWriter(out)
		rows := [][]string{{"run", "file", "line", "finding"}}
		for _, f := range findings {
			rows = append(rows, []string{f.Run, f.File, strconv.Itoa(f.Line), f.Finding})
		}
		return w.WriteAll(rows)
	}
	for _, f := range findings {
		who := f.Run
		if who == "" {
			who = "-"
		}
		if _, err := fmt.Fprintf(out, "%s  %s  (%s:%d)\n", who, f.Finding, f.File, f.Line); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintf(out, "%s read, %s.\n", plural(runs, "run"), plural(len(findings), "finding"))
	return err
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	if strings.HasSuffix(word, "ch") {
		word += "e"
	}
	return fmt.Sprintf("%d %ss", n, word)
}
