package sim

import (
	"math/rand/v2"
	"slices"
	"strconv"
	"time"
)

// What follows are plays for Agent.Mangle: ways in which agents and networks
// are known to go wrong. Each call makes one with a memory of its own, for one
// agent. A play of one's own joins a composition if it ends in Exchange.Send.

// Compose plays several at once: those that alter the answer before it is
// encoded, those that alter datagrams after, the first named being the last to
// see them.
func Compose(plays ...func(Exchange) []Datagram) func(Exchange) []Datagram {
	return func(e Exchange) []Datagram {
		e.rest = append(slices.Clone(plays), e.rest...)
		return e.Send()
	}
}

// Lossy loses a share of the datagrams, the same ones for the same seed.
func Lossy(share float64, seed uint64) func(Exchange) []Datagram {
	random := rand.New(rand.NewPCG(seed, 1066))
	return func(e Exchange) []Datagram {
		return slices.DeleteFunc(e.Send(), func(Datagram) bool { return random.Float64() < share })
	}
}

// Late sends every answer after a time.
func Late(after time.Duration) func(Exchange) []Datagram {
	return func(e Exchange) []Datagram {
		out := e.Send()
		for i := range out {
			out[i].After += after
		}
		return out
	}
}

// Twice sends every datagram twice.
func Twice() func(Exchange) []Datagram {
	return func(e Exchange) []Datagram {
		var out []Datagram
		for _, d := range e.Send() {
			out = append(out, d, d)
		}
		return out
	}
}

// Swapped keeps every other answer back until the next has been sent.
func Swapped() func(Exchange) []Datagram {
	var kept []Datagram
	return func(e Exchange) []Datagram {
		out := e.Send()
		if kept == nil {
			kept = out
			return nil
		}
		out = append(out, kept...)
		kept = nil
		return out
	}
}

// Truncated cuts every datagram off after so many octets.
func Truncated(octets int) func(Exchange) []Datagram {
	return func(e Exchange) []Datagram {
		out := e.Send()
		for i, d := range out {
			out[i].Bytes = d.Bytes[:min(octets, len(d.Bytes))]
		}
		return out
	}
}

// Slow takes a time for each binding that it answers with, one answer after
// the other: an agent whose processor does something else first.
func Slow(perVarbind time.Duration) func(Exchange) []Datagram {
	var busy time.Time
	return func(e Exchange) []Datagram {
		now := time.Now()
		if busy.Before(now) {
			busy = now
		}
		busy = busy.Add(time.Duration(len(e.Response.Varbinds)) * perVarbind)
		out := e.Send()
		for i := range out {
			out[i].After += busy.Sub(now)
		}
		return out
	}
}

// altered makes a play of what is done to the responses, Reports left out.
func altered(alter func(e Exchange)) func(Exchange) []Datagram {
	return func(e Exchange) []Datagram {
		if e.Request != nil && e.Response.Type == Response {
			alter(e)
		}
		return e.Send()
	}
}

// RequestIDZero answers with 0 for the request's id.
func RequestIDZero() func(Exchange) []Datagram {
	return altered(func(e Exchange) { e.Response.RequestID = 0 })
}

// Capped gives at most so many rows in answer to a GETBULK, which RFC 3416
// section 4.2.3 allows an agent at any time.
func Capped(rows int) func(Exchange) []Datagram {
	return altered(func(e Exchange) {
		if once, across := repeaters(e.Request); across > 0 {
			most := once + rows*across
			e.Response.Varbinds = e.Response.Varbinds[:min(most, len(e.Response.Varbinds))]
		}
	})
}

// TooBigAbove answers tooBig, without bindings, to whatever asks for more than
// so many; a GETBULK asks for all its repetitions.
func TooBigAbove(varbinds int) func(Exchange) []Datagram {
	return altered(func(e Exchange) {
		asked := len(e.Request.Varbinds)
		if once, across := repeaters(e.Request); across > 0 {
			asked = once + across*int(min(e.Request.ErrorIndex, 1<<20))
		}
		if asked > varbinds {
			*e.Response = *e.Request.failed(TooBig, 0)
		}
	})
}

// WrongType gives an object's values another type: numbers as text, text and
// names as the number -1.
func WrongType(object string, tag byte) func(Exchange) []Datagram {
	under := ParseOID(object)
	return altered(func(e Exchange) {
		for i, vb := range e.Response.Varbinds {
			if exception := vb.Value.Tag >= TagNoSuchObject; exception || !hasPrefix(vb.Name, under) {
				continue
			}
			value := Value{Tag: tag, Number: vb.Value.Number}
			switch {
			case tag == TagOctetString:
				value.Text = strconv.AppendUint(nil, vb.Value.Number, 10)
			case tag == TagObjectID:
				value.Object = OID{0, 0}
			case vb.Value.Text != nil || vb.Value.Object != nil:
				value.Number = 1<<64 - 1
			}
			e.Response.Varbinds[i].Value = value
		}
	})
}

// Repeating gives an object's first instance asked for again and again: its
// successor is itself, against RFC 3416 section 4.2.2.
func Repeating(object string) func(Exchange) []Datagram {
	under := ParseOID(object)
	last := Value{Tag: TagNull}
	return walked(func(asked OID, got []*Varbind) {
		first := *got[0]
		if hasPrefix(first.Name, under) && first.Value.Tag != TagEndOfMibView {
			last = first.Value
		}
		switch {
		case hasPrefix(asked, under) && len(asked) > len(under):
			first.Name = asked
		case !hasPrefix(first.Name, under):
			return
		}
		first.Value = last
		for _, vb := range got {
			*vb = first
		}
	})
}

// Cyclic lets an object's walk start over where it should end.
func Cyclic(object string) func(Exchange) []Datagram {
	under := ParseOID(object)
	var seen []Varbind // in order
	return walked(func(asked OID, got []*Varbind) {
		for _, vb := range got {
			if hasPrefix(vb.Name, under) {
				seen = insert(seen, *vb)
			}
		}
		if !hasPrefix(asked, under) || len(seen) == 0 {
			return
		}
		again := 0
		for _, vb := range got {
			if !hasPrefix(vb.Name, under) || vb.Value.Tag == TagEndOfMibView {
				*vb = seen[again%len(seen)]
				again++
			}
		}
	})
}

// insert keeps a binding in its place, its latest value only.
func insert(seen []Varbind, vb Varbind) []Varbind {
	at, found := slices.BinarySearchFunc(seen, vb.Name, func(s Varbind, name OID) int { return slices.Compare(s.Name, name) })
	if found {
		seen[at] = vb
		return seen
	}
	return slices.Insert(seen, at, vb)
}

// walked hands the answers of GETNEXT and GETBULK over, binding by binding of
// the request: what was asked, and what successors it got.
func walked(alter func(asked OID, got []*Varbind)) func(Exchange) []Datagram {
	return altered(func(e Exchange) {
		if e.Request.Type == GetRequest || e.Response.ErrorStatus != 0 {
			return
		}
		e.Response.Varbinds = slices.Clone(e.Response.Varbinds)
		once, across := repeaters(e.Request)
		for i, asked := range e.Request.Varbinds {
			var got []*Varbind
			for at := i; at < len(e.Response.Varbinds); at += max(across, 1) {
				got = append(got, &e.Response.Varbinds[at])
				if i < once || across == 0 {
					break
				}
			}
			if len(got) > 0 {
				alter(asked.Name, got)
			}
		}
	})
}

// repeaters are how many bindings of a GETBULK are asked once, and how many
// are repeated; nothing of other requests is repeated.
func repeaters(m *Message) (once, across int) {
	if m.Type != GetBulkRequest {
		return len(m.Varbinds), 0
	}
	once = int(min(max(m.ErrorStatus, 0), int64(len(m.Varbinds))))
	return once, len(m.Varbinds) - once
}
