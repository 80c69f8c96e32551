package plant

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// DraftPort is one port as its switch shows it once.
type DraftPort struct {
	SeenPort
	Up         bool            // it has a link
	Offers     standards.Speed // the fastest that it offers in auto-negotiation; 0 where not told
	PHY        string          // IEEE name; "" where not told
	Medium     standards.Medium
	Neighbours []port.Neighbour // whom it hears
}

// Drafted is a file of runs, and how it came to be.
type Drafted struct {
	CSV     []byte
	Added   int // rows
	Filled  int // cells of rows that were there
	Differs int // rows of which something is seen otherwise

	Recorded int            // ports that have a run in the file or in another, counted once for each port
	Signless int            // ports without link, description and neighbour
	Untold   []UnjoinedPort // ports with a sign of a run for which no row could be made
}

// Draft adds to a file of runs (nil where there is none yet) a row for each
// cable of which the ports show a sign: a link, a description, a neighbour.
// Every drafted cell has an entry in drafted_from. Rows that are there keep
// every cell that has a text; an empty one is filled once, and draft_differs
// tells what is seen otherwise. All else of the file stays as it is. Drafting
// again with the same ports changes nothing.
//
// labels, which may be nil, finds ids in ifAlias by the group "run", and by
// groups "outlet", "panel" and "position" what these keys hold. A text that
// several cables carry is no id. rest, which may be nil, is the inventory but
// for this file: its ports and ids are taken, and only its panels are known.
//
// The error tells what keeps the file from being read, with its line.
func Draft(file []byte, found []DraftPort, labels *regexp.Regexp, rest *Plant) (*Drafted, error) {
	s, err := readSheet(file)
	if err != nil {
		return nil, err
	}
	d := newDrafter(s, found, labels, rest)
	d.findRows()
	for _, c := range d.cables() {
		d.draft(c)
	}
	d.out.CSV = s.bytes()
	return d.out, nil
}

// Without gives the plant without the runs and tests that stand in a file,
// which is named as in Files.
func (p *Plant) Without(file string) *Plant {
	rest := *p
	rest.Runs = slices.DeleteFunc(slices.Clone(p.Runs), func(r *Run) bool { return r.File == file })
	rest.Tests = slices.DeleteFunc(slices.Clone(p.Tests), func(t *TestRow) bool { return t.File == file })
	return New(rest)
}

// drafter holds what a draft is made from.
type drafter struct {
	sheet *sheet
	found []DraftPort
	rest  *Plant
	join  *joiner // finds ports by what records call them
	out   *Drafted

	labels    *regexp.Regexp
	texts     map[string][]int // by folded label: ports whose descriptions give it
	rowByID   map[string]*sheetRow
	rowsAt    map[int][]*sheetRow    // by port
	elsewhere map[int]bool           // ports that rest has
	restIDs   map[string]bool        // folded
	taken     map[string]bool        // folded ids and labels
	devices   map[string][]*sheetRow // by folded name; nil rows for those of rest
	hearers   map[string]int         // by folded name: how many ports hear this device alone
	trunks    map[string]int         // by switch: how many cables to watched switches
}

// cable is what a row is made for: one port, or both ends of a link.
type cable struct {
	near, far int // far is nowhere, or unseen: then the port that near hears
}

func newDrafter(s *sheet, found []DraftPort, labels *regexp.Regexp, rest *Plant) *drafter {
	if rest == nil {
		rest = New(Plant{})
	}
	d := &drafter{
		sheet: s, found: found, rest: rest, out: &Drafted{}, labels: labels,
		texts: map[string][]int{}, rowByID: map[string]*sheetRow{}, rowsAt: map[int][]*sheetRow{},
		elsewhere: map[int]bool{}, restIDs: map[string]bool{}, taken: map[string]bool{}, devices: map[string][]*sheetRow{},
		hearers: map[string]int{}, trunks: map[string]int{},
	}
	seen := make([]SeenPort, len(found))
	var names []string
	for i := range found {
		seen[i] = found[i].SeenPort
		names = append(names, seen[i].Switch)
	}
	d.join = newJoiner(rest, seen, unique(names))
	d.join.readLinks()
	for i := range seen {
		if seen[i].Physical && !d.join.twins[i] {
			d.hearers[fold(seen[i].Device)]++
		}
		for _, text := range []string{d.label(seen[i].Alias, "run"), d.label(seen[i].Description, "run")} {
			if id := fold(text); id != "" {
				d.taken[id] = true
				if at := d.texts[id]; len(at) == 0 || at[len(at)-1] != i {
					d.texts[id] = append(at, i)
				}
			}
		}
	}
	for _, l := range d.join.links() {
		d.trunks[seen[l.a].Switch]++
		if l.b >= 0 {
			d.trunks[seen[l.b].Switch]++
		} else {
			d.trunks[seen[l.a].Peer.Switch]++
		}
	}
	return d
}

// label gives the text of a group in a description.
func (d *drafter) label(text, group string) string {
	if d.labels == nil || d.labels.SubexpIndex(group) < 0 {
		return ""
	}
	at := d.labels.FindStringSubmatch(text)
	if at == nil {
		return ""
	}
	return safe(at[d.labels.SubexpIndex(group)])
}

// safe makes a foreign text fit for a cell: without control characters, and
// none that a spreadsheet takes for a formula.
func safe(text string) string {
	text = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(text, ""))
	text = strings.Join(strings.Fields(text), " ")
	if text != "" && strings.ContainsRune("=+-@", rune(text[0])) {
		return ""
	}
	return text
}

// findRows finds the ports and ids that rows have already.
func (d *drafter) findRows() {
	for i := range d.join.sides {
		run := d.join.sides[i][NearEnd].run
		d.taken[fold(run.ID)], d.restIDs[fold(run.ID)] = true, true
		d.devices[fold(run.Device)] = append(d.devices[fold(run.Device)], nil)
		for _, at := range []PortRef{run.Near(), run.Far()} {
			if n := d.portOf(at); n >= 0 {
				d.elsewhere[n] = true
			}
		}
	}
	for _, r := range d.sheet.rows {
		if r.blank {
			continue
		}
		id := fold(d.sheet.get(r, "id"))
		if d.rowByID[id] == nil {
			d.rowByID[id] = r
		}
		d.taken[id] = true
		device := fold(d.sheet.get(r, "device"))
		d.devices[device] = append(d.devices[device], r)
		near, far := d.ends(r)
		for _, n := range unique([]int{near, far}) {
			if n >= 0 {
				d.rowsAt[n] = append(d.rowsAt[n], r)
			}
		}
	}
}

// ends gives the ports that a row names, where they are found.
func (d *drafter) ends(r *sheetRow) (near, far int) {
	return d.portOf(PortRef{d.sheet.get(r, "switch"), d.sheet.get(r, "port")}),
		d.portOf(PortRef{d.sheet.get(r, "far_switch"), d.sheet.get(r, "far_port")})
}

func (d *drafter) portOf(at PortRef) int {
	if at.Switch == "" || at.Port == "" {
		return nowhere
	}
	n, _, _ := d.join.find(at)
	return n
}

// cables gives what shows a sign of a run, in the order of the near ports
// found. The near end of a link is at the switch with fewer of them.
func (d *drafter) cables() (out []cable) {
	for i := range d.found {
		p := &d.found[i]
		peer := d.join.peers[i]
		switch {
		case !p.Physical:
		case d.join.twins[i]:
			d.untold(i, fmt.Sprintf("switch %q shows several ports of this name", p.Switch))
		case peer >= 0:
			if d.nearer(i, peer) {
				out = append(out, cable{i, peer})
			}
		case !p.Up && d.label(p.Alias, "run") == "" && len(p.Neighbours) == 0 && peer == nowhere:
			d.out.Signless++
		default:
			out = append(out, cable{i, peer})
		}
	}
	return out
}

// nearer tells whether a is the near end of the link to b.
func (d *drafter) nearer(a, b int) bool {
	x, y := d.found[a].Switch, d.found[b].Switch
	if d.trunks[x] != d.trunks[y] {
		return d.trunks[x] < d.trunks[y]
	}
	if x != y {
		return x < y
	}
	return a < b
}

func (c cable) ports() []int {
	if c.far >= 0 {
		return []int{c.near, c.far}
	}
	return []int{c.near}
}

func (d *drafter) untold(i int, why string) {
	d.out.Untold = append(d.out.Untold, UnjoinedPort{d.found[i].Ref(), why})
}

// draft brings one cable into the file.
func (d *drafter) draft(c cable) {
	if slices.ContainsFunc(c.ports(), func(i int) bool { return d.elsewhere[i] }) {
		d.out.Recorded += len(c.ports())
		return
	}
	id, named := d.idOf(c)
	if rows := d.rowsOf(c, id, named); len(rows) > 0 {
		d.out.Recorded += len(c.ports())
		// One without an id comes first: what it is called now bears on the others.
		slices.SortStableFunc(rows, func(a, b *sheetRow) int { return cmp.Compare(d.sheet.get(a, "id"), d.sheet.get(b, "id")) })
		for _, r := range rows {
			d.update(r, c, len(rows) == 1)
		}
		return
	}
	if i, why := d.clash(c, id); why != "" {
		d.untold(i, why)
		return
	}
	d.write(c, id)
}

// rowsOf gives the rows of a cable: those that name one of its ports, else the
// one without a port that has its id, or its device as no other has.
func (d *drafter) rowsOf(c cable, id string, named bool) (rows []*sheetRow) {
	for _, i := range c.ports() {
		rows = append(rows, d.rowsAt[i]...)
	}
	if len(rows) > 0 {
		return unique(rows)
	}
	r := d.rowByID[fold(id)]
	if r == nil || !named {
		r = d.rowOfDevice(c)
	}
	if r == nil {
		return nil
	}
	if near, far := d.ends(r); near >= 0 || far >= 0 {
		return nil
	}
	return []*sheetRow{r}
}

func (d *drafter) rowOfDevice(c cable) *sheetRow {
	name := fold(d.found[c.near].Device)
	if rows := d.devices[name]; name != "" && c.far == nowhere && len(rows) == 1 && d.hearers[name] == 1 && rows[0] != nil &&
		d.sheet.get(rows[0], "port") == "" && slices.Contains([]string{"", d.found[c.near].Switch}, d.sheet.get(rows[0], "switch")) {
		return rows[0]
	}
	return nil
}

// idOf gives the id that a cable's descriptions name, or one made of its near
// port.
func (d *drafter) idOf(c cable) (id string, named bool) {
	ports := c.ports()
	for _, i := range ports {
		text := d.label(d.found[i].Alias, "run")
		if text == "" || d.restHas(text) {
			continue
		}
		mine := !slices.ContainsFunc(d.texts[fold(text)], func(n int) bool { return !slices.Contains(ports, n) })
		if r := d.rowByID[fold(text)]; r != nil && mine {
			return d.sheet.get(r, "id"), true
		}
		if mine {
			return text, true
		}
	}
	p := d.found[c.near].Ref()
	base := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune("._-", r) {
			return r
		}
		return '-'
	}, safe(p.Switch)+"-"+safe(p.Port))
	id = strings.TrimLeft(base, "-")
	for n := 2; d.taken[fold(id)]; n++ {
		id = fmt.Sprintf("%s-%d", strings.TrimLeft(base, "-"), n)
	}
	return id, false
}

func (d *drafter) restHas(text string) bool { return d.restIDs[fold(text)] }

// recorded tells whether a text is an id of the inventory.
func (d *drafter) recorded(text string) bool { return d.restHas(text) || d.rowByID[fold(text)] != nil }

// clash tells why a new row of this id would contradict what is seen at one
// of its ports: the port then stays without one.
func (d *drafter) clash(c cable, id string) (at int, why string) {
	for _, i := range c.ports() {
		p := &d.found[i]
		if name, _ := d.portText(i); name == "" {
			return i, "none of its names can be written into a file"
		}
		for _, text := range []string{p.Alias, p.Description} {
			label := d.label(text, "run")
			if label != "" && d.recorded(label) {
				return i, fmt.Sprintf("its description names run %s, which is recorded elsewhere", label)
			}
		}
		if name := fold(p.Device); name != "" && len(d.devices[name]) == 1 && d.hearers[name] == 1 {
			return i, fmt.Sprintf("it hears %q, which the record of another run names as its device", p.Device)
		}
	}
	return nowhere, ""
}
