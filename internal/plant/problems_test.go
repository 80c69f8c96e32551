package plant

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const base = `cables: [{id: c, media: copper}]
panels: [{id: p}]
pathways: [{id: w}]
runs:
- {id: GOOD}
- `

// Each row stands in line 6 beside a good one; all its problems are told and
// it alone is lost.
func TestProblemsOfARun(t *testing.T) {
	rows := []struct {
		row  string
		want []string
	}{
		{`{id: R, length_m: 6o}`, []string{`length_m "6o" is not a number`}},
		{`{id: R, length_m: 62,5m: 1}`, []string{`unknown key "5m"`}},
		{`{id: R, length_m: "62,5"}`, []string{`length_m "62,5" is not a number: write a decimal point, not a comma`}},
		{`{id: R, length_m: -1}`, []string{`length_m "-1" is below 0`}},
		{`{id: R, length_m: .nan, near_cord_m: NaN, far_cord_m: Inf}`,
			[]string{`length_m ".nan" is not a number`, `near_cord_m "NaN" is not a number`, `far_cord_m "Inf" is not a number`}},
		{`{id: R, length_m: 1e999}`, []string{`length_m "1e999" is too large`}},
		{`{id: R, length_m: 0x1p4}`, []string{`length_m "0x1p4" is not a number`}},
		{`{id: R, length_m: [62]}`, []string{`length_m wants one value, not a list`}},
		{`{id: R, length_m: {m: 62}}`, []string{`length_m wants a value, not keys of its own`}},
		{`{id: R, connectors: 2.5, splices: -1, cord_awg: 6}`,
			[]string{`connectors "2.5" is not a whole number`, `splices "-1" is below 0`, `cord_awg "6" is no wire gauge from 20 to 32`}},
		{`{id: R, lenght_m: 62}`, []string{`unknown key "lenght_m"; did you mean "length_m"?`}},
		{`{id: R, Port: 1}`, []string{`unknown key "Port"; did you mean "port"?`}},
		{`{id: R, colour: blue}`, []string{`unknown key "colour"`}},
		{`{id: R, outlet: a, outlet: b}`, []string{`outlet is there twice`}},
		{`{id: R, design_speed: 1.5G, device_speed: fast}`,
			[]string{`design_speed "1.5G" is none of 10M, 100M, 1G, 2.5G, 5G, 10G, 25G, 40G, 100G`, `device_speed "fast" is none of`}},
		{`{id: R, status: lively, importance: hihg}`,
			[]string{`status "lively" is none of live, spare, faulty, abandoned; did you mean "live"?`, `importance "hihg" is none of low, normal, high; did you mean "high"?`}},
		{`{id: R, test_result: passed, always_on: maybe}`,
			[]string{`test_result "passed" is none of pass, pass*, fail*, fail`, `always_on "maybe" is none of true, false, yes, no`}},
		{`{id: R, installed_on: 30.07.2019, tested_on: 2019-02-30, warranty_until: 2019-07-30T00:00:00Z}`,
			[]string{`installed_on "30.07.2019" is not a date`, `tested_on "2019-02-30" is not a date`, `warranty_until "2019-07-30T00:00:00Z" is not a date such as 2024-03-31 (ISO 8601)`}},
		{`{id: R, passes_through: [phone, splitter]}`, []string{`passes_through "splitter" is none of phone, converter`}},
		{`{id: R, optic: SR}`, []string{`optic "SR" is not the IEEE name of a PHY, such as 10GBASE-SR`}},
		{`{id: R, port: 1/1, far_port: 1/2, position: 3, far_position: 4}`,
			[]string{"port without switch", "far_port without far_switch", "position without panel", "far_position without far_panel"}},
		{`{id: R, switch: s, port: 1, far_switch: s, far_port: 1}`, []string{"both ends are on s port 1"}},
		{`{id: R, cable: c, segments: [{cable: c}]}`, []string{"segments exclude cable and length_m"}},
		{`{id: R, length_m: 1, segments: [{cable: c}]}`, []string{"segments exclude cable and length_m"}},
		{`{id: R, segments: c}`, []string{"segments wants a list of parts"}},
		{`{id: R, segments: {cable: c}}`, []string{"segments wants a list of parts"}},
		{`{id: R, segments: [{cable: c}, {length: 5}, {length_m: x, cable: b}, 7]}`, []string{"segments wants a list of parts"}},
		{`{id: R, segments: [{cable: c}, {length: 5}, {length_m: x, cable: b}, [7]]}`, []string{
			`segment 2: unknown key "length"`, `segment 3: length_m "x" is not a number`, "segment 4: wants keys and values",
			`cable "b" is not in the inventory`}},
		{`{id: R, cable: b, panel: q, far_panel: P, near_cord_cable: x, far_cord_cable: y, pathways: [w, v]}`, []string{
			`cable "b" is not in the inventory`, `panel "q" is not in the inventory`, `far_panel "P" is not in the inventory`,
			`near_cord_cable "x" is not`, `far_cord_cable "y" is not`, `pathways "v" is not in the inventory`}},
		{`{id: "R", owner: "a\0b", outlet: "a\nb"}`, []string{`owner "a\x00b" has a control character`, `outlet "a\nb" has a control character or line break in it`}},
	}
	for _, row := range rows {
		p, problems := loadText(t, base+row.row+"\n", nil)
		require.Len(t, problems, len(row.want), "%s: %v", row.row, problems)
		for i, want := range row.want {
			require.True(t, strings.HasPrefix(problems[i], "plant.yml:6: run R: "), problems[i])
			require.Contains(t, problems[i], want)
		}
		require.NotNil(t, p.Run("GOOD"), row.row)
		require.Nil(t, p.Run("R"), row.row)
		require.Len(t, p.Runs, 1)
	}
}

func TestProblemsOfIDs(t *testing.T) {
	p, problems := loadText(t, "runs:\n- {id: A}\n- {outlet: x}\n- {id: A}\n- {id: ''}\n- {id: ~}\n- hello\n- [a]\n- {id: [A]}\n", nil)
	require.Equal(t, []string{
		"plant.yml:3: run: id is missing",
		"plant.yml:4: run A: the id is taken by plant.yml:2",
		"plant.yml:5: run: id is missing",
		"plant.yml:6: run: id is missing",
		"plant.yml:7: runs: a run wants keys and values, such as id: NAME",
		"plant.yml:8: runs: a run wants keys and values, such as id: NAME",
		"plant.yml:9: run A: id wants one value, not a list",
		"plant.yml:9: run A: the id is taken by plant.yml:2",
	}, problems)
	require.Len(t, p.Runs, 1)
}

func TestProblemsOfOtherKinds(t *testing.T) {
	p, problems := loadText(t, `sitr: x
spaces: {id: a}
panels: [{id: p, space: b}, {id: q, positions: many}]
pathways: [{id: w, ambient_c: hot, near: [{a: b}]}]
cables:
- {id: a}
- {id: b, media: coper, category: 9, shield: UTP}
- {id: d, media: fibre, fibre: OM6}
- {id: e, media: fibre, category: 6, fibre: OM3}
- {id: f, media: copper, fibre: OM3}
- {id: g, media: fibre, core_um: 50}
- {id: h, media: fibre, fibre: OM1, core_um: 62.5, modal_bandwidth_mhz_km: 200}
- {id: i, media: fibre, shield: U/UTP, awg: 23}
site: [a, b]
runs: x
runs: []
`, nil)
	require.Equal(t, []string{
		`plant.yml:1: unknown key "sitr"; did you mean "site"?`,
		`plant.yml:2: spaces wants a list`,
		`plant.yml:3: panel q: positions "many" is not a whole number`,
		`plant.yml:3: panel p: space "b" is not in the inventory`,
		`plant.yml:4: pathway w: ambient_c "hot" is not a number`,
		`plant.yml:4: pathway w: near wants a list of single values`,
		`plant.yml:6: cable a: media is missing`,
		`plant.yml:7: cable b: media "coper" is none of copper, fibre, twinax, active-optical; did you mean "copper"?`,
		`plant.yml:7: cable b: category "9" is none of 3, 5, 5e, 6, 6A, 7, 7A, 8`,
		`plant.yml:7: cable b: shield "UTP" is none of U/UTP, F/UTP, S/UTP, SF/UTP, U/FTP, F/FTP, S/FTP, SF/FTP; did you mean "U/UTP" or "F/UTP" or "S/UTP"?`,
		`plant.yml:8: cable d: fibre "OM6" is none of OM1, OM2, OM3, OM4, OM5, OS1, OS1a, OS2; did you mean "OM1" or "OM2" or "OM3"?`,
		`plant.yml:9: cable e: category is not for media fibre`,
		`plant.yml:10: cable f: fibre is not for media copper`,
		`plant.yml:11: cable g: core_um and modal_bandwidth_mhz_km go together: one is missing`,
		`plant.yml:12: cable h: fibre and core_um exclude each other: leave one out`,
		`plant.yml:13: cable i: shield is not for media fibre`,
		`plant.yml:13: cable i: awg is not for media fibre`,
		`plant.yml:14: site wants a name on one line`,
		`plant.yml:15: runs wants a list`,
		`plant.yml:16: runs is there twice: the second is not read`,
	}, problems)
	require.Empty(t, p.Cables)
}

// A typing error in a cable is one problem, not one for every run of it.
func TestARowThatRefersToALostRowStays(t *testing.T) {
	p, problems := loadText(t, "cables: [{id: c, media: coper}]\nruns: [{id: A, cable: c}, {id: B, cable: c}]\n", nil)
	require.Len(t, problems, 1)
	require.Len(t, p.Runs, 2)
	require.Nil(t, p.Cable(p.Run("A").Cable))
}

func TestAHintIsOnlyGivenWhereOneIsNear(t *testing.T) {
	_, problems := loadText(t, "cables: [{id: horizontal-6a, media: copper}, {id: c1, media: copper}, {id: c2, media: copper}]\n"+
		"runs: [{id: A, cable: horizontal6a}, {id: B, cable: c3}, {id: C, cable: c3}, {id: D, cable: zzz}]\n", nil)
	require.Equal(t, []string{
		`plant.yml:2: run A: cable "horizontal6a" is not in the inventory; did you mean "horizontal-6a"?`,
		`plant.yml:2: run B: cable "c3" is not in the inventory; did you mean "c1" or "c2"?`,
		`plant.yml:2: run C: cable "c3" is not in the inventory; did you mean "c1" or "c2"?`,
		`plant.yml:2: run D: cable "zzz" is not in the inventory`,
	}, problems)
}

func TestLinesOfYAMLValues(t *testing.T) {
	_, problems := loadText(t, "x: &long 6o\nruns:\n- id: A\n  length_m: 6o\n- id: B\n\n  pathways:\n  - w\n  near_cord_m: *long\n", nil)
	require.Equal(t, []string{
		`plant.yml:1: unknown key "x"`,
		`plant.yml:4: run A: length_m "6o" is not a number`,
		`plant.yml:8: run B: pathways "w" is not in the inventory`,
		`plant.yml:9: run B: near_cord_m "6o" is not a number`,
	}, problems)
}

func TestASecondDocumentIsRefused(t *testing.T) {
	_, problems := loadText(t, "runs: []\n---\nruns: []\n", nil)
	require.Equal(t, []string{"plant.yml:2: only the first YAML document of a file is read"}, problems)
}

func TestFilesAreReadOnce(t *testing.T) {
	p, problems := loadText(t, "runs_files:\n- a.csv\n- ./a.csv\n- none.csv\ntests_files: {a: b}\n", map[string]string{"a.csv": "id\nA\n"})
	require.Equal(t, []string{
		`plant.yml:3: file "./a.csv" is named twice`,
		`plant.yml:4: open none.csv: file does not exist`,
		`plant.yml:5: runs_files and tests_files want a list of file names`,
	}, problems)
	require.Len(t, p.Runs, 1)
	require.Equal(t, []string{"plant.yml", "a.csv", "none.csv"}, p.Files)
}
