package plant

import (
	"testing"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// benchPlant has a copper and a fibre run with all keys recorded.
func benchPlant() *Plant {
	return New(Plant{
		Pathways: []*Pathway{{ID: "tray", AmbientC: port.Some(30.0)}},
		Cables: []*Cable{
			{ID: "h6a", Media: standards.Copper, Category: "6A", Shield: "U/UTP", AWG: port.Some(23)},
			{ID: "h5e", Media: standards.Copper, Category: "5e", Shield: "U/UTP", AWG: port.Some(24)},
			{ID: "cord6", Media: standards.Copper, Category: "6", Shield: "U/UTP", AWG: port.Some(24)},
			{ID: "om4", Media: standards.Fibre, Fibre: "OM4"},
			{ID: "om3", Media: standards.Fibre, Fibre: "OM3"},
			{ID: "os2", Media: standards.Fibre, Fibre: "OS2"},
		},
	})
}

func benchRuns() map[string]*Run {
	return map[string]*Run{
		"copper": {ID: "c", Cable: "h6a", LengthM: port.Some(62.0), NearCordM: port.Some(2.0), FarCordM: port.Some(3.0),
			NearCordCable: "cord6", FarCordCable: "cord6", Connectors: port.Some(2), Pathways: []string{"tray"}, DesignSpeed: standards.Gbps},
		"copper bare":  {ID: "b", Cable: "h5e", LengthM: port.Some(62.0), DesignSpeed: standards.Gbps},
		"multimode":    {ID: "m", Cable: "om4", LengthM: port.Some(90.0), NearCordM: port.Some(2.0), FarCordM: port.Some(2.0), Connectors: port.Some(2), Optic: "10GBASE-SR", FarOptic: "10GBASE-SR"},
		"long fibre":   {ID: "l", Cable: "om3", LengthM: port.Some(320.0), Connectors: port.Some(4)},
		"single mode":  {ID: "s", Cable: "os2", LengthM: port.Some(800.0), Connectors: port.Some(4), Optic: "10GBASE-LR", FarOptic: "10GBASE-LR"},
		"not recorded": {ID: "n"},
	}
}

func BenchmarkExpected(b *testing.B) {
	p := benchPlant()
	for name, r := range benchRuns() {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				p.Expected(r, Seen{Near: SeenEnd{Fastest: standards.Gbps}, Far: SeenEnd{Fastest: standards.Gbps}})
			}
		})
	}
}
