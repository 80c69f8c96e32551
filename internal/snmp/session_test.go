package snmp

import (
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"
	"github.com/stretchr/testify/require"
)

// started gives a session that has found its engine.
func started(t *testing.T, privacy string, at time.Time) *session {
	t.Helper()
	s := newSession(Credentials{
		Version: 3, User: "u", Authentication: Secret{"SHA-256", "harbour light"}, Privacy: Secret{privacy, "slack water"},
	})
	engine := &gosnmp.UsmSecurityParameters{AuthoritativeEngineID: "\x80\x00\x7e\xd9\x04q", AuthoritativeEngineBoots: 3, AuthoritativeEngineTime: 1000}
	require.NoError(t, s.learn(engine, at))
	return s
}

// sent gives the security parameters of a request as they are on the wire.
func sent(t *testing.T, s *session, id uint32, at time.Time) *gosnmp.UsmSecurityParameters {
	t.Helper()
	message, err := s.encode(request{kind: gosnmp.GetRequest, names: names(sysUpTime0)}, id, at)
	require.NoError(t, err)
	header, err := s.client.UnmarshalTrap(message, false)
	require.NoError(t, err)
	usm, ok := header.SecurityParameters.(*gosnmp.UsmSecurityParameters)
	require.True(t, ok)
	return usm
}

// RFC 3414 8.1.1.1 (DES) and RFC 3826 3.1.2.1 (AES): a salt isn't used twice
// with a key, and one session doesn't start where another did.
func TestSaltsAreNotUsedTwice(t *testing.T) {
	for _, privacy := range []string{"DES", "AES-128"} {
		now, seen := time.Now(), map[string]bool{}
		for range 20 {
			s := started(t, privacy, now)
			for id := range uint32(20) {
				salt := string(sent(t, s, id+1, now).PrivacyParameters)
				require.Len(t, salt, 8)
				require.False(t, seen[salt], privacy)
				seen[salt] = true
			}
		}
	}
}

// RFC 3414 2.3: our notion of the engine's clock goes on with ours.
func TestTheEnginesClockAdvances(t *testing.T) {
	start := time.Now()
	s := started(t, "AES-128", start)
	for _, row := range []struct {
		after time.Duration
		want  uint32
	}{{0, 1000}, {900 * time.Millisecond, 1000}, {1900 * time.Millisecond, 1001}, {2 * time.Second, 1002}, {time.Hour, 4600}} {
		usm := sent(t, s, 1, start.Add(row.after))
		require.Equal(t, row.want, usm.AuthoritativeEngineTime, row.after)
		require.EqualValues(t, 3, usm.AuthoritativeEngineBoots)
	}
}

// names gives the octets of dotted names.
func names(dotted ...string) [][]byte {
	all := make([][]byte, len(dotted))
	for i, name := range dotted {
		all[i] = nameOf(name)
	}
	return all
}
