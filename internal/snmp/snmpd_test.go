package snmp_test

import (
	"context"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/snmp"
	"toneout/internal/snmp/snmpdtest"

	"github.com/stretchr/testify/require"
)

const (
	fcsErrors = "1.3.6.1.2.1.10.7.2.1.3" // dot3StatsFCSErrors, RFC 3635
	patience  = 30 * time.Second
)

// until polls until what is waited for shows; the agent caches its tables for
// some seconds. The wait between polls is the poll's own.
func until(t *testing.T, s *snmp.Switch, what string, shows func(port.Poll) bool) port.Poll {
	t.Helper()
	tick := time.NewTicker(100 * time.Millisecond)
	defer tick.Stop()
	for end := time.Now().Add(patience); time.Now().Before(end); <-tick.C {
		if p := poll(t, s); shows(p) {
			return p
		}
	}
	t.Fatalf("%s doesn't show within %v", what, patience)
	return port.Poll{}
}

func TestARealLinkGoesDownAndUp(t *testing.T) {
	t.Parallel()
	agent := snmpdtest.Start(t, 3)
	s := open(t, agent.Address, snmpdUser)
	before := until(t, s, "the link of port2", func(p port.Poll) bool { return named(t, p, "port2").Oper == port.Up })

	agent.SetLink("port2", false)
	down := until(t, s, "the loss of the link", func(p port.Poll) bool { return named(t, p, "port2").Oper != port.Up })
	r := named(t, down, "port2")
	require.Contains(t, []port.Status{port.Down, port.LowerLayerDown}, r.Oper)
	require.Equal(t, port.Up, r.Admin)
	require.Greater(t, lastChange(t, r), lastChange(t, named(t, before, "port2")))
	require.Equal(t, port.Up, named(t, down, "port1").Oper)
	require.Equal(t, lastChange(t, named(t, before, "port3")), lastChange(t, named(t, down, "port3")))

	agent.SetLink("port2", true)
	up := until(t, s, "the return of the link", func(p port.Poll) bool { return named(t, p, "port2").Oper == port.Up })
	require.Greater(t, lastChange(t, named(t, up, "port2")), lastChange(t, r))
}

func lastChange(t *testing.T, r port.Reading) uint32 {
	t.Helper()
	ticks, ok := r.LastChange.Get()
	require.True(t, ok)
	return ticks
}

func TestCountsStayWithTheirPortWhenTheAgentRenumbers(t *testing.T) {
	agent := snmpdtest.Start(t, 5)
	agent.Override("port2", fcsErrors, "counter", "17")
	agent.Override("port4", fcsErrors, "counter", "4294967295")
	agent.Restart(false)
	for name, credentials := range map[string]snmp.Credentials{"v2c": v2cOf(snmpdtest.Community), "v3": snmpdUser} {
		t.Run(name, func(t *testing.T) {
			s := open(t, agent.Address, credentials)
			want := map[string]uint64{"port1": 0, "port2": 17, "port3": 0, "port4": 4294967295, "port5": 0}
			before := poll(t, s)
			counts(t, before, want)

			agent.Restart(true)
			after := poll(t, s)
			counts(t, after, want)
			for port := range want {
				require.NotEqual(t, named(t, before, port).Index, named(t, after, port).Index)
				require.Equal(t, agent.Index(port), named(t, after, port).Index)
			}
			earlier, _ := before.Uptime.Get()
			later, _ := after.Uptime.Get()
			require.Less(t, later, max(earlier, 2000), "a young agent")
		})
	}
}

func counts(t *testing.T, p port.Poll, want map[string]uint64) {
	t.Helper()
	for name, errors := range want {
		r := named(t, p, name)
		got, ok := r.Counters.Get(port.FCS)
		require.True(t, ok, name)
		require.Equal(t, errors, got, name)
		require.True(t, r.Physical(), name)
	}
}

func TestARealAgentRefusesForAReason(t *testing.T) {
	t.Parallel()
	agent := snmpdtest.Start(t, 1)
	with := func(change func(*snmp.Credentials)) snmp.Credentials {
		c := snmpdUser
		change(&c)
		return c
	}
	for name, row := range map[string]struct {
		credentials snmp.Credentials
		class       snmp.Class
		hint        string
	}{
		// RFC 3414 3.2: step 4 unknown user, 5 security level, 6 digest; RFC 3412 7.2
		"wrong community":                 {v2cOf("stranger"), snmp.NoAnswer, "community"},
		"unknown user":                    {with(func(c *snmp.Credentials) { c.User = "stranger" }), snmp.BadCredentials, "doesn't know the user"},
		"wrong authentication passphrase": {with(func(c *snmp.Credentials) { c.Authentication.Passphrase = "harbour dark" }), snmp.BadCredentials, "wrong digest"},
		"wrong authentication protocol":   {with(func(c *snmp.Credentials) { c.Authentication.Protocol = "SHA-512" }), snmp.BadCredentials, `user "toneout", authentication SHA-512`},
		"wrong privacy passphrase":        {with(func(c *snmp.Credentials) { c.Privacy.Passphrase = "quick water" }), snmp.BadCredentials, "privacy passphrase"},
		"wrong privacy protocol":          {with(func(c *snmp.Credentials) { c.Privacy.Protocol = "DES" }), snmp.BadCredentials, "privacy"},
		"no privacy":                      {with(func(c *snmp.Credentials) { c.Privacy = snmp.Secret{} }), snmp.BadCredentials, "access rules"},
		"neither":                         {with(func(c *snmp.Credentials) { c.Privacy, c.Authentication = snmp.Secret{}, snmp.Secret{} }), snmp.BadCredentials, "access rules"},
		"unknown context":                 {with(func(c *snmp.Credentials) { c.ContextName = "elsewhere" }), snmp.BadCredentials, "context"},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t, agent.Address, row.credentials, func(target *snmp.Target) { target.Timeout, target.Retries = 300*time.Millisecond, 0 })
			for range 2 { // the second poll must come to the same
				p, err := s.Poll(context.Background())
				require.Error(t, err)
				require.Equal(t, row.class, snmp.ClassOf(err), "%v", err)
				require.Contains(t, err.Error(), row.hint)
				require.Contains(t, err.Error(), "acc-1")
				require.Contains(t, err.Error(), agent.Address)
				require.Empty(t, p)
				for _, secret := range []string{"harbour", "water", "stranger\" community"} {
					require.NotContains(t, fmt.Sprintf("%v %+v", err, err), secret)
				}
			}
		})
	}
}

// The protocols of RFC 3414, 3826 and 7860, and the two key extensions that
// never became a standard, of which net-snmp speaks draft-blumenthal-aes-usm-04
// as AES-192 and AES-256. With a digest that is as long as the key, both are one.
func TestARealAgentKnowsTheProtocols(t *testing.T) {
	agent := snmpdtest.Start(t, 1)
	names := map[string][]string{"": {""}, "DES": {"DES"}, "AES": {"AES-128"}, "AES-192": {"AES-192", "AES-192-C"}, "AES-256": {"AES-256", "AES-256-C"}}
	same := map[string]string{"SHA-224": "AES-192-C", "SHA-256": "AES-192-C AES-256-C", "SHA-384": "AES-192-C AES-256-C", "SHA-512": "AES-192-C AES-256-C"}
	for _, authentication := range snmpdtest.Authentications {
		for _, privacy := range snmpdtest.Privacies {
			for _, ours := range names[privacy] {
				if strings.HasSuffix(ours, "-C") && !strings.Contains(same[authentication], ours) {
					continue
				}
				t.Run(authentication+" "+ours, func(t *testing.T) {
					c := snmp.Credentials{
						Version: 3, User: snmpdtest.UserOf(authentication, privacy),
						Authentication: snmp.Secret{Protocol: authentication, Passphrase: snmpdtest.AuthenticationPassphrase},
					}
					if ours != "" {
						c.Privacy = snmp.Secret{Protocol: ours, Passphrase: snmpdtest.PrivacyPassphrase}
					}
					s := open(t, agent.Address, c)
					for range 2 {
						require.Equal(t, "quay-agent", poll(t, s).Name)
					}
				})
			}
		}
	}
}

func TestAStoppedAgentIsRefusedAndComesBack(t *testing.T) {
	t.Parallel()
	agent := snmpdtest.Start(t, 1)
	for name, credentials := range map[string]snmp.Credentials{"v2c": v2cOf(snmpdtest.Community), "v3": snmpdUser} {
		t.Run(name, func(t *testing.T) {
			s := open(t, agent.Address, credentials, func(target *snmp.Target) { target.Timeout, target.Retries = time.Second, 4 })
			poll(t, s)
			agent.Stop()
			_, err := s.Poll(context.Background())
			require.Equal(t, snmp.Refused, snmp.ClassOf(err), "%v", err)
			agent.Restart(false) // one more boot: SNMPv3's clocks no longer agree (RFC 3414 2.3)
			require.NotEmpty(t, poll(t, s).Ports)
		})
	}
}

func TestNobodyThere(t *testing.T) {
	t.Parallel()
	silent, err := net.ListenPacket("udp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, silent.Close()) })
	for name, row := range map[string]struct {
		address     string
		credentials snmp.Credentials
		class       snmp.Class
		hint        string
	}{
		"silence":       {silent.LocalAddr().String(), v2c, snmp.NoAnswer, "no answer to 2 requests within 500ms each"},
		"silence to v3": {silent.LocalAddr().String(), snmpdUser, snmp.NoAnswer, "engine discovery"},
		"no such name":  {"switch.invalid:161", v2c, snmp.NoAnswer, "switch.invalid"}, // RFC 6761 6.4
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t, row.address, row.credentials, func(target *snmp.Target) { target.Timeout = 500 * time.Millisecond })
			_, err := s.Poll(context.Background())
			require.Equal(t, row.class, snmp.ClassOf(err), "%v", err)
			require.Contains(t, err.Error(), row.hint)
		})
	}
}

// A real agent's walk over rows of ENTITY-MIB, ENTITY-SENSOR-MIB and
// POWER-ETHERNET-MIB that it was given: its indexes of parts are ports' ifIndexes,
// and so are the numbers within power group 1, which count ports by name.
func TestARealAgentTellsOfAnOptic(t *testing.T) {
	t.Parallel()
	agent := snmpdtest.Start(t, 8)
	entity := func(port string, class, in int, name, serial string) {
		agent.Override(port, "1.3.6.1.2.1.47.1.1.1.1.4", "integer", fmt.Sprint(in))
		agent.Override(port, "1.3.6.1.2.1.47.1.1.1.1.5", "integer", fmt.Sprint(class))
		agent.Override(port, "1.3.6.1.2.1.47.1.1.1.1.7", "octet_str", fmt.Sprintf("%q", name))
		agent.Override(port, "1.3.6.1.2.1.47.1.1.1.1.11", "octet_str", fmt.Sprintf("%q", serial))
	}
	sensor := func(port, name string, kind, scale, precision, value int, units string) {
		entity(port, 8, agent.Index("port2"), name, "")
		for column, n := range map[int]int{1: kind, 2: scale, 3: precision, 4: value, 5: 1} {
			agent.Override(port, fmt.Sprintf("%s.1.%d", sensorTable, column), "integer", fmt.Sprint(n))
		}
		agent.Override(port, sensorTable+".1.6", "octet_str", units)
	}
	entity("port1", 10, 0, "port1", "x")
	entity("port2", 9, agent.Index("port1"), "an optic", "OP-7")
	sensor("port3", "Rx power", 6, 8, 4, 5000, "mW")
	sensor("port4", "Tx power", 14, 9, 2, -250, "dBm")
	sensor("port5", "Tx bias", 5, 8, 1, 65, "mA")
	sensor("port6", "Temperature", 8, 9, 1, 345, "celsius")
	fed := fmt.Sprint("port", agent.Index("port1"))
	agent.Override("port1", powerTable+".1.3.1", "integer", "1")
	agent.Override("port1", powerTable+".1.6.1", "integer", "4")
	agent.Override("port1", powerTable+".1.14.1", "counter", "4294967295")
	agent.Restart(false)
	for name, credentials := range map[string]snmp.Credentials{"v2c": v2cOf(snmpdtest.Community), "v3": snmpdUser} {
		p := poll(t, open(t, agent.Address, credentials))
		require.NotNil(t, p.Details, name)
		optic := p.Details.Optics[agent.Index("port1")]
		require.NotNil(t, optic, "%s: %+v", name, tableOf(p, "entPhySensorTable"))
		require.Equal(t, "OP-7", optic.Serial)
		is(t, 34.5, 0.001, optic.Celsius, name)
		require.Len(t, optic.Lanes, 1)
		is(t, -3.0103, 0.001, optic.Lanes[0].Received, name)
		is(t, -2.5, 0.001, optic.Lanes[0].Sent, name)
		is(t, 6.5, 0.001, optic.Lanes[0].BiasMA, name)
		require.Equal(t, map[int]port.Power{
			agent.Index(fed): {Enabled: port.Yes, Status: port.PowerFault, Shorts: port.Some(uint32(1<<32 - 1))},
		}, p.Details.Power, "%s: %+v", name, tableOf(p, "pethPsePortTable"))
	}
}
