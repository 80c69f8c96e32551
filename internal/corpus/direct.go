package corpus

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/standards"
)

// PlayDirect plays a scenario through a fault.Tracker, which is so often put
// away and restored from what it remembers, as the daemon does at a restart.
func (s *Scenario) PlayDirect(begin time.Time, inventory *plant.Plant, restarts int) (*Log, error) {
	stage, err := s.Stage(begin)
	if err != nil {
		return nil, err
	}
	log := &Log{Causes: true, FaultsOnly: restarts > 0} // silence is counted from a start
	d := &direct{stage: stage, inventory: inventory, log: log}
	d.begin()
	next := s.Length
	if restarts > 0 {
		next = s.Length / time.Duration(restarts+1)
	}
	for at, due := time.Duration(0), next; at <= s.Length; at += s.Every {
		if at >= due && at < s.Length {
			due += next
			if err := d.restart(begin.Add(at)); err != nil {
				return nil, err
			}
		}
		for i, sw := range stage.Campus.Switches() {
			d.poll(sw, begin.Add(at+time.Duration(i)*s.Every/time.Duration(len(s.Switches))))
		}
	}
	return log, nil
}

// direct is a tracker beside a stage.
type direct struct {
	stage     *Stage
	inventory *plant.Plant
	tracker   *fault.Tracker
	readers   map[string]*reader
	log       *Log
}

// begin makes a tracker that has heard of nothing.
func (d *direct) begin() {
	s := d.stage.scenario
	settings := fault.Settings{PollEvery: s.Every, SlowEvery: s.SlowEvery, FalseAlarmsPerWeek: 1}
	d.readers = map[string]*reader{}
	for i := range s.Switches {
		sw := d.stage.Campus.Switch(s.Switches[i].Name)
		settings.Switches = append(settings.Switches, fault.SwitchSettings{Name: sw.Name, Space: sw.Space})
		d.readers[sw.Name] = &reader{stage: d.stage, sw: sw, slowEvery: s.SlowEvery}
	}
	d.tracker = fault.NewTracker(d.inventory, settings)
}

// restart begins anew with what the tracker remembers.
func (d *direct) restart(now time.Time) error {
	var file bytes.Buffer
	r, err := fault.NewRecorder(&file, now)
	if err != nil {
		return err
	}
	names, err := r.Begin(d.tracker)
	for i := 0; err == nil && i < len(names); i++ {
		err = r.Switch(d.tracker, names[i])
	}
	if err = errors.Join(err, r.Close()); err != nil {
		return err
	}
	c, err := fault.ReadCheckpoint(&file)
	if err != nil {
		return err
	}
	d.begin()
	_, err = d.tracker.Restore(c, now)
	return err
}

func (d *direct) poll(sw *sim.Switch, now time.Time) {
	d.stage.Pass(now)
	snap := (*fault.Snapshot)(nil)
	if d.stage.Reached(now)[sw] {
		snap = d.tracker.Answered(sw.Name, d.readers[sw.Name].poll(now))
	} else {
		snap = d.tracker.Failed(sw.Name, now, "no answer", errors.New("no answer"))
	}
	if snap.Tried() { // a restart is no end of what is open
		d.log.See(now.Sub(d.stage.begin), sightsOf(snap, d.log.FaultsOnly))
	}
}

// sightsOf are what a snapshot holds open.
func sightsOf(snap *fault.Snapshot, faultsOnly bool) (sights []Sight) {
	for _, f := range snap.Faults {
		sights = append(sights, SightOf(f))
	}
	for _, c := range snap.Shared {
		sights = append(sights, Sight{Subject: c.SharedName.String(), Kind: SharedCause, Alarm: true})
	}
	for _, sw := range snap.Switches {
		if sw.Told() && !faultsOnly {
			sights = append(sights, Sight{Subject: sw.Name, Kind: NotAnswering, Alarm: true})
		}
	}
	return sights
}

// SightOf is a fault as a log has it.
func SightOf(f *fault.Fault) Sight {
	sight := Sight{Subject: cmp.Or(f.Run, f.Switch+" "+f.Port), Kind: string(f.Kind), Alarm: f.Alarm}
	for _, c := range f.Causes {
		sight.Causes = append(sight.Causes, string(c.Cause))
	}
	return sight
}

// reader makes polls of a switch from the model's values, by the meanings of
// the objects that package port names.
type reader struct {
	stage     *Stage
	sw        *sim.Switch
	slowEvery time.Duration
	details   *port.Details
	uptime    time.Duration // at the last poll
	last      []int         // the links' speeds then
}

// links are the speeds of the ports' links. Where they change, what changes
// seldom is asked at once.
func (r *reader) links() (speeds []int) {
	for _, p := range r.sw.Present() {
		speed, _ := p.Link()
		speeds = append(speeds, speed)
	}
	return speeds
}

func (r *reader) poll(now time.Time) port.Poll {
	engine := r.sw.Engine(now)
	poll := port.Poll{
		At: now, Uptime: ticks(engine.Up), Name: r.sw.Name, Engine: fmt.Sprintf("%x", engine.ID),
	}
	indexes := map[*sim.Port]int{}
	for _, p := range r.sw.Present() {
		indexes[p] = r.sw.IfIndex(p)
	}
	booted := now.Add(-engine.Up).Sub(r.stage.begin)
	r.stage.Campus.Do(now, func() {
		for _, p := range r.sw.Present() {
			reading := readingOf(p, indexes[p], booted)
			reading.At, reading.Uptime = now, poll.Uptime
			poll.Ports = append(poll.Ports, reading)
		}
		links := r.links()
		if r.details == nil || now.Sub(r.details.At) >= r.slowEvery || engine.Up < r.uptime || !slices.Equal(links, r.last) {
			r.details = r.ask(now, indexes)
		}
		r.last = links
	})
	r.uptime, poll.Details = engine.Up, r.details
	return poll
}

func ticks(d time.Duration) port.Value[uint32] {
	return port.Some(uint32(max(d, 0) / (10 * time.Millisecond)))
}

// readingOf is a port's reading, but for its time; booted is when its switch
// did, since the start.
func readingOf(p *sim.Port, index int, booted time.Duration) port.Reading {
	speed, half := p.Link()
	r := port.Reading{
		Index: index, Name: p.Name, Alias: p.Alias, Type: 6, Connector: port.Yes, // ethernetCsmacd
		Admin: port.Up, Oper: port.Down, HighSpeed: port.Some(uint32(speed)), LastChange: ticks(p.Changed() - booted),
	}
	if p.Shut {
		r.Admin = port.Down
	}
	if speed > 0 {
		r.Oper, r.DuplexStatus = port.Up, standards.FullDuplex
		if half {
			r.DuplexStatus = standards.HalfDuplex
		}
		phy := cmp.Or(p.Optic, copperPHYs[speed])
		r.MAU = mauNumber(phy, r.DuplexStatus)
	}
	if p.Media == sim.Copper {
		r.AutoNeg = negotiation(p)
	}
	r.Counters = countersOf(p.Counters())
	return r
}

// mauNumbers are those asked for before.
var mauNumbers sync.Map

func mauNumber(phy string, d standards.Duplex) int {
	type key struct {
		phy string
		d   standards.Duplex
	}
	if known, ok := mauNumbers.Load(key{phy, d}); ok {
		return known.(int)
	}
	n, _ := standards.MAUNumber(phy, d)
	mauNumbers.Store(key{phy, d}, n)
	return n
}

var copperPHYs = map[int]string{
	10: "10BASE-T", 100: "100BASE-TX", 1000: "1000BASE-T", 2500: "2.5GBASE-T", 5000: "5GBASE-T", 10000: "10GBASE-T",
}

func negotiation(p *sim.Port) port.AutoNegotiation {
	offers, hears := p.Negotiated()
	a := port.AutoNegotiation{Supported: port.Yes, Enabled: port.Yes, Capable: abilities(p.Speeds), Advertised: abilities(offers)}
	if p.Fixed > 0 {
		a.Enabled = port.No
	}
	a.Received = abilities(hears)
	return a
}

// abilitiesOf are those of lists of speeds seen before.
var abilitiesOf sync.Map

func abilities(speeds []int) port.Value[standards.Abilities] {
	var key [8]int
	copy(key[:], speeds)
	if known, ok := abilitiesOf.Load(key); ok {
		return known.(port.Value[standards.Abilities])
	}
	made := newAbilities(speeds)
	abilitiesOf.Store(key, made)
	return made
}

func newAbilities(speeds []int) port.Value[standards.Abilities] {
	var modes []string
	for _, speed := range speeds {
		modes = append(modes, map[int][]string{
			10: {"10BASE-T half duplex", "10BASE-T full duplex"}, 100: {"100BASE-TX half duplex", "100BASE-TX full duplex"}, 1000: {"1000BASE-T full duplex"}, 10000: {"10GBASE-T"}, // 2.5 and 5 Gb/s have no bits
		}[speed]...)
	}
	a, ok := standards.AbilitiesOf(modes...)
	if !ok {
		panic(fmt.Sprintf("no abilities of %v", modes))
	}
	return port.Some(a)
}

func countersOf(c sim.Counters) (out port.Counters) {
	for k, v := range map[port.Counter]uint64{
		port.InOctets: c.InOctets, port.InUnicast: c.In[0], port.InMulticast: c.In[1], port.InBroadcast: c.In[2],
		port.OutOctets: c.OutOctets, port.OutUnicast: c.Out[0], port.OutMulticast: c.Out[1], port.OutBroadcast: c.Out[2],
	} {
		out.Set64(k, v)
	}
	for k, v := range map[port.Counter]uint64{
		port.InErrors: c.InErrors(), port.OutErrors: c.OutErrors(), port.FCS: c.FCS, port.Alignment: c.Alignment, port.Symbol: c.Symbol,
		port.TooLong: c.TooLong, port.InternalReceive: c.InternalRx, port.InternalTransmit: c.InternalTx,
		port.LateCollisions: c.Late, port.ExcessiveCollisions: c.Excessive, port.SingleCollisions: c.SingleCollision,
		port.MultipleCollisions: c.MultipleCollision, port.CarrierSense: c.Carrier, port.MediaExits: c.Exits,
	} {
		out.Set32(k, uint32(v))
	}
	return out
}

// ask gives what changes seldom: whom the ports hear.
func (r *reader) ask(now time.Time, indexes map[*sim.Port]int) *port.Details {
	d := &port.Details{At: now, Chassis: chassis(r.sw), Units: []port.Unit{{Serial: r.sw.Serial(1), Position: 1}}}
	d.Optics = map[int]*port.Optic{}
	for p, index := range indexes {
		if senses, ok := p.Senses(); ok {
			d.Optics[index] = opticOf(p.Module(), senses)
		}
	}
	if r.sw.Watts() > 0 {
		d.Power = map[int]port.Power{}
		for p, index := range indexes {
			if p.Media == sim.Copper {
				d.Power[index] = powerOf(p.Feed())
			}
		}
	}
	for _, p := range r.sw.Present() {
		if speed, _ := p.Link(); speed > 0 {
			if n, heard := heardAt(p, r.stage.Campus.Cable(p)); heard {
				n.Index = indexes[p]
				d.Neighbours = append(d.Neighbours, n)
			}
		}
	}
	return d
}

// heardAt is whom a port hears over its cable.
func heardAt(p *sim.Port, cable *sim.Cable) (n port.Neighbour, heard bool) {
	switch {
	case cable == nil:
	case cable.B != nil:
		far := cable.B
		if far == p {
			far = cable.A
		}
		return port.Neighbour{
			Chassis: chassis(far.Switch()), Port: port.ID{Kind: port.IDName, Text: far.Name},
			System: far.Switch().Name, Roles: port.Roles(0).With(port.Bridge),
		}, true
	case cable.Device != nil && cable.Device.LLDP:
		device := cable.Device
		n = port.Neighbour{Chassis: address(device.Name), Port: address(device.Name), System: device.Name}
		if p.Media == sim.Copper && device.Fixed == 0 {
			n.Offered = abilities(device.Speeds)
		}
		return n, true
	}
	return n, false
}

func opticOf(m *sim.Module, s sim.Senses) *port.Optic {
	out := &port.Optic{Serial: m.Serial, Model: m.Model, Celsius: port.Some(s.Celsius)}
	for i := range s.SentDBm {
		out.Lanes = append(out.Lanes, port.Lane{
			Received: port.Some(port.Light(s.ReceivedDBm[i])), Sent: port.Some(port.Light(s.SentDBm[i])), BiasMA: port.Some(s.BiasMA[i]),
		})
	}
	return out
}

func powerOf(f sim.Feed) port.Power {
	some := func(n uint64) port.Value[uint32] { return port.Some(uint32(n)) }
	out := port.Power{
		Enabled: port.Yes, Status: port.PowerStatus(f.Status), Class: port.Some(f.Class),
		Absent: some(f.Absent), Invalid: some(f.Invalid), Denied: some(f.Denied), Overloads: some(f.Overload), Shorts: some(f.Short),
	}
	if f.Status == sim.FeedDisabled {
		out.Enabled = port.No
	}
	return out
}

func chassis(sw *sim.Switch) port.ID { return address(sw.Serial(1)) }

// address is a MAC address made from a name.
func address(name string) port.ID {
	var sum [5]byte
	for i, c := range []byte(strings.ToLower(name)) {
		sum[i%len(sum)] = sum[i%len(sum)]*31 + c
	}
	return port.ID{Kind: port.IDMAC, Text: fmt.Sprintf("02:%02x:%02x:%02x:%02x:%02x", sum[0], sum[1], sum[2], sum[3], sum[4])}
}

// Readings gives what a switch of a campus that began at a time answers, without a
// network.
func Readings(campus *sim.Campus, begin time.Time, sw *sim.Switch, slowEvery time.Duration) Asker {
	r := &reader{stage: &Stage{Campus: campus, begin: begin}, sw: sw, slowEvery: slowEvery}
	return func(now time.Time) (port.Poll, error) { return r.poll(now), nil }
}

// Watch has a tracker read every switch of a campus for so long, without a network,
// and gives what it shows then.
func Watch(campus *sim.Campus, begin time.Time, inventory *plant.Plant, settings fault.Settings, lasts time.Duration) *fault.Snapshot {
	stage := &Stage{Campus: campus, begin: begin}
	var readers []*reader
	for _, sw := range campus.Switches() {
		settings.Switches = append(settings.Switches, fault.SwitchSettings{Name: sw.Name, Space: sw.Space})
		readers = append(readers, &reader{stage: stage, sw: sw, slowEvery: settings.SlowEvery})
	}
	tracker := fault.NewTracker(inventory, settings)
	for at := time.Duration(0); at <= lasts; at += settings.PollEvery {
		for i, r := range readers {
			tracker.Take(r.sw.Name, r.poll(begin.Add(at+time.Duration(i)*settings.PollEvery/time.Duration(len(readers)))))
		}
	}
	return tracker.Snapshot()
}
