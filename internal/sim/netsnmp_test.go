package sim

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The reference client is net-snmp's: what it reads must be what the view holds.

var everyLevel = map[string]struct {
	user User
	args []string
}{
	"v2c": {args: []string{"-v2c", "-c", "quay"}},
	"noAuthNoPriv": {
		User{Name: "plain"},
		[]string{"-v3", "-u", "plain", "-l", "noAuthNoPriv"},
	},
	"authNoPriv SHA": {
		User{Name: "signed", Authentication: "SHA", Passphrase: "harbour light"},
		[]string{"-v3", "-u", "signed", "-l", "authNoPriv", "-a", "SHA", "-A", "harbour light"},
	},
	"authPriv SHA-256 AES": {
		User{Name: "toneout", Authentication: "SHA-256", Passphrase: "harbour light", Privacy: "AES-128", PrivacyPassphrase: "slack water"},
		[]string{"-v3", "-u", "toneout", "-l", "authPriv", "-a", "SHA-256", "-A", "harbour light", "-x", "AES", "-X", "slack water"},
	},
	"authPriv SHA-512 AES-256": {
		User{Name: "long", Authentication: "SHA-512", Passphrase: "harbour light", Privacy: "AES-256", PrivacyPassphrase: "slack water"},
		[]string{"-v3", "-u", "long", "-l", "authPriv", "-a", "SHA-512", "-A", "harbour light", "-x", "AES-256", "-X", "slack water"},
	},
	"authPriv MD5 DES": {
		User{Name: "old", Authentication: "MD5", Passphrase: "harbour light", Privacy: "DES", PrivacyPassphrase: "slack water"},
		[]string{"-v3", "-u", "old", "-l", "authPriv", "-a", "MD5", "-A", "harbour light", "-x", "DES", "-X", "slack water"},
	},
}

func everyUser() Security {
	security := Security{Communities: []string{"quay"}}
	for _, level := range everyLevel {
		if level.user.Name != "" {
			security.Users = append(security.Users, level.user)
		}
	}
	return security
}

// netsnmp runs one of its tools with numeric output and one try of 2 s.
func netsnmp(t *testing.T, name string, agent *Agent, args, rest []string) (string, error) {
	t.Helper()
	all := append([]string{"-m", "", "-On", "-Oe", "-t", "2", "-r", "0"}, args...)
	command := exec.Command(tool(t, name), append(append(all, agent.Addr()), rest...)...)
	command.Env = []string{"SNMPCONFPATH=/nonexistent", "SNMP_PERSISTENT_DIR=" + t.TempDir()}
	var out, diagnosis bytes.Buffer
	command.Stdout, command.Stderr = &out, &diagnosis
	if err := command.Run(); err != nil {
		return out.String(), fmt.Errorf("%s: %w: %s", name, err, diagnosis.String())
	}
	return out.String(), nil
}

func TestNetSNMPWalksTheWholeViewAtEverySecurityLevel(t *testing.T) {
	campus := FerrowQuay(1, noon)
	s := campus.Switch("acc-n1-1")
	now := noon.Add(5 * time.Second)
	agent := serve(t, s, everyUser(), at(now))
	want := 0
	for _, c := range s.At(now).Columns {
		want += len(c.Rows)
	}
	for name, level := range everyLevel {
		t.Run(name, func(t *testing.T) {
			out, err := netsnmp(t, "snmpbulkwalk", agent, level.args, []string{"-Cr40", ".1"})
			if err != nil && strings.Contains(err.Error(), "Invalid privacy protocol") && os.Getenv("TONEOUT_SYSTEM_TESTS") != "1" {
				t.Skip("this net-snmp is built without AES-256")
			}
			require.NoError(t, err)
			// snmpbulkwalk checks by itself that the names increase.
			lines := strings.Split(strings.TrimSpace(out), "\n")
			require.Equal(t, want, len(lines)-1, "the last line says that the view ended")
			require.Contains(t, lines[len(lines)-1], "No more variables left")
			for _, line := range []string{
				`.1.3.6.1.2.1.1.5.0 = STRING: "acc-n1-1"`,
				`.1.3.6.1.2.1.31.1.1.1.1.17 = STRING: "1/17"`,
				`.1.3.6.1.2.1.31.1.1.1.15.12 = Gauge32: 1000`,
				`.1.3.6.1.2.1.26.2.1.1.3.12.1 = OID: .1.3.6.1.2.1.26.4.30`,
				`.1.3.6.1.2.1.26.5.1.1.11.12.1 = Hex-STRING: 6C 01 `,
			} {
				require.Contains(t, lines, line)
			}
			require.Zero(t, agent.Sets())
		})
	}
}

// A stack, a bundle and padded names, in net-snmp's own reading of the tables;
// it prints octets that are no text in hexadecimal.
func TestNetSNMPWalksTheOtherTables(t *testing.T) {
	c, s := stacked()
	s.bundle, s.lldp = []*Port{s.Port("1/5"), s.Port("2/5")}, LLDP{Numbers: ByBridgePort, Address: "192.0.2.7"}
	phone := c.Connect(Plug("R-1", s.Port("2/1"), "phone"))
	agent := serve(t, s, everyUser(), at(noon))
	mark := read(s, noon, "1.3.6.1.2.1.2.2.1.9.106").text() // the neighbour was met as the link came up
	mac := phone.Device.mac()
	for object, lines := range map[string][]string{
		"1.3.6.1.2.1.47": {
			`.47.1.1.1.1.5.1 = INTEGER: 11`, `.47.1.1.1.1.4.2000 = INTEGER: 1`, `.47.1.1.1.1.11.2000 = STRING: "FQ4-0003"`,
			`.47.1.1.1.1.7.2001 = STRING: "2/1"`, `.47.1.3.2.1.2.2001.0 = OID: .1.3.6.1.2.1.2.2.1.1.106`,
		},
		"1.3.6.1.2.1.31.1.2": {`.31.1.2.1.3.0.213 = INTEGER: 1`, `.31.1.2.1.3.213.105 = INTEGER: 1`, `.31.1.2.1.3.213.110 = INTEGER: 1`},
		"1.3.6.1.2.1.17":     {`.17.1.4.1.2.7 = INTEGER: 106`},
		"1.3.6.1.2.1.16":     {`.16.1.1.1.2.5 = OID: .1.3.6.1.2.1.2.2.1.1.106`},
		"1.0.8802.1.1.2": {
			`.1.0.8802.1.1.2.1.3.2.0 = Hex-STRING: 01 C0 00 02 07 `, `.1.0.8802.1.1.2.1.3.7.1.3.7 = STRING: "2/1"`,
			`.1.0.8802.1.1.2.1.4.1.1.9.` + mark + `.7.1 = STRING: "phone-r-1"`,
			`.1.0.8802.1.1.2.1.4.1.1.5.` + mark + fmt.Sprintf(`.7.1 = Hex-STRING: % X `, mac[:]),
			`.1.0.8802.1.1.2.1.4.1.1.12.` + mark + `.7.1 = STRING: "$"`, // 0x24: bridge(2) and telephone(5)
			`.1.0.8802.1.1.2.1.5.4623.1.3.1.1.3.` + mark + `.7.1 = Hex-STRING: 6C 01 `,
		},
	} {
		out, err := netsnmp(t, "snmpbulkwalk", agent, everyLevel["v2c"].args, []string{"-Cr25", object})
		require.NoError(t, err)
		for _, line := range lines {
			require.Contains(t, out, line+"\n")
		}
	}
}

func TestNetSNMPGetsEveryType(t *testing.T) {
	values := map[string]Value{
		"1": Integer(-129), "2": Counter32(1<<32 + 7), "3": Counter64(1<<64 - 1), "4": Gauge32(1 << 40),
		"5": Ticks(497 * 24 * time.Hour), "6": Octets("north\x00quay"), "7": ObjectID(ParseOID("2.100.3.4294967295")),
		"8": Integer(127), "9": Integer(128), "10": Counter64(128), "11": Octets(strings.Repeat("n", 300)), "12": Integer(-2147483648),
	}
	agent := serve(t, Static{"1.3.6.1.4.1.32473.9": values}, everyUser())
	want := map[string]string{
		"1": "INTEGER: -129", "2": "Counter32: 7", "3": "Counter64: 18446744073709551615", "4": "Gauge32: 4294967295",
		"5": "Timeticks: (4294080000) 497 days, 0:00:00.00", "6": "Hex-STRING: 6E 6F 72 74 68 00 71 75 61 79 ",
		"7": "OID: .2.100.3.4294967295", "8": "INTEGER: 127", "9": "INTEGER: 128", "10": "Counter64: 128",
		"11": `STRING: "` + strings.Repeat("n", 300) + `"`, "12": "INTEGER: -2147483648",
		"99": "No Such Instance currently exists at this OID",
	}
	for row, text := range want {
		out, err := netsnmp(t, "snmpget", agent, everyLevel["v2c"].args, []string{".1.3.6.1.4.1.32473.9." + row})
		require.NoError(t, err)
		require.Equal(t, ".1.3.6.1.4.1.32473.9."+row+" = "+text, strings.TrimRight(out, "\n"))
	}
	out, err := netsnmp(t, "snmpget", agent, everyLevel["v2c"].args, []string{".1.3.6.1.4.1.32473.8.1"})
	require.NoError(t, err)
	require.Contains(t, out, "No Such Object available on this agent at this OID")
}

func TestNetSNMPIsRefused(t *testing.T) {
	tool(t, "snmpset") // else its rows skip one by one, and no Set is seen
	agent := serve(t, Static{"1.3.6.1.2.1.1.5": {"0": Octets("quay")}}, everyUser())
	right := everyLevel["authPriv SHA-256 AES"].args
	replaced := func(old, new string) []string {
		out := append([]string(nil), right...)
		for i := range out {
			if out[i] == old {
				out[i] = new
			}
		}
		return out
	}
	name := []string{".1.3.6.1.2.1.1.5.0"}
	for _, row := range []struct {
		tool, says string
		args, rest []string
	}{
		{"snmpset", "notWritable", everyLevel["v2c"].args, append(name, "s", "mine")},
		{"snmpset", "notWritable", right, append(name, "s", "mine")},
		{"snmpget", "Timeout", []string{"-v2c", "-c", "other", "-t", "0.2"}, name},
		{"snmpget", "Unknown user name", replaced("toneout", "nobody"), name},
		{"snmpget", "Authentication failure", replaced("harbour light", "harbour dark"), name},
		{"snmpget", "Unsupported security level", []string{"-v3", "-u", "signed", "-l", "authPriv", "-a", "SHA", "-A", "harbour light", "-x", "AES", "-X", "slack water"}, name},
		{"snmpget", "authorizationError", replaced("authPriv", "authNoPriv"), name},
		{"snmpget", "Timeout", append(replaced("slack water", "spring tide"), "-t", "0.2"), name},
	} {
		t.Run(row.tool+" "+row.says, func(t *testing.T) {
			out, err := netsnmp(t, row.tool, agent, row.args, row.rest)
			require.Error(t, err, out)
			require.Contains(t, err.Error(), row.says)
		})
	}
	require.Equal(t, uint64(2), agent.Sets())
}
