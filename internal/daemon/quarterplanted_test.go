package daemon

import (
	"time"
)

// openPair are faults by a broken pair: a gigabit run falls to 100 Mbit/s
// (IEEE 802.3 40.1: 1000BASE-T needs four pairs). The daemon knows nothing of them.
var openPairs = []struct {
	run      string
	from, to time.Time
}{
	{"A1", on(3, 5, 9), on(3, 7, 15)},
	{"A1", on(3, 20, 8), on(3, 21, 11)}, // again, 13 days later
	{"A3", on(2, 10, 6), on(2, 11, 18)},
	{"A3", on(4, 20, 6), on(4, 20, 20)},  // again, long after, with another installer on record
	{"A4", on(4, 14, 9), on(4, 14, 18)},  // work is planned for some of it
	{"A5", on(4, 22, 8), on(4, 22, 11)},  // and for all of it
	{"A6", on(3, 15, 10), on(3, 18, 10)}, // over a restart
	{"A5", on(2, 27, 12), on(3, 2, 7)},   // over a month's border
}

// badTerminations are errors by noise of the pairs, each with what was told of its
// repair; the first lasts over a month's border too.
var badTerminations = []struct {
	from, to, repaired time.Time
	failed             time.Time // a repair that changed nothing; zero for none
}{
	{on(2, 26, 10), on(3, 4, 9), on(3, 4, 9), time.Time{}},
	{on(4, 8, 8), on(4, 12, 14), on(4, 12, 14), on(4, 10, 8)},
}

const (
	badTermination = 1e-7 // bit error ratio
	machineRuns    = 4e-8
)

// machine disturbs A run's tray on Tuesdays and Thursdays from 10 to 12 by the
// clock on the wall, for eight weeks with the change of the clock among them.
func machine(t time.Time) bool {
	if t.Before(on(3, 2, 0)) || !t.Before(on(4, 27, 0)) {
		return false
	}
	return (t.Weekday() == time.Tuesday || t.Weekday() == time.Thursday) && (t.Hour() == 10 || t.Hour() == 11)
}

var (
	silentFrom, silentTo   = on(3, 12, 2), on(3, 12, 4) // acc-2 does not answer
	restartFrom, restartTo = on(3, 16, 12), on(3, 16, 13)
	otherInventory         = on(4, 1, 8)
	dustFrom, dustTo       = on(3, 14, 7), on(3, 17, 19)
	halfFrom, halfTo       = on(2, 9, 0), on(2, 23, 0) // B2's far end is fixed to half duplex
)
