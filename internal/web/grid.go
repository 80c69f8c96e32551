package web

// grid is a table whose rows become cards on a phone.
type grid struct {
	Caption string
	Heads   []string
	Rows    []gridRow
	Brief   bool // figures and words of one line: on a phone a row is a paragraph
}

type gridRow struct{ Cells []cell }

// cell is one field; the first of a row is its header.
type cell struct {
	Head  string // of its column
	Mark  string // before the text; colour is never alone
	Class string // of mark and text
	Text  string
	URL   string
	Notes []string // below
	Code  string   // likewise, for scripts
}

func newGrid(caption string, heads ...string) *grid { return &grid{Caption: caption, Heads: heads} }

func briefGrid(caption string, heads ...string) *grid {
	return &grid{Caption: caption, Heads: heads, Brief: true}
}

// add appends a row with a cell for each head.
func (g *grid) add(cells ...cell) {
	for i := range cells {
		cells[i].Head = g.Heads[i]
	}
	g.Rows = append(g.Rows, gridRow{cells})
}

func plain(text string) cell { return cell{Text: text} }

// told is a cell that says so where there is nothing.
func told(text string) cell {
	if text == "" {
		return cell{Text: "–"}
	}
	return cell{Text: text}
}

// marked is how a verdict is drawn: never as a run's state, which is of now.
type marked struct{ class, mark string }

func (m marked) cell(text string) cell { return cell{Text: text, Class: m.class, Mark: m.mark} }

var verdictMarks = map[string]marked{
	"allowed": {"fits", "✓"}, "depends": {"unsure", "~"}, "not allowed": {"broken", "✗"}, "not judged": {"unjudged", "?"},
}

var resultMarks = map[string]marked{
	"pass": {"fits", "✓"}, "pass*": {"unsure", "~"}, "fail*": {"unsure", "!"}, "fail": {"broken", "✗"}, "": {"unjudged", "?"},
}
