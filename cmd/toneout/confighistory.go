package main

import (
	"fmt"
	"net/url"
	"os"
	"strconv"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"toneout/internal/daemon"
	"toneout/internal/history"
)

// historyConfig is where numbers are kept over time.
type historyConfig struct {
	Directory string   `yaml:"directory"`
	Keep      duration `yaml:"keep"`
	KeepBytes size     `yaml:"keep_bytes"`
	URL       string   `yaml:"url"`
}

// leastKept is the least that history.keep may be: less is not a block of the
// storage's.
const leastKept = 2 * time.Hour

// checkHistory repeats no password.
func (c *config) checkHistory(say func(text string, at ...any)) {
	h := c.History
	if h.Directory != "" && h.URL != "" {
		say("history wants one of directory and url", "history")
	}
	if h.URL != "" {
		if _, err := history.NewRemote(h.URL); err != nil {
			say(err.Error(), "history", "url")
		}
	}
	if time.Duration(h.Keep) < leastKept {
		say(fmt.Sprintf("history.keep is less than %v", leastKept), "history", "keep")
	}
	if info, err := os.Stat(c.beside(h.Directory)); h.Directory != "" && err == nil && !info.IsDir() {
		say(fmt.Sprintf("history.directory: %s is no folder; name one of toneout's own", c.beside(h.Directory)), "history", "directory")
	}
	for _, key := range []string{"keep", "keep_bytes"} {
		if c.says("history", key) && h.Directory == "" {
			say(fmt.Sprintf("history.%s is of a history in a folder, and history.directory names none", key), "history", key)
		}
	}
}

// historyOptions are what the daemon needs.
func (c *config) historyOptions() daemon.HistoryOptions {
	o := daemon.HistoryOptions{Keep: time.Duration(c.History.Keep), KeepBytes: int64(c.History.KeepBytes), URL: c.History.URL}
	if c.History.Directory != "" {
		o.Directory = c.beside(c.History.Directory)
	}
	return o
}

// fixed is what would differ, without a password.
func (h historyConfig) fixed() string {
	if u, err := url.Parse(h.URL); err == nil {
		h.URL = u.Redacted()
	}
	return fmt.Sprint(h)
}

// size is a number of bytes, such as 500MB or 20GB.
type size int64

var units = []struct {
	name  string
	bytes float64
}{{"kB", 1e3}, {"MB", 1e6}, {"GB", 1e9}, {"TB", 1e12}, {"B", 1}, {"", 1}}

func (s *size) UnmarshalYAML(node *yaml.Node) error {
	for _, unit := range units {
		number, found := strings.CutSuffix(node.Value, unit.name)
		n, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
		if found && err == nil && n*unit.bytes >= 1 && n*unit.bytes <= 1e18 {
			*s = size(n * unit.bytes)
			return nil
		}
	}
	return &yaml.TypeError{Errors: []string{fmt.Sprintf("line %d: %q is no size such as 500MB or 20GB", node.Line, node.Value)}}
}
