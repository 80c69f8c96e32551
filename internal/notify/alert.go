package notify

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"toneout/internal/fault"
)

// identity is what makes an alert one, by Alertmanager as by Prometheus: all
// its labels.
type identity struct {
	name, switchName, port, run, kind, severity string
	attribute, value                            string // of a shared cause
}

// alert is one alert as it is told. It is never changed once made.
type alert struct {
	identity
	annotations map[string]string
	link        string
	since       time.Time
	ended       time.Time // zero while it is open
}

// labels leaves out what is empty, as Prometheus does.
func (id identity) labels() map[string]string {
	labels := map[string]string{}
	for name, value := range map[string]string{
		"alertname": id.name, "switch": id.switchName, "port": id.port, "run": id.run, "kind": id.kind, "severity": id.severity,
		"attribute": id.attribute, "value": id.value,
	} {
		if value != "" {
			labels[name] = value
		}
	}
	return labels
}

// link leads to the page of the run, else of the port, else of all.
func (id identity) link(external string) string {
	at := strings.TrimSuffix(external, "/")
	switch {
	case external == "":
		return ""
	case id.attribute != "":
		return at + "/shared"
	case id.run != "":
		return at + "/runs/" + url.PathEscape(id.run)
	case id.port != "":
		return at + "/ports/" + url.PathEscape(id.switchName) + "/" + url.PathEscape(id.port)
	}
	return at + "/"
}

const portSetting = "PortSetting"

// runAlerts are the rules' names for the kinds of fault.
var runAlerts = map[fault.Kind]string{
	fault.BelowDesignSpeed: "RunBelowDesignSpeed",
	fault.FrameErrors:      "RunFrameErrors",
	fault.DuplexMismatch:   portSetting,
	fault.LinkFlapping:     "RunLinkFlapping",
	fault.NoLink:           "RunNoLink",
	fault.LowLight:         "RunLight",
	fault.HighLight:        "RunLight",
	fault.ExcessLoss:       "RunLight",
	fault.PowerFailing:     "RunPowerFault",
}

// byPort tells whether a fault is the port's or its setting's, not the cable's.
func byPort(f *fault.Fault) bool { return f.About == fault.AboutPort || f.Kind == "duplex-mismatch" }

// ofFault is a fault's identity; false where no rule knows the kind.
func ofFault(f *fault.Fault) (identity, bool) {
	name := runAlerts[f.Kind]
	if byPort(f) {
		name = portSetting
	}
	return identity{
		name: name, switchName: valid(f.Switch), port: valid(f.Port), run: valid(f.Run), kind: string(f.Kind), severity: string(f.Severity),
	}, name != ""
}

func faultAnnotations(f *fault.Fault, building string) map[string]string {
	told := f.Telling()
	run, at := "Run "+f.Run, fmt.Sprintf("Port %s of %s", f.Port, f.Switch)
	if f.Run == "" {
		run = at + " (no run in the inventory)"
	}
	summary := run + ": " + told.Title
	if byPort(f) {
		summary = fmt.Sprintf("%s (%s): %s, by the port or its setting and not the cable", at, orElse(f.Run, "run "+f.Run, "no run in the inventory"), told.Title)
	}
	return validEach(map[string]string{
		"summary":     summary,
		"description": sentences(fmt.Sprintf("%s: near end %s; far end %s.", run, f.Near, orElse(f.Far, f.Far, "not known")), told.Verdict, told.Evidence, firstStep(told)),
		"building":    building,
		"owner":       f.Owner,
	})
}

// firstStep tells what to do first, and what to mind.
func firstStep(told fault.Telling) string {
	return sentences("First check: "+told.Check, orElse(told.Caution, "Take care: "+told.Caution, ""))
}

// sentences puts those together that are not empty.
func sentences(each ...string) string {
	return strings.Join(slices.DeleteFunc(each, func(s string) bool { return s == "" }), " ")
}

func orElse(given, then, otherwise string) string {
	if given != "" {
		return then
	}
	return otherwise
}

func buildingOf(s *fault.Snapshot, f *fault.Fault) string {
	if space := s.Plant.Space(f.Space); space != nil {
		return space.Building
	}
	return ""
}

// The alerts of switches.
const (
	notAnswering       = "SwitchNotAnswering"
	refusesCredentials = "SwitchRefusesCredentials"
)

// ofSwitch is the identity of an unread switch's alert; false where nobody is
// told of it.
func ofSwitch(sw *fault.Switch) (identity, bool) {
	name := ""
	switch {
	case sw.RefusesCredentials():
		name = refusesCredentials
	case sw.Told():
		name = notAnswering
	}
	return identity{name: name, switchName: valid(sw.Name), severity: string(fault.Warning)}, name != ""
}

// silence is what is said of an unread switch.
type silence struct {
	class  string
	hidden int    // unread switches behind it
	cut    string // the runs to it that have no link, or how many these are
}

// hidden counts the unread switches behind each one.
func hidden(s *fault.Snapshot) map[string]int {
	behind := map[string]int{}
	for _, sw := range s.Switches {
		if sw.Behind != "" && sw.Unread() {
			behind[sw.Behind]++
		}
	}
	return behind
}

// mostCut is how many runs are named; of more the number is told.
const mostCut = 3

// cutOff tells of each silent switch which runs to it have no link, which is
// told with it instead of by itself.
func cutOff(s *fault.Snapshot) map[string]string {
	runs := map[string][]string{}
	for _, f := range s.Faults {
		for _, g := range f.Guards {
			if f.Kind == fault.NoLink && f.Run != "" && g.Name == fault.ParentDown && !slices.Contains(runs[g.Switch], f.Run) {
				runs[g.Switch] = append(runs[g.Switch], f.Run)
			}
		}
	}
	cut := map[string]string{}
	for name, ids := range runs {
		slices.Sort(ids)
		if cut[name] = strings.Join(ids, ", "); len(ids) > mostCut {
			cut[name] = fmt.Sprint(len(ids))
		}
	}
	return cut
}

func (s silence) annotations(id identity) map[string]string {
	if id.name == refusesCredentials {
		return validEach(map[string]string{
			"summary": fmt.Sprintf("Switch %s refuses the credentials", id.switchName),
			"description": fmt.Sprintf("Switch %s is there and refuses these credentials, so the state of its ports and runs is unknown. "+
				"First check: community or user and passphrases, in toneout's configuration and on the switch.", id.switchName),
		})
	}
	behind := ""
	if s.hidden > 0 {
		behind = fmt.Sprintf("Switches behind it that cannot be read either: %d. ", s.hidden)
	}
	if s.cut != "" {
		behind += fmt.Sprintf("Runs to it without a link: %s. ", s.cut)
	}
	return validEach(map[string]string{
		"summary": fmt.Sprintf("Switch %s does not answer", id.switchName),
		"description": fmt.Sprintf("Switch %s has not been read in 3 polls, so the state of its ports and runs is unknown. "+
			"What became of the last poll: %s. %sFirst check: whether the switch has power, answers SNMP, and is reachable from here.",
			id.switchName, s.class, behind),
	})
}

// valid is a text as the metrics carry it: a byte that is not UTF-8 replaced.
func valid(text string) string { return strings.ToValidUTF8(text, "\uFFFD") }

func validEach(texts map[string]string) map[string]string {
	for name, text := range texts {
		texts[name] = valid(text)
	}
	return texts
}
