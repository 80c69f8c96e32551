// Package sim is switches and cables that do not exist: an SNMP agent on
// loopback UDP over a physical model of a campus and its faults.
//
// It imports nothing else of this repository and speaks SNMP with a codec of
// its own, so that one wrong number, or one wrong octet, cannot agree with
// itself. Only the localisation of SNMPv3 keys is gosnmp's.
//
// From the wire to the copper, a file each:
//
//	agent.go      Listen, Serve: datagrams in and out, the tests' Mangle hook
//	wire.go       plays for that hook: lost, late, doubled, cut, capped, cyclic, ...
//	usm.go        SNMPv3's user-based security model: RFC 3412, RFC 3414
//	user.go       its users, keys and ciphers: RFC 3414, RFC 3826, RFC 7860
//	pdu.go        GET, GETNEXT, GETBULK by RFC 3416; a Set is refused and counted
//	ber.go        the encoding: X.690 as RFC 3417 section 8 narrows it
//	mib.go        what an agent serves: columns, rows, and a View of one moment
//	layout.go     which tables and rows a simulated switch has
//	moment.go     what its interfaces are at one moment
//	switchmib.go  the columns of IF-MIB, EtherLike-MIB and MAU-MIB
//	rmon.go       those of RMON-MIB's probes
//	entity.go     ENTITY-MIB: stack, chassis, ports, optics and their sensors
//	sensor.go     ENTITY-SENSOR-MIB: what those sensors say, and in which scales
//	powermib.go   POWER-ETHERNET-MIB: the ports that feed their far ends
//	lldpmib.go    the LLDP-MIB and its 802.3 part
//	lldp.go       what the ends of a link say to each other, and how it ages
//	quirks.go     how switches differ from the letter of their MIBs
//	switch.go     a switch and its ports: administration, restart, renumbering
//	chassis.go    its hardware: replaced, swapped, lost, without power
//	cable.go      a run between two ends: pairs, bit errors, link, negotiation
//	copper.go     what length, heat, damp, defects, cords and bundles do to the pairs
//	illness.go    ports and devices that are at fault themselves
//	optic.go      the modules of fibre ports: what they send, how they wear
//	light.go      what is left of the light at the far end, and the errors for want of it
//	power.go      power over the pairs: what is fed, refused, shorted
//	duplex.go     half duplex, and what two ends that differ in it do to each other
//	device.go     what hangs at a run's far end
//	cutthrough.go switches that pass damaged frames on
//	events.go     what is planned to happen: firmware rounds, patch evenings, nights
//	traffic.go    what frames the devices send, and how chance is drawn
//	campus.go     all of it on one clock; the only mutex
//	ferrow.go     Ferrow Quay College: rooms, switches, devices
//	planted.go    its faults, and the answer book about them
//	inventory.go  its plant.yml and sheets, as far as its people kept them
//	misrecorded.go what they got wrong in them, and the answer book about it
//	workshop.go   a building whose switches nobody can ask, with more of that
//	certified.go  tests.csv: acceptance tests, by a model of links as laid
//	records.go    the same kept worse on purpose, and the truth about each record
//	quayside.go   a small annexe whose access switches hang on one other
//
// A campus, its switches and cables take the time as an argument and draw from
// a seed: the model advances on a fixed grid of steps, so that the same seed
// gives the same counters however often anybody asks. Nothing here reads the
// clock except an Agent, through its Now field.
//
// To serve a campus:
//
//	campus := sim.FerrowQuay(1, time.Now())
//	for _, s := range campus.Switches() {
//		agent, err := sim.Listen("127.0.0.1:0", s, sim.Security{Communities: []string{"quay"}})
//		...
//		go agent.Serve(ctx)
//	}
//
// To change something while it runs, mutate cables and ports inside Campus.Do;
// a plug put elsewhere loses its link first. Switch has methods for what happens
// to hardware: Restart, Replace, Renumber, SwapMembers, LoseMember, Power,
// ClearCounters, SetQuirks, Hide; Port has Pull and Insert for its optic. To let an agent fall silent, use Agent.Mute;
// to let one misbehave,
//
//	agent.Mangle = sim.Compose(sim.Lossy(0.3, 1), sim.Capped(10))
package sim
