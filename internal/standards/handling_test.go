package standards

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Values of ANSI/TIA-568.0-D, 568.2-D and EN 50174-2 (tension, 4 ×, 10 × printed;
// the others memory); of printed values that differ the strictest.
func TestHandlingOf(t *testing.T) {
	type row struct {
		what  Handled
		where string
		least bool
		value float64
		unit  string
	}
	cords := row{BendRadius, "patch cord", true, 6, "mm"}
	backbone := row{BendRadius, "multi-pair backbone cable", true, 10, "× diameter"}
	tension := row{PullingTension, "four-pair cable", false, 110, "N"}
	power := row{Separation, "power cable in parallel, no divider, fewer than 20 circuits", true, 200, "mm"}
	lamps := row{Separation, "fluorescent lamps", true, 130, "mm"}
	installed := func(times float64) row {
		return row{BendRadius, "four-pair cable, installed", true, times, "× diameter"}
	}
	untwist := func(mm float64) row { return row{Untwist, "at the termination", false, mm, "mm"} }
	rows := []struct {
		medium   Medium
		category Category
		shield   Shield
		want     []row
	}{
		{Copper, Cat6A, "U/UTP", []row{cords, backbone, tension, installed(4), power, lamps, untwist(13)}},
		{Copper, Cat3, "", []row{cords, backbone, tension, installed(4), power, lamps, untwist(75)}},
		{Copper, Cat6A, "S/FTP", []row{cords, backbone, tension, installed(8), untwist(13)}},
		{Fibre, "", "", []row{{BendRadius, "without load", true, 10, "× diameter"}, {BendRadius, "under pull", true, 20, "× diameter"},
			{PullingTension, "horizontal cable of 2 to 4 fibres", false, 222, "N"}}},
		{Twinax, "", "", nil},
		{ActiveOptical, "", "", nil},
	}
	for _, r := range rows {
		var got []row
		for _, h := range HandlingOf(r.medium, r.category, r.shield) {
			require.NotEmpty(t, h.Source.Document)
			got = append(got, row{h.What, h.Where, h.AtLeast, h.Value, h.Unit})
		}
		require.Equal(t, r.want, got, "%v %v %v", r.medium, r.category, r.shield)
	}
}

func TestHandlingCautionsOfConflicts(t *testing.T) {
	cautions := map[Handled]string{}
	for _, h := range append(HandlingOf(Copper, Cat6, "F/UTP"), HandlingOf(Copper, Cat6, "U/UTP")[5]) {
		if h.Caution != "" {
			cautions[h.What] = h.Caution
		}
	}
	require.Contains(t, cautions[BendRadius], "4 × since ANSI/TIA-568-C")
	require.Contains(t, cautions[Separation], "125 mm")
}
