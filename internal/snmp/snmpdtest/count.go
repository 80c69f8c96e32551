package snmpdtest

import (
	"encoding/asn1"
	"net"
	"strconv"
	"strings"
	"time"
)

// hand is the community by which the test, as the hand of fate, moves counters
// of the agent.
const hand = "quay-hand"

// SNMPv2c's SetRequest of one Counter32 (RFC 3416 section 3, RFC 2578).
type setRequest struct {
	Version   int
	Community []byte
	PDU       pdu `asn1:"tag:3"`
}

type pdu struct {
	RequestID, ErrorStatus, ErrorIndex int
	Varbinds                           []varbind
}

type varbind struct {
	Name  asn1.ObjectIdentifier
	Value int64 `asn1:"application,tag:1"`
}

// Count moves a Counter32 that Override has given a value, while the agent
// runs, e.g. Count("port2", "1.3.6.1.2.1.10.7.2.1.3", 42).
func (a *Agent) Count(port, column string, value uint32) {
	a.t.Helper()
	request, err := asn1.Marshal(setRequest{
		Version: 1, Community: []byte(hand),
		PDU: pdu{RequestID: 1, Varbinds: []varbind{{a.instance(port, column), int64(value)}}},
	})
	if err != nil {
		a.t.Fatalf("encode a SetRequest: %v", err)
	}
	conn, err := net.Dial("udp", a.Address)
	if err != nil {
		a.t.Fatalf("reach snmpd: %v", err)
	}
	defer conn.Close()
	_ = conn.SetDeadline(time.Now().Add(patience)) // the read tells
	if _, err := conn.Write(request); err != nil {
		a.t.Fatalf("move a counter of %s: %v", port, err)
	}
	answer := make([]byte, 512)
	n, err := conn.Read(answer)
	if err != nil {
		a.t.Fatalf("move a counter of %s: %v", port, err)
	}
	var said struct {
		Version   int
		Community []byte
		PDU       pdu `asn1:"tag:2"`
	}
	if _, err := asn1.Unmarshal(answer[:n], &said); err != nil || said.PDU.ErrorStatus != 0 {
		a.t.Fatalf("snmpd did not move a counter of %s: error status %d, %v", port, said.PDU.ErrorStatus, err)
	}
}

func (a *Agent) instance(port, column string) (name asn1.ObjectIdentifier) {
	for arc := range strings.SplitSeq(column, ".") {
		n, err := strconv.Atoi(arc)
		if err != nil {
			a.t.Fatalf("column %q is no object identifier", column)
		}
		name = append(name, n)
	}
	return append(name, a.Index(port))
}
