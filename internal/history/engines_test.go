package history

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/prompb"
	"github.com/prometheus/prometheus/util/compression"
	"github.com/stretchr/testify/require"
)

// onEachEngine runs a test over the same night in the embedded history, in the
// same asked through its own API by Prometheus's client, and in Debian's
// Prometheus.
func onEachEngine(t *testing.T, test func(t *testing.T, q Querier)) {
	all := night()
	embedded := sync.OnceValue(func() *rig { return record(t, all) })
	t.Run("embedded", func(t *testing.T) { test(t, embedded()) })
	t.Run("own API", func(t *testing.T) {
		server := httptest.NewServer(embedded().API())
		defer server.Close()
		test(t, remote(t, server.URL))
	})
	t.Run("Prometheus", func(t *testing.T) {
		url := startPrometheus(t, "scrape_configs: []")
		write(t, url, all)
		test(t, remote(t, url))
	})
}

// record tells a Store all there is.
func record(t *testing.T, all []told) *rig {
	r := run(t, Options{})
	for len(all) > 0 {
		n := slices.IndexFunc(all, func(s told) bool { return !s.at.Equal(all[0].at) })
		if n < 0 {
			n = len(all)
		}
		values, gone := map[*Series]float64{}, []*Series(nil)
		for _, s := range all[:n] {
			if s.gone {
				gone = append(gone, s.series)
			} else {
				values[s.series] = s.value
			}
		}
		r.tell(all[0].at, values, gone...)
		all = all[n:]
	}
	r.settled()
	require.Empty(t, r.log.String())
	require.Zero(t, r.Status())
	return r
}

func remote(t *testing.T, url string) *Remote {
	r, err := NewRemote(url)
	require.NoError(t, err)
	return r
}

// write tells a Prometheus all there is, by its remote write protocol 1.0.
func write(t *testing.T, url string, all []told) {
	for len(all) > 0 {
		const together = 30 * time.Minute // it takes nothing much older than the newest
		n := slices.IndexFunc(all, func(s told) bool { return s.at.Sub(all[0].at) > together })
		if n < 0 {
			n = len(all)
		}
		bySeries := map[*Series]*prompb.TimeSeries{}
		var request prompb.WriteRequest
		for _, s := range all[:n] {
			if bySeries[s.series] == nil {
				bySeries[s.series] = &prompb.TimeSeries{Labels: protoLabels(s.series)}
			}
			bySeries[s.series].Samples = append(bySeries[s.series].Samples, prompb.Sample{Timestamp: s.at.UnixMilli(), Value: s.value})
		}
		for _, s := range bySeries {
			request.Timeseries = append(request.Timeseries, *s)
		}
		raw, err := request.Marshal()
		require.NoError(t, err)
		body, err := compression.Encode(compression.Snappy, raw, nil)
		require.NoError(t, err)
		response, err := http.Post(url+"/api/v1/write", "application/x-protobuf", bytes.NewReader(body))
		require.NoError(t, err)
		response.Body.Close()
		require.Equal(t, http.StatusNoContent, response.StatusCode)
		all = all[n:]
	}
}

func protoLabels(s *Series) (out []prompb.Label) {
	s.labels.Range(func(l labels.Label) { out = append(out, prompb.Label{Name: l.Name, Value: l.Value}) })
	return out
}

var listening = regexp.MustCompile(`msg="Listening on" address=(\S+)`)

// startPrometheus runs Debian's until the test ends, and gives its address.
func startPrometheus(t *testing.T, configuration string) string {
	t.Helper()
	program, err := exec.LookPath("prometheus")
	if err != nil && os.Getenv("TONEOUT_SYSTEM_TESTS") == "1" {
		t.Fatal("prometheus is missing, and TONEOUT_SYSTEM_TESTS=1 wants it")
	}
	if err != nil {
		t.Skip("prometheus is not installed (Debian package prometheus)")
	}
	folder := t.TempDir()
	file := filepath.Join(folder, "prometheus.yml")
	require.NoError(t, os.WriteFile(file, []byte(configuration), 0o600))
	command := exec.Command(program, "--config.file="+file, "--storage.tsdb.path="+filepath.Join(folder, "data"),
		"--storage.tsdb.retention.time=10y", "--web.enable-remote-write-receiver", "--web.listen-address=127.0.0.1:0")
	log, err := command.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, command.Start())
	var drained sync.WaitGroup
	t.Cleanup(func() { _ = command.Process.Kill(); drained.Wait(); _ = command.Wait() })
	address := make(chan string, 1)
	drained.Go(func() {
		for scanner := bufio.NewScanner(log); scanner.Scan(); {
			if m := listening.FindStringSubmatch(scanner.Text()); m != nil {
				select {
				case address <- "http://" + m[1]:
				default: // told already
				}
			}
		}
	})
	select {
	case url := <-address:
		require.Eventually(t, func() bool {
			response, err := http.Get(url + "/-/ready")
			if err != nil {
				return false
			}
			response.Body.Close()
			return response.StatusCode == http.StatusOK
		}, 30*time.Second, 20*time.Millisecond, "ready")
		return url
	case <-time.After(30 * time.Second):
		t.Fatal("prometheus does not listen")
	}
	return ""
}

func TestQuestionsOnEachEngine(t *testing.T) { onEachEngine(t, questionsAnswered) }

func questionsAnswered(t *testing.T, q Querier) {
	const copper = `{switch="acc-n2-1",port="1/17"}`
	absent := math.NaN()
	for _, row := range []struct {
		query string
		at    time.Time
		want  float64
	}{
		{"1 + 1", at(12, 0), 2},
		{"toneout_port_up" + copper, at(12, 0), absent}, // before the first poll
		{"toneout_port_up" + copper, at(12, 1), 1},
		{`toneout_port_up{run=""}`, at(12, 1), 0},
		{"toneout_port_speed_bits_per_second" + copper, at(14, 30), 1e8},
		{"toneout_port_up" + copper, at(18, 4), 1},      // a daemon that went away ended nothing
		{"toneout_port_up" + copper, at(18, 5), absent}, // but for more than 5 minutes nothing holds
		{"toneout_port_up" + copper, at(21, 0), 1},
		{"toneout_port_up" + copper, at(21, 1), absent}, // the switch fell silent: absent at once, never 0
		{"toneout_switch_up", at(21, 1), 0},
		{`count({run="N2-P1-17"})`, at(21, 1), absent},
		{`count({run="N2-P1-17"})`, at(20, 59), 11},
		{"rate(toneout_port_received_bytes_total[30m])", at(16, 0), 1000},
		{"increase(toneout_port_received_bytes_total[30m])", at(16, 0), 1000 * 1800},
		{"changes(toneout_port_speed_bits_per_second[3h])", at(16, 0), 2},
		{`toneout_port_received_light_dbm{lane="1"}`, at(20, 5), math.Inf(-1)},
		{`max_over_time(toneout_run_frame_error_ratio{bound="estimate"}[1h])`, at(17, 0), 2e-4},
		{`topk(1, toneout_port_received_light_dbm)`, at(13, 0), -3.25},
	} {
		found, err := q.Instant(context.Background(), row.query, row.at)
		require.NoError(t, err, row.query)
		if math.IsNaN(row.want) {
			require.Empty(t, found, "%s at %v", row.query, row.at)
			continue
		}
		require.Len(t, found, 1, "%s at %v", row.query, row.at)
		require.Len(t, found[0].Points, 1)
		require.InDelta(t, row.want, found[0].Points[0].Value, math.Abs(row.want)*1e-9, "%s at %v", row.query, row.at)
		require.True(t, row.at.Equal(found[0].Points[0].At), row.query)
	}
	rangesAnswered(t, q)
	mistakesTold(t, q)
}

func rangesAnswered(t *testing.T, q Querier) {
	found, err := q.Range(context.Background(), `toneout_port_speed_bits_per_second{run="N2-P1-17"}`, Span{at(13, 58), at(14, 4), 2 * time.Minute})
	require.NoError(t, err)
	require.Len(t, found, 1)
	require.Equal(t, map[string]string{"__name__": "toneout_port_speed_bits_per_second", "switch": "acc-n2-1", "port": "1/17", "run": "N2-P1-17"}, found[0].Labels)
	require.Equal(t, []Point{{at(13, 58), 1e9}, {at(14, 0), 1e9}, {at(14, 2), 1e8}, {at(14, 4), 1e8}}, utc(found[0].Points))

	found, err = q.Range(context.Background(), "toneout_port_up", Span{at(18, 0), at(19, 32), 46 * time.Minute})
	require.NoError(t, err)
	require.Len(t, found, 3)
	for _, c := range found {
		require.Len(t, c.Points, 2, "nothing is made up for the time in between")
	}
	found, err = q.Range(context.Background(), "nothing_of_this_name", Span{at(13, 0), at(14, 0), time.Minute})
	require.NoError(t, err)
	require.Empty(t, found)
}

func utc(points []Point) (out []Point) {
	for _, p := range points {
		out = append(out, Point{p.At.UTC(), p.Value})
	}
	return out
}

func mistakesTold(t *testing.T, q Querier) {
	ctx := context.Background()
	_, err := q.Instant(ctx, "rate(toneout_port_up", at(13, 0))
	require.ErrorIs(t, err, errQuestion)
	require.ErrorContains(t, err, "query history for rate(toneout_port_up: ")
	_, err = q.Range(ctx, "up", Span{at(13, 0), at(12, 0), time.Minute})
	require.ErrorContains(t, err, "wants its end after its begin")
	_, err = q.Range(ctx, "up", Span{at(12, 0), at(13, 0), 0})
	require.ErrorContains(t, err, "wants a step above 0")
	_, err = q.Range(ctx, "up", Span{at(12, 0), at(24, 0), time.Second})
	require.ErrorContains(t, err, "more than 11000 steps")
	_, err = q.Instant(ctx, `"a text"`, at(13, 0))
	require.Error(t, err)
	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	_, err = q.Instant(cancelled, "toneout_port_up", at(13, 0))
	require.Error(t, err)
}

func TestTimelineOnEachEngine(t *testing.T) { onEachEngine(t, timelineTold) }

func timelineTold(t *testing.T, q Querier) {
	const step = 30 * time.Minute
	got, err := TimelineOf(context.Background(), q, Place{Run: "N2-P1-17"}, Span{at(12, 30), at(24, 0), step})
	require.NoError(t, err)
	require.Len(t, got.Ports, 1)
	p := got.Ports[0]
	require.Equal(t, "acc-n2-1 1/17", p.Switch+" "+p.Port)
	require.Equal(t, []Gap{{at(18, 0), at(19, 30), false}, {at(21, 0), at(22, 0), true}}, p.Gaps)
	known := []time.Time{}
	for end := at(12, 30); !end.After(at(24, 0)); end = end.Add(step) {
		if !within(end, at(18, 0), at(19, 30)) && !within(end, at(21, 0), at(22, 0)) {
			known = append(known, end)
		}
	}
	otherwise := func(usual float64, but map[time.Time]float64) (out []Point) {
		for _, end := range known {
			v, other := but[end]
			if !other {
				v = usual
			}
			out = append(out, Point{end, v})
		}
		return out
	}
	require.Equal(t, otherwise(30, map[time.Time]float64{at(13, 0): 28}), utc(p.Polls), "two were in vain")
	require.Equal(t, otherwise(1, nil), utc(p.Up))
	require.Equal(t, otherwise(1e9, map[time.Time]float64{at(14, 30): 1e8, at(15, 0): 1e8}), utc(p.Slowest))
	require.Equal(t, otherwise(1e9, map[time.Time]float64{at(14, 30): 1e8, at(15, 0): 1e8}), utc(p.Fastest))
	require.Equal(t, otherwise(1e9, nil), utc(p.DesignSpeed))
	require.Equal(t, otherwise(0, map[time.Time]float64{at(14, 30): 2})[1:], utc(p.LinkChanges), "what changed before the first count nobody knows")
	require.Equal(t, otherwise(0, map[time.Time]float64{at(16, 30): 1e-4}), utc(p.FrameErrors.Low))
	require.Equal(t, otherwise(0, map[time.Time]float64{at(16, 30): 2e-4}), utc(p.FrameErrors.Estimate))
	require.Equal(t, otherwise(1e-7, map[time.Time]float64{at(16, 30): 4e-4}), utc(p.FrameErrors.High))
	near(t, otherwise(8000, nil), utc(p.Received))
	near(t, otherwise(2000, nil), utc(p.Sent))
	require.Empty(t, p.Lanes)

	got, err = TimelineOf(context.Background(), q, Place{Switch: "acc-n2-1", Port: "1/49"}, Span{at(12, 30), at(24, 0), step})
	require.NoError(t, err)
	require.Len(t, got.Ports, 1)
	require.Len(t, got.Ports[0].Lanes, 2)
	one, two := got.Ports[0].Lanes[0], got.Ports[0].Lanes[1]
	require.Equal(t, []int{1, 2}, []int{one.Lane, two.Lane})
	require.Equal(t, otherwise(-3.25, map[time.Time]float64{at(20, 30): math.Inf(-1)}), utc(one.ReceivedLeast))
	require.Equal(t, otherwise(-3.25, nil), utc(one.ReceivedMost))
	require.Equal(t, otherwise(-1.5, nil), utc(one.SentLeast))
	require.Equal(t, otherwise(-4, nil), utc(two.ReceivedMost))
	require.Empty(t, two.SentMost)
	require.Empty(t, got.Ports[0].FrameErrors)

	got, err = TimelineOf(context.Background(), q, Place{Run: "N2-P1-17"}, Span{at(12, 39), at(12, 43), time.Minute})
	require.NoError(t, err)
	require.Equal(t, []Point{{at(12, 39), 1}, {at(12, 40), 1}, {at(12, 41), 0}, {at(12, 42), 0}, {at(12, 43), 1}}, utc(got.Ports[0].Polls))
	require.Empty(t, got.Ports[0].Gaps, "two polls in vain are none")

	got, err = TimelineOf(context.Background(), q, Place{Run: "no such run"}, Span{at(12, 30), at(24, 0), step})
	require.NoError(t, err)
	require.Empty(t, got.Ports)
}

func TestFirstSeenOnEachEngine(t *testing.T) { onEachEngine(t, firstSeen) }

// Since when a port was watched, by the plan of the night: from its first poll, 7 s after
// noon, but while the daemon was down and the switch silent.
func firstSeen(t *testing.T, q Querier) {
	copper, second := Place{Switch: "acc-n2-1", Port: "1/17"}, 7*time.Second
	rows := []struct {
		of             Place
		from, to, want time.Time
	}{
		{copper, at(12, 0).AddDate(0, 0, -38), at(12, 2).Add(second), at(12, 0).Add(second)},
		{copper, at(12, 0).AddDate(-1, 0, 0), at(24, 0), at(12, 0).Add(second)},
		{copper, at(12, 0).Add(second), at(12, 2), at(12, 0).Add(second)},
		{copper, at(13, 30), at(13, 33), at(13, 30)},
		{copper, at(18, 30), at(19, 33), at(19, 30).Add(second)},
		{copper, at(21, 30), at(22, 5), at(22, 0).Add(second)},
		{copper, at(18, 30), at(19, 0), time.Time{}},
		{copper, at(11, 0), at(12, 0), time.Time{}},
		{Place{Switch: "acc-n2-1", Port: "9/9"}, at(12, 0), at(20, 0), time.Time{}},
	}
	var all []Stretch
	var want []time.Time
	for len(all) < stretchesAtOnce+10 {
		for _, r := range rows {
			all, want = append(all, Stretch{r.of, r.from, r.to}), append(want, r.want)
		}
	}
	got, err := FirstSeen(context.Background(), q, all, 5*time.Minute)
	require.NoError(t, err)
	for i := range got {
		got[i] = got[i].UTC()
	}
	require.Equal(t, want, got)
	got, err = FirstSeen(context.Background(), q, nil, time.Minute)
	require.NoError(t, err)
	require.Empty(t, got)
}

// A daemon that starts in the middle of a step, where its first count is its first
// poll's, hides none of those that the one before had counted.
func TestAnsweredPollsOverARestart(t *testing.T) {
	n := counts{map[int64]float64{}, map[int64]float64{}, map[int64]float64{}}
	for i, samples := range [][]float64{{5, 6, 7}, {8, 8, 1, 2}, {2, 2}, {3, 4, 4}} {
		at, last := int64(i)*1000, samples[0]
		n.least[at], n.changes[at] = samples[0], 0
		for _, v := range samples {
			if v != last {
				n.changes[at]++
			}
			n.least[at], last = min(n.least[at], v), v
		}
		n.last[at] = last
	}
	require.Equal(t, map[int64]float64{0: 3, 1000: 3, 2000: 0, 3000: 2}, n.polls(time.Second))
}

// near compares rates, which hold over the whole step by extrapolation.
func near(t *testing.T, want, got []Point) {
	t.Helper()
	require.Len(t, got, len(want))
	for i := range want {
		require.Equal(t, want[i].At, got[i].At)
		require.InEpsilon(t, want[i].Value, got[i].Value, 0.02, fmt.Sprint(want[i].At))
	}
}
