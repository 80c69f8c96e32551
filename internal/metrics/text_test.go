package metrics

import (
	"bytes"
	"errors"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// sameAsLibrary compares what we write of each family, byte by byte, with what
// the client library's encoder makes of it.
func sameAsLibrary(t *testing.T, e *Exposition) {
	t.Helper()
	var m moment
	e.copyTo(&m)
	written := 0
	for _, p := range m.parts {
		if p.from == p.to {
			continue
		}
		var own, theirs bytes.Buffer
		s := &sink{to: &own}
		p.of.write(&m, p, s)
		s.spill()
		_, err := expfmt.MetricFamilyToText(&theirs, p.of.message(&m, p))
		require.NoError(t, err)
		require.Equal(t, theirs.String(), own.String())
		written++
	}
	require.Positive(t, written)
}

func TestTextIsTheLibrarys(t *testing.T) {
	sameAsLibrary(t, goldenRig().Exposition)
	sameAsLibrary(t, rigOf(30).Exposition) // more than one piece

	hostile := newRig(plant.New(plant.Plant{}))
	hostile.answered("core-m", answer(0, portAt(0, 1, "a\"b\\c\nd\xffe é", standards.Gbps, nil)))
	sameAsLibrary(t, hostile.Exposition)
}

func FuzzValue(f *testing.F) {
	for _, v := range []float64{0, math.Copysign(0, -1), 1, -1, 999_999, 1e6, -1e6, 1e6 + 1, 123456789, 1e21, 0.1, 1e-5, 5e-324,
		math.MaxFloat64, math.MaxUint64, math.NaN(), math.Inf(1), math.Inf(-1), 999_999.5} {
		f.Add(math.Float64bits(v))
	}
	f.Fuzz(func(t *testing.T, bits uint64) {
		v := math.Float64frombits(bits)
		var theirs bytes.Buffer
		_, err := expfmt.MetricFamilyToText(&theirs, &dto.MetricFamily{Name: new("v"), Type: dto.MetricType_GAUGE.Enum(),
			Metric: []*dto.Metric{{Gauge: &dto.Gauge{Value: &v}}}})
		require.NoError(t, err)
		require.Equal(t, theirs.String(), "# TYPE v gauge\nv "+string(appendValue(nil, v))+"\n")
	})
}

// A server that asks for another format gets the same series in it.
func TestOtherFormats(t *testing.T) {
	e := goldenRig().Exposition
	for _, accept := range []string{string(expfmt.NewFormat(expfmt.TypeProtoDelim)), string(expfmt.NewFormat(expfmt.TypeTextPlain)), "", "*/*"} {
		request := httptest.NewRequest("GET", "/metrics", nil)
		request.Header.Set("Accept", accept)
		answer := httptest.NewRecorder()
		e.Handler().ServeHTTP(answer, request)
		require.Equal(t, 200, answer.Code)
		decoder := expfmt.NewDecoder(answer.Body, expfmt.ResponseFormat(answer.Header()))
		count := map[string]int{}
		for {
			var f dto.MetricFamily
			err := decoder.Decode(&f)
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err)
			count[f.GetName()] = len(f.Metric)
		}
		require.Equal(t, 6, count["toneout_port_up"], accept)
		require.Equal(t, 3, count["toneout_switch_poll_seconds"], accept)
		require.Equal(t, 1, count["toneout_inventory_loaded"], accept)
		require.Equal(t, 1, count["process_cpu_seconds_total"], accept)
	}
}

func TestCompression(t *testing.T) {
	e := goldenRig().Exposition
	server := httptest.NewServer(e.Handler())
	defer server.Close()
	answer, err := http.Get(server.URL) // the transport asks for gzip and takes it off
	require.NoError(t, err)
	defer answer.Body.Close()
	require.True(t, answer.Uncompressed)
	body, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.Contains(t, string(body), "\ntoneout_switch_up{switch=\"core-m\"} 1\n")
	for accept, want := range map[string]bool{"gzip": true, "br, gzip;q=0.5": true, "gzip;q=0": false, "gzip; q=0.0": false, "identity": false, "": false, "xgzip": false} {
		require.Equal(t, want, takesGzip(accept), accept)
	}
}

// gone is a client that goes away after the first piece.
type gone struct{ writes int }

func (g *gone) Write([]byte) (int, error) { g.writes++; return 0, io.ErrClosedPipe }

func TestClientThatGoesAway(t *testing.T) {
	var m moment
	e := rigOf(30).Exposition
	e.copyTo(&m)
	g := &gone{}
	s := &sink{to: g}
	for _, p := range m.parts {
		p.of.write(&m, p, s)
	}
	require.Equal(t, 1, g.writes)
}

func TestTooManyScrapes(t *testing.T) {
	handler := goldenRig().Handler()
	client := func() *stuckClient {
		return &stuckClient{ResponseWriter: httptest.NewRecorder(), reached: make(chan struct{}), letGo: make(chan struct{})}
	}
	var held []*stuckClient
	var served sync.WaitGroup
	for range scrapesAtATime {
		c := client()
		held = append(held, c)
		served.Go(func() { handler.ServeHTTP(c, httptest.NewRequest("GET", "/metrics", nil)) })
		<-c.reached
	}
	refused := httptest.NewRecorder()
	handler.ServeHTTP(refused, httptest.NewRequest("GET", "/metrics", nil))
	require.Equal(t, http.StatusServiceUnavailable, refused.Code)
	for _, c := range held {
		close(c.letGo)
	}
	served.Wait()
	answered := httptest.NewRecorder()
	handler.ServeHTTP(answered, httptest.NewRequest("GET", "/metrics", nil))
	require.Equal(t, http.StatusOK, answered.Code, "a place is free again")
}

// Ports cost a scrape no memory but its copy of them: what else it allocates
// describes the process, and is the same without any port.
func TestScrapeAllocatesNextToNothing(t *testing.T) {
	allocations := func(e *Exposition) float64 {
		handler := e.Handler()
		request := httptest.NewRequest("GET", "/metrics", nil)
		return testing.AllocsPerRun(20, func() { handler.ServeHTTP(discard{}, request) })
	}
	none, many := New(), rigOf(50).Exposition
	require.Less(t, allocations(many)-allocations(none), 100.0)
}

// The runs by state are all runs, and a silent switch's are unknown.
func TestRunsByState(t *testing.T) {
	r := newRig(college())
	states := func() map[string]float64 {
		out := map[string]float64{}
		for _, m := range parsed(t, r.Exposition)["toneout_runs"].Metric {
			out[m.Label[0].GetValue()] = m.GetGauge().GetValue()
		}
		return out
	}
	r.answered("core-m", core(0))
	require.Equal(t, map[string]float64{"healthy": 0, "faulty": 0, "quiet": 0, "planned": 0, "unknown": 4, "idle": 0}, states())
	for poll := 1; poll < 12; poll++ {
		r.answered("acc-n2-1", access(poll))
		r.answered("core-m", core(poll))
	}
	require.Equal(t, map[string]float64{"healthy": 0, "faulty": 2, "quiet": 0, "planned": 0, "unknown": 2, "idle": 0}, states())
	for poll := 12; poll < 15; poll++ {
		r.failed("acc-n2-1", poll)
	}
	require.Equal(t, 4.0, states()["unknown"])
}

// A switch's tables and ports are withdrawn with it. Its silence is told with
// the class of error when the one beside it has answered since, by that one's
// poll; and hidden behind that one when it falls silent too.
func TestCoverageOfASwitch(t *testing.T) {
	r := newRig(college())
	for poll := range 2 {
		r.answered("acc-n2-1", access(poll))
		r.answered("core-m", core(poll))
	}
	hidden, _ := value(t, r.Exposition, "toneout_switch_tables", "switch", "acc-n2-1", "state", "hidden")
	require.Equal(t, 1.0, hidden)
	joined, _ := value(t, r.Exposition, "toneout_switch_ports", "switch", "acc-n2-1", "joined", "true", "judged", "damaged_frames")
	require.Equal(t, 2.0, joined)
	unread := func(labels ...string) bool {
		one, told := value(t, r.Exposition, "toneout_switch_unread", append(labels, "switch", "acc-n2-1")...)
		require.Equal(t, told, one == 1)
		return told
	}
	for poll := 2; poll < 5; poll++ {
		r.failed("acc-n2-1", poll)
		require.False(t, unread())
	}
	for _, name := range []string{"toneout_switch_tables", "toneout_switch_ports"} {
		_, told := value(t, r.Exposition, name, "switch", "acc-n2-1")
		require.False(t, told, name)
	}
	r.answered("core-m", core(5))
	require.True(t, unread("class", "no answer", "behind", ""))
	r.answered("acc-n2-1", access(6))
	require.False(t, unread())

	for poll := 7; poll < 12; poll++ {
		r.failed("acc-n2-1", poll)
		r.failed("core-m", poll)
	}
	_, told := value(t, r.Exposition, "toneout_switch_unread", "switch", "core-m", "behind", "acc-n2-1")
	require.True(t, told || unread("behind", "core-m"), "one hides the other")
	require.Len(t, parsed(t, r.Exposition)["toneout_switch_unread"].Metric, 2)
}
