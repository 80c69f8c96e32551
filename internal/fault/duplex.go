package fault

import "toneout/internal/port"

// duplexTest watches for ends that differ in duplex.
type duplexTest struct{ open bool }

func (c *duplexTest) isOpen() bool { return c.open }

func (c *duplexTest) finding(p *portState) finding { return finding{} }

func (c *duplexTest) observe(p *portState, inc *port.Increments) {}
