package plant

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// want is what a cell should hold by what is seen, and what that rests on.
type want struct {
	key, text, source string
}

// draftedFirst is the head of a new file: what is drafted, and what a person
// fills in first.
var draftedFirst = []string{
	"id", "switch", "port", "far_switch", "far_port", "cable", "length_m", "panel", "position", "outlet", "pathways",
	"design_speed", "device", "passes_through", "optic", "far_optic", "importance", "status", "draft_differs", "drafted_from", // never empty, since some programs cut what is empty at the end
}

// write adds a row for a cable.
func (d *drafter) write(c cable, id string) {
	if len(d.sheet.columns) == 0 {
		d.sheet.header.end = d.sheet.newline
		for _, key := range draftedFirst {
			d.sheet.set(&d.sheet.header, key, key)
		}
	}
	r := d.sheet.add()
	var from []string
	for _, w := range append(d.wants(c, id), want{"status", string(Live), "seen"}) {
		d.sheet.set(r, w.key, w.text)
		from = append(from, w.key+"="+w.source)
	}
	d.sheet.set(r, "drafted_from", strings.Join(from, ";"))
	d.taken[fold(id)] = true
	d.out.Added++
}

// wants gives the cells of a cable's row, in the order of the columns.
func (d *drafter) wants(c cable, id string) (out []want) {
	add := func(key, text, source string) {
		if text != "" {
			out = append(out, want{key, text, source})
		}
	}
	near := &d.found[c.near]
	source := "switch and port"
	if slices.ContainsFunc(c.ports(), func(i int) bool { return fold(d.label(d.found[i].Alias, "run")) == fold(id) }) {
		source = "description"
	}
	add("id", id, source)
	add("switch", near.Switch, "asked")
	name, column := d.portText(c.near)
	add("port", name, column)
	if far := d.farOf(c); far.Port != "" {
		add("far_switch", far.Switch, "neighbour")
		add("far_port", far.Port, "neighbour")
	}
	if panel := d.label(near.Alias, "panel"); panel != "" && d.rest.Panel(panel) != nil {
		add("panel", panel, "description")
		add("position", d.label(near.Alias, "position"), "description")
	}
	add("outlet", d.label(near.Alias, "outlet"), "description")
	speed, by := d.designSpeed(c)
	add("design_speed", speed, by)
	if device, phone := d.deviceOf(c); device != "" {
		add("device", device, "neighbour")
		if phone {
			add("passes_through", "phone", "neighbour")
		}
	}
	add("optic", opticOf(near), "PHY")
	if c.far >= 0 {
		add("far_optic", opticOf(&d.found[c.far]), "PHY")
	}
	return out
}

// portText is what a row calls a port, so that Join finds it, and the column
// of that name; "" where none will do.
func (d *drafter) portText(i int) (text, column string) {
	p := &d.found[i]
	for _, name := range []struct {
		text string
		how  How
	}{{p.Name, ByName}, {p.Description, ByDescr}, {strconv.Itoa(p.Index), ByIndex}} {
		text := strings.TrimSpace(name.text)
		if problemOf(text, false) == "" && d.portOf(PortRef{p.Switch, text}) == i {
			return text, string(name.how)
		}
	}
	return "", ""
}

// farOf is the port at the far end of a cable; the zero PortRef where no
// watched switch is there.
func (d *drafter) farOf(c cable) PortRef {
	switch peer := d.found[c.near].Peer; {
	case c.far >= 0:
		text, _ := d.portText(c.far)
		return PortRef{d.found[c.far].Switch, text}
	case c.far == unseen && problemOf(peer.Port, false) == "":
		return PortRef{peer.Switch, strings.TrimSpace(peer.Port)}
	}
	return PortRef{}
}

// deviceOf names the device at the far end of a cable and tells whether a
// telephone is before it. A name that another port alone hears would speak for
// that port, and is left out.
func (d *drafter) deviceOf(c cable) (name string, behindPhone bool) {
	p := &d.found[c.near]
	if c.far != nowhere || p.Peer != (PortRef{}) {
		return "", false
	}
	name, behindPhone = deviceOf(p.Neighbours)
	if d.hearers[fold(name)] == 1 && fold(p.Device) != fold(name) {
		return "", false
	}
	return name, behindPhone
}

// opticOf gives the PHY of a port on fibre.
func opticOf(p *DraftPort) string {
	if p.Medium != standards.Fibre || !phyName.MatchString(p.PHY) {
		return ""
	}
	return p.PHY
}

// designSpeed is what both ends offer, or the only speed that an optic has.
// The speed that a copper link has now is not what it is meant to have: it may
// be the fault.
func (d *drafter) designSpeed(c cable) (text, source string) {
	near := &d.found[c.near]
	if phy, known := standards.PHYNamed(opticOf(near)); known {
		return named(phy.Speed), "the optic's speed"
	}
	var far standards.Speed
	switch {
	case c.far >= 0:
		far = d.found[c.far].Offers
	default:
		far = offered(near.Neighbours)
	}
	if near.Offers == 0 || far == 0 || near.Medium == standards.Fibre {
		return "", ""
	}
	return named(min(near.Offers, far)), "both ends offer it"
}

// named is a speed as an inventory writes it, "" for another.
func named(s standards.Speed) string {
	if _, err := standards.ParseSpeed(s.String()); err != nil {
		return ""
	}
	return s.String()
}

// offered is what the other end of the cable offers: the one neighbour, or the
// telephone among several.
func offered(neighbours []port.Neighbour) standards.Speed {
	end := theOne(neighbours, func(port.Neighbour) bool { return true })
	if end == nil {
		end = theOne(neighbours, isPhone)
	}
	if end == nil {
		return 0
	}
	abilities, _ := end.Offered.Get()
	return abilities.Fastest()
}

// deviceOf names the device at the far end, behind a telephone where one is
// between.
func deviceOf(neighbours []port.Neighbour) (name string, behindPhone bool) {
	if end := theOne(neighbours, func(port.Neighbour) bool { return true }); end != nil {
		return safe(end.System), false
	}
	phone := theOne(neighbours, isPhone)
	behind := theOne(neighbours, func(n port.Neighbour) bool { return !isPhone(n) })
	switch {
	case phone == nil || len(neighbours) > 2:
		return "", false
	case behind == nil:
		return "", false
	}
	return cmp.Or(safe(behind.System), safe(phone.System)), true
}

func isPhone(n port.Neighbour) bool { return n.Roles.Has(port.Telephone) }

func theOne(neighbours []port.Neighbour, is func(port.Neighbour) bool) (one *port.Neighbour) {
	for i := range neighbours {
		if !is(neighbours[i]) {
			continue
		}
		if one != nil {
			return nil
		}
		one = &neighbours[i]
	}
	return one
}

// update fills what was never drafted in a row that is there, and tells in
// draft_differs what is seen otherwise.
func (d *drafter) update(r *sheetRow, c cable, alone bool) {
	near, far := d.ends(r)
	if c.far >= 0 && (near == c.far || far == c.near) && near != c.near && far != c.far {
		c = cable{c.far, c.near} // the record runs the other way
	} else if far == c.near && near != c.near {
		return // seen from the far end only
	}
	id, named := d.idOf(c)
	if !named {
		id = d.sheet.get(r, "id")
	}
	u := &updater{drafter: d, row: r, drafted: entries(d.sheet.get(r, "drafted_from")), fresh: map[string]string{}}
	for _, w := range d.wants(c, id) {
		u.weigh(w, c, alone)
	}
	u.finish()
}

// updater compares one row with what is seen.
type updater struct {
	*drafter
	row     *sheetRow
	drafted []string          // entries of drafted_from
	fresh   map[string]string // by key: what differs now, "" where it agrees
	filled  []string          // entries to add
}

// entries takes a list of a cell apart.
func entries(cell string) []string { return split([]string{cell}) }

func (u *updater) wasDrafted(key string) bool {
	return slices.ContainsFunc(u.drafted, func(e string) bool { return strings.HasPrefix(e, key+"=") })
}

// pairs are keys that mean nothing without another.
var pairs = map[string]string{"port": "switch", "far_port": "far_switch", "position": "panel"}

func (u *updater) weigh(w want, c cable, alone bool) {
	have := u.sheet.get(u.row, w.key)
	switch {
	case have == "" && u.wasDrafted(w.key):
		u.fresh[w.key] = "" // cleared by a person
	case have == "" && u.mayFill(w, c, alone):
		u.sheet.set(u.row, w.key, w.text)
		if w.key == "id" {
			u.rowByID[fold(w.text)] = u.row
		}
		u.filled = append(u.filled, w.key+"="+w.source)
		u.fresh[w.key] = ""
		u.out.Filled++
	case have == "" && w.key != "far_switch" && w.key != "device" || have != "" && (u.agrees(w, have, c) || !u.comparable(w, have)):
		u.fresh[w.key] = ""
	default:
		u.fresh[w.key] = fmt.Sprintf("now %s by %s", strings.ReplaceAll(w.text, ";", ","), w.source)
	}
}

// mayFill tells whether a cell that was always empty may take what is seen.
func (u *updater) mayFill(w want, c cable, alone bool) bool {
	get := func(key string) string { return u.sheet.get(u.row, key) }
	if first, paired := pairs[w.key]; paired && get(first) != u.textOf(first, c) {
		return false
	}
	near, _ := u.ends(u.row)
	switch w.key {
	case "id":
		return !u.recorded(w.text)
	case "switch", "port":
		return alone
	}
	if near != c.near {
		return false // the row is of another port, or of none
	}
	switch w.key {
	case "far_switch", "far_port":
		return alone && (get("device") == "" || fold(get("device")) == fold(u.textOf("far_switch", c)))
	case "device", "passes_through":
		others := slices.DeleteFunc(slices.Clone(u.devices[fold(w.text)]), func(r *sheetRow) bool { return r == u.row })
		return get("far_switch") == "" && (w.key != "device" || len(others) == 0 || u.hearers[fold(w.text)] > 1)
	}
	return true
}

// textOf is the text wanted for the first key of a pair.
func (u *updater) textOf(key string, c cable) string {
	for _, w := range u.wants(c, "") {
		if w.key == key {
			return w.text
		}
	}
	return ""
}

func (u *updater) agrees(w want, have string, c cable) bool {
	near, far := u.ends(u.row)
	switch w.key {
	case "port":
		return near == c.near || have == w.text
	case "far_port":
		return c.far >= 0 && far == c.far || have == w.text
	case "id", "device":
		return fold(have) == fold(w.text)
	}
	return have == w.text
}

// comparable tells whether what is written and what is seen are of one kind.
// A person's words for a device, a speed or an outlet need not be ours.
func (u *updater) comparable(w want, have string) bool {
	switch w.key {
	case "switch", "port", "far_switch", "far_port":
		return true
	case "id":
		return u.wasDrafted(w.key) || u.recorded(w.text)
	case "device":
		return u.wasDrafted(w.key) || u.hearers[fold(have)] > 0
	}
	return u.wasDrafted(w.key)
}

// finish writes the two columns of the draft, where they change.
func (u *updater) finish() {
	if len(u.filled) > 0 {
		u.sheet.set(u.row, "drafted_from", strings.Join(append(u.drafted, u.filled...), ";"))
	}
	before := u.sheet.get(u.row, "draft_differs")
	var after []string
	for _, e := range entries(before) {
		key, _, _ := strings.Cut(e, ":")
		if _, known := u.fresh[key]; !known {
			after = append(after, e)
		}
	}
	for _, key := range runKeys.names {
		if text := u.fresh[key]; text != "" {
			after = append(after, key+": "+text)
		}
	}
	if len(after) > 0 {
		u.out.Differs++
	}
	if !slices.Equal(entries(before), after) {
		u.sheet.set(u.row, "draft_differs", strings.Join(after, "; "))
	}
}
