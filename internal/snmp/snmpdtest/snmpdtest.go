// Package snmpdtest runs net-snmp's snmpd over ports that tests can unplug: a
// real agent, with its own tables, in a network namespace of its own. It needs
// root, ip and snmpd; without them the test is skipped, or fails where
// TONEOUT_SYSTEM_TESTS=1 says that they must be there.
//
// The ports are ends of veth pairs; their peers lie in a second namespace. The
// test reaches the agent over one more pair, by an address of 198.51.100.0/24
// (kept for documentation, RFC 5737), so nothing leaves the machine. All is taken away when the test ends.
package snmpdtest

import (
	"bytes"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// What the agent accepts: a community for SNMPv2c, and a user of SNMPv3 who
// must use authentication (SHA-256) and privacy (AES-128). See also UserOf.
const (
	Community                = "quay-read"
	User                     = "toneout"
	AuthenticationPassphrase = "harbour light"
	PrivacyPassphrase        = "slack water"
)

// Authentications and Privacies are the protocols that net-snmp may know, by
// its names; "" is no privacy.
var (
	Authentications = []string{"MD5", "SHA", "SHA-224", "SHA-256", "SHA-384", "SHA-512"}
	Privacies       = []string{"", "DES", "AES", "AES-192", "AES-256"}
)

// UserOf names one more user of SNMPv3, who must use these two protocols, with
// the same passphrases.
func UserOf(authentication, privacy string) string {
	return strings.ToLower("u-" + authentication + "-" + privacy)
}

const patience = 20 * time.Second // for anything that the test waits on

// Agent is a running snmpd. It is not for concurrent use.
type Agent struct {
	Address string // host:port

	t         testing.TB
	dir       string
	near, far string // namespaces of the ports and of their peers
	ports     []string
	overrides []override
	snmpd     *exec.Cmd
	log       bytes.Buffer
}

type override struct{ port, column, kind, value string }

// Start runs an agent with so many ports, all with their link up, named port1
// and on.
func Start(t testing.TB, ports int) *Agent {
	t.Helper()
	need(t)
	a := &Agent{t: t, dir: t.TempDir()}
	a.network()
	for n := range ports {
		a.ports = append(a.ports, "port"+strconv.Itoa(n+1))
	}
	a.plug(a.ports)
	a.run()
	return a
}

func need(t testing.TB) {
	t.Helper()
	missing := ""
	if os.Geteuid() != 0 {
		missing = "root"
	}
	for _, tool := range []string{"ip", "snmpd"} {
		if _, err := exec.LookPath(tool); err != nil {
			missing = tool
		}
	}
	switch {
	case missing != "" && os.Getenv("TONEOUT_SYSTEM_TESTS") == "1":
		t.Fatalf("a test with a real agent needs %s", missing)
	case missing != "":
		t.Skipf("a test with a real agent needs %s", missing)
	}
}

// network makes the namespaces and the way to the agent. The name of the pair's
// outer end is what keeps two tests from taking the same addresses.
func (a *Agent) network() {
	for n := range 64 {
		outer := fmt.Sprintf("toneout%dh", n)
		host, agent := net.IPv4(198, 51, 100, byte(4*n+1)), net.IPv4(198, 51, 100, byte(4*n+2))
		if inUse(agent) {
			continue
		}
		if _, err := ip("link", "add", outer, "type", "veth", "peer", "name", outer+"n"); err != nil {
			continue
		}
		var made []string
		a.t.Cleanup(func() { a.remove(outer, made) })
		a.near, a.far = fmt.Sprintf("toneout%d-near", n), fmt.Sprintf("toneout%d-far", n)
		for _, namespace := range []string{a.near, a.far} {
			a.ip("netns", "add", namespace)
			made = append(made, namespace)
		}
		a.ip("link", "set", outer+"n", "netns", a.near, "name", "mgmt")
		a.ip("addr", "add", host.String()+"/30", "dev", outer)
		a.ip("-n", a.near, "addr", "add", agent.String()+"/30", "dev", "mgmt")
		a.ip("link", "set", outer, "up")
		a.ip("-n", a.near, "link", "set", "mgmt", "up")
		a.Address = agent.String() + ":1161"
		return
	}
	a.t.Fatal("no free address for a test agent: are interfaces named toneout<n>h left over?")
}

// inUse tells whether the machine has a network that holds the address.
func inUse(address net.IP) bool {
	networks, _ := net.InterfaceAddrs() // none is as good as unknown: ip tells later
	return slices.ContainsFunc(networks, func(a net.Addr) bool {
		network, ok := a.(*net.IPNet)
		return ok && network.Contains(address)
	})
}

// plug makes the ports, in the order given, without IPv6 so that nothing is
// sent on them unasked.
func (a *Agent) plug(ports []string) {
	for _, port := range ports {
		a.ip("link", "add", port, "netns", a.near, "type", "veth", "peer", "name", port, "netns", a.far)
		for _, namespace := range []string{a.near, a.far} {
			a.ip("-n", namespace, "link", "set", port, "addrgenmode", "none")
			a.ip("-n", namespace, "link", "set", port, "up")
		}
	}
}

// Ports gives the names of the ports, which are their ifNames.
func (a *Agent) Ports() []string { return slices.Clone(a.ports) }

// Index gives a port's present ifIndex.
func (a *Agent) Index(port string) int {
	a.t.Helper()
	line := a.ip("-n", a.near, "-o", "link", "show", "dev", port)
	number, _, _ := strings.Cut(line, ":")
	n, err := strconv.Atoi(number)
	if err != nil {
		a.t.Fatalf("ifIndex of %s in %q: %v", port, line, err)
	}
	return n
}

// SetLink takes the link of a port down or up, by its far end. The agent shows
// it after a second or two.
func (a *Agent) SetLink(port string, up bool) {
	a.t.Helper()
	state := "down"
	if up {
		state = "up"
	}
	a.ip("-n", a.far, "link", "set", port, state)
}

// Flap takes the link of a port down and up again.
func (a *Agent) Flap(port string) {
	a.t.Helper()
	a.SetLink(port, false)
	a.SetLink(port, true)
}

// Override makes the agent show a value for a port from its next restart on,
// e.g. Override("port2", "1.3.6.1.2.1.10.7.2.1.3", "counter", "17"). It stays
// with the port when the ports are renumbered.
func (a *Agent) Override(port, column, kind, value string) {
	a.overrides = append(a.overrides, override{port, column, kind, value})
}

// Restart starts the agent anew, with other ifIndexes if wished, as after an
// upgrade of a switch.
func (a *Agent) Restart(renumber bool) {
	a.t.Helper()
	a.Stop()
	if renumber {
		for _, port := range a.ports {
			a.ip("-n", a.near, "link", "del", port)
		}
		backwards := a.Ports()
		slices.Reverse(backwards)
		a.plug(backwards)
	}
	a.run()
}

// Stop ends the agent, as a dead switch would. Restart brings it back.
func (a *Agent) Stop() {
	if a.snmpd == nil {
		return
	}
	_ = a.snmpd.Process.Signal(syscall.SIGTERM) // Wait tells whether it ended
	ended := time.AfterFunc(patience, func() { _ = a.snmpd.Process.Kill() })
	_ = a.snmpd.Wait() // its exit status says nothing
	ended.Stop()
	a.snmpd = nil
}

func (a *Agent) run() {
	a.t.Helper()
	path := filepath.Join(a.dir, "snmpd.conf")
	if err := os.WriteFile(path, a.configuration(), 0o600); err != nil {
		a.t.Fatal(err)
	}
	// ip replaces itself by snmpd, so the process is snmpd's.
	a.snmpd = exec.Command("ip", "netns", "exec", a.near, "snmpd", "-f", "-Lo", "-C", "-c", path, "udp:"+a.Address)
	a.snmpd.Env = append(os.Environ(), "SNMP_PERSISTENT_DIR="+a.dir, "MIBS=")
	a.snmpd.Stdout, a.snmpd.Stderr = &a.log, &a.log
	if err := a.snmpd.Start(); err != nil {
		a.snmpd = nil
		a.t.Fatalf("start snmpd: %v", err)
	}
	a.t.Cleanup(a.Stop)
	a.await()
}

func (a *Agent) configuration() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "sysName quay-agent\nrocommunity %s\nrwcommunity %s\n", Community, hand)
	fmt.Fprintf(&b, "createUser %s SHA-256 %q AES %q\nrouser %s authpriv\n", User, AuthenticationPassphrase, PrivacyPassphrase, User)
	for _, authentication := range Authentications {
		for _, privacy := range Privacies {
			name := UserOf(authentication, privacy)
			if privacy == "" {
				fmt.Fprintf(&b, "createUser %s %s %q\nrouser %s auth\n", name, authentication, AuthenticationPassphrase, name)
			} else {
				fmt.Fprintf(&b, "createUser %s %s %q %s %q\nrouser %s authpriv\n", name, authentication, AuthenticationPassphrase, privacy, PrivacyPassphrase, name)
			}
		}
	}
	for _, o := range a.overrides {
		fmt.Fprintf(&b, "override -rw %s.%d %s %s\n", o.column, a.Index(o.port), o.kind, o.value)
	}
	return b.Bytes()
}

// await waits for the first answer, to a GET of sysUpTime.0 in plain bytes.
func (a *Agent) await() {
	a.t.Helper()
	pdu := "\x02\x01\x01\x02\x01\x00\x02\x01\x00\x30\x0e\x30\x0c\x06\x08\x2b\x06\x01\x02\x01\x01\x03\x00\x05\x00"
	message := "\x02\x01\x01\x04" + string(rune(len(Community))) + Community + "\xa0" + string(rune(len(pdu))) + pdu
	message = "\x30" + string(rune(len(message))) + message
	conn, err := net.Dial("udp", a.Address)
	if err != nil {
		a.t.Fatalf("reach snmpd: %v", err)
	}
	defer conn.Close()
	answer := make([]byte, 512)
	tick := time.NewTicker(50 * time.Millisecond) // the kernel limits its refusals, and tests want some
	defer tick.Stop()
	for end := time.Now().Add(patience); time.Now().Before(end); <-tick.C {
		_ = conn.SetDeadline(time.Now().Add(100 * time.Millisecond)) // as every error here: the next turn tells
		_, _ = conn.Write([]byte(message))
		if n, err := conn.Read(answer); err == nil && n > 0 {
			return
		}
	}
	a.Stop() // so that its log can be read
	a.t.Fatalf("snmpd doesn't answer at %s within %v; it wrote:\n%s", a.Address, patience, a.log.String())
}

func ip(arguments ...string) (string, error) {
	var out, said bytes.Buffer // apart: ip warns of a peer's namespace it can't see and goes on
	command := exec.Command("ip", arguments...)
	command.Stdout, command.Stderr = &out, &said
	if err := command.Run(); err != nil {
		return "", fmt.Errorf("ip %s: %w: %s", strings.Join(arguments, " "), err, bytes.TrimSpace(said.Bytes()))
	}
	return out.String(), nil
}

func (a *Agent) ip(arguments ...string) string {
	a.t.Helper()
	out, err := ip(arguments...)
	if err != nil {
		a.t.Fatal(err)
	}
	return out
}

// remove takes the network away: first the way to the agent, since it goes
// by itself with its namespace.
func (a *Agent) remove(outer string, namespaces []string) {
	if _, err := ip("link", "del", outer); err != nil {
		a.t.Errorf("take the test's network away: %v", err)
	}
	for _, namespace := range namespaces {
		if _, err := ip("netns", "del", namespace); err != nil {
			a.t.Errorf("take the test's network away: %v", err)
		}
	}
}
