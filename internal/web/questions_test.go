package web

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestWhatIsAsked(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	now := time.Date(2026, 5, 20, 9, 30, 0, 0, berlin)
	var asked *Asked
	take := func(_ context.Context, a Asked) (any, error) { asked = &a; return map[string]bool{"asked": true}, nil }
	s := source(scene())
	s.Now = func() time.Time { return now }
	s.Questions = Questions{Hours: take, Figures: take, Changes: func(context.Context, Asked) (any, error) { return nil, errors.New("it is away") }}
	server := serve(t, s)
	utc := func(text string) time.Time {
		at, err := time.Parse(time.RFC3339, text)
		require.NoError(t, err)
		return at
	}
	for _, row := range []struct {
		path   string
		status int
		holds  string
		want   *Asked
	}{
		{"/api/runs/N2-P1-17/hours", 200, "", &Asked{"N2-P1-17", now.Add(-28 * day), now, berlin, ""}},
		{"/api/runs/N2-P1-17/hours?zone=UTC&from=2026-03-01&to=2026-03-02T08:00:00Z", 200, "", &Asked{"N2-P1-17", utc("2026-03-01T00:00:00Z"), utc("2026-03-02T08:00:00Z"), time.UTC, ""}},
		{"/api/figures?by=space", 200, "", &Asked{"", utc("2026-03-01T00:00:00+01:00"), now, berlin, "space"}},
		{"/api/figures?from=2026-01-01&to=2026-04-01", 200, "", &Asked{"", utc("2026-01-01T00:00:00+01:00"), utc("2026-04-01T00:00:00+02:00"), berlin, ""}},
		{"/api/runs/none/hours", 404, "no run none", nil},
		{"/api/runs/N2-P1-17/load", 404, "no history is kept", nil},
		{"/api/changes", 503, "it is away", nil},
		{"/api/changes?zone=UTC", 400, `unknown query parameter \"zone\": /api/changes takes from, to`, nil},
		{"/api/figures?by=colour", 400, "known are space, pathway, installer, cable", nil},
		{"/api/figures?zone=../etc/passwd", 400, "is no time zone", nil},
		{"/api/figures?from=soon", 400, "no date such as", nil},
		{"/api/figures?from=0001-01-01", 400, "no date such as", nil},
		{"/api/figures?from=2026-03-01&to=2026-03-01", 400, "from is not before to", nil},
		{"/api/runs/N2-P1-17/hours?from=2025-03-01", 400, "more than 100 days", nil},
	} {
		asked = nil
		answer, body := get(t, server.URL+row.path)
		require.Equal(t, row.status, answer.StatusCode, "%s\n%s", row.path, body)
		require.Contains(t, body, row.holds, row.path)
		if row.want != nil {
			require.NotNil(t, asked, row.path)
			require.True(t, row.want.From.Equal(asked.From) && row.want.To.Equal(asked.To), "%s: %v", row.path, asked)
			require.Equal(t, []string{row.want.Run, row.want.Zone.String(), row.want.By}, []string{asked.Run, asked.Zone.String(), asked.By})
		}
	}
}

// Whatever is asked is answered or refused, and never a span that no question allows.
func FuzzAsked(f *testing.F) {
	f.Add("2026-03-01", "2026-03-02T08:00:00Z", "Europe/Berlin", "space")
	f.Add("2026-03-29T02:30:00+01:00", "", "", "")
	f.Add("9999-12-31", "0000-01-01", "Local", "\x00")
	f.Add("2026-03-01", "2026-03-02", "Local", "")
	now := time.Date(2026, 5, 20, 9, 30, 0, 0, time.UTC)
	f.Fuzz(func(t *testing.T, from, to, zone, by string) {
		query := url.Values{"from": {from}, "to": {to}, "zone": {zone}, "by": {by}}
		r := httptest.NewRequest(http.MethodGet, "/api/figures?"+query.Encode(), nil)
		a, err := ofMonths.read(r, now)
		if err != nil {
			require.Equal(t, http.StatusBadRequest, statusOf(err))
			return
		}
		require.True(t, a.From.Before(a.To) && a.To.Sub(a.From) <= ofMonths.most && a.Zone != nil, a)
		require.NotEqual(t, "Local", a.Zone.String(), "nobody elsewhere can ask for it")
	})
}
