package sim

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// rows gives a column of a switch by instance.
func rows(s *Switch, now time.Time, object string) map[string]Value {
	out := map[string]Value{}
	view, column := s.At(now), ParseOID(object)
	for vb := view.Next(column); hasPrefix(vb.Name, column) && vb.Value.Tag != TagEndOfMibView; vb = view.Next(vb.Name) {
		out[vb.Name[len(column):].String()] = vb.Value
	}
	return out
}

const (
	entPhysical = "1.3.6.1.2.1.47.1.1.1.1."
	entAlias    = "1.3.6.1.2.1.47.1.3.2.1.2"
	ifNames     = "1.3.6.1.2.1.31.1.1.1.1"
	ifStack     = "1.3.6.1.2.1.31.1.2.1.3"
	inOctets    = "1.3.6.1.2.1.31.1.1.1.6"
)

func stacked() (*Campus, *Switch) {
	c := NewCampus(5, noon)
	return c, c.AddSwitch(SwitchPlan{Name: "stack", Members: 2, Copper: 4, Fibre: 1, Optic: "10GBASE-SR", First: 101, Up: time.Hour})
}

// RFC 6933: the containment tree of entPhysicalTable, and the alias of each port.
func TestEntities(t *testing.T) {
	_, s := stacked()
	want := map[string]struct {
		class, in, at int64
		name, serial  string
	}{
		"1":    {11, 0, -1, "Stack", ""},
		"1000": {3, 1, 1, "Unit 1", "FQ4-0001"},
		"1003": {10, 1000, 3, "1/3", ""},
		"1901": {6, 1000, 1, "Unit 1 power 1", "FQP-0002"},
		"2000": {3, 1, 2, "Unit 2", "FQ4-0003"},
		"2005": {10, 2000, 5, "2/5", ""},
	}
	for index, e := range want {
		for column, value := range map[string]Value{
			"4": Integer(e.in), "5": Integer(e.class), "6": Integer(e.at), "7": Octets(e.name), "11": Octets(e.serial),
		} {
			require.Equal(t, value, read(s, noon, entPhysical+column+"."+index), "column %s of %s", column, index)
		}
	}
	require.Equal(t, Octets("FQ4"), read(s, noon, entPhysical+"13.1000"))
	require.Len(t, rows(s, noon, entPhysical+"5"), 1+2*(1+1+5)+2*(1+4), "an optic has four sensors")
	aliases := rows(s, noon, entAlias)
	require.Len(t, aliases, 10)
	for row, alias := range aliases { // entPhysicalIndex.0 = ifIndex.N, by the MIB's own example
		physical := strings.TrimSuffix(row, ".0")
		index := strings.TrimPrefix(alias.Object.String(), "1.3.6.1.2.1.2.2.1.1.")
		require.Equal(t, read(s, noon, entPhysical+"7."+physical), read(s, noon, ifNames+"."+index))
	}
	alone := FerrowQuay(1, noon).Switch("acc-n1-1")
	require.Equal(t, Integer(0), read(alone, noon, entPhysical+"4.1000"), "a chassis in nothing")
	require.Equal(t, alone.Serial(1), string(read(alone, noon, entPhysical+"11.1000").Text))
}

func TestSerialsAreUnique(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range FerrowQuay(1, noon).Switches() {
		for index, serial := range rows(s, noon, entPhysical+"11") {
			if text := string(serial.Text); text != "" {
				require.False(t, seen[text], "%s of %s %s", text, s.Name, index)
				seen[text] = true
			}
		}
	}
	require.Len(t, seen, 24+68, "a chassis and a power supply of each switch, an optic in each cage")
}

func TestReplacedHardware(t *testing.T) {
	c := FerrowQuay(1, noon)
	s := c.Switch("acc-n1-1")
	now := noon.Add(10 * time.Second)
	serial, engine, mac := s.Serial(1), s.Engine(now), read(s, now, "1.3.6.1.2.1.2.2.1.6.17")
	s.Replace(now, 1001)
	require.NotEqual(t, serial, s.Serial(1))
	require.NotEqual(t, engine.ID, s.Engine(now).ID)
	require.Equal(t, uint32(1), s.Engine(now).Boots)
	require.Equal(t, Octets("1/17"), read(s, now, ifNames+".1017"))
	require.NotEqual(t, mac, read(s, now, "1.3.6.1.2.1.2.2.1.6.1017"))
	require.Zero(t, read(s, now, inOctets+".1049").Number)
	require.Positive(t, read(s, now.Add(10*time.Second), inOctets+".1049").Number, "cabled as before")
	require.Equal(t, "acc-n1-1", string(read(s, now, "1.3.6.1.2.1.1.5.0").Text), "configured as before")
	agent := serve(t, s, everyUser(), at(now.Add(20*time.Second)))
	out, err := netsnmp(t, "snmpget", agent, everyLevel["authPriv SHA-256 AES"].args, []string{".1.3.6.1.2.1.1.5.0"})
	require.NoError(t, err, "the new engine's keys")
	require.Contains(t, out, `"acc-n1-1"`)
}

func TestAnAgentFollowsItsReplacedEngine(t *testing.T) {
	c := FerrowQuay(1, noon)
	s := c.Switch("acc-n1-1")
	now := noon.Add(10 * time.Second)
	agent := serve(t, s, everyUser(), at(now))
	get := func() error {
		_, err := netsnmp(t, "snmpget", agent, everyLevel["authPriv SHA-256 AES"].args, []string{".1.3.6.1.2.1.1.5.0"})
		return err
	}
	require.NoError(t, get())
	s.Replace(now, 0)
	require.NoError(t, get())
}

func TestMembersOfAStack(t *testing.T) {
	c, s := stacked()
	one, two := s.Serial(1), s.Serial(2)
	lower, upper := s.Port("1/1"), s.Port("2/1")
	for _, p := range []*Port{lower, upper} {
		c.Connect(Plug("R"+p.Name, p, "pc"))
	}
	now := noon.Add(10 * time.Second)
	require.Equal(t, Octets("2/1"), read(s, now, ifNames+".106"))
	require.Equal(t, Octets("Unit 2 port 1"), read(s, now, "1.3.6.1.2.1.2.2.1.2.106"))
	require.Equal(t, upper.mac(), [6]byte(read(s, now, "1.3.6.1.2.1.2.2.1.6.106").Text))
	before := read(s, now, inOctets+".101").Number
	require.Positive(t, before)

	s.LoseMember(now, 2)
	require.Equal(t, TagNoSuchInstance, read(s, now, ifNames+".106").Tag)
	require.Equal(t, TagNoSuchInstance, read(s, now, entPhysical+"11.2000").Tag)
	require.Equal(t, Integer(8), read(s, now, "1.3.6.1.2.1.2.1.0"), "ifNumber: five ports and three others")
	require.Equal(t, Octets("1/5"), read(s, now, ifNames+".105"))
	require.Equal(t, Ticks(time.Hour+10*time.Second), read(s, now, "1.3.6.1.2.1.31.1.5.0"))
	now = now.Add(10 * time.Second)
	require.Greater(t, read(s, now, inOctets+".101").Number, before, "the other goes on")
	c.Do(now, func() {
		speed, _ := upper.Link()
		require.Zero(t, speed, "without power")
	})

	s.ReturnMember(now, 2)
	require.Equal(t, Counter64(0), read(s, now, inOctets+".106"))
	require.Equal(t, Integer(1), read(s, now.Add(5*time.Second), "1.3.6.1.2.1.2.2.1.8.106"))
	now = now.Add(10 * time.Second)

	s.SwapMembers(now, 1, 2)
	require.Equal(t, []string{two, one}, []string{s.Serial(1), s.Serial(2)})
	require.Equal(t, "2/1", lower.Name, "the jack that the cable is in")
	require.Equal(t, 106, s.IfIndex(lower))
	require.Equal(t, Counter64(0), read(s, now, inOctets+".106"))
	require.Equal(t, lower.mac(), [6]byte(read(s, now, "1.3.6.1.2.1.2.2.1.6.106").Text), "the chassis keeps its addresses")
	require.Equal(t, Ticks(time.Hour+30*time.Second), read(s, now, "1.3.6.1.2.1.1.3.0"), "the stack runs on")
	require.Positive(t, read(s, now.Add(10*time.Second), inOctets+".106").Number)
}

// RFC 2863 section 3.1.1: every row is in ifStackTable, with 0 above the
// topmost and below the undermost.
func TestTheInterfaceStack(t *testing.T) {
	s := FerrowQuay(1, noon).Switch(bundled)
	index := map[string]string{}
	for row, name := range rows(s, noon, ifNames) {
		index[string(name.Text)] = row
	}
	stack := rows(s, noon, ifStack)
	for _, pair := range [][2]string{
		{"lag1", "1/49"}, {"lag1", "1/50"}, {"1/49.20", "1/49"}, {"", "lag1"}, {"", "1/49.20"}, {"1/49", ""}, {"1/50", ""},
		{"", "1/7"}, {"1/7", ""}, {"", "cpu"}, {"cpu", ""},
	} {
		row := strings.TrimPrefix("."+index[pair[0]], ".") + "." + index[pair[1]]
		if pair[0] == "" {
			row = "0" + row
		}
		if pair[1] == "" {
			row += "0"
		}
		require.Equal(t, Integer(1), stack[row], "%s above %s: active", pair[0], pair[1])
		delete(stack, row)
	}
	for row := range stack {
		require.NotContains(t, []string{"0." + index["1/49"], "0." + index["1/50"]}, row, "what has something above it")
	}
	require.Equal(t, Integer(161), read(s, noon, "1.3.6.1.2.1.2.2.1.3."+index["lag1"]), "ieee8023adLag (IANAifType)")
	for _, column := range []string{
		"1.3.6.1.2.1.2.2.1.3", "1.3.6.1.2.1.2.2.1.5", "1.3.6.1.2.1.2.2.1.8", "1.3.6.1.2.1.2.2.1.10", inOctets, ifXColumn(17), "1.3.6.1.2.1.10.7.2.1.19",
	} {
		require.Equal(t, read(s, noon, column+"."+index["1/49"]), read(s, noon, column+"."+index["1/49.20"]), "%s: the port's twin", column)
	}
	sum := read(s, noon, inOctets+"."+index["1/49"]).Number + read(s, noon, inOctets+"."+index["1/50"]).Number
	require.Equal(t, Counter64(sum), read(s, noon, inOctets+"."+index["lag1"]))
	require.Equal(t, Gauge32(20000), read(s, noon, ifXColumn(15)+"."+index["lag1"]))
}

func ifXColumn(n int) string { return "1.3.6.1.2.1.31.1.1.1." + strconv.Itoa(n) }

// RFC 2819: what a probe counts on a port with bad frames, against dot3Stats
// and ifTable of the same port.
func TestProbesAgreeWithTheOtherTables(t *testing.T) {
	const probe = "1.3.6.1.2.1.16.1.1.1."
	c, s, _ := bench()
	cable := patched(s, "workstation")
	cable.BERToA = 1e-6
	c.Connect(cable)
	now := noon.Add(time.Minute)
	value := func(oid string) uint64 { return read(s, now, oid).Number }
	require.Equal(t, ObjectID(ParseOID("1.3.6.1.2.1.2.2.1.1.1")), read(s, now, probe+"2.4"), "etherStatsDataSource of the last probe")
	require.Equal(t, Integer(4), read(s, now, probe+"1.4"))
	bad := value("1.3.6.1.2.1.10.7.2.1.3.1") + value("1.3.6.1.2.1.10.7.2.1.2.1")
	require.Positive(t, bad)
	require.Equal(t, bad, value(probe+"8.4"), "CRCAlignErrors: FCS and alignment")
	good := value(ifXColumn(7)+".1") + value(ifXColumn(8)+".1") + value(ifXColumn(9)+".1")
	require.Equal(t, good+bad, value(probe+"5.4"), "Pkts: bad ones too")
	require.Equal(t, value(ifXColumn(9)+".1"), value(probe+"6.4"), "BroadcastPkts: good ones")
	require.Equal(t, value(ifXColumn(8)+".1"), value(probe+"7.4"))
	octets := value(probe+"4.4") - value("1.3.6.1.2.1.2.2.1.10.1")
	require.Greater(t, octets, 64*bad, "Octets: those of bad frames too")
	require.Less(t, octets, 1518*bad)
	for _, column := range []string{"3", "9", "10", "11", "12", "13"} {
		require.Equal(t, Counter32(0), read(s, now, probe+column+".4"))
	}
}

// A frame cut by a collision within the slot time is shorter than 64 octets:
// a fragment by RFC 2819, and nothing that dot3Stats counts where it arrives.
func TestCollisionsLeaveFragments(t *testing.T) {
	c, s, _ := bench()
	cable := patched(s, "pc")
	cable.AtoB, cable.BtoA = Flow{Bits: 2e7, Mix: office}, Flow{Bits: 2e7, Mix: office}
	cable.A.Advertised, cable.A.Fixed = []int{100}, 100
	laid := c.Connect(cable)
	n := counted(c, cable.A, noon.Add(time.Minute))
	far := laid.Device.line.Counters
	require.Positive(t, n.Fragments)
	require.Equal(t, far.SingleCollision, n.Fragments)
	require.Equal(t, far.Late, n.FCS)
	require.Equal(t, n.InOctets, far.OutOctets, "no octets of frames that were cut (RFC 3635, ifOutOctets)")
	require.Equal(t, Counter32(n.Fragments), read(s, noon.Add(time.Minute), "1.3.6.1.2.1.16.1.1.1.11.4"))
}
