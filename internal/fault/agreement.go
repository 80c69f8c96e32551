package fault

import "fmt"

// seeAgreement takes how well the record and what is seen at the port agree on which run
// this is, and whether what is meant rests on the record at all.
func (t *Tracker) seeAgreement(f *finding) {
	p := f.port
	run := p.join.Run
	if f.kind == BelowDesignSpeed {
		_, by := p.meantBy()
		f.seen.see(notByRecord, by != byDesign && by != byDevice)
	}
	conflict, disputed := t.joined.Disputed(&p.join, p.ref)
	if run == nil {
		if disputed {
			f.evidence = append(f.evidence, fmt.Sprintf("Which run this is, is not known: %s.", conflict.Text))
		}
		return
	}
	switch {
	case p.join.Sure():
		f.seen.see(rowConfirmed, true)
		if _, may := f.prior.Prior.weights()[RecordWrong]; may {
			f.evidence = append(f.evidence, fmt.Sprintf("%s that this is run %s.", p.agrees(), run.ID))
		}
	case p.join.Named != "":
		f.seen.see(rowDisputed, true)
		f.evidence = append(f.evidence, fmt.Sprintf("The record says that this is run %s; the port's description says %s, which is in no row of the inventory.", run.ID, p.join.Named))
	case disputed:
		f.seen.see(rowDisputed, true)
		f.evidence = append(f.evidence, fmt.Sprintf("The record says that this is run %s, and is not sure: %s.", run.ID, conflict.Text))
	}
}

// agrees tells what says the same as the record.
func (p *portState) agrees() string {
	switch {
	case p.join.Described && p.join.Heard:
		return "The port's description and what it hears at the other end agree with the record"
	case p.join.Described:
		return "The port's description agrees with the record"
	}
	return "What the port hears at the other end agrees with the record"
}
