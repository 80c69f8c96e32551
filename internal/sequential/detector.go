package sequential

import "time"

// Sample is what one poll says of one receiving port that carried traffic.
type Sample struct {
	At      time.Time // of the reading; baselines are kept by the day
	Errored uint64    // frames received damaged
	Bits    float64   // received, above 0
	Seconds float64   // since the reading before, above 0
}

const week = 7 * 24 * time.Hour

// Threshold is the level A at which detectors of so many ports, each updated
// once in every, together raise so many false alarms a week at most: the mean
// number of polls to a false alarm of one port is A at least.
func Threshold(ports int, every time.Duration, falseAlarmsPerWeek float64) float64 {
	return float64(max(ports, 1)) * float64(week) / float64(every) / falseAlarmsPerWeek
}

// Two detectors run side by side, against the objective and against the port's
// own habit, each at twice the threshold.
const detectorsSharingTheThreshold = 2

// leftRest is how far above its resting level the evidence must be for the
// present episode to have begun.
const leftRest = 10

// suspectShare of the threshold makes a port a suspect.
const suspectShare = 1.0 / 240

// Alarm is what a port was found to exceed.
type Alarm uint8

const (
	NoAlarm       Alarm = iota
	OverObjective       // what its physical layer may let through
	OverHabit           // its own baseline
)

// Detector tests one port against a bit error objective and against the port's
// own habit. The zero value is ready. It is small and holds numbers only.
type Detector struct {
	absolute [2]wealth // an objective knows no record
	relative [3]wealth
	episodes [2]tally // since either was last at rest: absolute, relative
	habit    habit
	clearing clearing
	past     history
}

type tally struct {
	errored  float32 // polls with errors
	frames   float32 // damaged
	exposure float32
}

func (t *tally) add(s *Sample, exposure float64) {
	if s.Errored > 0 {
		t.errored++
		t.frames += float32(s.Errored)
	}
	t.exposure += float32(exposure)
}

// Open tells whether the detector has alarmed and not let go since.
func (d *Detector) Open() bool { return d.clearing.of != NoAlarm }

// Alarm is what the open alarm was raised for. Where both were exceeded at
// once it is the objective.
func (d *Detector) Alarm() Alarm { return d.clearing.of }

// Remembers tells whether an alarm let go so lately that the next is still of the same
// fault.
func (d *Detector) Remembers() bool { return d.clearing.recent }

// Level is the evidence gathered so far, the stronger of both.
func (d *Detector) Level() float64 {
	return max(absoluteWeights.level(d.absolute[:]), d.habit.baseline.weights().level(d.relative[:]))
}

// Suspect tells whether a port that has not alarmed is on its way there:
// threshold is the A of Threshold.
func (d *Detector) Suspect(threshold float64) bool {
	return !d.Open() && d.Level() >= suspectShare*threshold
}

// Suspicious tells whether an episode with errors is under way.
func (d *Detector) Suspicious() bool { return d.episodes[0].errored > 0 || d.episodes[1].errored > 0 }

// Await has the open alarm last for two recurrences at least without errors, as
// where they keep to certain hours of the day or the week; 0 takes that back.
func (d *Detector) Await(recurrence time.Duration) {
	if d.Open() {
		d.clearing.await = float32(recurrence.Seconds())
	}
}

// Update takes one poll's sample: objective is the bit error ratio that the
// physical layer may have, 0 where it is not known; threshold is the A of
// Threshold. It alarms when the evidence reaches twice the threshold, and lets
// go by the clearing test.
func (d *Detector) Update(s Sample, objective, threshold float64) {
	exposure := d.exposure(&s)
	if d.Open() {
		if d.clearing.update(&s, exposure) {
			d.clearing.end()
		}
	} else {
		d.clearing.remember(&s)
		d.test(&s, objective, exposure, detectorsSharingTheThreshold*threshold)
	}
	_, above := indicators(&s, d.habit.baseline.largest)
	d.past = d.past.then(s.At, s.Errored > 0, above > 0)
}

// Restart begins the test anew, as after a repair. What was learned of the port's
// habit stays.
func (d *Detector) Restart() { *d = Detector{habit: d.habit} }

// exposure measures polls in parts of the baseline, or in bits where there is
// none; not in errors allowed, since the objective may change while an alarm is
// open, and be unknown then.
func (d *Detector) exposure(s *Sample) float64 {
	if d.habit.known() {
		return d.habit.baseline.share(s)
	}
	return s.Bits
}

// test gathers evidence, and learns from what is no news.
func (d *Detector) test(s *Sample, objective, exposure, limit float64) {
	over, calm, usual := NoAlarm, true, d.habit.usual(s)
	if d.habit.known() {
		bets, by := d.habit.wagers(s, d.past), d.habit.baseline.weights()
		rest := by.rest(d.habit.means(d.habit.baseline.share(&usual)))
		calm = by.level(d.relative[:]) <= leftRest*rest
		bets.update(d.relative[:], by, limit)
		if d.episodes[OverHabit-1].reaches(limit, by.level(d.relative[:]), rest, s, exposure) {
			over = OverHabit
		}
	}
	if allowed := objective * s.Bits; allowed > 0 {
		bets, by := against(s, allowed), &absoluteWeights
		bets.update(d.absolute[:], by, limit)
		if d.episodes[OverObjective-1].reaches(limit, by.level(d.absolute[:]), by.rest(meansOf(objective*usual.Bits)), s, exposure) {
			over = OverObjective
		}
	}
	if over != NoAlarm && s.Errored > 0 {
		d.open(over, objective)
	} else {
		d.learn(s, calm)
	}
}

// reaches adds a poll to the present episode, and tells whether the evidence is
// at the limit. Back at rest, the episode is over.
func (t *tally) reaches(limit, level, rest float64, s *Sample, exposure float64) bool {
	t.add(s, exposure)
	if level < limit && level <= leftRest*rest {
		*t = tally{}
	}
	return level >= limit
}

// open begins an alarm: all evidence is spent, and today is not learned from.
func (d *Detector) open(over Alarm, objective float64) {
	d.clearing.start(over, d.episodes[over-1], d.allowed(over, objective))
	d.habit.today = sums{}
	d.absolute, d.relative, d.episodes = [2]wealth{}, [3]wealth{}, [2]tally{}
}

// allowed is what a port may have and be well again: its habit, yet no more
// than the objective that it exceeded, or the alarm would let go while nothing
// changed, and come again.
func (d *Detector) allowed(over Alarm, objective float64) tally {
	b := &d.habit.baseline
	t := tally{errored: b.errored, frames: b.frames, exposure: 1}
	if over == OverObjective {
		most := float32(objective) * b.bits
		t.errored, t.frames = min(t.errored, most), min(t.frames, most)
	}
	return t
}

func (d *Detector) learn(s *Sample, calm bool) {
	known := d.habit.known()
	d.habit.learn(s, d.past, calm)
	if d.habit.known() != known { // exposure is measured by another unit from now on
		d.episodes = [2]tally{}
	}
}
