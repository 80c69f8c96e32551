package snmp_test

import (
	"context"
	"maps"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

// How agents and networks go wrong on the wire (common practice, no source, but
// for what is named). The readings are those of a switch that behaves.
func TestPlaysOnTheWire(t *testing.T) {
	t.Parallel()
	const all = "1.3.6.1.2.1"
	for name, row := range map[string]struct {
		play  func() func(sim.Exchange) []sim.Datagram
		class snmp.Class
	}{
		"every answer twice":                              {sim.Twice, ""},
		"late answers, each after the first attempt":      {func() func(sim.Exchange) []sim.Datagram { return sim.Late(300 * time.Millisecond) }, ""},
		"answers in another order":                        {sim.Swapped, ""},
		"truncated answers":                               {func() func(sim.Exchange) []sim.Datagram { return sim.Truncated(60) }, snmp.Malformed},
		"the request id 0 in every answer":                {sim.RequestIDZero, snmp.Malformed},
		"ten rows at most (RFC 3416 4.2.3)":               {func() func(sim.Exchange) []sim.Datagram { return sim.Capped(10) }, ""},
		"one row at most":                                 {func() func(sim.Exchange) []sim.Datagram { return sim.Capped(1) }, ""},
		"tooBig for more than 40 values (RFC 3416 4.2.3)": {func() func(sim.Exchange) []sim.Datagram { return sim.TooBigAbove(40) }, ""},
		"tooBig for more than 20 values":                  {func() func(sim.Exchange) []sim.Datagram { return sim.TooBigAbove(20) }, ""},
		"tooBig for more than 4 values":                   {func() func(sim.Exchange) []sim.Datagram { return sim.TooBigAbove(4) }, ""},
		"a control plane with little time":                {func() func(sim.Exchange) []sim.Datagram { return sim.Slow(100 * time.Microsecond) }, ""},
		"status goes round":                               {func() func(sim.Exchange) []sim.Datagram { return sim.Cyclic(ifEntry + "8") }, snmp.Malformed},
		"one name forever":                                {func() func(sim.Exchange) []sim.Datagram { return sim.Repeating(ifXEntry + "1") }, snmp.Malformed},
		"twice, late and capped": {func() func(sim.Exchange) []sim.Datagram {
			return sim.Compose(sim.Twice(), sim.Late(20*time.Millisecond), sim.Capped(3))
		}, ""},
	} {
		for version, credentials := range map[string]snmp.Credentials{"v2c": v2c, "v3": snmpdUser} {
			t.Run(name+"/"+version, func(t *testing.T) {
				t.Parallel()
				want := poll(t, open(t, serve(t, withMAUs(13)), v2c))
				address := serveTo(t, withMAUs(13), everyUser, func(a *sim.Agent) {
					play := row.play()
					a.Mangle = func(e sim.Exchange) []sim.Datagram {
						if e.Response.Type == sim.Report || !asks(e, all) {
							return e.Send()
						}
						return play(e)
					}
				})
				s := open(t, address, credentials, func(target *snmp.Target) { target.Timeout, target.Retries = 250*time.Millisecond, 3 })
				for range 2 {
					p, err := s.Poll(context.Background())
					require.Equal(t, row.class, snmp.ClassOf(err), "%v", err)
					if row.class != "" {
						continue
					}
					require.Len(t, p.Ports, 13)
					for i := range p.Ports {
						forget(&want.Ports[i], "")
						forget(&p.Ports[i], "")
						require.Equal(t, want.Ports[i], p.Ports[i])
					}
				}
			})
		}
	}
}

// A counter table that goes round is broken or lacks; what it stands beside is
// read (RFC 3416 4.2.2 wants names that rise).
func TestTablesThatGoRoundBesideOthers(t *testing.T) {
	for object, table := range map[string]string{mauEntry + "4": "ifMauTable", autoNegEntry + "11": "", ifEntry + "20": "", ifEntry + "2": ""} {
		t.Run(object, func(t *testing.T) {
			s := open(t, serve(t, withMAUs(13), func(a *sim.Agent) { a.Mangle = sim.Cyclic(object) }), v2c)
			for range 2 {
				p := poll(t, s)
				require.Len(t, p.Ports, 13)
				require.True(t, p.Ports[12].Counters.Has(port.FCS))
				require.NotNil(t, p.Details)
				if table != "" {
					require.Equal(t, port.TableBroken, tableOf(p, table).State)
					require.Contains(t, tableOf(p, table).Why, "no rising order")
				}
			}
			require.Less(t, s.Traffic().Requests, 200)
		})
	}
}

// A value of another type than the MIB's is absent, never 0, whichever column
// it is of, and no poll fails for it.
func TestEveryColumnWithTheWrongType(t *testing.T) {
	mib := withMAUs(3)
	for object := range mib {
		if object == uptimeObject || object == sysNameObject {
			continue
		}
		for _, tag := range []byte{sim.TagOctetString, sim.TagInteger, sim.TagObjectID, sim.TagCounter64} {
			var sample sim.Value
			for _, sample = range mib[object] {
			}
			if sample.Tag == tag {
				continue
			}
			s := open(t, serve(t, mib, func(a *sim.Agent) { a.Mangle = sim.WrongType(object, tag) }), v2c)
			p := poll(t, s)
			require.Len(t, p.Ports, 3, "%s as %x", object, tag)
			bare := maps.Clone(mib)
			delete(bare, object)
			want := poll(t, open(t, serve(t, bare), v2c))
			for i := range p.Ports {
				forget(&p.Ports[i], "")
				forget(&want.Ports[i], "")
				require.Equal(t, want.Ports[i], p.Ports[i], "%s as %x", object, tag)
			}
		}
	}
}
