package sim

import (
	"errors"
	"slices"
)

// PDU types (RFC 3416 section 3).
const (
	GetRequest     byte = 0xa0
	GetNextRequest byte = 0xa1
	Response       byte = 0xa2
	SetRequest     byte = 0xa3
	GetBulkRequest byte = 0xa5
	Report         byte = 0xa8
)

// Error statuses that the agent gives (RFC 3416 section 3).
const (
	TooBig             = 1
	GenErr             = 5
	AuthorizationError = 16
	NotWritable        = 17
)

// Varbind is one variable binding.
type Varbind struct {
	Name  OID
	Value Value
}

// Message is a PDU. In a GETBULK request ErrorStatus is non-repeaters and
// ErrorIndex max-repetitions, as on the wire.
type Message struct {
	Type        byte
	RequestID   int32
	ErrorStatus int64
	ErrorIndex  int64
	Varbinds    []Varbind
}

// readPDU reads what fills b to its end.
func readPDU(b []byte) (*Message, error) {
	tag, content, rest, err := take(b)
	if err != nil || len(rest) > 0 || tag < GetRequest || tag > Report {
		return nil, errors.New("not a PDU")
	}
	m := &Message{Type: tag}
	id, content, err := wantInt(content)
	if err != nil {
		return nil, err
	}
	m.RequestID = int32(id)
	if m.ErrorStatus, content, err = wantInt(content); err != nil {
		return nil, err
	}
	if m.ErrorIndex, content, err = wantInt(content); err != nil {
		return nil, err
	}
	list, rest, err := want(content, TagSequence)
	if err != nil || len(rest) > 0 {
		return nil, errBER
	}
	for len(list) > 0 {
		var vb Varbind
		if vb, list, err = readVarbind(list); err != nil {
			return nil, err
		}
		m.Varbinds = append(m.Varbinds, vb)
	}
	return m, nil
}

func readVarbind(b []byte) (vb Varbind, rest []byte, err error) {
	content, rest, err := want(b, TagSequence)
	if err != nil {
		return vb, nil, err
	}
	name, content, err := want(content, TagObjectID)
	if err != nil {
		return vb, nil, err
	}
	if vb.Name, err = readOID(name); err != nil {
		return vb, nil, err
	}
	tag, content, after, err := take(content)
	if err != nil || len(after) > 0 {
		return vb, nil, errBER
	}
	vb.Value, err = readValue(tag, content)
	return vb, rest, err
}

func (m *Message) append(dst []byte) []byte {
	var list, scratch []byte
	for _, vb := range m.Varbinds {
		scratch = vb.Value.append(appendOID(scratch[:0], vb.Name))
		list = appendTLV(list, TagSequence, scratch)
	}
	head := appendInt(nil, TagInteger, int64(m.RequestID))
	head = appendInt(head, TagInteger, m.ErrorStatus)
	head = appendInt(head, TagInteger, m.ErrorIndex)
	return appendTLV(dst, m.Type, appendTLV(head, TagSequence, list))
}

// size is the number of octets of the encoded binding.
func (vb Varbind) size() int {
	var buf [256]byte
	return len(vb.Value.append(appendOID(buf[:0], vb.Name))) + 4
}

// failed is the response that repeats the request's bindings with an error
// (RFC 3416 section 4.2.5); tooBig carries none (section 4.2.1).
func (m *Message) failed(status, index int64) *Message {
	out := &Message{Type: Response, RequestID: m.RequestID, ErrorStatus: status, ErrorIndex: index}
	if status != TooBig {
		out.Varbinds = slices.Clone(m.Varbinds)
	}
	return out
}

// respond answers GET, GETNEXT and GETBULK from a view. A GETBULK stops where
// budget octets or most bindings (0 = no such limit) are full.
func (m *Message) respond(view *View, budget, most int) *Message {
	out := &Message{Type: Response, RequestID: m.RequestID}
	if m.Type == GetBulkRequest {
		out.Varbinds = m.bulk(view, budget, most)
		return out
	}
	for _, vb := range m.Varbinds {
		if m.Type == GetRequest {
			out.Varbinds = append(out.Varbinds, Varbind{vb.Name, view.Get(vb.Name)})
		} else {
			out.Varbinds = append(out.Varbinds, view.Next(vb.Name))
		}
	}
	return out
}

// bulk is RFC 3416 section 4.2.3: N non-repeaters once, the R others M times,
// row by row; the answer may end after a row of nothing but endOfMibView.
func (m *Message) bulk(view *View, budget, most int) []Varbind {
	names := make([]OID, len(m.Varbinds))
	for i, vb := range m.Varbinds {
		names[i] = vb.Name
	}
	once := int(min(max(m.ErrorStatus, 0), int64(len(names))))
	var out []Varbind
	add := func(vb Varbind) bool {
		budget -= vb.size()
		if budget < 0 || most > 0 && len(out) == most {
			return false
		}
		out = append(out, vb)
		return true
	}
	for _, name := range names[:once] {
		if !add(view.Next(name)) {
			return out
		}
	}
	names = names[once:]
	more := len(names) > 0
	for row := int64(0); more && row < m.ErrorIndex; row++ {
		more = false
		for i, name := range names {
			vb := view.Next(name)
			if !add(vb) {
				return out
			}
			names[i] = vb.Name
			more = more || vb.Value.Tag != TagEndOfMibView
		}
	}
	return out
}
