package fault

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// A checkpoint is a line that names it and its version, then encoding/gob in
// gzip, whose checksum finds what is torn or damaged. Fields that came or went
// since are no matter; the version is raised where what they mean changed.
const (
	checkpointName    = "toneout checkpoint"
	checkpointVersion = 1
)

// entry is one value in the file: the moment first, then what is kept, then an
// end.
type entry struct {
	At      time.Time
	Network *networkMemory
	Switch  *switchMemory
	Beside  []byte
	End     bool
}

// Recorder writes a checkpoint of a tracker down, switch by switch, so that
// nobody waits long for the tracker: its methods that take one encode what they
// are asked for into memory, Flush and Close write.
type Recorder struct {
	to      *gzip.Writer
	pending bytes.Buffer
	encoder *gob.Encoder
}

// NewRecorder begins a checkpoint.
func NewRecorder(w io.Writer, at time.Time) (*Recorder, error) {
	if _, err := fmt.Fprintf(w, "%s %d\n", checkpointName, checkpointVersion); err != nil {
		return nil, err
	}
	to, err := gzip.NewWriterLevel(w, gzip.BestSpeed)
	if err != nil {
		return nil, err
	}
	r := &Recorder{to: to}
	r.encoder = gob.NewEncoder(&r.pending)
	return r, r.encoder.Encode(entry{At: at})
}

// Begin writes down what is of no one switch, and gives the switches' names.
func (r *Recorder) Begin(t *Tracker) (names []string, err error) {
	for _, s := range t.order {
		names = append(names, s.name)
	}
	return names, r.encoder.Encode(entry{Network: &networkMemory{
		Cables: t.net.cables, Pairs: t.net.pairs, Moves: t.moves, Shared: t.shared.held, Bursts: t.shared.bursts, Repaired: t.counted,
		Proven: t.proven, Repairs: t.repairs, Planned: t.work.planned, Begun: t.work.begun,
	}})
}

// Switch writes one switch down. One that is not watched any longer is none.
func (r *Recorder) Switch(t *Tracker, name string) error {
	s := t.switches[name]
	if s == nil {
		return nil
	}
	m, err := s.memory()
	if err != nil {
		return err
	}
	if s.unsure() {
		m.Rows = rowsOf(name, t.plant)
	}
	return r.encoder.Encode(entry{Switch: m})
}

// Beside writes down what its caller wants to find in the same file.
func (r *Recorder) Beside(data []byte) error {
	if len(data) == 0 {
		return nil
	}
	return r.encoder.Encode(entry{Beside: data})
}

// Flush writes what was encoded.
func (r *Recorder) Flush() error {
	_, err := r.pending.WriteTo(r.to)
	return err
}

// Close ends the checkpoint; without it there is none.
func (r *Recorder) Close() error {
	if err := r.encoder.Encode(entry{End: true}); err != nil {
		return err
	}
	if err := r.Flush(); err != nil {
		return err
	}
	return r.to.Close()
}

// ReadCheckpoint reads a checkpoint, all of it or nothing. The error tells what
// is wrong with it.
func ReadCheckpoint(from io.Reader) (*Checkpoint, error) {
	lines := bufio.NewReader(from)
	if err := readName(lines); err != nil {
		return nil, err
	}
	packed, err := gzip.NewReader(lines)
	if err != nil {
		return nil, damaged(err)
	}
	unpacked := bufio.NewReader(packed)
	c, err := readEntries(unpacked)
	if err != nil {
		return nil, damaged(err)
	}
	switch _, err := unpacked.ReadByte(); err { // at the end the checksum is compared
	case io.EOF:
		return c, nil
	case nil:
		return nil, damaged(errors.New("something follows its end"))
	default:
		return nil, damaged(err)
	}
}

func readName(lines *bufio.Reader) error {
	line, err := lines.ReadSlice('\n') // of so many bytes at most as the reader holds
	name := strings.TrimSuffix(string(line), "\n")
	version := 0
	if _, scan := fmt.Sscanf(name, checkpointName+" %d", &version); err != nil || scan != nil {
		return errors.New("it is no checkpoint of toneout")
	}
	if version != checkpointVersion {
		return fmt.Errorf("it is of version %d, and this toneout reads version %d", version, checkpointVersion)
	}
	return nil
}

func readEntries(from io.Reader) (*Checkpoint, error) {
	c := &Checkpoint{}
	decoder := gob.NewDecoder(from)
	for {
		var e entry
		if err := decoder.Decode(&e); err != nil {
			return nil, err
		}
		switch {
		case e.End:
			return c, nil
		case e.Switch != nil:
			c.switches = append(c.switches, *e.Switch)
		case e.Beside != nil:
			c.Beside = e.Beside
		case e.Network != nil:
			c.network = *e.Network
		default:
			c.At = e.At
		}
	}
}

func damaged(err error) error { return fmt.Errorf("it is torn or damaged: %w", err) }
