package fault

import "toneout/internal/port"

// flapTest watches for a link that comes and goes.
type flapTest struct{ Open bool }

func (c *flapTest) isOpen() bool { return c.Open }

func (c *flapTest) finding(p *portState) finding { return finding{} }

func (c *flapTest) observe(p *portState, changes int, reason port.Reason) {}
