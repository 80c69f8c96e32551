package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"strings"
)

// exitError is an error with an exit code of its own; err may be nil where
// all was said already.
type exitError struct {
	code int
	err  error
}

func (e exitError) Error() string { return fmt.Sprint(e.err) }
func (e exitError) Unwrap() error { return e.err }

// unusable is an error of wrong use or unusable input.
func unusable(err error) error { return exitError{exitUsage, err} }

// help prints a command's purpose, options and example.
func (c command) help(w io.Writer, args *flag.FlagSet) {
	fmt.Fprintf(w, "toneout %s: %s.\n\nUse: toneout %s\n\n", c.name, c.does, strings.TrimSpace(c.name+" "+c.wants)+" [options]")
	args.VisitAll(func(f *flag.Flag) {
		value, text := flag.UnquoteUsage(f)
		if value != "" {
			value = " " + value
		}
		if f.DefValue != "" && f.DefValue != "false" {
			text += fmt.Sprintf(" (default %s)", f.DefValue)
		}
		fmt.Fprintf(w, "  -%s%s\n        %s\n", f.Name, value, text)
	})
	fmt.Fprintf(w, "\nExample:\n  %s\n", c.example)
}

// parse reads options, which may stand before and after the arguments, and
// gives the arguments: exactly as many as are named in wanted.
func parse(args *flag.FlagSet, argv []string, wanted ...string) ([]string, error) {
	words, err := parseWords(args, argv)
	if err == nil && len(words) != len(wanted) {
		want := "no arguments"
		if len(wanted) > 0 {
			want = strings.Join(wanted, " ")
		}
		return nil, wrongWords(args, want, words)
	}
	return words, err
}

// wrongWords is the error of other arguments than are wanted.
func wrongWords(args *flag.FlagSet, want string, words []string) error {
	return unusable(fmt.Errorf("wants %s, got %q; toneout %s -h tells more", want, words, args.Name()))
}

// parseWords likewise gives the arguments, however many.
func parseWords(args *flag.FlagSet, argv []string) (words []string, err error) {
	for {
		if err := args.Parse(argv); err != nil {
			if errors.Is(err, flag.ErrHelp) {
				return nil, err
			}
			return nil, unusable(fmt.Errorf("%w; toneout %s -h lists the options", err, args.Name()))
		}
		if args.NArg() == 0 {
			return words, nil
		}
		words = append(words, args.Arg(0))
		argv = args.Args()[1:]
	}
}
