package web

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A zone is named so that somebody elsewhere can ask for it, and its rules stay. Berlin
// is an hour before UTC, and two from 29 March 2026 (Directive 2000/84/EC).
func TestZonesAreNamed(t *testing.T) {
	folder := t.TempDir()
	database := filepath.Join(folder, "zoneinfo", "Europe")
	require.NoError(t, os.MkdirAll(database, 0o700))
	block := "TZif2" + strings.Repeat("\x00", 15+4*4) + "\x00\x00\x00\x01" + "\x00\x00\x00\x04" + "\x00\x00\x0e\x10\x00\x00CET\x00"
	rules := []byte(block + block + "\nCET-1CEST,M3.5.0,M10.5.0/3\n") // RFC 8536, 3: one type, and a footer with the rule
	path := func(name string) string { return filepath.Join(folder, name) }
	berlin := filepath.Join(database, "Berlin")
	require.NoError(t, os.WriteFile(berlin, rules, 0o600))
	require.NoError(t, os.WriteFile(path("copy"), rules, 0o600))
	require.NoError(t, os.Symlink("Berlin", filepath.Join(database, "Oslo"))) // as Debian has it
	require.NoError(t, os.Symlink(filepath.Join(database, "Oslo"), path("link")))
	require.NoError(t, os.Symlink("zoneinfo/Europe/Berlin", path("relative")))
	require.NoError(t, os.Symlink("link", path("link-to-link")))
	require.NoError(t, os.WriteFile(path("broken"), []byte("no rules"), 0o600))
	winter := time.Date(2026, 1, 10, 12, 0, 0, 0, time.UTC)
	read := func(name string) *time.Location {
		zone, err := time.LoadLocationFromTZData(name, rules)
		require.NoError(t, err)
		return zone
	}
	for _, row := range []struct {
		zone *time.Location
		file string
		now  time.Time
		want string
	}{
		{read("Local"), "link", winter, "Europe/Oslo"},
		{read("Local"), "relative", winter, "Europe/Berlin"},
		{read("Local"), "link-to-link", winter, "Europe/Berlin"},
		{read("Local"), "copy", winter, "UTC+01:00"},
		{read("Local"), "copy", winter.AddDate(0, 6, 0), "UTC+02:00"},
		{read(berlin), "copy", winter, "Europe/Berlin"}, // TZ may be a path
		{read("Local"), "none", winter, "Local"},
		{read("Local"), "broken", winter, "Local"},
		{read("Europe/Berlin"), "none", winter, "Europe/Berlin"},
		{time.UTC, "link", winter, "UTC"},
	} {
		got := named(row.zone, row.now, path(row.file))
		require.Equal(t, row.want, got.String(), row.file)
		for _, at := range []time.Time{winter, winter.AddDate(0, 6, 0)} {
			require.Equal(t, at.In(row.zone).Format(time.RFC3339), at.In(got).Format(time.RFC3339), row.file)
		}
	}
}
