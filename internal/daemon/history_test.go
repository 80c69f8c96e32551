package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"maps"
	"math"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/api"
	v1 "github.com/prometheus/client_golang/api/prometheus/v1"
	"github.com/prometheus/common/model"
	"github.com/stretchr/testify/require"

	"toneout/internal/history"
	"toneout/internal/journal"
	"toneout/internal/snmp"
)

// recorded is a daemon's options with a history in a folder.
func recorded(folder string, clock Clock) Options {
	o := watchingOne("", clock)
	o.History = HistoryOptions{Directory: folder, Keep: 400 * 24 * time.Hour}
	return o
}

func prometheusClient(t *testing.T, url string) v1.API {
	client, err := api.NewClient(api.Config{Address: url})
	require.NoError(t, err)
	return v1.NewAPI(client)
}

// What polls tell is there after a restart, on the time of the polls, and the
// time in which nobody watched is a gap. Prometheus's client asks for it.
func TestHistoryOutlastsARestart(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "history")
	for round := range 2 {
		clock := newStepped(begin.Add(time.Duration(round)*time.Hour), 20*time.Minute, 1)
		d := start(t, recorded(folder, clock.clock()))
		clock.wait(t, patience)
		p := prometheusClient(t, d.url)
		var courses model.Matrix
		d.eventually(func() bool {
			v, _, _, err := p.QueryRange(context.Background(), `count_over_time(toneout_port_up{run="R",switch="sw-1",port="1/1"}[5m])`,
				v1.Range{Start: begin.Add(5 * time.Minute), End: begin.Add(75 * time.Minute), Step: 5 * time.Minute})
			if err != nil {
				return false // it is being opened
			}
			courses = v.(model.Matrix)
			return len(courses) == 1 && len(courses[0].Values) >= 3*(round+1)
		}, "the polls")
		if round == 1 {
			var minutes []int
			for _, v := range courses[0].Values {
				minutes = append(minutes, int(v.Timestamp.Time().Sub(begin).Minutes()))
			}
			require.Equal(t, []int{5, 10, 15, 20}, minutes[:4])
			require.GreaterOrEqual(t, minutes[4], 60, "nothing is made up")
		}
		require.NoError(t, d.stop())
		require.NotContains(t, d.log.String(), "history", "nothing to say")
	}
}

// What is recorded is what the metrics show: the same names, labels and
// values.
func TestHistoryHoldsWhatMetricsShow(t *testing.T) {
	clock := newStepped(begin, 10*time.Minute, 1)
	d := start(t, recorded(t.TempDir(), clock.clock()))
	clock.wait(t, patience)
	end := begin.Add(10 * time.Minute)
	require.NotEmpty(t, shown(d))
	d.eventually(func() bool { return maps.Equal(shown(d), asked(t, d.url, end)) }, "all that is shown is recorded")
}

// shown are the samples of what polls tell, by series.
func shown(d *running) map[string]string {
	_, text := d.get("/metrics")
	out := map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^(toneout_(?:port|switch|run)_\w+)\{(.*)\} (\S+)$`).FindAllStringSubmatch(text, -1) {
		var labels []string
		for _, pair := range regexp.MustCompile(`(\w+)="((?:[^"\\]|\\.)*)"`).FindAllStringSubmatch(m[2], -1) {
			if pair[2] != "" {
				labels = append(labels, pair[0])
			}
		}
		slices.Sort(labels)
		out[m[1]+"{"+strings.Join(labels, ",")+"}"] = number(m[3])
	}
	return out
}

// number writes a value in one way.
func number(text string) string {
	var v model.SampleValue
	_ = json.Unmarshal([]byte(`"`+text+`"`), &v)
	return v.String()
}

// asked are the samples that a server that speaks Prometheus's API has.
func asked(t *testing.T, server string, at time.Time) map[string]string {
	v, _, _, err := prometheusClient(t, server).Query(context.Background(), `{__name__=~"toneout_(port|switch|run)_.+"}`, at)
	if err != nil {
		return nil
	}
	out := map[string]string{}
	for _, s := range v.(model.Vector) {
		name := s.Metric["__name__"]
		for _, more := range []model.LabelName{"__name__", "instance", "job"} {
			delete(s.Metric, more)
		}
		var labels []string
		for _, l := range slices.Sorted(maps.Keys(s.Metric)) {
			labels = append(labels, fmt.Sprintf("%s=%q", l, s.Metric[l]))
		}
		out[string(name)+"{"+strings.Join(labels, ",")+"}"] = s.Value.String()
	}
	return out
}

// Debian's Prometheus, scraping the daemon, has the same series as the
// daemon's own history: the same questions serve both.
func TestHistoryIsWhatPrometheusScrapes(t *testing.T) {
	o := recorded(t.TempDir(), systemClock)
	o.PollEvery = 200 * time.Millisecond
	d := start(t, o)
	d.polls("sw-1", "answered", 3)
	file := filepath.Join(t.TempDir(), "prometheus.yml")
	require.NoError(t, os.WriteFile(file, fmt.Appendf(nil, `
global: {scrape_interval: 200ms, scrape_timeout: 200ms}
scrape_configs: [{job_name: toneout, static_configs: [{targets: [%q]}]}]
`, strings.TrimPrefix(d.url, "http://")), 0o600))
	theirs := startServer(t, "prometheus", "prometheus", "--config.file="+file, "--storage.tsdb.path="+filepath.Join(t.TempDir(), "data"), "--web.listen-address=127.0.0.1:0")
	names := func(samples map[string]string) []string { return slices.Sorted(maps.Keys(samples)) }
	d.eventually(func() bool {
		scraped := names(asked(t, theirs, time.Now()))
		return len(scraped) > 20 && slices.Equal(scraped, names(asked(t, d.url, time.Now())))
	}, "the same series")
	remote, err := history.NewRemote(theirs)
	require.NoError(t, err)
	d.eventually(func() bool {
		now := time.Now()
		timeline, err := history.TimelineOf(context.Background(), remote, history.Place{Run: "R"}, history.Span{From: now.Add(-2 * time.Second), To: now, Step: time.Second})
		require.NoError(t, err)
		return len(timeline.Ports) == 1 && len(timeline.Ports[0].Slowest) > 0 && timeline.Ports[0].Slowest[0].Value == 100e6
	}, "the run's timeline by Prometheus")
	sameAnswers(t, d, remote)
}

// sameAnswers asks the daemon, and the Prometheus that scrapes it, the same: what a
// series holds is the same on both, and a counter's course the same but for the moments
// of scrapes and polls, five a second each.
func sameAnswers(t *testing.T, d *running, scraped *history.Remote) {
	own, err := history.NewRemote(d.url)
	require.NoError(t, err)
	for query, within := range map[string]float64{
		`toneout_port_up{run="R"}`:                          0,
		`sum by (run) (toneout_port_speed_bits_per_second)`: 0,
		`toneout_port_speed_bits_per_second < on (run) group_left toneout_run_design_speed_bits_per_second`: 0,
		`min_over_time(toneout_port_speed_bits_per_second{run="R"}[2s])`:                                    0,
		`max by (run, fault) (max_over_time(toneout_run_fault[2s]))`:                                        0,
		`topk(1, toneout_run_cause_probability{run="R"})`:                                                   0,
		`count(toneout_run_info) by (cable)`:                                                                0,
		`changes(toneout_port_link_changes_total{run="R"}[2s])`:                                             0,
		`absent(toneout_port_up{run="none"})`:                                                               0,
		`rate(toneout_port_received_bytes_total{run="R"}[2s])`:                                              0.2,
		`rate(toneout_switch_polls_total{outcome="answered"}[2s])`:                                          0.3,
		`max_over_time(rate(toneout_port_received_bytes_total{run="R"}[1s])[2s:500ms])`:                     0.4,
	} {
		d.eventually(func() bool {
			at := time.Now().Add(-time.Second)
			ours, err := own.Instant(t.Context(), query, at)
			require.NoError(t, err)
			theirs, err := scraped.Instant(t.Context(), query, at)
			require.NoError(t, err)
			return sameCourses(ours, theirs, within)
		}, query)
	}
}

// sameCourses tells whether two answers have the same series, but for what a scrape adds,
// and values that differ by a part of them at most.
func sameCourses(ours, theirs []history.Course, within float64) bool {
	values := func(courses []history.Course) map[string]float64 {
		out := map[string]float64{}
		for _, c := range courses {
			delete(c.Labels, "instance")
			delete(c.Labels, "job")
			out[fmt.Sprint(c.Labels)] = c.Points[0].Value
		}
		return out
	}
	a, b := values(ours), values(theirs)
	return len(a) > 0 && maps.EqualFunc(a, b, func(x, y float64) bool { return math.Abs(x-y) <= within*math.Abs(x) })
}

// A run's timeline is answered from the daemon's own folder, and from a server:
// here that of another daemon, which speaks Prometheus's API.
func TestTimelineOfARunOverHTTP(t *testing.T) {
	now := time.Now().Truncate(10 * time.Minute)
	clock := newStepped(now.Add(-30*time.Minute), 30*time.Minute, 1)
	o := recorded(t.TempDir(), clock.clock())
	o.Journal = journal.Place{File: filepath.Join(t.TempDir(), "journal.db")}
	o.Open = func(snmp.Target) (Poller, error) { return fellBack{clock.now}, nil }
	keeps := start(t, o)
	clock.wait(t, patience)
	o = watchingOne("", systemClock)
	o.PollEvery, o.History.URL = time.Minute, keeps.url
	asks := start(t, o)
	path := "/api/runs/R/timeline?step=10m&from=" + now.Add(-20*time.Minute).UTC().Format(time.RFC3339) + "&to=" + now.UTC().Format(time.RFC3339)
	for _, d := range []*running{keeps, asks} {
		var told struct {
			Ports []struct {
				Switch, Port string
				Slowest      [][]any `json:"slowest_bits_per_second"`
				Gaps         []any
			}
		}
		d.eventually(func() bool {
			status, body := d.get(path)
			return status == http.StatusOK && json.Unmarshal([]byte(body), &told) == nil && len(told.Ports) == 1
		}, "the timeline")
		require.Equal(t, "sw-1 1/1", told.Ports[0].Switch+" "+told.Ports[0].Port)
		require.NotEmpty(t, told.Ports[0].Slowest)
		require.Equal(t, "100000000", told.Ports[0].Slowest[0][1])
	}
	answer, err := http.Post(keeps.url+"/api/notes", "application/json", strings.NewReader(`{"run": "R", "by": "ada", "note": "no step ended since"}`))
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	_, body := keeps.get("/api/runs/R/timeline?step=10m&to=" + now.Add(5*time.Minute).UTC().Format(time.RFC3339))
	require.Contains(t, body, "no step ended since", "what happened lately is told before its step has ended")
	require.Contains(t, body, `"to":"`+now.UTC().Format(time.RFC3339), "numbers are of whole steps")
	for path, status := range map[string]int{
		"/api/runs/none/timeline":        http.StatusNotFound,
		"/api/runs/R/timeline?from=noon": http.StatusBadRequest,
		"/api/runs/R/timeline?step=0":    http.StatusBadRequest,
		"/api/runs/R/timeline?from=2026-03-02T12:00:00Z&to=2026-03-02T11:00:00Z":         http.StatusBadRequest,
		"/api/runs/R/timeline?from=2020-03-02T12:00:00Z&to=2026-03-02T11:00:00Z&step=1s": http.StatusBadRequest,
	} {
		got, body := keeps.get(path)
		require.Equal(t, status, got, "%s: %s", path, body)
	}
	require.NoError(t, keeps.stop())
	status, body := asks.get(path)
	require.Equal(t, http.StatusServiceUnavailable, status)
	require.Contains(t, body, "gives no answer; is history.url right?")
}

// A folder that cannot be used harms no poll, and is told once.
func TestHistoryThatCannotBeWritten(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	clock := newStepped(begin, 10*time.Minute, 1)
	d := start(t, recorded(filepath.Join(file, "history"), clock.clock()))
	clock.wait(t, patience)
	d.eventually(func() bool {
		_, metrics := d.get("/metrics")
		return strings.Contains(metrics, "toneout_history_failing 1\n") && strings.Contains(metrics, "toneout_history_dropped_polls_total 10\n")
	}, "that it fails is exposed")
	require.Len(t, d.faults(), 1, "watching goes on")
	require.Equal(t, 1, strings.Count(d.log.String(), "history not recorded"), d.log)
	require.Contains(t, d.log.String(), "not a directory")
	_, page := d.get("/coverage")
	require.Contains(t, page, "What polls tell is not recorded now.")
	_, coverage := d.get("/api/coverage")
	require.Regexp(t, `"history":\{"failing":"mkdir .*not a directory","lost_polls":10\}`, coverage)
	status, body := d.get("/api/v1/query?query=up")
	require.Equal(t, http.StatusServiceUnavailable, status, body)
	require.Contains(t, body, `"errorType":"unavailable"`)
}

// A second daemon on a history's folder does not start.
func TestSecondDaemonOnAHistoryIsRefused(t *testing.T) {
	o := recorded(t.TempDir(), systemClock)
	o.PollEvery = time.Minute
	first := start(t, o)
	first.eventually(func() bool { status, _ := first.get("/healthz"); return status == http.StatusOK }, "the first runs")
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	second := o
	second.Listener, second.Log = listener, slog.New(slog.DiscardHandler)
	err = Run(context.Background(), second)
	require.ErrorContains(t, err, "another process has this folder")
}

// Without a history the query API says so, and a page of another site may post
// no question to one.
func TestWhoMayAskTheHistory(t *testing.T) {
	o := watchingOne("", systemClock)
	o.PollEvery = time.Minute
	d := start(t, o)
	status, body := d.get("/api/v1/query?query=up")
	require.Equal(t, http.StatusNotFound, status)
	require.Contains(t, body, "no history is kept here")

	o = recorded(t.TempDir(), systemClock)
	o.PollEvery = time.Minute
	d = start(t, o)
	for _, row := range []struct {
		method, site string
		status       int
	}{
		{http.MethodPost, "", http.StatusOK}, // Grafana and other programs name none
		{http.MethodPost, "same-origin", http.StatusOK},
		{http.MethodPost, "cross-site", http.StatusForbidden},
		{http.MethodGet, "cross-site", http.StatusOK},
		{http.MethodDelete, "", http.StatusMethodNotAllowed},
	} {
		d.eventually(func() bool {
			request, err := http.NewRequest(row.method, d.url+"/api/v1/query?query=1", strings.NewReader(url.Values{"query": {"1"}}.Encode()))
			require.NoError(t, err)
			request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			if row.site != "" {
				request.Header.Set("Sec-Fetch-Site", row.site)
			}
			response, err := http.DefaultClient.Do(request)
			require.NoError(t, err)
			response.Body.Close()
			return response.StatusCode == row.status
		}, row.method+" "+row.site)
	}
}
