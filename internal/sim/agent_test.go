package sim

import (
	"context"
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// wire is a plain UDP socket at an agent, for what no decent client does.
type wire struct {
	t    *testing.T
	conn net.Conn
}

func dial(t *testing.T, agent *Agent) wire {
	conn, err := net.Dial("udp", agent.Addr())
	require.NoError(t, err)
	t.Cleanup(func() { conn.Close() })
	return wire{t, conn}
}

func (w wire) send(m *Message) {
	raw := appendTLV(nil, TagSequence, m.append(appendTLV(appendInt(nil, TagInteger, 1), TagOctetString, []byte("quay"))))
	_, err := w.conn.Write(raw)
	require.NoError(w.t, err)
}

func (w wire) receive() []byte {
	buf := make([]byte, 65536)
	require.NoError(w.t, w.conn.SetReadDeadline(time.Now().Add(5*time.Second)))
	n, err := w.conn.Read(buf)
	require.NoError(w.t, err)
	return buf[:n]
}

func TestMangle(t *testing.T) {
	get := &Message{Type: GetRequest, RequestID: 3, Varbinds: names(arc + "1.1")}
	var kept []Datagram
	plays := map[int32]func(Exchange) []Datagram{
		1: func(Exchange) []Datagram { return nil },
		2: func(e Exchange) []Datagram { return append(e.Send(), e.Send()...) },
		3: func(e Exchange) []Datagram { e.Response.RequestID = 0; return e.Send() },
		4: func(e Exchange) []Datagram { return []Datagram{{Bytes: []byte("garbage")}} },
		5: func(e Exchange) []Datagram {
			return []Datagram{{Bytes: e.Encode(e.Response), After: 30 * time.Millisecond}, {Bytes: []byte("first")}}
		},
		6: func(e Exchange) []Datagram { kept = e.Send(); return nil },
		7: func(e Exchange) []Datagram { return append(kept, e.Send()...) },
		8: func(e Exchange) []Datagram { e.Response.Type = SetRequest; return e.Send() },
	}
	agent := serve(t, small, everyUser(), func(a *Agent) {
		a.Mangle = func(e Exchange) []Datagram { return plays[e.Request.RequestID](e) }
	})
	w := dial(t, agent)
	do := func(id int32) { get.RequestID = id; w.send(get) }
	read := func() *Message {
		session, err := agent.openCommunity(w.receive()[5:])
		require.NoError(t, err)
		return session.request
	}
	do(1) // dropped: the next answer is to the next request
	do(2)
	require.Equal(t, int32(2), read().RequestID)
	require.Equal(t, int32(2), read().RequestID)
	do(3)
	require.Zero(t, read().RequestID)
	do(4)
	require.Equal(t, "garbage", string(w.receive()))
	do(5)
	require.Equal(t, "first", string(w.receive()))
	require.Equal(t, int32(5), read().RequestID)
	do(6)
	do(7)
	require.Equal(t, int32(6), read().RequestID)
	require.Equal(t, int32(7), read().RequestID)
	do(8)
	require.Equal(t, SetRequest, read().Type)
	require.Equal(t, uint64(8), agent.Requests())
}

func TestServeEndsWithItsContext(t *testing.T) {
	agent, err := Listen("127.0.0.1:0", small, Security{})
	require.NoError(t, err)
	_, err = Listen(agent.Addr(), small, Security{})
	require.ErrorContains(t, err, "address already in use")
	ctx, stop := context.WithCancel(context.Background())
	stop()
	require.NoError(t, agent.Serve(ctx))
	again, err := Listen(agent.Addr(), small, Security{})
	require.NoError(t, err, "the socket is closed")
	require.NoError(t, again.Close())
	require.ErrorContains(t, again.Serve(context.Background()), "closed")
}
