package sim

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// table3 is a table of three rows, with something before and after it.
var table3 = Static{
	arc + "1": {"0": Octets("before")},
	arc + "2": {"1": Counter32(11), "2": Counter32(12), "3": Counter32(13)},
	arc + "3": {"0": Octets("after")},
}

// exchange gives what an agent sends in answer, as "id: bindings" where it can
// be read and its octets where not.
func exchange(t *testing.T, agent *Agent, m Message) (shownAs []string, sent []Datagram) {
	t.Helper()
	raw := appendTLV(nil, TagSequence, m.append(appendTLV(appendInt(nil, TagInteger, 1), TagOctetString, []byte("quay"))))
	for _, d := range agent.handle(raw, noon) {
		sent = append(sent, d)
		content, _, err := want(d.Bytes, TagSequence)
		if err != nil {
			shownAs = append(shownAs, "cut")
			continue
		}
		_, content, err = wantInt(content)
		require.NoError(t, err)
		session, err := agent.openCommunity(content)
		require.NoError(t, err)
		text := shown(session.request.Varbinds)
		if session.request.ErrorStatus != 0 {
			text = "error " + Integer(session.request.ErrorStatus).text() + text
		}
		shownAs = append(shownAs, Integer(int64(session.request.RequestID)).text()+": "+text)
	}
	return shownAs, sent
}

func played(t *testing.T, play func(Exchange) []Datagram) *Agent {
	agent, err := Listen("127.0.0.1:0", table3, everyUser())
	require.NoError(t, err)
	t.Cleanup(func() { agent.Close() })
	agent.Mangle = play
	return agent
}

func bulkOf(id int32, repetitions int64, oids ...string) Message {
	return Message{Type: GetBulkRequest, RequestID: id, ErrorIndex: repetitions, Varbinds: names(oids...)}
}

func TestPlays(t *testing.T) {
	next := func(id int32, oid string) Message {
		return Message{Type: GetNextRequest, RequestID: id, Varbinds: names(oid)}
	}
	plain := next(7, arc+"2.1")
	for says, row := range map[string]struct {
		play func(Exchange) []Datagram
		ask  []Message
		want []string
	}{
		"twice":                   {Twice(), []Message{plain}, []string{"7: 2.2=counter", "7: 2.2=counter"}},
		"swapped":                 {Swapped(), []Message{next(1, arc+"1"), next(2, arc+"2"), next(3, arc+"3")}, []string{"2: 2.1=counter", "1: 1.0=text"}},
		"truncated":               {Truncated(12), []Message{plain}, []string{"cut"}},
		"request id zero":         {RequestIDZero(), []Message{plain}, []string{"0: 2.2=counter"}},
		"capped":                  {Capped(2), []Message{bulkOf(1, 9, arc+"1", arc+"2")}, []string{"1: 1.0=text 2.1=counter 2.1=counter 2.2=counter"}},
		"a GETNEXT is not capped": {Capped(0), []Message{plain}, []string{"7: 2.2=counter"}},
		"too big": {TooBigAbove(4), []Message{bulkOf(1, 3, arc+"1", arc+"2"), bulkOf(2, 2, arc+"1", arc+"2")},
			[]string{"1: error 1", "2: 1.0=text 2.1=counter 2.1=counter 2.2=counter"}},
		"wrong type":      {WrongType(arc+"2", TagOctetString), []Message{bulkOf(1, 2, arc+"1", arc+"2")}, []string{"1: 1.0=text 2.1=text 2.1=text 2.2=text"}},
		"text as numbers": {WrongType(arc+"1", TagInteger), []Message{next(1, arc+"1")}, []string{"1: 1.0=int"}},
		"repeating": {Repeating(arc + "2"), []Message{bulkOf(1, 3, arc+"2"), bulkOf(2, 2, arc+"2.2"), next(3, arc+"2.3"), next(4, arc+"3")},
			[]string{"1: 2.1=counter 2.1=counter 2.1=counter", "2: 2.2=counter 2.2=counter", "3: 2.3=counter", "4: 3.0=text"}},
		"cyclic": {Cyclic(arc + "2"), []Message{bulkOf(1, 7, arc+"2"), next(2, arc+"2.3"), next(3, arc+"3")},
			[]string{"1: 2.1=counter 2.2=counter 2.3=counter 2.1=counter 2.2=counter", "2: 2.1=counter", "3: 3.0=text"}},
		"cyclic in one column of two": {Cyclic(arc + "2"), []Message{bulkOf(1, 4, arc+"2", arc+"3")},
			[]string{"1: 2.1=counter 3.0=text 2.2=counter 3.0=endOfMibView 2.3=counter 3.0=endOfMibView 2.1=counter 3.0=endOfMibView"}},
		"composed":                 {Compose(Twice(), RequestIDZero(), Capped(1)), []Message{bulkOf(1, 9, arc+"2")}, []string{"0: 2.1=counter", "0: 2.1=counter"}},
		"composed, datagrams last": {Compose(RequestIDZero(), Truncated(9), Twice()), []Message{plain}, []string{"cut", "cut"}},
		"nothing to compose":       {Compose(), []Message{plain}, []string{"7: 2.2=counter"}},
	} {
		t.Run(says, func(t *testing.T) {
			agent := played(t, row.play)
			var got []string
			for _, m := range row.ask {
				answers, _ := exchange(t, agent, m)
				got = append(got, answers...)
			}
			require.Equal(t, strings.Join(row.want, "\n"), strings.Join(got, "\n"))
		})
	}
}

func TestALossyWireLosesTheSameOnesForTheSameSeed(t *testing.T) {
	lost := func(seed uint64) (out []bool) {
		agent := played(t, Lossy(0.3, seed))
		for range 1000 {
			answers, _ := exchange(t, agent, bulkOf(1, 1, arc+"1"))
			out = append(out, len(answers) == 0)
		}
		return out
	}
	first, n := lost(1), 0
	for _, l := range first {
		if l {
			n++
		}
	}
	require.InDelta(t, 300, n, 5*14.5, "binomial, five standard deviations")
	require.Equal(t, first, lost(1))
	require.NotEqual(t, first, lost(2))
}

func TestSlowAgentsWorkInTurn(t *testing.T) {
	agent := played(t, Slow(10*time.Second))
	_, first := exchange(t, agent, bulkOf(1, 3, arc+"1"))
	_, second := exchange(t, agent, bulkOf(2, 1, arc+"1"))
	require.InDelta(t, 30, first[0].After.Seconds(), 1)
	require.InDelta(t, 40, second[0].After.Seconds(), 1, "after the other")
	_, late := exchange(t, played(t, Compose(Late(time.Second), Slow(10*time.Second))), bulkOf(1, 3, arc+"1"))
	require.InDelta(t, 31, late[0].After.Seconds(), 1)
}

func TestAMuteAgentSaysNothingUntilItMaySpeak(t *testing.T) {
	agent := serve(t, table3, everyUser(), func(a *Agent) {
		a.Mangle = func(e Exchange) []Datagram {
			if e.Request.RequestID == 1 {
				defer a.Mute.Store(true)
			}
			return e.Send()
		}
	})
	w := dial(t, agent)
	ask := func(id int32) { w.send(&Message{Type: GetRequest, RequestID: id, Varbinds: names(arc + "1.0")}) }
	ask(1)
	ask(2)
	require.Eventually(t, agent.Mute.Load, 30*time.Second, time.Millisecond)
	require.NoError(t, w.conn.SetReadDeadline(time.Now().Add(50*time.Millisecond)))
	_, err := w.conn.Read(make([]byte, 100))
	require.Error(t, err)
	agent.Mute.Store(false)
	ask(3)
	w.receive()
	require.LessOrEqual(t, agent.Requests(), uint64(3))
}

func TestWithoutPowerNobodyAnswers(t *testing.T) {
	c := FerrowQuay(1, noon)
	s, core := c.Switch("acc-n1-1"), c.Switch("core-n1-1")
	agent, err := Listen("127.0.0.1:0", s, everyUser())
	require.NoError(t, err)
	defer agent.Close()
	now := noon.Add(10 * time.Second)
	answers := func() int { got, _ := exchange(t, agent, bulkOf(1, 1, "1.3.6.1.2.1.1.3")); return len(got) }
	require.Equal(t, 1, answers())
	boots := s.Engine(now).Boots
	s.Power(now, false)
	require.Equal(t, 0, answers())
	require.Equal(t, Integer(2), read(core, now.Add(time.Second), "1.3.6.1.2.1.2.2.1.8.101"))
	require.False(t, c.Reachable(now, core)[s])
	require.Empty(t, c.Reachable(now, s))
	s.Power(now.Add(time.Minute), true)
	require.Equal(t, 1, answers())
	require.Equal(t, boots+1, s.Engine(now).Boots)
	require.Equal(t, Integer(1), read(core, now.Add(70*time.Second), "1.3.6.1.2.1.2.2.1.8.101"))
	require.Len(t, c.Reachable(now.Add(70*time.Second), core), 12)
}
