package fault

import "toneout/internal/plant"

// item is one thing that may be seen of a fault.
type item string

// What a port shows of itself.
const (
	linkLost        item = "errors come with lost links"
	linkLostOften   item = "the link is lost more often than people move a cord"
	lateCollided    item = "late collisions come with damaged frames"
	sourcesNear     item = "by the record there are sources of interference near"
	shortByRecord   item = "by the record the run is well inside its length"
	followTraffic   item = "errors follow the traffic"
	followTime      item = "errors do not follow the traffic"
	silentNow       item = "none was damaged in the last hour"
	inBursts        item = "errors come in bursts"
	shortBursts     item = "errors come in bursts of minutes or less"
	noShortBursts   item = "errors come evenly within the hour"
	struckTogether  item = "other runs of its pathways are struck in the same seconds"
	struckAlone     item = "no other run of its pathways is struck when it is"
	struckWithPorts item = "other ports of the switch are struck in the same seconds"
	struckWithNone  item = "no other port of the switch is struck when it is"
	fewDamaged      item = "less than 1 frame in 100,000 is damaged"
	someDamaged     item = "between 1 frame in 100,000 and 1 in 100 is damaged"
	manyDamaged     item = "1 frame in 100 and more is damaged"
	evenHours       item = "about the same share is damaged at all hours"
	unevenHours     item = "the share that is damaged changes from hour to hour"
	warmHours       item = "more is damaged by day than by night, for the same traffic"
	nightToo        item = "as much is damaged by night as by day, for the same traffic"
	bothNegotiate   item = "both ends negotiate their speed and duplex"
	farCouldMore    item = "the far end offered or held the speed meant before"
	slowBeside      item = "the link fell back to a lower speed too"
	anotherDevice   item = "another device is heard at the far end since then"
	sameDevice      item = "the same device is heard at the far end as before"
	heldBefore      item = "the same device held the speed meant before"
	otherRow        item = "by the record a device that can do no more is at another port, which runs faster"
	noneSoFast      item = "no copper port of the switch ever ran at the speed meant"
	keepHours       item = "errors keep to certain hours"
	neverUp         item = "the link was never up"
	farOffersLess   item = "the far end offers less than the speed meant"
	farOffersMeant  item = "the far end offers the speed meant"
	fecSpeed        item = "its speed needs error correction that both ends agree on"
	belowFEC        item = "its speed needs no error correction"
	atHundred       item = "the link runs at 100 Mbit/s or less"
	aboveHundred    item = "the link runs at 1 Gbit/s or more"
	noInternal      item = "the port counts no errors of its own"
	findsNone       item = "the switch finds no device to feed"
	powerAtFault    item = "the switch reports the power at fault"
	errorsBeside    item = "frames are damaged too"
	cleanBeside     item = "no frame is damaged"
	fedNow          item = "the device is fed"
	fedAlong        item = "it was fed all the time since it lost its link"
	fedAnew         item = "it was fed anew after it lost its link"
	receivesNone    item = "no light is received"
	receivesSome    item = "light is received"
	endForced       item = "auto-negotiation is off at an end"
	lateOnly        item = "late collisions are counted"
)

// When it began, as in onset.item.
const (
	sinceNew     item = "it began with the first link"
	sincePatched item = "it began after a plug was out for minutes"
	sinceToday   item = "it began within a day after a plug was out"
	sinceRewired item = "it began after the link was away as for work on the run"
	sinceBefore  item = "it was there when watching began"
	afterGood    item = "it began by itself after a good time"

	afterWork     item = "it began within a week after somebody worked on the run"
	goodAfterWork item = "it began by itself, within a week after somebody worked on the run"
)

// What the record, the speed, the counts and other ports show.
const (
	longByRecord   item = "by the record the run is about as long as one may be"
	midByRecord    item = "by the record the run is of middling length"
	screened       item = "by the record the cable is screened"
	unscreened     item = "by the record the cable has no screen"
	passedTest     item = "by the record the run passed its test"
	multiGigabit   item = "the link is meant for more than 1 Gbit/s"
	gigabitOrLess  item = "the link is meant for 1 Gbit/s or less"
	symbolsWhole   item = "the line shows no wrong symbols beside the damaged frames"
	symbolsWrong   item = "the line shows wrong symbols beside the damaged frames"
	internalErrors item = "the port counts errors of its own"
	blockErrors    item = "ports beside it on the switch receive damaged frames since then too"
	laidLately     item = "by the record the run was laid within two months"
	laidLongAgo    item = "by the record the run was laid over a year ago"
	wideMargin     item = "by the record its test had 3 dB or more to spare"
	slimMargin     item = "by the record its test had less than 2 dB to spare"
	failedNearly   item = "by the record it failed its test by less than 5 dB"
	failedFar      item = "by the record it failed its test by 5 dB or more"
	neighbourCame  item = "a link of the same bundle or pathway came up at over 1 Gbit/s shortly before"
	powerLost      item = "the device stopped drawing power with lost links"
	wayErrors      item = "other runs of the same pathway or bundle receive damaged frames too"
)

// How well the record and the switch agree.
const (
	rowConfirmed item = "the port's description or its neighbour says the same as the record"
	rowDisputed  item = "something else contradicts the record of which run this is"
	notByRecord  item = "the speed meant does not rest on the record"
)

// ruleBroken is that the record breaks a rule of the audit, wiredSo that the wire map
// of the acceptance test found such a fault.
func ruleBroken(r plant.Rule) item       { return item("by the record: " + string(r)) }
func wiredSo(k plant.WireFaultKind) item { return item("by the wire map: " + string(k)) }

const recordSays = "by the record: "

// testPassed is that the acceptance test was passed.
const testPassed item = "by the acceptance test it was passed"
