package main

import (
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// echo is a daemon that records what it is told.
func echo(t *testing.T) (address string, said *string) {
	said = new(string)
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		*said = r.URL.Path + " " + string(body)
		w.WriteHeader(http.StatusCreated)
		_, _ = w.Write(body)
	}))
	t.Cleanup(server.Close)
	return server.URL, said
}

func TestRepaired(t *testing.T) {
	address, said := echo(t)
	code, out, log := toneout(t, "repaired", "N2-P1-17", "-cause", "loose-plug", "-by", "ada", "-note", "reseated", "-url", address)
	require.Zero(t, code, log)
	require.Contains(t, *said, "/api/repairs ")
	for _, part := range []string{`"run":"N2-P1-17"`, `"cause":"loose-plug"`, `"by":"ada"`, `"note":"reseated"`} {
		require.Contains(t, *said, part)
	}
	require.Contains(t, out, "N2-P1-17 was repaired")
	code, _, log = toneout(t, "repaired", "N2-P1-17", "-url", address)
	require.Equal(t, exitUsage, code)
	require.Contains(t, log, "-cause is missing: what was wrong, one of alien-crosstalk, ")
}

func TestPlanned(t *testing.T) {
	address, said := echo(t)
	code, out, log := toneout(t, "planned", "-on", "pathway=tray-n2-east", "-from", "2026-03-02T22:00:00Z", "-to", "+6h", "-why", "recabling", "-url", address)
	require.Zero(t, code, log)
	for _, part := range []string{"/api/planned-work ", `"on":{"pathway":"tray-n2-east"}`, `"from":"2026-03-02T22:00:00Z"`, `"to":"2026-03-03T04:00:00Z"`, `"why":"recabling"`} {
		require.Contains(t, *said, part)
	}
	require.Contains(t, out, "told to nobody until then")
	for _, row := range [][]string{
		{"-why", "x", "-to", "+1h"}, {"-why", "x", "-on", "pathway", "-to", "+1h"}, {"-why", "x", "-on", "plant=all"}, {"-why", "x", "-on", "plant=all", "-to", "soon"},
		{"-why", "x", "-on", "plant=all", "-to", "-1h"}, {"-on", "plant=all", "-to", "+1h"},
	} {
		code, _, log = toneout(t, append([]string{"planned", "-url", address}, row...)...)
		require.Equal(t, exitUsage, code, "%v", row)
		require.NotEmpty(t, log)
	}
}

func TestMomentsAsPeopleWriteThem(t *testing.T) {
	zone := time.FixedZone("FQT", 3600)
	now := time.Date(2026, 3, 2, 18, 0, 0, 0, zone)
	for text, want := range map[string]time.Time{
		"":                     now,
		"now":                  now,
		"22:00":                time.Date(2026, 3, 2, 22, 0, 0, 0, zone),
		"06:30":                time.Date(2026, 3, 3, 6, 30, 0, 0, zone),
		"2026-03-05T22:00":     time.Date(2026, 3, 5, 22, 0, 0, 0, zone),
		"2026-03-05 22:00":     time.Date(2026, 3, 5, 22, 0, 0, 0, zone),
		"2026-03-05T22:00:30Z": time.Date(2026, 3, 5, 22, 0, 30, 0, time.UTC),
		"+90m":                 now.Add(90 * time.Minute),
	} {
		got, err := moment(text, now, now)
		require.NoError(t, err, text)
		require.True(t, want.Equal(got), "%s: %v", text, got)
	}
	for _, text := range []string{"25:00", "tomorrow", "+0h", "+x"} {
		_, err := moment(text, now, now)
		require.Error(t, err, text)
	}
}
