package sim

import (
	"fmt"
	"slices"
	"strings"
)

// RecordError is an entry of the answer book about what is written down: what
// a reader who knows the standards must find at a run, and why it is wrong.
type RecordError struct {
	Run, What, Because string

	with string // the other run without whose record nothing is wrong; "" for none
}

// RecordErrors gives the answer book of the wrong and the unfit records, as
// far as their runs are in any file.
func (c *Campus) RecordErrors() []RecordError {
	kept := c.site.ids()
	return slices.DeleteFunc(slices.Clone(c.misrecorded), func(e RecordError) bool {
		return !kept[e.Run] || e.with != "" && !kept[e.with]
	})
}

// What is wrong, in words that no reader of records need share.
const (
	linkOver90         = "fixed link over 90 m"
	channelOver100     = "channel over 100 m"
	thinCords          = "thin cords too long"
	lowCord            = "cord too low for the speed"
	cordLowers         = "cord lower than the cable"
	lowCable           = "cable too low for the speed"
	onCondition        = "speed on a condition"
	outOfReach         = "speed out of reach"
	hotRoof            = "too long for the heat"
	bareCord           = "unscreened cord on screened cable"
	brokenScreen       = "screened and unscreened cable in one run"
	fiveConnectors     = "too many connectors"
	besideMotor        = "unscreened beside a motor"
	behindAPhone       = "phone in a 10G run"
	neverMeasured      = "never tested"
	lowTest            = "tested for less than it is meant for"
	valuesFail         = "values fail, pass written"
	failWritten        = "fail written, run in use"
	valuesNear         = "values too near to call"
	marginNegative     = "pass written, margin below zero"
	testedFirst        = "tested before it was there"
	warrantyFirst      = "warranty over before it was there"
	splitPairs         = "split pairs"
	crossedPair        = "crossed pair"
	openConductor      = "open pair"
	otherLength        = "length not the measured one"
	noLength           = "length missing"
	improbableLength   = "length hardly possible"
	noCable            = "cable missing"
	noCategory         = "cable without category"
	noTemperature      = "heat source without temperature"
	cordWire           = "fixed cable of cord wire"
	twoMedia           = "fibre cord on copper"
	opticOnCopper      = "optic on copper"
	pastPanel          = "position past the panel"
	samePosition       = "two runs at one position"
	sameOutlet         = "two runs at one outlet"
	deviceAbove        = "device faster than the run is meant for"
	fewConnectors      = "fewer connectors than panels"
	mixedCores         = "62.5 and 50 µm fibre in one run"
	fibreOver          = "fibre too long"
	opticsDiffer       = "unlike optics"
	opticWrongMode     = "single-mode optic on multimode"
	tooBright          = "sender too strong"
	tooLossy           = "loss over budget"
	oneStrand          = "one strand for two"
	slowOptic          = "optic slower than the run is meant for"
	lossMiswritten     = "loss not that of the parts"
	lossValueOverLimit = "fibre loses more than its parts may"
)

// mistaken is a record to get wrong: the first healthy one in a room that fits.
type mistaken struct {
	room, what, because string
	fits                func(record) bool // nil for any
	change              func(record)
}

// mistakenRuns are runs in use whose records are wrong beyond their ports.
var mistakenRuns = []mistaken{
	{"N1", neverMeasured, "no test of it is in any folder", nil, untested},
	{"S1", neverMeasured, "added later, when the crew's tester was away", nil, untested},
	{"S1", testedFirst, "the test is the old run's, a year older", nil, func(r record) {
		r["tested_on"] = "2015-08-04"
	}},
	{"S1", marginNegative, "the sheet says pass and -1.4 dB", nil, func(r record) { r["test_margin_db"] = "-1.4" }},
	{"B1", failWritten, "the sheet says fail, and the run was patched all the same", nil, func(r record) {
		r["test_result"], r["test_margin_db"] = "fail", "-2.6"
	}},
	{"B1", noLength, "nobody measured it", nil, func(r record) { r["length_m"] = "" }},
	{"N1", improbableLength, "0.3 m from a panel to a room", nil, func(r record) { r["length_m"] = "0.3" }},
	{"N3", pastPanel, "position 52 of a panel of 48", nil, func(r record) { r["position"] = "52" }},
	{"N3", fewConnectors, "a panel and an outlet make two", nil, func(r record) { r["connectors"] = "1" }},
	{"N3", deviceAbove, "an access point of 2.5G on a run meant for 1G", accessPoint, func(r record) { r["device_speed"] = "2.5G" }},
}

func accessPoint(r record) bool {
	return r["device"] == "access point" || strings.HasPrefix(r["device"], "ap-")
}

func untested(r record) { r["tested_on"], r["test_result"], r["test_margin_db"] = "", "", "" }

// misrecord gets some healthy records wrong and writes the answer book.
func (b *builder) misrecord() {
	for _, m := range mistakenRuns {
		r := b.healthy(m.room, m.fits)
		m.change(r)
		b.wrong(r["id"], m.what, m.because)
	}
	b.miscounted("N1", "position", samePosition)
	b.miscounted("B1", "outlet", sameOutlet)
	b.mismeasured()
	for _, r := range b.site.runs {
		if r["pathways"] == motorTray {
			b.wrong(r["id"], besideMotor, "the lift's motor is beside its tray, and it has no screen")
		}
	}
}

func (b *builder) wrong(run, what, because string) {
	b.misrecorded = append(b.misrecorded, RecordError{Run: run, What: what, Because: because})
}

// healthy takes a record of a room out of the healthy ones: each time another
// share of the way down the list, so that the mistakes are not all on one panel.
func (b *builder) healthy(room string, fits func(record) bool) record {
	var good []int
	for at, i := range b.open {
		r := b.site.runs[i]
		if strings.HasPrefix(r["id"], room) && r["pathways"] != motorTray && (fits == nil || fits(r)) {
			good = append(good, at)
		}
	}
	at := good[len(good)*(7*len(b.misrecorded)%10)/10]
	r := b.site.runs[b.open[at]]
	b.open = slices.Delete(b.open, at, at+1)
	return r
}

// miscounted writes a run of a panel down at the place of another.
func (b *builder) miscounted(room, key, what string) {
	one := b.healthy(room, nil)
	other := b.healthy(room, func(r record) bool { return r["panel"] == one["panel"] })
	other[key] = one[key]
	b.misrecorded = append(b.misrecorded,
		RecordError{one["id"], what, fmt.Sprintf("%s is written down there too", other["id"]), other["id"]},
		RecordError{other["id"], what, fmt.Sprintf("it is not there, but %s is", one["id"]), one["id"]})
}

// mismeasured writes a long run down as 26 m, of which its test knew better.
func (b *builder) mismeasured() {
	r := b.healthy("N1", func(r record) bool { return b.trueLength(r) > 55 && b.trueLength(r) < 68 })
	b.certify(r, b.trueLength(r))
	r["length_m"] = "26"
	b.wrong(r["id"], otherLength, fmt.Sprintf("it is %v m long, and its test said so", b.trueLength(r)))
}

// trueLength is the cable's own, 0 where nothing is patched.
func (b *builder) trueLength(r record) float64 {
	if cable := b.Cable(b.recordedAt(r)); cable != nil {
		return cable.LengthM
	}
	return 0
}
