package web

import (
	"net/http"
	"slices"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// auditFilters are the query parameters of /api/audit and /audit. A space
// narrows runs, counts and readiness too; the others choose among the
// findings.
var auditFilters = []filter[*plant.Finding]{
	{"run", runIDsOrNone, func(f *plant.Finding) string { return f.Run }},
	{"endangers", words(plant.EndangersAll()...), func(f *plant.Finding) string { return string(f.Endangers) }},
	{"rule", words(plant.Rules()...), func(f *plant.Finding) string { return string(f.Rule) }},
	{"space", recordedSpaces, func(f *plant.Finding) string { return f.Space }},
	{"upgrade", words(UpgradeWords()...), nil},
}

// recordedSpaces has "" for the runs whose space is not recorded.
func recordedSpaces(s *fault.Snapshot) []string { return append(spaces(s), "") }

// answer is /api/audit.
func (a *auditor) answer(r *http.Request, s *fault.Snapshot) (any, error) {
	chosen, err := filtersOf(auditFilters, r.URL.Query(), s)
	if err != nil {
		return nil, err
	}
	made := a.of(s)
	report := chosenOf(made.report, chosen)
	for _, upgrade := range chosen.values["upgrade"] {
		ready, err := made.readyFor(upgrade)
		if err != nil {
			return nil, err
		}
		for _, one := range ready {
			if chosen.lets("run", one.Run) && chosen.lets("space", made.spaceOf(one.Run)) {
				report.Readiness = append(report.Readiness, one)
			}
		}
	}
	return report, nil
}

// chosenOf cuts a report to what is asked for.
func chosenOf(report AuditReport, chosen wanted[*plant.Finding]) AuditReport {
	report.Findings = slices.DeleteFunc(slices.Clone(report.Findings), func(f plant.Finding) bool { return !chosen.match(&f) })
	if _, asked := chosen.values["space"]; asked {
		report.Audit = *report.Within(func(space string) bool { return chosen.lets("space", space) })
	}
	return report
}
