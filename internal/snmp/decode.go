package snmp

import (
	"cmp"
	"errors"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/gosnmp/gosnmp"
)

// index is a row's instance. The zero value comes before every row.
type index struct {
	port uint32 // ifIndex + 1
	mau  uint32 // ifMauIndex where the table has it
}

func (i index) compare(other index) int {
	return cmp.Or(cmp.Compare(i.port, other.port), cmp.Compare(i.mau, other.mau))
}

func (i index) after(other index) bool { return i.compare(other) > 0 }

func earlier(i, other index) index {
	if i.after(other) {
		return other
	}
	return i
}

// value is a decoded value; which field counts follows from the column's type.
type value struct {
	number uint64
	text   string
}

// decode gives a varbind's value; false where there is none, or one of
// another type than the column's, which is as good as none.
func decode(v gosnmp.SnmpPDU, kind gosnmp.Asn1BER) (value, bool) {
	if v.Type != kind {
		return value{}, false
	}
	switch n := v.Value.(type) {
	case int:
		return value{number: uint64(n)}, n >= 0
	case uint:
		return value{number: uint64(n)}, true
	case uint32:
		return value{number: uint64(n)}, true
	case uint64:
		return value{number: n}, true
	case string:
		return value{text: n}, true
	case []byte:
		return value{text: string(n)}, true
	}
	return value{}, false
}

var (
	errArcs  = errors.New("another number of indexes than the table has")
	errRange = errors.New("an ifIndex out of range")
)

// instance parses what follows a column's name: one arc, or two.
func instance(arcs string, count int) (index, error) {
	first, second, two := strings.Cut(arcs, ".")
	mau, ok := uint32(0), true
	if two {
		mau, ok = arc(second)
	}
	if two != (count == 2) || !ok {
		return index{}, errArcs
	}
	port, ok := arc(first)
	if !ok || port > 1<<31-1 { // InterfaceIndex, RFC 2863
		return index{}, errRange
	}
	return index{port + 1, mau}, nil
}

func arc(text string) (uint32, bool) {
	n, err := strconv.ParseUint(text, 10, 32)
	return uint32(n), err == nil
}

// instanceName is the reverse: the name after which the next row starts.
func (c *column) instanceName(at index, arcs int) string {
	if at == (index{}) {
		return strings.TrimSuffix(c.prefix, ".")
	}
	name := c.prefix + strconv.FormatUint(uint64(at.port)-1, 10)
	if arcs == 2 {
		name += "." + strconv.FormatUint(uint64(at.mau), 10)
	}
	return name
}

// follows tells whether one object's name comes after another in the order of
// RFC 3416 (2.1).
func follows(name, other string) bool {
	for name != "" && other != "" {
		var a, b string
		a, name, _ = strings.Cut(strings.TrimPrefix(name, "."), ".")
		b, other, _ = strings.Cut(strings.TrimPrefix(other, "."), ".")
		if len(a) != len(b) {
			return len(a) > len(b) // no arc has a leading zero
		}
		if a != b {
			return a > b
		}
	}
	return name != ""
}

// mauType gives the last arc of a MAU type's name, 0 where it is none of the
// listed ones.
func mauType(name string) int {
	last, listed := strings.CutPrefix(name, mauTypes)
	n, ok := arc(last)
	if !listed || !ok || n > 1<<31-1 {
		return 0
	}
	return int(n)
}

// clean takes control characters, padding and broken UTF-8 out of a name, since
// switches put them there (seen after a firmware update).
func clean(name string) string {
	name = strings.ToValidUTF8(name, "\uFFFD")
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return -1
		}
		return r
	}, name)
	return strings.TrimSpace(cut(name, longestName))
}

const longestName = 255 // octets of a DisplayString (RFC 2579)

// cut gives the start of a valid text, of whole runes and at most so many bytes.
func cut(text string, most int) string {
	if len(text) <= most {
		return text
	}
	for most > 0 && !utf8.RuneStart(text[most]) {
		most--
	}
	return text[:most]
}
