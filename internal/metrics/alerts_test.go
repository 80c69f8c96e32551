package metrics

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gopkg.in/yaml.v3"
)

const rules = "../../config/alerts.yml"

func TestPromtoolCheckRules(t *testing.T) {
	run(t, exec.Command(promtool(t), "check", "rules", rules))
}

func TestPromtoolTestRules(t *testing.T) {
	run(t, exec.Command(promtool(t), "test", "rules", "../../config/alerts_test.yml"))
}

// inputSeries is a series of a promtool test, in Prometheus's notation.
type inputSeries struct{ Series, Values string }

// sample is an expected sample of a promtool test.
type sample struct {
	Labels string
	Value  float64
}

// promtoolTest has promtool feed the series to the rules, and then compare
// what an expression gives.
func promtoolTest(t *testing.T, series []inputSeries, expression string, want []sample) {
	t.Helper()
	tool := promtool(t)
	path, err := filepath.Abs(rules)
	require.NoError(t, err)
	document, err := yaml.Marshal(map[string]any{
		"rule_files": []string{path},
		"tests": []any{map[string]any{
			"interval": "1m", "input_series": series,
			"promql_expr_test": []any{map[string]any{"expr": expression, "eval_time": "5m", "exp_samples": want}},
		}},
	})
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "test.yml")
	require.NoError(t, os.WriteFile(file, document, 0o600))
	run(t, exec.Command(tool, "test", "rules", file))
}

// What the exposition says and what the rules ask for fit together.
func TestAlertsOfExposition(t *testing.T) {
	series := []inputSeries{{"toneout_build_info", "1+0x10"}}
	for line := range strings.Lines(text(t, goldenRig().Exposition)) {
		at := strings.LastIndex(line, " ")
		if regexp.MustCompile(`^toneout_(run_fault|run_verdict_info|switch_up|switch_unread|shared_cause_probability|shared_cause_info)\{`).MatchString(line) {
			series = append(series, inputSeries{line[:at], strings.TrimSpace(line[at:]) + "+0x10"})
		}
	}
	promtoolTest(t, series, `ALERTS{alertstate="firing"}`, []sample{
		{`ALERTS{alertname="RunFrameErrors", alertstate="firing", switch="acc-n2-1", port="1/49", run="N2-M-1", kind="frame-errors", severity="critical"}`, 1},
		{`ALERTS{alertname="RunFrameErrors", alertstate="firing", switch="acc-n2-1", port="1/2", kind="frame-errors", severity="warning"}`, 1},
		{`ALERTS{alertname="RunBelowDesignSpeed", alertstate="firing", switch="acc-n2-1", port="1/17", run="N2-P1-17", kind="below-design-speed", severity="warning"}`, 1},
		{`ALERTS{alertname="PortSetting", alertstate="firing", switch="acc-n2-1", port="1/17", run="N2-P1-17", kind="frame-errors", severity="warning"}`, 1},
		{`ALERTS{alertname="SwitchNotAnswering", alertstate="firing", switch="acc-n1-1", severity="warning"}`, 1},
		{`ALERTS{alertname="SharedCableCause", alertstate="firing", attribute="pathway", value="riser-n", severity="critical"}`, 1},
	})
}

// Whatever the kind, and wherever the fault lies, it is one alert.
func TestEveryFaultIsOneAlert(t *testing.T) {
	series := []inputSeries{{"toneout_build_info", "1+0x10"}}
	var want []sample
	for _, kind := range []string{"below-design-speed", "frame-errors", "duplex-mismatch", "link-flapping", "no-link",
		"low-light", "high-light", "excess-loss", "power-fault"} {
		for _, about := range []string{"run", "port", "far-end"} {
			labels := fmt.Sprintf(`{switch="s", port="1", run="%s %s", kind="%s"}`, kind, about, kind)
			state := strings.Replace(labels, "{", fmt.Sprintf(`{about="%s", severity="warning", alarm="true", `, about), 1)
			verdict := strings.Replace(labels, "{", `{near="A", far="B", cause="bad-cord", first_check="Look.", owner="", building="", `, 1)
			series = append(series, inputSeries{"toneout_run_fault" + state, "1+0x10"}, inputSeries{"toneout_run_verdict_info" + verdict, "1+0x10"})
			want = append(want, sample{labels, 1})
		}
	}
	promtoolTest(t, series, `count by (switch, port, run, kind) (ALERTS{alertstate="firing"})`, want)
}

var (
	metricName = regexp.MustCompile(`toneout_[a-z_]+`)
	labelLists = regexp.MustCompile(`\b(?:by|on|group_left) \(([^)]*)\)`)
	labelNames = regexp.MustCompile(`([a-z_]+)\s*(?:=~|!~|!=|=)\s*(?:"|\\"|%q)|\$labels\.([a-z_]+)`)
)

// Every metric and label that a rule names is in the exposition: a rule that
// asks for one that isn't would never fire, and promtool finds no fault in it.
func TestRulesNameWhatThereIs(t *testing.T) {
	there := map[string]map[string]bool{}
	for name, family := range parsed(t, goldenRig().Exposition) {
		there[name] = map[string]bool{}
		for _, m := range family.Metric {
			for _, l := range m.Label {
				there[name][l.GetName()] = true
			}
		}
	}
	named := 0
	for _, rule := range readRules(t) {
		asked := rule.Expr + fmt.Sprint(rule.Annotations)
		have := map[string]bool{"instance": true} // by the scrape
		for _, metric := range metricName.FindAllString(asked, -1) {
			require.Contains(t, there, metric, rule.Alert)
			for label := range there[metric] {
				have[label] = true
			}
		}
		for _, label := range labelsIn(asked) {
			require.True(t, have[label], "%s names the label %s", rule.Alert, label)
			named++
		}
	}
	require.Greater(t, named, 100)
}

func labelsIn(asked string) (labels []string) {
	for _, m := range labelNames.FindAllStringSubmatch(asked, -1) {
		labels = append(labels, m[1]+m[2])
	}
	for _, m := range labelLists.FindAllStringSubmatch(asked, -1) {
		labels = append(labels, strings.FieldsFunc(m[1], func(r rune) bool { return r == ',' || r == ' ' })...)
	}
	return labels
}

type rule struct {
	Alert, Expr string
	Annotations map[string]string
}

func readRules(t *testing.T) (all []rule) {
	t.Helper()
	content, err := os.ReadFile(rules)
	require.NoError(t, err)
	var file struct{ Groups []struct{ Rules []rule } }
	require.NoError(t, yaml.Unmarshal(content, &file))
	for _, group := range file.Groups {
		all = append(all, group.Rules...)
	}
	return all
}
