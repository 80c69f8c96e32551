package journal

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Wherever an Append is broken off, the journal takes the next one, opened anew too.
func TestAnAppendThatIsBrokenOff(t *testing.T) {
	place := Place{File: filepath.Join(t.TempDir(), "journal.db")}
	j, err := Open(t.Context(), place)
	require.NoError(t, err)
	for n := range 300 {
		ctx, cancel := context.WithTimeout(t.Context(), time.Duration(n*10)*time.Microsecond)
		err := j.Append(ctx, event(2*n), event(2*n+1))
		cancel()
		ctx, cancel = context.WithTimeout(t.Context(), time.Duration(n*5)*time.Microsecond)
		_, _ = j.Events(ctx, Query{})
		cancel()
		if err != nil && n%2 == 0 {
			require.NoError(t, j.Close())
			j, err = Open(t.Context(), place)
			require.NoError(t, err)
		}
		began := time.Now()
		require.NoError(t, j.Append(t.Context(), event(10_000+n)))
		require.Less(t, time.Since(began), 2*time.Second, "round %d", n)
	}
	require.NoError(t, j.Close())
}
