package snmp

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"
)

// quantity is what a sensor of an optic is for.
type quantity uint8

const (
	noQuantity quantity = iota
	receivedLight
	sentLight
	biasCurrent
	temperature
)

// word is a set of meanings that a word in a sensor's name may have.
type word uint16

const (
	receives word = 1 << iota
	sends
	goesIn // received light, where it is light at all
	goesOut
	isPower
	isBias
	isCurrent
	isLaser
	isTemperature
	isOptical // it is about an optic
	isOther   // a threshold, electricity or another quantity
)

// wordMeanings are the words that agents name the sensors of optics with
// (common practice, no source).
var wordMeanings = meanings(map[word]string{
	receives:            "rx receive received receiver receiving recv rcv",
	sends:               "tx transmit transmitted transmitter transmitting xmit",
	goesIn:              "input",
	goesOut:             "output",
	isPower:             "power pwr pow light dbm",
	isBias:              "bias",
	isCurrent:           "current",
	isLaser | isOptical: "laser vcsel",
	isTemperature:       "temperature temp",
	isOptical:           "optical optic optics transceiver xcvr sfp qsfp xfp cfp osfp dom ddm fiber fibre photodiode",
	isOther: "threshold thresh alarm warning warn high low max min maximum minimum limit target configured supply psu poe pse pd inline consumption " +
		"consumed draw budget allocated voltage volt volts vcc tec cooler ber snr osnr frequency wavelength loss margin delta ratio",
})

func meanings(of map[word]string) map[string]word {
	all := map[string]word{}
	for meaning, words := range of {
		for _, one := range strings.Fields(words) {
			all[one] |= meaning
		}
	}
	return all
}

// meaningOf gives the meanings of all words of a text.
func meaningOf(text string) (all word) {
	whole := strings.FieldsFunc(strings.ToLower(text), func(c rune) bool { return !unicode.IsLetter(c) }) // dBm, PoE
	for _, one := range append(wordsOf(text), whole...) {
		meaning := wordMeanings[one]
		for _, direction := range []string{"rx", "tx"} { // rxpower
			if rest, ok := strings.CutPrefix(one, direction); ok && meaning == 0 && wordMeanings[rest] != 0 {
				meaning = wordMeanings[direction] | wordMeanings[rest]
			}
		}
		all |= meaning
	}
	return all
}

// wordsOf splits a text into words in small letters: at what is no letter, and
// where large ones begin anew, as in RxPower and TXBias.
func wordsOf(text string) (words []string) {
	letters := []rune(text)
	start := 0
	end := func(i int) {
		if i > start {
			words = append(words, strings.ToLower(string(letters[start:i])))
		}
	}
	for i, c := range letters {
		switch {
		case !unicode.IsLetter(c):
			end(i)
			start = i + 1
		case i > start && unicode.IsUpper(c) && (unicode.IsLower(letters[i-1]) || i+1 < len(letters) && unicode.IsLower(letters[i+1])):
			end(i)
			start = i
		}
	}
	end(len(letters))
	return words
}

// purpose tells what a sensor of a kind and with a name and a description is for;
// around are the texts of what it is a part of. Where that isn't sure it is for nothing.
func purpose(kind int, name, text string, around word) quantity {
	byName, byText := meaningOf(name), meaningOf(text)
	both := byName | byText
	if both&isOther != 0 {
		return noQuantity
	}
	optical := (both|around)&isOptical != 0
	direction := settled(directionOf(byName, optical), directionOf(byText, optical))
	open := kind == otherSensor || kind == unknownSensor
	switch {
	case (kind == celsiusSensor || open && both&isTemperature != 0) && both&(isPower|isBias) == 0:
		if both&(receives|sends|isLaser) != 0 {
			return noQuantity // of a part of the module
		}
		return temperature
	case both&isTemperature != 0:
		return noQuantity
	case (kind == ampereSensor || open) && both&isPower == 0 && (both&isBias != 0 || both&isCurrent != 0 && (both&isLaser != 0 || direction == sends)):
		if direction == receives {
			return noQuantity
		}
		return biasCurrent
	case kind == ampereSensor || both&(isBias|isCurrent) != 0:
		return noQuantity
	case (kind == wattSensor || kind == dBmSensor || open) && both&isPower != 0 && direction == receives:
		return receivedLight
	case (kind == wattSensor || kind == dBmSensor || open) && both&isPower != 0 && (direction == sends || direction == 0 && both&isLaser != 0):
		return sentLight
	}
	return noQuantity
}

const bothWays = receives | sends

// directionOf gives the one direction that words tell, 0 for none, and both.
// 'input' and 'output' are said of electricity too, so they count of optics only.
func directionOf(all word, optical bool) word {
	direction := all & bothWays
	if direction == 0 && optical && all&goesIn != 0 {
		direction |= receives
	}
	if direction == 0 && optical && all&goesOut != 0 {
		direction |= sends
	}
	if optical && all&goesIn != 0 && all&goesOut != 0 {
		return bothWays
	}
	return direction
}

// settled gives the direction that a name and a description tell together; where
// one is of both directions, as a heading is, the other tells.
func settled(name, text word) word {
	switch {
	case name == text, text == 0, text == bothWays && name != 0:
		return name
	case name == 0, name == bothWays:
		return text
	}
	return bothWays
}

// numbered finds the number of a lane in a name. A 'port-channel' is none.
var numbered = regexp.MustCompile(`(?:^|[^a-z]|[rt]x)(?:lane|channel|chan|ch)[ _.:#-]*([0-9]{1,2})(?:[^0-9]|$)|(?:^|[^a-z])[rt]x[_-]*([0-9]{1,2})(?:[^0-9]|$)`)

var separator = regexp.MustCompile(`[^a-z0-9]`)

// laneIn gives the lane that a text names: false for none, -1 for several.
func laneIn(text string) (lane int, ok bool) {
	text = strings.ReplaceAll(strings.ToLower(text), "port-channel", "")
	text = separator.ReplaceAllString(text, "$0$0") // one to end a match, one to start the next
	for _, match := range numbered.FindAllStringSubmatch(text, -1) {
		n, err := strconv.Atoi(match[1] + match[2])
		if err != nil || ok && n != lane {
			return -1, true
		}
		lane, ok = n, true
	}
	return lane, ok
}
