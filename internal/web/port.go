package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// PortDetail is all that is known of one port, as /api/ports/{switch}/{port} gives it: of
// its run's faults where it has one.
type PortDetail struct {
	PortNow
	Verdict string               `json:"verdict"`              // a sentence
	WhyNot  string               `json:"why_no_run,omitempty"` // why no run is joined to it
	Faults  []*fault.Fault       `json:"faults"`               // worst first
	Shared  []*fault.SharedCause `json:"shared_causes"`        // that its run is at fault under
	WasTold
}

func portAPI(s Source) apiFunc {
	return func(r *http.Request, snapshot *fault.Snapshot) (any, error) {
		return findPort(r.Context(), s.teller(r, snapshot), r.PathValue("switch"), r.PathValue("port"))
	}
}

// findPort gives all that is known of a port, or says which may have been meant.
func findPort(ctx context.Context, t teller, switchName, portName string) (PortDetail, error) {
	s := t.snapshot
	sw, ok := s.Switch(switchName)
	if !ok {
		return PortDetail{}, refused(http.StatusNotFound, "switch %q is not in the configuration%s", switchName, plant.DidYouMean(switchName, switchNames(s)))
	}
	p, ok := sw.Port(portName)
	if !ok {
		return PortDetail{}, refused(http.StatusNotFound, "switch %q shows no physical port %q%s", switchName, portName, portHint(sw, portName))
	}
	d := PortDetail{PortNow: *portNow(s, p), Faults: listed(s.FaultsAt(switchName, portName)), Shared: []*fault.SharedCause{}}
	if p.Run != "" {
		d.Faults, d.Shared = listed(s.FaultsOf(p.Run)), sharedOf(s, p.Run)
		d.WasTold = t.toldOf(ctx, s.Plant.Run(p.Run), d.Faults)
	} else {
		d.WasTold = t.toldOfPort(ctx, switchName, portName, d.Faults)
	}
	if d.Verdict = d.sentence() + "."; len(d.Faults) > 0 && d.Answering {
		d.Verdict = d.Faults[0].Summary
	}
	for _, u := range s.Joined.UnjoinedPorts {
		if u.Port == (plant.PortRef{Switch: switchName, Port: portName}) {
			d.WhyNot = u.Why
		}
	}
	return d, nil
}

// portHints tell where what was asked for as a run is a port, such as "acc-n2-1/1/17", or
// half of one.
func portHints(s *fault.Snapshot, asked string) string {
	for _, sw := range s.Switches {
		if asked == sw.Name && len(sw.Ports) > 0 {
			return fmt.Sprintf("; that is a switch: name a port of it too, as in toneout explain %s %s", sw.Name, sw.Ports[0].Name)
		}
		if name, found := strings.CutPrefix(asked, sw.Name); found && len(name) > 1 {
			if p, ok := sw.Port(strings.TrimLeft(name, "/: ")); ok {
				return fmt.Sprintf("; that is a port: toneout explain %s %s tells of it, and its page is %s", sw.Name, p.Name, portURL(sw.Name, p.Name))
			}
		}
	}
	at := slices.IndexFunc(s.Switches, func(sw *fault.Switch) bool { _, ok := sw.Port(asked); return ok })
	if at < 0 {
		return ""
	}
	return fmt.Sprintf("; that is a port: name its switch before it, as in toneout explain %s %s", s.Switches[at].Name, asked)
}
