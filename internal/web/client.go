package web

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"strings"
	"syscall"
	"time"
)

// Client asks a running daemon.
type Client struct {
	base     string
	user     string
	password string
	http     *http.Client
}

// Options are how to reach a daemon that has TLS or users.
type Options struct {
	CA           string // file of certificates (PEM) to trust instead of the system's; "" for the system's
	User         string // "" for none
	PasswordFile string // its first line; goes with User
}

// NewClient makes a client of the daemon at an address such as
// http://127.0.0.1:8610. It fails where a file cannot be read or used.
func NewClient(address string, o Options) (*Client, error) {
	base, err := baseOf(address)
	if err != nil {
		return nil, err
	}
	c := &Client{base: base, user: o.User}
	if c.password, err = o.password(); err != nil {
		return nil, err
	}
	roots, err := o.roots()
	if err != nil {
		return nil, err
	}
	transport := http.DefaultTransport.(*http.Transport).Clone()
	transport.TLSClientConfig = &tls.Config{RootCAs: roots}
	c.http = &http.Client{
		Transport:     transport,
		Timeout:       30 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	return c, nil
}

func baseOf(address string) (string, error) {
	u, err := url.Parse(address)
	switch {
	case err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https":
		return "", errors.New("the daemon's address is not a URL such as http://127.0.0.1:8610")
	case u.User != nil:
		return "", errors.New("the daemon's address holds a user: give -user and -password-file instead, so that no password is seen")
	}
	return u.Scheme + "://" + u.Host + strings.TrimRight(u.EscapedPath(), "/"), nil
}

func (o Options) password() (string, error) {
	switch {
	case o.User == "" && o.PasswordFile == "":
		return "", nil
	case o.User == "":
		return "", errors.New("a password file without a user: give -user too")
	case o.PasswordFile == "":
		return "", fmt.Errorf("no password for user %q: give -password-file too", o.User)
	}
	text, err := os.ReadFile(o.PasswordFile)
	if err != nil {
		return "", fmt.Errorf("password file: %w", err)
	}
	line, _, _ := strings.Cut(string(text), "\n")
	return strings.TrimSuffix(line, "\r"), nil
}

func (o Options) roots() (*x509.CertPool, error) {
	if o.CA == "" {
		return nil, nil
	}
	text, err := os.ReadFile(o.CA)
	if err != nil {
		return nil, fmt.Errorf("certificates to trust: %w", err)
	}
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(text) {
		return nil, fmt.Errorf("certificates to trust: %s holds none in PEM form", o.CA)
	}
	return roots, nil
}

// Run gives all that is known of one run. The error says what to do next; for a run
// that is not in the inventory it is the daemon's, with the ids that may have
// been meant.
func (c *Client) Run(ctx context.Context, id string) (RunDetail, error) {
	var v RunDetail
	err := c.get(ctx, "/api/runs/"+url.PathEscape(id), &v)
	return v, err
}

// Port gives all that is known of one port, likewise.
func (c *Client) Port(ctx context.Context, switchName, portName string) (PortDetail, error) {
	var v PortDetail
	err := c.get(ctx, "/api/ports/"+url.PathEscape(switchName)+"/"+url.PathEscape(portName), &v)
	return v, err
}

const mostRead = 64 << 20 // bytes of an answer

// get reads one address of the API into value.
func (c *Client) get(ctx context.Context, path string, value any) error {
	return c.exchange(ctx, http.MethodGet, path, nil, http.StatusOK, value)
}

// Repaired sends the daemon a repair, and gives it as it was recorded.
func (c *Client) Repaired(ctx context.Context, repair *Repair) error {
	return c.post(ctx, "/api/repairs", repair)
}

// Plan sends the daemon planned work, likewise.
func (c *Client) Plan(ctx context.Context, work *PlannedWork) error {
	return c.post(ctx, "/api/planned-work", work)
}

// post sends a value, and reads what it became.
func (c *Client) post(ctx context.Context, path string, value any) error {
	body, err := json.Marshal(value)
	if err != nil {
		return fmt.Errorf("write what to send to %s: %w", c.base, err)
	}
	return c.exchange(ctx, http.MethodPost, path, body, http.StatusCreated, value)
}

// exchange asks one address, and reads the answer into value.
func (c *Client) exchange(ctx context.Context, method, path string, send []byte, want int, value any) error {
	request, err := http.NewRequestWithContext(ctx, method, c.base+path, bytes.NewReader(send))
	if err != nil {
		return fmt.Errorf("ask the daemon at %s: %w", c.base, err)
	}
	if len(send) > 0 {
		request.Header.Set("Content-Type", "application/json")
	}
	if c.user != "" {
		request.SetBasicAuth(c.user, c.password)
	}
	answer, err := c.http.Do(request)
	if err != nil {
		return c.unreached(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(io.LimitReader(answer.Body, mostRead))
	if err != nil {
		return c.unreached(err)
	}
	if answer.StatusCode != want {
		return c.refusal(answer, body)
	}
	if err := json.Unmarshal(body, value); err != nil {
		return fmt.Errorf("the answer of %s is not one of toneout: %w; is another program listening there?", c.base, err)
	}
	return nil
}

// unreached explains why no answer came.
func (c *Client) unreached(err error) error {
	var url *url.Error
	if errors.As(err, &url) {
		err = url.Err // without the address, which is told already
	}
	hint := ""
	var unknownCA x509.UnknownAuthorityError
	var wrongName x509.HostnameError
	var timeout net.Error
	switch {
	case errors.Is(err, syscall.ECONNREFUSED):
		hint = "; is the daemon running? toneout serve -config config/toneout.yml"
	case errors.As(err, &unknownCA):
		hint = "; give the certificate to trust with -ca"
	case errors.As(err, &wrongName):
		hint = "; use the name that the certificate is for in -url"
	case strings.Contains(err.Error(), "server gave HTTP response to HTTPS client"):
		hint = "; it has no TLS: use http:// in -url"
	case errors.As(err, &timeout) && timeout.Timeout():
		hint = "; is the address right, and not behind a firewall?"
	}
	return fmt.Errorf("ask the daemon at %s: %w%s", c.base, err, hint)
}

// refusal explains an answer other than 200.
func (c *Client) refusal(answer *http.Response, body []byte) error {
	var said struct {
		Error string `json:"error"`
	}
	if json.Unmarshal(body, &said) == nil && said.Error != "" {
		return errors.New(said.Error)
	}
	hint := ""
	switch {
	case answer.StatusCode == http.StatusUnauthorized && c.user == "":
		hint = "; it has users: give -user and -password-file"
	case answer.StatusCode == http.StatusUnauthorized:
		hint = fmt.Sprintf("; user or password is wrong (-user %s)", c.user)
	case answer.StatusCode == http.StatusBadRequest && strings.Contains(string(body), "HTTP request to an HTTPS server"):
		hint = "; it has TLS: use https:// in -url"
	case answer.Header.Get("Location") != "":
		hint = fmt.Sprintf("; it points to %s: use that in -url", answer.Header.Get("Location"))
	}
	return fmt.Errorf("the daemon at %s answered %s%s", c.base, answer.Status, hint)
}
