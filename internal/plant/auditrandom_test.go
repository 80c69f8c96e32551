package plant

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// drawKeys draw a value for a key of a run, or leave it out.
var drawKeys = []struct {
	name  string
	draw  func(r *Run, d draw)
	clear func(r *Run)
}{
	{"cable", func(r *Run, d draw) { r.Cable = d.of(cableIDs...) }, func(r *Run) { r.Cable = "" }},
	{"length_m", func(r *Run, d draw) { r.LengthM = d.metres() }, func(r *Run) { r.LengthM = real{} }},
	{"near_cord_m", func(r *Run, d draw) { r.NearCordM = port.Some(d.Float64() * 15) }, func(r *Run) { r.NearCordM = real{} }},
	{"far_cord_m", func(r *Run, d draw) { r.FarCordM = port.Some(d.Float64() * 15) }, func(r *Run) { r.FarCordM = real{} }},
	{"cord_awg", func(r *Run, d draw) { r.CordAWG = port.Some(20 + d.IntN(13)) }, func(r *Run) { r.CordAWG = whole{} }},
	{"near_cord_cable", func(r *Run, d draw) { r.NearCordCable = d.of(cordIDs...) }, func(r *Run) { r.NearCordCable = "" }},
	{"far_cord_cable", func(r *Run, d draw) { r.FarCordCable = d.of(cordIDs...) }, func(r *Run) { r.FarCordCable = "" }},
	{"pathways", func(r *Run, d draw) { r.Pathways = []string{d.of("tray", "warm", "lift", "boiler", "quiet", "lost")} }, func(r *Run) { r.Pathways = nil }},
	{"position", func(r *Run, d draw) { r.Position = d.of("1", "017", "99", "A4", "-3") }, func(r *Run) { r.Position = "" }},
	{"outlet", func(r *Run, d draw) { r.Outlet = d.of("214-A", "0", "ü") }, func(r *Run) { r.Outlet = "" }},
	{"tested_on", func(r *Run, d draw) { r.TestedOn = day(2019, 1, 1+d.IntN(60)) }, func(r *Run) { r.TestedOn = time.Time{} }},
	{"installed_on", func(r *Run, d draw) { r.InstalledOn = day(2019, 1, 1+d.IntN(60)) }, func(r *Run) { r.InstalledOn = time.Time{} }},
	{"test_result", func(r *Run, d draw) { r.TestResult = results[d.IntN(len(results))] }, func(r *Run) { r.TestResult = "" }},
	{"test_margin_db", func(r *Run, d draw) { r.TestMarginDB = port.Some(d.NormFloat64() * 4) }, func(r *Run) { r.TestMarginDB = real{} }},
	{"design_speed", func(r *Run, d draw) { r.DesignSpeed = d.speed() }, func(r *Run) { r.DesignSpeed = 0 }},
	{"device_speed", func(r *Run, d draw) { r.DeviceSpeed = d.speed() }, func(r *Run) { r.DeviceSpeed = 0 }},
	{"passes_through", func(r *Run, d draw) { r.PassesThrough = []string{d.of(passThrough...)} }, func(r *Run) { r.PassesThrough = nil }},
	{"connectors", func(r *Run, d draw) { r.Connectors = port.Some(d.IntN(9)) }, func(r *Run) { r.Connectors = whole{} }},
	{"splices", func(r *Run, d draw) { r.Splices = port.Some(d.IntN(5)) }, func(r *Run) { r.Splices = whole{} }},
	{"strands", func(r *Run, d draw) { r.Strands = d.of("1", "2", "3-4", "12", "blue") }, func(r *Run) { r.Strands = "" }},
	{"expected_loss_db", func(r *Run, d draw) { r.ExpectedLossDB = port.Some(d.Float64() * 8) }, func(r *Run) { r.ExpectedLossDB = real{} }},
	{"optic", func(r *Run, d draw) { r.Optic = d.optic() }, func(r *Run) { r.Optic = "" }},
	{"far_optic", func(r *Run, d draw) { r.FarOptic = d.optic() }, func(r *Run) { r.FarOptic = "" }},
}

var cableIDs = []string{"6a", "6a-ftp", "6", "5e", "8", "plain", "cord-6a", "cord-5e", "cord-ftp", "cord-26", "om1", "om3", "om4", "os2", "glass", "dac", "aoc"}

// cordIDs lack the cable without a fibre: a cord that names none is taken to be
// like the cable, and one that names that cable is not.
var cordIDs = slices.DeleteFunc(slices.Clone(cableIDs), func(id string) bool { return id == "glass" })

type draw struct{ *rand.Rand }

func (d draw) of(texts ...string) string { return texts[d.IntN(len(texts))] }

func (d draw) metres() real {
	return port.Some([]float64{0, 0.5, 12, 35, 50, 80, 88, 95, 120, 320, 900, 12_000}[d.IntN(12)])
}

func (d draw) speed() standards.Speed {
	return []standards.Speed{100 * standards.Mbps, standards.Gbps, 2500 * standards.Mbps, 5 * standards.Gbps, 10 * standards.Gbps,
		25 * standards.Gbps, 40 * standards.Gbps, 100 * standards.Gbps}[d.IntN(8)]
}

func (d draw) optic() string {
	return d.of("1000BASE-SX", "1000BASE-LX", "1000BASE-BX10", "10GBASE-SR", "10GBASE-LR", "10GBASE-ER", "10GBASE-LRM",
		"40GBASE-SR4", "100GBASE-LR4", "10GBASE-T", "10GBASE-ZZ", "10GBASE-R")
}

func (d draw) run(id string) Run {
	r := Run{ID: id, Switch: "s", Port: id, Panel: d.of("", "N2-P1", "lost"), FarPanel: d.of("", "N0-F1"), Importance: importances[d.IntN(3)],
		Status: statuses[d.IntN(len(statuses))], AlwaysOn: d.IntN(2) == 0}
	for _, key := range drawKeys {
		if d.IntN(3) > 0 {
			key.draw(&r, d)
		}
	}
	if d.IntN(4) == 0 {
		r.Cable, r.LengthM = "", real{}
		for range d.IntN(4) {
			r.Segments = append(r.Segments, Segment{Cable: d.of(cableIDs...), LengthM: d.metres(), Pathways: r.Pathways})
		}
	}
	return r
}

func (d draw) seen() Seen {
	end := func() SeenEnd { return SeenEnd{Fastest: d.speed(), Speed: d.speed(), PHY: d.optic()} }
	return Seen{Near: end(), Far: end()}
}

func endangeringLink(findings []Finding) (texts []string) {
	for _, f := range findings {
		if f.Endangers == Link {
			texts = append(texts, fmt.Sprintf("%s: %s", f.Rule, f.Text))
		}
	}
	return texts
}

// Any rows are judged, whatever stands in them; all findings are whole; and the
// audit of all runs says of each what its own says.
func TestAuditOfRandomRows(t *testing.T) {
	for seed := range uint64(20) {
		d := draw{rand.New(rand.NewPCG(4, seed))}
		var runs []Run
		seen := map[string]Seen{}
		for i := range 60 {
			runs = append(runs, d.run(fmt.Sprintf("R-%d", i)))
			seen[runs[i].ID] = d.seen()
		}
		p := planted(stock(), runs...)
		a := p.Audit(seen)
		complete(t, a.Findings)
		of := map[string][]Finding{}
		for _, f := range a.Findings {
			of[f.Run] = append(of[f.Run], f)
		}
		clean := 0
		for _, r := range p.Runs {
			own := p.AuditRun(r, seen[r.ID])
			require.ElementsMatch(t, own, of[r.ID], r.ID)
			if len(own) == 0 {
				clean++
			}
		}
		require.Equal(t, clean, a.Clean)
	}
}

// What is not recorded is never taken for a value that breaks a rule: a record
// with less filled in has no more findings that endanger the link. Left out are
// an optic faster than the design or of no standard, which may reach further than
// those that are known, and media and speeds that contradict each other or media that meet in a
// converter, of which less is said.
func TestLessRecordedIsNoWorse(t *testing.T) {
	judged := 0
	for seed := range uint64(3000) {
		d := draw{rand.New(rand.NewPCG(7, seed))}
		full := d.run("R")
		full.Status = Live
		if specialOptic(&full) || slices.Contains(full.PassesThrough, "converter") {
			continue
		}
		p := planted(stock(), full)
		findings := p.AuditRun(p.Runs[0], Seen{})
		if slices.ContainsFunc(findings, func(f Finding) bool {
			return f.Rule == MixedMedia || f.Rule == OpticOtherMedium || f.Rule == DeviceFaster
		}) {
			continue
		}
		judged++
		before := endangeringLink(findings)
		for _, key := range drawKeys {
			less := full
			key.clear(&less)
			if specialOptic(&less) {
				continue
			}
			after := endangeringLink(p.AuditRun(&less, Seen{}))
			require.LessOrEqual(t, len(after), len(before), "seed %d without %s: %q, before %q\n%+v", seed, key.name, after, before, full)
		}
	}
	require.Greater(t, judged, 100)
}

func specialOptic(r *Run) bool {
	for _, name := range []string{r.Optic, r.FarOptic} {
		phy, ok := standards.PHYNamed(name)
		if name != "" && !ok || phy.Speed > max(r.DesignSpeed, r.DeviceSpeed) {
			return true
		}
	}
	return false
}

// 50,000 runs of all media, a tenth of them with something wrong, are to be
// judged in under a second.
func BenchmarkAudit(b *testing.B) {
	const runs = 50_000
	rows := make([]Run, runs)
	d := draw{rand.New(rand.NewPCG(1, 1))}
	for i := range rows {
		var run Run
		switch i % 10 {
		case 8:
			run, _ = cleanFibre()
		case 9:
			run, _ = cleanAssembly("dac", 3)()
		default:
			run, _ = cleanCopper()
			run.LengthM = metres(20 + 60*d.Float64())
		}
		if i%10 == 3 {
			run.LengthM = metres(110)
		}
		run.ID, run.Position, run.FarPosition, run.Outlet = fmt.Sprintf("R-%d", i), fmt.Sprint(i), fmt.Sprint(i), fmt.Sprint(i)
		rows[i] = run
	}
	rest := stock()
	for _, panel := range rest.Panels {
		panel.Positions = whole{}
	}
	p := planted(rest, rows...)
	for b.Loop() {
		if a := p.Audit(nil); a.Runs-a.Clean != runs/10 {
			b.Fatalf("%d runs with findings", a.Runs-a.Clean)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/runs, "ns/run")
	b.ReportMetric(float64(b.N)*runs/b.Elapsed().Seconds(), "runs/s")
}
