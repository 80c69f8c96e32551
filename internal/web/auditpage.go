package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// auditView is the page of what the record and the standards say against each
// other.
type auditView struct {
	Figure string // how many of how many are clean
	Only   string // what the page is narrowed to; "" for nothing
	Query  string // the same for a link to /api/audit, with its question mark
	Groups []auditGroup
	Spaces *grid // nil without runs
	More   string
	Ready  *grid // nil without runs
}

// auditGroup is what endangers one thing.
type auditGroup struct {
	ID, Title, Stake string
	Count            string
	None             bool
	Table            *grid
	More             string // what was left out; "" for nothing
}

// mostFindings is how many rows of one group stand on the page, and mostSpaces
// how many spaces.
const (
	mostFindings = 100
	mostSpaces   = 100
)

func (a *auditor) page(_ Source, r *http.Request, s *fault.Snapshot) (string, any, error) {
	query := r.URL.Query()
	chosen, err := filtersOf(auditFilters, query, s)
	if err != nil {
		return "", nil, err
	}
	made := a.of(s)
	report := chosenOf(made.report, chosen)
	ready, err := made.readyFor(NextSpeed)
	if err != nil {
		return "", nil, err
	}
	v := auditView{Figure: auditFigure(&report), Only: onlyWords(query), Query: queryWords(query)}
	for _, e := range plant.EndangersAll() {
		if chosen.lets("endangers", string(e)) {
			v.Groups = append(v.Groups, groupOf(e, report.Findings, made.plant))
		}
	}
	if report.Runs > 0 {
		v.Spaces, v.More = spaceGrid(report.Spaces)
		v.Ready = readyGrid(ready, func(run string) bool {
			return chosen.lets("run", run) && chosen.lets("space", made.spaceOf(run))
		})
	}
	return "Audit", v, nil
}

func auditFigure(r *AuditReport) string {
	if r.Runs == 0 {
		return "No run is recorded, so there is nothing to judge."
	}
	return fmt.Sprintf("%s clean; %s below.", aRun.share(r.Clean, r.Runs, "are", "is"), aFinding.are(len(r.Findings)))
}

// onlyWords tells what a page is narrowed to.
func onlyWords(query url.Values) string {
	var parts []string
	for i := range auditFilters {
		if values := query[auditFilters[i].name]; len(values) > 0 {
			for k := range values {
				values[k] = clipped(orNot(values[k]))
			}
			parts = append(parts, auditFilters[i].name+" "+strings.Join(values, " or "))
		}
	}
	return strings.Join(parts, ", ")
}

func queryWords(query url.Values) string {
	if len(query) == 0 {
		return ""
	}
	return "?" + query.Encode()
}

func groupOf(e plant.Endangers, findings []plant.Finding, p *plant.Plant) auditGroup {
	g := auditGroup{ID: string(e), Title: e.Title(), Stake: e.Stake()}
	table, n := newGrid("Findings, worst first", "Run", "What it breaks", "By how much", "Source, and how sure", "What would mend it"), 0
	for i := range findings {
		if findings[i].Endangers != e {
			continue
		}
		if n++; n <= mostFindings {
			table.addFinding(&findings[i], p)
		}
	}
	g.Count, g.None = aFinding.count(n), n == 0
	if n > 0 {
		g.Table = table
	}
	if n > mostFindings {
		g.More = moreWords(n - mostFindings)
	}
	return g
}

// addFinding appends a finding; a run whose row is lost has no page.
func (g *grid) addFinding(f *plant.Finding, p *plant.Plant) {
	run := cell{Text: orWords(clipped(f.Run), "no run"), Notes: notEmpty(f.Space)}
	if p.Run(f.Run) != nil {
		run.URL, run.Class = runURL(f.Run), "label"
	}
	g.add(run, findingCell(f), told(f.By), sourceCell(f), told(f.Mend))
}

func spaceGrid(spaces []plant.SpaceSummary) (g *grid, more string) {
	heads := []string{"Space", "Runs", "Clean"}
	for _, e := range plant.EndangersAll() {
		heads = append(heads, e.Title())
	}
	g = briefGrid("Runs and findings by the space of the near panel", heads...)
	shown, more := cappedAt(spaces, mostSpaces)
	for _, s := range shown {
		cells := []cell{spaceCell(&s), plain(digits(s.Runs)), plain(digits(s.Clean))}
		for _, e := range plant.EndangersAll() {
			cells = append(cells, plain(digits(s.Findings[e])))
		}
		g.add(cells...)
	}
	return g, more
}

func spaceCell(s *plant.SpaceSummary) cell {
	c := cell{Text: orNot(s.Space), URL: "/audit?space=" + url.QueryEscape(s.Space)}
	c.Notes = notEmpty(joinWords(", ", s.Name, prefixed("building ", s.Building)))
	return c
}

// readyGrid counts the answers by next speed.
func readyGrid(all []Readiness, in func(run string) bool) *grid {
	answers := []string{string(plant.ByRecord), string(plant.NotReady), string(plant.NotKnown)}
	g := briefGrid("Runs by their next speed", append([]string{"Next speed"}, answers...)...)
	counts := map[string]map[string]int{}
	for _, r := range all {
		if !in(r.Run) {
			continue
		}
		if counts[r.Speed] == nil {
			counts[r.Speed] = map[string]int{}
		}
		counts[r.Speed][r.Answer]++
	}
	for _, speed := range append(UpgradeWords()[1:], "") {
		if n := counts[speed]; n != nil {
			g.add(plain(orWords(speed, "not known which")), plain(digits(n[answers[0]])), plain(digits(n[answers[1]])), plain(digits(n[answers[2]])))
		}
	}
	return g
}
