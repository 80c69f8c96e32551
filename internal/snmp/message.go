package snmp

import (
	"bytes"
	"math"
	"strconv"
	"strings"

	"github.com/gosnmp/gosnmp"
)

// write gives the SNMPv2c message of a request, as gosnmp makes it, in a place
// of an earlier one; list is room for its varbinds.
func (r *request) write(to, list []byte, community string, id uint32) (whole, room []byte) {
	list = list[:0]
	for _, name := range r.names {
		list = appendHead(list, gosnmp.Sequence, sized(len(name))+2)
		list = appendHead(list, gosnmp.ObjectIdentifier, len(name))
		list = append(list, name...)
		list = append(list, byte(gosnmp.Null), 0)
	}
	var numbers [3 * 8]byte
	head := appendInt(numbers[:0], id)
	head = appendInt(head, uint32(r.nonRepeaters))
	head = appendInt(head, uint32(r.repetitions))
	pdu := len(head) + sized(len(list))
	to = appendHead(to[:0], gosnmp.Sequence, 3+sized(len(community))+sized(pdu))
	to = append(to, byte(gosnmp.Integer), 1, byte(gosnmp.Version2c))
	to = append(appendHead(to, gosnmp.OctetString, len(community)), community...)
	to = append(appendHead(to, r.kind, pdu), head...)
	to = append(appendHead(to, gosnmp.Sequence, len(list)), list...)
	return to, list
}

// sized is how many octets a TLV takes with so much content.
func sized(n int) int {
	var head [4]byte
	return len(appendHead(head[:0], gosnmp.Null, n)) + n
}

// appendHead appends the tag and length of a TLV (X.690 8.1).
func appendHead[T ~byte](to []byte, tag T, n int) []byte {
	switch to = append(to, byte(tag)); {
	case n < 0x80:
		return append(to, byte(n))
	case n < 0x100:
		return append(to, 0x81, byte(n))
	}
	return append(to, 0x82, byte(n>>8), byte(n))
}

// appendInt appends an INTEGER in its shortest form (X.690 8.3).
func appendInt(to []byte, n uint32) []byte {
	octets := 1
	for rest := n >> 7; rest != 0; rest >>= 8 {
		octets++
	}
	to = append(to, byte(gosnmp.Integer), byte(octets))
	for octets--; octets >= 0; octets-- {
		to = append(to, byte(uint64(n)>>(8*octets)))
	}
	return to
}

// message is a decoded message, as far as it matters here. Its names and texts
// lie in the datagram that it was decoded from.
type message struct {
	version   gosnmp.SnmpVersion
	kind      gosnmp.PDUType
	requestID uint32
	msgID     uint32 // SNMPv3
	status    gosnmp.SNMPError
	position  uint8 // error-index
	flags     gosnmp.SnmpV3MsgFlags
	security  *gosnmp.UsmSecurityParameters // nil but for SNMPv3
	variables []varbind
}

// varbind is a name with its value; absent where the value can't be read or is none.
type varbind struct {
	name   []byte // octets of the object identifier in BER (X.690 8.19)
	kind   gosnmp.Asn1BER
	absent bool
	number uint64 // of an INTEGER in two's complement, a counter, a gauge, TimeTicks
	text   []byte // of an OCTET STRING; octets of an OBJECT IDENTIFIER
}

// read decodes an SNMPv2c response of a community without the garbage that
// gosnmp makes, which takes longer over it than the datagrams take. It knows
// well-formed responses only (RFC 3416 3, RFC 3417 8); where it gives false,
// gosnmp is to decide.
func (m *message) read(datagram []byte, community string) bool {
	body, rest, ok := take(datagram, byte(gosnmp.Sequence))
	version, body, ok2 := takeInt(body)
	name, body, ok3 := take(body, byte(gosnmp.OctetString))
	pdu, after, ok4 := take(body, byte(gosnmp.GetResponse))
	id, pdu, ok5 := takeInt(pdu)
	status, pdu, ok6 := takeInt(pdu)
	position, pdu, ok7 := takeInt(pdu)
	list, end, ok8 := take(pdu, byte(gosnmp.Sequence))
	if !(ok && ok2 && ok3 && ok4 && ok5 && ok6 && ok7 && ok8) || len(rest)+len(after)+len(end) > 0 ||
		version != 1 || string(name) != community || uint64(status) > math.MaxUint8 || uint64(position) > math.MaxUint8 {
		return false
	}
	*m = message{
		version: gosnmp.Version2c, kind: gosnmp.GetResponse, requestID: uint32(id),
		status: gosnmp.SNMPError(status), position: uint8(position), variables: m.variables[:0],
	}
	for len(list) > 0 {
		var pair []byte
		var v varbind
		if pair, list, ok = take(list, byte(gosnmp.Sequence)); !ok || !v.read(pair) {
			return false
		}
		m.variables = append(m.variables, v)
	}
	return true
}

func (v *varbind) read(pair []byte) bool {
	name, pair, ok := take(pair, byte(gosnmp.ObjectIdentifier))
	if !ok || !isName(name) || len(pair) == 0 {
		return false
	}
	content, rest, ok := take(pair, pair[0])
	*v = varbind{name: name, kind: gosnmp.Asn1BER(pair[0])}
	if len(content) == 0 && isNumber(v.kind) {
		v.absent = true
		return ok && len(rest) == 0
	}
	switch v.kind {
	case gosnmp.Integer:
		n, _, fits := takeInt(pair)
		v.number = uint64(n)
		ok = ok && fits
	case gosnmp.Counter32, gosnmp.Gauge32, gosnmp.TimeTicks, gosnmp.Counter64:
		v.number, ok = natural(content)
		ok = ok && (v.kind == gosnmp.Counter64 || v.number <= math.MaxUint32)
	case gosnmp.OctetString:
		v.text = content
	case gosnmp.ObjectIdentifier:
		v.text = content
		ok = ok && isName(content)
	case gosnmp.Null, gosnmp.NoSuchObject, gosnmp.NoSuchInstance, gosnmp.EndOfMibView:
		v.absent = true
		ok = ok && len(content) == 0
	default:
		return false
	}
	return ok && len(rest) == 0
}

func isNumber(kind gosnmp.Asn1BER) bool {
	switch kind {
	case gosnmp.Integer, gosnmp.Counter32, gosnmp.Gauge32, gosnmp.TimeTicks, gosnmp.Counter64:
		return true
	}
	return false
}

// take gives the content of the TLV with a tag that b starts with, and what
// follows it (X.690 8.1).
func take(b []byte, tag byte) (content, rest []byte, ok bool) {
	if len(b) < 2 || b[0] != tag {
		return nil, nil, false
	}
	n, head := int(b[1]), 2
	if n >= 0x80 {
		octets := n & 0x7f
		if head += octets; octets == 0 || octets > 3 || len(b) < head {
			return nil, nil, false
		}
		n = 0
		for _, octet := range b[2:head] {
			n = n<<8 | int(octet)
		}
	}
	if len(b)-head < n {
		return nil, nil, false
	}
	return b[head : head+n : head+n], b[head+n:], true
}

// takeInt does so for an INTEGER of up to 8 octets.
func takeInt(b []byte) (n int64, rest []byte, ok bool) {
	content, rest, ok := take(b, byte(gosnmp.Integer))
	if !ok || len(content) == 0 || len(content) > 8 {
		return 0, nil, false
	}
	n = int64(int8(content[0]))
	for _, octet := range content[1:] {
		n = n<<8 | int64(octet)
	}
	return n, rest, true
}

// natural reads an unsigned number.
func natural(content []byte) (n uint64, ok bool) {
	if len(content) == 0 || len(content) > 9 || len(content) == 9 && content[0] != 0 {
		return 0, false
	}
	for _, octet := range content {
		n = n<<8 | uint64(octet)
	}
	return n, true
}

// isName tells whether octets are an object identifier of arcs up to 32 bits,
// each in its shortest form (X.690 8.19).
func isName(octets []byte) bool {
	arc := uint64(0)
	start := true
	for _, octet := range octets {
		if start && octet == 0x80 {
			return false
		}
		arc = arc<<7 | uint64(octet&0x7f)
		if arc > math.MaxUint32 {
			return false
		}
		if start = octet < 0x80; start {
			arc = 0
		}
	}
	return start && len(octets) > 0
}

// cutArc gives the first arc of an object identifier's octets, and the rest.
func cutArc(octets []byte) (arc uint32, rest []byte, ok bool) {
	for i, octet := range octets {
		arc = arc<<7 | uint32(octet&0x7f)
		if octet < 0x80 {
			return arc, octets[i+1:], true
		}
	}
	return 0, nil, false
}

// appendArc is the reverse.
func appendArc(octets []byte, arc uint32) []byte {
	for shift := 28; shift > 0; shift -= 7 {
		if arc>>shift != 0 {
			octets = append(octets, byte(arc>>shift)|0x80)
		}
	}
	return append(octets, byte(arc&0x7f))
}

// nameOf gives the octets of a dotted name; of one arc less where it ends in a
// dot. Names that aren't any give none.
func nameOf(dotted string) []byte {
	octets := make([]byte, 0, len(dotted)/2)
	first, number := uint32(0), 0
	for text := range strings.SplitSeq(strings.Trim(dotted, "."), ".") {
		n, err := strconv.ParseUint(text, 10, 32)
		if err != nil {
			return nil
		}
		switch number++; number {
		case 1:
			first = uint32(n)
		case 2:
			octets = appendArc(octets, first*40+uint32(n))
		default:
			octets = appendArc(octets, uint32(n))
		}
	}
	return octets
}

// dotted gives a name as people write it, with a dot before.
func dotted(octets []byte) string {
	first, rest, ok := cutArc(octets)
	if !ok {
		return ""
	}
	top := min(first/40, 2)
	out := strconv.AppendUint([]byte{'.'}, uint64(top), 10)
	for arc := first - top*40; ok; arc, rest, ok = cutArc(rest) {
		out = strconv.AppendUint(append(out, '.'), uint64(arc), 10)
	}
	return string(out)
}

// follows tells whether one object's name comes after another in the order of
// RFC 3416 (2.1).
func follows(name, other []byte) bool {
	for len(name) > 0 && len(other) > 0 {
		var a, b uint32
		a, name, _ = cutArc(name)
		b, other, _ = cutArc(other)
		if a != b {
			return a > b
		}
	}
	return len(name) > 0
}

// convert takes over what gosnmp decoded.
func (m *message) convert(p *gosnmp.SnmpPacket) {
	security, _ := p.SecurityParameters.(*gosnmp.UsmSecurityParameters)
	*m = message{
		version: p.Version, kind: p.PDUType, requestID: p.RequestID, msgID: p.MsgID, status: p.Error, position: p.ErrorIndex,
		flags: p.MsgFlags, security: security, variables: m.variables[:0],
	}
	for _, v := range p.Variables {
		m.variables = append(m.variables, converted(v))
	}
}

func converted(p gosnmp.SnmpPDU) varbind {
	v := varbind{name: nameOf(p.Name), kind: p.Type}
	switch n := p.Value.(type) {
	case int:
		v.number = uint64(n)
	case uint:
		v.number = uint64(n)
	case uint32:
		v.number = uint64(n)
	case uint64:
		v.number = n
	case []byte:
		v.text = n
	case string:
		v.text = []byte(n)
		if p.Type == gosnmp.ObjectIdentifier {
			v.text = nameOf(n)
		}
	default:
		v.absent = true
	}
	return v
}

// octets is about how many octets a varbind takes in a message.
func (v *varbind) octets() int { return 6 + len(v.name) + max(len(v.text), 3) }

// is tells whether a varbind has a name.
func (v *varbind) is(name []byte) bool { return bytes.Equal(v.name, name) }
