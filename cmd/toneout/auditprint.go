package main

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"

	"toneout/internal/plant"
	"toneout/internal/web"
)

func (o *auditOptions) print(out io.Writer, r *web.AuditReport) error {
	switch {
	case o.json:
		encoder := json.NewEncoder(out)
		encoder.SetIndent("", "  ")
		return encoder.Encode(r)
	case o.csv && o.upgrade != "":
		return printCSV(out, readinessRows(r.Readiness))
	case o.csv:
		return printCSV(out, findingRows(r.Findings))
	}
	w := bufio.NewWriter(out) // its first error comes with Flush
	if o.upgrade != "" {
		printReadiness(w, r.Readiness)
	} else {
		printFindings(w, r.Findings)
		printSpaces(w, r)
		printTotals(w, r)
	}
	return w.Flush()
}

func printCSV(out io.Writer, rows [][]string) error {
	return csv.NewWriter(out).WriteAll(rows)
}

func findingRows(findings []plant.Finding) [][]string {
	rows := [][]string{{"run", "endangers", "verdict", "rule", "finding", "by", "source", "sure", "mend", "space", "file", "line"}}
	for i := range findings {
		f := &findings[i]
		rows = append(rows, []string{f.Run, string(f.Endangers), f.Verdict.String(), string(f.Rule), f.Text, f.By, f.Source,
			string(f.Sure), f.Mend, f.Space, f.File, lineOf(f)})
	}
	return rows
}

func readinessRows(all []web.Readiness) [][]string {
	rows := [][]string{{"run", "speed", "answer", "because", "also"}}
	for _, one := range all {
		rows = append(rows, []string{one.Run, one.Speed, one.Answer, strings.Join(one.Because, "; "), strings.Join(one.Also, "; ")})
	}
	return rows
}

// lineOf is "" where the row's place is not known.
func lineOf(f *plant.Finding) string {
	if f.File == "" {
		return ""
	}
	return strconv.Itoa(f.Line)
}

// printFindings writes a line for each finding, which begins with its run, and
// below it indented ones of how sure it is and what would mend it.
func printFindings(w *bufio.Writer, findings []plant.Finding) {
	heading := plant.Endangers("")
	for i := range findings {
		f := &findings[i]
		if f.Endangers != heading {
			if heading != "" {
				w.WriteByte('\n')
			}
			heading = f.Endangers
			fmt.Fprintf(w, "%s is endangered. %s\n", endangered[heading], heading.Stake())
		}
		fmt.Fprintf(w, "%s  %s\n", orDash(oneLine(f.Run)), findingWords(f))
		fmt.Fprintf(w, "    %s\n", groundWords(f))
		if f.Mend != "" {
			fmt.Fprintf(w, "    to mend: %s\n", oneLine(f.Mend))
		}
	}
}

// endangered are the subjects of the headings.
var endangered = map[plant.Endangers]string{
	plant.Equipment: "Equipment", plant.Link: "The link", plant.Margin: "The link's margin", plant.Records: "The record", plant.Growth: "Growth",
}

// findingWords tells a finding: what, by how much, and where the row stands.
func findingWords(f *plant.Finding) string {
	text := oneLine(strings.TrimSuffix(f.Text, "."))
	if f.By != "" {
		text += "; " + oneLine(f.By)
	}
	if f.File != "" {
		text += fmt.Sprintf("  (%s:%d)", f.File, f.Line)
	}
	return text
}

// groundWords tells how sure a finding is, by which source, and its rule.
func groundWords(f *plant.Finding) string {
	return fmt.Sprintf("%s, by %s; %s, %s", f.Sure, oneLine(f.Source), f.Verdict, f.Rule)
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// oneLine keeps a foreign text to its line.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// printSpaces writes the table of spaces, where there is something to count.
func printSpaces(w *bufio.Writer, r *web.AuditReport) {
	if len(r.Findings) == 0 || len(r.Spaces) == 0 {
		return
	}
	w.WriteByte('\n')
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprint(table, "space\truns\tclean")
	for _, e := range plant.EndangersAll() {
		fmt.Fprintf(table, "\t%s", e)
	}
	fmt.Fprintln(table)
	for _, s := range r.Spaces {
		name := s.Space
		if name == "" {
			name = "(none recorded)"
		}
		fmt.Fprintf(table, "%s\t%d\t%d", name, s.Runs, s.Clean)
		for _, e := range plant.EndangersAll() {
			fmt.Fprintf(table, "\t%d", s.Findings[e])
		}
		fmt.Fprintln(table)
	}
	table.Flush() // into w, which keeps the error
	w.WriteByte('\n')
}

func printTotals(w *bufio.Writer, r *web.AuditReport) {
	counts := map[plant.Endangers]int{}
	for i := range r.Findings {
		counts[r.Findings[i].Endangers]++
	}
	fmt.Fprintf(w, "%s judged, %d clean; %s", plural(r.Runs, "run"), r.Clean, plural(len(r.Findings), "finding"))
	separator := ": "
	for _, e := range plant.EndangersAll() {
		if counts[e] > 0 {
			fmt.Fprintf(w, "%s%d %s", separator, counts[e], e)
			separator = ", "
		}
	}
	w.WriteString(".\n")
}

// printReadiness writes a line for each run, and below it the reasons.
func printReadiness(w *bufio.Writer, all []web.Readiness) {
	counts := map[string]int{}
	for _, one := range all {
		counts[one.Answer]++
		speed := one.Speed
		if speed == "" {
			speed = "next speed"
		}
		fmt.Fprintf(w, "%s  %s: %s\n", one.Run, speed, one.Answer)
		for _, why := range one.Because {
			fmt.Fprintf(w, "    %s\n", oneLine(why))
		}
		for _, also := range one.Also {
			fmt.Fprintf(w, "    beside the cable: %s\n", oneLine(also))
		}
	}
	fmt.Fprintf(w, "%s: %d by the record yes, test needed; %d no; %d not known.\n", plural(len(all), "run"),
		counts[string(plant.ByRecord)], counts[string(plant.NotReady)], counts[string(plant.NotKnown)])
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	if strings.HasSuffix(word, "ch") {
		word += "e"
	}
	return fmt.Sprintf("%d %ss", n, word)
}
