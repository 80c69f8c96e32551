package sim

import (
	"encoding/csv"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// sheetOf parses a file of an inventory with the standard library's reader.
func sheetOf(t *testing.T, c *Campus, file string) (rows []map[string]string) {
	lines, err := csv.NewReader(strings.NewReader(c.Inventory()[file])).ReadAll()
	require.NoError(t, err, file)
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, key := range lines[0] {
			row[key] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// allRuns are the runs of all sheets, and by id only those of plant.yml.
func allRuns(t *testing.T, c *Campus) map[string]map[string]string {
	all := map[string]map[string]string{}
	for _, file := range []string{"runs.csv", "workshop.csv"} {
		for _, row := range sheetOf(t, c, file) {
			require.NotContains(t, all, row["id"])
			all[row["id"]] = row
		}
	}
	for _, run := range c.site.parts {
		require.NotContains(t, all, run["id"])
		all[run["id"]] = run
	}
	return all
}

func TestTheBookOfRecordErrorsIsOfRunsThatAreWrittenDown(t *testing.T) {
	c := FerrowQuay(1, noon)
	runs, sorts := allRuns(t, c), map[string]int{}
	for _, e := range c.RecordErrors() {
		require.Contains(t, runs, e.Run)
		require.NotEmpty(t, e.Because)
		sorts[e.What]++
	}
	require.GreaterOrEqual(t, len(sorts), 24, "sorts of record errors")
	require.Greater(t, sorts[besideMotor], 20)
	require.Equal(t, c.RecordErrors(), FerrowQuay(7, noon).RecordErrors(), "the same for every seed")
	require.Greater(t, len(runs), 4*len(c.RecordErrors()), "most records are right")
}

func TestBadlyKeptRecordsLeaveTheBookInOrder(t *testing.T) {
	c := FerrowQuayWith(1, noon, badlyKept)
	runs := allRuns(t, c)
	for _, e := range c.RecordErrors() {
		require.Contains(t, runs, e.Run)
	}
	for _, row := range sheetOf(t, c, "tests.csv") {
		require.Contains(t, runs, row["run"])
	}
	require.Less(t, len(c.RecordErrors()), len(FerrowQuay(1, noon).RecordErrors()))
}

func TestQuaysideHasNoRecordErrors(t *testing.T) {
	c := Quayside(1, noon)
	require.Empty(t, c.RecordErrors())
	require.Len(t, c.Inventory(), 2)
}

// What tests measured fits together: loss rises with frequency, and three pairs
// disturb a fourth no less than the worst of them, and at most 4.77 dB more.
func TestTheCertificatesArePhysical(t *testing.T) {
	c := FerrowQuay(1, noon)
	runs, tested := allRuns(t, c), map[string]map[string]map[float64]float64{}
	for _, row := range sheetOf(t, c, "tests.csv") {
		require.Equal(t, runs[row["run"]]["tested_on"], row["tested_on"])
		require.Empty(t, runs[row["run"]]["test_margin_db"], "the values say it")
		require.NotEqual(t, row["value"] == "", row["value_db"] == "")
		if row["frequency_mhz"] == "" || row["pairs"] != "" {
			continue
		}
		of := tested[row["run"]]
		if of == nil {
			of = map[string]map[float64]float64{}
			tested[row["run"]] = of
		}
		if of[row["parameter"]] == nil {
			of[row["parameter"]] = map[float64]float64{}
		}
		mhz, err := strconv.ParseFloat(row["frequency_mhz"], 64)
		require.NoError(t, err)
		db, err := strconv.ParseFloat(row["value_db"], 64)
		require.NoError(t, err)
		of[row["parameter"]][mhz] = db
	}
	require.Greater(t, len(tested), 20)
	for run, of := range tested {
		before := 0.0
		for _, f := range slices.Sorted(maps.Keys(of["insertion loss"])) {
			require.GreaterOrEqual(t, of["insertion loss"][f], before, "%s at %v MHz", run, f)
			require.LessOrEqual(t, of["PSNEXT"][f], of["NEXT"][f]+0.05, "%s at %v MHz", run, f)
			require.GreaterOrEqual(t, of["PSNEXT"][f], of["NEXT"][f]-4.9, "%s at %v MHz", run, f)
			before = of["insertion loss"][f]
		}
	}
	require.Len(t, tested["W1-P1-01"]["NEXT"], 500, "a full sweep")
}
