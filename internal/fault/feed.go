package fault

import "toneout/internal/port"

// powerTest watches for power over the pairs that is cut by a short or an overload.
type powerTest struct{ Open bool }

func (c *powerTest) isOpen() bool { return c.Open }

func (c *powerTest) finding(p *portState) finding { return finding{} }

func (c *powerTest) observe(p *portState, now port.Power) {}
