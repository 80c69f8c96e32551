package fault

// Guard is why something that looks like a fault is held back, or shown and
// not alarmed.
type Guard struct {
	Name GuardName `json:"name"`
	Says string    `json:"says"` // a sentence
}

// GuardName tells guards apart. They are asked in this order.
type GuardName string

// The guards.
const (
	DataNotValid GuardName = "data-not-valid"  // readings don't compare, or don't tell
	PlannedWork  GuardName = "planned"         // somebody is at work on it
	ShutByAdmin  GuardName = "admin"           // the port is shut on purpose
	Asleep       GuardName = "asleep"          // the device sleeps
	FarLimit     GuardName = "far-end-limit"   // the far end is able to no more
	PassedOn     GuardName = "upstream-errors" // another port got the damaged frames first
	GroupEvent   GuardName = "group-event"     // many ports at once: a restart, a power cut, an evening of patching
	ParentDown   GuardName = "parent-down"     // the switch at the other end, or one on the way, is gone
	SameTrouble  GuardName = "same-trouble"    // another fault of the run tells it
)
