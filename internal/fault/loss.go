package fault

// lossTest watches for a direction that loses more light than it did or ought to.
type lossTest struct{ Open bool }

func (c *lossTest) isOpen() bool { return c.Open }

func (c *lossTest) finding(p *portState) finding { return finding{} }
