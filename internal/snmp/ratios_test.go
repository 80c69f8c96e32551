package snmp_test

import (
	"context"
	"net"
	"runtime"
	"strconv"
	"sync"
	"syscall"
	"testing"
	"time"

	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/gosnmp/gosnmp"
	"github.com/stretchr/testify/require"
)

const busyPorts = 48

// busyColumns are those of the busy switch: all are asked for in every poll.
var busyColumns = []string{
	ifEntry + "5", ifEntry + "7", ifEntry + "8", ifEntry + "9", ifEntry + "13", ifEntry + "14", ifEntry + "19", ifEntry + "20",
	ifXEntry + "1", ifXEntry + "6", ifXEntry + "7", ifXEntry + "8", ifXEntry + "9", ifXEntry + "10", ifXEntry + "11", ifXEntry + "15", ifXEntry + "19",
	dot3Entry + "2", dot3Entry + "3", dot3Entry + "8", dot3Entry + "10", dot3Entry + "13", dot3Entry + "16", dot3Entry + "18", dot3Entry + "19",
}

// busy is a switch of 48 ports and 25 columns.
func busy() sim.Static {
	all, mib := ports(busyPorts), sim.Static{}
	for _, object := range append(busyColumns, uptimeObject, sysNameObject) {
		mib[object] = all[object]
	}
	set(mib, "1.3.6.1.2.1.31.1.5", "0", sim.Ticks(time.Minute)) // ifTableLastChange
	set(mib, "1.3.6.1.2.1.2.1", "0", sim.Integer(busyPorts))    // ifNumber
	return mib
}

// recorded is what one poll of the busy switch asked, and what came.
type recorded struct {
	requests  [][]byte
	varbinds  map[string]int // octets, by name
	datagrams int
}

// record polls the busy switch until all is known about it, and once more.
func record(t testing.TB) *recorded {
	t.Helper()
	mu, r := sync.Mutex{}, &recorded{}
	s := open(t, serve(t, busy(), func(a *sim.Agent) {
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			mu.Lock()
			defer mu.Unlock()
			r.requests = append(r.requests, e.Raw)
			r.datagrams++
			for i, v := range e.Response.Varbinds {
				r.varbinds[v.Name.String()] = octetsOf(e, e.Response.Varbinds[i:i+1])
			}
			return e.Send()
		}
	}), v2c, still)
	for range 6 {
		mu.Lock()
		*r = recorded{varbinds: map[string]int{}}
		mu.Unlock()
		require.Len(t, poll(t, s).Ports, busyPorts)
	}
	mu.Lock()
	defer mu.Unlock()
	return &recorded{r.requests, r.varbinds, r.datagrams}
}

// octetsOf is the size of varbinds, less than 128 octets of them.
func octetsOf(e sim.Exchange, v []sim.Varbind) int {
	message := func(v []sim.Varbind) int {
		return len(e.Encode(&sim.Message{Type: sim.Response, RequestID: 1, Varbinds: v}))
	}
	return message(v) - message(nil)
}

// least is how many datagrams of 1,400 octets the varbinds of the busy switch's
// columns need, each once, if they could be laid out as one likes and nothing
// else had to be sent: neither headers nor sysUpTime.
func (r *recorded) least(t testing.TB) int {
	t.Helper()
	sum := 0
	for _, object := range busyColumns {
		for row := 1; row <= busyPorts; row++ {
			n := r.varbinds[object+"."+strconv.Itoa(row)]
			require.Positive(t, n, "%s of port %d didn't come", object, row)
			sum += n
		}
	}
	return (sum + 1399) / 1400
}

// A poll takes few more datagrams than its values need.
func TestDatagramsOfAPoll(t *testing.T) {
	r := record(t)
	least := r.least(t)
	t.Logf("%d requests, %d at least", r.datagrams, least)
	require.LessOrEqual(t, float64(r.datagrams), 1.15*float64(least))
}

// still polls by a clock that stands, as the agents' sysUpTime does.
func still(target *snmp.Target) { target.Now = func() time.Time { return noon } }

// BenchmarkRatios polls 1,000 switches of 48 ports and 25 columns (50 of them
// with -short), 64 at a time, whose agents are another process. Its ratios:
//
//   - datagrams/least: requests of a poll against the least number of answers
//     of 1,400 octets that hold the varbinds asked for, see least.
//   - cpu/moved: CPU time of this process, user and system by getrusage,
//     against that of sending the same requests and reading the answers
//     without looking at them, with a socket for each poll too.
//   - cpu/walks: the same against a BulkWalk of each column by gosnmp, 10
//     repetitions at a time, over sockets that stay open.
//
// All is of the steady state: what the switches give is known.
func BenchmarkRatios(b *testing.B) {
	switches := 1000
	if testing.Short() {
		switches = 50
	}
	least := record(b)
	addresses := agents(b, switches)
	polled := make([]*snmp.Switch, switches)
	for i, address := range addresses {
		polled[i] = open(b, address, v2c, still)
	}
	walkers := dialed(b, addresses)
	polls := func(i int) error { _, err := polled[i].Poll(context.Background()); return err }
	for range 4 {
		cpu(b, switches, polls)
	}
	var ours, moved, walked time.Duration
	rounds, datagrams := 0, 0
	for b.Loop() {
		rounds++
		ours += cpu(b, switches, polls)
		moved += cpu(b, switches, func(i int) error { return move(addresses[i], least.requests) })
		walked += cpu(b, switches, func(i int) error { return walkColumns(walkers[i]) })
		for _, s := range polled {
			datagrams += s.Traffic().Requests
		}
	}
	portPolls := float64(rounds * switches * busyPorts)
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(datagrams)/float64(rounds*switches*least.least(b)), "datagrams/least")
	b.ReportMetric(float64(ours)/float64(moved), "cpu/moved")
	b.ReportMetric(float64(ours)/float64(walked), "cpu/walks")
	b.ReportMetric(float64(ours)/1000/portPolls, "us/port-poll")
	b.ReportMetric(float64(moved)/1000/portPolls, "us/port-moved")
	b.ReportMetric(float64(walked)/1000/portPolls, "us/port-walked")
}

// cpu gives the CPU time that this process takes to do something for each
// switch, 64 at a time.
func cpu(t testing.TB, switches int, do func(i int) error) time.Duration {
	t.Helper()
	runtime.GC()
	next := make(chan int, switches)
	for i := range switches {
		next <- i
	}
	close(next)
	failed := make(chan error, switches)
	before := usage(t)
	var workers sync.WaitGroup
	for range 64 {
		workers.Go(func() {
			for i := range next {
				if err := do(i); err != nil {
					failed <- err
				}
			}
		})
	}
	workers.Wait()
	used := usage(t) - before
	close(failed)
	for err := range failed {
		require.NoError(t, err)
	}
	return used
}

func usage(t testing.TB) time.Duration {
	t.Helper()
	var r syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &r))
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}

var moveBuffers = sync.Pool{New: func() any { return new([1<<16 - 1]byte) }}

// move sends requests one after another and reads what comes.
func move(address string, requests [][]byte) error {
	buffer := moveBuffers.Get().(*[1<<16 - 1]byte)
	defer moveBuffers.Put(buffer)
	conn, err := net.Dial("udp", address)
	if err != nil {
		return err
	}
	defer conn.Close()
	if err := conn.SetDeadline(time.Now().Add(time.Minute)); err != nil {
		return err
	}
	for _, request := range requests {
		if _, err := conn.Write(request); err != nil {
			return err
		}
		if _, err := conn.Read(buffer[:]); err != nil {
			return err
		}
	}
	return nil
}

// dialed gives a client for each address.
func dialed(t testing.TB, addresses []string) []*gosnmp.GoSNMP {
	t.Helper()
	clients := make([]*gosnmp.GoSNMP, len(addresses))
	for i, address := range addresses {
		host, number, err := net.SplitHostPort(address)
		require.NoError(t, err)
		port, err := strconv.ParseUint(number, 10, 16)
		require.NoError(t, err)
		clients[i] = &gosnmp.GoSNMP{
			Target: host, Port: uint16(port), Community: community, Version: gosnmp.Version2c,
			Timeout: 10 * time.Second, Retries: 1, MaxRepetitions: 10,
		}
		require.NoError(t, clients[i].Connect())
		t.Cleanup(func() { require.NoError(t, clients[i].Close()) })
	}
	return clients
}

func walkColumns(client *gosnmp.GoSNMP) error {
	for _, object := range busyColumns {
		rows := 0
		if err := client.BulkWalk("."+object, func(gosnmp.SnmpPDU) error { rows++; return nil }); err != nil {
			return err
		}
		if rows != busyPorts {
			return net.ErrClosed
		}
	}
	return nil
}
