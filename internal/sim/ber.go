package sim

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Tags of the types that SNMP uses (RFC 3416 section 3).
const (
	TagInteger        byte = 0x02
	TagOctetString    byte = 0x04
	TagNull           byte = 0x05
	TagObjectID       byte = 0x06
	TagSequence       byte = 0x30
	TagIPAddress      byte = 0x40
	TagCounter32      byte = 0x41
	TagGauge32        byte = 0x42
	TagTimeTicks      byte = 0x43
	TagCounter64      byte = 0x46
	TagNoSuchObject   byte = 0x80
	TagNoSuchInstance byte = 0x81
	TagEndOfMibView   byte = 0x82
)

// OID is an object identifier, one number an arc.
type OID []uint32

// ParseOID reads "1.3.6.1", with or without a leading dot; it panics on
// anything else, since OIDs stand in code.
func ParseOID(s string) OID {
	var oid OID
	for _, arc := range strings.Split(strings.TrimPrefix(s, "."), ".") {
		n, err := strconv.ParseUint(arc, 10, 32)
		if err != nil {
			panic(fmt.Sprintf("object identifier %q: %v", s, err))
		}
		oid = append(oid, uint32(n))
	}
	return oid
}

// String gives the dotted form without a leading dot.
func (o OID) String() string {
	arcs := make([]string, len(o))
	for i, arc := range o {
		arcs[i] = strconv.FormatUint(uint64(arc), 10)
	}
	return strings.Join(arcs, ".")
}

// Value is the value of one variable. Number holds integers (a negative
// INTEGER in two's complement), Text octet strings and addresses, Object
// object identifiers; the exceptions and null hold nothing.
type Value struct {
	Tag    byte
	Number uint64
	Text   []byte
	Object OID
}

// Integer, Counter32 (wraps at 2^32), Counter64, Gauge32 (saturates), Ticks
// (hundredths of a second, wraps at 2^32), Octets and ObjectID make values.
func Integer(n int64) Value    { return Value{Tag: TagInteger, Number: uint64(n)} }
func Counter32(n uint64) Value { return Value{Tag: TagCounter32, Number: n & 0xffffffff} }
func Counter64(n uint64) Value { return Value{Tag: TagCounter64, Number: n} }
func Gauge32(n uint64) Value   { return Value{Tag: TagGauge32, Number: min(n, 0xffffffff)} }
func Octets(s string) Value    { return Value{Tag: TagOctetString, Text: []byte(s)} }
func ObjectID(o OID) Value     { return Value{Tag: TagObjectID, Object: o} }
func Ticks(d time.Duration) Value {
	return Value{Tag: TagTimeTicks, Number: uint64(d/(10*time.Millisecond)) & 0xffffffff}
}

var errBER = errors.New("not a well-formed BER encoding")

// take splits the first type-length-value off b.
func take(b []byte) (tag byte, content, rest []byte, err error) {
	if len(b) < 2 {
		return 0, nil, nil, errBER
	}
	length, at := int(b[1]), 2
	if length > 0x7f {
		octets := length & 0x7f
		if octets == 0 || octets > 4 || len(b) < 2+octets {
			return 0, nil, nil, errBER
		}
		length, at = 0, 2+octets
		for _, o := range b[2:at] {
			length = length<<8 | int(o)
		}
	}
	if length > len(b)-at {
		return 0, nil, nil, errBER
	}
	return b[0], b[at : at+length], b[at+length:], nil
}

// want is take of a given type.
func want(b []byte, tag byte) (content, rest []byte, err error) {
	got, content, rest, err := take(b)
	if err == nil && got != tag {
		err = errBER
	}
	return content, rest, err
}

// wantInt takes an INTEGER of at most 8 octets.
func wantInt(b []byte) (n int64, rest []byte, err error) {
	content, rest, err := want(b, TagInteger)
	if err != nil || len(content) == 0 || len(content) > 8 {
		return 0, nil, errBER
	}
	return signed(content), rest, nil
}

func signed(content []byte) int64 {
	n := int64(int8(content[0]))
	for _, o := range content[1:] {
		n = n<<8 | int64(o)
	}
	return n
}

func readOID(content []byte) (OID, error) {
	if len(content) == 0 || content[len(content)-1]&0x80 != 0 {
		return nil, errBER
	}
	oid := make(OID, 1, len(content)+1)
	arc := uint64(0)
	for _, o := range content {
		if arc = arc<<7 | uint64(o&0x7f); arc > 0xffffffff {
			return nil, errBER
		}
		if o&0x80 == 0 {
			oid, arc = append(oid, uint32(arc)), 0
		}
	}
	// X.690 8.19.4: the first subidentifier is 40 times arc one plus arc two.
	oid[0] = min(oid[1]/40, 2)
	oid[1] -= 40 * oid[0]
	return oid, nil
}

// readValue reads the value of a variable; one of an unknown type is kept as octets.
func readValue(tag byte, content []byte) (Value, error) {
	v := Value{Tag: tag}
	var err error
	switch tag {
	case TagInteger, TagCounter32, TagGauge32, TagTimeTicks, TagCounter64:
		if len(content) == 0 || len(content) > 9 {
			return v, errBER
		}
		v.Number = uint64(signed(content))
	case TagObjectID:
		v.Object, err = readOID(content)
	default:
		v.Text = slices.Clone(content)
	}
	return v, err
}

func appendHeader(dst []byte, tag byte, length int) []byte {
	switch {
	case length < 0x80:
		return append(dst, tag, byte(length))
	case length < 0x100:
		return append(dst, tag, 0x81, byte(length))
	case length < 0x10000:
		return append(dst, tag, 0x82, byte(length>>8), byte(length))
	default:
		return append(dst, tag, 0x83, byte(length>>16), byte(length>>8), byte(length))
	}
}

func appendTLV(dst []byte, tag byte, content []byte) []byte {
	return append(appendHeader(dst, tag, len(content)), content...)
}

// appendInt writes n in the fewest octets (X.690 8.3.2).
func appendInt(dst []byte, tag byte, n int64) []byte {
	octets := 1
	for m := n; m > 127 || m < -128; m >>= 8 {
		octets++
	}
	dst = append(dst, tag, byte(octets))
	for shift := 8 * (octets - 1); shift >= 0; shift -= 8 {
		dst = append(dst, byte(n>>shift))
	}
	return dst
}

// appendUint is appendInt for the unsigned types, up to 2^64-1.
func appendUint(dst []byte, tag byte, n uint64) []byte {
	if n <= 1<<63-1 {
		return appendInt(dst, tag, int64(n))
	}
	dst = append(dst, tag, 9, 0)
	for shift := 56; shift >= 0; shift -= 8 {
		dst = append(dst, byte(n>>shift))
	}
	return dst
}

func appendOID(dst []byte, oid OID) []byte {
	var buf [160]byte
	content := buf[:0]
	for i, arc := range oid {
		switch i {
		case 0:
			continue
		case 1:
			arc += 40 * oid[0]
		}
		for shift := 28; shift > 0; shift -= 7 {
			if arc>>shift != 0 {
				content = append(content, byte(arc>>shift)|0x80)
			}
		}
		content = append(content, byte(arc&0x7f))
	}
	return appendTLV(dst, TagObjectID, content)
}

func (v Value) append(dst []byte) []byte {
	switch v.Tag {
	case TagInteger:
		return appendInt(dst, v.Tag, int64(v.Number))
	case TagCounter32, TagGauge32, TagTimeTicks, TagCounter64:
		return appendUint(dst, v.Tag, v.Number)
	case TagObjectID:
		return appendOID(dst, v.Object)
	default:
		return appendTLV(dst, v.Tag, v.Text)
	}
}
