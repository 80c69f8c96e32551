package plant

import (
	"toneout/internal/port"
	"toneout/internal/standards"
)

// SeenEnd is what a switch shows of the port at one end of a run; the zero
// value is an end that nobody watches.
type SeenEnd struct {
	Fastest standards.Speed // the most that the port can do; 0 where not known
	Speed   standards.Speed // what it runs at; 0 where not known or without link
	PHY     string          // IEEE name of what it runs; "" where not told
}

// Seen is what the switches show of one run beside its record. The zero value
// is a run of which only the record is known.
type Seen struct {
	Near, Far SeenEnd
	Errors    string // damaged frames of late, in words; "" for none seen
}

// Expected is what a run ought to carry, by its record and the standards.
type Expected struct {
	Medium   standards.Medium // "" where not recorded, or mixed along the run
	Channel  standards.CopperChannel
	Path     standards.FibrePath
	AmbientC port.Value[float64] // the warmest pathway

	Speeds []Carried // every nominal speed, rising
	Light  [2]Light  // by the End that receives; of fibre whose optics are known

	Missing []string // keys of the record without which more could be said
}

// Carried is whether a run may carry one speed.
type Carried struct {
	Speed standards.Speed
	PHY   string // by which PHY the judgement is best
	standards.Judgement
}

// Light is the light that one end ought to receive, in dBm, and what its optic
// takes.
type Light struct {
	Known                 bool
	Least, Most           float64 // expected
	TakesLeast, TakesMost float64 // the receiver's window
	Damage                port.Value[float64]
	LossLeast, LossMost   float64 // of the direction towards this end, dB
	Pad                   float64 // dB to add so that the strongest sender cannot overload it; 0 for none
	Judgement             standards.Judgement
}
