// Package standards holds what the Ethernet standards allow, as tables and
// pure functions: speeds, physical layers (PHYs) with their bit error
// objectives, the numbers by which a MAU-MIB names a PHY, and the abilities
// that two ends exchange in auto-negotiation. PHY.OverCopper judges a copper
// channel of a category, screen, length and connectors; Cords, LongestLinkAt
// and WarmLoss tell what cords and heat take of its length.
//
// Fibre is judged over its whole path: PHY.OverFibre tells reach, channel insertion
// loss and overload, FibrePath.Loss the loss of one direction from least to most,
// Arriving the light at an end, OpticsAgree whether two optics work together.
// A loss at its most is the standard's maximum, at its least common practice.
//
// Line.Limit is what a certification test is held against, channel or permanent
// link, by the equations of the standard; Margin, Waived and Accuracy go with
// it. PHY.LinkSegment is what the PHY's own clause asks in its place.
//
// Each row names the clause it was taken from. A figure marked "memory" was
// known to the writer and not seen in print.
package standards
