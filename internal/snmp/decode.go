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
func decode(v varbind, kind gosnmp.Asn1BER) (value, bool) {
	switch {
	case v.kind != kind || v.absent:
		return value{}, false
	case kind == gosnmp.ObjectIdentifier:
		return value{text: dotted(v.text)}, true
	}
	return value{number: v.number, text: string(v.text[:min(len(v.text), longestText)])}, true
}

var (
	errArcs  = errors.New("another number of indexes than the table has")
	errRange = errors.New("an ifIndex out of range")
)

// instance parses what follows a column's name, in octets: one arc, or two.
func instance(arcs []byte, count int) (index, error) {
	port, arcs, ok := cutArc(arcs)
	mau := uint32(0)
	if ok && count == 2 {
		mau, arcs, ok = cutArc(arcs)
	}
	switch {
	case !ok || len(arcs) > 0:
		return index{}, errArcs
	case port > 1<<31-1: // InterfaceIndex, RFC 2863
		return index{}, errRange
	}
	return index{port + 1, mau}, nil
}

// appendInstance is the reverse: it appends the name after which the next row
// starts.
func (c *column) appendInstance(name []byte, at index, arcs int) []byte {
	name = append(name, c.object...)
	if at != (index{}) {
		name = appendArc(name, at.port-1)
	}
	if at != (index{}) && arcs == 2 {
		name = appendArc(name, at.mau)
	}
	return name
}

// mauType gives the last arc of a MAU type's name, 0 where it is none of the
// listed ones.
func mauType(name string) int {
	last, listed := strings.CutPrefix(name, mauTypes)
	n, err := strconv.ParseUint(last, 10, 31)
	if !listed || err != nil {
		return 0
	}
	return int(n)
}

// clean takes control characters, padding and broken UTF-8 out of a name, since
// switches put them there (seen after a firmware update).
func clean(name string) string {
	if isClean(name) {
		return name
	}
	name = strings.ToValidUTF8(name, "\uFFFD")
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return -1
		}
		return r
	}, name)
	return strings.TrimSpace(cut(name, longestName))
}

// isClean tells that a name is clean as most are, with little work.
func isClean(name string) bool {
	for i := range len(name) {
		if name[i] < ' ' || name[i] > '~' || name[i] == ' ' && (i == 0 || i == len(name)-1) {
			return false
		}
	}
	return len(name) <= longestName
}

const (
	longestName = 255             // octets of a DisplayString (RFC 2579)
	longestText = 4 * longestName // that is looked at, so that texts take no memory
)

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
