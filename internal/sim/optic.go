package sim

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math"
	"time"
)

// Module is an optic: what its maker wrote into it, and how well it does. Its
// fields may be changed inside Campus.Do.
type Module struct {
	Serial, Model string
	PHY           string  // "10GBASE-SR"
	SentDBm       float64 // average launch power of each lane while new
	BiasMA        float64 // of each lane's laser while new
	Wear          float64 // dB by which the lasers' efficiency has fallen,
	WearPerDay    float64 // and goes on to fall
	Deaf          float64 // dB by which its receiver has become less sensitive
	Loose         float64 // dB by which its light jumps at most, as contact comes and goes
	SentSkew      float64 // dB by which its sensor of sent light errs,
	ReceivedSkew  float64 // and that of received light

	phy  phy
	seed uint64
}

// phy is what a kind of optic can do, a lane. least and most are the average
// powers at the receiver between which the BER objective holds.
type phy struct {
	speed, lanes          int
	nm                    float64
	sent, least, most, mA float64 // dBm, dBm, dBm, mA
}

// phys: windows of IEEE 802.3 clauses 38, 52, 86 to 88, 95, 112 and 114, those
// of 38 and of 10GBASE-SR and LR as printed, the rest from memory; powers sent
// and bias currents are common practice.
var phys = map[string]phy{
	"1000BASE-SX":  {1000, 1, 850, -5.5, -17, 0, 6},
	"1000BASE-LX":  {1000, 1, 1310, -6.5, -19, -3, 18},
	"10GBASE-SR":   {10000, 1, 850, -2.5, -9.9, -1, 6.5},
	"10GBASE-LR":   {10000, 1, 1310, -2, -14.4, 0.5, 32},
	"10GBASE-ER":   {10000, 1, 1550, 1.5, -15.8, -1, 60},
	"25GBASE-SR":   {25000, 1, 850, -1, -10.3, 2.4, 7},
	"25GBASE-LR":   {25000, 1, 1310, -1, -13.3, 2, 38},
	"40GBASE-SR4":  {40000, 4, 850, -1, -9.5, 2.4, 6.5},
	"40GBASE-LR4":  {40000, 4, 1310, -0.5, -13.7, 2.3, 38},
	"100GBASE-SR4": {100000, 4, 850, -1, -10.3, 2.4, 7},
	"100GBASE-LR4": {100000, 4, 1300, 0.5, -10.6, 4.5, 42},
}

// fit puts a new module into a cage.
func (p *Port) fit(name string) {
	p.Optic, p.pulled = name, nil
	if kind, known := phys[name]; known {
		p.Speeds = []int{kind.speed}
		p.module = p.owner.campus.optic(name)
	}
}

// optic makes a module with the next serial number.
func (c *Campus) optic(name string) *Module {
	c.optics++
	kind := phys[name]
	m := &Module{
		Serial: fmt.Sprintf("FQO%05d", c.optics), Model: "FQO-" + name, PHY: name,
		SentDBm: kind.sent, BiasMA: kind.mA, phy: kind, seed: c.seed,
	}
	m.SentSkew, m.ReceivedSkew = 0.8*m.chance("sent", 0)-0.4, 0.8*m.chance("received", 0)-0.4
	return m
}

// Module gives the optic in a port, nil where there is none, to be read inside
// Campus.Do.
func (p *Port) Module() *Module { return p.module }

// Pull takes a port's optic out.
func (p *Port) Pull(now time.Time) {
	p.owner.campus.Do(now, func() { p.pull(p.owner.campus.elapsed) })
}

func (p *Port) pull(at time.Duration) {
	if p.module == nil {
		return
	}
	c := p.owner.campus
	p.pulled = &pulled{p.module, c.readings(p, p.module, c.Cable(p), at)}
	p.module, p.owner.columns = nil, nil
}

// Insert puts a new optic of a PHY into a port, in place of what is there.
func (p *Port) Insert(now time.Time, phy string) {
	p.owner.campus.Do(now, func() {
		p.fit(phy)
		p.owner.columns = nil
	})
}

// Laser currents rise as a laser wears, so that its light stays the same, up
// to this share of the new one's; then its light falls. Common practice calls
// a laser worn out at half as much again.
const mostBias = 1.5

// worn gives the dB of efficiency that the laser has lost at a time, how much
// of it the current makes good, as a factor, and what is left of it, dB.
func (m *Module) worn(at time.Duration) (factor, left float64) {
	lost := max(m.Wear+m.WearPerDay*at.Hours()/24, 0)
	factor = min(math.Pow(10, lost/10), mostBias)
	return factor, lost - 10*math.Log10(factor)
}

// celsius is the module's temperature: it swings by 3 °C with the day, warmest
// at 15:00, and rises with the laser's current.
func (m *Module) celsius(at time.Duration, clock time.Time) float64 {
	factor, _ := m.worn(at)
	hour := clock.Add(at).Sub(clock.Truncate(24 * time.Hour)).Hours()
	return 36 + 4*m.chance("celsius", 0) + 3*math.Cos(2*math.Pi*(hour-15)/24) + 8*(factor-1)
}

// sent is the average power that a lane sends into the fibre, dBm.
func (m *Module) sent(at time.Duration, lane int) float64 {
	return m.lights(at, lane) - m.contact(at)
}

// lights is what a lane's laser gives, which the module measures before its plug.
func (m *Module) lights(at time.Duration, lane int) float64 {
	_, left := m.worn(at)
	spread := 0.0
	if m.phy.lanes > 1 {
		spread = 0.6*m.chance("lane", int64(lane)) - 0.3
	}
	return m.SentDBm + spread - left
}

// bias is the current of a lane's laser, mA.
func (m *Module) bias(at time.Duration, lane int) float64 {
	factor, _ := m.worn(at)
	return m.BiasMA * factor * (0.97 + 0.06*m.chance("bias", int64(lane)))
}

// contactHolds is how long a loose optic rests in one position.
const contactHolds = 20 * time.Second

// contact is what a loose optic loses at a time, dB: mostly little, at times
// all that it can.
func (m *Module) contact(at time.Duration) float64 {
	if m.Loose == 0 {
		return 0
	}
	draw := m.chance("contact", int64(at/contactHolds))
	return m.Loose * draw * draw
}

// chance draws from [0, 1) by the module's serial number, a word and a number
// alone, so that whoever asks changes nothing.
func (m *Module) chance(what string, n int64) float64 {
	h := fnv.New64a()
	h.Write(binary.BigEndian.AppendUint64([]byte(m.Serial+what), uint64(n)^m.seed))
	x := h.Sum64() // and the last step of splitmix64, which spreads the last octets
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return float64((x^x>>31)>>11) / (1 << 53)
}

// jitter is the noise of a sensor's reading, dB: a few tenths at most.
func (m *Module) jitter(what string, n int64) float64 {
	return 0.2 * (m.chance(what, 3*n) + m.chance(what, 3*n+1) + m.chance(what, 3*n+2) - 1.5)
}
