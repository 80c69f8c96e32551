package plant

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

func day(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

func TestLoadReadsEveryKey(t *testing.T) {
	p, problems, err := Load("testdata/plant.yml")
	require.NoError(t, err)
	require.Empty(t, problems)

	want := &Run{
		ID: "N2-P1-17", Switch: "acc-n2-1", Port: "1/17", FarSwitch: "acc-n2-9", FarPort: "3",
		Cable: "horizontal-6a", LengthM: port.Some(62.0), NearCordM: port.Some(2.0), FarCordM: port.Some(0.0),
		CordAWG: port.Some(26), NearCordCable: "cord-6a", FarCordCable: "cord-6a",
		Panel: "N2-P1", Position: "017", FarPanel: "N0-F1", FarPosition: "A4", Outlet: "214-A",
		Pathways: []string{"tray-n2-east", "riser-north"}, Bundle: "b-07",
		Installer: "Orrin & Daughters", Batch: "reel 4411",
		InstalledOn: day(2019, 7, 30), TestedOn: day(2019, 8, 2), TestResult: PassMarginal,
		TestMarginDB: port.Some(-0.4), WarrantyUntil: day(2044, 8, 2),
		DesignSpeed: 10 * standards.Gbps, Device: "door reader", DeviceSpeed: 100 * standards.Mbps,
		PassesThrough: []string{"phone", "converter"},
		Connectors:    port.Some(4), Splices: port.Some(0), Strands: "11-12", Polarity: "B",
		ExpectedLossDB: port.Some(1.9), Optic: "10GBASE-SR", FarOptic: "10GBASE-LRM",
		Owner: "library", Importance: High, AlwaysOn: true, Status: Faulty,
		Notes: "behind the plan chest\nask the porter",
		File:  filepath.Join("testdata", "plant.yml"), Line: 21,
	}
	require.Equal(t, want, p.Run("N2-P1-17"))

	trunk := p.Run("N2-BB-1")
	require.Equal(t, []Segment{
		{Cable: "riser-om4", LengthM: port.Some(35.0), From: "N2-P1", To: "consolidation", Pathways: []string{"riser-north"}},
		{Cable: "riser-old", LengthM: port.Some(12.5), To: "N0-F1"},
	}, trunk.Segments)
	_, given := trunk.LengthM.Get()
	require.False(t, given, "absent is not 0")
	require.Equal(t, Live, trunk.Status)
	require.Equal(t, Normal, trunk.Importance)

	quoted := p.Run("N2-P1-19")
	require.Equal(t, "two\nlines, \"quoted\"", quoted.Notes)
	require.Equal(t, []string{"tray-n2-east", "riser-north"}, quoted.Pathways)
	require.Equal(t, 3, quoted.Line)
	require.Equal(t, 5, p.Run("N2-P1-20").Line)
	require.Len(t, p.Runs, 5, "a blank row is none")
}

func TestLoadReadsTheOtherKinds(t *testing.T) {
	p, _, err := Load("testdata/plant.yml")
	require.NoError(t, err)
	require.Equal(t, "Ferrow Quay College", p.Site)
	require.Equal(t, &Space{"N0-ER", "North equipment room", "North", "0"}, p.Space("N0-ER"))
	require.Equal(t, &Panel{"N2-P1", "N2-TR", port.Some(48)}, p.Panel("N2-P1"))
	require.Equal(t, &Pathway{"tray-n2-east", "North 2 east tray", []string{"lift motor"}, port.Some(35.0)}, p.Pathway("tray-n2-east"))
	require.Equal(t, port.Some(-2.5), p.Pathway("riser-north").AmbientC)
	require.Equal(t, &Cable{ID: "horizontal-5e", Media: standards.Copper, Category: "5e", Shield: "F/UTP", AWG: port.Some(24)}, p.Cable("horizontal-5e"))
	require.Equal(t, &Cable{ID: "riser-om4", Media: standards.Fibre, Fibre: "OM4"}, p.Cable("riser-om4"))
	require.Equal(t, &Cable{ID: "riser-old", Media: standards.Fibre, CoreUM: port.Some(62.5), ModalBandwidth: port.Some(200.0)}, p.Cable("riser-old"))
	require.Nil(t, p.Cable("riser-om9"))

	require.Len(t, p.Tests, 3)
	require.Equal(t, &TestRow{Run: "N2-P1-17", TestedOn: day(2019, 8, 2), Tester: "FQ-2", Class: "EA", Parameter: "NEXT",
		Pairs: "12-36", FrequencyMHz: port.Some(250.0), ValueDB: port.Some(-0.4),
		File: filepath.Join("testdata", "tests.csv"), Line: 2}, p.Tests[0])
	require.Equal(t, "62.4", p.Tests[1].Value)
	require.Equal(t, "m", p.Tests[1].Unit)
	require.Equal(t, []string{"testdata/plant.yml", "testdata/runs.csv", "testdata/tests.csv"}, p.Files)
}

// The keys that files of users rely on.
func TestEveryKeyOfTheContractIsThere(t *testing.T) {
	contract := strings.Fields(`id switch port far_switch far_port cable length_m segments near_cord_m far_cord_m
		cord_awg near_cord_cable far_cord_cable panel position far_panel far_position outlet pathways bundle installer
		batch installed_on tested_on test_result test_margin_db warranty_until design_speed device device_speed
		passes_through connectors splices strands polarity expected_loss_db optic far_optic owner importance always_on
		status notes drafted_from draft_differs`)
	require.ElementsMatch(t, contract, runKeys.names)
	require.ElementsMatch(t, strings.Fields("run tested_on tester class parameter pairs frequency_mhz value_db accuracy_db value unit"), testKeys.names)
}

// Every key of a run, written in YAML and in CSV, gives the same run.
func TestYAMLAndCSVReadTheSame(t *testing.T) {
	values := map[string]string{
		"id": "R1", "switch": "acc-n2-1", "port": "1/17", "far_switch": "acc-n2-9", "far_port": "3", "cable": "c",
		"length_m": "62.50", "near_cord_m": "0", "far_cord_m": "1e1", "cord_awg": "26", "near_cord_cable": "c",
		"far_cord_cable": "c", "panel": "p", "position": "007", "far_panel": "p", "far_position": "on", "outlet": "214-A",
		"pathways": "w;v", "bundle": "0x10", "installer": "no", "batch": "1_000", "installed_on": "2019-07-30",
		"tested_on": "2019-08-02", "test_result": "pass", "test_margin_db": "+1.5", "warranty_until": "2044-08-02",
		"design_speed": "2.5G", "device": "printer", "device_speed": "1G", "passes_through": "phone", "connectors": "2",
		"splices": "0", "strands": "2", "polarity": "A", "expected_loss_db": ".5", "optic": "1000BASE-SX",
		"far_optic": "1000BASE-LX", "owner": "1e3", "importance": "low", "always_on": "TRUE", "status": "spare", "notes": "x",
		"drafted_from": "id=description;switch=asked", "draft_differs": "x; y",
	}
	var header, row []string
	yaml := "runs:\n- {x: y}\n" // a lost row, so that the lines differ
	sep := "- "
	for _, key := range runKeys.names {
		if key == "segments" {
			continue
		}
		require.Contains(t, values, key)
		header, row = append(header, key), append(row, values[key])
		yaml += fmt.Sprintf("%s%s: %s\n", sep, key, values[key])
		sep = "  "
	}
	shared := "cables: [{id: c, media: copper}]\npanels: [{id: p}]\npathways: [{id: w}, {id: v}]\n"
	fromYAML, _ := loadText(t, shared+yaml, nil)
	fromCSV, problems := loadText(t, shared+"runs_files: r.csv\n", map[string]string{
		"r.csv": strings.Join(header, ",") + "\n" + strings.Join(row, ",") + "\n"})
	require.Empty(t, problems)
	a, b := *fromYAML.Run("R1"), *fromCSV.Run("R1")
	a.File, a.Line, b.File, b.Line = "", 0, "", 0
	require.Equal(t, a, b)

	v := reflect.ValueOf(a)
	for i := range v.NumField() {
		name := v.Type().Field(i).Name
		if name != "Segments" && name != "File" && name != "Line" {
			require.False(t, v.Field(i).IsZero(), "%s was not read", name)
		}
	}
}

// loadText parses an inventory "plant.yml" with the other files beside it.
func loadText(t *testing.T, text string, files map[string]string) (*Plant, []string) {
	t.Helper()
	p, problems, err := parse("plant.yml", []byte(text), func(name string) ([]byte, error) {
		data, ok := files[name]
		if !ok {
			return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
		}
		return []byte(data), nil
	})
	require.NoError(t, err)
	lines := make([]string, len(problems))
	for i, problem := range problems {
		lines[i] = problem.String()
	}
	return p, lines
}

func TestPathsAreRelativeToTheInventory(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "sub"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "sub", "plant.yml"), []byte("runs_files: [../runs.csv, gone.csv]\n"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "runs.csv"), []byte("id\nR1\n"), 0o644))
	p, problems, err := Load(filepath.Join(dir, "sub", "plant.yml"))
	require.NoError(t, err)
	require.NotNil(t, p.Run("R1"))
	require.Len(t, problems, 1)
	require.Equal(t, 1, problems[0].Line)
	require.ErrorContains(t, fmt.Errorf("%v", problems[0]), "gone.csv: no such file")
	require.Len(t, p.Files, 3, "a file that is not there yet is watched too")
}

func TestLoadFailsWhereNothingCanBeRead(t *testing.T) {
	_, _, err := Load(filepath.Join(t.TempDir(), "none.yml"))
	require.ErrorIs(t, err, fs.ErrNotExist)
	for text, want := range map[string]string{
		"runs:\n - {id: x\nsite: y\n": "inventory plant.yml:",
		"- id: x\n":                   "inventory plant.yml:1: wants keys such as site",
		"hello":                       "inventory plant.yml:1: wants keys",
		"a: *nothing":                 "unknown anchor",
	} {
		_, _, err := parse("plant.yml", []byte(text), nil)
		require.ErrorContains(t, err, want, "%q", text)
	}
}

func TestAnEmptyInventoryIsAPlantWithoutRuns(t *testing.T) {
	for _, text := range []string{"", "\n", "# nothing yet\n", "---\n", "null", "runs:\n", "runs: []\nsite:\n"} {
		p, problems := loadText(t, text, nil)
		require.Empty(t, problems, "%q", text)
		require.Empty(t, p.Runs)
		require.Empty(t, p.Join(nil, nil, nil).UnjoinedRuns)
	}
}
