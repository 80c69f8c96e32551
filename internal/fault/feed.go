package fault

import "toneout/internal/port"

// powerTest watches for power over the pairs that is cut by a short or an overload.
type powerTest struct{ open bool }

func (c *powerTest) isOpen() bool { return c.open }

func (c *powerTest) finding(p *portState) finding { return finding{} }

func (c *powerTest) observe(p *portState, now port.Power) {}
