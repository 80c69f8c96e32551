package web

import (
	"fmt"
	"path/filepath"
	"strconv"
	"strings"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// recordRow is one line of what the record says.
type recordRow struct {
	Name, Value string
	Missing     bool
}

// recordRows tells a run's record in words. What is not recorded is said to be
// so; what only fibre has is left out for copper unless it is recorded.
func recordRows(p *plant.Plant, r *plant.Run) []recordRow {
	rows := []recordRow{
		row("Near port", portWords(r.Near())),
		row("Near panel", panelWords(p, r.Panel, r.Position)),
		row("Far port", portWords(r.Far())),
		row("Far panel", panelWords(p, r.FarPanel, r.FarPosition)),
		row("Outlet", r.Outlet),
		row("Device", deviceWords(r)),
		row("Design speed", speedName(r.DesignSpeed)),
	}
	rows = append(rows, cableRows(p, r)...)
	rows = append(rows,
		row("Pathways", pathwayWords(p, r.Pathways)),
		row("Bundle", r.Bundle),
		row("Connectors", number(r.Connectors)),
		row("Installed", joinWords(", ", date(r.InstalledOn), prefixed("by ", r.Installer), prefixed("batch ", r.Batch))),
		row("Tested", joinWords(", ", date(r.TestedOn), string(r.TestResult), unit(r.TestMarginDB, "dB worst margin"))),
		row("Warranty until", date(r.WarrantyUntil)),
		row("Owner", r.Owner),
		row("Importance", string(r.Importance)),
		row("Status", statusWords(r)),
		row("Notes", r.Notes),
		row("Row of the inventory", fileWords(r)),
	)
	return rows
}

func row(name, value string) recordRow {
	return recordRow{name, orNot(value), value == ""}
}

// cableRows are the cable, or the segments, with the cords.
func cableRows(p *plant.Plant, r *plant.Run) []recordRow {
	var rows []recordRow
	for i, s := range r.Segments {
		rows = append(rows, row(fmt.Sprintf("Segment %d", i+1), joinWords(", ", cableWords(p, s.Cable), unit(s.LengthM, "m"),
			prefixed("from ", s.From), prefixed("to ", s.To), prefixed("through ", pathwayWords(p, s.Pathways)))))
	}
	if len(rows) == 0 {
		rows = append(rows, row("Cable", cableWords(p, r.Cable)), row("Length of the permanent link", unit(r.LengthM, "m")))
	}
	rows = append(rows,
		row("Cord at the near end", cordWords(p, r.NearCordCable, r.NearCordM, r.CordAWG)),
		row("Cord at the far end", cordWords(p, r.FarCordCable, r.FarCordM, r.CordAWG)),
	)
	cable := p.Cable(r.Cable)
	for _, fibreOnly := range []recordRow{
		row("Strands", r.Strands), row("Polarity", r.Polarity), row("Splices", number(r.Splices)),
		row("Expected loss", unit(r.ExpectedLossDB, "dB")), row("Near optic", r.Optic), row("Far optic", r.FarOptic),
	} {
		if !fibreOnly.Missing || cable != nil && cable.Media == standards.Fibre {
			rows = append(rows, fibreOnly)
		}
	}
	return rows
}

func cableWords(p *plant.Plant, id string) string {
	c := p.Cable(id)
	if c == nil {
		return id
	}
	return id + ": " + joinWords(", ", string(c.Media), prefixed("category ", c.Category), c.Shield, unit(c.AWG, "AWG"),
		c.Fibre, unit(c.CoreUM, "µm core"), unit(c.ModalBandwidth, "MHz·km"))
}

func cordWords(p *plant.Plant, cable string, length port.Value[float64], awg port.Value[int]) string {
	return joinWords(", ", cableWords(p, cable), unit(length, "m"), unit(awg, "AWG"))
}

func portWords(ref plant.PortRef) string {
	if ref.Switch == "" {
		return ""
	}
	return ref.String()
}

func panelWords(p *plant.Plant, id, position string) string {
	if id == "" {
		return ""
	}
	in := ""
	if panel := p.Panel(id); panel != nil {
		in = prefixed("in ", spaceWords(p, panel.Space))
	}
	return joinWords(", ", id, prefixed("position ", position), in)
}

func spaceWords(p *plant.Plant, id string) string {
	if space := p.Space(id); space != nil && space.Name != "" {
		return fmt.Sprintf("%s (%s)", id, space.Name)
	}
	return id
}

func pathwayWords(p *plant.Plant, ids []string) string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = id
		if way := p.Pathway(id); way != nil {
			words := joinWords(", ", way.Name, prefixed("near ", strings.Join(way.Near, " and ")), unit(way.AmbientC, "°C"))
			if words != "" {
				out[i] += " (" + words + ")"
			}
		}
	}
	return strings.Join(out, "; ")
}

func deviceWords(r *plant.Run) string {
	return joinWords(", ", r.Device, prefixed("able to ", speedName(r.DeviceSpeed)), prefixed("through a ", strings.Join(r.PassesThrough, " and a ")))
}

func statusWords(r *plant.Run) string {
	if r.AlwaysOn {
		return joinWords(", ", string(r.Status), "always on")
	}
	return string(r.Status)
}

func fileWords(r *plant.Run) string {
	if r.File == "" {
		return ""
	}
	return fmt.Sprintf("%s:%d", filepath.Base(r.File), r.Line)
}

func number(v port.Value[int]) string {
	if n, ok := v.Get(); ok {
		return strconv.Itoa(n)
	}
	return ""
}

// unit writes a number with its unit; "" where it is absent.
func unit[T int | float64](v port.Value[T], name string) string {
	if n, ok := v.Get(); ok {
		return fmt.Sprintf("%v %s", n, name)
	}
	return ""
}

// prefixed is "" for nothing.
func prefixed(prefix, s string) string {
	if s == "" {
		return ""
	}
	return prefix + s
}

// joinWords joins those parts that are there.
func joinWords(separator string, parts ...string) string {
	var there []string
	for _, part := range parts {
		if part != "" {
			there = append(there, part)
		}
	}
	return strings.Join(there, separator)
}
