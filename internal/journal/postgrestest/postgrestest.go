// Package postgrestest runs a PostgreSQL cluster of its own for system tests, on
// a socket in a temporary folder. TONEOUT_SYSTEM_TESTS=1 says that PostgreSQL must
// be there.
package postgrestest

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"
)

// Server is a cluster under test.
type Server struct {
	t         testing.TB
	programs  string
	directory string
	owner     *syscall.Credential // nil where this process may own a cluster: PostgreSQL refuses root
	process   *exec.Cmd
	log       *bytes.Buffer
}

// Start makes a cluster and runs it until the test ends.
func Start(t testing.TB) *Server {
	t.Helper()
	s := &Server{t: t}
	if missing := s.find(); missing != "" {
		if os.Getenv("TONEOUT_SYSTEM_TESTS") == "1" {
			t.Fatalf("a test with PostgreSQL needs %s, and TONEOUT_SYSTEM_TESTS=1 wants it", missing)
		}
		t.Skipf("a test with PostgreSQL needs %s (Debian package postgresql)", missing)
	}
	var err error
	if s.directory, err = os.MkdirTemp("", "pg"); err != nil { // a socket's path is short
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(s.directory) })
	if s.owner != nil {
		if err := os.Chown(s.directory, int(s.owner.Uid), int(s.owner.Gid)); err != nil {
			t.Fatal(err)
		}
	}
	if out, err := s.command("initdb", "--pgdata="+s.data(), "--auth=trust", "--username=toneout", "--encoding=UTF8", "--locale=C", "--no-sync").CombinedOutput(); err != nil {
		t.Fatalf("initdb: %v: %s", err, out)
	}
	t.Cleanup(s.Stop)
	s.Run()
	return s
}

// find looks for the programs and for whom to run them as; it gives what is
// missing.
func (s *Server) find() string {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb") // Debian's place
	if path, err := exec.LookPath("initdb"); err == nil && len(found) == 0 {
		found = []string{path}
	}
	if len(found) == 0 {
		return "initdb"
	}
	s.programs = filepath.Dir(found[len(found)-1])
	if os.Geteuid() != 0 {
		return ""
	}
	owner, err := user.Lookup("postgres")
	if err != nil {
		return "a user postgres, since it refuses to run as root"
	}
	uid, _ := strconv.ParseUint(owner.Uid, 10, 32)
	gid, _ := strconv.ParseUint(owner.Gid, 10, 32)
	s.owner = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
	return ""
}

func (s *Server) command(program string, arguments ...string) *exec.Cmd {
	c := exec.Command(filepath.Join(s.programs, program), arguments...)
	c.Dir = s.directory
	c.SysProcAttr = &syscall.SysProcAttr{Credential: s.owner}
	return c
}

func (s *Server) data() string { return filepath.Join(s.directory, "data") }

// Run starts the server, again after Stop, and waits until it takes connections.
func (s *Server) Run() {
	s.t.Helper()
	s.log = &bytes.Buffer{}
	s.process = s.command("postgres", "-D", s.data(), "-k", s.directory, "-h", "", "-c", "fsync=off")
	s.process.Stderr = s.log
	if err := s.process.Start(); err != nil {
		s.t.Fatal(err)
	}
	for deadline := time.Now().Add(30 * time.Second); ; {
		out, err := s.command("pg_isready", "-h", s.directory).CombinedOutput()
		if err == nil {
			return
		}
		if time.Now().After(deadline) {
			s.Stop()
			s.t.Fatalf("PostgreSQL does not take connections: %v: %s: %s", err, out, s.log)
		}
	}
}

// Stop ends the server at once, as its end by a signal does.
func (s *Server) Stop() {
	if s.process == nil {
		return
	}
	_ = s.process.Process.Signal(syscall.SIGQUIT) // immediate shutdown
	_ = s.process.Wait()                          // which it calls a failure
	s.process = nil
}

// Database makes a new database and gives its connection string.
func (s *Server) Database(name string) string {
	s.t.Helper()
	if out, err := s.command("createdb", "-h", s.directory, "-U", "toneout", name).CombinedOutput(); err != nil {
		s.t.Fatalf("createdb: %v: %s", err, out)
	}
	return fmt.Sprintf("host=%s user=toneout dbname=%s sslmode=disable connect_timeout=5", s.directory, name)
}
