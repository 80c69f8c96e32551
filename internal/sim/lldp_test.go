package sim

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const (
	lldpLocPort = "1.0.8802.1.1.2.1.3.7.1."
	lldpRem     = "1.0.8802.1.1.2.1.4.1.1."
	lldpRem3    = "1.0.8802.1.1.2.1.5.4623.1.3.1.1."
	basePort    = "1.3.6.1.2.1.17.1.4.1.2"
)

// remote gives the rows of a local port, by column.
func remote(s *Switch, now time.Time, number, entry string) []map[string]Value {
	byRow := map[string]map[string]Value{}
	for _, column := range []string{"1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12"} {
		for row, value := range rows(s, now, entry+column) {
			if strings.Split(row, ".")[1] != number {
				continue
			}
			if byRow[row] == nil {
				byRow[row] = map[string]Value{}
			}
			byRow[row][column] = value
		}
	}
	var out []map[string]Value
	for _, columns := range byRow {
		out = append(out, columns)
	}
	return out
}

// IEEE 802.1AB-2005 clause 12: what two switches say to each other, and the
// 802.3 part's encodings (annex G; IANA-MAU-MIB: 30 is 1000BASE-T full duplex).
func TestNeighboursAcrossALink(t *testing.T) {
	c := NewCampus(5, noon)
	near := c.AddSwitch(SwitchPlan{Name: "near", Copper: 2, Fibre: 1, Optic: "10GBASE-SR", Up: time.Hour})
	far := c.AddSwitch(SwitchPlan{Name: "far", Copper: 2, First: 7, Up: time.Hour, LLDP: LLDP{PortID: MACAddress, Address: "192.0.2.7"}})
	c.Connect(Cable{ID: "X", Media: Copper, A: near.Port("1/2"), B: far.Port("1/1"), AtoB: Flow{Bits: 1e6, Mix: office}})
	got := remote(near, noon, "2", lldpRem)
	require.Len(t, got, 1)
	mac := far.Port("1/1").mac()
	require.Equal(t, map[string]Value{
		"4": Integer(5), "5": Octets("\x01\xc0\x00\x02\x07"), // networkAddress: IPv4, 192.0.2.7
		"6": Integer(3), "7": Octets(string(mac[:])), // macAddress
		"8": Octets("Unit 1 port 1"), "9": Octets("far"), "10": Octets("Ferrow Quay switch FQ2"),
		"11": Octets("\x20"), "12": Octets("\x20"), // bridge(2)
	}, got[0])
	require.Equal(t, []map[string]Value{{"1": Integer(1), "2": Integer(1), "3": Octets("\x6c\x01"), "4": Integer(30)}},
		remote(near, noon, "2", lldpRem3))
	back := remote(far, noon, "7", lldpRem)
	require.Len(t, back, 1)
	mac = near.Port("1/1").mac()
	require.Equal(t, Integer(4), back[0]["4"])
	require.Equal(t, Octets(string(mac[:])), back[0]["5"])
	require.Equal(t, Octets("1/2"), back[0]["7"])
	require.Equal(t, Octets("near"), read(near, noon, "1.0.8802.1.1.2.1.3.3.0"))
	require.Equal(t, Integer(5), read(far, noon, "1.0.8802.1.1.2.1.3.1.0"))
	require.Equal(t, Octets("\x01\xc0\x00\x02\x07"), read(far, noon, "1.0.8802.1.1.2.1.3.2.0"))
	far.Hide("lldp3")
	require.Empty(t, remote(far, noon, "7", lldpRem3))
	require.Len(t, remote(far, noon, "7", lldpRem), 1)
}

// A neighbour is believed for 120 s, four intervals of 30 s (10.5.3.3).
func TestANeighbourAgesOut(t *testing.T) {
	c, s, _ := bench()
	cable := c.Connect(patched(s, "phone"))
	heard := func(after time.Duration) int { return len(remote(s, noon.Add(after), "1", lldpRem)) }
	require.Equal(t, 1, heard(0))
	c.Do(noon.Add(10*time.Second), func() { cable.Device.Off = true })
	require.Equal(t, 1, heard(129*time.Second))
	require.Equal(t, []Neighbour{{Port: "1/1", SystemName: "phone-b-1", Gone: 119 * time.Second}}, s.Neighbours(noon.Add(129*time.Second)))
	require.Equal(t, 0, heard(131*time.Second))
	c.Do(noon.Add(140*time.Second), func() { cable.Device.Off = false })
	require.Equal(t, 1, heard(150*time.Second))
	c.Do(noon.Add(160*time.Second), func() { cable.Device = &Device{Kind: "access point", Name: "ap", Speeds: gigabit, LLDP: true} })
	require.Equal(t, 2, heard(170*time.Second), "the old one for a while, and the new one")
	require.Equal(t, 1, heard(300*time.Second))
}

func TestAPhoneLetsThePCBehindItSpeak(t *testing.T) {
	c, s, _ := bench()
	cable := patched(s, "phone")
	cable.Device.Behind = &Device{Kind: "pc", Name: "desk", Speeds: gigabit, LLDP: true}
	c.Connect(cable)
	var names []string
	for _, n := range s.Neighbours(noon) {
		names = append(names, n.SystemName)
	}
	require.Equal(t, []string{"phone-b-1", "desk"}, names)
}

func TestAFlapKeepsTheRowAndARestartForgetsIt(t *testing.T) {
	c := FerrowQuay(1, noon)
	s, core := c.Switch("acc-n1-1"), c.Switch("core-n1-1")
	before := rows(core, noon, lldpRem+"9")
	now := noon.Add(10 * time.Second)
	s.Restart(now)
	require.Equal(t, before, rows(core, now, lldpRem+"9"), "still believed")
	require.Empty(t, rows(s, now, lldpRem+"9"))
	now = now.Add(10 * time.Second)
	require.Equal(t, before, rows(core, now, lldpRem+"9"), "and the same row when it is back")
	require.NotEmpty(t, rows(s, now, lldpRem+"9"))
}

// What the far end remembers of replaced hardware is the old one's address.
func TestReplacedHardwareIsAnotherNeighbour(t *testing.T) {
	c := Quayside(1, noon)
	core, dist := c.Switch("core-q1-1"), c.Switch("dist-q2-1")
	now := noon.Add(10 * time.Second)
	ids := func(now time.Time) map[string]bool {
		out := map[string]bool{}
		for _, id := range rows(core, now, lldpRem+"5") {
			out[string(id.Text)] = true
		}
		return out
	}
	before := ids(now)
	require.Len(t, before, 1)
	dist.Replace(now, 0)
	both := ids(now.Add(10 * time.Second))
	require.Len(t, both, 2)
	for id := range before {
		require.Contains(t, both, id)
		require.NotContains(t, ids(now.Add(3*time.Minute)), id)
	}
}

func TestNeighboursFollowAPlugThatIsPutElsewhere(t *testing.T) {
	c, s, _ := bench()
	one := c.Connect(patched(s, "phone"))
	other := c.Connect(Plug("B-2", s.Port("1/2"), "access point"))
	now := noon.Add(10 * time.Second)
	c.Do(now, func() { one.A, other.A = other.A, one.A })
	require.Equal(t, Integer(2), read(s, now.Add(time.Second), "1.3.6.1.2.1.2.2.1.8.1"))
	require.Equal(t, Integer(1), read(s, now.Add(5*time.Second), "1.3.6.1.2.1.2.2.1.8.1"))
	var heard []string
	for _, n := range s.Neighbours(now.Add(3 * time.Minute)) {
		heard = append(heard, n.Port+" "+n.SystemName)
	}
	require.Equal(t, []string{"1/1 ap-b-2", "1/2 phone-b-1"}, heard)
	c.Do(now.Add(4*time.Minute), func() { one.Device = nil })
	require.Equal(t, Integer(2), read(s, now.Add(5*time.Minute), "1.3.6.1.2.1.2.2.1.8.2"), "unplugged")
}

// resolve finds a local port's ifIndex as the tables allow: by lldpLocPortId
// where it is an ifName, else by dot1dBasePortIfIndex, else the number is it.
func resolve(s *Switch, now time.Time, number string) string {
	if index, ok := rows(s, now, basePort)[number]; ok {
		return Integer(int64(index.Number)).text()
	}
	if read(s, now, lldpLocPort+"2."+number).Number == 5 {
		for index, name := range rows(s, now, ifNames) {
			if string(name.Text) == string(read(s, now, lldpLocPort+"3."+number).Text) {
				return index
			}
		}
	}
	return number
}

func (v Value) text() string { return OID{uint32(v.Number)}.String() }

// Every neighbour of every switch is at the port that its cable is in.
func TestEveryNeighbourIsWhereItsCableIs(t *testing.T) {
	c := FerrowQuay(1, noon)
	kinds := map[string]bool{}
	for _, s := range c.Switches() {
		byIndex := map[string]*Port{}
		for _, p := range s.Ports() {
			byIndex[OID{uint32(s.IfIndex(p))}.String()] = p
		}
		ports := rows(s, noon, lldpLocPort+"3")
		require.Len(t, ports, len(s.Ports()))
		for row, name := range rows(s, noon, lldpRem+"9") {
			number := strings.Split(row, ".")[1]
			require.Contains(t, ports, number)
			p := byIndex[resolve(s, noon, number)]
			require.NotNil(t, p, "%s %s", s.Name, number)
			cable := c.Cable(p)
			switch {
			case cable.A == p && cable.B != nil:
				require.Equal(t, cable.B.Switch().Name, string(name.Text))
			case cable.B == p:
				require.Equal(t, cable.A.Switch().Name, string(name.Text))
			case cable.Device.Behind != nil:
				require.Contains(t, []string{cable.Device.Name, cable.Device.Behind.Name}, string(name.Text))
			default:
				require.Equal(t, cable.Device.Name, string(name.Text))
			}
		}
		for _, subtype := range rows(s, noon, lldpLocPort+"2") {
			kinds["port "+subtype.text()] = true
		}
		kinds["chassis "+read(s, noon, "1.0.8802.1.1.2.1.3.1.0").text()] = true
		kinds["numbers "+string(s.lldp.Numbers)] = true
	}
	require.Equal(t, map[string]bool{
		"port 1": true, "port 3": true, "port 5": true, "port 7": true, "chassis 4": true, "chassis 5": true,
		"numbers ": true, "numbers bridge port": true, "numbers own": true,
	}, kinds)
}

func TestRecordsNameSomeDevices(t *testing.T) {
	c := FerrowQuay(1, noon)
	named, kinds := 0, 0
	for _, r := range inventory(t, c) {
		switch device := r["device"]; {
		case device == "phone" || device == "access point":
			kinds++
		case strings.HasPrefix(device, "ap-") || strings.HasPrefix(device, "phone-"):
			named++
		}
	}
	require.Greater(t, named, 15)
	require.Greater(t, kinds, 15)
}
