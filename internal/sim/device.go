package sim

import (
	"strings"
	"time"
)

// Device is what hangs at the far end of a run.
type Device struct {
	Kind        string
	Speeds      []int    // Mb/s that it offers while awake
	Asleep      Schedule // while on, it offers SleepSpeeds and sends almost nothing
	SleepSpeeds []int
	Off         bool
	Name        string  // that it announces
	LLDP        bool    // it announces itself (IEEE 802.1AB)
	Behind      *Device // on a phone's second jack; its announcements pass through
	Fixed       int     // 10 or 100 Mb/s without auto-negotiation; 0 = negotiates
	Half        bool    // what is fixed is half duplex
	Module      *Module // its optic, on fibre; Connect gives it one like the port's
	Watts       float64 // that it draws over the pairs; 0 = it has power of its own
	Class       int     // of what it draws, 0 to 4 (IEEE 802.3 33.2.6)
	Boot        time.Duration
	Hung        bool // it has power and no link
	Ill         *Illness

	line   line
	starts time.Duration // until then it boots
}

// on says whether a device that has power has started.
func (d *Device) on(at time.Duration) bool { return !d.Off && !d.Hung && at >= d.starts }

// Plug gives a 40 m Category 6A run from a port to a device of a kind: "pc",
// "workstation", "phone", "access point", "printer", "camera", "ip clock", or
// "off", a PC without power. Of any other kind there is no device. Phones and
// access points announce themselves by a name made from the run's.
func Plug(id string, p *Port, kind string) Cable {
	cable := Cable{ID: id, Media: Copper, Kind: "6A", LengthM: 40, A: p}
	if d, known := devices[kind]; known {
		cable.Device = &Device{
			Kind: kind, Speeds: d.speeds, Off: kind == "off", Watts: d.watts, Class: d.class, Boot: bootTime,
		}
		if d.name != "" {
			cable.Device.LLDP, cable.Device.Name = true, d.name+"-"+strings.ToLower(id)
		}
		cable.AtoB, cable.BtoA = d.from, d.to
	}
	return cable
}

// profile is a kind of device: what it can do, what the switch sends it and
// what it sends.
type profile struct {
	speeds   []int
	from, to Flow
	name     string // how its system names begin, if it announces itself
	watts    float64
	class    int
}

// bootTime is from power to link: 20 to 120 s of most devices, common practice.
const bootTime = 45 * time.Second

var gigabit, legacy = []int{10, 100, 1000}, []int{10, 100}

var devices = map[string]profile{
	"pc":           {gigabit, Flow{6e6, office, 2, 1}, Flow{1.6e6, office, 0.05, 0.1}, "", 0, 0},
	"workstation":  {gigabit, Flow{40e6, office, 2, 1}, Flow{34e6, bulk, 0.05, 0.1}, "", 0, 0},
	"off":          {gigabit, Flow{6e6, office, 2, 1}, Flow{1.6e6, office, 0.05, 0.1}, "", 0, 0},
	"phone":        {gigabit, Flow{87e3, voice, 2, 1}, Flow{87e3, voice, 0.02, 0.05}, "phone", 4.5, 2},
	"access point": {gigabit, Flow{24e6, office, 2, 3}, Flow{8e6, office, 0.5, 1}, "ap", 16, 4},
	"printer":      {gigabit, Flow{50e3, office, 2, 1}, Flow{20e3, acks, 0.02, 0.2}, "", 0, 0},
	"camera":       {gigabit, Flow{110e3, acks, 2, 1}, Flow{6.2e6, bulk, 0.02, 0.1}, "", 8.5, 3},
	"ip clock":     {legacy, Flow{3e3, tick, 2, 1}, Flow{3e3, tick, 0.02, 0.05}, "", 2.5, 1},
}
