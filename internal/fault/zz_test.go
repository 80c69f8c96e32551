package fault
import ("testing";"fmt")
func TestZZ(t *testing.T) {
	p := newPlantedPlant(t, 1000, 0)
	faulty, planted := p.plant(1)
	n:=0; for _,f:=range faulty {if f {n++}}
	snap := p.play(faulty)
	fmt.Println(n, planted, len(snap.Faults), len(snap.Joined.Joins), snap.Shared, p.tracker.untried)
	for _, f := range snap.Faults[:3] { fmt.Printf("%+v\n", f)}
	fmt.Printf("%+v\n", snap.States())
	m := &p.tracker.shared.media[0]
	f := p.tracker.fit(m, nil)
	fmt.Println(f.members, f.faulty, len(m.names), f.causes)
}
