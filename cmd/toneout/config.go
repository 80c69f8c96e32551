package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"toneout/internal/daemon"
	"toneout/internal/fault"
	"toneout/internal/notify"
	"toneout/internal/plant"
	"toneout/internal/snmp"
)

// config is the configuration as written, with the defaults where it says
// nothing.
type config struct {
	Plant              string                 `yaml:"plant"`
	Listen             string                 `yaml:"listen"`
	WebConfig          string                 `yaml:"web_config"`
	ExternalURL        string                 `yaml:"external_url"`
	FalseAlarmsPerWeek float64                `yaml:"false_alarms_per_week"`
	RepairProof        duration               `yaml:"repair_proof"`
	Poll               pollConfig             `yaml:"poll"`
	History            historyConfig          `yaml:"history"`
	Journal            journalConfig          `yaml:"journal"`
	Checkpoint         string                 `yaml:"checkpoint"`
	Repaired           fault.Repaired         `yaml:"repaired"`
	Alertmanagers      []string               `yaml:"alertmanagers"`
	PortLabels         string                 `yaml:"port_labels"`
	Credentials        map[string]credentials `yaml:"credentials"`
	Switches           []switchConfig         `yaml:"switches"`

	path  string
	root  yaml.Node
	label *regexp.Regexp
}

type pollConfig struct {
	Every     duration `yaml:"every"`
	SlowEvery duration `yaml:"slow_every"`
	Timeout   duration `yaml:"timeout"`
	Retries   int      `yaml:"retries"`
}

type journalConfig struct {
	File     string  `yaml:"file"`
	Postgres *secret `yaml:"postgres"`
}

type credentials struct {
	Version        string    `yaml:"version"`
	Community      *secret   `yaml:"community"`
	User           string    `yaml:"user"`
	Authentication *protocol `yaml:"authentication"`
	Privacy        *protocol `yaml:"privacy"`
	Context        string    `yaml:"context"`
}

type protocol struct {
	Protocol   string `yaml:"protocol"`
	Passphrase secret `yaml:"passphrase"`
}

type switchConfig struct {
	Name        string   `yaml:"name"`
	Address     string   `yaml:"address"`
	Credentials string   `yaml:"credentials"`
	Space       string   `yaml:"space"`
	Serials     []string `yaml:"serials"`
}

// defaults is the configuration of a file that says nothing.
func defaults() config {
	return config{
		Listen:             "127.0.0.1:8610",
		FalseAlarmsPerWeek: 1,
		Checkpoint:         "../data/toneout.checkpoint",
		Journal:            journalConfig{File: "../data/journal.db"},
		RepairProof:        duration(24 * time.Hour),
		History:            historyConfig{Keep: duration(400 * 24 * time.Hour)},
		Poll: pollConfig{
			Every: duration(time.Minute), SlowEvery: duration(5 * time.Minute),
			Timeout: duration(2 * time.Second), Retries: 2,
		},
	}
}

// leastInterval is the least that poll.every may be.
const leastInterval = time.Second

// duration is a Go duration, or a number of days such as 400d.
type duration time.Duration

func (d *duration) UnmarshalYAML(node *yaml.Node) error {
	text := node.Value
	if days, found := strings.CutSuffix(text, "d"); found {
		if n, err := strconv.ParseFloat(days, 64); err == nil && n >= 0 {
			*d = duration(n * 24 * float64(time.Hour))
			return nil
		}
	}
	parsed, err := time.ParseDuration(text)
	if err != nil {
		return &yaml.TypeError{Errors: []string{fmt.Sprintf("line %d: %q is no duration such as 60s, 5m or 400d", node.Line, text)}}
	}
	*d = duration(parsed)
	return nil
}

// loadConfig reads and checks a configuration. All that is wrong comes in one
// error, a line each with file and line.
func loadConfig(path string) (*config, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, unusable(fmt.Errorf("configuration: %w; -config names it", err))
	}
	c := defaults()
	c.path = path
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	decoder.KnownFields(true)
	if err := decoder.Decode(&c); err != nil && !errors.Is(err, io.EOF) {
		return nil, unusable(c.syntax(err))
	}
	if err := yaml.Unmarshal(data, &c.root); err != nil {
		return nil, unusable(c.syntax(err))
	}
	if err := c.check(); err != nil {
		return nil, unusable(err)
	}
	return &c, nil
}

// beside resolves a path that the configuration names.
func (c *config) beside(path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(filepath.Dir(c.path), path)
}

// check finds what is wrong beyond the syntax.
func (c *config) check() error {
	var wrong []error
	say := func(text string, at ...any) {
		if text != "" {
			wrong = append(wrong, fmt.Errorf("%s:%d: %s", c.path, c.line(at...), text))
		}
	}
	if c.Plant == "" {
		say("plant is missing: it names the inventory, e.g. plant: plant.yml")
	}
	if time.Duration(c.Poll.Every) < leastInterval {
		say(fmt.Sprintf("poll.every is less than %v", leastInterval), "poll", "every")
	}
	if c.Poll.SlowEvery < c.Poll.Every && c.says("poll", "slow_every") {
		say(fmt.Sprintf("poll.slow_every is less than poll.every, %v", time.Duration(c.Poll.Every)), "poll", "slow_every")
	}
	if c.Poll.Timeout <= 0 {
		say("poll.timeout must be above 0", "poll", "timeout")
	}
	if c.Poll.Retries < 0 {
		say("poll.retries must not be negative", "poll", "retries")
	}
	if c.RepairProof <= 0 {
		say("repair_proof must be above 0, e.g. 24h", "repair_proof")
	}
	if !(c.FalseAlarmsPerWeek > 0) || math.IsInf(c.FalseAlarmsPerWeek, 0) {
		say("false_alarms_per_week must be a number above 0", "false_alarms_per_week")
	}
	if _, _, err := net.SplitHostPort(c.Listen); err != nil {
		say(fmt.Sprintf("listen: %v; wants host:port, e.g. 127.0.0.1:8610", err), "listen")
	}
	say(c.checkExternal(), "external_url")
	for i, address := range c.Alertmanagers {
		say(c.checkAlertmanager(i, address), "alertmanagers", i)
	}
	say(c.checkLabels(), "port_labels")
	c.checkHistory(say)
	if c.says("journal", "file") && c.Journal.Postgres != nil {
		say("journal wants one of file and postgres", "journal")
	}
	c.checkRepaired(say)
	names := map[string]int{}
	for i, sw := range c.Switches {
		say(c.checkSwitch(sw, names), "switches", i)
	}
	return errors.Join(wrong...)
}

func (c *config) checkExternal() string {
	if u, err := url.Parse(c.ExternalURL); c.ExternalURL != "" && (err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" || u.User != nil) {
		return "external_url is not the address of a page without a user in it, such as https://toneout.example.net"
	}
	return ""
}

// checkAlertmanager repeats no password.
func (c *config) checkAlertmanager(i int, address string) string {
	if slices.Contains(c.Alertmanagers[:i], address) {
		return "alertmanagers: this address is there twice"
	}
	if _, err := notify.New(notify.Options{URLs: []string{address}}); err != nil {
		return err.Error()
	}
	return ""
}

func (c *config) checkLabels() string {
	if c.PortLabels == "" {
		return ""
	}
	var err error
	if c.label, err = regexp.Compile(c.PortLabels); err != nil {
		return fmt.Sprintf("port_labels: %v", err)
	}
	if c.label.SubexpIndex("run") < 0 {
		return `port_labels wants a group named run, e.g. '^(?P<run>[A-Z0-9-]+)'`
	}
	return ""
}

func (c *config) checkSwitch(sw switchConfig, names map[string]int) string {
	_, known := c.Credentials[sw.Credentials]
	names[sw.Name]++
	switch _, _, err := net.SplitHostPort(sw.Address); {
	case sw.Name == "":
		return "a switch wants a name"
	case names[sw.Name] > 1:
		return fmt.Sprintf("switch %s is there twice", sw.Name)
	case sw.Address == "":
		return fmt.Sprintf("switch %s wants an address, e.g. 192.0.2.7:161", sw.Name)
	case err == nil && !portNumber(sw.Address):
		return fmt.Sprintf("switch %s: address %q wants a port from 1 to 65535, e.g. 192.0.2.7:161", sw.Name, sw.Address)
	case err != nil:
		return fmt.Sprintf("switch %s: %v; wants host:port, e.g. 192.0.2.7:161", sw.Name, err)
	case sw.Credentials == "":
		return fmt.Sprintf("switch %s names no credentials", sw.Name)
	case !known:
		return fmt.Sprintf("switch %s: no credentials are named %q%s", sw.Name, sw.Credentials, plant.DidYouMean(sw.Credentials, slices.Sorted(maps.Keys(c.Credentials))))
	}
	return ""
}

// slowEvery is at least the interval of polls, which may be longer than the
// default.
func (c *config) slowEvery() time.Duration {
	return time.Duration(max(c.Poll.SlowEvery, c.Poll.Every))
}

func portNumber(address string) bool {
	_, text, _ := net.SplitHostPort(address)
	n, err := strconv.ParseUint(text, 10, 16)
	return err == nil && n > 0
}

// targets reads the secrets and gives the switches to watch.
func (c *config) targets() ([]daemon.Switch, error) {
	ready := map[string]snmp.Credentials{}
	var wrong []error
	for name, written := range c.Credentials {
		read, err := written.read(c.beside)
		if err == nil {
			err = read.Check()
		}
		if err != nil {
			wrong = append(wrong, fmt.Errorf("%s:%d: credentials %s: %w", c.path, c.line("credentials", name), name, err))
		}
		ready[name] = read
	}
	var switches []daemon.Switch
	for _, sw := range c.Switches {
		switches = append(switches, daemon.Switch{
			Space: sw.Space, Serials: sw.Serials,
			Target: snmp.Target{
				Name: sw.Name, Address: sw.Address, Credentials: ready[sw.Credentials],
				Timeout: time.Duration(c.Poll.Timeout), Retries: c.Poll.Retries,
				SlowEvery: c.slowEvery(),
			},
		})
	}
	return switches, errors.Join(wrong...)
}

// read turns credentials as written into those to use.
func (w credentials) read(beside func(string) string) (snmp.Credentials, error) {
	out := snmp.Credentials{User: w.User, ContextName: w.Context}
	switch w.Version {
	case "2c", "2":
		out.Version = 2
	case "3":
		out.Version = 3
	default:
		return out, fmt.Errorf("version %q is neither 2c nor 3", w.Version)
	}
	var err error
	if w.Community.given() {
		if out.Community, err = w.Community.read(beside); err != nil {
			return out, fmt.Errorf("community: %w", err)
		}
	}
	if out.Authentication, err = w.Authentication.read(beside); err != nil {
		return out, fmt.Errorf("authentication: %w", err)
	}
	if out.Privacy, err = w.Privacy.read(beside); err != nil {
		return out, fmt.Errorf("privacy: %w", err)
	}
	return out, nil
}

func (p *protocol) read(beside func(string) string) (snmp.Secret, error) {
	if p == nil {
		return snmp.Secret{}, nil
	}
	passphrase, err := p.Passphrase.read(beside)
	if err != nil {
		return snmp.Secret{}, fmt.Errorf("passphrase: %w", err)
	}
	return snmp.Secret{Protocol: p.Protocol, Passphrase: passphrase}, nil
}
