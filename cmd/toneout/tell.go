package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/user"
	"strings"
	"time"

	"toneout/internal/fault"
	"toneout/internal/web"
)

// daemonFlags are the options of every command that talks to a daemon.
func daemonFlags(args *flag.FlagSet) (address *string, o *web.Options) {
	o = &web.Options{}
	address = args.String("url", "http://"+defaults().Listen, "the daemon's `address`")
	args.StringVar(&o.CA, "ca", "", "`file` of certificates (PEM) to trust")
	args.StringVar(&o.User, "user", "", "`name` of the user, where the daemon has users")
	args.StringVar(&o.PasswordFile, "password-file", "", "`file` that holds the user's password")
	return address, o
}

// myself is who tells something where the daemon has no users.
func myself() string {
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return os.Getenv("USER")
}

func repaired(ctx context.Context, args *flag.FlagSet, argv []string, out, _ io.Writer) error {
	address, o := daemonFlags(args)
	cause := args.String("cause", "", "what was wrong: a cause's `code`, as toneout explain gives it in brackets")
	by := args.String("by", myself(), "`who` made the repair; with -user it is the user")
	note := args.String("note", "", "a `text` for whoever looks into it next")
	words, err := parse(args, argv, "RUN")
	if err != nil {
		return err
	}
	if *cause == "" {
		return unusable(fmt.Errorf("-cause is missing: what was wrong, one of %s", causeCodes()))
	}
	client, err := web.NewClient(*address, *o)
	if err != nil {
		return unusable(err)
	}
	r := web.Repair{Run: words[0], Cause: *cause, By: *by, Note: *note}
	if err := client.Repaired(ctx, &r); err != nil {
		return err
	}
	fmt.Fprintf(out, "Recorded at %s: %s was repaired, it was %s (by %s).\n", r.At.Local().Format(time.RFC3339), r.Run, fault.Cause(r.Cause).Title(), r.By)
	if len(r.Faults) == 0 {
		fmt.Fprintf(out, "No fault is open on it at the moment.\n")
	} else {
		fmt.Fprintf(out, "Open on it: %s.\n", strings.Join(r.Faults, ", "))
	}
	return nil
}

func causeCodes() string {
	var codes []string
	for _, c := range fault.Causes() {
		codes = append(codes, string(c))
	}
	return strings.Join(codes, ", ")
}

func planned(ctx context.Context, args *flag.FlagSet, argv []string, out, _ io.Writer) error {
	address, o := daemonFlags(args)
	on := args.String("on", "", "what the work is on, as `ATTRIBUTE=ID`; the attribute is run, panel, pathway, space or switch, or write plant=all")
	from := args.String("from", "", "when it begins, as `TIME`: now, 22:00, 2026-03-02T22:00 or with a zone 2026-03-02T22:00:00Z (default now)")
	to := args.String("to", "", "when it ends, as such a `TIME`, or as a length such as +4h")
	why := args.String("why", "", "what is done, as a `text` that the faults will show")
	by := args.String("by", myself(), "`who` does it; with -user it is the user")
	id := args.String("id", "", "the `id` of work that was announced before, to announce it otherwise")
	if _, err := parse(args, argv); err != nil {
		return err
	}
	attribute, value, ok := strings.Cut(*on, "=")
	if !ok {
		return unusable(errors.New("-on wants an attribute and an id, such as -on pathway=tray-n2-east or -on plant=all"))
	}
	if strings.TrimSpace(*why) == "" {
		return unusable(errors.New("-why is missing: what is done, such as -why 'recabling the tray'"))
	}
	w := web.PlannedWork{ID: *id, On: map[string]string{attribute: value}, By: *by, Why: *why}
	var err error
	now := time.Now()
	if w.From, err = moment(*from, now, now); err != nil {
		return unusable(fmt.Errorf("-from: %w", err))
	}
	if *to == "" {
		return unusable(errors.New("-to is missing: when the work ends, such as -to 17:00 or -to +4h"))
	}
	if w.To, err = moment(*to, now, w.From); err != nil {
		return unusable(fmt.Errorf("-to: %w", err))
	}
	client, err := web.NewClient(*address, *o)
	if err != nil {
		return unusable(err)
	}
	if err := client.Plan(ctx, &w); err != nil {
		return err
	}
	fmt.Fprintf(out, "Recorded as %s: work on %s %s from %s to %s.\nFaults there are shown and told to nobody until then; at the end is told what is worse than before.\n",
		w.ID, attribute, value, w.From.Local().Format(time.RFC3339), w.To.Local().Format(time.RFC3339))
	return nil
}

// moment reads a time as people write it: without a date it is the next such time
// of the clock after a moment, without a zone the zone is this machine's, and +4h
// is a while after that moment.
func moment(text string, now, after time.Time) (time.Time, error) {
	if text == "" || text == "now" {
		return now.Truncate(time.Second), nil
	}
	if length, found := strings.CutPrefix(text, "+"); found {
		d, err := time.ParseDuration(length)
		if err != nil || d <= 0 {
			return time.Time{}, fmt.Errorf("%q is no length such as +4h or +30m", text)
		}
		return after.Add(d), nil
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	for _, layout := range []string{"2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02 15:04"} {
		if t, err := time.ParseInLocation(layout, text, now.Location()); err == nil {
			return t, nil
		}
	}
	clock, err := time.Parse("15:04", text)
	if err != nil {
		return time.Time{}, fmt.Errorf("%q is no time such as 22:00, 2026-03-02T22:00 or 2026-03-02T22:00:00Z", text)
	}
	local := after.In(now.Location())
	t := time.Date(local.Year(), local.Month(), local.Day(), clock.Hour(), clock.Minute(), 0, 0, now.Location())
	if t.Before(after) {
		t = t.AddDate(0, 0, 1)
	}
	return t, nil
}
