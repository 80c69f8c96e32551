package daemon

import (
	"bufio"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/metrics"
)

// receiver takes Alertmanager's notifications.
type receiver struct {
	*httptest.Server
	mu   sync.Mutex
	told map[string][]string // statuses by labels, in order
}

func newReceiver(t *testing.T) *receiver {
	r := &receiver{told: map[string][]string{}}
	r.Server = httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, request *http.Request) {
		var note struct {
			Alerts []struct {
				Status string
				Labels map[string]string
			}
		}
		if json.NewDecoder(request.Body).Decode(&note) != nil {
			return
		}
		r.mu.Lock()
		defer r.mu.Unlock()
		for _, a := range note.Alerts {
			labels, _ := json.Marshal(a.Labels)
			r.told[string(labels)] = append(r.told[string(labels)], a.Status)
		}
	}))
	t.Cleanup(r.Close)
	return r
}

// ended is how many alerts were last told with a status.
func (r *receiver) ended(status string) (n int) {
	for _, told := range r.said() {
		if told[len(told)-1] == status {
			n++
		}
	}
	return n
}

func (r *receiver) said() map[string][]string {
	r.mu.Lock()
	defer r.mu.Unlock()
	out := map[string][]string{}
	for labels, told := range r.told {
		out[labels] = append([]string(nil), told...)
	}
	return out
}

// startAlertmanager runs Debian's, and gives its address.
func startAlertmanager(t *testing.T, hook string) string {
	dir := t.TempDir()
	file := filepath.Join(dir, "alertmanager.yml")
	require.NoError(t, os.WriteFile(file, []byte(fmt.Sprintf(`
route: {receiver: hook, group_by: [alertname, switch, port, run, kind], group_wait: 500ms, group_interval: 1s, repeat_interval: 1h}
receivers: [{name: hook, webhook_configs: [{url: %q, send_resolved: true}]}]
`, hook)), 0o600))
	return startServer(t, "prometheus-alertmanager", "prometheus-alertmanager", "--config.file="+file, "--storage.path="+filepath.Join(dir, "data"),
		"--cluster.listen-address=", "--web.listen-address=127.0.0.1:0")
}

// rulesFiring are the alerts that Prometheus tells of.
func rulesFiring(t *testing.T, prometheus string) []any {
	response, err := http.Get(prometheus + "/api/v1/query?query=ALERTS")
	require.NoError(t, err)
	defer response.Body.Close()
	var answer struct{ Data struct{ Result []any } }
	require.NoError(t, json.NewDecoder(response.Body).Decode(&answer))
	return answer.Data.Result
}

// startPrometheus runs Debian's over the rules and an exposition, and gives
// its address.
func startPrometheus(t *testing.T, am string, e *metrics.Exposition) string {
	scraped := httptest.NewServer(e.Handler())
	t.Cleanup(scraped.Close)
	rules, err := filepath.Abs("../../config/alerts.yml")
	require.NoError(t, err)
	dir := t.TempDir()
	file := filepath.Join(dir, "prometheus.yml")
	require.NoError(t, os.WriteFile(file, []byte(fmt.Sprintf(`
global: {scrape_interval: 1s, scrape_timeout: 1s, evaluation_interval: 1s}
rule_files: [%q]
alerting: {alertmanagers: [{static_configs: [{targets: [%q]}]}]}
scrape_configs: [{job_name: toneout, static_configs: [{targets: [%q]}]}]
`, rules, strings.TrimPrefix(am, "http://"), scraped.Listener.Addr())), 0o600))
	return startServer(t, "prometheus", "prometheus", "--config.file="+file, "--storage.tsdb.path="+filepath.Join(dir, "data"),
		"--rules.alert.resend-delay=1s", "--web.listen-address=127.0.0.1:0")
}

var listening = regexp.MustCompile(`msg="Listening on" address=(\S+)`)

// startServer runs a server until the test ends, and gives the address that it
// says it listens on.
func startServer(t *testing.T, debian, program string, arguments ...string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil && os.Getenv("TONEOUT_SYSTEM_TESTS") == "1" {
		t.Fatalf("%s is missing, and TONEOUT_SYSTEM_TESTS=1 wants it", program)
	}
	if err != nil {
		t.Skipf("%s is not installed (Debian package %s)", program, debian)
	}
	command := exec.Command(path, arguments...)
	log, err := command.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, command.Start())
	address := make(chan string, 1)
	var drained sync.WaitGroup
	t.Cleanup(func() { _ = command.Process.Kill(); drained.Wait(); _ = command.Wait() })
	var lines strings.Builder
	drained.Go(func() {
		defer close(address)
		for scanner := bufio.NewScanner(log); scanner.Scan(); {
			lines.WriteString(scanner.Text() + "\n")
			if m := listening.FindStringSubmatch(scanner.Text()); m != nil {
				select {
				case address <- m[1]:
				default: // told already
				}
			}
		}
	})
	select {
	case at, ok := <-address:
		if !ok {
			t.Fatalf("%s ended: %s", program, lines.String())
		}
		return "http://" + at
	case <-time.After(30 * time.Second):
		t.Fatalf("%s does not listen", program)
	}
	return ""
}
