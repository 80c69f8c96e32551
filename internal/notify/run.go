package notify

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strings"
	"sync/atomic"
	"time"
)

// Limits of one request, and of the last ones at a stop.
const (
	requestTimeout = 10 * time.Second
	farewell       = 2 * time.Second
	answerExcerpt  = 200 // bytes of a refusal that are quoted
)

// Alertmanager is one Alertmanager and what it is to be told.
type Alertmanager struct {
	// Name is its URL without user and password, for logs and labels.
	Name string

	options Options
	to      string // where alerts are posted
	user    *url.Userinfo
	queue   queue
	wake    atomic.Pointer[context.CancelFunc] // ends the loop's rest

	// Of the loop: since when it is in trouble, and until when a success shows
	// nothing, since others of its alerts were refused.
	trouble   bool
	troubleTo time.Time
}

func newAlertmanager(text string, o Options) (*Alertmanager, error) {
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil, fmt.Errorf("Alertmanager %s: not the address of one, such as http://127.0.0.1:9093", withoutUser(text))
	}
	a := &Alertmanager{options: o, user: u.User}
	a.wake.Store(new(context.CancelFunc(func() {})))
	u.User, u.RawQuery, u.Fragment = nil, "", ""
	a.Name = strings.TrimSuffix(u.String(), "/")
	a.to = u.JoinPath("api/v2/alerts").String()
	a.queue = queue{repeat: o.RepeatEvery, linger: o.Linger, chance: rand.Float64, room: maxHeld, held: map[identity]*held{}}
	return a, nil
}

// withoutUser hides what may be a password in what is no URL: all before an @,
// or without one all after a colon.
func withoutUser(text string) string {
	if at := strings.LastIndex(text, "@"); at >= 0 {
		return "..." + text[at:]
	}
	before, _, colon := strings.Cut(text, ":")
	if colon {
		return before + ":..."
	}
	return text
}

// take puts an alert in the queue, and counts it where there is no room.
func (a *Alertmanager) take(alert *alert, now time.Time) {
	if !a.queue.put(alert, now) {
		a.options.Report(a.Name, Dropped, 1)
	}
}

// rouse has the loop look at the queue.
func (a *Alertmanager) rouse() { (*a.wake.Load())() }

// Run tells the Alertmanager what it is to be told until ctx is done, and then
// for a moment what it does not know yet.
func (a *Alertmanager) Run(ctx context.Context) {
	for ctx.Err() == nil {
		a.turn(ctx)
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), farewell)
	defer cancel()
	for batch := a.queue.last(a.options.Now()); len(batch) > 0 && ctx.Err() == nil; batch = a.queue.last(a.options.Now()) {
		a.send(ctx, batch)
	}
}

// turn sends one batch, or rests until one is due. What comes after the rest
// was made ends it, so that nothing new is slept over.
func (a *Alertmanager) turn(ctx context.Context) {
	rest, wake := context.WithCancel(ctx)
	defer wake()
	a.wake.Store(&wake)
	batch, moment, givenUp := a.queue.next(a.options.Now())
	if givenUp > 0 {
		a.options.Report(a.Name, Dropped, givenUp)
	}
	if len(batch) > 0 {
		a.send(ctx, batch)
		return
	}
	_ = a.options.Until(rest, moment) // either way there is something to look at
}

// send posts a batch and notes what became of it.
func (a *Alertmanager) send(ctx context.Context, batch []sending) {
	err := a.post(ctx, batch)
	now := a.options.Now()
	var refused *refusal
	switch {
	case err == nil:
		a.queue.arrived(batch, now)
		a.options.Report(a.Name, Sent, len(batch))
		a.works(now)
	case errors.As(err, &refused):
		a.queue.arrived(batch, now)
		a.options.Report(a.Name, Dropped, len(batch))
		a.fails(err, now.Add(2*a.options.RepeatEvery))
	case ctx.Err() == nil: // otherwise it is the stop that cut it short
		a.queue.failed(now)
		a.options.Report(a.Name, Failed, len(batch))
		a.fails(err, now)
	}
}

func (a *Alertmanager) fails(err error, until time.Time) {
	if !a.trouble {
		a.options.Log.Warn("Alertmanager not told", "alertmanager", a.Name, "error", err)
	}
	a.trouble, a.troubleTo = true, until
}

func (a *Alertmanager) works(now time.Time) {
	if a.trouble && !now.Before(a.troubleTo) {
		a.trouble = false
		a.options.Log.Info("Alertmanager told again", "alertmanager", a.Name)
	}
}

// refusal is an answer that will be the same however often it is asked for.
type refusal struct{ error }

// post sends a batch. Its error holds neither user nor password.
func (a *Alertmanager) post(ctx context.Context, batch []sending) error {
	ctx, cancel := context.WithTimeout(ctx, requestTimeout)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, a.to, bytes.NewReader(a.body(batch)))
	if err != nil {
		return &refusal{fmt.Errorf("tell %s: %w", a.Name, err)}
	}
	request.Header.Set("Content-Type", "application/json")
	if a.user != nil {
		password, _ := a.user.Password()
		request.SetBasicAuth(a.user.Username(), password)
	}
	answer, err := a.options.Client.Do(request)
	if err != nil {
		var outer *url.Error
		if errors.As(err, &outer) {
			err = outer.Err
		}
		return fmt.Errorf("tell %s: %w", a.Name, err)
	}
	defer answer.Body.Close()
	said, _ := io.ReadAll(io.LimitReader(answer.Body, answerExcerpt))
	return judge(a.to, answer, strings.TrimSpace(string(said)))
}

// judge tells what an answer means. Too many requests and timeouts of a proxy
// pass, as do the server's own errors; all else that is no success stays.
func judge(to string, answer *http.Response, said string) error {
	code := answer.StatusCode
	err := fmt.Errorf("tell %s: it answered %s %q", to, answer.Status, said)
	switch {
	case code >= 200 && code < 300:
		return nil
	case code >= 500, code == http.StatusTooManyRequests, code == http.StatusRequestTimeout:
		return err
	case code == http.StatusUnauthorized || code == http.StatusForbidden:
		return &refusal{fmt.Errorf("%w; user and password belong in its URL", err)}
	case code == http.StatusBadRequest:
		return &refusal{err}
	}
	return &refusal{fmt.Errorf("%w; is that the address of an Alertmanager, with the prefix of its routes?", err)}
}

// postable is an alert as version 2 of the API takes it.
type postable struct {
	Labels       map[string]string `json:"labels"`
	Annotations  map[string]string `json:"annotations"`
	StartsAt     time.Time         `json:"startsAt"`
	EndsAt       time.Time         `json:"endsAt"`
	GeneratorURL string            `json:"generatorURL,omitempty"`
}

func (a *Alertmanager) body(batch []sending) []byte {
	ends := a.options.Now().Add(max(endsRepeats*a.options.RepeatEvery, endsAfter))
	out := make([]postable, len(batch))
	for i, s := range batch {
		out[i] = postable{s.alert.labels(), s.alert.annotations, s.alert.since, ends, s.alert.link}
		if !s.alert.ended.IsZero() {
			out[i].EndsAt = s.alert.ended
		}
		if p := &out[i]; p.EndsAt.Round(0).Before(p.StartsAt.Round(0)) { // the clock was set back, and no such alert is taken
			p.StartsAt = p.EndsAt
		}
	}
	data, err := json.Marshal(out)
	if err != nil {
		panic(err) // texts and times alone
	}
	return data
}
