package sim

import (
	"math"
	"time"
)

// Channel is what a copper run's cable and cords do to the signals on them, and
// what time and people do to it. Losses are dB of the signal-to-noise ratio that
// the PHY has to spare at 1000BASE-T; they count for more at higher frequencies.
//
// A cable without a Channel is perfect but for its Open pairs and its BERToA and
// BERToB.
type Channel struct {
	EatenToA, EatenToB float64 // by a defect, of what that end receives: a split or untwisted pair, a crush
	Slow               bool    // the PHYs give up on a bad pair, rather than to try at a lower speed

	Settles bool // the far end's PHY, once it has settled for a lower speed, offers no higher one any more

	Shorted []Pair // whose two wires touch
	Crossed []Pair // two pairs a wire of each of which has changed places

	Cord    *Cord    // one that moves
	Weather *Weather // that the defect follows
	Warmth  Warmth   // along its way
	Screen  bool     // it is screened

	Bundle string  // what its neighbours send couples into it,
	Alien  float64 // each one as much as so many times the receiver's own noise at 10GBASE-T
}

// Cord is one with a bad contact or a broken wire, which is better or worse
// after each movement; people move things between 8 and 18 h.
type Cord struct {
	PerHour float64 // movements
	WorstDB float64 // that it eats after a movement, in both directions
	Breaks  float64 // share of the movements that lose the link for a second or two

	next, gone time.Duration
	eats       float64
	moved      bool
}

// Weather is damp in a cable: dB eaten swing by so many about the mean of two
// thirds of it, within a period of a day or more.
type Weather struct {
	DB     float64
	Period time.Duration
}

// Warmth is the temperature along a cable: of the night, and how much warmer it is at 15:00.
type Warmth struct{ Celsius, Swing float64 }

// at gives the temperature of an hour of the day.
func (w Warmth) at(hour float64) float64 {
	if w.Celsius == 0 {
		return 20
	}
	return w.Celsius + w.Swing*(1+math.Cos(2*math.Pi*(hour-15)/24))/2
}

// band is what a PHY uses of a cable: its frequency of most interest in MHz
// (the Nyquist frequency, half of its symbols per second), and the insertion loss
// there over which it still keeps its objective. These are such that 100 m of the
// category that IEEE 802.3 asks for leave about 3 dB: our own model.
type band struct{ mhz, bears float64 }

var bands = map[int]band{
	10: {10, 13}, 100: {31.25, 17}, 1000: {62.5, 20.5}, 2500: {100, 25}, 5000: {200, 31}, 10000: {400, 41.5},
}

// categories: insertion loss of 100 m at 100 MHz in dB, and the frequency in MHz
// up to which crosstalk is limited (ANSI/TIA-568.2-D; category 3 from memory).
var categories = map[string]struct{ loss, mhz float64 }{
	"3": {30, 16}, "5": {22, 100}, "5e": {22, 100}, "6": {19.8, 250}, "6A": {19.1, 500}, "7": {19, 600}, "7A": {19, 1000}, "8": {18, 2000},
}

// beyondCategory is what crosstalk eats for each doubling of the frequency
// beyond that of the category, dB: near-end crosstalk grows by 15 dB a decade.
const beyondCategory = 4.5 * 2

// longer is by which share a cable's loss is more at a temperature than at 20 °C:
// 0.4 % for each degree up to 40 and 0.6 % above, 0.2 % of screened cable
// (ISO/IEC 11801-1 and ANSI/TIA-568.2-D, as printed in many guides).
func (ch *Channel) longer(celsius float64) float64 {
	if ch.Screen {
		return 0.002 * max(celsius-20, 0)
	}
	return 0.004*max(min(celsius, 40)-20, 0) + 0.006*max(celsius-40, 0)
}

// spare is how many dB a PHY of a speed has left at an end; without a channel plenty.
func (c *Cable) spare(at time.Duration, speed int, toA bool) float64 {
	ch, kind := c.Channel, categories[c.Kind]
	phy, known := bands[speed]
	if ch == nil || c.Media != Copper || !known || kind.loss == 0 {
		return plenty
	}
	hour := math.Mod((at + c.A.owner.campus.pastMidnight).Hours(), 24)
	loss := kind.loss * math.Sqrt(phy.mhz/100) * c.LengthM / 100 * (1 + ch.longer(ch.Warmth.at(hour)))
	left := phy.bears - loss
	if phy.mhz > kind.mhz {
		left -= beyondCategory * math.Log2(phy.mhz/kind.mhz)
	}
	eaten := ch.EatenToB
	if toA {
		eaten = ch.EatenToA
	}
	if ch.Weather != nil {
		eaten += ch.Weather.DB * (2 + math.Sin(2*math.Pi*at.Seconds()/ch.Weather.Period.Seconds()+c.phase)) / 3
	}
	if ch.Cord != nil {
		eaten += ch.Cord.eats
	}
	left -= eaten * math.Sqrt(phy.mhz/bands[1000].mhz)
	if speed > 1000 {
		left -= 10 * math.Log10(1+ch.Alien*float64(c.aliens)) * phy.mhz / bands[10000].mhz
	}
	return left
}

// Spare gives how many dB a PHY of a speed in Mb/s has left now at A, or at B, to
// be read inside Campus.Do.
func (c *Cable) Spare(speed int, toA bool) float64 {
	return c.spare(c.A.owner.campus.elapsed, speed, toA)
}

const (
	plenty = 100.0 // dB
	// holds is where a PHY that has trained gives up, and trains where it does not
	// try: it settles for a lower speed then.
	trains, holds = -4.2, -5.2
	// qAtCopper is of a bit error ratio of 1e-10, the objective of 1000BASE-T
	// (IEEE 802.3 40.1.1).
	qAtCopper = 6.361
)

// copperBER is the bit error ratio of what an end receives from the pairs: with
// noise that is Gaussian, ½ erfc(Q/√2), where Q is in proportion to the signal's
// amplitude. 1 dB below the objective gives 7e-9, 2 dB 2e-7, 4 dB 3e-5.
func (c *Cable) copperBER(at time.Duration, speed int, toA bool) float64 {
	if c.Channel == nil || c.Media != Copper {
		return 0
	}
	ber := 0.5 * math.Erfc(qAtCopper*math.Pow(10, c.spare(at, speed, toA)/20)/math.Sqrt2)
	if ber < noErrors {
		return 0
	}
	return ber
}

// bears says whether the pairs let the PHYs train at a speed, or hold it.
func (c *Cable) bears(at time.Duration, speed int) bool {
	if c.Channel == nil {
		return true
	}
	least := trains
	if c.joined.up() && c.joined.a.speed == speed {
		least = holds
	}
	return min(c.spare(at, speed, true), c.spare(at, speed, false)) > least
}

// unusable says whether a pair carries no signal.
func (c *Cable) unusable(p Pair) bool {
	if has(c.Open, p) {
		return true
	}
	return c.Channel != nil && (has(c.Channel.Shorted, p) || has(c.Channel.Crossed, p))
}

func has(pairs []Pair, p Pair) bool {
	for _, one := range pairs {
		if one == p {
			return true
		}
	}
	return false
}

// pairsLeft gives the highest speed that the pairs can carry: all four, the two
// of 10 and 100 Mb/s, or 0.
func (c *Cable) pairsLeft() (most int) {
	switch {
	case c.unusable(Pair12) || c.unusable(Pair36):
		return 0
	case !c.unusable(Pair45) && !c.unusable(Pair78):
		return math.MaxInt
	case c.Channel != nil && c.Channel.Slow:
		return 0 // both ends settle for a speed that needs four pairs, and fail for ever
	}
	return 100
}

// stillOffered is what the far end's PHY still offers.
func (c *Cable) stillOffered(offered []int, speed int) (still []int) {
	if c.Channel == nil || !c.Channel.Settles {
		return offered
	}
	for _, s := range offered {
		if s <= speed {
			still = append(still, s)
		}
	}
	return still
}

// shorted says whether power over the pairs would be fed into a short.
func (c *Cable) shorted() bool { return c.Channel != nil && len(c.Channel.Shorted) > 0 }

// stir moves a cord that people move, and says whether contact is lost now.
func (c *Cable) stir(at time.Duration) bool {
	if c.Channel == nil || c.Channel.Cord == nil {
		return false
	}
	cord := c.Channel.Cord
	hour := c.A.owner.campus.start.Add(at).Hour()
	if at < cord.next {
		return at < cord.gone
	}
	if cord.moved && hour >= 8 && hour < 18 {
		draw := c.random.Float64()
		cord.eats = cord.WorstDB * draw * (2 - draw)
		if c.random.Float64() < cord.Breaks {
			cord.gone = at + time.Duration((0.5+1.5*c.random.Float64())*float64(time.Second))
			c.A.absent(at)
		}
	}
	cord.moved = true
	cord.next = at + time.Duration(c.random.ExpFloat64()/cord.PerHour*float64(time.Hour))
	return at < cord.gone
}

// count tells each cable of a bundle how many of its neighbours send at 10
// Gb/s, which they do without traffic too (10GBASE-T sends when idle; inference
// from IEEE 802.3 clause 55).
func (c *Campus) count() {
	if !c.bundled {
		return
	}
	links := map[string]int{}
	for _, cable := range c.cables {
		if cable.Channel != nil && cable.Channel.Bundle != "" && cable.A.line.speed >= 10000 {
			links[cable.Channel.Bundle]++
		}
	}
	for _, cable := range c.cables {
		if ch := cable.Channel; ch != nil && ch.Bundle != "" {
			cable.aliens = links[ch.Bundle]
			if cable.A.line.speed >= 10000 {
				cable.aliens--
			}
		}
	}
}
