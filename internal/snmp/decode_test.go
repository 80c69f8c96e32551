package snmp

import (
	"bytes"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
	"github.com/stretchr/testify/require"
)

func TestClean(t *testing.T) {
	for raw, want := range map[string]string{
		"1/17":                   "1/17",
		"  1/0/1 \x00\x00\x00":   "1/0/1",
		"\x01\x02port\x1b 7\x7f": "port 7",
		"Büro 214":               "Büro 214",
		"B\xfcro":                "B\uFFFDro",
		"a\u0085b\r\n":           "ab",
		"\x00\x00":               "",
	} {
		require.Equal(t, want, clean(raw), "%q", raw)
	}
}

func TestMAUType(t *testing.T) { // RFC 4836: the values lie below dot3MauType
	for name, want := range map[string]int{
		".1.3.6.1.2.1.26.4.30": 30, ".1.3.6.1.2.1.26.4.103": 103, ".0.0": 0, "": 0, ".1.3.6.1.2.1.26.4": 0,
		".1.3.6.1.2.1.26.4.30.1": 0, ".1.3.6.1.2.1.26.5.30": 0, ".1.3.6.1.2.1.26.4.4294967295": 0,
	} {
		require.Equal(t, want, mauType(name), name)
	}
}

func TestInstanceAndItsName(t *testing.T) {
	c := groups[0].columns[1] // ifOperStatus
	for _, row := range []struct {
		arcs  string
		count int
		ok    bool
	}{
		{"1", 1, true}, {"2147483647", 1, true}, {"0", 1, true}, {"5.1", 2, true}, {"5.0", 2, true},
		{"2147483648", 1, false}, {"", 1, false}, {"1.1", 1, false}, {"1", 2, false}, {"1.2.3", 2, false},
	} {
		arcs, ours := bytes.CutPrefix(nameOf(c.prefix+row.arcs), c.object)
		require.True(t, ours)
		at, err := instance(arcs, row.count)
		require.Equal(t, row.ok, err == nil, row.arcs)
		if err == nil {
			require.Equal(t, c.prefix+row.arcs, dotted(c.appendInstance(nil, at, row.count)))
			require.True(t, at.after(index{}))
		}
	}
	require.Equal(t, ".1.3.6.1.2.1.2.2.1.8", dotted(c.appendInstance(nil, index{}, 1)))
}

// Names are ordered arc by arc, as numbers (RFC 3416 2.1).
func FuzzFollows(f *testing.F) {
	f.Add([]byte{1, 3, 6}, []byte{1, 3, 6, 1})
	f.Add([]byte{1, 3, 10}, []byte{1, 3, 9})
	f.Add([]byte{}, []byte{0})
	f.Fuzz(func(t *testing.T, a, b []byte) {
		require.Equal(t, slices.Compare(a, b) > 0, follows(arcsOf(a), arcsOf(b)))
	})
}

func arcsOf(arcs []byte) (octets []byte) {
	for _, arc := range arcs {
		octets = appendArc(octets, uint32(arc)*uint32(arc))
	}
	return octets
}

// Uptime follows time over its wrap after 497 days, and not over a restart.
func TestFollows(t *testing.T) {
	start := time.Now()
	at := func(after time.Duration, ticks uint32) moment { return moment{start.Add(after), port.Some(ticks)} }
	for name, row := range map[string]struct {
		before, after moment
		want          bool
	}{
		"a minute later":       {at(0, 1000), at(time.Minute, 7000), true},
		"over the wrap":        {at(0, 1<<32-3000), at(time.Minute, 3000), true},
		"a restart":            {at(0, 1<<31), at(time.Minute, 500), false},
		"a restart, old agent": {at(0, 1<<32-100_000), at(time.Minute, 500), false},
		"a young one":          {at(0, 3000), at(10*time.Second, 100), false},
		"a step back":          {at(0, 3000), at(time.Second, 2999), true},
		"2 s back":             {at(0, 3000), at(time.Second, 2800), true},
		"more than 2 s back":   {at(0, 3000), at(time.Second, 2799), false},
		"back over the wrap":   {at(0, 50), at(time.Second, 1<<32-50), true},
		"back and young":       {at(0, 150), at(time.Second, 99), false}, // started in between
		"back in a minute":     {at(0, 100_000), at(time.Minute, 99_900), false},
		"a day, clocks apart":  {at(0, 0), at(24*time.Hour, 25*360_000), true},
		"absent":               {moment{at: start}, at(time.Hour, 0), true},
	} {
		require.Equal(t, row.want, row.after.follows(row.before), name)
	}
}

func TestColumnsAreLookedForDailyAndSoonerWithAYoungAgent(t *testing.T) {
	start := time.Now()
	for name, row := range map[string]struct {
		uptime time.Duration
		after  time.Duration
		want   bool
	}{
		"old, 23 h":      {1000 * time.Hour, 23 * time.Hour, false},
		"old, 24 h":      {1000 * time.Hour, 24 * time.Hour, true},
		"young, 4 min":   {time.Minute, 4 * time.Minute, false},
		"young, 5 min":   {time.Minute, 5 * time.Minute, true},
		"one hour, 59 m": {time.Hour, 59 * time.Minute, false},
		"one hour, 1 h":  {time.Hour, time.Hour, true},
	} {
		k := newKnowledge(0)
		k.last = moment{start, port.Some(uint32(row.uptime / centisecond))}
		k.found(k.last)
		k.refresh(moment{start.Add(row.after), port.Some(uint32((row.uptime + row.after) / centisecond))})
		require.Equal(t, row.want, k.discovering(), name)
	}
}

// What failed is looked for again soon, and not asked for until then.
func TestColumnsThatFailedAreLookedForSoon(t *testing.T) {
	start := moment{time.Now(), port.Some[uint32](1 << 30)}
	maus := groups[len(groups)-1]
	for name, fails := range map[string]func(*round){
		"a group":  func(r *round) { r.lost = append(r.lost, lost{maus, errTooBig}) },
		"a column": func(r *round) { r.blamed[maus.columns[0]] = true },
		"nothing":  func(*round) {},
	} {
		k := newKnowledge(0)
		r := newRound(nil, k, start, new(workspace))
		for _, c := range maus.columns {
			r.counts[c] = 5
		}
		fails(r)
		require.False(t, k.settle(r))
		k.last = start
		require.Equal(t, name != "a group", len(k.wanted(maus)) > 0, name)
		k.refresh(moment{at: start.at.Add(4 * time.Minute)})
		require.False(t, k.discovering(), name)
		k.refresh(moment{at: start.at.Add(5 * time.Minute)})
		require.Equal(t, name != "nothing", k.discovering(), name)
	}
}

// FuzzDatagram: whatever comes, decoding gives a message or an error.
func FuzzDatagram(f *testing.F) {
	v2 := newSession(Credentials{Version: 2, Community: "quay"})
	v3 := newSession(Credentials{Version: 3, User: "u", Authentication: Secret{"SHA", "harbour light"}, Privacy: Secret{"AES-128", "slack water"}})
	hello, err := v3.encode(request{kind: gosnmp.GetRequest, discovery: true}, 1, time.Now())
	require.NoError(f, err)
	f.Add(hello)
	discovered := gosnmp.UsmSecurityParameters{AuthoritativeEngineID: "\x80\x00\x7e\xd9\x04q", AuthoritativeEngineBoots: 1}
	require.NoError(f, v3.learn(&discovered, time.Now()))
	for _, s := range []*session{v2, v3} {
		message, err := s.encode(request{kind: gosnmp.GetBulkRequest, names: names(sysUpTime0, ".1.3.6.1.2.1.2.2.1.8"), nonRepeaters: 1, repetitions: 5}, 2, time.Now())
		require.NoError(f, err)
		f.Add(message)
	}
	f.Fuzz(func(t *testing.T, datagram []byte) {
		for _, s := range []*session{v2, v3} {
			packet, err := s.decode(slices.Clone(datagram))
			if err == nil {
				require.NotNil(t, packet)
				_ = (&waiting{ids: []uint32{1}}).fits(packet)
				_ = report(packet)
			}
		}
	})
}

// FuzzVarbinds: whatever varbinds an answer holds, the walk goes on or ends,
// and the rows are in order with names fit to print.
func FuzzVarbinds(f *testing.F) {
	f.Add(uint8(1), uint8(3), []byte{0, 1, 0x02, 1, 1, 1, 0x43, 5, 2, 1, 0x43, 5})
	f.Add(uint8(0), uint8(0), []byte{0, 1, 0x04, 200, 1, 2, 0x02, 6, 0, 2, 0x04, 9, 200, 0, 0x82, 0})
	f.Fuzz(func(t *testing.T, which, done uint8, data []byte) {
		g := groups[int(which)%len(groups)]
		var variables []varbind
		for ; len(data) >= 4; data = data[4:] {
			variables = append(variables, converted(someVarbind(g, data)))
		}
		from := index{}
		if done > 0 {
			from = index{port: uint32(done)}
		}
		columns := g.columns[:min(len(g.columns), 1+int(which)/len(groups))]
		strips, err := split(nil, g, columns, from, variables)
		if err != nil {
			return
		}
		r := newRound(nil, newKnowledge(0), moment{at: time.Now()}, new(workspace))
		until := whole(strips)
		r.strips = strips
		r.take(g, &progress{at: until})
		r.join(g)
		if left := remaining(strips, until, nil); len(left) > 0 {
			require.True(t, until.after(from), "no progress")
		}
		before := -1
		for _, reading := range r.readings() {
			require.Greater(t, reading.Index, before)
			before = reading.Index
			for _, name := range []string{reading.Name, reading.Description, reading.Alias} {
				require.True(t, utf8.ValidString(name) && strings.IndexFunc(name, unicode.IsControl) < 0, "%q", name)
			}
		}
	})
}

// someVarbind makes one of a group's columns, or sometimes of none, from 4 bytes.
func someVarbind(g *group, data []byte) gosnmp.SnmpPDU {
	name := ".1.3.6.1.9.9." + strconv.Itoa(int(data[1]))
	if int(data[0]) < len(g.columns) {
		name = g.columns[data[0]].prefix + strconv.Itoa(int(data[1]))
		if g.indexes == 2 {
			name += "." + strconv.Itoa(int(data[3]%4))
		}
	}
	v := gosnmp.SnmpPDU{Name: name, Type: gosnmp.Asn1BER(data[2])}
	switch v.Type {
	case gosnmp.Integer:
		v.Value = int(int8(data[3]))
	case gosnmp.Counter32, gosnmp.Gauge32:
		v.Value = uint(data[3]) << (data[3] % 40)
	case gosnmp.TimeTicks:
		v.Value = uint32(data[3])
	case gosnmp.Counter64:
		v.Value = uint64(data[3])
	case gosnmp.OctetString:
		v.Value = data
	case gosnmp.ObjectIdentifier:
		v.Value = mauTypes + strconv.Itoa(int(data[3]))
	}
	return v
}
