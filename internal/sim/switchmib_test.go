package sim

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// read gives one value of a switch.
func read(s *Switch, now time.Time, oid string) Value { return s.At(now).Get(ParseOID(oid)) }

// Value rules of IF-MIB, EtherLike-MIB and MAU-MIB for one port up at 1 Gb/s,
// one optic at 10 Gb/s, one port without a link and one row that is no port.
func TestColumns(t *testing.T) {
	c, near, far := bench()
	c.Connect(patched(near, "pc"))
	c.Connect(Cable{ID: "F", Media: Fibre, A: near.Port("1/3"), B: far.Port("1/1"), AtoB: Flow{Bits: 1e8, Mix: bulk}})
	mau := func(n uint32) Value { return ObjectID(append(ParseOID("1.3.6.1.2.1.26.4"), n)) }
	now := noon.Add(30 * time.Second)
	for _, row := range []struct {
		oid  string
		want Value
		says string
	}{
		{"1.3.6.1.2.1.1.3.0", Ticks(time.Hour + 30*time.Second), "sysUpTime counts hundredths"},
		{"1.3.6.1.6.3.10.2.1.3.0", Integer(3630), "snmpEngineTime counts seconds"},
		{"1.3.6.1.2.1.2.1.0", Integer(7), "ifNumber: four ports and three others"},
		{"1.3.6.1.2.1.2.2.1.3.1", Integer(6), "ethernetCsmacd for every Ethernet (RFC 3635 3.2.4)"},
		{"1.3.6.1.2.1.2.2.1.5.1", Gauge32(1e9), "ifSpeed in bit/s"},
		{"1.3.6.1.2.1.2.2.1.5.3", Value{Tag: TagGauge32, Number: 4294967295}, "ifSpeed saturates (RFC 2863)"},
		{"1.3.6.1.2.1.31.1.1.1.15.3", Gauge32(10000), "ifHighSpeed in Mbit/s"},
		{"1.3.6.1.2.1.31.1.1.1.15.1", Gauge32(1000), ""},
		{"1.3.6.1.2.1.31.1.1.1.15.2", Gauge32(0), "no link"},
		{"1.3.6.1.2.1.2.2.1.8.1", Integer(1), "up"},
		{"1.3.6.1.2.1.2.2.1.8.2", Integer(2), "down"},
		{"1.3.6.1.2.1.31.1.1.1.17.1", Integer(1), "ifConnectorPresent"},
		{"1.3.6.1.2.1.31.1.1.1.17.104", Integer(2), "the control plane has no connector"},
		{"1.3.6.1.2.1.2.2.1.3.105", Integer(24), "softwareLoopback"},
		{"1.3.6.1.2.1.2.2.1.3.106", Integer(135), "l2vlan"},
		{"1.3.6.1.2.1.10.7.2.1.19.1", Integer(3), "fullDuplex"},
		{"1.3.6.1.2.1.10.7.2.1.19.2", Integer(1), "unknown without a link"},
		{"1.3.6.1.2.1.10.7.2.1.3.104", Value{Tag: TagNoSuchInstance}, "no Ethernet statistics but of ports"},
		{"1.3.6.1.2.1.10.7.2.1.12.1", Value{Tag: TagNoSuchObject}, "dot3StatsTable has no column 12"},
		{"1.3.6.1.2.1.26.5.1.1.3.1.1", Value{Tag: TagNoSuchObject}, "ifMauAutoNegTable has no column 3"},
		{"1.3.6.1.2.1.26.2.1.1.3.1.1", mau(30), "dot3MauType1000BaseTFD"},
		{"1.3.6.1.2.1.26.2.1.1.3.2.1", ObjectID(OID{0, 0}), "zeroDotZero: unknown"},
		{"1.3.6.1.2.1.26.2.1.1.3.3.1", mau(36), "dot3MauType10GigBaseSR"},
		{"1.3.6.1.2.1.26.2.1.1.5.1.1", Integer(3), "available"},
		{"1.3.6.1.2.1.26.2.1.1.5.2.1", Integer(4), "notAvailable"},
		{"1.3.6.1.2.1.26.2.1.1.12.3.1", Integer(2), "10GBASE-SR does not negotiate"},
		{"1.3.6.1.2.1.26.5.1.1.4.1.1", Integer(3), "complete"},
		{"1.3.6.1.2.1.26.5.1.1.9.1.1", Octets("\x6c\x01"), "10, 100, 1000 full: bits 1, 2, 4, 5, 15"},
		{"1.3.6.1.2.1.26.5.1.1.11.1.1", Octets("\x6c\x01"), "what the PC offers"},
		{"1.3.6.1.2.1.26.5.1.1.11.2.1", Octets(""), "nobody there"},
		{"1.3.6.1.2.1.26.5.1.1.9.3.1", Value{Tag: TagNoSuchInstance}, "no row for an optic"},
	} {
		require.Equal(t, row.want, read(near, now, row.oid), "%s %s", row.oid, row.says)
	}
}

func TestDescribedLimitsShowInTheirBits(t *testing.T) {
	c, s, _ := bench()
	cable := patched(s, "pc")
	cable.A.Advertised = []int{10, 100}
	c.Connect(cable)
	require.Equal(t, Octets("\x6c\x01"), read(s, noon, "1.3.6.1.2.1.26.5.1.1.9.1.1"))
	require.Equal(t, Octets("\x6c"), read(s, noon, "1.3.6.1.2.1.26.5.1.1.10.1.1"))
	require.Equal(t, ObjectID(ParseOID("1.3.6.1.2.1.26.4.16")), read(s, noon, "1.3.6.1.2.1.26.2.1.1.3.1.1"), "100BASE-TX full duplex")
}

func TestHalfDuplexShows(t *testing.T) {
	c, s, _ := bench()
	cable := patched(s, "pc")
	cable.Device.Speeds, cable.Device.Fixed = []int{100}, 100
	c.Connect(cable)
	require.Equal(t, Integer(2), read(s, noon, "1.3.6.1.2.1.10.7.2.1.19.1"))
	require.Equal(t, ObjectID(ParseOID("1.3.6.1.2.1.26.4.15")), read(s, noon, "1.3.6.1.2.1.26.2.1.1.3.1.1"), "100BASE-TX half duplex")
	require.Equal(t, Integer(2), read(s, noon, "1.3.6.1.2.1.26.5.1.1.2.1.1"), "nothing heard of the other end")
	require.Equal(t, Octets(""), read(s, noon, "1.3.6.1.2.1.26.5.1.1.11.1.1"))
}

func TestCountersOfAllWidthsAgree(t *testing.T) {
	c, near, far := bench()
	c.Connect(Cable{ID: "F", Media: Fibre, A: near.Port("1/3"), B: far.Port("1/1"), BERToA: 1e-6,
		AtoB: Flow{Bits: 4e9, Mix: bulk, Multicast: 2}, BtoA: Flow{Bits: 3e9, Mix: bulk, Broadcast: 1}})
	view := near.At(noon.Add(5 * time.Minute))
	number := func(oid string) uint64 { return view.Get(ParseOID(oid)).Number }
	for narrow, wide := range map[string]string{
		"1.3.6.1.2.1.2.2.1.10.3": "1.3.6.1.2.1.31.1.1.1.6.3", "1.3.6.1.2.1.2.2.1.16.3": "1.3.6.1.2.1.31.1.1.1.10.3",
		"1.3.6.1.2.1.2.2.1.11.3": "1.3.6.1.2.1.31.1.1.1.7.3", "1.3.6.1.2.1.31.1.1.1.3.3": "1.3.6.1.2.1.31.1.1.1.9.3",
		"1.3.6.1.2.1.31.1.1.1.4.3": "1.3.6.1.2.1.31.1.1.1.12.3", "1.3.6.1.2.1.10.7.2.1.3.3": "1.3.6.1.2.1.10.7.11.1.2.3",
	} {
		require.Positive(t, number(wide), wide)
		require.Equal(t, number(wide)%(1<<32), number(narrow), "%s wraps at 2^32", narrow)
	}
	require.Greater(t, number("1.3.6.1.2.1.31.1.1.1.6.3"), uint64(1<<32))
	sum := uint64(0)
	for _, column := range []string{"2", "3", "13", "16"} { // alignment, FCS, too long, internal
		sum += number("1.3.6.1.2.1.10.7.2.1." + column + ".3")
	}
	require.Equal(t, sum, number("1.3.6.1.2.1.2.2.1.14.3"), "ifInErrors (RFC 3635)")
	require.Zero(t, number("1.3.6.1.2.1.10.7.2.1.2.3"), "no alignment errors at 10 Gb/s")
}

func TestAFlapMovesIfLastChange(t *testing.T) {
	c, s, _ := bench()
	cable := c.Connect(patched(s, "pc"))
	const changed, exits, oper = "1.3.6.1.2.1.2.2.1.9.1", "1.3.6.1.2.1.26.2.1.1.6.1.1", "1.3.6.1.2.1.2.2.1.8.1"
	before := read(s, noon.Add(10*time.Second), changed)
	require.Less(t, before.Number, Ticks(time.Hour).Number)
	c.Do(noon.Add(10*time.Second), func() { cable.Open = []Pair{Pair12} })
	require.Equal(t, Integer(2), read(s, noon.Add(12*time.Second), oper))
	require.Equal(t, Ticks(time.Hour+10*time.Second), read(s, noon.Add(12*time.Second), changed))
	require.Equal(t, Counter32(1), read(s, noon.Add(12*time.Second), exits))
	c.Do(noon.Add(20*time.Second), func() { cable.Open = nil })
	require.Equal(t, Integer(1), read(s, noon.Add(30*time.Second), oper))
	up := read(s, noon.Add(30*time.Second), changed)
	require.InDelta(t, Ticks(time.Hour+22*time.Second).Number, up.Number, 20, "up once it has negotiated")
	require.Equal(t, Counter32(1), read(s, noon.Add(30*time.Second), exits))
}

func TestRestartAndRenumber(t *testing.T) {
	c := FerrowQuay(3, noon)
	s, far := c.Switch("acc-n1-1"), c.Switch("core-n1-1")
	now := noon.Add(10 * time.Second)
	octets := func(index string) Value { return read(s, now, "1.3.6.1.2.1.31.1.1.1.6."+index) }
	require.Greater(t, octets("49").Number, uint64(1e9))
	boots := s.Engine(now).Boots
	s.Restart(now)
	s.Renumber(500)
	require.Equal(t, TagNoSuchInstance, octets("49").Tag)
	require.Zero(t, octets("549").Number)
	require.Equal(t, 549, s.IfIndex(s.Port("1/49")))
	require.Equal(t, "1/49", string(read(s, now, "1.3.6.1.2.1.31.1.1.1.1.549").Text))
	require.Equal(t, Integer(549), read(s, now, "1.3.6.1.2.1.2.2.1.1.549"))
	require.Equal(t, Engine{engineID("acc-n1-1"), boots + 1, 0}, s.Engine(now))
	require.Equal(t, Integer(2), read(far, now, "1.3.6.1.2.1.2.2.1.8.101"), "the far end loses its link")
	now = now.Add(10 * time.Second)
	require.Equal(t, Ticks(10*time.Second), read(s, now, "1.3.6.1.2.1.1.3.0"))
	require.Equal(t, Integer(1), read(far, now, "1.3.6.1.2.1.2.2.1.8.101"))
	require.Positive(t, octets("549").Number)
	require.Less(t, octets("549").Number, uint64(1e9))
	require.Equal(t, Counter32(0), read(s, now, "1.3.6.1.2.1.26.2.1.1.6.549.1"), "a new boot has counted no loss")
}

// RFC 2863: ifTableLastChange is sysUpTime at the last creation or deletion of a row.
func TestIfTableLastChange(t *testing.T) {
	_, s, _ := bench()
	changed := func(after time.Duration) Value { return read(s, noon.Add(after), "1.3.6.1.2.1.31.1.5.0") }
	require.Equal(t, Ticks(0), changed(10*time.Second))
	s.Renumber(500)
	require.Equal(t, Ticks(time.Hour+10*time.Second), changed(20*time.Second))
	s.Hide("mau")
	require.Equal(t, Ticks(time.Hour+20*time.Second), changed(30*time.Second))
	s.Restart(noon.Add(40 * time.Second))
	require.Equal(t, Ticks(0), changed(50*time.Second))
}

func TestHiddenTables(t *testing.T) {
	s := NewCampus(5, noon).AddSwitch(SwitchPlan{Name: "bench", Copper: 2, LLDP: LLDP{Numbers: ByBridgePort}})
	s.campus.Connect(patched(s, "phone"))
	mark := OID{uint32(read(s, noon, "1.3.6.1.2.1.2.2.1.9.1").Number), 2, 1}.String() // learnt as the link came up
	probes := map[string]string{
		"ifx": "1.3.6.1.2.1.31.1.1.1.1.1", "hc": "1.3.6.1.2.1.31.1.1.1.6.1", "dot3": "1.3.6.1.2.1.10.7.2.1.4.1",
		"dot3hc": "1.3.6.1.2.1.10.7.11.1.3.1", "mau": "1.3.6.1.2.1.26.2.1.1.3.1.1", "autoneg": "1.3.6.1.2.1.26.5.1.1.9.1.1",
		"fcs": "1.3.6.1.2.1.10.7.2.1.3.1", "rmon": "1.3.6.1.2.1.16.1.1.1.8.2", "entity": "1.3.6.1.2.1.47.1.1.1.1.11.1000",
		"lldp": lldpRem + "9." + mark, "lldp3": lldpRem3 + "4." + mark, "stack": "1.3.6.1.2.1.31.1.2.1.3.0.1", "bridge": basePort + ".2",
		"1.3.6.1.2.1.2.2.1.14": "1.3.6.1.2.1.2.2.1.14.1", ".1.3.6.1.2.1.26.2": "1.3.6.1.2.1.26.2.1.1.6.1.1",
	}
	also := map[string][]string{"ifx": {"hc"}, "mau": {"autoneg", ".1.3.6.1.2.1.26.2"}, "dot3": {"fcs"}, "lldp": {"lldp3"}, ".1.3.6.1.2.1.26.2": {"mau"}}
	for hidden := range probes {
		s.Hide(hidden)
		for table, oid := range probes {
			gone := read(s, noon, oid).Tag == TagNoSuchObject
			require.Equal(t, table == hidden || slices.Contains(also[hidden], table), gone, "%s with %s hidden", table, hidden)
		}
	}
	s.Hide("fcs")
	require.Equal(t, TagNoSuchObject, read(s, noon, "1.3.6.1.2.1.10.7.11.1.2.1").Tag)
	s.Hide()
	for _, oid := range probes {
		require.Less(t, read(s, noon, oid).Tag, TagNoSuchObject, oid)
	}
}

func TestColumnsAndRowsAscend(t *testing.T) {
	for _, s := range FerrowQuay(1, noon).Switches() {
		view := s.At(noon)
		name := OID{0, 0}
		n := 0
		for vb := view.Next(name); vb.Value.Tag != TagEndOfMibView; vb = view.Next(name) {
			require.Equal(t, vb.Value, view.Get(vb.Name))
			require.Negative(t, compare(name, vb.Name))
			name = vb.Name
			n++
		}
		total := 0
		for _, c := range view.Columns {
			total += len(c.Rows)
		}
		require.Equal(t, total, n)
	}
}

func BenchmarkPollOfOneSwitch(b *testing.B) {
	c := FerrowQuay(1, noon)
	agent, err := Listen("127.0.0.1:0", c.Switch("acc-n1-1"), everyUser())
	require.NoError(b, err)
	defer agent.Close()
	agent.MaxMessage = 1400
	columns := names("1.3.6.1.2.1.2.2.1.8", "1.3.6.1.2.1.31.1.1.1.6", "1.3.6.1.2.1.31.1.1.1.7", "1.3.6.1.2.1.10.7.2.1.3", "1.3.6.1.2.1.2.2.1.9")
	bulk := &Message{Type: GetBulkRequest, RequestID: 1, ErrorIndex: 12, Varbinds: columns}
	raw := appendTLV(nil, TagSequence, bulk.append(appendTLV(appendInt(nil, TagInteger, 1), TagOctetString, []byte("quay"))))
	b.ReportAllocs()
	for b.Loop() { // 40 PDUs of 60 values: 48 ports of 50 columns
		for range 40 {
			agent.handle(raw, noon)
		}
	}
}

func BenchmarkCampusSecond(b *testing.B) {
	c := FerrowQuay(1, noon)
	now := noon
	for b.Loop() {
		now = now.Add(time.Second)
		c.Do(now, func() {})
	}
}
