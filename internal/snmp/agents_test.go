package snmp_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"flag"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"testing"

	"toneout/internal/sim"

	"github.com/stretchr/testify/require"
)

// agentsEnv makes the test binary a process of so many agents, so that their
// CPU isn't counted with the poller's.
const agentsEnv = "TONEOUT_TEST_AGENTS"

func TestMain(m *testing.M) {
	if n, err := strconv.Atoi(os.Getenv(agentsEnv)); err == nil {
		if err := runAgents(n); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	flag.Parse()
	if atOnce := flag.Lookup("test.parallel"); atOnce.Value.String() == atOnce.DefValue {
		_ = flag.Set("test.parallel", "8") // what is parallel here waits most of its time
	}
	os.Exit(m.Run())
}

// agents starts a process of n agents of the busy switch; it gives their
// addresses. The process ends with the test.
func agents(t testing.TB, n int) []string {
	t.Helper()
	command := exec.Command(os.Args[0])
	command.Env = append(os.Environ(), agentsEnv+"="+strconv.Itoa(n))
	command.Stderr = os.Stderr
	in, err := command.StdinPipe()
	require.NoError(t, err)
	out, err := command.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, command.Start())
	t.Cleanup(func() {
		require.NoError(t, in.Close())
		require.NoError(t, command.Wait())
	})
	line, err := bufio.NewReaderSize(out, 1<<20).ReadString('\n')
	require.NoError(t, err)
	return strings.Fields(line)
}

// runAgents serves until its standard input ends.
func runAgents(n int) error {
	agent, err := sim.Listen("127.0.0.1:0", busy(), sim.Security{Communities: []string{community}})
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	go func() { _ = agent.Serve(ctx) }()
	known := &replies{agent: agent.Addr(), answers: map[string][]byte{}}
	var addresses []string
	for range n {
		conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
		if err != nil {
			return err
		}
		defer conn.Close()
		addresses = append(addresses, conn.LocalAddr().String())
		go known.serve(conn)
	}
	fmt.Println(strings.Join(addresses, " "))
	_, err = io.Copy(io.Discard, os.Stdin)
	return err
}

// replies answers like the simulated agent whose answers it keeps, since a
// thousand of those would have the processor to themselves.
type replies struct {
	agent   string
	mu      sync.Mutex
	answers map[string][]byte // by request less its request-id
}

func (k *replies) serve(conn *net.UDPConn) {
	request := make([]byte, 2048)
	var answer []byte
	for {
		n, from, err := conn.ReadFromUDPAddrPort(request)
		if err != nil {
			return
		}
		if answer = k.answer(request[:n], answer[:0]); len(answer) > 0 {
			_, _ = conn.WriteToUDPAddrPort(answer, from)
		}
	}
}

// answer appends the answer to a request, which differs by its request-id only.
func (k *replies) answer(request, to []byte) []byte {
	id := idOf(request)
	if id == nil {
		answer, _ := k.ask(request)
		return answer
	}
	var own [4]byte
	copy(own[:], id)
	copy(id, "\x40\x00\x00\x00")
	k.mu.Lock()
	kept := k.answers[string(request)]
	k.mu.Unlock()
	if kept == nil {
		var err error
		if kept, err = k.ask(request); err != nil {
			return nil
		}
		k.mu.Lock()
		k.answers[string(request)] = kept
		k.mu.Unlock()
	}
	to = append(to, kept...)
	copy(idOf(to), own[:])
	return to
}

func (k *replies) ask(request []byte) ([]byte, error) {
	conn, err := net.Dial("udp", k.agent)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	if _, err := conn.Write(request); err != nil {
		return nil, err
	}
	answer := make([]byte, 1<<16)
	n, err := conn.Read(answer)
	if err != nil {
		return nil, err
	}
	return answer[:n], nil
}

// idOf gives the place of an SNMPv2c message's request-id where it has four
// octets, as all but one in a hundred have; nil else.
func idOf(message []byte) []byte {
	start := bytes.Index(message, []byte(community))
	if start < 0 {
		return nil
	}
	pdu := message[start+len(community):]
	head := 2
	if len(pdu) > 2 && pdu[1] > 0x80 {
		head += int(pdu[1] & 0x7f)
	}
	if len(pdu) < head+6 || binary.BigEndian.Uint16(pdu[head:]) != 0x0204 { // INTEGER of 4 octets
		return nil
	}
	return pdu[head+2 : head+6]
}
