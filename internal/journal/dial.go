package journal

import (
	"context"
	"net"
	"time"
)

// mostSilent is how long a server may leave a request without a byte. The driver gives
// up a query only when the server says so: over a dead connection it would wait for ever.
const mostSilent = 10 * time.Second

// dialer makes connections that fail once the other side falls silent. The pool reads
// none that is idle, so that a quiet hour ends none.
type dialer struct{ silent time.Duration }

func (d dialer) Dial(network, address string) (net.Conn, error) {
	return d.DialContext(context.Background(), network, address)
}

func (d dialer) DialTimeout(network, address string, timeout time.Duration) (net.Conn, error) {
	ctx, cancel := context.WithTimeout(context.Background(), timeout)
	defer cancel()
	return d.DialContext(ctx, network, address)
}

func (d dialer) DialContext(ctx context.Context, network, address string) (net.Conn, error) {
	ctx, cancel := context.WithTimeout(ctx, d.silent)
	defer cancel()
	c, err := (&net.Dialer{}).DialContext(ctx, network, address)
	if err != nil {
		return nil, err
	}
	return impatient{c, d.silent}, nil
}

type impatient struct {
	net.Conn
	silent time.Duration
}

func (c impatient) Read(b []byte) (int, error) {
	if err := c.SetReadDeadline(time.Now().Add(c.silent)); err != nil {
		return 0, err
	}
	return c.Conn.Read(b)
}

func (c impatient) Write(b []byte) (int, error) {
	if err := c.SetWriteDeadline(time.Now().Add(c.silent)); err != nil {
		return 0, err
	}
	return c.Conn.Write(b)
}
