package standards

// FibreType is a kind of cabled optical fibre.
type FibreType struct {
	Grade      string  // OM1 to OM5, OS1, OS1a, OS2; "" where only core and bandwidth are known
	CoreUM     float64 // core diameter in µm; of single mode the mode field's
	CladdingUM float64
	Aperture   float64 // numerical aperture
	Modal850   float64 // modal bandwidth at 850 nm in MHz·km: overfilled for OM1 and OM2, effective laser above; 0 for single mode
	SingleMode bool
}

// FibrePart is one piece of fibre along a run.
type FibrePart struct {
	Fibre   FibreType
	LengthM float64
}

// FibrePath is a run of fibre from its near to its far optic.
type FibrePath struct {
	Parts      []FibrePart // in order from near to far, cords included
	Connectors int         // mated pairs
	Splices    int
}

// Optic is what a PHY's optic sends and takes: average power in dBm, for each lane
// where there are several.
type Optic struct {
	PHY                 string  // IEEE name
	SendLeast, SendMost float64 // dBm
	TakeLeast, TakeMost float64 // dBm: sensitivity and overload
	Damage              float64 // dBm; 0 and DamageKnown false where not published
	DamageKnown         bool
	SendsNM, TakesNM    []float64  // nominal wavelengths, one a lane; they differ on a single-fibre optic
	SendsBandNM         [2]float64 // least and most of what it may send at
	TakesBandNM         [2]float64
	Strands             int // of the duplex or parallel path, both directions together
	SingleMode          bool
	Source              Source
}

// PathLoss is the loss of a path in one direction, in dB.
type PathLoss struct {
	Least, Most float64 // Least: fibre and connections at their best by common practice; Most: all at the standard's maximum
	Mismatch    float64 // of it by cores and apertures that differ, in this direction, at most
}
