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
//	usm.go        SNMPv3's user-based security model: RFC 3412, RFC 3414
//	user.go       its users, keys and ciphers: RFC 3414, RFC 3826, RFC 7860
//	pdu.go        GET, GETNEXT, GETBULK by RFC 3416; a Set is refused and counted
//	ber.go        the encoding: X.690 as RFC 3417 section 8 narrows it
//	mib.go        what an agent serves: columns, rows, and a View of one moment
//	switchmib.go  the columns of a simulated switch
//	switch.go     a switch and its ports: administration, restart, renumbering
//	cable.go      a run between two ends: pairs, bit errors, link, negotiation
//	device.go     what hangs at a run's far end
//	traffic.go    what frames the devices send, and how chance is drawn
//	campus.go     all of it on one clock; the only mutex
//	ferrow.go     Ferrow Quay College: rooms, switches, devices
//	planted.go    its faults, and the answer book about them
//	inventory.go  its plant.yml and runs.csv, as far as its people kept them
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
// To change something while it runs, mutate cables and ports inside Campus.Do.
package sim
