package web

import (
	"os"
	"path/filepath"
	"strings"
	"time"
)

// localFile holds the rules of the machine's zone where TZ names none (localtime(5)).
const localFile = "/etc/localtime"

// named gives a zone a name that is known elsewhere too, where its own says nothing
// there: "Local", as Go calls that of localFile, or a path, as of TZ. It is IANA's
// where the file is one of its database, and else the offset as of now. The rules stay.
func named(zone *time.Location, now time.Time, localFile string) *time.Location {
	file := zone.String()
	switch {
	case file == "Local":
		file = localFile
	case !filepath.IsAbs(file):
		return zone
	}
	name, known := zoneNameOf(file)
	if !known {
		name = now.In(zone).Format("UTC-07:00")
	}
	rules, err := os.ReadFile(file)
	if err != nil {
		return zone
	}
	if same, err := time.LoadLocationFromTZData(name, rules); err == nil {
		return same
	}
	return zone
}

// zoneNameOf is what a zone's file is called in IANA's database, where it is one of it or
// a link to one. The first link counts: there one zone is often a link to another.
func zoneNameOf(file string) (name string, known bool) {
	link, _ := os.Readlink(file)
	end, _ := filepath.EvalSymlinks(file)
	for _, path := range []string{file, link, end} {
		if _, name, known := strings.Cut(path, "/zoneinfo/"); known {
			return name, true
		}
	}
	return "", false
}
