package sim

import (
	"encoding/hex"
	"errors"
	"net"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"
	"github.com/stretchr/testify/require"
)

// client is gosnmp's, a second reference beside net-snmp's tools.
func client(t *testing.T, agent *Agent, user User) *gosnmp.GoSNMP {
	t.Helper()
	host, port, err := net.SplitHostPort(agent.Addr())
	require.NoError(t, err)
	number, err := strconv.ParseUint(port, 10, 16)
	require.NoError(t, err)
	g := &gosnmp.GoSNMP{
		Target: host, Port: uint16(number), Version: gosnmp.Version2c, Community: "quay", Timeout: 2 * time.Second,
		MaxOids: 200,
	}
	if user.Name != "" {
		g.Version, g.SecurityModel = gosnmp.Version3, gosnmp.UserSecurityModel
		g.MsgFlags = gosnmp.NoAuthNoPriv
		if user.Authentication != "" {
			g.MsgFlags = gosnmp.AuthNoPriv
		}
		if user.Privacy != "" {
			g.MsgFlags = gosnmp.AuthPriv
		}
		g.MsgFlags |= gosnmp.Reportable
		g.SecurityParameters = &gosnmp.UsmSecurityParameters{
			UserName: user.Name, AuthenticationProtocol: digests[user.Authentication].protocol, AuthenticationPassphrase: user.Passphrase,
			PrivacyProtocol: privacies[user.Privacy], PrivacyPassphrase: user.PrivacyPassphrase,
		}
	}
	require.NoError(t, g.Connect())
	t.Cleanup(func() { g.Conn.Close() })
	return g
}

// RFC 3414 appendix A.3: "maplesyrup" localised to engine 00 .. 02.
func TestKeysByRFC3414(t *testing.T) {
	engine, _ := hex.DecodeString("000000000000000000000002")
	for protocol, want := range map[string]string{
		"MD5": "526f5eed9fcce26f8964c2930787d82b",
		"SHA": "6695febc9288e36282235fc7151f128497b38f3f",
	} {
		user, err := localise(User{Name: "u", Authentication: protocol, Passphrase: "maplesyrup"}, engine)
		require.NoError(t, err)
		require.Equal(t, want, hex.EncodeToString(user.authKey))
	}
}

func TestEveryProtocolPair(t *testing.T) {
	var users []User
	for authentication := range digests {
		for privacy := range privacies {
			if authentication != "" || privacy == "" {
				users = append(users, User{authentication + "/" + privacy, authentication, "harbour light", privacy, "slack water"})
			}
		}
	}
	agent := serve(t, Static{"1.3.6.1.2.1.1.5": {"0": Octets("quay")}}, Security{Users: users})
	for _, user := range users {
		answer, err := client(t, agent, user).Get([]string{".1.3.6.1.2.1.1.5.0"})
		require.NoError(t, err, user.Name)
		require.Equal(t, []byte("quay"), answer.Variables[0].Value, user.Name)
	}
}

func TestUnknownProtocolsAreRefused(t *testing.T) {
	for _, user := range []User{
		{Name: "a", Authentication: "SHA-3"},
		{Name: "b", Authentication: "SHA", Passphrase: "harbour light", Privacy: "ROT13", PrivacyPassphrase: "slack water"},
		{Name: "c", Privacy: "AES-128", PrivacyPassphrase: "slack water"},
	} {
		_, err := Listen("127.0.0.1:0", small, Security{Users: []User{user}})
		require.ErrorContains(t, err, strconv.Quote(user.Name))
	}
}

// Reports as section 3.2 of RFC 3414 numbers its steps.
func TestReportsByRFC3414(t *testing.T) {
	agent := newAgent(t, small)
	engine := agent.engine(nil, noon)
	other := engine
	other.ID = engineID("elsewhere")
	skewed := func(boots int32, seconds int) Engine {
		e := engine
		e.Boots, e.Up = uint32(int32(e.Boots)+boots), e.Up+time.Duration(seconds)*time.Second
		return e
	}
	signed, plain, secret := agent.usm.users["signed"], agent.usm.users["plain"], agent.usm.users["toneout"]
	forger := *signed
	forger.authKey = slices.Clone(signed.authKey)
	forger.authKey[0] ^= 1
	get := &Message{Type: GetRequest, RequestID: 77, Varbinds: names(arc + "1.1")}
	for _, row := range []struct {
		step    string
		engine  Engine
		name    string
		user    *localUser
		level   byte
		counter OID // nil: a response
		sealed  bool
	}{
		{"3: discovery (section 4)", Engine{}, "", nil, 0, unknownEngineIDs, false},
		{"3: another engine", other, "signed", signed, flagAuth, unknownEngineIDs, false},
		{"4: unknown user", engine, "nobody", signed, flagAuth, unknownUserNames, false},
		{"5: level above the user's", engine, "plain", signed, flagAuth, unsupportedSecLevels, false},
		{"5: privacy without a key for it", engine, "signed", secret, flagAuth | flagPriv, unsupportedSecLevels, false},
		{"6: wrong digest", engine, "signed", &forger, flagAuth, wrongDigests, false},
		{"7: boots of another life", skewed(-1, 0), "signed", signed, flagAuth, notInTimeWindows, true},
		{"7: boots to come", skewed(1, 0), "signed", signed, flagAuth, notInTimeWindows, true},
		{"7: 151 s late", skewed(0, 151), "signed", signed, flagAuth, notInTimeWindows, true},
		{"7: 150 s are allowed", skewed(0, 150), "signed", signed, flagAuth, nil, true},
		{"7: no time without authentication", skewed(5, 5000), "plain", plain, 0, nil, false},
		{"all right", engine, "toneout", secret, flagAuth | flagPriv, nil, true},
	} {
		t.Run(row.step, func(t *testing.T) {
			raw := agent.usm.seal(4711, get, row.engine, []byte(row.name), row.user, row.level|flagReportable)
			sent := agent.handle(raw, noon)
			require.Len(t, sent, 1)
			_, content, _ := wantInt(sent[0].Bytes[len(sent[0].Bytes)-lengthWithin(sent[0].Bytes):])
			m, err := readUSM(content)
			require.NoError(t, err)
			require.Equal(t, int64(4711), m.id, "the msgID is the request's (RFC 3412 section 7.1)")
			require.Equal(t, engine.ID, m.engineID)
			require.Equal(t, row.sealed, m.flags&flagAuth != 0)
			if row.counter == nil {
				return
			}
			_, _, pdu, err := readScope(m.data)
			require.NoError(t, err)
			report, err := readPDU(pdu)
			require.NoError(t, err)
			require.Equal(t, Report, report.Type)
			require.Equal(t, row.counter, report.Varbinds[0].Name)
			require.Equal(t, TagCounter32, report.Varbinds[0].Value.Tag)
			require.Positive(t, report.Varbinds[0].Value.Number)
			if row.level&flagPriv == 0 {
				require.Equal(t, int32(77), report.RequestID)
			}
			require.Empty(t, agent.handle(agent.usm.seal(4711, get, row.engine, []byte(row.name), row.user, row.level), noon),
				"no Report unless the message is reportable (RFC 3412 section 7.1)")
		})
	}
}

// lengthWithin gives the length of what the outermost sequence holds.
func lengthWithin(raw []byte) int {
	content, _, _ := want(raw, TagSequence)
	return len(content)
}

func TestContextsByRFC3412(t *testing.T) {
	agent := serve(t, small, everyUser())
	for _, row := range []struct {
		name, engine string
		want         error
	}{
		{"", "", nil},
		{"vlan-20", "", gosnmp.ErrUnknownReportPDU}, // snmpUnknownContexts, which gosnmp has no name for
		{"", "elsewhere", gosnmp.ErrUnknownPDUHandlers},
	} {
		g := client(t, agent, everyLevel["authPriv SHA-256 AES"].user)
		g.ContextName, g.ContextEngineID = row.name, row.engine
		_, err := g.Get([]string{arc + "1.1"})
		require.Truef(t, errors.Is(err, row.want), "%q %q: %v", row.name, row.engine, err)
	}
}

func TestARestartIsSeenThroughTheTimeWindow(t *testing.T) {
	_, s, _ := bench()
	now := noon.Add(time.Minute)
	agent := serve(t, s, everyUser(), func(a *Agent) { a.Now = func() time.Time { return now } })
	g := client(t, agent, everyLevel["authPriv SHA-256 AES"].user)
	boots := []string{".1.3.6.1.6.3.10.2.1.2.0", ".1.3.6.1.2.1.1.3.0"}
	before, err := g.Get(boots)
	require.NoError(t, err)
	s.Restart(now)
	after, err := g.Get(boots)
	require.NoError(t, err, "gosnmp asks again with the boots of the Report")
	require.Equal(t, before.Variables[0].Value.(int)+1, after.Variables[0].Value)
	require.Equal(t, uint32(0), after.Variables[1].Value)
	require.NotZero(t, before.Variables[1].Value)
}
