package fault

// linkTest watches for a link that is missing where it is meant to be.
type linkTest struct{ Open bool }

func (c *linkTest) isOpen() bool { return c.Open }

func (c *linkTest) finding(p *portState) finding { return finding{} }

func (c *linkTest) observe(p *portState) {}
