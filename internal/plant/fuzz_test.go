package plant

import (
	"io/fs"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// sound checks what must hold whatever was read.
func sound(t *testing.T, p *Plant, problems []Problem) {
	for _, problem := range problems {
		require.NotEmpty(t, problem.File)
		require.Positive(t, problem.Line, problem.String())
		require.NotEmpty(t, problem.Text)
	}
	for _, run := range p.Runs {
		require.NotEmpty(t, run.ID)
		require.Same(t, run, p.Run(run.ID))
		if length, ok := run.LengthM.Get(); ok {
			require.True(t, length >= 0 && !math.IsInf(length, 1), "length %v", length)
		}
		run.Ends()
	}
	p.Join([]SeenPort{{Switch: "s", Name: "1", Physical: true}}, []string{"s"}, nil)
}

func FuzzYAML(f *testing.F) {
	data, err := os.ReadFile("testdata/plant.yml")
	require.NoError(f, err)
	f.Add(data)
	f.Add([]byte(base + "{id: R, segments: [{cable: c}], pathways: w;v}"))
	f.Add([]byte("a: &a [*a]\nruns: [*a, &b {id: *b}]"))
	f.Add([]byte("runs: [{<<: {id: x}}, {? {a: b} : c}, {id: !!binary aGk=}]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, problems, err := parse("plant.yml", data, func(string) ([]byte, error) { return nil, fs.ErrNotExist })
		if err == nil {
			sound(t, p, problems)
		}
	})
}

func FuzzCSV(f *testing.F) {
	for _, file := range []string{"testdata/runs.csv", "testdata/tests.csv"} {
		data, err := os.ReadFile(file)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Add([]byte("id,notes,length_m\nA,\"a\nb\",6o\nB,\"\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, problems, err := parse("plant.yml", []byte("runs_files: a\ntests_files: b\n"), func(string) ([]byte, error) { return data, nil })
		require.NoError(t, err)
		sound(t, p, problems)
	})
}
