package sim

// etherStats is RMON-MIB's etherStatsTable (RFC 2819 section 5): a probe at
// each port counts what the port receives, bad frames included. Its index is
// its own; the data source is the OID of an ifIndex. An object of 1 to 21 not
// here is one that this agent does not keep.
var etherStats = map[uint32]func(*iface) Value{
	1: func(i *iface) Value { return Integer(int64(i.probe)) },
	2: func(i *iface) Value { return ObjectID(append(ParseOID("1.3.6.1.2.1.2.2.1.1"), uint32(i.index))) },
	3: zero32, // no frame is dropped for want of resources
	4: func(i *iface) Value { return Counter32(i.ether.InOctets + i.ether.BadOctets) },
	5: func(i *iface) Value {
		n := i.ether.In
		return Counter32(n[unicast] + n[multicast] + n[broadcast] + i.ether.InErrors() + i.ether.Fragments)
	},
	6:  func(i *iface) Value { return Counter32(i.ether.In[broadcast]) }, // good frames only
	7:  func(i *iface) Value { return Counter32(i.ether.In[multicast]) },
	8:  func(i *iface) Value { return Counter32(i.ether.FCS + i.ether.Alignment) }, // 64 to 1518 octets, bad FCS
	9:  zero32,                                                                     // nobody sends short frames with a good FCS,
	10: zero32,                                                                     // nor longer ones than 1518
	11: func(i *iface) Value { return Counter32(i.ether.Fragments) },
	12: zero32,
	13: func(i *iface) Value {
		return Counter32(i.ether.SingleCollision + i.ether.MultipleCollision + i.ether.Late)
	},
}
