// Package snmp asks one switch; it gives port readings or a classed error.
//
// Open a Switch for a Target, then call Poll once an interval. A poll opens a
// socket of its own, so that no answer and no refusal of an earlier poll can
// reach it, and holds one request in flight. It never sends a Set.
//
// The layers, from the wire up:
//
//   - credentials.go says which versions and protocols there are, and keeps
//     the secrets from being printed.
//   - message.go writes SNMPv2c requests and reads well-formed responses in
//     place, since gosnmp's decoding alone takes longer than the rest of a poll.
//     Names and values stay octets. It is fuzzed against gosnmp.
//   - session.go encodes and decodes messages; gosnmp does it for SNMPv3 and
//     decides on what message.go doesn't know. It is also the part of SNMPv3
//     that lasts from poll to poll: the engine of the switch, its clock, the
//     localised keys (RFC 3414). After a failed poll all of it is found anew.
//   - conversation.go sends a request, again where no answer comes, and gives
//     the one answer that belongs to it. It checks all that can be checked
//     without knowing the question: version, community or user, identifiers,
//     kind of PDU, error status. gosnmp's own sender is not used because it
//     takes answers that belong to no request.
//   - patience.go says how long to wait, by the round trips and losses so far.
//   - decode.go reads instances and values of varbinds.
//   - columns.go says what is asked: every column with its object, its type
//     and where its value goes, in groups.
//   - strip.go sorts an answer's varbinds into the columns asked for.
//   - bulk.go plans GETBULKs, and asks for anything with sysUpTime and
//     ifTableLastChange beside it.
//   - rows.go holds the rows of a round, in memory that polls share.
//   - round.go walks the groups in packed GETBULKs, whole rows at a time, and
//     fills rows. The first group gives a port's name, status, speed and error
//     counters in one PDU, and the moment with them. A poll goes on without
//     any other group that fails. Groups are joined by ifIndex, so a round is
//     done once more where ifTableLastChange moved in it.
//   - slow.go is the slow clock. Types, descriptions and abilities are kept, and
//     asked for when it is time and at once where the agent restarted, another
//     engine answers, ifTableLastChange moved, or a port came, went or has
//     another name; MAU types and what was negotiated also where anything shows
//     that a port's link changed, of that port only, and once more in the poll
//     after, as agents keep tables for some seconds; what met with silence sooner than at
//     its time. What is kept of a row counts as long as its ifIndex has its ifName.
//   - list.go reads small tables as they are, whatever their indexes, within
//     bounds of rows and octets.
//   - details.go asks for a switch's details on the slow clock: entity.go makes
//     units of the ENTITY-MIB and tells what lies over other interfaces; lldp.go
//     reads neighbours, identifier.go their identifiers; local.go joins their
//     local port numbers to interfaces, where that is sure.
//   - sensor.go reads rows of ENTITY-SENSOR-MIB; sensorwords.go tells by their names
//     what they measure, and of which lane; tree.go finds the port that a part
//     belongs to; optics.go puts together what the module in a port tells.
//   - power.go reads POWER-ETHERNET-MIB, whose index is no ifIndex; numbering.go gives
//     the ways in which its groups and numbers can be those of ports. Where that
//     isn't sure, no port has the row, and the table says so.
//   - rmon.go reads RMON's error counters where a port has no FCS errors.
//   - states.go tells of each table whether it is given, empty, hidden or broken,
//     which of its columns lack, and what a view must hold for it. What the
//     switch's access rules refuse for one table hides that table only.
//   - knowledge.go remembers what the switch gives (columns, row counts), how
//     much it answers at a time, and when to look for the columns again: daily,
//     and where the agent restarted, which it tells by sysUpTime.
//   - switch.go puts a poll together. It begins with the first group, unless
//     the columns have to be looked for. What is slow comes last: nothing of it
//     fails a poll or takes a reading away, and a table that fails is broken
//     until it is its time again.
//   - error.go says why a poll failed, in a class.
package snmp
