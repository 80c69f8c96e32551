package standards

import "math"

// LinkSegment gives the limit that a PHY's own clause sets for the cabling it
// runs over, at a frequency in MHz: dB, or ns of delay and delay skew. A run may
// keep it and break its category's line. It reports false outside the clause's
// frequencies and for PHYs other than 1000BASE-T and 10GBASE-T.
func (p PHY) LinkSegment(of Parameter, mhz float64) (float64, bool) {
	switch {
	case p.Name == "1000BASE-T" && mhz >= 1 && mhz <= 100:
		return gigabitSegment(of, mhz)
	case p.Name == "10GBASE-T" && mhz >= 1 && mhz <= 500:
		return tenGigabitSegment(of, mhz)
	}
	return 0, false
}

// gigabitSegment is IEEE 802.3 40.7 (memory): insertion loss 40.7.2.1, return
// loss 40.7.2.3, crosstalk 40.7.3, delay 40.7.4.
func gigabitSegment(of Parameter, mhz float64) (float64, bool) {
	decades := math.Log10(mhz / 100)
	switch of {
	case InsertionLoss:
		return 2.1*math.Pow(mhz, 0.529) + 0.4/mhz, true
	case NEXT:
		return 27.1 - 16.8*decades, true
	case ACRF:
		return 17 - 20*decades, true
	case PSACRF:
		return 14.4 - 20*decades, true
	case ReturnLoss:
		return held([]slope{{1, 15, 0, 1}, {20, 15, 10, 20}}, mhz), true
	case Delay:
		return 570, true
	case DelaySkew:
		return 50, true
	}
	return 0, false
}

// tenGigabitSegment is IEEE 802.3 55.7 (memory). It is class EA's channel but
// for delay, and for near-end crosstalk above 330 MHz: that falls to 22.0 dB at
// 500 MHz, its power sum to 20.4.
func tenGigabitSegment(of Parameter, mhz float64) (float64, bool) {
	channel := Line{Category: Cat6A, ISO: true}
	limit, ok := channel.Limit(of, mhz)
	switch {
	case of == Delay:
		return 570, true
	case of == NEXT && mhz >= 330:
		return min(limit, slope{330, 31, 50, 330}.at(mhz)), true
	case of == PSNEXT && mhz >= 330:
		return min(limit, slope{330, 28, 42, 330}.at(mhz)), true
	case of == ACRN:
		next, _ := tenGigabitSegment(NEXT, mhz)
		loss, _ := tenGigabitSegment(InsertionLoss, mhz)
		return next - loss, true
	case of == PSACRN:
		next, _ := tenGigabitSegment(PSNEXT, mhz)
		loss, _ := tenGigabitSegment(InsertionLoss, mhz)
		return next - loss, true
	}
	return limit, ok
}
