package main

import (
	"encoding/csv"
	"encoding/json"
	"maps"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/web"
)

// wrongPlant is an inventory in which B is lost, C is on a switch that is none,
// D and E claim one port, and F is 3 m longer than a channel may be, 100 m
// (ISO/IEC 11801-1, ANSI/TIA-568.2-D). A has nothing wrong.
var wrongPlant = map[string]string{
	"toneout.yml": goodConfig,
	"plant.yml": "spaces: [{id: S1, name: Store, building: South}]\npanels: [{id: P1, space: S1, positions: 48}]\n" +
		"pathways: [{id: tray, ambient_c: 20}]\ncables: [{id: c, media: copper, category: 6A, shield: F/FTP}]\nruns_files: [runs.csv]\n",
	"runs.csv": "id,switch,port,cable,length_m,near_cord_m,far_cord_m,near_cord_cable,far_cord_cable,connectors,panel,position,pathways,tested_on,test_result,design_speed\n" +
		"A,sw-1,1/1,c,60,2,3,c,c,2,P1,1,tray,2021-08-02,pass,1G\n" +
		"B,sw-1,1/2,c,6o,2,3,c,c,2,P1,2,tray,2021-08-02,pass,1G\n" +
		"C,sw-2,1/3,c,60,2,3,c,c,2,P1,3,tray,2021-08-02,pass,1G\n" +
		"D,sw-1,1/4,c,60,2,3,c,c,2,P1,4,tray,2021-08-02,pass,1G\n" +
		"E,sw-1,1/4,c,60,2,3,c,c,2,P1,5,tray,2021-08-02,pass,1G\n" +
		"F,sw-1,1/6,c,90,5,8,c,c,2,P1,6,tray,2021-08-02,pass,1G\n",
}

// audited runs toneout audit over an inventory; files are put over wrongPlant.
func audited(t *testing.T, files map[string]string, argv ...string) (code int, out, log string) {
	t.Helper()
	all := maps.Clone(wrongPlant)
	maps.Copy(all, files)
	for name, text := range all {
		if text == "" {
			delete(all, name)
		}
	}
	directory := folder(t, all)
	code, out, log = toneout(t, append([]string{"audit", "-config", filepath.Join(directory, "toneout.yml")}, argv...)...)
	return code, strings.ReplaceAll(out, directory+"/", ""), log
}

// cleanRuns is the one row of wrongPlant with which nothing is wrong.
func cleanRuns() map[string]string {
	lines := strings.SplitAfter(wrongPlant["runs.csv"], "\n")
	return map[string]string{"runs.csv": lines[0] + lines[1]}
}

func TestAuditText(t *testing.T) {
	code, out, log := audited(t, nil)
	require.Equal(t, exitFailed, code)
	require.Empty(t, log)
	for _, want := range []string{
		`(?m)^The link is endangered\. The run may not carry what it is meant to\.\nF  .*103 m.*; 3 m over 100 m  \(runs\.csv:7\)\n    certain, by ISO/IEC 11801-1 .*; not allowed, channel-too-long\n    to mend: `,
		`(?m)^The record is endangered\. `,
		`(?m)^B  length_m "6o" is not a number.*  \(runs\.csv:3\)\n    certain, by the inventory itself; not allowed, row-unread\n    to mend: `,
		`(?m)^C  near end: switch "sw-2" is not in the configuration.*  \(runs\.csv:4\)$`,
		`(?m)^D  .*  \(runs\.csv:5\)$`,
		`(?m)^E  .*  \(runs\.csv:6\)$`,
		`(?m)^space +runs  clean  equipment  link  margin  record  growth$`,
		`(?m)^S1 +5 +1 +0 +1 +0 +3 +0$`,
		`(?m)^\(none recorded\) +0 +0 +0 +0 +0 +1 +0$`,
	} {
		require.Regexp(t, want, out)
	}
	require.NotRegexp(t, `(?m)^A `, out)
	require.Less(t, strings.Index(out, "\nF "), strings.Index(out, "\nB "), "what endangers the link comes before the record")
	require.True(t, strings.HasSuffix(out, "\n5 runs judged, 1 clean; 5 findings: 1 link, 4 record.\n"), out)
	require.NotContains(t, out, "\x1b", "no colour in a pipe")

	code, out, _ = audited(t, cleanRuns())
	require.Zero(t, code, out)
	require.Equal(t, "1 run judged, 1 clean; 0 findings.\n", out)
}

func TestAuditJSON(t *testing.T) {
	code, out, _ := audited(t, nil, "-json")
	require.Equal(t, exitFailed, code)
	var report web.AuditReport
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	require.Equal(t, []int{5, 1, 5, 2}, []int{report.Runs, report.Clean, len(report.Findings), len(report.Spaces)})
	require.Nil(t, report.Readiness)
	var raw map[string]any
	require.NoError(t, json.Unmarshal([]byte(out), &raw))
	require.Len(t, raw, 4, "no key without an answer: %v", raw)
	first := raw["findings"].([]any)[0].(map[string]any)
	require.Equal(t, "F", first["run"])
	require.Equal(t, "link", first["endangers"])
	require.Equal(t, "not allowed", first["verdict"])
	require.Equal(t, "channel-too-long", first["rule"])
	require.Equal(t, "3 m over 100 m", first["by"])
	require.Equal(t, "certain", first["sure"])
	require.Equal(t, "S1", first["space"])
	require.Equal(t, "runs.csv", first["file"])
	require.Equal(t, 7.0, first["line"])

	code, out, _ = audited(t, cleanRuns(), "-json")
	require.Zero(t, code)
	require.Contains(t, out, `"findings": []`)
}

func TestAuditCSV(t *testing.T) {
	code, out, _ := audited(t, nil, "-csv")
	require.Equal(t, exitFailed, code)
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 1+5)
	require.Equal(t, "run,endangers,verdict,rule,finding,by,source,sure,mend,space,file,line", strings.Join(rows[0], ","))
	require.Equal(t, []string{"F", "link", "not allowed", "channel-too-long"}, rows[1][:4])
	require.Equal(t, []string{"S1", "runs.csv", "7"}, rows[1][9:])
}

func TestAuditNarrowed(t *testing.T) {
	rows := []struct {
		argv     []string
		code     int
		findings int
	}{
		{[]string{"-endangers", "link"}, exitFailed, 1},
		{[]string{"-endangers", "equipment"}, exitOK, 0},
		{[]string{"-space", "S1"}, exitFailed, 4},
		{[]string{"-space", "S1", "-endangers", "record"}, exitFailed, 3},
		{[]string{"-space", ""}, exitFailed, 1},
	}
	for _, row := range rows {
		code, out, _ := audited(t, nil, append(row.argv, "-csv")...)
		require.Equal(t, row.code, code, row.argv)
		require.Equal(t, 1+row.findings, strings.Count(out, "\n"), "%v\n%s", row.argv, out)
	}
	for says, argv := range map[string][]string{
		`-space: the inventory has no space "S2"; did you mean "S1"?`:                   {"-space", "S2"},
		`-endangers: "links" is none of equipment, link, margin, record, growth`:        {"-endangers", "links"},
		`-upgrade: "11G" is none of next, 10M, 100M`:                                    {"-upgrade", "11G"},
		"-upgrade judges runs, and -endangers chooses among findings: give one of them": {"-upgrade", "10G", "-endangers", "link"},
	} {
		code, out, log := audited(t, nil, argv...)
		require.Equal(t, exitUsage, code)
		require.Empty(t, out)
		require.Contains(t, log, says)
	}
}

// The next speed above 1G is 2.5G over Category 6A; 25GBASE-T needs Category 8
// (IEEE 802.3 clauses 126 and 113).
func TestAuditUpgrade(t *testing.T) {
	code, out, _ := audited(t, cleanRuns(), "-upgrade", "next")
	require.Zero(t, code)
	require.Regexp(t, `^A  2\.5G: by the record yes, test needed\n(    .+\n)+1 run: 1 by the record yes, test needed; 0 no; 0 not known\.\n$`, out)
	require.NotContains(t, out, "will work")
	code, out, _ = audited(t, cleanRuns(), "-upgrade", "25G", "-csv")
	require.Equal(t, exitFailed, code, "one is not ready")
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"run", "speed", "answer", "because", "also"}, rows[0])
	require.Equal(t, []string{"A", "25G", "no"}, rows[1][:3])
	require.Contains(t, rows[1][3], "category 8")
	_, out, _ = audited(t, nil, "-upgrade", "10G", "-json", "-space", "S1")
	var report web.AuditReport
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	require.Len(t, report.Readiness, 5)
	require.Equal(t, "F", report.Readiness[4].Run)
	require.Equal(t, "no", report.Readiness[4].Answer)
}

func TestAuditOfRunsWithoutAPort(t *testing.T) {
	bare := cleanRuns()
	bare["runs.csv"] = strings.Replace(bare["runs.csv"], "sw-1,1/1", ",", 1)
	code, out, _ := audited(t, bare)
	require.Equal(t, exitFailed, code)
	require.Contains(t, out, "A  the record names no switch port")
	bare["toneout.yml"] = goodConfig + "port_labels: '^(?P<run>\\S+)'\n"
	code, out, _ = audited(t, bare)
	require.Zero(t, code, out) // a port's description may name it
	code, _, log := audited(t, map[string]string{"runs.csv": ""})
	require.Equal(t, exitUsage, code)
	require.Contains(t, log, "runs.csv: no such file")
}

// What somebody wrote over several lines stays on its own.
func TestAFindingKeepsToItsLine(t *testing.T) {
	odd := cleanRuns()
	odd["runs.csv"] += "\"G\nX  forged\",sw-1,1/9,c,6o,2,3,c,c,2,P1,9,tray,2021-08-02,pass,1G\n"
	_, out, _ := audited(t, odd)
	require.NotRegexp(t, `(?m)^X  forged`, out)
}
