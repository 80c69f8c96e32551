package journal

import (
	"net"
	"os"
	"testing"
	"time"

	"github.com/lib/pq"
	"github.com/stretchr/testify/require"
)

// A server that takes the connection and says nothing, as one that was stopped.
func TestASilentServerIsGivenUp(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, l.Close()) })
	connector, err := pq.NewConnector("postgres://toneout@" + l.Addr().String() + "/journal?sslmode=disable")
	require.NoError(t, err)
	connector.Dialer(dialer{20 * time.Millisecond})
	_, err = connector.Connect(t.Context())
	require.ErrorIs(t, err, os.ErrDeadlineExceeded)
}
