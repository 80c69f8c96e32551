// Package soak holds only a test: the program as it is built watches simulated
// switches, is killed again and again at any moment, and nothing may be missing
// then by the simulator's own record.
package soak
