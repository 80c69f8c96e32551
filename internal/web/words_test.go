package web

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestAge(t *testing.T) {
	for d, want := range map[time.Duration]string{
		-time.Second: "just now", 0: "under a minute", 59 * time.Second: "under a minute", time.Minute: "1 min",
		59 * time.Minute: "59 min", time.Hour: "1 h 0 min", 23*time.Hour + 59*time.Minute: "23 h 59 min",
		24 * time.Hour: "1 d 0 h", 401*24*time.Hour + 5*time.Hour: "401 d 5 h",
	} {
		require.Equal(t, want, age(d))
	}
}

func TestMomentNamesItsZone(t *testing.T) {
	require.Equal(t, "2026-03-02 09:00:00 FQT", moment(start, zone))
}

func TestGrouped(t *testing.T) {
	for n, want := range map[uint64]string{
		0: "0", 999: "999", 1000: "1,000", 1_234_567: "1,234,567", 1<<64 - 1: "18,446,744,073,709,551,615",
	} {
		require.Equal(t, want, grouped(n))
	}
}
