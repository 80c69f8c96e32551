package main

import (
	"math"
	"math/rand/v2"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

// port gives the damaged frames and bits received in the poll that ends then.
type port func(at time.Time) (errored uint64, bits float64)

// habit is a port's unchanging way, which may raise no alarm.
type habit struct {
	name      string
	plug      func(random *rand.Rand) port
	objective float64 // bit error ratio allowed; 0: judged by the habit alone
}

// traffic of a poll where it does not matter, and the bits that a minute
// holds.
const (
	traffic  = 3e9
	perPoll  = time.Minute
	pollsDay = 24 * 60
)

// habits are the null hypotheses of the test against the own baseline.
var habits = []habit{
	{"clean", poissonPort(0), 0},
	{"trickle, 1 frame in 1,000 polls", poissonPort(0.001), 0},
	{"Poisson, 0.03 frames a poll", poissonPort(0.03), 0},
	{"Poisson, 0.3 frames a poll", poissonPort(0.3), 0},
	{"Poisson, 3 frames a poll", poissonPort(3), 0},
	{"negative binomial, mean 0.3, dispersion 0.1", negativeBinomialPort(0.3, 0.1), 0},
	{"bursts of mean 20 in one poll, daily", burstPort(pollsDay, 1, around(20)), 0},
	{"bursts of mean 20 in one poll, hourly", burstPort(60, 1, around(20)), 0},
	{"bursts of several polls, daily", burstPort(pollsDay, 3, around(20)), 0},
	{"bursts of several polls, every 3 days", burstPort(3*pollsDay, 3, around(20)), 0},
	{"bursts of several polls, every 5 days", burstPort(5*pollsDay, 3, around(20)), 0},
	{"lognormal bursts, daily", burstPort(pollsDay, 1, lognormal(1, 2)), 0},
	{"BER 1e-11 under a load of 50:1 by day", loadPort(1e-11, 0), 1e-10},
	{"0.03 frames a poll beside a load of 50:1 by day", loadPort(0, 0.03), 0},
	{"machine 8 h a day, 0.05 frames a poll", machinePort(8, 1, 0.05), 0},
	{"machine 8 h a day, 0.3 frames a poll", machinePort(8, 1, 0.3), 0},
	{"machine 8 h a day, 5 frames a poll", machinePort(8, 1, 5), 0},
	{"machine 14 h a week, 2 h a day, 0.05 frames a poll", machinePort(2, 1, 0.05), 0},
	{"machine 14 h a week, 2 h a day, 0.3 frames a poll", machinePort(2, 1, 0.3), 0},
	{"machine 14 h a week, 2 h a day, 5 frames a poll", machinePort(2, 1, 5), 0},
	{"machine 2 h every third day, 2 frames a poll", machinePort(2, 3, 2), 0},
	{"long episodes beside isolated errors", episodePort(pollsDay, 120, 0.01), 0},
}

func poissonPort(mean float64) func(*rand.Rand) port {
	return func(random *rand.Rand) port {
		return func(time.Time) (uint64, float64) { return poisson(random, mean), traffic }
	}
}

func negativeBinomialPort(mean, dispersion float64) func(*rand.Rand) port {
	return func(random *rand.Rand) port {
		rate := distuv.Gamma{Alpha: dispersion, Beta: dispersion / mean, Src: random}
		return func(time.Time) (uint64, float64) { return poisson(random, rate.Rand()), traffic }
	}
}

// burstPort has bursts at random moments, with so many polls between in the
// mean and so many polls long in the mean; each poll of them loses so much.
func burstPort(between, long float64, loss func(*rand.Rand) uint64) func(*rand.Rand) port {
	return func(random *rand.Rand) port {
		burst := false
		return func(time.Time) (uint64, float64) {
			if burst {
				burst = random.Float64() >= 1/long
			}
			burst = burst || random.Float64() < 1/between
			if !burst {
				return 0, traffic
			}
			return loss(random), traffic
		}
	}
}

func around(mean float64) func(*rand.Rand) uint64 {
	return func(random *rand.Rand) uint64 { return 1 + poisson(random, mean-1) }
}

func lognormal(mu, sigma float64) func(*rand.Rand) uint64 {
	return func(random *rand.Rand) uint64 { return 1 + uint64(math.Exp(mu+sigma*random.NormFloat64())) }
}

// loadPort carries 50 times as much from 8 to 18 h; errors come by the bit or
// by the poll.
func loadPort(perBit, perMinute float64) func(*rand.Rand) port {
	return func(random *rand.Rand) port {
		return func(at time.Time) (uint64, float64) {
			bits := traffic / 5
			if h := at.Hour(); h >= 8 && h < 18 {
				bits *= 50
			}
			bits *= math.Exp(random.NormFloat64() / 3)
			return poisson(random, perBit*bits+perMinute), bits
		}
	}
}

// machinePort is disturbed from 8 h on for some hours, on every so manyeth day.
func machinePort(hours, every int, mean float64) func(*rand.Rand) port {
	return func(random *rand.Rand) port {
		return func(at time.Time) (uint64, float64) {
			h := at.Hour()
			if h < 8 || h >= 8+hours || int(at.Unix()/86400)%every != 0 {
				return 0, traffic
			}
			return poisson(random, mean), traffic
		}
	}
}

// episodePort mixes isolated errors with episodes in which every other poll is
// errored.
func episodePort(between, long, isolated float64) func(*rand.Rand) port {
	return func(random *rand.Rand) port {
		episode := false
		return func(time.Time) (uint64, float64) {
			if episode {
				episode = random.Float64() >= 1/long
			} else {
				episode = random.Float64() < 1/between
			}
			if episode {
				return poisson(random, 0.7), traffic
			}
			return poisson(random, isolated), traffic
		}
	}
}

// poisson draws by inversion, which needs one number however small the mean.
func poisson(random *rand.Rand, mean float64) uint64 {
	if mean == 0 {
		return 0
	}
	return quantile(random.Float64(), mean)
}

// quantile of the Poisson distribution, for means up to some hundreds.
func quantile(u, mean float64) uint64 {
	k, p := uint64(0), math.Exp(-mean)
	for ; u >= p && p > 0; k++ {
		u -= p
		p *= mean / float64(k+1)
	}
	return k
}
