package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"slices"
	"strings"

	"toneout/internal/plant"
	"toneout/internal/web"
)

// auditOptions are what toneout audit is asked.
type auditOptions struct {
	json, csv bool
	upgrade   string // "" where the findings are asked for
	space     string
	endangers string
	spaces    bool // whether a space was named at all: "" is one, of the runs that name none
}

func audit(_ context.Context, args *flag.FlagSet, argv []string, out, _ io.Writer) error {
	var o auditOptions
	path := args.String("config", "config/toneout.yml", "the configuration's `file`")
	args.BoolVar(&o.json, "json", false, "print one JSON object")
	args.BoolVar(&o.csv, "csv", false, "print CSV with a header, a row for each finding")
	args.StringVar(&o.upgrade, "upgrade", "", "tell of each run whether it is ready for a `speed` such as 10G; next is each run's next one")
	args.StringVar(&o.space, "space", "", "of the runs in one space, by its `id`")
	args.StringVar(&o.endangers, "endangers", "", "of what endangers one `thing`: "+listOf(plant.EndangersAll()))
	if _, err := parse(args, argv); err != nil {
		return err
	}
	args.Visit(func(f *flag.Flag) { o.spaces = o.spaces || f.Name == "space" })
	if err := o.check(); err != nil {
		return unusable(err)
	}
	report, inventory, err := readAudit(*path)
	if err != nil {
		return err
	}
	if err := o.narrow(report, inventory); err != nil {
		return unusable(err)
	}
	if err := o.print(out, report); err != nil {
		return err
	}
	if o.found(report) {
		return exitError{code: exitFailed}
	}
	return nil
}

func listOf[S ~string](words []S) string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = string(w)
	}
	return strings.Join(out, ", ")
}

func (o *auditOptions) check() error {
	known := plant.EndangersAll()
	switch {
	case o.json && o.csv:
		return errors.New("wants one of -json and -csv")
	case o.endangers != "" && !slices.Contains(known, plant.Endangers(o.endangers)):
		return fmt.Errorf("-endangers: %q is none of %s", o.endangers, listOf(known))
	case o.upgrade != "" && !slices.Contains(web.UpgradeWords(), o.upgrade):
		return fmt.Errorf("-upgrade: %q is none of %s", o.upgrade, listOf(web.UpgradeWords()))
	case o.upgrade != "" && o.endangers != "":
		return errors.New("-upgrade judges runs, and -endangers chooses among findings: give one of them")
	}
	return nil
}

// readAudit judges every run by configuration and inventory. It asks no switch:
// every port that a record names is taken to be there.
func readAudit(path string) (*web.AuditReport, *plant.Plant, error) {
	c, err := loadConfig(path)
	if err != nil {
		return nil, nil, err
	}
	inventory, problems, err := c.inventory()
	if err != nil {
		return nil, nil, unusable(err)
	}
	for _, p := range problems {
		if p.Unread {
			return nil, nil, unusable(errors.New(p.String()))
		}
	}
	names := make([]string, len(c.Switches))
	for i, sw := range c.Switches {
		names[i] = sw.Name
	}
	joined := inventory.Join(recordedPorts(inventory, names), names, nil)
	others := append(inventory.ProblemFindings(problems), inventory.JoinFindings(joined, c.labelTells)...)
	return &web.AuditReport{Audit: *inventory.Audit(nil, others...)}, inventory, nil
}

// labelTells tells of an end whose record names no port whether a port's
// description may name the run, which only the switches know.
func (c *config) labelTells(u plant.UnjoinedRun) bool {
	at := u.Run.At(u.End)
	return (at.Switch == "" || at.Port == "") && c.label != nil
}

// recordedPorts are the ports that the inventory names on the switches of the
// configuration, each once.
func recordedPorts(inventory *plant.Plant, switches []string) []plant.SeenPort {
	var seen []plant.SeenPort
	watched, known := map[string]bool{}, map[plant.PortRef]bool{}
	for _, name := range switches {
		watched[name] = true
	}
	for _, run := range inventory.Runs {
		for _, ref := range []plant.PortRef{run.Near(), run.Far()} {
			if watched[ref.Switch] && ref.Port != "" && !known[ref] {
				known[ref] = true
				seen = append(seen, plant.SeenPort{Switch: ref.Switch, Name: ref.Port, Physical: true})
			}
		}
	}
	return seen
}

// narrow cuts a report to what is asked for, and adds the readiness.
func (o *auditOptions) narrow(r *web.AuditReport, inventory *plant.Plant) error {
	if o.upgrade != "" {
		var err error
		if r.Readiness, err = web.ReadyFor(inventory, o.upgrade, nil); err != nil {
			return err
		}
	}
	if o.endangers != "" {
		r.Findings = slices.DeleteFunc(r.Findings, func(f plant.Finding) bool { return string(f.Endangers) != o.endangers })
	}
	if !o.spaces {
		return nil
	}
	if o.space != "" && inventory.Space(o.space) == nil {
		return fmt.Errorf("-space: the inventory has no space %q%s", o.space, plant.DidYouMean(o.space, spaceIDs(inventory)))
	}
	r.Audit = *r.Within(func(space string) bool { return space == o.space })
	r.Readiness = slices.DeleteFunc(r.Readiness, func(one web.Readiness) bool {
		return inventory.SpaceOf(inventory.Run(one.Run)) != o.space
	})
	return nil
}

func spaceIDs(inventory *plant.Plant) []string {
	ids := make([]string, len(inventory.Spaces))
	for i, space := range inventory.Spaces {
		ids[i] = space.ID
	}
	return ids
}

// found tells whether there is something that a script should stop at: a
// finding, or with -upgrade a run that is not ready by the record.
func (o *auditOptions) found(r *web.AuditReport) bool {
	if o.upgrade == "" {
		return len(r.Findings) > 0
	}
	return slices.ContainsFunc(r.Readiness, func(one web.Readiness) bool { return one.Answer != string(plant.ByRecord) })
}
