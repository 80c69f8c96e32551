package fault

// lightTest watches for a receiver that gets too little or too much light.
type lightTest struct{ Open bool }

func (c *lightTest) isOpen() bool { return c.Open }

func (c *lightTest) finding(p *portState) finding { return finding{} }
