package snmp_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

func TestCheckSaysWhatIsWrong(t *testing.T) {
	good := snmp.Secret{Protocol: "SHA-256", Passphrase: "harbour light"}
	private := snmp.Secret{Protocol: "AES-128", Passphrase: "slack water"}
	for name, row := range map[string]struct {
		credentials snmp.Credentials
		hint        string // "" for none
	}{
		"v2c":                {snmp.Credentials{Version: 2, Community: "quay"}, ""},
		"noAuthNoPriv":       {snmp.Credentials{Version: 3, User: "u"}, ""},
		"authNoPriv":         {snmp.Credentials{Version: 3, User: "u", Authentication: good}, ""},
		"authPriv":           {snmp.Credentials{Version: 3, User: "u", Authentication: good, Privacy: private, ContextName: "c"}, ""},
		"small letters":      {snmp.Credentials{Version: 3, User: "u", Authentication: snmp.Secret{Protocol: "sha-512", Passphrase: "harbour light"}}, ""},
		"no version":         {snmp.Credentials{Community: "quay"}, "2 for SNMPv2c"},
		"version 1":          {snmp.Credentials{Version: 1, Community: "quay"}, "not supported"},
		"no community":       {snmp.Credentials{Version: 2}, "needs a community"},
		"community of 128":   {snmp.Credentials{Version: 2, Community: strings.Repeat("q", 128)}, "at most 127"},
		"community and user": {snmp.Credentials{Version: 2, Community: "quay", User: "u"}, "version to 3"},
		"no user":            {snmp.Credentials{Version: 3}, "needs a user"},
		"user of 33":         {snmp.Credentials{Version: 3, User: strings.Repeat("u", 33)}, "RFC 3414"},                   // usmUserName is SIZE(1..32)
		"context of 33":      {snmp.Credentials{Version: 3, User: "u", ContextName: strings.Repeat("c", 33)}, "RFC 3415"}, // vacmContextName is SIZE(0..32)
		"user and community": {snmp.Credentials{Version: 3, User: "u", Community: "quay"}, "version to 2"},
		"privacy alone":      {snmp.Credentials{Version: 3, User: "u", Privacy: private}, "needs authentication"},
		"unknown protocol":   {snmp.Credentials{Version: 3, User: "u", Authentication: snmp.Secret{Protocol: "SHA256", Passphrase: "harbour light"}}, "MD5, SHA, SHA-224, SHA-256, SHA-384, SHA-512"},
		"unknown cipher":     {snmp.Credentials{Version: 3, User: "u", Authentication: good, Privacy: snmp.Secret{Protocol: "3DES", Passphrase: "slack water"}}, "DES, AES-128, AES-192, AES-256, AES-192-C, AES-256-C"},
		"passphrase of 7":    {snmp.Credentials{Version: 3, User: "u", Authentication: snmp.Secret{Protocol: "SHA", Passphrase: "1234567"}}, "at least 8"}, // RFC 3414 11.2
		"passphrase without": {snmp.Credentials{Version: 3, User: "u", Authentication: snmp.Secret{Passphrase: "harbour light"}}, "no protocol"},
		"protocol without":   {snmp.Credentials{Version: 3, User: "u", Authentication: good, Privacy: snmp.Secret{Protocol: "AES-128"}}, "has 0 bytes"},
	} {
		t.Run(name, func(t *testing.T) {
			err := row.credentials.Check()
			_, opened := snmp.Open(snmp.Target{Name: "acc-1", Address: "127.0.0.1:161", Credentials: row.credentials, Timeout: time.Second})
			if row.hint == "" {
				require.NoError(t, err)
				require.NoError(t, opened)
				return
			}
			require.ErrorContains(t, err, row.hint)
			require.ErrorContains(t, opened, row.hint)
			require.NotContains(t, err.Error(), "harbour")
			require.NotContains(t, err.Error(), "1234567")
		})
	}
}

func TestOpenChecksTheTarget(t *testing.T) {
	for hint, change := range map[string]func(*snmp.Target){
		"host:port":        func(t *snmp.Target) { t.Address = "192.0.2.10" },
		"1 to 65535":       func(t *snmp.Target) { t.Address = "192.0.2.10:snmp" },
		"from 1 to 65535":  func(t *snmp.Target) { t.Address = "192.0.2.10:0" },
		"with a port":      func(t *snmp.Target) { t.Address = ":161" },
		"timeout":          func(t *snmp.Target) { t.Timeout = 0 },
		"retries":          func(t *snmp.Target) { t.Retries = -1 },
		"between 0 and 10": func(t *snmp.Target) { t.Retries = 11 },
	} {
		target := snmp.Target{Name: "acc-1", Address: "192.0.2.10:161", Credentials: v2c, Timeout: time.Second}
		change(&target)
		_, err := snmp.Open(target)
		require.ErrorContains(t, err, hint)
		require.ErrorContains(t, err, "acc-1")
	}
}

func TestSecretsAreNeverPrinted(t *testing.T) {
	target := snmp.Target{Name: "acc-1", Credentials: snmp.Credentials{
		Version: 3, Community: "SECRET", User: "toneout",
		Authentication: snmp.Secret{Protocol: "SHA", Passphrase: "SECRET"}, Privacy: snmp.Secret{Protocol: "DES", Passphrase: "SECRET"},
	}}
	community := snmp.Credentials{Version: 2, Community: "SECRET"}
	var out bytes.Buffer
	for _, verb := range []string{"%v", "%+v", "%#v", "%s", "%q", "%x", "%X", "%d"} {
		for _, thing := range []any{target, &target, target.Credentials, &target.Credentials, target.Credentials.Privacy, &target.Credentials.Privacy, community} {
			fmt.Fprintf(&out, verb+"\n", thing)
		}
	}
	logger := slog.New(slog.NewJSONHandler(&out, nil))
	logger.Info("m", "target", target, "credentials", target.Credentials, "secret", target.Credentials.Privacy, "community", community)
	logger = slog.New(slog.NewTextHandler(&out, nil))
	logger.Info("m", "target", target, "credentials", target.Credentials, "secret", target.Credentials.Privacy, "community", community)
	require.NoError(t, json.NewEncoder(&out).Encode(target))
	require.NotContains(t, out.String(), "SECRET")
	require.NotContains(t, strings.ToUpper(out.String()), fmt.Sprintf("%X", "SECRET"))
	require.Contains(t, out.String(), "toneout")
}

// Every pair of protocols polls. The simulated agent shares gosnmp's codec; that
// SHA-256 with AES-128 means the same to others is tested against net-snmp.
func TestEveryProtocol(t *testing.T) {
	simulated := map[string]string{"AES-192-C": "AES-192C", "AES-256-C": "AES-256C"}
	var users []sim.User
	var all []snmp.Credentials
	for _, authentication := range []string{"", "MD5", "SHA", "SHA-224", "SHA-256", "SHA-384", "SHA-512"} {
		for _, privacy := range []string{"", "DES", "AES-128", "AES-192", "AES-256", "AES-192-C", "AES-256-C"} {
			if authentication == "" && privacy != "" {
				continue
			}
			c := snmp.Credentials{Version: 3, User: "u-" + authentication + "-" + privacy}
			u := sim.User{Name: c.User, Authentication: authentication, Privacy: privacy}
			if authentication != "" {
				c.Authentication = snmp.Secret{Protocol: authentication, Passphrase: "harbour light"}
				u.Passphrase = "harbour light"
			}
			if privacy != "" {
				c.Privacy = snmp.Secret{Protocol: privacy, Passphrase: "slack water"}
				u.PrivacyPassphrase = "slack water"
			}
			if other, ok := simulated[privacy]; ok {
				u.Privacy = other
			}
			users, all = append(users, u), append(all, c)
		}
	}
	address := serveTo(t, ports(2), sim.Security{Users: users})
	for _, c := range all {
		t.Run(c.User, func(t *testing.T) {
			require.Len(t, poll(t, open(t, address, c)).Ports, 2)
		})
	}
}
