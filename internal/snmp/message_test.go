package snmp

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"net"
	"os"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"toneout/internal/port"
	"toneout/internal/sim"

	"github.com/gosnmp/gosnmp"
	"github.com/stretchr/testify/require"
)

// What read takes, gosnmp takes too and finds the same in it.
func FuzzRead(f *testing.F) {
	for _, answer := range recordedAnswers(f) {
		f.Add(answer)
	}
	f.Add([]byte("\x30\x26\x02\x01\x01\x04\x04quay\xa2\x1b\x02\x01\x05\x02\x01\x00\x02\x01\x00\x30\x10\x30\x0e\x06\x08\x2b\x06\x01\x02\x01\x01\x03\x00\x43\x02\x01\x02"))
	f.Fuzz(func(t *testing.T, datagram []byte) {
		var fast, slow message
		if !fast.read(datagram, "quay") {
			return
		}
		packet, err := newSession(Credentials{Version: 2, Community: "quay"}).unpack(datagram)
		if err != nil {
			require.ErrorContains(t, err, "zero length integer")
			return
		}
		slow.convert(packet)
		require.Len(t, fast.variables, len(slow.variables))
		for i, v := range slow.variables {
			require.True(t, bytes.Equal(v.name, fast.variables[i].name), "%v", dotted(v.name))
			require.Equal(t, packet.Variables[i].Name, dotted(v.name))
			require.True(t, bytes.Equal(v.text, fast.variables[i].text), "%v", dotted(v.name))
			if got := fast.variables[i]; got.absent && got.number == 0 && v.number == 0 && isNumber(v.kind) {
				v.absent = true // of no octets: gosnmp makes a 0 of it
			}
			v.name, v.text, fast.variables[i].name, fast.variables[i].text = nil, nil, nil, nil
			require.Equal(t, v, fast.variables[i])
		}
		fast.variables, slow.variables = nil, nil
		require.Equal(t, slow, fast)
	})
}

// A number of no octets is none (X.690 8.3.1: "one or more"), not 0; agents of
// which a counter is missing send such (common practice, no source).
func TestANumberWithoutOctetsIsAbsent(t *testing.T) {
	const head = "\x30\x25\x02\x01\x01\x04\x04quay\xa2\x1a\x02\x01\x05\x02\x01\x00\x02\x01\x00\x30\x0f\x30\x0d\x06\x09\x2b\x06\x01\x02\x01\x02\x02\x01\x08"
	for _, kind := range []gosnmp.Asn1BER{gosnmp.Integer, gosnmp.Counter32, gosnmp.Gauge32, gosnmp.TimeTicks, gosnmp.Counter64} {
		m, err := newSession(Credentials{Version: 2, Community: "quay"}).decode(append([]byte(head), byte(kind), 0))
		require.NoError(t, err)
		require.Len(t, m.variables, 1)
		_, ok := decode(m.variables[0], kind)
		require.False(t, ok, "%v", kind)
	}
}

// A well-formed response is read without gosnmp's help.
func TestReadKnowsWhatAgentsSend(t *testing.T) {
	for _, answer := range recordedAnswers(t) {
		require.True(t, new(message).read(answer, "quay"))
		require.False(t, new(message).read(answer, "quax"))
		for n := range answer {
			require.False(t, new(message).read(answer[:n], "quay"))
		}
	}
}

// FuzzRequest: a request is the same octets as gosnmp makes of it.
func FuzzRequest(f *testing.F) {
	f.Add(uint32(1), uint8(0), uint16(0), "quay", uint32(3), uint8(1))
	f.Add(uint32(1<<31-1), uint8(3), uint16(50), "", uint32(1<<32-1), uint8(30))
	f.Add(uint32(128), uint8(2), uint16(200), "a community that is longer than most, to no use at all", uint32(16384), uint8(127))
	f.Fuzz(func(t *testing.T, id uint32, fixed uint8, repetitions uint16, community string, arc uint32, count uint8) {
		if id &= 1<<31 - 1; len(community) > longestCommunity {
			return
		}
		r := request{kind: gosnmp.GetBulkRequest, nonRepeaters: int(fixed), repetitions: int(repetitions)}
		var variables []gosnmp.SnmpPDU
		for i := range uint32(count) {
			name := appendArc(nameOf(".1.3.6.1.2.1"), arc>>(i%32)+i)
			r.names = append(r.names, name)
			variables = append(variables, gosnmp.SnmpPDU{Name: dotted(name), Type: gosnmp.Null})
		}
		client := &gosnmp.GoSNMP{Version: gosnmp.Version2c, Community: community}
		packet := client.MkSnmpPacket(r.kind, variables, fixed, uint32(repetitions))
		packet.RequestID = id
		want, err := packet.MarshalMsg()
		require.NoError(t, err)
		got, _ := r.write(nil, nil, community, id)
		require.Equal(t, want, got)
	})
}

// small is a switch of three ports, since large seeds make a fuzzer slow.
func small() sim.Static {
	rows := func(of func(i uint64) sim.Value) map[string]sim.Value {
		return map[string]sim.Value{"1": of(1), "2": of(2), "130": of(130)}
	}
	counter := func(i uint64) sim.Value { return sim.Counter64(i << 33) }
	return sim.Static{
		"1.3.6.1.2.1.1.3": {"0": sim.Ticks(time.Hour)}, "1.3.6.1.2.1.1.5": {"0": sim.Octets("acc-1")},
		"1.3.6.1.2.1.31.1.5":      {"0": sim.Ticks(time.Minute)},
		"1.3.6.1.2.1.31.1.1.1.1":  rows(func(i uint64) sim.Value { return sim.Octets("1/" + strconv.Itoa(int(i))) }),
		"1.3.6.1.2.1.31.1.1.1.6":  rows(counter),
		"1.3.6.1.2.1.31.1.1.1.15": rows(func(uint64) sim.Value { return sim.Gauge32(1000) }),
		"1.3.6.1.2.1.2.2.1.8":     rows(func(uint64) sim.Value { return sim.Integer(1) }),
		"1.3.6.1.2.1.2.2.1.9":     rows(func(i uint64) sim.Value { return sim.Ticks(time.Duration(i) * time.Second) }),
		"1.3.6.1.2.1.2.2.1.14":    rows(func(i uint64) sim.Value { return sim.Counter32(i << 24) }),
		"1.3.6.1.2.1.10.7.2.1.3":  rows(func(i uint64) sim.Value { return sim.Counter32(i) }),
		"1.3.6.1.2.1.31.1.1.1.10": rows(counter),
		"1.3.6.1.2.1.31.1.1.1.18": rows(func(uint64) sim.Value { return sim.Octets("N2-P1") }),
		"1.3.6.1.2.1.26.2.1.1.3":  {"2.1": sim.ObjectID(sim.ParseOID("1.3.6.1.2.1.26.4.30"))},
	}
}

// recordedAnswers are those of a simulated switch to two polls.
func recordedAnswers(t testing.TB) (answers [][]byte) {
	t.Helper()
	agent, err := sim.Listen("127.0.0.1:0", small(), sim.Security{Communities: []string{"quay"}})
	require.NoError(t, err)
	var mu sync.Mutex
	agent.Mangle = func(e sim.Exchange) []sim.Datagram {
		mu.Lock()
		defer mu.Unlock()
		sent := e.Send()
		answers = append(answers, sent[0].Bytes)
		return sent
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- agent.Serve(ctx) }()
	s, err := Open(Target{Address: agent.Addr(), Credentials: Credentials{Version: 2, Community: "quay"}, Timeout: 5 * time.Second, Retries: 1})
	require.NoError(t, err)
	for range 2 {
		_, err := s.Poll(ctx)
		require.NoError(t, err)
	}
	stop()
	require.NoError(t, <-done)
	return answers
}

// script is a socket from which recorded datagrams come, one for each request
// and with its request-id where they have one in four octets.
type script struct {
	net.Conn
	datagrams []byte // each after its length in two octets
	id        [4]byte
}

func (s *script) SetReadDeadline(time.Time) error { return nil }

func (s *script) Write(request []byte) (int, error) {
	if place := idIn(request); place != nil {
		copy(s.id[:], place)
	}
	return len(request), nil
}

func (s *script) Read(to []byte) (int, error) {
	if len(s.datagrams) < 2 {
		return 0, os.ErrDeadlineExceeded
	}
	n := min(int(binary.BigEndian.Uint16(s.datagrams)), len(s.datagrams)-2)
	n = copy(to, s.datagrams[2:2+n])
	s.datagrams = s.datagrams[2+n:]
	if place := idIn(to[:n]); place != nil {
		copy(place, s.id[:])
	}
	return n, nil
}

func idIn(m []byte) []byte {
	at := bytes.Index(m, []byte("quay"))
	i := bytes.Index(m[max(at, 0):], []byte{2, 4})
	if at < 0 || i < 0 || len(m) < at+i+6 {
		return nil
	}
	return m[at+i+2 : at+i+6]
}

// FuzzAnswers: whatever datagrams come in answer to two polls, each gives sane
// readings or an error with a class.
func FuzzAnswers(f *testing.F) {
	all := recordedAnswers(f)
	record := func(answers [][]byte) (datagrams []byte) {
		for _, a := range answers {
			datagrams = append(binary.BigEndian.AppendUint16(datagrams, uint16(len(a))), a...)
		}
		return datagrams
	}
	f.Add(record(all))
	f.Add(record(all[:len(all)/3]))
	f.Add(record(slices.Concat(all[:5], all[4:])))
	f.Fuzz(func(t *testing.T, datagrams []byte) {
		s, err := Open(Target{Name: "a", Address: "192.0.2.1:161", Credentials: Credentials{Version: 2, Community: "quay"}, Timeout: time.Millisecond})
		require.NoError(t, err)
		socket := &script{datagrams: datagrams}
		for range 2 {
			w := new(workspace)
			s.patience.begin()
			c := &conversation{ctx: context.Background(), target: s.target, session: s.session, patience: s.patience, conn: socket, buffer: w.buffer[:], id: 1 << 30}
			p, _, err := s.talk(c, w)
			if err != nil {
				require.NotEqual(t, Unspecified, classed(err), "%v", err)
				require.False(t, errors.Is(err, errApart) || errors.Is(err, errTooWide), "%v", err)
				continue
			}
			require.LessOrEqual(t, len(p.Ports), mostRows)
			before := -1
			for i := range p.Ports {
				require.Greater(t, p.Ports[i].Index, before)
				before = p.Ports[i].Index
				sane(t, &p.Ports[i])
			}
		}
	})
}

// sane checks that a reading holds nothing out of its range (RFC 2863, 3635).
func sane(t *testing.T, r *port.Reading) {
	t.Helper()
	require.False(t, r.At.IsZero())
	require.LessOrEqual(t, r.Oper, port.LowerLayerDown)
	require.LessOrEqual(t, r.Admin, port.Testing)
	require.LessOrEqual(t, r.Connector, port.No)
	for _, text := range []string{r.Name, r.Description, r.Alias} {
		require.LessOrEqual(t, len(text), longestName)
		require.True(t, utf8.ValidString(text) && !slices.ContainsFunc([]rune(text), unicode.IsControl), "%q", text)
	}
	for k := range port.CounterCount {
		if n, ok := r.Counters.Get(k); ok && !r.Counters.Wide(k) {
			require.LessOrEqual(t, n, uint64(1<<32-1), "%v", k)
		}
	}
}
