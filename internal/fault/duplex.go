package fault

import "toneout/internal/port"

// duplexTest watches for ends that differ in duplex.
type duplexTest struct{ Open bool }

func (c *duplexTest) isOpen() bool { return c.Open }

func (c *duplexTest) finding(p *portState) finding { return finding{} }

func (c *duplexTest) observe(p *portState, inc *port.Increments) {}
