package metrics

import (
	"bufio"
	"bytes"
	"flag"
	"math"
	"net/http/httptest"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"
	"github.com/stretchr/testify/require"

	"toneout/internal/standards"
)

var update = flag.Bool("update", false, "write testdata anew")

const golden = "testdata/exposition.txt"

// text is the exposition as Prometheus gets it, without what describes the
// process, each family's samples in order.
func text(t *testing.T, e *Exposition) string {
	t.Helper()
	var out strings.Builder
	var samples []string
	flush := func() {
		slices.Sort(samples)
		out.WriteString(strings.Join(samples, ""))
		samples = nil
	}
	lines := bufio.NewScanner(bytes.NewReader(scrape(t, e)))
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		line := lines.Text()
		name, _, _ := strings.Cut(strings.TrimPrefix(strings.TrimPrefix(line, "# HELP "), "# TYPE "), " ")
		switch {
		case !strings.HasPrefix(name, "toneout_") || strings.HasPrefix(name, "toneout_build_info"):
		case strings.HasPrefix(line, "#"):
			flush()
			out.WriteString(line + "\n")
		default:
			samples = append(samples, line+"\n")
		}
	}
	flush()
	require.NoError(t, lines.Err())
	return out.String()
}

func scrape(t *testing.T, e *Exposition) []byte {
	t.Helper()
	answer := httptest.NewRecorder()
	e.Handler().ServeHTTP(answer, httptest.NewRequest("GET", "/metrics", nil))
	require.Equal(t, 200, answer.Code)
	return answer.Body.Bytes()
}

// parsed reads the exposition with Prometheus's own parser of the format.
func parsed(t *testing.T, e *Exposition) map[string]*dto.MetricFamily {
	t.Helper()
	parser := expfmt.NewTextParser(model.UTF8Validation)
	families, err := parser.TextToMetricFamilies(bytes.NewReader(scrape(t, e)))
	require.NoError(t, err)
	return families
}

// value finds the sample of a metric that has these labels, given by turns of
// name and value; false where there is none.
func value(t *testing.T, e *Exposition, name string, labels ...string) (float64, bool) {
	t.Helper()
	var found []float64
	for _, m := range parsed(t, e)[name].GetMetric() {
		have := map[string]string{}
		for _, l := range m.Label {
			have[l.GetName()] = l.GetValue()
		}
		fits := true
		for i := 0; i < len(labels); i += 2 {
			fits = fits && have[labels[i]] == labels[i+1]
		}
		if fits {
			found = append(found, m.GetGauge().GetValue()+m.GetCounter().GetValue())
		}
	}
	require.LessOrEqual(t, len(found), 1, "%s %v is ambiguous", name, labels)
	if len(found) == 0 {
		return math.NaN(), false
	}
	return found[0], true
}

func TestExposition(t *testing.T) {
	got := text(t, goldenRig().Exposition)
	if *update {
		require.NoError(t, os.WriteFile(golden, []byte(got), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	require.Equal(t, string(want), got)
}

// Prometheus refuses a scrape that names a series twice, which its parser
// alone does not notice.
func TestNoSeriesTwice(t *testing.T) {
	seen := map[string]bool{}
	for line := range strings.Lines(text(t, goldenRig().Exposition)) {
		series, _, _ := strings.Cut(line, "} ")
		require.False(t, seen[series] && !strings.HasPrefix(line, "#"), line)
		seen[series] = true
	}
}

// The unit of Ethernet's speeds is the bit per second (IEEE 802.3 1.4); the
// metrics' names are promised, so promtool's wish for bytes stays unheard.
const promtoolMinds = `toneout_port_speed_bits_per_second use base unit "bytes" instead of "bits"
toneout_run_design_speed_bits_per_second use base unit "bytes" instead of "bits"
`

func TestPromtoolCheckMetrics(t *testing.T) {
	command := exec.Command(promtool(t), "check", "metrics")
	command.Stdin = bytes.NewReader(scrape(t, goldenRig().Exposition))
	out, _ := command.CombinedOutput() // ends with 3 for what it minds
	require.Equal(t, promtoolMinds, string(out))
}

func TestProcessMetrics(t *testing.T) {
	families := parsed(t, New())
	for _, name := range []string{"toneout_build_info", "go_goroutines", "process_cpu_seconds_total", "promhttp_metric_handler_errors_total"} {
		require.Contains(t, families, name)
	}
}

// A real fault of a real tracker is told under the run's near end, and its
// ratio under the receiver's.
func TestFaultIsTold(t *testing.T) {
	r := newRig(college())
	for poll := range 5 {
		r.answered("acc-n2-1", access(poll))
		r.answered("core-m", core(poll))
	}
	_, ok := value(t, r.Exposition, "toneout_run_fault", "run", "N2-P1-17", "kind", "below-design-speed", "port", "1/17", "alarm", "true")
	require.True(t, ok)
	_, ok = value(t, r.Exposition, "toneout_run_fault", "run", "N2-M-1", "kind", "frame-errors", "switch", "acc-n2-1", "port", "1/49")
	require.True(t, ok)
	// 12 damaged frames of 12,000,012; the bounds are Garwood's for 12 events:
	// 6.20 and 20.96 (Pearson and Hartley, Biometrika tables; memory).
	for bound, want := range map[string]float64{"low": 6.20, "estimate": 12, "high": 20.96} {
		got, ok := value(t, r.Exposition, "toneout_run_frame_error_ratio", "run", "N2-M-1", "switch", "core-m", "bound", bound)
		require.True(t, ok)
		require.InDelta(t, want, got*12_000_012, 0.01)
	}
	speed, _ := value(t, r.Exposition, "toneout_run_design_speed_bits_per_second", "run", "N2-M-1")
	require.Equal(t, float64(10*standards.Gbps), speed)
}
