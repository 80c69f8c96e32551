package plant

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// auditRow is one run that a rule speaks about, or not: a clean run, changed.
type auditRow struct {
	name string
	edit func(r *Run, p *Plant) // of the run, and of the plant's rows
	want string                 // "rule: by how much", several joined by "; "
}

// judges audits each row's run and compares what was found.
func judges(t *testing.T, clean func() (Run, Plant), rows []auditRow) {
	t.Helper()
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			run, rest := clean()
			row.edit(&run, &rest)
			p := planted(rest, run)
			findings := p.AuditRun(p.Run(run.ID), Seen{})
			require.Equal(t, row.want, told(findings))
			complete(t, findings)
		})
	}
}

func planted(rest Plant, runs ...Run) *Plant {
	for i := range runs {
		r := runs[i]
		rest.Runs = append(rest.Runs, &r)
	}
	return New(rest)
}

func told(findings []Finding) string {
	var out []string
	for _, f := range findings {
		text := string(f.Rule)
		if f.By != "" {
			text += ": " + f.By
		}
		out = append(out, text)
	}
	return strings.Join(out, "; ")
}

// complete holds what every finding owes to its reader.
func complete(t *testing.T, findings []Finding) {
	t.Helper()
	for _, f := range findings {
		require.NotEmpty(t, f.Text, f.Rule)
		require.NotContains(t, f.Text, "%!", f.Rule)
		require.NotContains(t, f.Mend, "%!", f.Rule)
		require.NotEmpty(t, f.Source, f.Rule)
		require.NotEmpty(t, f.Mend, f.Rule)
		require.NotEmpty(t, f.Endangers, f.Rule)
		require.NotEmpty(t, f.Sure, f.Rule)
		require.Contains(t, []standards.Verdict{standards.Depends, standards.NotAllowed}, f.Verdict, f.Rule)
		require.False(t, strings.HasSuffix(f.Text, "."), f.Text)
	}
}

func metres(v float64) real { return port.Some(v) }

// stock is the panels, pathways and cables that clean runs are made of.
func stock() Plant {
	return Plant{
		Spaces:   []*Space{{ID: "N2-TR", Name: "North 2", Building: "North"}, {ID: "S1-TR", Name: "South 1", Building: "South"}},
		Panels:   []*Panel{{ID: "N2-P1", Space: "N2-TR", Positions: port.Some(48)}, {ID: "N0-F1", Positions: port.Some(24)}, {ID: "S1-P1", Space: "S1-TR"}},
		Pathways: []*Pathway{{ID: "tray", AmbientC: metres(20)}, {ID: "warm", AmbientC: metres(40)}, {ID: "lift", Near: []string{"lift motor"}}, {ID: "boiler", Near: []string{"boiler flue"}}, {ID: "quiet", Near: []string{"tidal pit"}}},
		Cables: []*Cable{
			{ID: "6a", Media: standards.Copper, Category: "6A", Shield: "U/UTP", AWG: port.Some(23)},
			{ID: "6a-ftp", Media: standards.Copper, Category: "6A", Shield: "U/FTP", AWG: port.Some(23)},
			{ID: "6", Media: standards.Copper, Category: "6", Shield: "U/UTP", AWG: port.Some(23)},
			{ID: "5e", Media: standards.Copper, Category: "5e", Shield: "U/UTP", AWG: port.Some(24)},
			{ID: "8", Media: standards.Copper, Category: "8", Shield: "S/FTP", AWG: port.Some(22)},
			{ID: "plain", Media: standards.Copper},
			{ID: "cord-6a", Media: standards.Copper, Category: "6A", Shield: "U/UTP", AWG: port.Some(24)},
			{ID: "cord-5e", Media: standards.Copper, Category: "5e", Shield: "U/UTP", AWG: port.Some(24)},
			{ID: "cord-ftp", Media: standards.Copper, Category: "6A", Shield: "S/FTP", AWG: port.Some(24)},
			{ID: "cord-26", Media: standards.Copper, Category: "6A", Shield: "U/UTP", AWG: port.Some(26)},
			{ID: "om1", Media: standards.Fibre, Fibre: "OM1"},
			{ID: "om3", Media: standards.Fibre, Fibre: "OM3"},
			{ID: "om4", Media: standards.Fibre, Fibre: "OM4"},
			{ID: "os2", Media: standards.Fibre, Fibre: "OS2"},
			{ID: "glass", Media: standards.Fibre},
			{ID: "dac", Media: standards.Twinax},
			{ID: "aoc", Media: standards.ActiveOptical},
		},
	}
}

// cleanCopper is a run of copper that nothing is wrong with.
func cleanCopper() (Run, Plant) {
	return Run{
		ID: "N2-P1-17", Switch: "acc-n2-1", Port: "1/17", Cable: "6a", LengthM: metres(62), NearCordM: metres(2), FarCordM: metres(3),
		NearCordCable: "cord-6a", FarCordCable: "cord-6a", Panel: "N2-P1", Position: "17", Outlet: "214-A", Pathways: []string{"tray"},
		InstalledOn: day(2019, 7, 30), TestedOn: day(2019, 8, 2), TestResult: Pass, TestMarginDB: metres(3.1), WarrantyUntil: day(2044, 8, 2),
		DesignSpeed: standards.Gbps, Connectors: port.Some(2), Importance: Normal, Status: Live, File: "runs.csv", Line: 2,
	}, stock()
}

// cleanFibre is a run of fibre that nothing is wrong with.
func cleanFibre() (Run, Plant) {
	return Run{
		ID: "N0-F1-03", Switch: "acc-n2-1", Port: "1/49", FarSwitch: "dis-n0-1", FarPort: "2/1", Cable: "om4", LengthM: metres(80),
		Panel: "N2-P1", Position: "3", FarPanel: "N0-F1", FarPosition: "3", Pathways: []string{"tray"},
		InstalledOn: day(2021, 7, 20), TestedOn: day(2021, 7, 28), TestResult: Pass,
		DesignSpeed: 10 * standards.Gbps, Connectors: port.Some(2), Splices: port.Some(0), Strands: "2", Optic: "10GBASE-SR", FarOptic: "10GBASE-SR",
		Importance: High, AlwaysOn: true, Status: Live, File: "runs.csv", Line: 3,
	}, stock()
}

func cleanAssembly(cable string, length float64) func() (Run, Plant) {
	return func() (Run, Plant) {
		return Run{ID: "DAC-1", Switch: "a", Port: "1", FarSwitch: "b", FarPort: "1", Cable: cable, LengthM: metres(length),
			DesignSpeed: 40 * standards.Gbps, Status: Live}, stock()
	}
}

// Nothing is said about a run of any medium whose record keeps to the
// standards.
func TestCleanRunsHaveNoFinding(t *testing.T) {
	for name, clean := range map[string]func() (Run, Plant){
		"copper": cleanCopper, "fibre": cleanFibre, "twinax": cleanAssembly("dac", 3), "active optical": cleanAssembly("aoc", 10),
	} {
		t.Run(name, func(t *testing.T) {
			run, rest := clean()
			p := planted(rest, run)
			a := p.Audit(nil)
			require.Empty(t, told(a.Findings))
			require.Equal(t, 1, a.Clean)
		})
	}
}

// What is spare is asked only for its record, and what is abandoned only not
// to contradict itself.
func TestRulesHeedTheStatus(t *testing.T) {
	wrong := func(status Status) string {
		run, rest := cleanCopper()
		run.Status = status
		run.LengthM, run.Cable = metres(94), "plain" // the link is too long, its category missing
		run.TestedOn = day(2018, 1, 1)               // before it was installed
		p := planted(rest, run)
		return told(p.AuditRun(p.Runs[0], Seen{}))
	}
	require.Equal(t, "link-too-long: 4 m over 90 m; tested-before-installed: 575 days; type-not-recorded", wrong(Live))
	require.Equal(t, wrong(Live), wrong(Faulty))
	require.Equal(t, "tested-before-installed: 575 days; type-not-recorded", wrong(Spare))
	require.Equal(t, "tested-before-installed: 575 days", wrong(Abandoned))
}

func TestAuditOrder(t *testing.T) {
	long := func(id string, length float64, importance Importance) Run {
		run, _ := cleanCopper()
		run.ID, run.LengthM, run.Importance, run.Position, run.Outlet = id, metres(length), importance, "", ""
		return run
	}
	late := long("A-0", 62, High)
	late.WarrantyUntil = day(2001, 1, 1)
	p := planted(stock(), late, long("A-10", 110, Low), long("A-2", 120, Normal), long("A-9", 110, Normal), long("A-11", 110, Normal),
		long("A-3", 110, High), long("A-4", 94, High))
	var order []string
	for _, f := range p.Audit(nil).Findings {
		order = append(order, f.Run+" "+string(f.Endangers))
	}
	require.Equal(t, []string{
		"A-3 link", "A-2 link", "A-9 link", "A-11 link", "A-10 link", // importance, then excess, then the id as people count
		"A-4 margin", "A-0 record",
	}, order)
}

func TestNaturalOrder(t *testing.T) {
	rising := []string{"", "-", "10", "A", "A-1", "A-01-B", "A-1-B", "A-2", "A-010", "A-10", "A-9999999999999999999999", "B"}
	for i, a := range rising {
		for k, b := range rising {
			got := natural(a, b)
			require.Equal(t, i < k, got < 0, "%q before %q", a, b)
			require.Equal(t, i == k, got == 0, "%q is %q", a, b)
		}
	}
}

func TestAuditSummary(t *testing.T) {
	place := func(id, panel string, length float64) Run {
		run, _ := cleanCopper()
		run.ID, run.Panel, run.Position, run.LengthM = id, panel, "", metres(length)
		if panel == "" {
			run.Outlet = ""
		}
		run.Outlet = id
		return run
	}
	p := planted(stock(), place("1", "S1-P1", 62), place("2", "N2-P1", 110), place("3", "N2-P1", 94), place("4", "N2-P1", 62),
		place("5", "", 62), place("6", "N0-F1", 94))
	a := p.Audit(map[string]Seen{})
	require.Equal(t, 6, a.Runs)
	require.Equal(t, 3, a.Clean)
	require.Equal(t, []SpaceSummary{
		{Space: "N2-TR", Name: "North 2", Building: "North", Runs: 3, Clean: 1, Findings: map[Endangers]int{Link: 1, Margin: 1}},
		{Space: "S1-TR", Name: "South 1", Building: "South", Runs: 1, Clean: 1, Findings: map[Endangers]int{}},
		{Space: "", Runs: 2, Clean: 1, Findings: map[Endangers]int{Margin: 1}},
	}, a.Spaces)
	first := a.Findings[0]
	require.Equal(t, "2 N2-TR runs.csv:2", fmt.Sprintf("%s %s %s:%d", first.Run, first.Space, first.File, first.Line))
}

func TestAuditOfNothing(t *testing.T) {
	a := New(Plant{}).Audit(nil)
	require.NotNil(t, a.Findings, "JSON has a list")
	require.NotNil(t, a.Spaces)
}

// Every rule stands once in the table, and what silences it is asked before it.
func TestRuleTable(t *testing.T) {
	asked := map[Rule]bool{}
	for _, r := range rules {
		require.False(t, asked[r.code], r.code)
		for _, root := range r.unless {
			require.True(t, asked[root], "%s is silenced by %s, which is asked later", r.code, root)
		}
		asked[r.code] = true
		require.Contains(t, worstFirst, r.endangers)
		require.False(t, r.of != inUse && r.endangers != Records, "%s is asked of spare runs and is about more than the record", r.code)
	}
}
