package standards

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Makers put the PHY or its speed and reach into their models' names (common practice,
// no source; the names here are ours).
func TestOpticsByTheirModels(t *testing.T) {
	for model, phy := range map[string]string{
		"FQO-10GBASE-LR": "10GBASE-LR", "FQO-10GBASE-LRM": "10GBASE-LRM", "fqo-10g-sr": "10GBASE-SR", "FQO25G-LR-C": "",
		"FQO-25G-LR-C": "25GBASE-LR", "FQO-1G-SX": "1000BASE-SX", "FQO-100G-SR4": "100GBASE-SR4", "SR": "", "FQO-10G-SRX": "", "": "",
		"FQO-1000BASE-BX10-D": "1000BASE-BX10-D",
	} {
		optic, ok := OpticInModel(model)
		require.Equal(t, phy, optic.PHY, model)
		require.Equal(t, phy != "", ok, model)
	}
}
