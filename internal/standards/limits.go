package standards

// Parameter is a quantity that a certification test measures.
type Parameter string

// The parameters that have limit lines. Losses are positive dB, delay and skew
// nanoseconds.
const (
	InsertionLoss Parameter = "insertion loss"
	NEXT          Parameter = "NEXT"
	PSNEXT        Parameter = "PSNEXT"
	ACRN          Parameter = "ACR-N"
	PSACRN        Parameter = "PSACR-N"
	ACRF          Parameter = "ACR-F"
	PSACRF        Parameter = "PSACR-F"
	ReturnLoss    Parameter = "return loss"
	Delay         Parameter = "delay"
	DelaySkew     Parameter = "delay skew"
)

// Line says which limit line a value is held against.
type Line struct {
	Category      Category
	PermanentLink bool // else the channel
	ISO           bool // ISO/IEC 11801-1's class where it differs from ANSI/TIA-568.2-D's category
}
