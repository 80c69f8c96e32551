package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"os"
	"strings"
	"time"

	toolkit "github.com/prometheus/exporter-toolkit/web"
	"gopkg.in/yaml.v3"
)

// Limits of a client's patience, so that a slow one holds nothing up.
const (
	headerTimeout = 5 * time.Second
	readTimeout   = 10 * time.Second
	writeTimeout  = 30 * time.Second
	idleTimeout   = 2 * time.Minute
	farewell      = 3 * time.Second // for requests under way at the stop
)

// serve answers HTTP on the options' listener until ctx is done.
func serve(ctx context.Context, o Options, handler http.Handler) error {
	server := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: headerTimeout, ReadTimeout: readTimeout,
		WriteTimeout: writeTimeout, IdleTimeout: idleTimeout,
		ErrorLog: slog.NewLogLogger(o.Log.Handler(), slog.LevelWarn),
	}
	stopped := make(chan error, 1)
	stop := context.AfterFunc(ctx, func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), farewell)
		defer cancel()
		err := server.Shutdown(ctx)
		if errors.Is(err, context.DeadlineExceeded) {
			err = server.Close()
		}
		stopped <- err
	})
	flags := &toolkit.FlagConfig{WebConfigFile: &o.WebConfig}
	err := toolkit.Serve(o.Listener, server, flags, quietly(o.Log))
	if stop() { // it ended by itself
		o.Listener.Close()
		return fmt.Errorf("serve HTTP on %v: %w", o.Listener.Addr(), err)
	}
	return <-stopped
}

// CheckWebConfig says what is wrong with a file of TLS and users, in a line; ""
// names none.
func CheckWebConfig(path string) error {
	err := toolkit.Validate(path)
	if err == nil {
		return nil
	}
	text := strings.Join(strings.Fields(err.Error()), " ")
	if !strings.Contains(text, path) {
		text = path + ": " + text
	}
	return fmt.Errorf("web configuration: %s; it wants the exporter-toolkit's keys, and bcrypt hashes of the users' passwords", text)
}

// hasUsers tells whether only users with a password are served by such a file, which
// the toolkit reads at each request too.
func hasUsers(path string) bool {
	if path == "" {
		return false
	}
	data, err := os.ReadFile(path)
	var config struct {
		Users map[string]string `yaml:"basic_auth_users"`
	}
	return err == nil && yaml.Unmarshal(data, &config) == nil && len(config.Users) > 0
}

// quietly drops what the toolkit says in normal life.
func quietly(log *slog.Logger) *slog.Logger { return slog.New(warnings{log.Handler()}) }

type warnings struct{ slog.Handler }

func (w warnings) Enabled(ctx context.Context, level slog.Level) bool {
	return level >= slog.LevelWarn && w.Handler.Enabled(ctx, level)
}
