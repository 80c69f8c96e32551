package sim

import "time"

// PlantedFault is an entry of the answer book: what is really wrong, or only
// looks so.
type PlantedFault struct {
	Switch string
	Port   string   // ifName of the port that shows it
	Run    string   // true id of the run there; empty where the inventory lacks it
	What   string   // open-pair, bit-errors, bursts, ...: as in plantings
	Expect string   // kind of fault that a watcher should open: below-design-speed, frame-errors, ...; "" for none
	Also   []string // kinds that are listed beside it,
	Maybe  []string // and those that may be, sooner or later
	Blame  bool     // the run, cords and optics included, is to blame
	Quiet  bool     // nobody is to be alarmed, whatever is listed
	Record bool     // only its record tells that anything is wrong
	Cause  string   // that a watcher who has its record should name first; "" where several are as likely
}

// Faults gives the answer book of the faults planted from the start.
func (c *Campus) Faults() []PlantedFault { return c.faults }

// PlantedCause is what many of the planted faults have in common, by the record's names.
type PlantedCause struct {
	Attribute, Value string
	Runs             []string
}

// Shared gives the answer book's shared causes.
func (c *Campus) Shared() []PlantedCause {
	motor := PlantedCause{Attribute: "pathway", Value: motorTray}
	for _, f := range c.faults {
		if f.What == bursts {
			motor.Runs = append(motor.Runs, f.Run)
		}
	}
	if len(motor.Runs) == 0 {
		return nil
	}
	return []PlantedCause{motor}
}

// planting is what makes a run of Ferrow Quay special.
type planting struct {
	what       string
	device     string
	unrecorded bool
	described  bool   // its record lacks the port, whose description names the run
	slow       string // device_speed in its record
	expect     string
	also       []string
	maybe      []string
	blame      bool
	quiet      bool
	record     bool
	cause      string
	apply      func(*Cable)
}

// overload is a planted fault that the records tell of too, bursts are what the lift's
// motor makes.
const (
	overload = "overload"
	bursts   = "bursts"
)

// The lift's motor by the east tray of North 2, and how badly it disturbs a
// run that is fully coupled to it.
const (
	motorTray = "tray-n2-east"
	motorBER  = 4e-7
)

// plantings are keyed by switch and port; an uplink's by its access end.
var plantings = map[string]planting{
	"acc-s1-1 1/17": openPair(Pair45),
	"acc-n3-2 1/22": unrecorded(openPair(Pair78)),

	"acc-n1-1 1/12": bitErrors("workstation", func(c *Cable) { c.BERToA = 5e-7 }),
	"acc-b1-1 1/31": described(bitErrors("workstation", func(c *Cable) { c.BERToA = 2e-7 })),
	"acc-s1-2 1/49": bitErrors("", func(c *Cable) { c.BERToB = 3e-8 }),

	"acc-n2-1 1/3":  burst(1),
	"acc-n2-1 1/8":  burst(0.8),
	"acc-n2-1 1/11": burst(0.9),
	"acc-n2-1 1/15": burst(0.9),
	"acc-n2-1 1/20": burst(1),
	"acc-n2-2 1/2":  burst(0.8),
	"acc-n2-2 1/5":  burst(1),
	"acc-n2-2 1/9":  burst(0.9),
	"acc-n2-2 1/14": burst(0.6),
	"acc-n2-2 1/18": burst(0.8),
	"acc-n2-2 1/21": burst(1),
	"acc-n2-3 1/4":  burst(0.9),
	"acc-n2-3 1/9":  burst(0.7),
	"acc-n2-3 1/13": burst(1),
	"acc-n2-3 1/19": burst(0.8),
	"acc-n2-3 1/22": burst(0.9),

	"acc-n1-2 1/25": {
		what: "rattling-plug", cause: "loose-plug", device: "workstation", expect: "frame-errors", maybe: []string{"link-flapping"}, blame: true,
		apply: func(c *Cable) {
			c.BERToA, c.BERToB = 2e-7, 2e-7
			c.Rattle = &Rattle{Mean: 15 * time.Second, BER: 4e-6}
		},
	},

	"acc-n2-3 1/33": sleeping(100, 0),
	"acc-s1-1 1/40": sleeping(10, 7*time.Minute),
	"acc-n3-1 1/9":  sleeping(100, 3*time.Minute),

	"acc-n2-2 1/46": {what: "legacy-device", device: "ip clock", quiet: true, slow: "100M", apply: func(*Cable) {}},
	"acc-s1-2 1/30": {what: "legacy-device", device: "ip clock", quiet: true, apply: func(*Cable) {}},

	"acc-b1-1 1/19": {
		what: "admin-limit", cause: "speed-setting", device: "pc", expect: "below-design-speed",
		apply: func(c *Cable) { c.A.Advertised = []int{10, 100} },
	},

	"acc-n2-1 1/49": {
		what: "dirty-connector", cause: "dirty-connector", expect: "frame-errors", also: []string{"low-light"}, maybe: []string{"excess-loss"}, blame: true,
		apply: func(c *Cable) { c.LossToB = 7.8 },
	},
	"acc-n1-2 1/50": {
		what: "bent-fibre", cause: "bent-fibre", expect: "excess-loss", blame: true, record: true,
		apply: func(c *Cable) { c.Bend(6) },
	},
	"acc-n3-2 1/50": {
		what: "failing-transmitter", cause: "failing-transmitter", expect: "frame-errors", also: []string{"low-light"}, blame: true,
		apply: func(c *Cable) { c.A.module.Wear = 9.7 },
	},
	"acc-s1-1 1/50": {
		what: overload, cause: "receiver-overload", expect: "frame-errors", also: []string{"high-light"}, blame: true,
		apply: func(c *Cable) { c.A.fit("10GBASE-ER"); c.B.fit("10GBASE-ER") },
	},
	"acc-n3-1 1/41": {
		what: "flapping-plug", cause: "loose-plug", device: "pc", expect: "link-flapping", blame: true,
		apply: func(c *Cable) { c.Rattle = &Rattle{Mean: 2 * time.Second} },
	},
	"acc-s1-2 1/19": {
		what: "short-in-cable", cause: "shorted-pair", device: "phone", expect: "power-fault", maybe: []string{"link-flapping"}, blame: true,
		apply: func(c *Cable) { c.Leak = &Leak{Mean: 10 * time.Second} },
	},
	"acc-n3-2 1/31": {
		what: "powered-without-link", cause: "open-pair", device: "camera", expect: "no-link", blame: true, record: true,
		apply: func(c *Cable) { c.Open = []Pair{Pair12} },
	},
	"acc-n1-2 1/43": {
		what: "duplex-mismatch", cause: "duplex-setting", device: "workstation", expect: "duplex-mismatch", maybe: []string{"below-design-speed"},
		apply: func(c *Cable) { c.Device.Speeds, c.Device.Fixed = []int{100}, 100 },
	},
}

func openPair(pair Pair) planting {
	return planting{
		what: "open-pair", cause: "open-pair", device: "pc", expect: "below-design-speed", blame: true,
		apply: func(c *Cable) { c.Open = []Pair{pair} },
	}
}

func bitErrors(device string, apply func(*Cable)) planting {
	return planting{what: "bit-errors", device: device, expect: "frame-errors", blame: true, apply: apply}
}

func burst(coupling float64) planting {
	return planting{
		what: bursts, cause: "interference", device: "workstation", expect: "frame-errors", blame: true,
		apply: func(c *Cable) { c.Coupling = coupling },
	}
}

// sleeping is a PC that wakes for 5 minutes of every 20.
func sleeping(speed int, earlier time.Duration) planting {
	return planting{
		what: "sleeping-pc", device: "pc", quiet: true,
		apply: func(c *Cable) {
			c.Device.Asleep = Schedule{Offset: -earlier, Every: 20 * time.Minute, For: 15 * time.Minute}
			c.Device.SleepSpeeds = []int{speed}
		},
	}
}

func unrecorded(p planting) planting { p.unrecorded = true; return p }

func described(p planting) planting { p.described = true; return p }

// plant writes the answer book's entry.
func (b *builder) plant(p planting, s *Switch, port *Port, run string) {
	if p.unrecorded {
		run = ""
	}
	b.faults = append(b.faults, PlantedFault{s.Name, port.Name, run, p.what, p.expect, p.also, p.maybe, p.blame, p.quiet, p.record, p.cause})
}
