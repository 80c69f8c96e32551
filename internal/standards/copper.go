package standards

// CopperChannel is a copper channel, cords and connections included, as far as
// it is recorded.
type CopperChannel struct {
	Category   Category // the lowest along the channel, cords included
	Shield     Shield   // of the fixed cable
	LengthM    float64  // of the whole channel, in metres; 0 where not recorded
	Connectors int      // mated pairs along the channel; 0 where not recorded
}
