package plant

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// key is one key of a row: how its text becomes a value. The same table
// serves YAML mappings and CSV columns.
type key[T any] struct {
	name   string
	list   bool   // several texts allowed
	lines  bool   // line breaks allowed
	refers string // the kind whose id the text is; "" where none
	set    func(row *T, texts []string) error
	nest   func(l *loader, rec *record, c cell, row *T) []reference // reads a list of mappings, which CSV cannot hold
}

// table is all keys of one kind of row.
type table[T any] struct {
	keys  map[string]key[T]
	names []string
	must  []string                                         // keys that a row cannot be without
	check func(row *T, has func(key string) bool) []string // what is wrong between keys
}

func tableOf[T any](must []string, check func(*T, func(string) bool) []string, keys ...key[T]) table[T] {
	t := table[T]{keys: map[string]key[T]{}, must: must, check: check}
	for _, k := range keys {
		t.keys[k.name] = k
		t.names = append(t.names, k.name)
	}
	return t
}

// one makes a key with a single value, read by parse and kept by put.
func one[T, V any](name string, parse func(string) (V, error), put func(*T, V)) key[T] {
	return key[T]{name: name, set: func(row *T, texts []string) error {
		v, err := parse(texts[0])
		if err == nil {
			put(row, v)
		}
		return err
	}}
}

// optional is one with a value that may be absent.
func optional[T, V any](name string, parse func(string) (V, error), at func(*T) *port.Value[V]) key[T] {
	return one(name, parse, func(row *T, v V) { *at(row) = port.Some(v) })
}

// plain is one whose zero value means not recorded.
func plain[T, V any](name string, parse func(string) (V, error), at func(*T) *V) key[T] {
	return one(name, parse, func(row *T, v V) { *at(row) = v })
}

func text[T any](name string, at func(*T) *string) key[T] {
	return plain(name, func(s string) (string, error) { return s, nil }, at)
}

func listOf[T any](name string, at func(*T) *[]string) key[T] {
	return key[T]{name: name, list: true, set: func(row *T, texts []string) error {
		*at(row) = texts
		return nil
	}}
}

// to makes a key's text the id of a row of that kind.
func (k key[T]) to(kind string) key[T] {
	k.refers = kind
	return k
}

// from restricts the texts of a list.
func (k key[T]) from(words []string) key[T] {
	set := k.set
	k.set = func(row *T, texts []string) error {
		for i, s := range texts {
			word, err := wordOf(words)(s)
			if err != nil {
				return err
			}
			texts[i] = word
		}
		return set(row, texts)
	}
	return k
}

// number reads a finite number of at least 0.
func number(s string) (float64, error) {
	v, err := signed(s)
	if err == nil && v < 0 {
		return 0, fmt.Errorf("%q is below 0", s)
	}
	return v, err
}

// signed reads a finite decimal number.
func signed(s string) (float64, error) {
	v, err := strconv.ParseFloat(s, 64)
	switch {
	case strings.Count(s, ",") == 1 && !strings.Contains(s, "."):
		return 0, fmt.Errorf("%q is not a number: write a decimal point, not a comma", s)
	case errors.Is(err, strconv.ErrRange):
		return 0, fmt.Errorf("%q is too large", s)
	case err != nil || strings.Trim(s, "0123456789.eE+-") != "" || math.IsNaN(v) || math.IsInf(v, 0):
		return 0, fmt.Errorf("%q is not a number", s)
	}
	return v, nil
}

const mostCounted = 1_000_000 // beyond this a count is a typing error

func count(s string) (int, error) {
	v, err := strconv.Atoi(s)
	switch {
	case err != nil:
		return 0, fmt.Errorf("%q is not a whole number", s)
	case v < 0:
		return 0, fmt.Errorf("%q is below 0", s)
	case v > mostCounted:
		return 0, fmt.Errorf("%q is too large", s)
	}
	return v, nil
}

func gauge(s string) (int, error) {
	v, err := strconv.Atoi(s)
	if err != nil || v < thickest || v > thinnest {
		return 0, fmt.Errorf("%q is no wire gauge from %d to %d", s, thickest, thinnest)
	}
	return v, nil
}

// date reads an ISO 8601 calendar date, as midnight UTC.
func date(s string) (time.Time, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || t.IsZero() {
		return time.Time{}, fmt.Errorf("%q is not a date such as 2024-03-31 (ISO 8601)", s)
	}
	return t, nil
}

func flag(s string) (bool, error) {
	switch strings.ToLower(s) {
	case "true", "yes":
		return true, nil
	case "false", "no":
		return false, nil
	}
	return false, fmt.Errorf("%q is none of true, false, yes, no", s)
}

func speed(s string) (standards.Speed, error) {
	v, err := standards.ParseSpeed(s)
	if err != nil {
		return 0, fmt.Errorf("%q is none of 10M, 100M, 1G, 2.5G, 5G, 10G, 25G, 40G, 100G", s)
	}
	return v, nil
}

func phy(s string) (string, error) {
	if !phyName.MatchString(s) {
		return "", fmt.Errorf("%q is not the IEEE name of a PHY, such as 10GBASE-SR", s)
	}
	return s, nil
}

// wordOf reads one of some words, in any case, and gives the table's spelling.
func wordOf[S ~string](words []S) func(string) (S, error) {
	return func(s string) (S, error) {
		i := slices.IndexFunc(words, func(w S) bool { return strings.EqualFold(string(w), s) })
		if i >= 0 {
			return words[i], nil
		}
		names := make([]string, len(words))
		for i, w := range words {
			names[i] = string(w)
		}
		return "", fmt.Errorf("%q is none of %s%s", s, strings.Join(names, ", "), DidYouMean(s, names))
	}
}
