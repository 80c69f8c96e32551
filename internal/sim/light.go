package sim

import (
	"math"
	"time"
)

// Path is the way of light through a run of fibre. Losses are dB, on top of
// what length, connectors and splices cost.
type Path struct {
	Connectors, Splices  int
	LossToA, LossToB     float64 // of the strand whose light that end receives
	BrokenToA, BrokenToB bool
	Reversed             bool // each end's light meets the other's laser
}

// Bend loses dB on both strands, as a bend or a crush of the cable does.
func (p *Path) Bend(dB float64) { p.LossToA, p.LossToB = p.LossToA+dB, p.LossToB+dB }

// What a mated pair and a splice cost, dB: common practice. TIA-568.3-D
// allows 0.75 and 0.3.
const (
	connectorLoss = 0.3
	spliceLoss    = 0.1
)

// mismatchLoss is what light from a multimode optic loses into a core of 9
// µm, dB: of sizes from 6 to more than 10 that are told, common practice.
const mismatchLoss = 10

// attenuation is a fibre's loss at a wavelength, dB/km: of good cable as it is
// sold, common practice. TIA-568.3-D allows 3.0 and 1.5, indoors 1.0 and 1.0,
// outdoors 0.5 and 0.5.
func attenuation(fibre string, nm float64) float64 {
	single := isSingleMode(fibre)
	switch {
	case single && nm > 1500:
		return 0.22
	case single:
		return 0.35
	case nm > 1200:
		return 0.7
	}
	return 2.5
}

func isSingleMode(fibre string) bool { return len(fibre) > 1 && fibre[:2] == "OS" }

// loss is that of the way from a module to one end, dB.
func (c *Cable) loss(from *Module, toA bool) float64 {
	lost := c.LengthM/1000*attenuation(c.Kind, from.phy.nm) +
		float64(c.Connectors)*connectorLoss + float64(c.Splices)*spliceLoss
	if isSingleMode(c.Kind) && from.phy.nm < 1000 {
		lost += mismatchLoss
	}
	if toA {
		return lost + c.LossToA
	}
	return lost + c.LossToB
}

// blindness is what a receiver made for another wavelength does not see, dB: one
// for 850 nm hardly sees light beyond 1,000 nm (gallium arsenide does not absorb
// it), one for longer light sees less of the short. Sizes are our own.
func (m *Module) blindness(from *Module) float64 {
	switch {
	case m.phy.nm < 1000 && from.phy.nm > 1000:
		return 14
	case m.phy.nm > 1000 && from.phy.nm < 1000:
		return 5
	}
	return 0
}

// modal is what is lost of the eye where light of a laser for single-mode fibre
// takes many ways through multimode fibre, dB: the light itself is all there.
// About 300 m are told to work at 1 Gb/s without a mode-conditioning cord (IEEE
// 802.3 38.11.4 asks for one); the growth with length is our own.
func (c *Cable) modal(from *Module) float64 {
	if c.Kind == "" || isSingleMode(c.Kind) || from.phy.nm < 1000 || from.phy.lanes > 1 {
		return 0
	}
	reach := 300.0
	if from.phy.speed > 1000 {
		reach = 100
	}
	return 12 * c.LengthM / reach
}

// dark is no light at all, dBm.
var dark = math.Inf(-1)

// received is the average power that a lane of one end receives, dBm; at the
// end itself a loose optic loses some of it.
func (c *Cable) received(at time.Duration, lane int, toA bool) float64 {
	own, from, broken := c.moduleB(at), c.lit(c.A), c.BrokenToB
	if toA {
		own, from, broken = c.A.module, c.moduleB(at), c.BrokenToA
		if c.B != nil {
			from = c.lit(c.B)
		}
	}
	if broken || c.Reversed || c.loose || from == nil || own == nil || lane >= from.phy.lanes {
		return dark
	}
	return from.sent(at, lane) - c.loss(from, toA) - own.blindness(from) - own.contact(at)
}

// lit gives a port's module if its laser is on.
func (c *Cable) lit(p *Port) *Module {
	if p.dead() {
		return nil
	}
	return p.module
}

// moduleB gives the module at B, with a device's only while that has power.
func (c *Cable) moduleB(at time.Duration) *Module {
	switch {
	case c.B != nil:
		return c.B.module
	case c.Device != nil && c.Device.on(at):
		return c.Device.Module
	}
	return nil
}

// waterfall is the bit error ratio at a receiver: ½ erfc(Q/√2), where Q is in
// proportion to the power received, as for a photodiode whose noise does not
// depend on the light, and is 7.03 at the least power of the optic's window,
// where the ratio is 1e-12 (G. P. Agrawal, Fiber-Optic Communication Systems,
// section 4.6). 1 dB less gives 1e-8, 2 dB less 4e-6. A receiver with too much
// light is as bad as one with too little, by as many dB: our own model.
func (m *Module) waterfall(dBm float64) float64 {
	margin := min(dBm-m.phy.least-m.Deaf, m.phy.most-dBm)
	return 0.5 * math.Erfc(qAtObjective*math.Pow(10, margin/10)/math.Sqrt2)
}

const (
	qAtObjective = 7.034
	// highBER is where the link falls: the ratio of damaged sync headers at
	// which 64B/66B coding gives up, 16 of those in 125 µs (IEEE 802.3
	// 49.2.13.2.4, 16 of 39,062 bits at 10 Gb/s).
	highBER = 4e-4
	// noErrors are so few that none comes in the life of a campus.
	noErrors = 1e-17
)

// opticalBER is the bit error ratio of what an end receives, that of its worst
// lane; 1 where it is dark. Without optics there is none.
func (c *Cable) opticalBER(at time.Duration, toA bool) float64 {
	own := c.moduleB(at)
	if toA {
		own = c.A.module
	}
	if c.bare() {
		return 0
	}
	if own == nil {
		return 1
	}
	worst := 0.0
	for lane := range own.phy.lanes {
		dBm := c.received(at, lane, toA)
		if dBm == dark {
			return 1
		}
		worst = max(worst, own.waterfall(dBm-c.modal(c.sender(toA))))
	}
	if worst < noErrors {
		return 0
	}
	return worst
}

// sender gives the module that sends to an end.
func (c *Cable) sender(toA bool) *Module {
	switch {
	case !toA:
		return c.A.module
	case c.B != nil:
		return c.B.module
	}
	return c.Device.Module
}

// LightSpare gives by how many dB the light at A, or at B, is above the least that
// its receiver works with, below any number where it is dark; to be read inside
// Campus.Do.
func (c *Cable) LightSpare(toA bool) float64 {
	own := c.A.module
	if !toA {
		own = c.moduleB(c.A.owner.campus.elapsed)
	}
	if own == nil {
		return dark
	}
	worst := math.Inf(1)
	for lane := range own.phy.lanes {
		worst = min(worst, c.received(c.A.owner.campus.elapsed, lane, toA)-own.phy.least-own.Deaf)
	}
	return worst
}

// bare says that an end is a cage whose optic nobody described: then the light
// of the run is not modelled.
func (c *Cable) bare() bool {
	unknown := func(p *Port) bool { return p.module == nil && p.pulled == nil }
	switch {
	case c.Media != Fibre || unknown(c.A):
		return true
	case c.B != nil:
		return unknown(c.B)
	}
	return c.Device == nil || c.Device.Module == nil
}

// hears says whether an end's receiver locks to what comes.
func (c *Cable) hears(toA bool) bool {
	if toA {
		return c.lightBER[0] < highBER
	}
	return c.lightBER[1] < highBER
}
