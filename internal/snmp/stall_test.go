package snmp

import (
	"context"
	"net"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// stalled is a socket of a machine that is busy elsewhere: of the first attempt's
// end it hears long after its time.
type stalled struct {
	net.Conn
	until  time.Time
	writes []time.Time
	waits  []time.Duration
}

func (s *stalled) SetReadDeadline(at time.Time) error { s.until = at; return nil }

func (s *stalled) Write(b []byte) (int, error) {
	s.writes = append(s.writes, time.Now())
	return len(b), nil
}

func (s *stalled) Read([]byte) (int, error) {
	s.waits = append(s.waits, time.Until(s.until))
	if len(s.waits) == 1 {
		<-time.After(time.Until(s.until) + 1500*time.Millisecond)
	} else {
		<-time.After(time.Until(s.until))
	}
	return 0, os.ErrDeadlineExceeded
}

// A switch isn't silent where this machine had no time to ask it often enough.
func TestAStalledMachineAsksAsOftenAsItShould(t *testing.T) {
	t.Parallel()
	const timeout = 400 * time.Millisecond
	s, err := Open(Target{Name: "a", Address: "192.0.2.1:161", Credentials: Credentials{Version: 2, Community: "quay"}, Timeout: timeout, Retries: 2})
	require.NoError(t, err)
	w := new(workspace)
	s.patience.begin()
	socket := &stalled{}
	c := &conversation{ctx: context.Background(), target: s.target, session: s.session, patience: s.patience, conn: socket, buffer: w.buffer[:], id: 1}
	_, _, err = s.talk(c, w)
	require.Equal(t, NoAnswer, classed(err), "%v", err)
	require.Len(t, socket.writes, 3)
	for _, wait := range socket.waits {
		require.Positive(t, wait)
	}
}
