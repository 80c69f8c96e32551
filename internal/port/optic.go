package port

import "math"

// Light is an optical power in dBm.
type Light float64

// NoLight is what a receiver in the dark shows: 0 mW.
var NoLight = Light(math.Inf(-1))

// LightOf is the light of a power in mW: 1 mW is 0 dBm, and 0 mW is NoLight.
func LightOf(milliwatts float64) Light {
	if milliwatts <= 0 {
		return NoLight
	}
	return Light(10 * math.Log10(milliwatts))
}

// Dark tells whether there is no light at all, which is not the same as a
// value that is not told.
func (l Light) Dark() bool { return math.IsInf(float64(l), -1) }

// Optic is what the module in a port tells of itself (ENTITY-MIB, RFC 6933;
// ENTITY-SENSOR-MIB, RFC 3433). Values are gone with the module, and with a
// sensor that is not in order.
type Optic struct {
	Serial, Model string         // "" where not told
	Celsius       Value[float64] // of the module
	Lanes         []Lane         // the first is lane 1; one on most modules
}

// Lane is one sender and receiver of an optic. One of which nothing is told
// keeps its place among the others, so that these keep their numbers.
type Lane struct {
	Received, Sent Value[Light]   // NoLight where the sensor is in order and sees none
	BiasMA         Value[float64] // of the laser, mA
}

// PowerStatus is pethPsePortDetectionStatus (RFC 3621); 0 where it is absent.
type PowerStatus uint8

// The states of RFC 3621.
const (
	PowerNotTold PowerStatus = iota
	PowerDisabled
	PowerSearching
	PowerDelivering
	PowerFault
	PowerTest
	PowerOtherFault
)

// Power is a port that feeds its far end over the pairs (Power over Ethernet):
// its row of pethPsePortTable (RFC 3621). The counters are 32 bits wide.
type Power struct {
	Enabled Answer // pethPsePortAdminEnable
	Status  PowerStatus
	Class   Value[int] // 0 to 4: pethPsePortPowerClassifications less 1; only while power is delivered

	Absent    Value[uint32] // pethPsePortMPSAbsentCounter: the far end stopped drawing power
	Invalid   Value[uint32] // pethPsePortInvalidSignatureCounter: nothing that wants power, which is no fault
	Denied    Value[uint32] // pethPsePortPowerDeniedCounter: the switch had no power left
	Overloads Value[uint32] // pethPsePortOverLoadCounter
	Shorts    Value[uint32] // pethPsePortShortCounter
}
