package plant

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/standards"
)

// What the record says against itself needs no source outside; improbable
// lengths and gauges are common practice, no source.
func TestRecordAgainstItself(t *testing.T) {
	judges(t, cleanCopper, []auditRow{
		{"device faster than the run", func(r *Run, p *Plant) { r.DeviceSpeed = 2500 * standards.Mbps }, "device-faster: 1G for 2.5G"},
		{"device slower", func(r *Run, p *Plant) { r.DeviceSpeed = 100 * standards.Mbps }, ""},
		{"cable not recorded", func(r *Run, p *Plant) { r.Cable, r.LengthM = "", real{} }, "cable-not-recorded"},
		{"length 0", func(r *Run, p *Plant) { r.LengthM = metres(0) }, "length-improbable"},
		{"shorter than a panel's depth", func(r *Run, p *Plant) { r.LengthM = metres(0.6) }, "length-improbable"},
		{"short between racks", func(r *Run, p *Plant) { r.LengthM, r.Panel, r.Position, r.Outlet = metres(0.6), "", "", "" }, ""},
		{"longer than a reel", func(r *Run, p *Plant) { r.LengthM = metres(620) }, "length-improbable"},
		{"a cord's conductor", func(r *Run, p *Plant) { r.Cable, r.NearCordCable, r.FarCordCable = "cord-26", "", "" }, "gauge-improbable: 26 AWG for 24"},
		{"a cord's conductor over a short way", func(r *Run, p *Plant) {
			r.Cable, r.LengthM, r.NearCordCable, r.FarCordCable = "cord-26", metres(12), "", ""
		}, ""},
		{"position beyond the panel", func(r *Run, p *Plant) { r.Position = "49" }, "position-beyond-panel"},
		{"last position", func(r *Run, p *Plant) { r.Position = "48" }, ""},
		{"position with letters", func(r *Run, p *Plant) { r.Position = "A49" }, ""},
		{"positions not recorded", func(r *Run, p *Plant) { r.Position, p.Panels[0].Positions = "49", whole{} }, ""},
		{"seen otherwise", func(r *Run, p *Plant) { r.DraftDiffers = []string{"device: ap-7"} }, "seen-differs"},
		{"fibre cord on copper", func(r *Run, p *Plant) { r.NearCordCable = "om4" }, "mixed-media"},
		{"with a converter between", func(r *Run, p *Plant) {
			r.NearCordCable, r.PassesThrough = "om4", []string{"converter"}
		}, ""},
		{"an optic on copper", func(r *Run, p *Plant) { r.Optic = "1000BASE-SX" }, "optic-other-medium"},
		{"warranty over before the start", func(r *Run, p *Plant) { r.WarrantyUntil = day(2019, 7, 20) }, "warranty-before-installed: 10 days"},
		{"tested before installed", func(r *Run, p *Plant) { r.TestedOn = day(2019, 7, 29) }, "tested-before-installed: 1 day"},
		{"tested the same day", func(r *Run, p *Plant) { r.TestedOn = r.InstalledOn }, ""},
	})
}

// A drafted run, of which a switch and port are all that is known, is one finding: what is not
// recorded at all is not told to be untested besides.
func TestDraftedRunIsOneFinding(t *testing.T) {
	bare := Run{ID: "s/1", Switch: "s", Port: "1", Status: Live, Importance: Normal}
	p := planted(stock(), bare)
	require.Equal(t, "cable-not-recorded", told(p.AuditRun(p.Runs[0], Seen{})))
	bare.Cable, bare.LengthM = "6a", metres(60)
	p = planted(stock(), bare)
	require.Equal(t, "never-tested", told(p.AuditRun(p.Runs[0], Seen{})))
}

// Of several segments it is told which one lacks what.
func TestWhichSegmentIsNotRecorded(t *testing.T) {
	text := func(second Segment) string {
		run, rest := cleanFibre()
		run.Cable, run.LengthM, run.Segments = "", real{}, []Segment{{Cable: "om4", LengthM: metres(20)}, second}
		p := planted(rest, run)
		findings := p.AuditRun(p.Runs[0], Seen{})
		require.Len(t, findings, 1, "%+v", findings)
		return findings[0].Text
	}
	require.Contains(t, text(Segment{LengthM: metres(20)}), "cable of the second segment is not recorded")
	require.Contains(t, text(Segment{Cable: "om4"}), "length_m of the second segment is not recorded")
}

// A panel's position and an outlet hold one run each; abandoned ones hold none,
// and an outlet's name counts within one telecom room.
func TestSharedPlaces(t *testing.T) {
	rows := []struct {
		name  string
		other func(r *Run)
		want  string
	}{
		{"other places", func(r *Run) { r.Position, r.Outlet = "18", "214-B" }, ""},
		{"same position", func(r *Run) { r.Position, r.Outlet = "017", "214-B" }, "position-shared"},
		{"far panel at the same position", func(r *Run) {
			r.FarPanel, r.FarPosition, r.Position, r.Outlet = "N2-P1", "17", "18", ""
		}, "position-shared"},
		{"same outlet", func(r *Run) { r.Position = "18" }, "outlet-shared"},
		{"same outlet of another room", func(r *Run) { r.Panel = "S1-P1" }, ""},
		{"same outlet, room not recorded", func(r *Run) { r.Panel, r.Position = "", "" }, ""},
		{"abandoned", func(r *Run) { r.Status = Abandoned }, ""},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			run, rest := cleanCopper()
			other, _ := cleanCopper()
			other.ID = "OTHER"
			row.other(&other)
			p := planted(rest, run, other)
			findings := p.AuditRun(p.Run(run.ID), Seen{})
			require.Equal(t, row.want, told(findings))
			complete(t, findings)
			var whole []Finding
			for _, f := range p.Audit(nil).Findings {
				if f.Run == run.ID {
					whole = append(whole, f)
				}
			}
			require.Equal(t, row.want, told(whole), "the whole audit says the same")
			if row.want != "" {
				require.Contains(t, findings[0].Text, "run OTHER")
			}
		})
	}
}

func TestManyAtOnePlace(t *testing.T) {
	var runs []Run
	for _, id := range []string{"A", "B", "C", "D", "E"} {
		run, _ := cleanCopper()
		run.ID, run.Outlet = id, ""
		runs = append(runs, run)
	}
	p := planted(stock(), runs...)
	require.Equal(t, "panel N2-P1 position 17 is recorded for runs B, C, D and 1 more too", p.AuditRun(p.Run("A"), Seen{})[0].Text)
}

// What switches show beside the record. 10GBASE-R is the family of 10GBASE-SR
// (IEEE 802.3 clause 49).
func TestSeenBesideTheRecord(t *testing.T) {
	const g = standards.Gbps
	bare := func(r *Run) { r.DesignSpeed = 0 }
	rows := []struct {
		name  string
		clean func() (Run, Plant)
		edit  func(r *Run)
		seen  Seen
		want  string
	}{
		{"slower than the cable", cleanCopper, bare, Seen{Near: SeenEnd{Fastest: g, Speed: 100 * standards.Mbps}}, "slower-than-cable: 100M for 1G"},
		{"as fast as the port", cleanCopper, bare, Seen{Near: SeenEnd{Fastest: g, Speed: g}}, ""},
		{"the far end can do no more", cleanCopper, bare, Seen{Near: SeenEnd{Fastest: g, Speed: 100 * standards.Mbps}, Far: SeenEnd{Fastest: 100 * standards.Mbps}}, ""},
		{"what the port can do is not known", cleanCopper, bare, Seen{Near: SeenEnd{Speed: 100 * standards.Mbps}}, ""},
		{"no link", cleanCopper, bare, Seen{Near: SeenEnd{Fastest: g}}, ""},
		{"a speed is meant", cleanCopper, func(r *Run) {}, Seen{Near: SeenEnd{Fastest: g, Speed: 100 * standards.Mbps}}, ""},
		{"faster than the cable", cleanCopper, func(r *Run) { r.Cable = "5e" }, Seen{Near: SeenEnd{Fastest: 10 * g, Speed: 10 * g}}, "works-by-luck"},
		{"the recorded optic", cleanFibre, func(r *Run) {}, Seen{Near: SeenEnd{PHY: "10GBASE-SR"}}, ""},
		{"its family", cleanFibre, func(r *Run) {}, Seen{Near: SeenEnd{PHY: "10GBASE-R"}}, ""},
		{"another optic", cleanFibre, func(r *Run) {}, Seen{Far: SeenEnd{PHY: "10GBASE-LR"}}, "other-optic"},
		{"one that is not known", cleanFibre, func(r *Run) {}, Seen{Far: SeenEnd{PHY: "10GBASE-ZZ"}}, ""},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			run, rest := row.clean()
			row.edit(&run)
			p := planted(rest, run)
			findings := p.AuditRun(p.Runs[0], row.seen)
			require.Equal(t, row.want, told(findings))
			complete(t, findings)
			require.Equal(t, findings, append([]Finding(nil), p.Audit(map[string]Seen{run.ID: row.seen}).Findings...))
		})
	}
}
