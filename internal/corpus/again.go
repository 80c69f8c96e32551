package corpus

import (
	"bufio"
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strings"

	"toneout/internal/fault"
)

// Playing a plant takes long, weighing what was told of it does not: what was told
// can be kept, and weighed again by another table.

// Played is what was told of a plant.
type Played struct {
	Seed     uint64
	Verdicts []*Verdict
	Stray    []*Told
}

// WritePlayed adds what was told to a file, a plant on each line.
func WritePlayed(path string, all ...*Played) error {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer file.Close()
	out := json.NewEncoder(file)
	for _, p := range all {
		if err := out.Encode(p); err != nil {
			return err
		}
	}
	return file.Close()
}

// ReadPlayed reads what WritePlayed wrote, weighed again.
func ReadPlayed(path string) (all []*Played, err error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	lines := bufio.NewScanner(file)
	lines.Buffer(nil, 64<<20)
	for lines.Scan() {
		p := &Played{}
		if err := json.Unmarshal(lines.Bytes(), p); err != nil {
			return nil, fmt.Errorf("reading %s: %w", path, err)
		}
		for _, v := range p.Verdicts {
			v.weighAgain()
		}
		all = append(all, p)
	}
	return all, lines.Err()
}

// weighAgain weighs what was told by the table as it is now. That a fault is quiet
// since its leading cause is, it takes into account; all other guards stay.
func (v *Verdict) weighAgain() {
	for _, t := range v.All {
		for i := range t.States {
			s := &t.States[i]
			was := s.Cause
			s.Cause = s.Causes()[0].Cause
			s.Alarmed = s.Alarmed && !s.Cause.Quiet() || was.Quiet() && !s.Cause.Quiet()
		}
		t.Fault.Causes = t.States[t.Now].Causes()
		t.Fault.NextChecks = fault.ChecksFor(t.Kind, t.Medium, t.Fault.Causes)
	}
	if len(v.All) > 0 {
		v.Told = v.All[0]
		v.Cause = string(v.Told.Fault.Cause())
	}
}

// Seen is how often each item was seen where a cause was at work, and with how many
// faults of it: by kind and material, item, cause.
type Seen map[string]map[string]map[string][2]int

// SeenOf counts what the faults that were told were weighed by as last told.
func SeenOf(all []*Played) Seen {
	out := Seen{}
	for _, p := range all {
		for _, v := range p.Verdicts {
			if v.Told != nil && v.Raised() {
				out.take(v)
			}
		}
	}
	return out
}

func (s Seen) take(v *Verdict) {
	w := v.Told.States[v.Told.Now].Weighed
	of := fmt.Sprintf("%v on %v", v.Told.Kind, w.Of)
	items := map[string]bool{"": true}
	for _, i := range append(w.Seen[:len(w.Seen):len(w.Seen)], w.Record...) {
		items[string(i)] = true
	}
	items["prior: "+string(w.Before.Prior)] = true
	if s[of] == nil {
		s[of] = map[string]map[string][2]int{}
	}
	for i := range items {
		if s[of][i] == nil {
			s[of][i] = map[string][2]int{}
		}
		n := s[of][i][v.Label.Cause()]
		n[0]++
		s[of][i][v.Label.Cause()] = n
	}
}

// String is a table of each kind: of each item, how often it is seen with a cause,
// and how many times oftener than with the others (half a case is added to each).
func (s Seen) String() string {
	var b strings.Builder
	for _, of := range slices.Sorted(maps.Keys(s)) {
		total := s[of][""]
		all := 0
		for _, n := range total {
			all += n[0]
		}
		fmt.Fprintf(&b, "%s: %d\n", of, all)
		for _, cause := range slices.Sorted(maps.Keys(total)) {
			fmt.Fprintf(&b, "    %s %d", cause, total[cause][0])
		}
		b.WriteByte('\n')
		for _, i := range slices.Sorted(maps.Keys(s[of])) {
			if i == "" {
				continue
			}
			seen := 0
			for _, n := range s[of][i] {
				seen += n[0]
			}
			fmt.Fprintf(&b, "  %-70s %d:", i, seen)
			causes := slices.SortedFunc(maps.Keys(total), func(a, c string) int {
				return cmp.Or(cmp.Compare(total[c][0], total[a][0]), strings.Compare(a, c))
			})
			for _, cause := range causes {
				n, of := float64(s[of][i][cause][0]), float64(total[cause][0])
				rest := (float64(seen) - n + 0.5) / (float64(all) - of + 1)
				ratio := (n + 0.5) / (of + 1) / rest
				if of >= 2 && math.Abs(math.Log(ratio)) > 0.35 {
					fmt.Fprintf(&b, " %s %.0f/%.0f=%.1f,", cause, n, of, ratio)
				}
			}
			b.WriteByte('\n')
		}
	}
	return b.String()
}
