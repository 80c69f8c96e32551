package history

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/api"
	v1 "github.com/prometheus/client_golang/api/prometheus/v1"
	"github.com/prometheus/common/model"
	"github.com/prometheus/prometheus/promql"
	"github.com/stretchr/testify/require"
)

// reply is Prometheus's JSON.
type reply struct {
	Status    string
	ErrorType string
	Error     string
	Data      any
	Warnings  []string
}

// ask sends a question by GET, or as a form, and gives the HTTP status too.
func ask(t *testing.T, method, server, path, query string) (int, reply) {
	t.Helper()
	address, body := server+"/api/v1/"+path+"?"+query, ""
	if method == http.MethodPost {
		address, body = server+"/api/v1/"+path, query
	}
	request, err := http.NewRequest(method, address, strings.NewReader(body))
	require.NoError(t, err)
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	response, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	require.Equal(t, "application/json", response.Header.Get("Content-Type"))
	var r reply
	require.NoError(t, json.Unmarshal(text, &r), "%s", text)
	return response.StatusCode, r
}

// query writes parameters: names and values in turn.
func query(pairs ...string) string {
	v := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		v.Add(pairs[i], pairs[i+1])
	}
	return v.Encode()
}

// What the API answers is what Debian's Prometheus answers over the same
// numbers: HTTP status, type of error, data.
func TestAPIAnswersAsPrometheus(t *testing.T) {
	all := night()
	theirs := startPrometheus(t, "scrape_configs: []")
	write(t, theirs, all)
	server := httptest.NewServer(record(t, all).API())
	defer server.Close()
	seconds := func(at time.Time) string { return fmt.Sprint(at.Unix()) }
	noonish, evening := seconds(at(13, 0)), seconds(at(20, 5))
	for _, row := range [][2]string{
		{"query", query("query", "toneout_port_up", "time", noonish)},
		{"query", query("query", "toneout_port_received_light_dbm", "time", evening)}, // -Inf
		{"query", query("query", "toneout_port_up", "time", noonish+".25")},
		{"query", query("query", "toneout_run_frame_error_ratio", "time", "2026-03-02T16:10:00+00:00")}, // small numbers
		{"query", query("query", "toneout_port_received_bytes_total * 1e20", "time", noonish)},          // large ones
		{"query", query("query", "0 / 0", "time", noonish)},
		{"query", query("query", `"text of \"quotes\" and <signs>"`, "time", noonish)},
		{"query", query("query", `label_replace(toneout_switch_up, "n", "é\"\\<&", "", "")`, "time", noonish)},
		{"query", query("query", "toneout_port_up[3m]", "time", noonish)},
		{"query", query("query", "none_of_this_name", "time", noonish)},
		{"query", query("query", "toneout_port_up", "time", noonish, "timeout", "5s")},
		{"query", query("query", "time()", "time", "-62135596800")},
		{"query_range", query("query", "toneout_port_up", "start", noonish, "end", evening, "step", "30m")},
		{"query_range", query("query", "toneout_switch_up", "start", noonish, "end", noonish, "step", "15")},
		{"query_range", query("query", "vector(1)", "start", noonish, "end", evening, "step", "1h30m")},
		{"labels", ""},
		{"labels", query("match[]", `toneout_port_received_light_dbm`)},
		{"labels", query("match[]", `toneout_switch_up`, "match[]", `toneout_run_frame_error_ratio`)},
		{"labels", query("start", seconds(at(13, 0).AddDate(1, 0, 0)), "end", seconds(at(14, 0).AddDate(1, 0, 0)))},
		{"label/port/values", ""},
		{"label/__name__/values", query("match[]", `{run="N2-M-1"}`)},
		{"label/absent/values", ""},
		{"series", query("match[]", `{run="N2-M-1"}`)},
		{"series", query("match[]", `toneout_switch_up`, "match[]", `{port="1/2"}`)},
		// What is wrong.
		{"query", query("query", "rate(toneout_port_up", "time", noonish)},
		{"query", query("time", noonish)},
		{"query", query("query", "up", "time", "noon")},
		{"query", query("query", "up", "timeout", "soon")},
		{"query", query("query", "toneout_port_up + on(switch) toneout_port_up", "time", noonish)}, // many to many
		{"query_range", query("query", "up", "start", noonish, "end", evening, "step", "0")},
		{"query_range", query("query", "up", "start", noonish, "end", evening, "step", "1s")},
		{"query_range", query("query", "up", "start", evening, "end", noonish, "step", "60")},
		{"query_range", query("query", "up", "end", evening, "step", "60")},
		{"query_range", query("query", "up[5m]", "start", noonish, "end", evening, "step", "60")},
		{"labels", query("match[]", "{")},
		{"labels", query("match[]", `{run=""}`)},
		{"series", ""},
	} {
		for _, method := range []string{http.MethodGet, http.MethodPost} {
			if method == http.MethodPost && strings.HasPrefix(row[0], "label/") {
				continue // Prometheus takes no form there
			}
			wantStatus, want := ask(t, method, theirs, row[0], row[1])
			gotStatus, got := ask(t, method, server.URL, row[0], row[1])
			what := fmt.Sprintf("%s %s %s: they say %q, ours %q", method, row[0], row[1], want.Error, got.Error)
			require.Equal(t, wantStatus, gotStatus, what)
			require.Equal(t, want.Status, got.Status, what)
			require.Equal(t, want.ErrorType, got.ErrorType, what)
			requireSame(t, want.Data, got.Data, what)
		}
	}
}

// requireSame compares data; series may come in any order.
func requireSame(t *testing.T, want, got any, what string) {
	t.Helper()
	if w, ok := want.(map[string]any); ok && w["resultType"] != nil {
		g, ok := got.(map[string]any)
		require.True(t, ok, what)
		require.Equal(t, w["resultType"], g["resultType"], what)
		want, got = w["result"], g["result"]
	}
	if w, ok := want.([]any); ok && len(w) > 0 {
		if _, ok := w[0].(map[string]any); ok {
			require.ElementsMatch(t, want, got, what)
			return
		}
	}
	require.Equal(t, want, got, what)
}

// Prometheus's own client reads all that is answered.
func TestClientReadsTheAPI(t *testing.T) {
	server := httptest.NewServer(record(t, night()).API())
	defer server.Close()
	client, err := api.NewClient(api.Config{Address: server.URL})
	require.NoError(t, err)
	p, ctx := v1.NewAPI(client), context.Background()
	value, _, _, err := p.Query(ctx, "sum(toneout_port_up)", at(13, 0))
	require.NoError(t, err)
	require.Equal(t, model.Vector{{Metric: model.Metric{}, Value: 2, Timestamp: model.TimeFromUnix(at(13, 0).Unix())}}, value)
	value, _, _, err = p.QueryRange(ctx, "toneout_port_up", v1.Range{Start: at(13, 0), End: at(14, 0), Step: time.Minute})
	require.NoError(t, err)
	require.Len(t, value, 3)
	names, _, _, err := p.LabelNames(ctx, nil, at(12, 0), at(24, 0))
	require.NoError(t, err)
	require.Equal(t, model.LabelNames{"__name__", "bound", "error", "lane", "outcome", "port", "run", "switch"}, names)
	runs, _, _, err := p.LabelValues(ctx, "run", nil, at(12, 0), at(24, 0))
	require.NoError(t, err)
	require.Equal(t, model.LabelValues{"N2-M-1", "N2-P1-17"}, runs)
	series, warnings, _, err := p.Series(ctx, []string{"{lane!=\"\"}"}, at(12, 0), at(24, 0), v1.WithLimit(2))
	require.NoError(t, err)
	require.Len(t, series, 2)
	require.Len(t, warnings, 1)
	info, err := p.Buildinfo(ctx)
	require.NoError(t, err)
	require.Equal(t, promQL, info.Version)
	metadata, err := p.Metadata(ctx, "", "")
	require.NoError(t, err)
	require.Empty(t, metadata)
}

// The release that is told is the library's: v0.316.0 is 3.16.0.
func TestReleaseOfTheLibrary(t *testing.T) {
	mod, err := os.ReadFile("../../go.mod")
	require.NoError(t, err)
	m := regexp.MustCompile(`github.com/prometheus/prometheus v0\.(\d)(\d\d)\.(\d+)`).FindSubmatch(mod)
	require.NotNil(t, m)
	minor, err := strconv.Atoi(string(m[2]))
	require.NoError(t, err)
	require.Equal(t, promQL, fmt.Sprintf("%s.%d.%s", m[1], minor, m[3]))
}

func TestAPIHasLimits(t *testing.T) {
	r := record(t, night())
	r.engine = newEngine(5*time.Minute, 100_000)
	server := httptest.NewServer(r.API())
	defer server.Close()
	for _, row := range []struct {
		path, query string
		status      int
		kind        string
	}{
		{"nothing", "", http.StatusNotFound, "not_found"},
		{"query", query("query", "sum_over_time(toneout_port_up[12h:1s])", "time", fmt.Sprint(at(23, 0).Unix())), http.StatusUnprocessableEntity, "execution"},
		{"query", query("query", "sum_over_time(toneout_port_up[12h:1ms])"), http.StatusBadRequest, "bad_data"},
		{"query", query("query", "max_over_time(sum_over_time(toneout_port_up[1s:1ms])[12h:1h])"), http.StatusBadRequest, "bad_data"},
		{"query_range", query("query", "sum_over_time(toneout_port_up[1s:1ms])", "start", "0", "end", "1e7", "step", "1h"), http.StatusBadRequest, "bad_data"},
		{"query", query("query", strings.Repeat("sum(last_over_time({__name__=~'.+'}[12h])) + ", 100)+"1", "time", fmt.Sprint(at(23, 0).Unix()), "timeout", "1ms"), http.StatusServiceUnavailable, "timeout"},
		{"query", query("query", strings.Repeat("1+", 1<<20)+"1"), http.StatusBadRequest, "bad_data"},
		{"query", query("query", "up", "time", "1e300"), http.StatusBadRequest, "bad_data"},
		{"query", query("query", "up", "lookback_delta", "back"), http.StatusBadRequest, "bad_data"},
		{"query", query("query", "up", "time", "NaN"), http.StatusBadRequest, "bad_data"},
		{"query_range", query("query", "up", "start", "-62135596800", "end", "253402300799", "step", "1"), http.StatusBadRequest, "bad_data"},
		{"labels", query("limit", "-1"), http.StatusBadRequest, "bad_data"},
		{"label/%FF/values", "", http.StatusBadRequest, "bad_data"},
	} {
		status, got := ask(t, http.MethodPost, server.URL, row.path, row.query)
		require.Equal(t, row.status, status, "%s: %s", row.path, got.Error)
		require.Equal(t, row.kind, got.ErrorType, got.Error)
		require.Equal(t, "error", got.Status)
		require.NotContains(t, got.Error, "\n")
	}
}

// A question that waited in vain for one of the places was no wrong one.
func TestAPIHasNoPlaceLeft(t *testing.T) {
	r := record(t, night())
	full := promql.EngineOpts{MaxSamples: 1000, Timeout: time.Minute, ActiveQueryTracker: make(places), Parser: questions}
	r.engine = promql.NewEngine(full)
	server := httptest.NewServer(r.API())
	defer server.Close()
	status, got := ask(t, http.MethodPost, server.URL, "query", query("query", "up", "timeout", "1ms"))
	require.Equal(t, http.StatusServiceUnavailable, status, got.Error)
	require.Equal(t, "timeout", got.ErrorType)
}

// FuzzParameters: whatever is asked is answered in Prometheus's JSON, and by
// no more than the limits allow.
func FuzzParameters(f *testing.F) {
	f.Add("query", "query=up&time=12", true)
	f.Add("query_range", "query=up&start=0&end=60&step=15s&lookback_delta=1m&timeout=1", false)
	f.Add("query_range", "query=up&start=2026-03-02T12:00:00Z&end=9e99&step=-1", true)
	f.Add("labels", "match[]={a=~\".*\"}&start=NaN&limit=1e3", false)
	f.Add("label/U__a_2e_/values", "match[]=up&limit=9999999999", false)
	f.Add("series", "match[]=%00&%zz", true)
	s, err := Open(Options{Directory: f.TempDir(), Keep: time.Hour, Now: func() time.Time { return noon }})
	require.NoError(f, err)
	handler := s.API()
	f.Fuzz(func(t *testing.T, path, query string, post bool) {
		request := httptest.NewRequest(http.MethodGet, "/api/v1/", nil)
		request.URL.Path, request.URL.RawQuery = "/api/v1/"+path, query
		if post {
			request = httptest.NewRequest(http.MethodPost, "/api/v1/", strings.NewReader(query))
			request.URL.Path = "/api/v1/" + path
			request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		}
		recorder := httptest.NewRecorder()
		handler.ServeHTTP(recorder, request)
		if recorder.Code/100 == 3 { // the path was no clean one
			return
		}
		var r reply
		require.NoError(t, json.Unmarshal(recorder.Body.Bytes(), &r), "%s", recorder.Body)
		require.Equal(t, recorder.Code == http.StatusOK, r.Status == "success")
	})
}

func FuzzTimes(f *testing.F) {
	for _, text := range []string{"0", "-1.5", "1e12", "2026-03-02T12:00:00.25Z", "5m", "1d2h", "Inf", "0x10p3"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if at, err := parseTime(text); err == nil {
			require.LessOrEqual(t, at.UnixMilli(), latest.UnixMilli()+1000)
			require.GreaterOrEqual(t, at.UnixMilli(), earliest.UnixMilli())
		}
		if d, err := parseSpan(text); err == nil {
			require.GreaterOrEqual(t, d, time.Millisecond)
		}
	})
}
