package daemon

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"io"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/crypto/bcrypt"

	"toneout/internal/fault"
	"toneout/internal/metrics"
	"toneout/internal/notify"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"
	"toneout/internal/standards"
	"toneout/internal/web"
)

// oneSwitch is a campus of one switch with four PCs.
func oneSwitch(t *testing.T) (*sim.Campus, *sim.Switch) {
	campus := sim.NewCampus(1, time.Now())
	sw := campus.AddSwitch(sim.SwitchPlan{Name: "sw-1", Copper: 4, Up: 24 * time.Hour})
	for _, p := range sw.Ports() {
		campus.Connect(sim.Plug("R-"+p.Name, p, "workstation"))
	}
	return campus, sw
}

func runsOf(sw *sim.Switch) *plant.Plant {
	p := plant.Plant{Cables: []*plant.Cable{{ID: "horizontal-6a", Media: standards.Copper}}}
	for _, at := range sw.Ports() {
		p.Runs = append(p.Runs, &plant.Run{ID: "R-" + at.Name, Switch: sw.Name, Port: at.Name, Cable: "horizontal-6a", DesignSpeed: standards.Gbps})
	}
	return plant.New(p)
}

var v3 = sim.Security{
	Communities: []string{community},
	Users: []sim.User{{Name: "toneout", Authentication: "SHA-256", Passphrase: "right passphrase",
		Privacy: "AES-128", PrivacyPassphrase: "right passphrase"}},
}

func v3Target(name, address, passphrase string) snmp.Target {
	t := target(name, address)
	t.Credentials = snmp.Credentials{Version: 3, User: "toneout",
		Authentication: snmp.Secret{Protocol: "SHA-256", Passphrase: passphrase},
		Privacy:        snmp.Secret{Protocol: "AES-128", Passphrase: passphrase}}
	return t
}

// A switch that refuses the credentials, one that is not there and one that is
// silent each cost one clear line, and the good one is read all the same.
func TestABadSwitchHarmsOnlyItself(t *testing.T) {
	campus, sw := oneSwitch(t)
	served := agents(t, campus, time.Now, v3)
	address := served["sw-1"].Addr()
	silent, err := net.ListenPacket("udp", "127.0.0.1:0")
	require.NoError(t, err)
	defer silent.Close()
	const gone = "127.0.0.1:1" // a port that was just closed may be the next agent's

	quiet := target("sw-silent", silent.LocalAddr().String())
	quiet.Timeout, quiet.Retries = 50*time.Millisecond, 0
	r := start(t, Options{Setup: Setup{Plant: runsOf(sw), Switches: []Switch{
		{Target: v3Target("sw-1", address, "right passphrase")},
		{Target: v3Target("sw-wrong", address, "wrong passphrase")},
		{Target: quiet},
		{Target: target("sw-gone", gone)},
	}}})
	r.polls("sw-1", "answered", 5)
	r.polls("sw-wrong", string(snmp.BadCredentials), 3)
	r.polls("sw-silent", string(snmp.NoAnswer), 3)
	r.polls("sw-gone", string(snmp.Refused), 3)

	for _, name := range []string{"sw-wrong", "sw-silent", "sw-gone"} {
		require.Equal(t, 1, strings.Count(r.log.String(), "switch="+name+" "), "one line for %s:\n%s", name, r.log)
	}
	require.NotContains(t, r.log.String(), "passphrase\"", "no secret in the log")
	require.NotContains(t, r.log.String(), "wrong passphrase")
	require.Contains(t, r.log.String(), "SHA-256", "the line names the protocol")
	status, _ := r.get("/readyz")
	require.Equal(t, http.StatusOK, status)
	_, metrics := r.get("/metrics")
	require.Contains(t, metrics, `toneout_switch_up{switch="sw-1"} 1`)
	require.Contains(t, metrics, `toneout_switch_up{switch="sw-wrong"} 0`)
	require.NotContains(t, metrics, `toneout_port_up{port="1/1",run="",switch="sw-wrong"}`)
}

func TestASwitchThatComesBackSaysSo(t *testing.T) {
	campus, sw := oneSwitch(t)
	served := agents(t, campus, time.Now, v3)
	var dead atomic.Bool
	r := start(t, Options{Setup: Setup{Plant: runsOf(sw), Switches: []Switch{{Target: target("sw-1", served["sw-1"].Addr())}}},
		Open: func(t snmp.Target) (Poller, error) {
			s, err := snmp.Open(t)
			return gatedPoller{s, &dead}, err
		}})
	r.polls("sw-1", "answered", 2)
	dead.Store(true)
	r.polls("sw-1", string(snmp.Unspecified), 3)
	_, body := r.get("/api/runs/R-1%2F1")
	require.Contains(t, body, `"state":"unknown"`)
	dead.Store(false)
	r.eventually(func() bool { return strings.Contains(r.log.String(), "switch read again") }, "the line that it is back")
	r.eventually(func() bool { _, body := r.get("/api/runs/R-1%2F1"); return strings.Contains(body, `"state":"healthy"`) }, "healthy again")
	require.Empty(t, r.faults())
}

// gatedPoller fails while it is closed.
type gatedPoller struct {
	Poller
	closed *atomic.Bool
}

func (p gatedPoller) Poll(ctx context.Context) (port.Poll, error) {
	if p.closed.Load() {
		return port.Poll{}, errors.New("unplugged")
	}
	return p.Poller.Poll(ctx)
}

// The context's end stops a poll in the middle, and nothing is left running.
func TestRunStopsWithin5SecondsAndLeavesNoGoroutine(t *testing.T) {
	silent, err := net.ListenPacket("udp", "127.0.0.1:0")
	require.NoError(t, err)
	defer silent.Close()
	slow := target("sw-1", silent.LocalAddr().String())
	slow.Timeout = 20 * time.Second
	r := start(t, Options{Setup: Setup{Plant: plant.New(plant.Plant{}), Switches: []Switch{{Target: slow}}, PollEvery: time.Minute},
		Clock: Clock{Now: time.Now, Until: func(ctx context.Context, _ time.Time) error { return ctx.Err() }}})
	buffer := make([]byte, 1500)
	require.NoError(t, silent.SetReadDeadline(time.Now().Add(patience)))
	_, _, err = silent.ReadFrom(buffer)
	require.NoError(t, err, "the poll is under way")

	began := time.Now()
	require.NoError(t, r.stop())
	require.Less(t, time.Since(began), 5*time.Second)
	require.Eventually(t, func() bool { return goroutineIn(ourGoroutines) == "" }, patience, 10*time.Millisecond, "a goroutine is left")
}

// ourGoroutines are functions by which the daemon's goroutines are known.
var ourGoroutines = []string{"daemon.serve", "daemon.(*owner).run", "daemon.(*loop).run", "daemon.(*reloader).run", "daemon.lookAgain", "snmp.(*Switch).Poll"}

// goroutineIn names one of the functions that a goroutine is in, "" for none.
func goroutineIn(functions []string) string {
	stacks := make([]byte, 1<<20)
	stacks = stacks[:runtime.Stack(stacks, true)]
	for _, f := range functions {
		if strings.Contains(string(stacks), f) {
			return f
		}
	}
	return ""
}

func TestRunFailsWhereASwitchCannotBeSetUp(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	err = Run(context.Background(), Options{
		Setup: Setup{Plant: plant.New(plant.Plant{}), PollEvery: time.Second, FalseAlarmsPerWeek: 1,
			Switches: []Switch{{Target: snmp.Target{Name: "sw-1", Address: "nowhere"}}}},
		Listener: listener, Log: slog.New(slog.DiscardHandler),
	})
	require.ErrorContains(t, err, "sw-1")
	_, err = net.Dial("tcp", listener.Addr().String())
	require.Error(t, err, "the port is free again")
}

// The users' and TLS's format is exporter-toolkit's.
func TestTLSAndUsers(t *testing.T) {
	directory := t.TempDir()
	certificate(t, directory)
	hash, err := bcrypt.GenerateFromPassword([]byte("lighthouse"), bcrypt.MinCost)
	require.NoError(t, err)
	write(t, directory, "web.yml", "tls_server_config: {cert_file: cert.pem, key_file: key.pem}\nbasic_auth_users: {noc: "+string(hash)+"}\n")
	write(t, directory, "password", "lighthouse\n")
	write(t, directory, "wrong", "foghorn\n")
	campus, sw := oneSwitch(t)
	served := agents(t, campus, time.Now, v3)
	r := start(t, Options{WebConfig: filepath.Join(directory, "web.yml"),
		Setup: Setup{Plant: runsOf(sw), Switches: []Switch{{Target: target("sw-1", served["sw-1"].Addr())}}}})
	url := strings.Replace(r.url, "http:", "https:", 1)
	ca := filepath.Join(directory, "cert.pem")

	ask := func(o web.Options) error {
		client, err := web.NewClient(url, o)
		require.NoError(t, err)
		_, err = client.Run(context.Background(), "R-1/1")
		return err
	}
	require.NoError(t, ask(web.Options{CA: ca, User: "noc", PasswordFile: filepath.Join(directory, "password")}))
	require.ErrorContains(t, ask(web.Options{CA: ca, User: "noc", PasswordFile: filepath.Join(directory, "wrong")}), "password is wrong")
	require.ErrorContains(t, ask(web.Options{CA: ca}), "401")
	require.ErrorContains(t, ask(web.Options{}), "-ca")
	answer, err := http.Get(r.url + "/") // plain HTTP
	require.NoError(t, err)
	defer answer.Body.Close()
	require.Equal(t, http.StatusBadRequest, answer.StatusCode)
}

// A file that names no users guards nothing by passwords (exporter-toolkit's format).
func TestWhichFilesHaveUsers(t *testing.T) {
	directory := t.TempDir()
	for text, want := range map[string]bool{
		"basic_auth_users: {noc: $2a$04$x}":           true,
		"basic_auth_users: {}":                        false,
		"http_server_config: {http2: false}":          false,
		"rate_limit: {burst: 3}\nbasic_auth_users:\n": false,
	} {
		write(t, directory, "web.yml", text)
		require.Equal(t, want, hasUsers(filepath.Join(directory, "web.yml")), text)
	}
	require.False(t, hasUsers(""))
	require.False(t, hasUsers(filepath.Join(directory, "none.yml")))
}

func TestAWebConfigurationThatIsNotThereFailsTheStart(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	err = Run(context.Background(), Options{Listener: listener, WebConfig: "no/such/web.yml", Log: slog.New(slog.DiscardHandler),
		Setup: Setup{Plant: plant.New(plant.Plant{}), PollEvery: time.Second, FalseAlarmsPerWeek: 1}})
	require.ErrorContains(t, err, "no/such/web.yml")
}

func TestFirstDelaysAreSpreadAndRepeatable(t *testing.T) {
	seen := map[time.Duration]bool{}
	for _, name := range []string{"acc-n1-1", "acc-n1-2", "acc-n2-1", "core-n1-1"} {
		d := firstDelay(name, time.Minute)
		require.Equal(t, d, firstDelay(name, time.Minute))
		require.GreaterOrEqual(t, d, time.Duration(0))
		require.Less(t, d, time.Minute)
		seen[d] = true
	}
	require.Len(t, seen, 4)
}

// A poll that takes longer than the interval makes the loop skip moments.
func TestPollsNeverOverlapAndNeverHurry(t *testing.T) {
	now := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	var moments []time.Time
	ctx, cancel := context.WithCancel(context.Background())
	clock := Clock{
		Now: func() time.Time { return now },
		Until: func(ctx context.Context, moment time.Time) error {
			if moment.After(now) {
				now = moment
			}
			moments = append(moments, moment)
			return ctx.Err()
		}}
	answers := make(chan answer, 10)
	took := []time.Duration{time.Second, 25 * time.Second, time.Second}
	newLoop("sw-1", pollFunc(func(context.Context) (port.Poll, error) {
		now = now.Add(took[0])
		if took = took[1:]; len(took) == 0 {
			cancel()
		}
		return port.Poll{}, nil
	}), 10*time.Second, clock, answers).run(ctx)
	require.Equal(t, 10*time.Second, moments[1].Sub(moments[0]))
	require.Equal(t, 30*time.Second, moments[2].Sub(moments[1]), "two moments skipped")
}

type pollFunc func(context.Context) (port.Poll, error)

func (f pollFunc) Poll(ctx context.Context) (port.Poll, error) { return f(ctx) }
func (pollFunc) Close() error                                  { return nil }

// ownerOf is an owner whose loop does not run.
func ownerOf(t *testing.T, log io.Writer, switches ...Switch) *owner {
	o := Options{Setup: Setup{Plant: plant.New(plant.Plant{}), PollEvery: time.Minute, FalseAlarmsPerWeek: 1, Switches: switches},
		Log: slog.New(slog.NewTextHandler(log, nil))}.withDefaults()
	nobody, err := notify.New(notify.Options{})
	require.NoError(t, err)
	return newOwner(o, metrics.New(), nobody, memory{}, make(chan answer))
}

func TestFaultsThatAlarmAreLogged(t *testing.T) {
	var buffer logBuffer
	w := ownerOf(t, &buffer)
	loud := &fault.Fault{Run: "R-1", Kind: fault.FrameErrors, Alarm: true, Causes: []fault.CauseProbability{{Cause: fault.BadCord, Probability: 1}}}
	quiet := *loud
	quiet.Run, quiet.Alarm = "R-2", false
	w.logFaults([]fault.Event{{What: fault.Opened, Fault: loud}, {What: fault.Opened, Fault: &quiet}})
	w.logFaults([]fault.Event{{What: fault.Closed, Fault: loud}, {What: fault.Closed, Fault: &quiet}})
	require.Equal(t, 1, strings.Count(buffer.String(), "fault opened"))
	require.Equal(t, 1, strings.Count(buffer.String(), "fault closed"))
	require.NotContains(t, buffer.String(), "R-2")
	w.logFaults([]fault.Event{{What: fault.Alarmed, Fault: loud}, {What: fault.Hushed, Fault: &quiet}})
	require.Contains(t, buffer.String(), "no alarm any longer")
}

func TestASwitchThatAnswersEveryOtherPollIsToldOnce(t *testing.T) {
	var buffer logBuffer
	w := ownerOf(t, &buffer, Switch{Target: snmp.Target{Name: "sw-1"}})
	now := time.Now()
	for poll := range 100 {
		a := answer{name: "sw-1", at: now.Add(time.Duration(poll) * time.Minute)}
		a.poll.At = a.at
		if poll%2 == 0 {
			a.err = errors.New("lost")
		}
		w.take(a)
	}
	require.Equal(t, 1, strings.Count(buffer.String(), "\n"), buffer.String())
}

func TestAliveOnlyWhileTheLoopTurns(t *testing.T) {
	w := ownerOf(t, io.Discard)
	require.NoError(t, w.alive())
	w.beat.Store(time.Now().Add(-2 * stalled).UnixNano())
	require.ErrorContains(t, w.alive(), "stands still")
}

func write(t *testing.T, directory, name, text string) {
	require.NoError(t, os.WriteFile(filepath.Join(directory, name), []byte(text), 0o600))
}

// certificate writes a certificate for 127.0.0.1 and its key.
func certificate(t *testing.T, directory string) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "toneout"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, &template, &template, &key.PublicKey, key)
	require.NoError(t, err)
	secret, err := x509.MarshalECPrivateKey(key)
	require.NoError(t, err)
	write(t, directory, "cert.pem", string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})))
	write(t, directory, "key.pem", string(pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: secret})))
}
