package snmp_test

import (
	"encoding/hex"
	"strconv"
	"strings"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"
	"toneout/internal/snmp/snmpdtest"
	"toneout/internal/standards"

	"github.com/stretchr/testify/require"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// snmpdUser is what snmpdtest's agent knows.
var snmpdUser = snmp.Credentials{
	Version: 3, User: snmpdtest.User,
	Authentication: snmp.Secret{Protocol: "SHA-256", Passphrase: snmpdtest.AuthenticationPassphrase},
	Privacy:        snmp.Secret{Protocol: "AES-128", Passphrase: snmpdtest.PrivacyPassphrase},
}

// The same poll of a simulated switch and of net-snmp's agent, each compared
// with what net-snmp's own client reads there.
func TestPollReadsWhatTheReferenceClientReads(t *testing.T) {
	need(t, "snmpbulkwalk")
	t.Run("simulated switch, 48 copper and 2 fibre ports", func(t *testing.T) {
		campus := sim.FerrowQuay(1, noon)
		now := noon.Add(time.Minute)
		user := sim.User{Name: "toneout", Authentication: "SHA-256", Passphrase: "harbour light", Privacy: "AES-128", PrivacyPassphrase: "slack water"}
		address := serveTo(t, campus.Switch("acc-n1-1"), sim.Security{Communities: []string{community}, Users: []sim.User{user}},
			func(a *sim.Agent) { a.Now = func() time.Time { return now } })
		require.Equal(t, 53, agrees(t, open(t, address, v2c), address, community))
		require.Equal(t, 53, agrees(t, open(t, address, snmpdUser), address, community))
	})
	t.Run("snmpd", func(t *testing.T) {
		agent := snmpdtest.Start(t, 12)
		agent.Override("port7", "1.3.6.1.2.1.10.7.2.1.3", "counter", "4242") // dot3StatsFCSErrors
		agent.Restart(false)
		require.Equal(t, 14, agrees(t, open(t, agent.Address, v2cOf(snmpdtest.Community)), agent.Address, snmpdtest.Community))
		require.Equal(t, 14, agrees(t, open(t, agent.Address, snmpdUser), agent.Address, snmpdtest.Community))
	})
}

func v2cOf(community string) snmp.Credentials {
	return snmp.Credentials{Version: 2, Community: community}
}

// agrees polls twice, as the second one asks only for the columns that the
// first one found, and compares; it gives the number of rows.
func agrees(t *testing.T, s *snmp.Switch, address, community string) int {
	t.Helper()
	asked := []string{"-v2c", "-c", community, "-Cr10"}
	reference := walked(t, address, asked, ".1.3.6.1.2.1")
	for name, bits := range walked(t, address, append(asked, "-Ox"), ".1.3.6.1.2.1.26.5") {
		reference[name] = bits
	}
	var p port.Poll
	for range 2 {
		p = poll(t, s)
		require.Equal(t, reference[".1.3.6.1.2.1.1.5.0"], p.Name)
		require.Len(t, p.Ports, len(rowsOf(reference, ".1.3.6.1.2.1.2.2.1.8.")))
		for i := range p.Ports {
			agreesPort(t, &p.Ports[i], reference)
		}
		for _, table := range p.Tables {
			require.Equal(t, table.Rows > 0, table.Given(), table.Name)
		}
		require.Equal(t, len(rowsOf(reference, ".1.3.6.1.2.1.10.7.2.1.19.")), p.Tables[2].Rows, p.Tables[2].Name)
		require.Equal(t, len(rowsOf(reference, ".1.3.6.1.2.1.26.2.1.1.3.")), p.Tables[4].Rows, p.Tables[4].Name)
	}
	return len(p.Ports)
}

func rowsOf(reference map[string]string, prefix string) (rows []string) {
	for name := range reference {
		if len(name) > len(prefix) && name[:len(prefix)] == prefix {
			rows = append(rows, name)
		}
	}
	return rows
}

// objects gives each counter's objects, widest first (RFC 2863, 3635, 4836).
var objects = [port.CounterCount][]string{
	port.InOctets: {".1.3.6.1.2.1.31.1.1.1.6.", ".1.3.6.1.2.1.2.2.1.10."}, port.InUnicast: {".1.3.6.1.2.1.31.1.1.1.7.", ".1.3.6.1.2.1.2.2.1.11."},
	port.InMulticast: {".1.3.6.1.2.1.31.1.1.1.8.", ".1.3.6.1.2.1.31.1.1.1.2."}, port.InBroadcast: {".1.3.6.1.2.1.31.1.1.1.9.", ".1.3.6.1.2.1.31.1.1.1.3."},
	port.OutOctets: {".1.3.6.1.2.1.31.1.1.1.10.", ".1.3.6.1.2.1.2.2.1.16."}, port.OutUnicast: {".1.3.6.1.2.1.31.1.1.1.11.", ".1.3.6.1.2.1.2.2.1.17."},
	port.OutMulticast: {".1.3.6.1.2.1.31.1.1.1.12.", ".1.3.6.1.2.1.31.1.1.1.4."}, port.OutBroadcast: {".1.3.6.1.2.1.31.1.1.1.13.", ".1.3.6.1.2.1.31.1.1.1.5."},
	port.InErrors: {".1.3.6.1.2.1.2.2.1.14."}, port.InDiscards: {".1.3.6.1.2.1.2.2.1.13."},
	port.OutErrors: {".1.3.6.1.2.1.2.2.1.20."}, port.OutDiscards: {".1.3.6.1.2.1.2.2.1.19."},
	port.FCS:                 {".1.3.6.1.2.1.10.7.11.1.2.", ".1.3.6.1.2.1.10.7.2.1.3."},
	port.Alignment:           {".1.3.6.1.2.1.10.7.11.1.1.", ".1.3.6.1.2.1.10.7.2.1.2."},
	port.Symbol:              {".1.3.6.1.2.1.10.7.11.1.6.", ".1.3.6.1.2.1.10.7.2.1.18."},
	port.TooLong:             {".1.3.6.1.2.1.10.7.11.1.4.", ".1.3.6.1.2.1.10.7.2.1.13."},
	port.InternalReceive:     {".1.3.6.1.2.1.10.7.11.1.5.", ".1.3.6.1.2.1.10.7.2.1.16."},
	port.InternalTransmit:    {".1.3.6.1.2.1.10.7.11.1.3.", ".1.3.6.1.2.1.10.7.2.1.10."},
	port.LateCollisions:      {".1.3.6.1.2.1.10.7.2.1.8."},
	port.ExcessiveCollisions: {".1.3.6.1.2.1.10.7.2.1.9."},
	port.SingleCollisions:    {".1.3.6.1.2.1.10.7.2.1.4."},
	port.MultipleCollisions:  {".1.3.6.1.2.1.10.7.2.1.5."},
	port.CarrierSense:        {".1.3.6.1.2.1.10.7.2.1.11."},
}

// duplexes gives the values of dot3StatsDuplexStatus (RFC 3635).
var duplexes = map[string]standards.Duplex{
	"": standards.DuplexUnknown, "1": standards.DuplexUnknown, "2": standards.HalfDuplex, "3": standards.FullDuplex,
}

// agreesMAU compares a port with its first MAU (RFC 4836).
func agreesMAU(t *testing.T, r *port.Reading, reference map[string]string) {
	t.Helper()
	at := func(object string) string { return reference[object+strconv.Itoa(r.Index)+".1"] }
	answer := func(object string, got port.Answer) {
		n, _ := strconv.Atoi(at(object)) // absent is NotTold, which is 0
		require.EqualValues(t, n, got, "%s of port %s", object, r.Name)
	}
	want := strings.TrimPrefix(at(".1.3.6.1.2.1.26.2.1.1.3."), ".1.3.6.1.2.1.26.4.")
	if want == "" || want == ".0.0" {
		want = "0"
	}
	require.Equal(t, want, strconv.Itoa(r.MAU), "MAU type of port %s", r.Name)
	answer(".1.3.6.1.2.1.26.2.1.1.12.", r.AutoNeg.Supported)
	answer(".1.3.6.1.2.1.26.5.1.1.1.", r.AutoNeg.Enabled)
	for object, got := range map[string]port.Value[standards.Abilities]{
		".1.3.6.1.2.1.26.5.1.1.9.": r.AutoNeg.Capable, ".1.3.6.1.2.1.26.5.1.1.10.": r.AutoNeg.Advertised, ".1.3.6.1.2.1.26.5.1.1.11.": r.AutoNeg.Received,
	} {
		text, given := reference[object+strconv.Itoa(r.Index)+".1"]
		abilities, ok := got.Get()
		require.Equal(t, given, ok, "%s of port %s", object, r.Name)
		require.Equal(t, standards.ParseAbilities(octets(t, text)), abilities, "%s of port %s", object, r.Name)
	}
}

// octets reads what snmpbulkwalk prints of a string with -Ox: "6C 01 ".
func octets(t *testing.T, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	require.NoError(t, err)
	return b
}

func agreesPort(t *testing.T, r *port.Reading, reference map[string]string) {
	t.Helper()
	at := func(object string) string { return reference[object+strconv.Itoa(r.Index)] }
	number := func(n int) string { return strconv.Itoa(n) }
	value := func(v port.Value[uint32]) string {
		if n, ok := v.Get(); ok {
			return strconv.FormatUint(uint64(n), 10)
		}
		return ""
	}
	for object, got := range map[string]string{
		".1.3.6.1.2.1.31.1.1.1.1.":  r.Name,
		".1.3.6.1.2.1.2.2.1.2.":     r.Description,
		".1.3.6.1.2.1.31.1.1.1.18.": r.Alias,
		".1.3.6.1.2.1.2.2.1.3.":     number(r.Type),
		".1.3.6.1.2.1.31.1.1.1.17.": number(int(r.Connector)),
		".1.3.6.1.2.1.2.2.1.7.":     number(int(r.Admin)),
		".1.3.6.1.2.1.2.2.1.8.":     number(int(r.Oper)),
		".1.3.6.1.2.1.2.2.1.5.":     value(r.LowSpeed),
		".1.3.6.1.2.1.31.1.1.1.15.": value(r.HighSpeed),
		".1.3.6.1.2.1.2.2.1.9.":     value(r.LastChange),
		".1.3.6.1.2.1.31.1.1.1.19.": value(r.Discontinuity),
	} {
		require.Equal(t, at(object), got, "%s of port %s", object, r.Name)
	}
	require.Equal(t, duplexes[at(".1.3.6.1.2.1.10.7.2.1.19.")], r.DuplexStatus, "duplex of port %s", r.Name)
	agreesMAU(t, r, reference)
	if r.Name == "mgmt" {
		return // carries the polls themselves, so its counters move
	}
	for k, names := range objects {
		counter := port.Counter(k)
		want, wide := "", false
		for _, name := range names {
			if want == "" {
				want, wide = at(name), len(names) == 2 && name == names[0]
			}
		}
		if counter == port.MediaExits {
			want = reference[".1.3.6.1.2.1.26.2.1.1.6."+strconv.Itoa(r.Index)+".1"]
		}
		got, ok := r.Counters.Get(counter)
		require.Equal(t, want != "", ok, "%v of port %s", counter, r.Name)
		if ok {
			require.Equal(t, want, strconv.FormatUint(got, 10), "%v of port %s", counter, r.Name)
			require.Equal(t, wide, r.Counters.Wide(counter), "%v of port %s", counter, r.Name)
		}
	}
}
