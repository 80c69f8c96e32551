package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"toneout/internal/fault"
	"toneout/internal/web"
)

func explain(ctx context.Context, args *flag.FlagSet, argv []string, out, _ io.Writer) error {
	address, o := daemonFlags(args)
	asJSON := args.Bool("json", false, "the verdict as JSON, as /api/runs/RUN or /api/ports/SWITCH/PORT gives it")
	words, err := parseWords(args, argv)
	if err != nil {
		return err
	}
	if len(words) < 1 || len(words) > 2 {
		return wrongWords(args, "RUN, or SWITCH PORT", words)
	}
	client, err := web.NewClient(*address, *o)
	if err != nil {
		return unusable(err)
	}
	if len(words) == 2 {
		detail, err := client.Port(ctx, words[0], words[1])
		return tellDetail(out, *asJSON, detail, explainedPort, err)
	}
	detail, err := client.Run(ctx, words[0])
	return tellDetail(out, *asJSON, detail, explained, err)
}

// tellDetail writes what is known, as JSON or in words.
func tellDetail[T any](out io.Writer, asJSON bool, detail T, inWords func(T) string, err error) error {
	if err != nil {
		return err
	}
	if asJSON {
		encoder := json.NewEncoder(out)
		encoder.SetIndent("", "  ")
		return encoder.Encode(detail)
	}
	_, err = io.WriteString(out, inWords(detail))
	return err
}

// verdict is what runs and ports have in common.
type verdict struct {
	faults []*fault.Fault
	shared []*fault.SharedCause
	told   *web.WasTold
}

// explained is a run's verdict for the terminal.
func explained(v web.RunDetail) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s is %s. %s\n\n", v.ID, v.State, v.Verdict)
	fmt.Fprintf(&b, "near end  %s\nfar end   %s\n", v.Near, v.Far)
	for _, text := range append(v.Conflicts, v.Unjoined...) {
		fmt.Fprintf(&b, "record    %s\n", text)
	}
	said := verdict{v.Faults, v.Shared, &v.WasTold}
	said.explain(&b)
	explainPorts(&b, v.Ports.List())
	explainTold(&b, said.told)
	explainJudged(&b, &v)
	return b.String()
}

// explainedPort is a port's, with that of its run.
func explainedPort(v web.PortDetail) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s port %s. %s\n\n", v.Switch, v.Port, v.Verdict)
	if v.Run != "" {
		fmt.Fprintf(&b, "run       %s, its %s end: toneout explain %s tells more\n", v.Run, v.End, v.Run)
	} else {
		fmt.Fprintf(&b, "run       none is joined to it: %s\n", oneLine(v.WhyNot))
	}
	if v.Description != "" {
		fmt.Fprintf(&b, "written   %s\n", oneLine(v.Description))
	}
	if heard := v.HeardWords(); heard != "" {
		fmt.Fprintf(&b, "hears     %s\n", oneLine(heard))
	}
	said := verdict{v.Faults, v.Shared, &v.WasTold}
	said.explain(&b)
	explainPorts(&b, []*web.PortNow{&v.PortNow})
	explainTold(&b, said.told)
	return b.String()
}

func (v *verdict) explain(b *strings.Builder) {
	for _, c := range v.shared {
		explainShared(b, c)
	}
	for _, f := range v.faults {
		v.explainFault(b, f)
	}
}

// mostTold is how many of them the terminal shows.
const mostTold = 12

// explainTold tells what people told, the latest first.
func explainTold(b *strings.Builder, w *web.WasTold) {
	if w.Unread != "" {
		fmt.Fprintf(b, "\nWhat people told cannot be read now: %s\n", oneLine(w.Unread))
	}
	if len(w.Told) == 0 {
		return
	}
	b.WriteString("\nWork at it, the latest first\n")
	for i := range w.Told[:min(mostTold, len(w.Told))] {
		t := &w.Told[i]
		text := fmt.Sprintf("%s %s: %s", t.At.Local().Format(time.RFC3339), t.By, t.What)
		for _, more := range append(t.Notes, t.State) {
			if more != "" {
				text += "; " + more
			}
		}
		fmt.Fprintf(b, "    - %s\n", oneLine(text))
	}
	if more := len(w.Told) - mostTold; more > 0 {
		fmt.Fprintf(b, "    and %d older: -json lists them all\n", more)
	}
}

// explainPorts tells the light and the power at a run's ends.
func explainPorts(b *strings.Builder, ports []*web.PortNow) {
	for _, p := range ports {
		lines := p.LightWords()
		if power := p.PowerWords(); power != "" {
			lines = append(lines, "power over the pairs: "+power)
		}
		lines = append(lines, p.GuardWords()...)
		if len(lines) > 0 {
			fmt.Fprintf(b, "\n%s port %s now\n", p.Switch, p.Port)
		}
		for _, line := range lines {
			fmt.Fprintf(b, "    - %s\n", oneLine(line))
		}
	}
}

func (v *verdict) explainFault(b *strings.Builder, f *fault.Fault) {
	fmt.Fprintf(b, "\n%s (%s), since %s\n", f.Kind.Title(), toldAs(f), f.Since.Local().Format(time.RFC3339))
	if taken := web.TakenOf(f, v.told.Taken); taken != nil {
		fmt.Fprintf(b, "  %s\n", oneLine(taken.Words(time.Local)))
	}
	if f.Proof != nil {
		if needs := f.Proof.Needs(); needs != "" {
			fmt.Fprintf(b, "  Still to be shown: %s\n", needs)
		}
	}
	if len(f.Guards) > 0 {
		title := "Taken into account"
		switch {
		case f.IsPart():
			title = "Why it is not told by itself"
		case !f.Alarm:
			title = "Why nobody is told"
		}
		list(b, title, guardWords(f.Guards))
	}
	list(b, "Evidence", f.Evidence)
	if under, said := v.foldedUnder(f); under != "" {
		explainFolded(b, f, under, said)
		return
	}
	b.WriteString("  Likely causes\n")
	explainCauses(b, f)
	explainChecks(b, f.NextChecks)
	list(b, "Take care", f.Cautions)
}

func toldAs(f *fault.Fault) string {
	switch {
	case f.SharedCause != "":
		return "part of " + f.SharedCause
	case f.IsPart():
		return "part of " + fault.TheOther
	case !f.Alarm:
		return "listed, nobody is told"
	}
	return string(f.Severity)
}

// foldedUnder is what a fault is a part of, with the cautions that were said of that;
// "" where it is told by itself.
func (v *verdict) foldedUnder(f *fault.Fault) (under string, said []string) {
	if c := f.FoldedUnder(v.shared); c != nil {
		return c.Title, c.Cautions
	}
	if f.SharedCause == "" && f.IsPart() {
		return fault.TheOther, v.faults[0].Cautions
	}
	return f.SharedCause, nil
}

// explainFolded tells in short what holds where it is not what the fault is a part of,
// whose checks and cautions were said before.
func explainFolded(b *strings.Builder, f *fault.Fault, title string, said []string) {
	fmt.Fprintf(b, "  If %s is not why\n", title)
	explainCauses(b, f)
	for i := range f.NextChecks {
		fmt.Fprintf(b, "    %d. %s\n", i+1, f.NextChecks[i].Check)
	}
	more := slices.DeleteFunc(slices.Clone(f.Cautions), func(caution string) bool { return slices.Contains(said, caution) })
	if len(more) > 0 {
		list(b, "Take care then", more)
	}
}

// explainCauses tells the causes that are worth a line, and what repairs confirmed.
func explainCauses(b *strings.Builder, f *fault.Fault) {
	likely, others := f.Ranked()
	for _, c := range likely {
		fmt.Fprintf(b, "    %9s  %s (%s)", fault.Percent(c.Probability), c.Cause.Title(), c.Cause)
		if f.Experience != nil {
			known := f.Experience.Of(c.Cause)
			fmt.Fprintf(b, "; repaired %d, usual %s", known.Repaired, fault.Percent(known.Usual))
		}
		b.WriteByte('\n')
	}
	if len(others) > 0 {
		fmt.Fprintf(b, "    %s\n", fault.OthersWords(len(others)))
	}
	if f.Experience != nil {
		fmt.Fprintf(b, "    %s\n", f.Experience.Words())
	}
}

// explainChecks tells what to do, what it takes and what it would find.
func explainChecks(b *strings.Builder, checks []fault.NextCheck) {
	b.WriteString("  Check, in this order\n")
	for i := range checks {
		c := &checks[i]
		fmt.Fprintf(b, "    %d. %s\n       %s\n       %s\n", i+1, c.Check, c.Takes(), c.WouldFind())
	}
	fmt.Fprintf(b, "    %s\n", fault.HowToRead)
}

// explainShared tells of what several faulty runs have in common.
func explainShared(b *strings.Builder, c *fault.SharedCause) {
	fmt.Fprintf(b, "\nIn common with other runs at fault (%s), since %s\n", c.Severity, c.Since.Local().Format(time.RFC3339))
	fmt.Fprintf(b, "    %9s  %s\n", fault.Percent(c.Probability), c.Title)
	for _, r := range c.Rivals {
		fmt.Fprintf(b, "    %9s  %s\n", fault.Percent(r.Probability), r.SharedName)
	}
	list(b, "Evidence", append([]string{c.Summary}, c.Evidence...))
	fmt.Fprintf(b, "  Runs at fault\n    - %s\n", strings.Join(c.Faulty, ", "))
	explainChecks(b, c.NextChecks)
	list(b, "Take care", c.Cautions)
}

func guardWords(guards []fault.Guard) (lines []string) {
	for _, g := range guards {
		lines = append(lines, fmt.Sprintf("%s (%s)", g.Says, g.Name))
	}
	return lines
}

func list(b *strings.Builder, title string, sentences []string) {
	fmt.Fprintf(b, "  %s\n", title)
	for _, s := range sentences {
		fmt.Fprintf(b, "    - %s\n", s)
	}
}
