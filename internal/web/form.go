package web

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"time"
)

// form is what a person fills in on a page. It works without a script: it is sent, and
// comes back with what is wrong beside the fields and what was written kept.
type form struct {
	ID, Title, Button string // ID is its anchor too
	Action            string // where it is sent
	Lead              string // what it does, in a sentence
	Cautions          []string
	Fields            []*field
	Wrong             string // that is no field's
	Open              bool   // whether it is unfolded

	tell func(context.Context, *form) error // writes down what was filled in; nil where that is wrong, too
}

// field is one input of a form.
type field struct {
	Name, Label, Hint string
	Kind              string // text, time, choice, or fixed for what cannot be changed
	Value             string
	Wrong             string // what is wrong with it; "" for nothing
	Must              bool
	Choices           []choices
	Suggested         []string // names that may be meant
	First             bool     // the first that is wrong: there one goes on

	form *form
}

// ID tells the field from those of the page's other forms.
func (f *field) ID() string { return f.form.ID + "-" + f.Name }

// About are the ids of what explains the field.
func (f *field) About() string {
	var ids []string
	if f.Wrong != "" {
		ids = append(ids, f.ID()+"-wrong")
	}
	if f.Hint != "" {
		ids = append(ids, f.ID()+"-hint")
	}
	return strings.Join(ids, " ")
}

// choices are what may be chosen, under a heading of their own; "" for none.
type choices struct {
	Heading string
	Of      []choice
}

type choice struct{ Value, Text string }

// add appends a field.
func (f *form) add(x field) {
	x.form = f
	f.Fields = append(f.Fields, &x)
}

func (f *form) field(name string) *field {
	for _, x := range f.Fields {
		if x.Name == name {
			return x
		}
	}
	panic("no field " + name + " in the form " + f.ID)
}

func (f *form) value(name string) string { return f.field(name).Value }

// wrong says what is wrong with a field.
func (f *form) wrong(name, says string) {
	if x := f.field(name); x.Wrong == "" {
		x.Wrong = says
	}
}

func (f *form) isWrong() bool {
	if f.Wrong != "" {
		return true
	}
	for _, x := range f.Fields {
		if x.Wrong != "" {
			return true
		}
	}
	return false
}

// fill takes what was sent. What a field must have and what it cannot hold is the same
// everywhere.
func (f *form) fill(sent url.Values) {
	for _, x := range f.Fields {
		if x.Kind == fixed {
			continue
		}
		x.Value = strings.TrimSpace(sent.Get(x.Name))
		most := mostTold
		if x.Name == "by" {
			most = mostSigned
		}
		switch {
		case x.Must && x.Value == "":
			x.Wrong = "This is missing."
		case len(x.Value) > most:
			x.Wrong = "This is too long; " + digits(most) + " letters are the most."
		case controls(x.Value):
			x.Wrong = "Write this in one line, without control characters."
		case x.Kind == "choice" && !x.offers(x.Value):
			x.Wrong = "Choose one of the list."
		}
	}
}

func (f *field) offers(value string) bool {
	if value == "" {
		return true
	}
	for _, group := range f.Choices {
		for _, c := range group.Of {
			if c.Value == value {
				return true
			}
		}
	}
	return false
}

const fixed = "fixed"

// take takes what was sent, and tells whether it was written down.
func (f *form) take(ctx context.Context, sent url.Values) bool {
	f.Open = true
	f.fill(sent)
	if !f.isWrong() {
		if err := f.tell(ctx, f); err != nil {
			f.Wrong = sentenceOf(err.Error())
		}
	}
	for _, x := range f.Fields {
		if x.Wrong != "" {
			x.First = true
			break
		}
	}
	return !f.isWrong()
}

// sentenceOf begins with a capital letter and ends with a full stop.
func sentenceOf(text string) string {
	if text == "" {
		return ""
	}
	return strings.TrimSuffix(strings.ToUpper(text[:1])+text[1:], ".") + "."
}

// by asks who tells this; where there are users, it is the user.
func (f *form) by(user string) {
	if user != "" {
		f.add(field{Name: "by", Label: "By", Kind: fixed, Value: user})
		return
	}
	f.add(field{Name: "by", Label: "By", Kind: "text", Hint: "your name", Must: true})
}

// wallTimes are how browsers send a time of the wall clock, and how people write one.
var wallTimes = []string{"2006-01-02T15:04", "2006-01-02T15:04:05", "2006-01-02 15:04", "2006-01-02 15:04:05"}

// time reads a time in a zone; where there is none it says so beside the field.
func (f *form) time(name string, in *time.Location) time.Time {
	for _, form := range wallTimes {
		if at, err := time.ParseInLocation(form, f.value(name), in); err == nil {
			return at
		}
	}
	f.wrong(name, "Write the time as 2026-03-02 08:00.")
	return time.Time{}
}

// sent reads a form that a page of ours sent.
func (s Source) sent(w http.ResponseWriter, r *http.Request) (url.Values, error) {
	if err := s.mayTell(r); err != nil {
		return nil, err
	}
	r.Body = http.MaxBytesReader(w, r.Body, mostBody)
	if err := r.ParseForm(); err != nil {
		return nil, refused(http.StatusBadRequest, "What was sent cannot be read: %v.", err)
	}
	return r.PostForm, nil
}
