package main

import "testing"

// BenchmarkPlay is a day of a switch, the player's part and the tracker's.
func BenchmarkPlay(b *testing.B) {
	c := newCampus(1, 0, 10, allowedPorts)
	c.play(1)
	for b.Loop() {
		c.play(1)
	}
}
