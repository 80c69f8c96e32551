package snmp

import (
	"context"
	"net"
	"os"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// unreachable is a socket on which an ICMP error comes back for each of the
// first requests, and then silence.
type unreachable struct {
	net.Conn
	errno  syscall.Errno
	errors int
	writes int
	until  time.Time
}

func (u *unreachable) SetReadDeadline(at time.Time) error { u.until = at; return nil }

func (u *unreachable) Write(b []byte) (int, error) {
	u.writes++
	return len(b), nil
}

func (u *unreachable) Read([]byte) (int, error) {
	if u.errors--; u.errors >= 0 {
		return 0, &net.OpError{Op: "read", Net: "udp", Err: os.NewSyscallError("read", u.errno)}
	}
	<-time.After(time.Until(u.until))
	return 0, os.ErrDeadlineExceeded
}

// RFC 1122 3.2.2.1: unreachable networks and hosts may be a passing state of the
// routes, so they don't end a request; a switch behind them gives no answer.
func TestRoutersThatSayUnreachable(t *testing.T) {
	t.Parallel()
	for _, errno := range []syscall.Errno{syscall.EHOSTUNREACH, syscall.ENETUNREACH} {
		for _, errors := range []int{1, 9} {
			s, err := Open(Target{Name: "a", Address: "192.0.2.1:161", Credentials: Credentials{Version: 2, Community: "quay"}, Timeout: 300 * time.Millisecond, Retries: 2})
			require.NoError(t, err)
			w := new(workspace)
			s.patience.begin()
			socket := &unreachable{errno: errno, errors: errors}
			c := &conversation{ctx: context.Background(), target: s.target, session: s.session, patience: s.patience, conn: socket, buffer: w.buffer[:], id: 1}
			_, _, err = s.talk(c, w)
			require.Equal(t, NoAnswer, classed(err), "%v", err)
			require.ErrorIs(t, err, errno)
			require.Equal(t, 3, socket.writes)
		}
	}
}
