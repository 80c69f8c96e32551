package main

import (
	"errors"
	"fmt"
	"os"
	"strings"
)

// secret says where a secret is kept. It is never printed: String and the
// like would show the place only, and the value is for a bench.
type secret struct {
	Env   string `yaml:"env"`
	File  string `yaml:"file"`
	Value string `yaml:"value"`
}

func (s secret) String() string   { return "secret" }
func (s secret) GoString() string { return "secret" }

// given tells whether a place is named at all.
func (s *secret) given() bool { return s != nil && *s != secret{} }

// place tells where it is kept; "" where it is nowhere, or in the open.
func (s *secret) place() string {
	if s == nil {
		return ""
	}
	return fmt.Sprint(s.Env, " ", s.File)
}

// read gives the secret. Paths are relative to the configuration's folder.
func (s *secret) read(beside func(string) string) (string, error) {
	places := 0
	for _, place := range []string{s.Env, s.File, s.Value} {
		if place != "" {
			places++
		}
	}
	switch {
	case places != 1:
		return "", errors.New("wants exactly one of env, file and value")
	case s.Env != "":
		value, ok := os.LookupEnv(s.Env)
		if !ok || value == "" {
			return "", fmt.Errorf("the environment variable %s is not set", s.Env)
		}
		return value, nil
	case s.File != "":
		data, err := os.ReadFile(beside(s.File))
		if err != nil {
			return "", err
		}
		value := strings.TrimRight(string(data), "\r\n")
		if value == "" {
			return "", fmt.Errorf("the file %s is empty", s.File)
		}
		return value, nil
	}
	return s.Value, nil
}
