// Package snmp asks one switch; it gives port readings or a classed error.
//
// Open a Switch for a Target, then call Poll once an interval. A poll opens a
// socket of its own, so that no answer and no refusal of an earlier poll can
// reach it, and holds one request in flight. It never sends a Set.
//
// The layers, from the wire up:
//
//   - conversation sends a request, again where no answer comes, and gives
//     the one answer that belongs to it. It checks all that can be checked
//     without knowing the question: version, community or user, identifiers,
//     kind of PDU, error status. gosnmp encodes and decodes; its own sender is
//     not used because it takes answers that belong to no request.
//   - session is the part of SNMPv3 that lasts from poll to poll: the engine
//     of the switch, its clock, the localised keys (RFC 3414).
//   - round walks the tables in packed GETBULKs, whole rows at a time, and
//     fills rows.
//   - columns.go says what is asked: every column with its object, its type
//     and where its value goes.
//   - Switch remembers what the switch gives (columns, row counts) and how
//     much it answers at a time.
package snmp
