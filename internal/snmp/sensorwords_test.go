package snmp

import (
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

// How agents name the sensors of optics: common practice, no source.
func TestPurposes(t *testing.T) {
	for _, row := range []struct {
		kind       int
		name, text string
		want       quantity
	}{
		{dBmSensor, "Te1/1/1 Receive Power Sensor", "", receivedLight},
		{dBmSensor, "Te1/1/1 Transmit Power Sensor", "", sentLight},
		{ampereSensor, "Te1/1/1 Bias Current Sensor", "", biasCurrent},
		{celsiusSensor, "Te1/1/1 Module Temperature Sensor", "", temperature},
		{wattSensor, "RxPower", "", receivedLight},
		{wattSensor, "TXPower", "", sentLight},
		{wattSensor, "rxpower", "", receivedLight},
		{ampereSensor, "txbias", "", biasCurrent},
		{wattSensor, "rx-power-1", "", receivedLight},
		{otherSensor, "DOM RX Power Sensor for Ethernet49/1", "", receivedLight},
		{otherSensor, "DOM TX Bias Sensor for Ethernet49/1", "", biasCurrent},
		{otherSensor, "DOM Temperature Sensor for Ethernet49/1", "", temperature},
		{wattSensor, "", "Optical input power", receivedLight},
		{wattSensor, "", "Laser output power", sentLight},
		{dBmSensor, "Laser power", "", sentLight},
		{ampereSensor, "Laser current", "", biasCurrent},
		{ampereSensor, "Tx current", "", biasCurrent},
		{wattSensor, "Lane 2 received light", "", receivedLight},
		{wattSensor, "Rx lane 1", "Transceiver power, transmit or receive", receivedLight},
		{wattSensor, "Optic", "Receiver power", receivedLight},
		{celsiusSensor, "SFP", "", temperature},

		// Of something else, or unsure.
		{wattSensor, "Input power", "Power supply 1", noQuantity},
		{wattSensor, "Output power", "", noQuantity},
		{wattSensor, "PoE output power", "SFP slot", noQuantity},
		{wattSensor, "Module power consumption", "", noQuantity},
		{wattSensor, "Power", "Optical power", noQuantity},
		{wattSensor, "Rx power", "Tx power", noQuantity},
		{wattSensor, "Rx and Tx power", "", noQuantity},
		{dBmSensor, "Rx power high alarm threshold", "", noQuantity},
		{dBmSensor, "Rx Power Max", "", noQuantity},
		{dBmSensor, "Rx", "", noQuantity},
		{otherSensor, "Rx power margin", "", noQuantity},
		{otherSensor, "Rx OSNR", "", noQuantity},
		{volts, "Rx power", "", noQuantity},
		{volts, "Supply voltage", "", noQuantity},
		{ampereSensor, "Input current", "", noQuantity},
		{ampereSensor, "TEC current", "laser", noQuantity},
		{ampereSensor, "Rx current", "", noQuantity},
		{ampereSensor, "Rx power", "", noQuantity},
		{celsiusSensor, "Laser temperature", "", noQuantity},
		{celsiusSensor, "Rx power", "", noQuantity},
		{wattSensor, "Rx temperature power", "", noQuantity},
		{otherSensor, "", "", noQuantity},
	} {
		require.Equal(t, row.want, purpose(row.kind, row.name, row.text, 0), "%d %q %q", row.kind, row.name, row.text)
	}
	require.Equal(t, receivedLight, purpose(wattSensor, "Input power", "", isOptical), "in what is an optic")
}

func TestWords(t *testing.T) {
	for text, want := range map[string][]string{
		"RxPower": {"rx", "power"}, "TXPower": {"tx", "power"}, "rx_power-2": {"rx", "power"}, "QSFP28": {"qsfp"},
		"Te1/1/1 Rx": {"te", "rx"}, "": nil, "17": nil, "µWatt": {"µ", "watt"}, "ÄÖ": {"äö"},
	} {
		require.Equal(t, want, wordsOf(text), text)
	}
}

func TestLaneNames(t *testing.T) {
	for text, want := range map[string]struct {
		lane int
		told bool
	}{
		"Lane 2 Rx power": {2, true}, "Rx power lane 4": {4, true}, "channel-3": {3, true}, "Ch 1 TxBias": {1, true}, "rxlane0 power": {0, true},
		"rx2 power": {2, true}, "Tx-4 bias": {4, true}, "Lane 1 of channel 1": {1, true}, "Lane 1 channel 2": {-1, true},
		"Te1/1/1 Rx power": {}, "Rx power": {}, "Port-channel 3 Rx power": {}, "branch 2": {}, "Rx 100G": {}, "lane 123": {},
	} {
		lane, told := laneIn(text)
		require.Equal(t, want.told, told, text)
		require.Equal(t, want.lane, lane, text)
	}
}

func FuzzPurpose(f *testing.F) {
	f.Add(14, "Te1/1 Rx Lane 1", "receive power\x00", uint16(0))
	f.Fuzz(func(t *testing.T, kind int, name, text string, around uint16) {
		purpose(kind, name, text, word(around))
		if lane, told := laneIn(name); told {
			require.True(t, lane >= -1 && lane < 100)
		}
		for _, one := range wordsOf(text) {
			require.True(t, !utf8.ValidString(text) || utf8.ValidString(one))
		}
	})
}
