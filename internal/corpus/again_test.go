package corpus

import (
	"flag"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var (
	again = flag.String("again", "", "files that were written by -dump, to be weighed again, with commas between")
	parts = flag.Int("parts", 1, "score every such part of the plants by itself too")
	show  = flag.String("show", "", "tell of each wrong verdict of this true cause, or of all")
)

// weighAgain scores what was told of plants in other runs of this test, by the table
// as it is now: how to tune it.
func weighAgain(t *testing.T) {
	var all []*Played
	for path := range strings.SplitSeq(*again, ",") {
		played, err := ReadPlayed(path)
		require.NoError(t, err)
		all = append(all, played...)
	}
	t.Log("\n" + SeenOf(all).String())
	for part := range *parts {
		score := &Score{Order: asTold}
		for i, p := range all {
			if i%*parts == part {
				score.Add(p.Verdicts, p.Stray)
			}
		}
		t.Log("\n" + score.String())
	}
	for _, p := range all {
		for _, v := range p.Verdicts {
			tell(t, v)
		}
	}
}

// tell tells of a wrong verdict.
func tell(t *testing.T, v *Verdict) {
	blamed := v.LookAlike && v.Blamed() != nil
	wrong := blamed || !v.LookAlike && (!v.Raised() || !v.Within(1))
	if !wrong || *show != "all" && *show != v.Label.Cause() && !(*show == "blamed" && blamed) {
		return
	}
	t.Logf("%d %v %s from %v, record right %v: %s", v.Seed, v.Causes, v.Run, v.From, v.RecordRight, summary(v))
	if v.Told == nil {
		return
	}
	for _, told := range v.All {
		t.Logf("    %s %v to %v: %s", told.Kind, told.First, told.Last, told.Summary)
		for i, s := range told.States {
			if blamed || i == told.Now {
				t.Logf("      at %v alarmed %v: %v\n        %+v", s.From, s.Alarmed, s.Causes()[:min(4, len(s.Causes()))], *s.Weighed)
			}
		}
		for _, e := range told.Evidence {
			t.Logf("        %s", e)
		}
	}
}

// requireWeighedAlike checks that what was told is weighed again as it was.
func requireWeighedAlike(t *testing.T, all []*Played) {
	path := filepath.Join(t.TempDir(), "told")
	require.NoError(t, WritePlayed(path, all))
	read, err := ReadPlayed(path)
	require.NoError(t, err)
	require.Len(t, read, len(all))
	for i, p := range read {
		for j, v := range p.Verdicts {
			was := all[i].Verdicts[j]
			require.Equal(t, was.Blamed() != nil, v.Blamed() != nil)
			require.Equal(t, causesOf(was), causesOf(v))
		}
	}
}

func causesOf(v *Verdict) (out []string) {
	if v.Told == nil {
		return nil
	}
	for _, c := range v.Told.Causes {
		out = append(out, string(c.Cause))
	}
	return out
}
