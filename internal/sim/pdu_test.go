package sim

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// small is the table of RFC 3416 section 4.2.2.1's example in spirit: two
// columns of two rows each, and a scalar after them.
var small = Static{
	"1.3.6.1.4.1.32473.1":   {"1": Integer(11), "2": Integer(12)},
	"1.3.6.1.4.1.32473.2":   {"1": Octets("one"), "2": Octets("two")},
	"1.3.6.1.4.1.32473.3.5": {"0": Counter32(5)},
}

const arc = "1.3.6.1.4.1.32473."

func names(oids ...string) []Varbind {
	var out []Varbind
	for _, o := range oids {
		out = append(out, Varbind{ParseOID(o), Value{Tag: TagNull}})
	}
	return out
}

// shown gives bindings as "name=type" with the enterprise's arc cut off.
func shown(vbs []Varbind) string {
	kinds := map[byte]string{
		TagInteger: "int", TagOctetString: "text", TagCounter32: "counter",
		TagNoSuchObject: "noSuchObject", TagNoSuchInstance: "noSuchInstance", TagEndOfMibView: "endOfMibView",
	}
	var out []string
	for _, vb := range vbs {
		out = append(out, strings.TrimPrefix(vb.Name.String(), arc)+"="+kinds[vb.Value.Tag])
	}
	return strings.Join(out, " ")
}

func TestRequestsByRFC3416(t *testing.T) {
	for _, row := range []struct {
		section, says string
		kind          byte
		first, second int64 // non-repeaters, max-repetitions
		ask           []Varbind
		budget, most  int
		want          string
	}{
		{"4.2.1", "an instance", GetRequest, 0, 0, names(arc + "2.1"), 0, 0, "2.1=text"},
		{"4.2.1", "each binding by itself, in the request's order", GetRequest, 0, 0, names(arc+"3.5.0", arc+"1.2"), 0, 0, "3.5.0=counter 1.2=int"},
		{"4.2.1 (2)", "no object type has this prefix", GetRequest, 0, 0, names(arc+"9.1", "1.3.6.1.2.1.1.5.0", arc+"3.4"), 0, 0,
			"9.1=noSuchObject 1.3.6.1.2.1.1.5.0=noSuchObject 3.4=noSuchObject"},
		{"4.2.1 (3)", "the object is there, the instance is not", GetRequest, 0, 0, names(arc+"1.3", arc+"1", arc+"1.1.1"), 0, 0,
			"1.3=noSuchInstance 1=noSuchInstance 1.1.1=noSuchInstance"},
		{"4.2.2", "the lexicographic successor", GetNextRequest, 0, 0, names(arc+"1", arc+"1.1", arc+"1.2", arc+"2.2", "0.0"), 0, 0,
			"1.1=int 1.2=int 2.1=text 3.5.0=counter 1.1=int"},
		{"4.2.2", "a name between two instances", GetNextRequest, 0, 0, names(arc+"1.1.7", arc+"2.1.0", arc+"1.99"), 0, 0, "1.2=int 2.2=text 2.1=text"},
		{"4.2.2 (2)", "past the last instance the name stays", GetNextRequest, 0, 0, names(arc+"3.5.0", "2.100.3"), 0, 0,
			"3.5.0=endOfMibView 2.100.3=endOfMibView"},
		{"4.2.3", "N non-repeaters, then M rows of R", GetBulkRequest, 1, 2, names(arc+"3", arc+"1", arc+"2"), 500, 0,
			"3.5.0=counter 1.1=int 2.1=text 1.2=int 2.2=text"},
		{"4.2.3", "no repetitions", GetBulkRequest, 1, 0, names(arc+"1", arc+"2"), 500, 0, "1.1=int"},
		{"4.2.3", "non-repeaters below zero count as zero", GetBulkRequest, -3, 1, names(arc + "1"), 500, 0, "1.1=int"},
		{"4.2.3", "max-repetitions below zero count as zero", GetBulkRequest, 1, -1, names(arc+"1", arc+"2"), 500, 0, "1.1=int"},
		{"4.2.3", "more non-repeaters than bindings", GetBulkRequest, 255, 9, names(arc+"1", arc+"2"), 500, 0, "1.1=int 2.1=text"},
		{"4.2.3", "a column that ends goes on with endOfMibView beside others", GetBulkRequest, 0, 3, names(arc+"2.2", arc+"1"), 500, 0,
			"3.5.0=counter 1.1=int 3.5.0=endOfMibView 1.2=int 3.5.0=endOfMibView 2.1=text"},
		{"4.2.3", "it may stop after a row of nothing but endOfMibView", GetBulkRequest, 0, math.MaxInt32, names(arc + "2.2"), 500, 0,
			"3.5.0=counter 3.5.0=endOfMibView"},
		{"4.2.3 (1)", "cut where the message is full, between rows or within one", GetBulkRequest, 0, 9, names(arc+"1", arc+"2"), 64, 0, "1.1=int 2.1=text 1.2=int"},
		{"4.2.3 (1)", "an agent's own limit of bindings", GetBulkRequest, 0, 9, names(arc + "1"), 500, 2, "1.1=int 1.2=int"},
	} {
		t.Run(row.section+" "+row.says, func(t *testing.T) {
			request := &Message{Type: row.kind, RequestID: 7, ErrorStatus: row.first, ErrorIndex: row.second, Varbinds: row.ask}
			response := request.respond(small.At(noon), row.budget, row.most)
			require.Equal(t, row.want, shown(response.Varbinds))
			require.Equal(t, Message{Type: Response, RequestID: 7, Varbinds: response.Varbinds}, *response, "noError, index 0")
		})
	}
}

// ask sends one v2c request through the whole agent and reads the answer.
func ask(t *testing.T, a *Agent, m *Message) *Message {
	t.Helper()
	seal := func(m *Message) []byte {
		return appendTLV(nil, TagSequence, m.append(appendTLV(appendInt(nil, TagInteger, 1), TagOctetString, []byte("quay"))))
	}
	sent := a.handle(seal(m), noon)
	require.Len(t, sent, 1)
	require.LessOrEqual(t, len(sent[0].Bytes), a.MaxMessage)
	session, err := a.open(sent[0].Bytes, noon)
	require.NoError(t, err)
	return session.request
}

func newAgent(t *testing.T, mib MIB) *Agent {
	a, err := Listen("127.0.0.1:0", mib, everyUser())
	require.NoError(t, err)
	t.Cleanup(func() { a.Close() })
	return a
}

func TestErrorsByRFC3416(t *testing.T) {
	a := newAgent(t, small)
	set := &Message{Type: SetRequest, RequestID: -5, Varbinds: []Varbind{{ParseOID(arc + "2.1"), Octets("mine")}}}
	refused := ask(t, a, set)
	require.Equal(t, &Message{Type: Response, RequestID: -5, ErrorStatus: NotWritable, ErrorIndex: 1, Varbinds: set.Varbinds}, refused, "section 4.2.5")
	require.Equal(t, uint64(1), a.Sets())

	wide := Static{"1.3.6.1.4.1.32473.1": {"1": Octets(strings.Repeat("x", 600)), "2": Octets("x")}}
	a = newAgent(t, wide)
	a.MaxMessage = 484 // the least that RFC 3417 section 3.2.1 allows
	tooBig := &Message{Type: Response, RequestID: 9, ErrorStatus: TooBig}
	get := &Message{Type: GetRequest, RequestID: 9, Varbinds: names(arc+"1.2", arc+"1.1")}
	require.Equal(t, tooBig, ask(t, a, get), "section 4.2.1: tooBig, index 0, no bindings")
	bulk := &Message{Type: GetBulkRequest, RequestID: 9, ErrorIndex: 4, Varbinds: names(arc + "1")}
	require.Equal(t, tooBig, ask(t, a, bulk), "not even one binding fits")
	a.MaxMessage = 700
	require.Equal(t, "1.1=text 1.2=text", shown(ask(t, a, bulk).Varbinds))
}

func TestBulkFillsTheMessageAndNoMore(t *testing.T) {
	campus := FerrowQuay(1, noon)
	a := newAgent(t, campus.Switch("acc-n2-1"))
	for _, limit := range []int{484, 1400, 1472, 9000, 65507} {
		a.MaxMessage = limit
		columns := names("1.3.6.1.2.1.31.1.1.1.6", "1.3.6.1.2.1.10.7.2.1.3", "1.3.6.1.2.1.2.2.1.2")
		response := ask(t, a, &Message{Type: GetBulkRequest, RequestID: 1 << 30, ErrorIndex: 5000, Varbinds: columns})
		octets := 0
		for _, vb := range response.Varbinds {
			octets += vb.size()
		}
		require.Greater(t, octets, limit-150, "approximately equal to the limit (RFC 3416 section 4.2.3)")
	}
}

func TestStrangersGetSilence(t *testing.T) {
	a := newAgent(t, small)
	get := &Message{Type: GetRequest, Varbinds: names(arc + "1.1")}
	message := func(version int64, community string, m *Message) []byte {
		return appendTLV(nil, TagSequence, m.append(appendTLV(appendInt(nil, TagInteger, version), TagOctetString, []byte(community))))
	}
	right := message(1, "quay", get)
	require.Len(t, a.handle(right, noon), 1)
	for says, raw := range map[string][]byte{
		"wrong community":   message(1, "bay", get),
		"SNMPv1":            message(0, "quay", get),
		"a response":        message(1, "quay", &Message{Type: Response}),
		"nothing":           {},
		"cut short":         right[:len(right)-1],
		"octets after it":   append(right[:len(right):len(right)], 0),
		"indefinite length": append([]byte{0x30, 0x80}, right[2:]...), // forbidden by RFC 3417 section 8
	} {
		require.Empty(t, a.handle(raw, noon), says)
	}
	require.Equal(t, uint64(1), a.Requests())
}

// The encodings printed in X.690: 8.19.5 (object identifier {2 100 3}),
// 8.3 (integers in the fewest octets), 8.1.3.5 (length 201).
func TestEncodingByX690(t *testing.T) {
	require.Equal(t, []byte{0x06, 0x03, 0x81, 0x34, 0x03}, appendOID(nil, ParseOID("2.100.3")))
	require.Equal(t, []byte{0x04, 0x81, 0xc9}, appendTLV(nil, TagOctetString, make([]byte, 201))[:3])
	for _, n := range []int64{0, 1, 127, 128, -1, -128, -129, 255, 256, 32767, 32768, math.MaxInt32, math.MinInt32, math.MaxInt64} {
		encoded := appendInt(nil, TagInteger, n)
		back, rest, err := wantInt(encoded)
		require.NoError(t, err)
		require.Empty(t, rest)
		require.Equal(t, n, back)
		if len(encoded) > 3 {
			first, second := encoded[2], encoded[3]
			require.False(t, first == 0 && second < 0x80 || first == 0xff && second >= 0x80, "8.3.2: the first nine bits differ")
		}
	}
	for _, s := range []string{"0.0", "1.3.6.1", "1.39.4294967295", "2.100.3", "2.47.128.16384"} {
		content, _, err := want(appendOID(nil, ParseOID(s)), TagObjectID)
		require.NoError(t, err)
		oid, err := readOID(content)
		require.NoError(t, err)
		require.Equal(t, s, oid.String())
	}
}

func FuzzAgent(f *testing.F) {
	campus := FerrowQuay(1, noon)
	agent, err := Listen("127.0.0.1:0", campus.Switch("acc-n1-1"), everyUser())
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { agent.Close() })
	agent.MaxMessage = 1472
	for _, seed := range fuzzSeeds(agent) {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		for _, d := range agent.handle(raw, noon) {
			if len(d.Bytes) > agent.MaxMessage && len(raw) < 400 {
				t.Errorf("%d octets in answer to %x", len(d.Bytes), raw)
			}
		}
	})
}

// fuzzSeeds are requests of every kind, plain and at every security level.
func fuzzSeeds(a *Agent) [][]byte {
	engine := a.engine(nil, noon)
	requests := []*Message{
		{Type: GetRequest, RequestID: 1, Varbinds: names("1.3.6.1.2.1.1.3.0")},
		{Type: GetBulkRequest, RequestID: 2, ErrorStatus: 1, ErrorIndex: 20, Varbinds: names("1.3.6.1.2.1.1.3", "1.3.6.1.2.1.2.2.1.10")},
		{Type: SetRequest, RequestID: 3, Varbinds: []Varbind{{ParseOID("1.3.6.1.2.1.1.5.0"), Octets("mine")}}},
	}
	var out [][]byte
	for _, m := range requests {
		out = append(out, appendTLV(nil, TagSequence, m.append(appendTLV(appendInt(nil, TagInteger, 1), TagOctetString, []byte("quay")))))
		for _, user := range a.usm.users {
			out = append(out, a.usm.seal(5, m, engine, []byte(user.name), user, user.level))
		}
	}
	return append(out, a.usm.seal(6, &Message{Type: GetRequest}, Engine{}, nil, nil, 0))
}
