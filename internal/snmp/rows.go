package snmp

import (
	"slices"

	"toneout/internal/port"
)

// rows are rows of a table in the order of their indexes.
type rows struct {
	keys []index
	all  []row // as many
	near int   // where the last one was found: the next one is mostly after it
}

func (t *rows) clear() { t.keys, t.all, t.near = t.keys[:0], t.all[:0], 0 }

// find gives the place of a row, or the one that it would have.
func (t *rows) find(at index) (place int, found bool) {
	for place := t.near; place < min(t.near+2, len(t.keys)); place++ {
		if t.keys[place] == at {
			t.near = place
			return place, true
		}
	}
	if n := len(t.keys); n == 0 || at.after(t.keys[n-1]) {
		return n, false
	}
	t.near, found = slices.BinarySearchFunc(t.keys, at, index.compare)
	return t.near, found
}

// get gives a row until the next one is made; nil where there is none.
func (t *rows) get(at index) *row {
	if place, found := t.find(at); found {
		return &t.all[place]
	}
	return nil
}

// make gives a row until the next one is made, and makes it where there is none.
func (t *rows) make(at index, m moment) *row {
	place, found := t.find(at)
	if !found {
		t.keys = slices.Insert(t.keys, place, at)
		t.all = slices.Insert(t.all, place, row{Reading: port.Reading{Index: int(at.port) - 1, At: m.at, Uptime: m.uptime}})
		t.near = place
	}
	return &t.all[place]
}

// after counts the rows that come after an index.
func (t *rows) after(done index) int {
	place, found := slices.BinarySearchFunc(t.keys, done, index.compare)
	if found {
		place++
	}
	return len(t.keys) - place
}

// workspace is memory that polls use in turns; what grew beyond any real
// switch's need is let go.
type workspace struct {
	buffer [1<<16 - 1]byte // the largest datagram
	ports  rows
	maus   rows
	held   []held
	strips []strip
	names  [][]byte
	octets []byte // of these
	few    []*column

	variables []varbind // of an answer
}

func (w *workspace) free() {
	if cap(w.ports.all)+cap(w.maus.all) < 4096 && cap(w.held) < 1<<17 {
		workspaces.Put(w)
	}
}
