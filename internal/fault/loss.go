package fault

// lossTest watches for a direction that loses more light than it did or ought to.
type lossTest struct{ open bool }

func (c *lossTest) isOpen() bool { return c.open }

func (c *lossTest) finding(p *portState) finding { return finding{} }
