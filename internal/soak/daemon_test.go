package soak

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os/exec"
	"path/filepath"
	"regexp"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// build builds the program.
func build(t *testing.T) string {
	program := filepath.Join(t.TempDir(), "toneout")
	out, err := exec.Command("go", "build", "-o", program, "toneout/cmd/toneout").CombinedOutput()
	require.NoError(t, err, "%s", out)
	return program
}

// life is one process of the program, from its start to its end.
type life struct {
	number  int
	process *exec.Cmd
	began   time.Time
	killed  time.Time     // when the signal was sent; zero while it lives
	serves  chan struct{} // closed when url is known
	ended   chan struct{} // closed when the process is gone
	url     string
	log     logText
	err     error // how it ended
}

var serving = regexp.MustCompile(`msg=serving address=(\S+)`)

func start(t *testing.T, number int, program, config string) *life {
	l := &life{number: number, process: exec.Command(program, "serve", "-config", config), serves: make(chan struct{}), ended: make(chan struct{})}
	said, err := l.process.StderrPipe()
	require.NoError(t, err)
	l.began = time.Now().Round(0)
	require.NoError(t, l.process.Start())
	go func() {
		defer close(l.ended)
		l.listen(said)
		l.err = l.process.Wait()
	}()
	t.Cleanup(func() { _ = l.process.Process.Kill(); <-l.ended })
	return l
}

// listen keeps the log, and finds the address in it.
func (l *life) listen(said io.Reader) {
	for lines := bufio.NewScanner(said); lines.Scan(); {
		fmt.Fprintf(&l.log, "%s\n", lines.Bytes())
		if m := serving.FindSubmatch(lines.Bytes()); m != nil {
			l.url = "http://" + string(m[1])
			close(l.serves)
		}
	}
}

// kill ends the process as kill -9 does.
func (l *life) kill() {
	l.killed = time.Now().Round(0)
	_ = l.process.Process.Kill()
	<-l.ended
}

// stop ends it as it ought to end.
func (l *life) stop(t *testing.T) {
	require.NoError(t, l.process.Process.Signal(syscall.SIGTERM))
	select {
	case <-l.ended:
	case <-time.After(patience):
		require.Fail(t, "it does not end", "%s", l.log.String())
	}
	require.NoError(t, l.err, "%s", l.log.String())
}

// listens tells whether it can be asked.
func (l *life) listens() bool {
	select {
	case <-l.serves:
		return true
	default:
		return false
	}
}

// ask asks the daemon; an error where it is not there, or does not answer so.
func (l *life) ask(method, path string, body, answer any) error {
	if !l.listens() {
		return fmt.Errorf("life %d does not listen yet", l.number)
	}
	sent := io.Reader(http.NoBody)
	if body != nil {
		text, err := json.Marshal(body)
		if err != nil {
			return err
		}
		sent = bytes.NewReader(text)
	}
	request, err := http.NewRequest(method, l.url+path, sent)
	if err != nil {
		return err
	}
	response, err := client.Do(request)
	if err != nil {
		return err
	}
	defer response.Body.Close()
	data, err := io.ReadAll(response.Body)
	if err != nil {
		return err
	}
	if response.StatusCode >= 300 {
		return fmt.Errorf("%s %s: %s: %s", method, path, response.Status, data)
	}
	return json.Unmarshal(data, answer)
}

func (l *life) get(path string, answer any) error { return l.ask(http.MethodGet, path, nil, answer) }

var client = &http.Client{Timeout: patience}

// patience bounds each wait for one thing.
const patience = time.Minute

// logText is a log that is written while it is read.
type logText struct {
	mutex sync.Mutex
	text  bytes.Buffer
}

func (l *logText) Write(p []byte) (int, error) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.text.Write(p)
}

func (l *logText) String() string {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.text.String()
}
