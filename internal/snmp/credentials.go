package snmp

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"

	"github.com/gosnmp/gosnmp"
)

// Secret is a protocol with the passphrase its key is made from. The zero
// value stands for none. It never prints its passphrase.
type Secret struct {
	Protocol   string // MD5, SHA, SHA-224 ... or DES, AES-128 ...
	Passphrase string
}

// Credentials are what a switch wants to see. They never print a secret.
type Credentials struct {
	Version        int    // 2 for SNMPv2c, 3 for SNMPv3
	Community      string // SNMPv2c
	User           string // SNMPv3, as the following
	Authentication Secret
	Privacy        Secret
	ContextName    string
}

// protocol joins a name in a configuration to gosnmp's number.
type protocol[T any] struct {
	name   string
	number T
}

var authentications = []protocol[gosnmp.SnmpV3AuthProtocol]{
	{"MD5", gosnmp.MD5}, {"SHA", gosnmp.SHA}, {"SHA-224", gosnmp.SHA224},
	{"SHA-256", gosnmp.SHA256}, {"SHA-384", gosnmp.SHA384}, {"SHA-512", gosnmp.SHA512},
}

// The names without C extend the key as draft-blumenthal-aes-usm-04 does, those
// with C as draft-reeder-snmpv3-usm-3dese does; neither became a standard.
var privacies = []protocol[gosnmp.SnmpV3PrivProtocol]{
	{"DES", gosnmp.DES}, {"AES-128", gosnmp.AES}, {"AES-192", gosnmp.AES192}, {"AES-256", gosnmp.AES256},
	{"AES-192-C", gosnmp.AES192C}, {"AES-256-C", gosnmp.AES256C},
}

// find gives the number of a protocol; where the name is unknown the error
// lists the known ones.
func find[T any](kind, name string, known []protocol[T]) (T, error) {
	names := make([]string, len(known))
	for i, p := range known {
		if strings.EqualFold(p.name, name) {
			return p.number, nil
		}
		names[i] = p.name
	}
	var none T
	return none, fmt.Errorf("%s protocol %q is none of %s", kind, name, strings.Join(names, ", "))
}

const (
	shortestPassphrase = 8   // RFC 3414 11.2
	longestUser        = 32  // usmUserName, RFC 3414 5
	longestContext     = 32  // vacmContextName, RFC 3415 4
	longestCommunity   = 127 // what gosnmp can encode
)

// Check says what is wrong with the credentials; nil where nothing is.
func (c Credentials) Check() error {
	switch c.Version {
	case 2:
		return c.checkCommunity()
	case 3:
		return c.checkUser()
	}
	return fmt.Errorf("SNMP version %d is not supported: give 2 for SNMPv2c, 3 for SNMPv3", c.Version)
}

func (c Credentials) checkCommunity() error {
	switch {
	case c.Community == "":
		return errors.New("SNMPv2c needs a community")
	case len(c.Community) > longestCommunity:
		return fmt.Errorf("the community is %d bytes long, at most %d are possible", len(c.Community), longestCommunity)
	case c.User != "" || c.Authentication != Secret{} || c.Privacy != Secret{} || c.ContextName != "":
		return errors.New("SNMPv2c knows no user, authentication, privacy or context: set the version to 3 or take them out")
	}
	return nil
}

func (c Credentials) checkUser() error {
	switch {
	case c.Community != "":
		return errors.New("SNMPv3 knows no community: set the version to 2 or take it out")
	case c.User == "":
		return errors.New("SNMPv3 needs a user")
	case len(c.User) > longestUser:
		return fmt.Errorf("the user's name is %d bytes long, at most %d are allowed (RFC 3414)", len(c.User), longestUser)
	case len(c.ContextName) > longestContext:
		return fmt.Errorf("the context's name is %d bytes long, at most %d are allowed (RFC 3415)", len(c.ContextName), longestContext)
	case c.Privacy != Secret{} && c.Authentication == Secret{}:
		return errors.New("privacy needs authentication (RFC 3414 1.4.2): give an authentication protocol and passphrase too")
	}
	if err := checkSecret("authentication", c.Authentication, authentications); err != nil {
		return err
	}
	return checkSecret("privacy", c.Privacy, privacies)
}

func checkSecret[T any](kind string, s Secret, known []protocol[T]) error {
	if s == (Secret{}) {
		return nil
	}
	if s.Protocol == "" {
		return fmt.Errorf("there is a passphrase for %s but no protocol", kind)
	}
	if _, err := find(kind, s.Protocol, known); err != nil {
		return err
	}
	if len(s.Passphrase) < shortestPassphrase {
		return fmt.Errorf("the passphrase for %s has %d bytes, at least %d are needed (RFC 3414 11.2)",
			kind, len(s.Passphrase), shortestPassphrase)
	}
	return nil
}

// String names the protocol, never the passphrase.
func (s Secret) String() string {
	if s.Protocol == "" {
		return "none"
	}
	return s.Protocol
}

// GoString is String.
func (s Secret) GoString() string { return s.String() }

// Format writes String whatever the verb.
func (s Secret) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, s.String()) }

// LogValue is String.
func (s Secret) LogValue() slog.Value { return slog.StringValue(s.String()) }

// MarshalText is String.
func (s Secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// String names the version and the user, never a secret; a community is one.
func (c Credentials) String() string {
	if c.Version != 3 {
		return fmt.Sprintf("version %d, community hidden", c.Version)
	}
	return fmt.Sprintf("version 3, user %q, authentication %s, privacy %s", c.User, c.Authentication, c.Privacy)
}

// GoString is String.
func (c Credentials) GoString() string { return c.String() }

// Format writes String whatever the verb.
func (c Credentials) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, c.String()) }

// LogValue is String.
func (c Credentials) LogValue() slog.Value { return slog.StringValue(c.String()) }

// MarshalText is String.
func (c Credentials) MarshalText() ([]byte, error) { return []byte(c.String()), nil }
