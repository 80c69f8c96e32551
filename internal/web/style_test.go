package web

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Contrast asked for by WCAG 2.2: 1.4.3 (AA) for text, 1.4.11 for what else
// one must see.
const (
	textContrast  = 4.5
	otherContrast = 3
)

// The roles of the style sheet's colours. Any text may stand on any surface.
var (
	texts    = []string{"ink", "soft", "link", "critical", "warning", "well", "unknown"}
	surfaces = []string{"page", "sheet", "notice"}
	outlines = []string{"focus", "ink", "link", "critical", "warning"}
)

func TestContrast(t *testing.T) {
	css, err := staticFiles.ReadFile("static/style.css")
	require.NoError(t, err)
	light, dark := schemes(t, string(css))
	for name, scheme := range map[string]map[string]string{"light": light, "dark": dark} {
		for _, surface := range surfaces {
			for _, text := range texts {
				require.GreaterOrEqual(t, contrast(scheme[text], scheme[surface]), textContrast, "%s: %s on %s", name, text, surface)
			}
			for _, outline := range outlines {
				require.GreaterOrEqual(t, contrast(scheme[outline], scheme[surface]), float64(otherContrast), "%s: %s on %s", name, outline, surface)
			}
		}
	}
}

// Every rule takes its colours from the roles above, so that the pairs tested
// are all there are.
func TestRulesUseTheRolesAlone(t *testing.T) {
	css, err := staticFiles.ReadFile("static/style.css")
	require.NoError(t, err)
	rules := regexp.MustCompile(`(?s):root \{.*?\}`).ReplaceAllString(string(css), "")
	require.NotRegexp(t, `#[0-9a-fA-F]{3,8}\b|rgb|hsl|opacity`, rules)
	require.NotRegexp(t, `url\(|@import|@font-face`, rules, "nothing is loaded")
	colours := regexp.MustCompile(`(?m)[{;\s]color: ([^;]+);`).FindAllStringSubmatch(rules, -1)
	require.Greater(t, len(colours), len(texts))
	for _, m := range colours {
		require.Contains(t, texts, strings.TrimSuffix(strings.TrimPrefix(m[1], "var(--"), ")"))
	}
	for _, m := range regexp.MustCompile(`background(?:-color)?: ([^;]+);`).FindAllStringSubmatch(rules, -1) {
		if m[1] != "none" {
			require.Contains(t, surfaces, strings.TrimSuffix(strings.TrimPrefix(m[1], "var(--"), ")"))
		}
	}
}

// schemes reads the custom properties: those of the light scheme, and those
// that the dark one sets over them.
func schemes(t *testing.T, css string) (light, dark map[string]string) {
	roots := regexp.MustCompile(`(?s):root \{(.*?)\}`).FindAllStringSubmatch(css, -1)
	require.Len(t, roots, 2)
	light, dark = properties(roots[0][1]), properties(roots[1][1])
	require.Len(t, dark, len(light), "the dark scheme sets every colour")
	for _, role := range append(append([]string{}, texts...), surfaces...) {
		require.Contains(t, light, role)
		require.Contains(t, dark, role)
	}
	return light, dark
}

func properties(block string) map[string]string {
	out := map[string]string{}
	for _, m := range regexp.MustCompile(`--([a-z]+): (#[0-9a-f]{6});`).FindAllStringSubmatch(block, -1) {
		out[m[1]] = m[2]
	}
	return out
}

// contrast is the contrast ratio of WCAG 2.2.
func contrast(a, b string) float64 {
	la, lb := luminance(a), luminance(b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

// luminance is the relative luminance of WCAG 2.2, from a colour as #rrggbb.
func luminance(colour string) float64 {
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		octet, err := strconv.ParseUint(colour[1+2*i:3+2*i], 16, 8)
		if err != nil {
			panic(err) // properties lets hexadecimal digits alone through
		}
		c := float64(octet) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

// WCAG 2.2 gives 21:1 for black on white; #767676 on white is the lightest
// grey that passes (memory).
func TestContrastFormula(t *testing.T) {
	require.InDelta(t, 21, contrast("#000000", "#ffffff"), 1e-9)
	require.InDelta(t, 1, contrast("#4d585d", "#4d585d"), 1e-9)
	require.InDelta(t, 4.54, contrast("#767676", "#ffffff"), 0.005)
}

// Colour is never all that tells: each state and severity has its word and a
// mark of its own.
func TestMarksDiffer(t *testing.T) {
	seen := map[string]bool{}
	for state, mark := range stateMarks {
		require.False(t, seen[mark], state)
		seen[mark] = true
	}
	for severity, mark := range severityMarks {
		require.False(t, seen[mark], severity)
		seen[mark] = true
	}
	require.Len(t, stateMarks, len(states))

	seen = map[string]bool{}
	for _, g := range grades {
		require.False(t, seen[g.Mark] || seen[g.Word], g.Word)
		seen[g.Mark], seen[g.Word] = true, true
	}
}

// Each bar stands beside its word and its number, which a reader gets that
// sees no bar at all (WCAG 2.2, 1.1.1 and 1.4.1), and none is drawn for none.
func TestBarsAreTexts(t *testing.T) {
	_, page := get(t, serve(t, source(gapped())).URL+"/coverage")
	rows := regexp.MustCompile(`<tr class="[a-z]+"><th scope="row"><span aria-hidden="true">\S+</span> ([^<]+)</th><td class="number">([0-9,]+)</td>\s*`+
		`<td><svg [^>]*aria-hidden="true"[^>]*><rect width="([0-9.]+)" height="1">`).FindAllStringSubmatch(page, -1)
	require.Len(t, rows, len(states)+5)
	require.Equal(t, strings.Count(page, "<svg"), len(rows))
	sum := 0
	for _, row := range rows {
		n, err := strconv.Atoi(row[2])
		require.NoError(t, err)
		require.Equal(t, n == 0, row[3] == "0", row[1])
		sum += n
	}
	require.Equal(t, 11+9, sum, "all runs and all ports, each once")
	require.Equal(t, "unknown", rows[0][1], "unknown stands first and apart")
}

// What WCAG 2.2 asks of a page's structure: language (3.1.1), title (2.4.2),
// a way past the header (2.4.1), headers of tables (1.3.1).
func TestPagesAreMadeForEveryone(t *testing.T) {
	server, crowded := serve(t, source(scene())), serve(t, source(bigScene()))
	for path := range htmlPages {
		_, page := get(t, server.URL+path)
		if path == "/coverage" {
			_, page = get(t, crowded.URL+path)
		}
		require.Contains(t, page, `<html lang="en">`, path)
		require.Regexp(t, `<title>[^<]+ – Ferrow Quay College – toneout</title>`, page, path)
		require.Contains(t, page, `<a class="skip" href="#main">`, path)
		require.Contains(t, page, `<main id="main" tabindex="-1">`, path)
		require.Equal(t, 1, strings.Count(page, "<h1>"), path)
		ids := map[string]bool{}
		for _, id := range regexp.MustCompile(` id="[^"]*"`).FindAllString(page, -1) {
			require.False(t, ids[id], "%s: %s twice", path, id)
			ids[id] = true
		}
		require.NotContains(t, page, "<summary></summary>", path)
		for _, th := range regexp.MustCompile(`<th[ >][^>]*`).FindAllString(page, -1) {
			require.Regexp(t, `scope="(col|row)"`, th, path)
		}
	}
}
