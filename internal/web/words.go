package web

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"

	"toneout/internal/fault"
	"toneout/internal/port"
)

// moment writes a time with its zone, in the zone of the page.
func moment(t time.Time, in *time.Location) string {
	return t.In(in).Format("2006-01-02 15:04:05 MST")
}

// age writes a span of time in at most two units.
func age(d time.Duration) string {
	minutes := int(d / time.Minute)
	switch {
	case d < 0:
		return justNow
	case d < time.Minute:
		return "under a minute"
	case minutes < 60:
		return fmt.Sprintf("%d min", minutes)
	case minutes < 24*60:
		return fmt.Sprintf("%d h %d min", minutes/60, minutes%60)
	}
	return fmt.Sprintf("%d d %d h", minutes/(24*60), minutes/60%24)
}

// justNow is the age of what a clock that is a little ahead wrote.
const justNow = "just now"

// agoWords writes how long ago something of such an age was.
func agoWords(age string) string {
	if age == justNow {
		return age
	}
	return age + " ago"
}

// grouped writes a number with its thousands apart.
func grouped(n uint64) string {
	digits := strconv.FormatUint(n, 10)
	var out strings.Builder
	for i, digit := range digits {
		if i > 0 && (len(digits)-i)%3 == 0 {
			out.WriteByte(',')
		}
		out.WriteRune(digit)
	}
	return out.String()
}

// orNot writes what a record may lack.
func orNot(s string) string { return orWords(s, notRecorded) }

func orWords(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

const (
	notRecorded = "not recorded"
	notTold     = "not told"
)

// pointer is nil for a value that is absent.
func pointer[T any](v port.Value[T]) *T {
	if value, ok := v.Get(); ok {
		return &value
	}
	return nil
}

// timePointer is nil for the zero time.
func timePointer(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

// runURL is where a run's page is.
func runURL(id string) string { return "/runs/" + url.PathEscape(id) }

// portURL is where a port's page is.
func portURL(switchName, portName string) string {
	return "/ports/" + url.PathEscape(switchName) + "/" + url.PathEscape(portName)
}

// faultURL is the page of the run at fault, or of the port where no run is
// recorded.
func faultURL(f *fault.Fault) string {
	if f.Run == "" {
		return portURL(f.Switch, f.Port)
	}
	return runURL(f.Run)
}
