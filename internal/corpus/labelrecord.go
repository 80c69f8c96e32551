package corpus

import (
	"maps"
	"os"
	"path/filepath"
	"slices"

	"gopkg.in/yaml.v3"
)

// How the records are kept: of ten runs one has no row and one no port, of what
// else is known of a run a third is missing, and 3 % of what is there is another
// run's.
const (
	rowMissing  = 0.1
	portMissing = 0.1
	cellMissing = 1.0 / 3
	cellWrong   = 0.03
)

// swap gives two runs each other's recorded port.
func (l *Labelled) swap(one, other *spot) {
	for _, key := range []string{"switch", "port"} {
		one.record[key], other.record[key] = other.record[key], one.record[key]
	}
	l.swapped[one.id], l.swapped[other.id] = true, true
}

// keep writes down what the site's people know of it.
func (l *Labelled) keep() {
	labels := map[string]*Label{}
	for _, label := range l.Labels {
		labels[label.Run] = label
	}
	spots := slices.Clone(l.site.spots)
	for _, s := range spots {
		if label := labels[s.id]; s.far == "" && !l.swapped[s.id] && l.chance(cellWrong/2) && (label == nil || !label.LookAlike) {
			if others := l.site.beside(s, 1, func(o *spot) bool { return o.far == "" && !l.swapped[o.id] && labels[o.id] == nil }); len(others) > 0 {
				l.swap(s, others[0])
			}
		}
	}
	for _, s := range spots {
		label := labels[s.id]
		known := l.swapped[s.id] && label != nil && label.LookAlike // the record is what this is about
		if !known && l.chance(rowMissing) {
			continue
		}
		row := l.kept(s, known)
		s.recorded = true
		l.records = append(l.records, row)
		switch speed := row["design_speed"]; {
		case label != nil:
			label.RecordRight = row["port"] != "" && !l.swapped[s.id]
		case speed != "" && speed != s.record["design_speed"]: // another run's: that is all that is wrong here
			l.Labels = append(l.Labels, &Label{
				Run: s.id, Near: s.near, Far: s.far, Causes: []string{"record-wrong"}, Kinds: []string{"below-design-speed"}, LookAlike: true,
			})
		}
	}
}

// kept is a run's row.
func (l *Labelled) kept(s *spot, known bool) map[string]string {
	row := map[string]string{"id": s.id}
	place := known || !l.chance(portMissing)
	for _, key := range slices.Sorted(maps.Keys(s.record)) {
		switch key {
		case "switch", "port", "far_switch", "far_port":
			if place {
				row[key] = s.record[key]
			}
			continue
		case "id":
			continue
		case "position":
			if row["panel"] != "" {
				row[key] = s.record[key]
			}
			continue
		}
		if key == "always_on" { // who marks those, marks them all
			row[key] = s.record[key]
			continue
		}
		if l.chance(cellMissing) && !known {
			continue
		}
		row[key] = s.record[key]
		if l.chance(cellWrong) {
			if other := pick(l, l.site.spots...); (other.far == "") == (s.far == "") && other.record[key] != "" {
				row[key] = other.record[key]
			}
		}
	}
	return row
}

var labelCables = []map[string]string{
	{"id": "cat-3", "media": "copper", "category": "3", "shield": "U/UTP"},
	{"id": "cat-5e", "media": "copper", "category": "5e", "shield": "U/UTP", "awg": "24"},
	{"id": "cat-6", "media": "copper", "category": "6", "shield": "U/UTP", "awg": "23"},
	{"id": "cat-6a", "media": "copper", "category": "6A", "shield": "U/UTP", "awg": "23"},
	{"id": "cat-6a-screened", "media": "copper", "category": "6A", "shield": "F/UTP", "awg": "23"},
	{"id": "om4", "media": "fibre", "fibre": "OM4"},
	{"id": "os2", "media": "fibre", "fibre": "OS2"},
}

// WriteInventory writes the inventory into a directory and gives its path.
func (l *Labelled) WriteInventory(directory string) (string, error) {
	var spaces, panels, pathways []map[string]any
	seen := map[string]bool{}
	add := func(list *[]map[string]any, id string, more map[string]any) {
		if id != "" && !seen[id] {
			seen[id], more["id"] = true, id
			*list = append(*list, more)
		}
	}
	for i := range l.Stage.scenario.Switches {
		add(&spaces, l.Stage.scenario.Switches[i].room(), map[string]any{"name": "Telecom room"})
	}
	for _, s := range l.site.spots {
		add(&panels, s.record["panel"], map[string]any{})
		add(&pathways, s.record["pathways"], map[string]any{})
	}
	data, err := yaml.Marshal(map[string]any{
		"site": "Ferrow Quay College", "spaces": spaces, "panels": panels, "pathways": pathways, "cables": labelCables, "runs": l.records,
		"tests_files": []string{"tests.csv"},
	})
	path := filepath.Join(directory, "plant.yml")
	if err == nil {
		err = l.writeTests(directory)
	}
	if err == nil {
		err = os.WriteFile(path, data, 0o600)
	}
	return path, err
}
