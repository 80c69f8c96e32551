package corpus

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const short = `says: Nothing happens.
every: 10s
slow_every: 1m
length: 5m
switches:
  - {name: acc-1, copper: 4}
runs:
  - {id: P1, at: acc-1 1/1..4, to: pc}
`

func load(t *testing.T, text string) (*Scenario, error) {
	path := filepath.Join(t.TempDir(), "s.yml")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return Load(path)
}

func TestWrongScenariosAreRefused(t *testing.T) {
	for name, row := range map[string]struct{ text, says string }{
		"an unknown key":        {short + "sites: 3\n", "line 9: field sites not found"},
		"of an event":           {short + "events:\n  - {at: 1m, on: P1-1, open_pair: 4-5}\n", "line 10: field open_pair not found"},
		"no window":             {short + "expect:\n  - {run: P1-1, kind: no-link, opens: 5m}\n", "line 10: \"5m\" is no window"},
		"neither opens, quiet":  {short + "expect:\n  - {run: P1-1, kind: no-link}\n", "wants opens, or quiet"},
		"a fault of nobody":     {short + "expect:\n  - {kind: no-link, quiet: true}\n", "wants a kind, and a run"},
		"slower than its slow":  {"says: x\nevery: 1m\nslow_every: 10s\nlength: 5m\n", "slow_every not below it"},
		"nothing to be watched": {"says: x\nevery: 10s\nslow_every: 10s\nlength: 5m\n", "wants switches and runs"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := load(t, row.text)
			require.ErrorContains(t, err, row.says)
		})
	}
	for name, row := range map[string]struct{ text, says string }{
		"an unknown run":  {short + "events:\n  - {at: 1m, on: P9, shut: true}\n", "which are not all runs"},
		"no pair":         {short + "events:\n  - {at: 1m, on: P1-1, open_pairs: [1-3]}\n", `opens "1-3"`},
		"no run":          {short + "events:\n  - {at: 1m, shut: true}\n", "is on nothing"},
		"an unknown port": {short + "  - {id: P2, at: acc-1 1/9, to: pc}\n", `no port in "acc-1 1/9"`},
		"an unknown kind": {short + "  - {id: P2, at: acc-1 1/1, to: kettle}\n", `"kettle" is neither a device nor a port`},
	} {
		t.Run(name, func(t *testing.T) {
			s, err := load(t, row.text)
			require.NoError(t, err)
			_, err = s.Stage(begin)
			require.ErrorContains(t, err, row.says)
		})
	}
}

func TestAnEventMustDoSomething(t *testing.T) {
	s, err := load(t, short+"events:\n  - {at: 1m, on: P1-1, broken: true}\n")
	require.ErrorContains(t, err, "field broken not found")
	require.Nil(t, s)
	s, err = load(t, short+"events:\n  - {at: 1m, on: P1-1}\n")
	require.NoError(t, err)
	stage, err := s.Stage(begin)
	require.NoError(t, err)
	require.Panics(t, func() { stage.Pass(begin.Add(time.Minute)) })
}

// What differs from what is expected is said, so that a scenario can fail.
func TestJudge(t *testing.T) {
	s, err := load(t, short+`expect:
  - {run: P1-1, kind: no-link, opens: 1m..2m, closes: 3m..4m, cause: damaged-cable}
  - {run: P1-2, kind: no-link, quiet: true}
`)
	require.NoError(t, err)
	down := func(run string, alarm bool, causes ...string) Sight {
		return Sight{Subject: run, Kind: "no-link", Alarm: alarm, Causes: causes}
	}
	good := down("P1-1", true, "loose-plug", "damaged-cable")
	const looks = 31
	spell := func(from, to int, s Sight) func(int) []Sight {
		return func(i int) []Sight {
			if i >= from && i < to {
				return []Sight{s}
			}
			return nil
		}
	}
	for name, row := range map[string]struct {
		told []func(int) []Sight
		says string
	}{
		"as expected":   {[]func(int) []Sight{spell(8, 20, good)}, ""},
		"and quiet":     {[]func(int) []Sight{spell(8, 20, good), spell(3, 5, down("P1-2", false)), spell(8, 9, down("P1-2", false))}, ""},
		"never":         {nil, "expected once, not 0 times"},
		"too late":      {[]func(int) []Sight{spell(14, 20, good)}, "expected to open"},
		"stays":         {[]func(int) []Sight{spell(8, looks, good)}, "expected to close"},
		"twice":         {[]func(int) []Sight{spell(8, 12, good), spell(14, 20, good)}, "expected once, not 2 times"},
		"no alarm":      {[]func(int) []Sight{spell(8, 20, down("P1-1", false, "damaged-cable"))}, "expected alarmed true"},
		"another cause": {[]func(int) []Sight{spell(8, 20, down("P1-1", true, "a", "b", "damaged-cable"))}, "damaged-cable is not among"},
		"alarmed":       {[]func(int) []Sight{spell(8, 20, good), spell(8, 20, down("P1-2", true))}, "expected alarmed false"},
		"something new": {[]func(int) []Sight{spell(8, 20, good), spell(8, 20, down("P1-3", false))}, "not expected: no-link on P1-3"},
	} {
		t.Run(name, func(t *testing.T) {
			log := &Log{Causes: true}
			for i := range looks {
				var sights []Sight
				for _, told := range row.told {
					sights = append(sights, told(i)...)
				}
				log.See(time.Duration(i)*10*time.Second, sights)
			}
			complaints := s.Judge(log)
			if row.says == "" {
				require.Empty(t, complaints)
				return
			}
			require.Len(t, complaints, 1)
			require.Contains(t, complaints[0], row.says)
		})
	}
}
