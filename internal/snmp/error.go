package snmp

import (
	"context"
	"errors"
	"fmt"
	"net"
	"syscall"

	"github.com/gosnmp/gosnmp"
)

// Class is why a poll failed, in a word or two fit for a label.
type Class string

// The classes.
const (
	NoAnswer       Class = "no answer"   // silence, or the name has no address
	Refused        Class = "refused"     // ICMP says that nothing listens there
	BadCredentials Class = "credentials" // the switch answered that it doesn't accept them
	TimeWindow     Class = "time window" // SNMPv3 clocks can't be brought together
	AgentError     Class = "agent error" // the switch answered with an error status
	Malformed      Class = "malformed"   // answers that are no answers, or without end
	Restarted      Class = "restarted"   // the agent restarted during the poll
	Deadline       Class = "deadline"    // the switch answers, too slowly for the time given
	Canceled       Class = "canceled"    // the caller gave up
	Unspecified    Class = "unspecified" // none of these, e.g. no socket to be had
)

// Error is a failed poll of one switch.
type Error struct {
	Switch  string
	Address string
	Asked   string // for what, e.g. "other counters"
	Class   Class
	Err     error // what happened, with a hint; holds no secret
}

func (e *Error) Error() string {
	return fmt.Sprintf("poll switch %s at %s for its %s: %v", e.Switch, e.Address, e.Asked, e.Err)
}

// Unwrap gives what happened.
func (e *Error) Unwrap() error { return e.Err }

// ClassOf gives the class of an error of Poll; Unspecified for other errors,
// "" for nil.
func ClassOf(err error) Class {
	var e *Error
	switch {
	case err == nil:
		return ""
	case errors.As(err, &e):
		return e.Class
	}
	return Unspecified
}

// failure is an error with its class, before it is known which switch and
// question it belongs to.
type failure struct {
	class Class
	error
}

func (f failure) Unwrap() error { return f.error }

func fail(class Class, format string, arguments ...any) error {
	return failure{class, fmt.Errorf(format, arguments...)}
}

// classed gives the class that an error of the layers below belongs to.
func classed(err error) Class {
	var f failure
	var status statusError
	var dns *net.DNSError
	switch {
	case errors.As(err, &f):
		return f.class
	case errors.As(err, &status) && status.denies():
		return BadCredentials
	case errors.As(err, &status), errors.Is(err, errTooBig):
		return AgentError
	case errors.Is(err, context.Canceled):
		return Canceled
	case errors.Is(err, context.DeadlineExceeded):
		return Deadline
	case errors.As(err, &dns):
		return NoAnswer
	case errors.Is(err, syscall.ECONNREFUSED):
		return Refused
	}
	return Unspecified
}

// denies tells whether the switch's access rules refuse the whole answer or a
// part of it (RFC 3413 3.2, RFC 3415).
func (e statusError) denies() bool {
	return e.status == gosnmp.NoAccess || e.status == gosnmp.AuthorizationError
}

// denied tells whether an error is such a refusal.
func denied(err error) bool {
	var status statusError
	return errors.As(err, &status) && status.denies()
}

// unheard tells whether an error is that nothing came, or not in time.
func unheard(err error) bool {
	class := classed(err)
	return class == NoAnswer || class == Deadline
}
